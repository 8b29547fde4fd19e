"""May these defects be repaired, and by which rule? Merges, measures, judges, and reads the decision table.

Every number a rule compares becomes a ``Finding``; what the findings and the defects say together
becomes *facts*; the facts are looked up in ``table.py``. Nothing is decided anywhere else.

>>> from ..basis.procedure import read_procedure
>>> from .marked import round_mark
>>> spot = Defect(round_mark("A", x=0, y=0, d=30), u_area_mm2=10.0)
>>> said = judge_defects([spot], read_procedure({"bare_area_mm2_max": 900, "feather_mm": 15}))
>>> said.disposition, [finding.rule for finding in said.repairs[0].findings]
('repair_by_procedure', ['bare_area'])
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from ..basis.finding import SIMPLE, Finding, judge
from ..basis.procedure import LIMITS, Procedure
from ..basis.quantity import shown
from .bore import beside, beside_each_other, every_turn, meets_itself, together_round_mm2
from .marked import Mark, greatest_dimension_mm
from .merge import SAME_MM, one_repair, with_taken_in
from .shape import RepairShape, bare_u_mm2, edge_u_mm, repair_shape
from .table import Disposition, Row, decide, gravest

# Kinds whose film has let go of the steel: sanding does not help, however thick the film is.
BOND_LOST = ("blister", "lifted_edge", "disbond", "corrosion")
# Kinds that point to the service or to heat rather than to a knock.
ATTACKED = ("swelling", "stain", "burn")


@dataclass(frozen=True)
class Defect:
    """One defect: its shape and what was found out about it. None means *not measured*."""

    mark: Mark
    kind: str = "chip"
    stage: str = "as_found"
    through: bool | None = True
    pit_depth_mm: float | None = 0.0
    u_area_mm2: float | None = 0.0
    film_left_um: float | None = None
    u_film_left_um: float | None = None
    film_asked: bool = False
    smooth: bool | None = None


@dataclass(frozen=True)
class KeepOut:
    """A surface or line where repair is not allowed."""

    kind: str
    shape: Any


@dataclass(frozen=True)
class Earlier:
    """An earlier repair on the same part: centre and diameter, mm."""

    job: str
    x: float
    y: float
    d: float


@dataclass(frozen=True)
class Part:
    """What is known of the part. ``asked`` names the values the request spoke of, measured or not; ``around_mm`` is once round
    the bore that is judged, None on a face."""

    lined_area_mm2: float | None = None
    plate_mm: float | None = None
    keep_out: tuple[KeepOut, ...] = ()
    asked: frozenset[str] = frozenset()
    around_mm: float | None = None


@dataclass
class Repair:
    """One repair of this request, measured and judged."""

    members: tuple[str, ...]
    stage: str
    shape: RepairShape
    u_bare_mm2: float | None
    greatest_mm: float
    pit_depth_mm: float | None
    through: bool | None
    to_make: bool
    keep_out_mm: float | None = None
    keep_out_bare_mm: float | None = None
    nearest: str | None = None
    same_spot_jobs: tuple[str, ...] | None = None
    findings: list[Finding] = field(default_factory=list)
    facts: set[str] = field(default_factory=set)
    rows: list[Row] = field(default_factory=list)

    @property
    def name(self) -> str:
        """What the repair is called in a sentence."""
        return "repair " + " + ".join(self.members)

    @property
    def disposition(self) -> Disposition:
        """The disposition of the first row that holds."""
        return self.rows[0].then


@dataclass
class Judged:
    """All repairs of one stage with the rules of the whole part, and what was left unjudged."""

    repairs: list[Repair]
    why_merged: list[str]
    findings: list[Finding]
    part_rows: list[Row]
    not_judged: list[str]
    repair_count: int
    repaired_share_pct: float | None

    @property
    def disposition(self) -> Disposition:
        """The gravest of the repairs' and the part's."""
        return gravest([r.disposition for r in self.repairs] + [row.then for row in self.part_rows])

    @property
    def deciding(self) -> list[tuple[str, Row]]:
        """(what it is about, row) for every row that leads to the disposition."""
        out = [("the part", row) for row in self.part_rows if row.then == self.disposition]
        for repair in self.repairs:
            out += [(repair.name, row) for row in repair.rows if row.then == self.disposition]
        return out


def judge_defects(
    defects: Sequence[Defect], procedure: Procedure, part: Part = Part(), history: Sequence[Earlier] = (),
    taken_in: Mapping[str, str] | None = None,
) -> Judged:
    """Judge the defects of one stage.

    Parameters
    ----------
    defects : sequence of Defect
        At least one; every id once.
    procedure : Procedure
        A limit it does not set is not judged and is named in ``not_judged``; where a fact needs that
        limit (a pit, an earlier repair at the place, a keep-out that is reached, the area itself),
        the disposition is engineering review.
    part : Part
    history : sequence of Earlier
        Repairs on this part since its lining was made.
    taken_in : mapping, optional
        Id of damage → id of the damage that took it in: one repair, whatever lies between them.

    Returns
    -------
    Judged
    """
    marks = [defect.mark for defect in defects]
    feather, factor = procedure.value("feather_mm"), procedure.value("merge_gap_factor")
    all_round: set[str] = set()
    if part.around_mm is not None:
        marks, all_round = beside_each_other(
            marks, feather_mm=feather, merge_gap_factor=factor, around_mm=part.around_mm, taken_in=taken_in or {})
        defects = [replace(defect, mark=mark) for defect, mark in zip(defects, marks)]
    groups, why = one_repair(marks, feather_mm=feather, merge_gap_factor=factor)
    groups, said = with_taken_in(groups, marks, taken_in or {})
    why += said
    unjudged: dict[str, str] = {}
    repairs = [_repair([defects[i] for i in group], procedure, part, history, unjudged) for group in groups]
    for repair in repairs:
        if part.around_mm is not None and repair.to_make and (
                meets_itself(repair.shape.bare, part.around_mm, feather or 0.0) or not all_round.isdisjoint(repair.members)):
            repair.facts.add("all_round")
    _footprints_apart(repairs, part.around_mm)
    findings, facts, share = _part_rules(repairs, procedure, part, history, unjudged)
    if feather is None and factor is None:
        unjudged["merge_gap_factor"] = _not_set(procedure, "merge_gap_factor")
    for repair in repairs:
        repair.rows = decide(repair.facts)
    return Judged(repairs, why, findings, decide(facts), list(unjudged.values()), len(history) + len(repairs), share)


def _repair(
    members: list[Defect], procedure: Procedure, part: Part, history: Sequence[Earlier], unjudged: dict[str, str]
) -> Repair:
    shape = repair_shape([d.mark for d in members], feather_mm=procedure.value("feather_mm"))
    throughs = [d.through for d in members]
    through = True if True in throughs else None if None in throughs else False
    stages = {d.stage for d in members}
    repair = Repair(
        members=tuple(d.mark.id for d in members),
        stage=stages.pop() if len(stages) == 1 else "mixed",
        shape=shape,
        u_bare_mm2=bare_u_mm2(shape, [d.mark for d in members], [d.u_area_mm2 for d in members]),
        greatest_mm=members[0].mark.greatest_mm if len(members) == 1 else greatest_dimension_mm(shape.bare),
        pit_depth_mm=_deepest([d.pit_depth_mm for d in members if d.through is not False],
                              procedure.value("pit_depth_mm_max")),
        through=through,
        to_make=False,
    )
    _film(repair, members, procedure)
    repair.to_make = through is not False or bool(repair.facts & {"bond_lost", "film_too_thin"})
    if any(d.kind in ATTACKED for d in members):
        repair.facts.add("attacked_lining")
    if repair.to_make:
        _areas(repair, procedure, unjudged)
        _pits(repair, procedure, unjudged)
    _keep_out(repair, procedure, part, unjudged)
    _same_spot(repair, procedure, part, history, unjudged)
    _collect(repair.findings, repair.facts)
    return repair


def _film(repair: Repair, members: list[Defect], procedure: Procedure) -> None:
    """Whether the damage reaches the steel, and if not, what film is left there."""
    facts = repair.facts
    facts.add({True: "through", None: "through_unknown", False: "not_through"}[repair.through])
    if any(d.through is not True and d.kind in BOND_LOST for d in members):
        facts.add("bond_lost")
    shallow = [d for d in members if d.through is False]
    sound = bool(shallow) and len(shallow) == len(members)
    for defect in shallow:
        enough = False
        if defect.film_asked and "film_um_min" in procedure.limits:
            finding = judge(
                "film_left", defect.film_left_um, u=defect.u_film_left_um, limit=procedure.need("film_um_min"),
                sense="at_least", unit="µm", decision=SIMPLE if defect.u_film_left_um is None else procedure.decision,
                source=procedure.cite("film_um_min"), name=f"Film left at defect {defect.mark.id}",
                next_move="Build it up by the procedure.",
            )
            repair.findings.append(finding)
            enough = finding.verdict == "conforms"
            facts |= {"does_not_conform": {"film_too_thin"}, "not_measured": {"film_unclear"},
                      "indeterminate": {"film_unclear"}}.get(finding.verdict, set())
        sound = sound and enough and defect.smooth is True and defect.kind not in BOND_LOST
    if sound:
        facts.discard("not_through")
        facts.add("sound_and_smooth")


def _areas(repair: Repair, procedure: Procedure, unjudged: dict[str, str]) -> None:
    """Bare area and footprint against their limits, with the uncertainty of the outline."""
    bare_u = _stated(repair.u_bare_mm2, procedure)
    edge_u = edge_u_mm(repair.shape.bare, bare_u)
    footprint = repair.shape.footprint
    footprint_u = None if edge_u is None or footprint is None else edge_u * footprint.length
    move = "Measure it better, or ask the lining engineer: above the limit the engineer decides."
    for rule, key, area, u in (
        ("bare_area", "bare_area_mm2_max", repair.shape.bare_mm2, bare_u),
        ("footprint_area", "footprint_area_mm2_max", repair.shape.footprint_mm2, footprint_u),
    ):
        if key not in procedure.limits:
            unjudged[key] = _not_set(procedure, key)
        elif area is None:
            repair.facts.add("no_feather")
        else:
            what = {"bare_area": "Bare area", "footprint_area": "Footprint"}[rule]
            repair.findings.append(judge(
                rule, area, u=u, limit=procedure.need(key), sense="at_most", unit="mm²", decision=procedure.decision,
                source=procedure.cite(key), name=f"{what} of {repair.name}", next_move=move,
            ))
    if "bare_area_mm2_max" not in procedure.limits and "footprint_area_mm2_max" not in procedure.limits:
        repair.facts.add("no_area_limit")


def _stated(u: float | None, procedure: Procedure) -> float | None:
    """An outline's uncertainty of 0 is none that anybody stated; only the guarded rule takes the request at its word."""
    return u or (None if procedure.decision.rule == "simple" else u)


