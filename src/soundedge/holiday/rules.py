"""What does every published rule say for this film, and which film thickness does it take?

The rules are in ``rules.toml`` with edition, source and range. A shop enters the table it holds a licence
for as its own rule; that one then governs.

>>> two_step = rule("two_step")
>>> round(two_step.voltage_v(500)), round(two_step.voltage_v(1500)), round(two_step.voltage_v(1001))
(2329, 9606, 7847)
>>> own = Rule.own("KBW table 3", edition="2", source="KBW-LP-04, table 3", rows=[(500, 1000, 3200.0)])
>>> own.voltage_v(880)
3200.0
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal

from ..basis.errors import Unknown
from ..basis.sentences import say
from ..basis.sources import cite, source

Takes = Literal["max", "nominal", "min"]
LISTED_FIRST = ("two_step", "sp0274", "volts_per_mil", "manual_high")
JUMP_UM = 1000.0          # where the two-step rule changes its factor
INCH_JUMP_UM = 1016.0     # the same place in inches: 40 mil
_UM_IN = {"um": 1.0, "mm": 1000.0, "mil": 25.4}
_FILE = Path(__file__).with_name("rules.toml")


@dataclass(frozen=True)
class Branch:
    """One piece of a formula: factor · (film in unit)^power, up to a thickness."""

    factor: float
    power: float
    unit: str
    up_to_um: float | None = None

    def voltage_v(self, film_um: float) -> float:
        """The voltage of this piece, V."""
        return float(self.factor * (film_um / _UM_IN[self.unit]) ** self.power)


@dataclass(frozen=True)
class Rule:
    """One published rule, or the shop's own. Without branches and rows it gives no number."""

    id: str
    name: str
    edition: str
    source: str
    takes: Takes
    takes_why: str = ""
    made_for: str = ""
    from_um: float | None = None
    to_um: float | None = None
    branches: tuple[Branch, ...] = ()
    rows: tuple[tuple[float, float, float], ...] = ()
    voltage_max_v: float | None = None
    range_v: tuple[float, float] | None = None
    says: str = ""

    @classmethod
    def own(
        cls,
        name: str,
        *,
        edition: str = "",
        source: str,
        takes: Takes = "max",
        rows: Iterable[tuple[float, float, float]] = (),
        branches: Iterable[Branch] = (),
        voltage_max_v: float | None = None,
    ) -> Rule:
        """The shop's own rule: a table of (from µm, to µm, V), or formula pieces."""
        return cls(
            id="own", name=name, edition=edition, source=source, takes=takes, takes_why="as entered",
            made_for="as entered", rows=tuple(sorted(rows)), branches=tuple(branches), voltage_max_v=voltage_max_v,
        )

    def film_used_um(self, least_um: float, most_um: float, nominal_um: float | None = None) -> float:
        """Which thickness of this film the rule takes, µm. Without a nominal the thickest stands in for it."""
        if self.takes == "min":
            return least_um
        if self.takes == "nominal" and nominal_um is not None:
            return nominal_um
        return most_um

    def voltage_v(self, film_um: float) -> float | None:
        """The rule's voltage for a thickness, V; None when it gives no number there.

        A thickness on the border of two rows belongs to the row that ends there.
        """
        out: float | None = None
        if self.rows:
            out = next((volts for low, high, volts in self.rows if low <= film_um <= high), None)
        elif self.branches:
            piece = next(
                (b for b in self.branches if b.up_to_um is None or film_um <= b.up_to_um + 1e-9), None
            )
            out = piece.voltage_v(film_um) if piece else None
        if out is not None and self.voltage_max_v is not None:
            out = min(out, self.voltage_max_v)
        return out

    def made_for_film(self, film_um: float) -> bool:
        """Whether the thickness lies in the range the rule states."""
        if self.rows and self.voltage_v(film_um) is None:
            return False
        return (self.from_um is None or film_um >= self.from_um) and (self.to_um is None or film_um <= self.to_um)


@cache
def rules() -> tuple[Rule, ...]:
    """Every rule held, the four usual ones first."""
    held = load_rules(_FILE.read_text(encoding="utf-8"))
    first = [held[key] for key in LISTED_FIRST]
    return (*first, *(one for key, one in held.items() if key not in LISTED_FIRST))


def rule(key: str) -> Rule:
    """One rule by its id or its printed name; an unknown one is refused with the list."""
    for one in rules():
        if key in (one.id, one.name):
            return one
    raise Unknown("rule", say("holiday.voltage_rule_unknown", key=str(key)[:60], known=', '.join(one.id for one in rules())))


def load_rules(text: str) -> dict[str, Rule]:
    """Read a rule file. A rule without edition or with a source that is not held does not load."""
    held = {}
    for key, entry in tomllib.loads(text).items():
        for part in ("rule", "edition", "source", "takes"):
            if not entry.get(part):
                raise Unknown(key, say("holiday.rule_part_missing", key=key, part=part))
        source(entry["source"])
        if entry["takes"] not in ("max", "nominal", "min"):
            raise Unknown(key, say("holiday.rule_takes_unknown", key=key, takes=entry['takes']))
        known = {"rule", "edition", "source", "takes", "takes_why", "made_for", "from_um", "to_um", "branch",
                 "voltage_max_v", "range_v", "says"}
        stray = sorted(set(entry) - known)
        if stray:
            raise Unknown(key, say("holiday.rule_keys_unknown", key=key, unknown=', '.join(stray)))
        held[key] = Rule(
            id=key, name=entry["rule"], edition=entry["edition"], source=cite(entry["source"]),
            takes=entry["takes"], takes_why=entry.get("takes_why", ""), made_for=entry.get("made_for", ""),
            from_um=entry.get("from_um"), to_um=entry.get("to_um"),
            branches=tuple(_branch(key, one) for one in entry.get("branch", ())),
            voltage_max_v=entry.get("voltage_max_v"), range_v=tuple(entry["range_v"]) if "range_v" in entry else None,
            says=entry.get("says", ""),
        )
    return held


def straddles_jump(least_um: float, most_um: float) -> bool:
    """Whether a film lies on both sides of 1 mm, where the two-step rule jumps by 2.38."""
    return least_um <= JUMP_UM < most_um


def _branch(key: str, entry: dict[str, Any]) -> Branch:
    if entry.get("unit") not in _UM_IN:
        raise Unknown(key, say("holiday.rule_unit_unknown", key=key, unit=entry.get('unit')))
    return Branch(float(entry["factor"]), float(entry["power"]), entry["unit"], entry.get("up_to_um"))
