"""May this damage be spot-repaired, by which rule, and what would change the answer?

>>> from ..basis.question import answer
>>> said = answer(FORMS, {
...     "procedure": {"bare_area_mm2_max": 900, "feather_mm": 15, "merge_gap_factor": 2},
...     "defects": [{"id": "A", "circle_mm": {"x": 0, "y": 0, "d": 30}}]})
>>> said.verdict, said.repairs[0].bare_area_mm2, said.repairs[0].footprint_area_mm2, said.repair_count
('repair_by_procedure', 706.8583, 2827.4334, 1)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from pydantic import BaseModel, ConfigDict

from ..basis.errors import Contradiction, NotEnough, OutOfRange
from ..basis.finding import Finding
from ..basis.procedure import Procedure
from ..basis.quantity import shown
from ..basis.question import Answer, Form
from ..basis.sentences import say
from ..basis.sources import cite
from .given import DefectRequest, DispositionRequest, KeepOutRequest, Stage, check_counts, film_left, with_decision
from .place import Laid, laid_of, lay, shifted
from .table import Disposition

if TYPE_CHECKING:
    from .judged import Defect, Earlier, Judged, KeepOut, Repair


# A spot that is prepared to the sound edge is at least as large as the damage first seen; less than
# this share below it is how well two people mark one edge. Own estimate.
SHRINK_SHARE = 0.02
CHORD = "Sizes round the bore are taken as read along its wall."
# A chord shorter than its arc by less is within how well a tape is read. Own estimate.
CHORD_SHORT_MM = 0.5


class RepairAnswer(BaseModel):
    """One repair: what belongs to it, how large it is, what the rules say."""

    model_config = ConfigDict(extra="forbid")

    members: list[str]
    stage: Literal["as_found", "as_prepared", "mixed"]
    bare_area_mm2: float
    u_bare_area_mm2: float | None
    footprint_area_mm2: float | None
    min_keep_out_mm: float | None
    min_keep_out_bare_mm: float | None
    nearest_keep_out: str | None
    same_spot_repairs: int | None
    same_spot_jobs: list[str]
    greatest_dimension_mm: float
    centroid_mm: tuple[float, float]
    pit_depth_mm: float | None
    through: bool | None
    to_make: bool
    verdict: Disposition
    because: str
    next_move: str
    decided_by: list[str]
    outline_mm: list[tuple[float, float]]
    footprint_mm: list[tuple[float, float]] | None
    footprint_holes_mm: list[list[tuple[float, float]]]
    findings: list[Finding]


class StageAnswer(BaseModel):
    """The same part judged on what was marked at one stage."""

    model_config = ConfigDict(extra="forbid")

    stage: Stage
    governs: bool
    verdict: Disposition
    repairs: list[RepairAnswer]


class GrowthAnswer(BaseModel):
    """How much one defect grew from first sight to sound edge."""

    model_config = ConfigDict(extra="forbid")

    id: str
    as_found_mm2: float
    as_prepared_mm2: float
    factor: float


class DecidedBy(BaseModel):
    """One row of the decision table that led to the verdict."""

    model_config = ConfigDict(extra="forbid")

    about: str
    rule: str
    because: str
    next_move: str
    source: str


class DispositionAnswer(Answer):
    """The disposition of the part, its repairs, and everything that was not judged."""

    verdict: Disposition
    because: str
    next_move: str
    decided_by: list[DecidedBy]
    repairs: list[RepairAnswer]
    repair_count: int
    repairs_to_make: int
    repaired_share_pct: float | None
    merged_because: list[str]
    stages: list[StageAnswer]
    growth: list[GrowthAnswer]
    not_judged: list[str]
    cautions: list[str]


def disposition(asked: DispositionRequest) -> DispositionAnswer:
    """Decide what may be done with the defects of a part.

    Both stages are judged where an id was marked at both; what is marked as prepared governs.

    Raises
    ------
    NotEnough, OutOfRange, Unreadable, Contradiction
        No defect; too many; an outline that crosses itself; two marks of one defect at one stage; a
        defect larger than the lined area.
    """
    from .judged import Earlier, Part, judge_defects
    from .table import gravest

    check_counts(asked)
    procedure = with_decision(asked)
    on = laid_of(asked.part)
    part = Part(
        asked.part.lined_area_mm2, asked.part.plate_mm,
        tuple(met for i, k in enumerate(asked.part.keep_out) for met in _keep_out(k, f"part.keep_out[{i}]", on.around_mm)),
        frozenset(asked.part.model_fields_set), on.around_mm,
    )
    history = list(dict.fromkeys(Earlier(e.job, e.x, e.y, e.d) for e in asked.history))
    feather_mm = procedure.value("feather_mm", 0.0) or 0.0
    found = {d.id: _defect(d, i, feather_mm, on) for i, d in enumerate(asked.defects) if d.stage == "as_found"}
    prepared = {d.id: _defect(d, i, feather_mm, on) for i, d in enumerate(asked.defects) if d.stage == "as_prepared"}
    _fits_the_part(asked, [*found.values(), *prepared.values()])

    order = list(dict.fromkeys(d.id for d in asked.defects))
    taken_in = {took: one.into for one in asked.taken_in for took in one.took}
    governing = judge_defects([prepared.get(key) or found[key] for key in order], procedure, part, history, taken_in)
    growth = [_growth(found[key], prepared[key]) for key in order if key in found and key in prepared]
    for key in order:
        if key in found and key in prepared:
            _hold(governing, key, _against_found(found[key], prepared[key], on.around_mm))
    stages = []
    if growth:
        first = judge_defects([found[key] for key in order if key in found], procedure, part, history, taken_in)
        stages.append(_stage("as_found", False, first))
        stages.append(_stage("as_prepared", True, governing))

    verdict = gravest([governing.disposition])
    deciding = governing.deciding
    about, row = deciding[0]
    return DispositionAnswer(
        findings=[f for r in governing.repairs for f in r.findings] + governing.findings,
        verdict=verdict,
        because=f"{row.because} This is about {about}.",
        next_move=row.next_move,
        decided_by=[
            DecidedBy(about=a, rule=r.fact, because=r.because, next_move=r.next_move, source=cite(r.source))
            for a, r in deciding
        ],
        repairs=[_repair(r) for r in governing.repairs],
        repair_count=governing.repair_count,
        repairs_to_make=sum(r.to_make for r in governing.repairs),
        repaired_share_pct=_rounded(governing.repaired_share_pct),
        merged_because=governing.why_merged,
        stages=stages,
        growth=growth,
        not_judged=governing.not_judged,
        cautions=_cautions(asked, procedure, governing) + _odd(asked, history, found, prepared, governing),
    )


def _defect(given: DefectRequest, number: int, feather_mm: float, on: Laid) -> Defect:
    from .judged import Defect
    from .marked import outlined_mark, oval_mark, refuse_tangle, round_mark

    x, y = lay(given.place, on, name=given.id, field=f"defects[{number}].place")
    if given.circle_mm is not None:
        c = given.circle_mm
        mark = round_mark(given.id, x=c.x + x, y=c.y + y, d=c.d)
    elif given.ellipse_mm is not None:
        e = given.ellipse_mm
        mark = oval_mark(given.id, x=e.x + x, y=e.y + y, a=e.a, b=e.b, angle_deg=e.angle_deg)
    else:
        mark = outlined_mark(given.id, shifted(given.outline_mm or [], (x, y)), field=f"defects[{number}].outline_mm")
        refuse_tangle(mark.shape, feather_mm, what=say("disposition.outline_of_defect", defect=given.id),
                      field=f"defects[{number}].outline_mm")
    if mark.area_mm2 < 1e-6:
        raise OutOfRange(f"defects[{number}]", say("disposition.defect_too_small", defect=given.id, area_mm2=mark.area_mm2))
    left, u_left = film_left(given) or (None, None)
    return Defect(
        mark, given.kind, given.stage, given.through, given.pit_depth_mm, given.u_area_mm2, left, u_left,
        bool(given.depth_mm) or "film_left_um" in given.model_fields_set, given.smooth,
    )


def _keep_out(given: KeepOutRequest, field: str, around_mm: float | None) -> list[KeepOut]:
    """The keep-out; in a bore it is met again at every turn."""
    from .bore import every_turn
    from .judged import KeepOut

    return [KeepOut(given.kind, shape) for shape in every_turn(_keep_out_shape(given, field), around_mm)]


def _keep_out_shape(given: KeepOutRequest, field: str) -> Any:
    from shapely.geometry import LineString

    from .marked import curve, simple_polygon

    holes = [list(h) for h in given.holes_mm]
    if given.circle_mm is not None:
        c = given.circle_mm
        outline = list(curve(c.x, c.y, c.d, c.d, 0.0).exterior.coords)
    else:
        outline = [(p[0], p[1]) for p in given.shape_mm or []]
    what = say("disposition.the_keep_out", kind=given.kind.replace("_", " "))
    if len(set(outline)) < 2:
        raise NotEnough(f"{field}.shape_mm", say("disposition.keep_out_single_point", what=what))
    if given.drawn_as == "line" or len(set(outline)) < 3 or _on_a_line(outline):
        return LineString(outline)
    return simple_polygon(outline, what=what, field=f"{field}.shape_mm", holes=holes)


def _on_a_line(points: list[tuple[float, float]]) -> bool:
    from shapely.geometry import MultiPoint

    return bool(MultiPoint(points).convex_hull.area < 1e-9)


def _fits_the_part(asked: DispositionRequest, defects: list[Defect]) -> None:
    from .judged import together_mm2

    lined, plate = asked.part.lined_area_mm2, asked.part.plate_mm
    for number, given in enumerate(asked.defects):
        if plate is not None and (given.pit_depth_mm or 0.0) >= plate:
            raise Contradiction(
                f"defects[{number}].pit_depth_mm",
                say("disposition.pit_deeper_than_plate", defect=given.id, pit_mm=given.pit_depth_mm or 0,
                    plate_mm=plate),
            )
    for defect in defects:
        if lined is not None and defect.mark.area_mm2 > lined:
            raise Contradiction(
                "part.lined_area_mm2",
                say("disposition.defect_larger_than_lining", defect=defect.mark.id, area_mm2=defect.mark.area_mm2,
                    lined_mm2=lined),
            )
    around_mm = laid_of(asked.part).around_mm
    for defect in defects:
        long_mm = defect.mark.shape.bounds[3] - defect.mark.shape.bounds[1]
        if around_mm is not None and long_mm > around_mm + 0.5:
            raise Contradiction("part.bore_d_mm", say("disposition.defect_longer_than_round", defect=defect.mark.id,
                                                      long_mm=long_mm, around_mm=around_mm))
    for stage in ("as_found", "as_prepared"):
        bare = together_mm2([d.mark for d in defects if d.stage == stage], around_mm)
        if lined is not None and bare > lined:
            raise Contradiction(
                "part.lined_area_mm2",
                say("disposition.defects_larger_than_lining", stage=stage.replace('_', ' '), bare_mm2=bare, lined_mm2=lined),
            )


def _growth(found: Defect, prepared: Defect) -> GrowthAnswer:
    return GrowthAnswer(
        id=found.mark.id, as_found_mm2=round(found.mark.area_mm2, 4), as_prepared_mm2=round(prepared.mark.area_mm2, 4),
        factor=round(prepared.mark.area_mm2 / found.mark.area_mm2, 4),
    )


def _shrank(found: Defect, prepared: Defect) -> bool:
    """Smaller by more than two people and two uncertainties explain."""
    u = ((found.u_area_mm2 or 0.0) ** 2 + (prepared.u_area_mm2 or 0.0) ** 2) ** 0.5
    return bool(prepared.mark.area_mm2 < found.mark.area_mm2 * (1 - SHRINK_SHARE) - 2 * u)


def _elsewhere(found: Defect, prepared: Defect, around_mm: float | None) -> bool:
    """Whether the middle of the found damage lies outside the prepared spot, by more than both edges are unsure.

    Only the middle is asked for: outlines measured on two photos share no zero but the place they were said to lie at.
    A crescent's middle lies outside itself; a point within stands for it.
    """
    from .bore import every_turn
    from .shape import edge_u_mm

    middle = found.mark.shape.centroid
    if not found.mark.shape.covers(middle):
        middle = found.mark.shape.representative_point()
    unsure = sum(edge_u_mm(d.mark.shape, d.u_area_mm2) or 0.0 for d in (found, prepared))
    home = every_turn(middle, around_mm)
    there = every_turn(prepared.mark.shape, around_mm)
    return bool(min(shape.distance(home[len(home) // 2]) for shape in there) > 2 * unsure)


def _against_found(found: Defect, prepared: Defect, around_mm: float | None) -> set[str]:
    """What the prepared spot contradicts of the found one, in the words of the decision table."""
    said = {
        "smaller_than_found": _shrank(found, prepared),
        "prepared_elsewhere": _elsewhere(found, prepared, around_mm),
        "steel_unseen": found.through is True and prepared.through is False,
    }
    return {fact for fact, holds in said.items() if holds}


def _hold(judged: Judged, key: str, facts: set[str]) -> None:
    from .table import decide

    for repair in judged.repairs:
        if key in repair.members and facts:
            repair.facts |= facts
            repair.rows = decide(repair.facts)


def _stage(stage: Stage, governs: bool, judged: Judged) -> StageAnswer:
    return StageAnswer(
        stage=stage, governs=governs, verdict=judged.disposition, repairs=[_repair(r) for r in judged.repairs]
    )


def _repair(r: Repair) -> RepairAnswer:
    footprint = r.shape.footprint
    centre = r.shape.bare.centroid
    return RepairAnswer(
        members=list(r.members),
        stage=r.stage,  # type: ignore[arg-type]
        bare_area_mm2=round(r.shape.bare_mm2, 4),
        u_bare_area_mm2=_rounded(r.u_bare_mm2),
        footprint_area_mm2=_rounded(r.shape.footprint_mm2),
        min_keep_out_mm=_rounded(r.keep_out_mm),
        min_keep_out_bare_mm=_rounded(r.keep_out_bare_mm),
        nearest_keep_out=r.nearest,
        same_spot_repairs=None if r.same_spot_jobs is None else len(r.same_spot_jobs),
        same_spot_jobs=list(r.same_spot_jobs or ()),
        greatest_dimension_mm=round(r.greatest_mm, 3),
        centroid_mm=(round(centre.x, 4) + 0.0, round(centre.y, 4) + 0.0),
        pit_depth_mm=r.pit_depth_mm,
        through=r.through,
        to_make=r.to_make,
        verdict=r.disposition,
        because=" ".join(dict.fromkeys(row.because for row in r.rows)),
        next_move=r.rows[0].next_move,
        decided_by=[row.fact for row in r.rows],
        outline_mm=_points(r.shape.bare.exterior),
        footprint_mm=None if footprint is None else _points(footprint.exterior),
        footprint_holes_mm=[] if footprint is None else [_points(ring) for ring in footprint.interiors],
        findings=r.findings,
    )


def _cautions(asked: DispositionRequest, procedure: Procedure, judged: Judged) -> list[str]:
    said = []
    if procedure.example:
        said.append(f"Procedure {procedure.id} is an example. It has no approval for any real part.")
    if any(r.to_make and r.stage != "as_prepared" for r in judged.repairs):
        said.append("Judged on damage as found. The spot grows when it is ground back to the sound edge: mark it again "
                    "as prepared and judge it again before any powder is laid.")
    if sum(d.kind == "blister" for d in asked.defects) > 1:
        said.append("More than one blister: the film beside them may be next. Probe it before deciding on spots.")
    said += _chord(asked, judged)
    if any(r.to_make for r in judged.repairs):
        said.append("Clean, gas-free and permitted first: no heat before the wipe has dried and the meter reads clear.")
    return said


def _chord(asked: DispositionRequest, judged: Judged) -> list[str]:
    """What a straight rule or a flat photo reads of the widest repair in a bore: less than lies along the wall."""
    from .bore import chord_mm

    if asked.part.bore_d_mm is None:
        return []
    wide, name = max((r.shape.bare.bounds[3] - r.shape.bare.bounds[1], r.name) for r in judged.repairs)
    chord = chord_mm(wide, asked.part.bore_d_mm)
    if wide - chord < CHORD_SHORT_MM:
        return []
    return [f"{CHORD} A straight rule or a flat photo reads the chord: of "
            f"{name}, {wide:.1f} mm round, only {chord:.1f} mm. Measure round the bore with a tape."]


def _odd(
    asked: DispositionRequest, history: list[Earlier], found: dict[str, Defect], prepared: dict[str, Defect],
    judged: Judged,
) -> list[str]:
    """What was taken although it looks strange."""
    said = []
    twice = len(asked.history) - len(history)
    if twice:
        said.append(f"{twice} earlier repair{'s stand' if twice > 1 else ' stands'} in the history again with the same job, "
                    "place and size; each was counted once.")
    for defect in [*found.values(), *prepared.values()]:
        if (defect.u_area_mm2 or 0.0) > defect.mark.area_mm2:
            said.append(f"The uncertainty of the area of defect {defect.mark.id} {defect.stage.replace('_', ' ')}, "
                        f"{shown(defect.u_area_mm2 or 0)} mm², is larger than the area itself, {defect.mark.area_mm2:.4g} "
                        "mm²: it was not measured, only seen. Measure it again.")
    for key in (key for key in found if key in prepared):
        small, large = prepared[key].mark.area_mm2, found[key].mark.area_mm2
        if small < large * (1 - SHRINK_SHARE) and not _shrank(found[key], prepared[key]):
            said.append(f"Prepared spot {key}, {small:.4g} mm², is smaller than found, {large:.4g} mm²; only the stated "
                        "uncertainty of the areas explains that. Measure it again.")
    if judged.repaired_share_pct is not None and judged.repaired_share_pct > 100:
        said.append(f"Footprints and earlier repairs together are {judged.repaired_share_pct:.0f} % of the lined area, more "
                    "than there is: they overlap, or the lined area is not right. Check it.")
    return said


def _points(ring: Any) -> list[tuple[float, float]]:
    return [(round(x, 6), round(y, 6)) for x, y in list(ring.coords)[:-1]]


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


FORMS: tuple[Form, ...] = (Form("disposition", DispositionRequest, DispositionAnswer, disposition),)