def _keep_out(repair: Repair, procedure: Procedure, part: Part, unjudged: dict[str, str]) -> None:
    """Distance to the nearest keep-out, from the footprint and from the bare edge."""
    key = "keep_out_mm"
    if part.keep_out:
        repair.keep_out_mm, repair.nearest = _nearest(repair.shape, part.keep_out, repair.shape.footprint_apart_mm)
        repair.keep_out_bare_mm, nearest = _nearest(repair.shape, part.keep_out, repair.shape.bare_apart_mm)
        if repair.keep_out_mm == 0.0 == repair.keep_out_bare_mm:
            repair.nearest = nearest
    if not repair.to_make:
        if repair.keep_out_bare_mm == 0.0:
            repair.facts.add("on_keep_out")
        return
    if key not in procedure.limits:
        unjudged[key] = _not_set(procedure, key)
        if repair.keep_out_mm == 0.0:
            repair.facts.add("no_keep_out_limit")
    elif repair.keep_out_mm is None:
        unjudged[key] = (
            f"The keep-out distance of {shown(procedure.need(key))} mm was not judged: the request draws no sealing "
            "face, edge, radius, weld or seat. Draw them in part.keep_out."
        )
    elif repair.shape.footprint is None:
        repair.facts.add("no_feather")
    else:
        repair.findings.append(judge(
            "keep_out", repair.keep_out_mm, u=edge_u_mm(repair.shape.bare, _stated(repair.u_bare_mm2, procedure)),
            limit=procedure.need(key), sense="at_least", unit="mm", decision=procedure.decision,
            source=procedure.cite(key),
            name=f"Distance from the footprint of {repair.name} to the {str(repair.nearest).replace('_', ' ')}",
            next_move="Ask the lining engineer; do not grind nearer.",
        ))


