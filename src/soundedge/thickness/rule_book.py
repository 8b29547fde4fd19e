"""Which rules for film readings are held, and what does each ask for?

A rule is one entry of ``rules.toml``, checked when it is read. What its keys mean is explained at the top of that file.

>>> rule("ninety_ten").below[1].may(20), rule("iso_19840").below[1].may(20)
(2, 3)
>>> rule("iso_19840").counts(25.0), rule("sspc_pa_2").areas(500.0)
(Counts(readings=20, repeats=4), 7)
"""

from __future__ import annotations

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Annotated, Literal, NamedTuple

from pydantic import model_validator

from ..basis.named import OneOf, Said, in_language
from ..basis.question import Request, read, refuse
from ..basis.sentences import say
from ..basis.sources import cite

Where = Literal["repair", "overlap", "parent"]
Read = Literal["first hand", "second hand", "common practice", "own judgement", "memory"]

_FILE = Path(__file__).with_name("rules.toml")


class Bound(Request):
    """A film that readings are held against, and how many of them may lie beyond it."""

    of: Literal["min", "nominal", "max"]
    pct: float = 100
    share_pct: float | None = None
    fewer_than: bool = False
    count: int | None = None

    @property
    def none_may(self) -> bool:
        """Whether not a single reading may lie beyond it."""
        return self.share_pct is None and self.count is None

    def may(self, n: int, *, or_equal: bool = False) -> int:
        """How many of n readings may lie beyond it; ``or_equal`` reads "fewer than" as "at most"."""
        allowed = [] if self.count is None else [self.count]
        if self.share_pct is not None:
            allowed.append(may_be_beyond(n, self.share_pct, self.fewer_than and not or_equal))
        return min(allowed, default=0)


class Cells(Request):
    """Limits of spot and area means, in % of minimum and maximum; an absent one restricts nothing."""

    spot_min_pct: float | None = None
    spot_max_pct: float | None = None
    area_min_pct: float | None = None
    area_max_pct: float | None = None
    read: Read = "memory"


class Zone(Request):
    """Readings a zone needs at least, and how many are better."""

    least: int
    better: int = 0


class Beyond(Request):
    """What one more step of area adds beyond the last line, and the share of readings that may be repeated there."""

    step_m2: float
    more: int
    repeat_pct: int = 0


class Counts(NamedTuple):
    """Readings a rule asks for at least, and how many of them may be repeated."""

    readings: int
    repeats: int


class Rule(Request):
    """One entry of the file."""

    title: Said
    called: str = "this rule"
    edition: str
    source: str
    read: Read
    usual: bool = False
    below: list[Bound] = []
    above: list[Bound] = []
    mean: Bound | None = None
    judged: list[Where] = ["repair", "overlap", "parent"]
    zones: dict[Where, Zone] = {}
    readings_per_spot: int = 1
    spot_circle_mm: float = 0
    spots_per_area: int = 1
    areas_m2: list[list[float]] = []
    counts_m2: list[list[float]] = []
    beyond: Beyond | None = None
    cells: Cells | None = None
    level: dict[str, Cells] = {}
    profile_um: list[float] = []
    search_mm: float | None = None
    unstated: str = ""
    without_max: str = ""
    small: str = ""
    note: str = ""

    @model_validator(mode="after")
    def _whole(self) -> Rule:
        cite(self.source)
        if not (self.below or self.above or self.mean or self.cells or self.level):
            raise refuse("missing", say("thickness.rule_compares_nothing"))
        if self.level and set(self.level) != set("12345"):
            raise refuse("missing", say("thickness.rule_levels_missing"))
        if any(bound.of == "max" for bound in self.below) or any(bound.of != "max" for bound in self.above):
            raise refuse("contradiction", say("thickness.rule_bound_misplaced"))
        if (self.areas_m2 or self.counts_m2) and self.beyond is None:
            raise refuse("missing", say("thickness.rule_beyond_missing"))
        return self

    def needs(self) -> list[str]:
        """Which of min and nominal the rule cannot be judged without."""
        asked = {bound.of for bound in (*self.below, *((self.mean,) if self.mean else ()))}
        if self.cells or self.level:
            asked.add("min")
        return [one for one in ("min", "nominal") if one in asked]

    def cells_at(self, level: int) -> Cells | None:
        """The limits of spot and area means at a restriction level."""
        return self.level[str(level)] if self.level else self.cells

    def counts(self, area_m2: float) -> Counts:
        """Readings asked for on an area, by ``counts_m2``. Each size has its own line; beyond the last it goes by steps."""
        for up_to, readings, repeats in self.counts_m2:
            if area_m2 <= up_to:
                return Counts(int(readings), int(repeats))
        assert self.beyond is not None
        whole = int(self.counts_m2[-1][1]) + self._steps(area_m2, self.counts_m2[-1][0]) * self.beyond.more
        return Counts(whole, whole * self.beyond.repeat_pct // 100)

    def areas(self, area_m2: float) -> int:
        """Areas asked for on so many m², by ``areas_m2``."""
        for up_to, areas in self.areas_m2:
            if area_m2 <= up_to + 1e-8:
                return int(areas)
        assert self.beyond is not None
        return int(self.areas_m2[-1][1]) + self._steps(area_m2, self.areas_m2[-1][0]) * self.beyond.more

    def _steps(self, area_m2: float, last_m2: float) -> int:
        assert self.beyond is not None
        return math.ceil((area_m2 - last_m2) / self.beyond.step_m2 - 1e-9)


@cache
def rules() -> dict[str, Rule]:
    """Every rule by name, in the order of the file.

    Raises
    ------
    Missing, Unknown, Contradiction, Unreadable
        An entry that does not say what a rule must.
    """
    return {name: read(Rule, entry) for name, entry in tomllib.loads(_FILE.read_text(encoding="utf-8")).items()}


def rule(name: str) -> Rule:
    """One rule by name."""
    return rules()[name]


def usual_rules() -> list[str]:
    """The rules that are judged when a request names none."""
    return [name for name, one in rules().items() if one.usual]


def title(name: str, language: str = "en") -> str:
    """What pages call a rule in a language; its name where it is not held."""
    return in_language(rules()[name].title, language) if name in rules() else name


RuleName = Annotated[str, OneOf("thickness rule", rules)]


def may_be_beyond(n: int, share_pct: float, strict: bool) -> int:
    """How many of n readings may lie beyond a bound: fewer than the share (strict), or at most that.

    >>> [may_be_beyond(5, 20, True), may_be_beyond(10, 20, True), may_be_beyond(10, 20, False), may_be_beyond(10, 10, False)]
    [0, 1, 2, 1]
    """
    whole, rest = divmod(n * round(share_pct * 1000), 100_000)
    if strict and rest == 0:
        return max(0, whole - 1)
    return whole
