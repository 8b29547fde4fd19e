"""What holds, on one page: scope, five proofs against their limits, who signed, what was not proved; or what holds the job.

    bare steel 687 ± 16 mm²        at most 900
    thinnest film 1191 ± 43 µm     at least 1000

Where several repairs were measured, the value nearest to its limit stands here and says so; all stand in the annex.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from ..basis.finding import Finding, shown_to
from ..basis.materials import shown_name
from ..basis.on_paper import counted, when, words
from ..basis.quantity import shown
from ..basis.shape import area_mm2
from ..job.case import EVIDENCE
from ..job.judge import Outcome
from ..job.kinds import KINDS, SIGNED
from ..job.rules.places import own_shape, places_on
from ..job.step import Block, Step
from .page_looks import places
from .plots import bar
from .view import Hold, Measure, Proof, Signature, printed_units

# What this bench never tests, said on every page: common practice, no source.
NEVER_TESTED = (
    "Bond of the new film to the steel: no pull-off (ISO 4624, ASTM D4541) or knife test (ASTM D6677, not meant for film too "
    "thick to cut through in one stroke) was made on the part.",
    "A thickness reading or a high-voltage test does not prove bond; the high-voltage test finds only film that is "
    "missing where air is present.",
)

# proof, step that judges it, rule → what it is called; a pair of rules is one value between two limits.
PROOFS: tuple[tuple[str, str, tuple[tuple[tuple[str, ...], str], ...]], ...] = (
    ("Decide", "disposition", ((("bare_area",), "Bare steel"), (("film_left",), "Film left"), (("damage_area",), "Damage"))),
    ("Prepare", "conditions", (
        (("dew_margin",), "Steel above dew point, least"), (("profile_min", "profile_max"), "Profile of the steel"),
        (("soluble_salts",), "Salts"))),
    ("Heat", "heat", ((("bond_dwell",), "Shortest time above fusion"), (("surface_limit",), "Hottest film surface"))),
    ("Film", "thickness", ((("lowest_reading",), "Thinnest reading"), (("highest_reading",), "Thickest reading"))),
    ("Spark test", "holiday", ((("test_voltage_low", "test_voltage_high"), "Voltage; no hole in the film found"),)),
)
_UNITS = {"V": ("kV", 1000.0)}


def scope(outcome: Outcome) -> tuple[tuple[str, str], ...]:
    """Part, steel and lining, place and size: what the word on this page is about."""
    job = outcome.job
    part, lining = job.the("part.identified"), job.the("lining.identified")
    rows = [
        ("Part", " ".join(filter(None, (part.name, part.tag))) + (f", {part.drawing}" if part.drawing else "")),
        ("Steel, lining", f"{shown(part.plate_mm)} mm {shown_name(part.material)}, {shown_name(lining.polymer)} "
                          f"{shown(lining.thickness_um)} µm"),
        ("Place", _places(outcome)),
        ("Size", _sizes(outcome)),
        ("Procedure", f"{outcome.case.procedure.id}, edition {outcome.case.procedure.edition}"),
        ("Customer", job.the("job.opened").customer),
    ]
    return tuple((label, text) for label, text in rows if text)


def _places(outcome: Outcome) -> str:
    """As it was said when it was outlined; else where it lies on the map, and on what it was placed by."""
    said = {event.body.id: str(event.body.place.said) for event in outcome.job.of("damage.outlined") if event.body.place}
    where = places_on(outcome.job.the("part.identified"))
    return "; ".join(filter(None, ("; ".join(f"{one}: {place}" for one, place in said.items()) or places(outcome), where)))


def _sizes(outcome: Outcome) -> str:
    """Each damage as it was found and then prepared."""
    looks: dict[str, dict[str, Any]] = {}
    for event in outcome.job.of("damage.outlined"):
        looks.setdefault(event.body.id, {})[event.body.stage] = event.body
    parts = []
    for letter, stages in looks.items():
        told = [f"{word} {_area(stages[stage])}" for stage, word in (("as_found", "found"), ("as_prepared", "prepared"))
                if stage in stages]
        parts.append((f"{letter} " if len(looks) > 1 else "") + ", ".join(told))
    return "; ".join(parts)


def _area(body: Any) -> str:
    u = f" ± {shown(round(2 * body.u_area_mm2))}" if body.u_area_mm2 else ""
    return f"{area_mm2(own_shape(body)):.0f}{u} mm²"


def holds(outcome: Outcome) -> tuple[Hold, ...]:
    """What holds the job, with the next move for each."""
    return tuple(_hold(block) for block in outcome.blocked_by)


def _hold(block: Block) -> Hold:
    unit = f" {block.unit}" if block.unit else ""
    value = "" if block.value is None else f"{shown_to(block.value, block.limit or 0.0)}{unit}"
    return Hold(
        rule=words(block.rule).capitalize(),
        value=printed_units(value),
        limit="" if block.limit is None else printed_units(f"{shown(block.limit)}{unit}"),
        because=printed_units(block.because),
        next_move=printed_units(block.next_move),
    )


def proofs(outcome: Outcome) -> tuple[Proof, ...]:
    """The five proofs of a repair, each with its values against their limits, and the final look where one was written down.

    What was not measured stands here too, with the dash and the reason.
    """
    made = [Proof(name, tuple(_rows(outcome, outcome.steps.get(step), rules))) for name, step, rules in PROOFS]
    looks = [event for event in outcome.job.of("visual.looked") if event.body.stage == "end"]
    if looks:
        last = looks[-1].body
        made.append(Proof("Final look", (Measure(
            "Looked at, cold", "accepted" if last.accepted else "not accepted", last.seen or "",
            "conforms" if last.accepted else "does_not_conform"),)))
    return tuple(proof for proof in made if proof.rows)


@dataclass(frozen=True)
class _Value:
    """One number between its limits, as the findings of one repair give it."""

    value: float
    u: float | None
    low: float | None
    high: float | None
    unit: str
    verdict: str

    @property
    def room(self) -> float:
        """Its distance to the nearest limit, as a share of that limit: the less, the nearer."""
        ends = [(self.value - self.low) / (abs(self.low) or 1.0)] if self.low is not None else []
        ends += [(self.high - self.value) / (abs(self.high) or 1.0)] if self.high is not None else []
        return min(ends, default=1e9)


def _rows(outcome: Outcome, step: Step | None, rules: Sequence[tuple[tuple[str, ...], str]]) -> Iterable[Measure]:
    if step is None:
        return
    found = False
    known = {rule for pair, _ in rules for rule in pair}
    named = list(rules)
    if step.name == "thickness":  # whichever rule governs, its own comparisons are the proof
        others = dict.fromkeys(_rule(one) for one in step.findings if _rule(one) not in known)
        named += [((rule,), words(rule).capitalize()) for rule in others]
    for pair, label in named:
        values = _values([one for one in step.findings if _rule(one) in pair and one.value is not None])
        if not values:
            continue
        found = True
        nearest = min(values, key=lambda one: one.room)
        more = f", of {counted(_readings(outcome), 'reading')}" if pair[0] == "lowest_reading" else ""
        yield _measure(label + more, nearest if pair[0] != "test_voltage_low" else _narrowest(values))
    if not found and step.verdict in ("not_measured", "indeterminate", "does_not_conform"):
        yield Measure(_first(step.because) or words(step.name).capitalize(), words(step.verdict), "", step.verdict)


def _readings(outcome: Outcome) -> int:
    """How many film readings the film proof is judged by."""
    return sum(answer["n"] for answer in outcome.steps["thickness"].answers)


def _rule(finding: Finding) -> str:
    return finding.rule.split(",")[0]


def _values(findings: Sequence[Finding]) -> list[_Value]:
    """One value for each repair and zone, with both its limits where it has two."""
    held: dict[str, _Value] = {}
    for one in findings:
        assert one.value is not None
        of = one.rule.partition(",")[2] or (one.because if len({_rule(f) for f in findings}) == 1 else "")
        low, high = (one.limit, None) if one.sense == "at_least" else (None, one.limit)
        was = held.get(of)
        verdict = one.verdict if was is None else _worse(was.verdict, one.verdict)
        held[of] = _Value(one.value, one.u, low if low is not None else was.low if was else None,
                          high if high is not None else was.high if was else None, one.unit, verdict)
    return list(held.values())


def _worse(one: str, other: str) -> str:
    order = ("does_not_conform", "indeterminate", "not_measured", "conforms")
    return min(one, other, key=order.index)


def _narrowest(values: Sequence[_Value]) -> _Value:
    """The voltages of all zones: the range that is usable in every one, where they were tested alike."""
    first = values[0]
    if any(one.value != first.value for one in values):
        return min(values, key=lambda one: one.room)
    lows, highs = [one.low for one in values if one.low is not None], [one.high for one in values if one.high is not None]
    verdict = first.verdict
    for one in values:
        verdict = _worse(verdict, one.verdict)
    return _Value(first.value, first.u, max(lows, default=None), min(highs, default=None), first.unit, verdict)


def _measure(label: str, one: _Value) -> Measure:
    unit, by = _UNITS.get(one.unit, (printed_units(one.unit), 1.0))
    value, u2 = one.value / by, 2 * (one.u or 0.0) / by
    low, high = (None if end is None else end / by for end in (one.low, one.high))
    said = _figure(value, u2) + f" {unit}".rstrip()
    digits = 1 if unit == "kV" else 4
    if low is not None and high is not None:
        limit = f"{_short(low, digits, up=True)} to {_short(high, digits)}"
    elif low is not None:
        limit = f"at least {_short(low, digits, up=True)}"
    else:
        limit = f"at most {_short(high, digits)}" if high is not None else ""
    return Measure(label, said, limit, one.verdict, bar(value, u2, low, high))


def _figure(value: float, u2: float) -> str:
    """A value as precise as its uncertainty allows, with it."""
    if not u2:
        return shown(float(f"{value:.4g}"))
    places = 0 if u2 >= 2 else 1 if u2 >= 0.2 else 2
    return f"{shown(round(value, places))} ± {shown(round(u2, places))}"


def _short(limit: float | None, digits: int, *, up: bool = False) -> str:
    """A limit to so many digits behind the point, rounded away from what it allows."""
    if limit is None:
        return ""
    by = 10.0**digits
    return shown((math.ceil(limit * by - 1e-6) if up else math.floor(limit * by + 1e-6)) / by)


def _first(text: str) -> str:
    return text.split(". ")[0].rstrip(".")


def signatures(outcome: Outcome) -> list[Signature]:
    """Who signed what, in which role, with which words and when."""
    job = outcome.job
    out = []
    for event in job.of(*SIGNED):
        person, said = job.people.get(event.by), KINDS[event.kind].signature
        meaning = getattr(event.body, "meaning", "") or (said(event.body) if said else "")
        note, verdict = "", "signed"
        if event.kind == "release.signed" and outcome.verdict != "released":
            note, verdict = "asked for; not granted, see what holds the job", "held"
        out.append(Signature(name=job.name_of(event.by), role=person.role if person else "", meaning=meaning,
                             when=when(event.at), note=note, what=_what(event), verdict=verdict))
    return out


def _what(event: Any) -> str:
    if event.kind == "hold_point.signed":
        of = f", {event.body.repair}" if event.body.repair else ""
        return words(event.body.hold_point).capitalize() + of
    return {"release.signed": "Release", "escalation.decided": "Engineer"}.get(event.kind, KINDS[event.kind].label)


def people(outcome: Outcome) -> tuple[str, ...]:
    """Who repaired, who watched the fire, and by whose procedure: a line each."""
    job, procedure = outcome.job, outcome.case.procedure
    made = list(dict.fromkeys(job.name_of(event.by) for event in job.of("layer.fused", "surface.prepared")))
    lines = [f"Repaired by {', '.join(made)}."] if made else []
    watched = list(dict.fromkeys(job.name_of(event.body.watched_by) for event in job.of("hot_work.ended")))
    lines += [f"Fire watch: {', '.join(watched)}."] if watched else []
    permits = list(dict.fromkeys(event.body.number for event in job.of("permit.issued")))
    lines += [f"Hot-work permit {', '.join(permits)}."] if permits else []
    lines += [f"Procedure approved by {procedure.approver}."] if procedure.approver else []
    return (" ".join(lines),) if lines else ()


def not_tested(outcome: Outcome) -> tuple[str, ...]:
    """What was not proved: not measured or not done, old film accepted and by whom, and what this bench never tests."""
    lines = []
    if outcome.missing:
        named = ", ".join(EVIDENCE.get(what, words(what)) for what in outcome.missing)
        lines.append(f"Not measured or not done: {named}.")
    if not outcome.job.of("holiday.tested"):
        lines.append("No high-voltage test was made.")
    for event in outcome.job.of("holiday.tested"):
        if event.body.covered_pct < 100:
            lines.append(f"{100 - event.body.covered_pct:g} % of the zone was not covered by {event.id}.")
    for event in outcome.job.of("escalation.decided"):
        if event.body.old_film_um_min is not None:
            also = f", and by {event.body.accepted_by.rstrip('.')}" if event.body.accepted_by else ""
            lines.append(f"Old film where nobody worked was not brought to the limit of new film: accepted from "
                         f"{shown(event.body.old_film_um_min)} µm by {outcome.job.name_of(event.by)}, {when(event.at)}{also}.")
    return tuple(dict.fromkeys([*lines, *NEVER_TESTED]))