def _nearest(shape: RepairShape, keep_out: Sequence[KeepOut], apart_mm: Callable[[Any], float]) -> tuple[float, str]:
    """Distance to the nearest keep-out and its kind; shapes whose boxes lie farther than that are not measured."""
    west, south, east, north = (shape.footprint or shape.bare).bounds
    boxes = []
    for number, one in enumerate(keep_out):
        a, b, c, d = one.shape.bounds
        boxes.append((math.hypot(max(a - east, west - c, 0.0), max(b - north, south - d, 0.0)), number))
    best, kind = math.inf, ""
    for box, number in sorted(boxes):
        if best <= box - 0.01:  # the drawn footprint stands up to 0.005 % outside the true one
            break
        found = apart_mm(keep_out[number].shape)
        if found < best:
            best, kind = found, keep_out[number].kind
    return best, kind


def _pits(repair: Repair, procedure: Procedure, unjudged: dict[str, str]) -> None:
    """The deepest pit; a pit that was looked for and not measured is not a pit of zero."""
    key = "pit_depth_mm_max"
    if key not in procedure.limits:
        unjudged[key] = _not_set(procedure, key)
        if repair.pit_depth_mm is None or repair.pit_depth_mm > 0:
            repair.facts.add("no_pit_limit")
        return
    repair.findings.append(judge(
        "pit_depth", repair.pit_depth_mm, limit=procedure.need(key), sense="at_most", unit="mm",
        source=procedure.cite(key), name=f"Deepest pit of {repair.name}",
        next_move="Measure the depth with a pit gauge on clean steel; deeper pits are the engineer's.",
    ))


def _same_spot(
    repair: Repair, procedure: Procedure, part: Part, history: Sequence[Earlier], unjudged: dict[str, str]
) -> None:
    """Earlier repairs whose centre lies within the radius of this one's centre."""
    radius, most = procedure.value("same_spot_radius_mm"), "same_spot_repairs_max"
    if radius is None:
        if history and repair.to_make:
            unjudged["same_spot_radius_mm"] = _not_set(procedure, "same_spot_radius_mm")
            repair.facts.add("no_same_spot_limit")
        repair.same_spot_jobs = None if history else ()
        return
    centre = repair.shape.bare.centroid
    repair.same_spot_jobs = tuple(
        e.job for e in history
        if math.hypot(e.x - centre.x, beside(e.y, centre.y, part.around_mm) - centre.y) <= radius + SAME_MM)
    count = len(repair.same_spot_jobs)
    if not repair.to_make:
        return
    if most not in procedure.limits:
        unjudged[most] = _not_set(procedure, most)
        if count:
            repair.facts.add("no_same_spot_limit")
        return
    allowed = procedure.need(most)
    repair.findings.append(judge(
        "same_spot_repairs", float(count), u=0.0, limit=allowed, sense="at_most", source=procedure.cite(most),
        name=f"Number of earlier repairs at the place of {repair.name}",
        next_move="Find the cause; the engineer decides.",
    ))
    if count >= allowed + 2:
        repair.facts.add("same_spot_far_over")


def _footprints_apart(repairs: list[Repair], around_mm: float | None) -> None:
    """Two repairs whose shared hulls brought their footprints together cannot be built as two."""
    for i, one in enumerate(repairs):
        for other in repairs[i + 1:]:
            if len(one.members) == len(other.members) == 1 or not (one.to_make and other.to_make):
                continue
            a = one.shape.footprint if one.shape.footprint is not None else one.shape.bare
            b = other.shape.footprint if other.shape.footprint is not None else other.shape.bare
            if any(a.intersects(turned) for turned in every_turn(b, around_mm)):
                one.facts.add("footprints_overlap")
                other.facts.add("footprints_overlap")


def _part_rules(
    repairs: list[Repair], procedure: Procedure, part: Part, history: Sequence[Earlier], unjudged: dict[str, str]
) -> tuple[list[Finding], set[str], float | None]:
    """Rules of the whole part: how many repairs, how much of the lining, how thick a plate."""
    findings: list[Finding] = []
    to_make = [r for r in repairs if r.to_make]
    share = None
    if part.lined_area_mm2 is not None:
        worked = sum(r.shape.footprint_mm2 or r.shape.bare_mm2 for r in to_make)
        worked += sum(math.pi * e.d * e.d / 4 for e in history)
        share = 100.0 * worked / part.lined_area_mm2
    if not to_make:
        return findings, set(), share
    key = "repairs_per_part_max"
    if key in procedure.limits:
        findings.append(judge(
            "repairs_per_part", float(len(history) + len(to_make)), u=0.0, limit=procedure.need(key), sense="at_most",
            source=procedure.cite(key), name="Number of repairs on the part, earlier ones counted",
            next_move="Ask the lining engineer: one more repair, or a new lining.",
        ))
    else:
        unjudged[key] = _not_set(procedure, key)
    for rule, key, value, asked, unit, name in (
        ("repaired_share", "repaired_share_pct_max", share, "lined_area_mm2", "%", "Repaired share of the lined area"),
        ("plate", "plate_mm_max", part.plate_mm, "plate_mm", "mm", "Plate thickness"),
    ):
        if key not in procedure.limits:
            continue
        if value is None and asked not in part.asked:
            unjudged[key] = (
                f"{LIMITS[key].name} ({shown(procedure.need(key))} {unit}) was not judged: the request gives no "
                f"part.{asked}. Give it, or null when it could not be measured."
            )
            continue
        findings.append(judge(
            rule, value, limit=procedure.need(key), sense="at_most", unit=unit, source=procedure.cite(key), name=name,
            next_move={"plate": "Plan the heat before anything is ground.",
                       "repaired_share": "Ask the lining engineer to weigh relining."}[rule],
        ))
    facts: set[str] = set()
    _collect(findings, facts)
    return findings, facts, share


def _collect(findings: list[Finding], facts: set[str]) -> None:
    """What the findings say, in the words of the decision table."""
    words = {
        "bare_area": "bare_area_over", "footprint_area": "footprint_area_over", "keep_out": "keep_out_under",
        "pit_depth": "pit_depth_over", "same_spot_repairs": "same_spot_over",
        "repairs_per_part": "repairs_per_part_over", "repaired_share": "repaired_share_over", "plate": "plate_over",
    }
    for finding in findings:
        if finding.rule not in words:
            continue
        if finding.verdict == "does_not_conform":
            facts.add(words[finding.rule])
        elif finding.verdict != "conforms":
            facts.add("something_unclear")


def _deepest(depths: list[float | None], limit: float | None) -> float | None:
    """The deepest of several; None when one was not measured and none of the others is too deep already.

    >>> _deepest([0.2, None], 1.0), _deepest([1.4, None], 1.0), _deepest([0.2, 0.4], 1.0)
    (None, 1.4, 0.4)
    """
    deepest = max((d for d in depths if d is not None), default=0.0)
    if None in depths and not (limit is not None and deepest > limit):
        return None
    return deepest


def together_mm2(marks: Sequence[Mark], around_mm: float | None = None) -> float:
    """The area that marks cover together, what they share counted once. [mm²]"""
    from shapely import unary_union

    if len(marks) == 1:
        return marks[0].area_mm2
    if marks and around_mm is not None:
        return together_round_mm2([mark.shape for mark in marks], around_mm)
    return float(unary_union([mark.shape for mark in marks]).area)


def _not_set(procedure: Procedure, key: str) -> str:
    return f"{procedure.id} sets no '{key}' ({LIMITS[key].name.lower()}): that rule was not judged."
