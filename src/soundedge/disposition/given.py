"""What is a disposition asked on? The part, its defects at their stages, what was repaired before, the procedure."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from annotated_types import Len
from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema, model_validator

from ..basis.damage import DamageKind as Kind
from ..basis.errors import Contradiction, NotEnough, OutOfRange
from ..basis.finding import DecisionRequest
from ..basis.procedure import Procedure, read_procedure
from ..basis.quantity import Prose, Quantity, Word
from ..basis.question import Request, refuse
from ..basis.sentences import Sentence, say
from ..basis.shape import Circle, CoordinateMm, Ellipse, Outline, SizeMm
from .cut import PLACES_MIN, film_under
from .place import BoreMm, InnerMm, OuterMm, Place, check_part

Stage = Literal["as_found", "as_prepared"]
DEFECTS_MAX, HISTORY_MAX, KEEP_OUT_MAX, CORNERS_MAX, PLACES_MAX = 200, 1000, 200, 20_000, 100
_AreaU = Quantity("Standard uncertainty of the bare area", "mm2", at_least=0, at_most=1e7,
                  next_move="It is the u_area_mm2 of the survey; leave null if nobody stated one.")
_Pit = Quantity("Pit depth", "mm", at_least=0, at_most=100, next_move="Pit depths are in mm; check the unit.")
_Beside = Quantity("Film beside a cut", "um", at_least=0, at_most=20000,
                   next_move="Film is in µm (1 mil = 25.4 µm); check the unit.")
_Film = Quantity("Film left at the spot", "um", at_least=0, at_most=20000,
                 next_move="Film is in µm (1 mil = 25.4 µm); check the unit.")
_Cut = Quantity("Depth of a cut", "mm", at_least=0, at_most=20, next_move="It is what is gone of the film, in mm.")
_CutU = Quantity("Standard uncertainty of the cut's depth", "mm", at_least=0, at_most=5)
_FilmU = Quantity("Standard uncertainty of the film read", "um", at_least=0, at_most=5000)
_Lined = Quantity("Lined area", "mm2", above=0, at_most=1e10, next_move="1 m² is 1 000 000 mm²; check the unit.")
_Plate = Quantity("Plate thickness", "mm", above=0, at_most=1000, next_move="It is the steel alone, in mm.")
_Months = Quantity("Months ago", "", at_least=0, at_most=1200)
Point = Annotated[list[CoordinateMm], Len(2, 2)]
Track = Annotated[list[Point], Len(2, 5000)]


def _read_procedure(value: Any, info: ValidationInfo) -> Procedure:
    if isinstance(value, str):
        raise refuse("unreadable", say("disposition.procedure_is_text", text=value[:60]))
    return read_procedure(value, from_record=bool((info.context or {}).get("decimal_strings")))
ProcedureRequest = Annotated[
    Any, BeforeValidator(_read_procedure),
    WithJsonSchema({"type": ["object", "string"], "description": "A lining procedure: nested as in its file, or flat "
                                                                 "limits; a file name where files are opened"}),
]


def _count_corners(value: Any) -> Any:
    """Refuse outlines that are too many points together, before a single point is read."""
    corners = 0
    for one in value if isinstance(value, list) else ():
        if isinstance(one, dict):
            holes = one.get("holes_mm")
            rings = [one.get("outline_mm"), one.get("shape_mm"), *(holes if isinstance(holes, list) else ())]
            corners += sum(len(ring) for ring in rings if isinstance(ring, list))
    if corners > CORNERS_MAX:
        raise refuse("out_of_range", _too_many(corners))
    return value


def _too_many(corners: int) -> Sentence:
    return say("disposition.too_many_points", n=corners, most=CORNERS_MAX)


class KeepOutRequest(Request):
    """A surface (or a line: two points, or ``drawn_as: line``) where repair is not allowed."""

    kind: Literal["sealing_face", "edge", "radius", "weld", "seat"]
    shape_mm: Track | None = None
    circle_mm: Circle | None = None
    holes_mm: list[Outline] = []
    drawn_as: Literal["area", "line"] = "area"

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        if (self.shape_mm is None) == (self.circle_mm is None):
            given = say("basis.no_shape") if self.shape_mm is None else say("disposition.two_shapes")
            raise refuse("contradiction",
                         say("disposition.keep_out_shape_count", kind=self.kind.replace("_", " "), given=given))
        if self.holes_mm and (self.drawn_as == "line" or (self.shape_mm is not None and len(self.shape_mm) < 3)):
            raise refuse("contradiction", say("disposition.line_with_holes", kind=self.kind.replace("_", " ")))
        return self


class PartRequest(Request):
    """What is known of the part. A value that was looked for and could not be measured is null. ``bore_d_mm``: what is judged
    is a bore, laid flat (bore.py), and its two long edges are one line."""

    lined_area_mm2: Annotated[float, _Lined] | None = None
    plate_mm: Annotated[float, _Plate] | None = None
    keep_out: Annotated[list[KeepOutRequest], Len(0, KEEP_OUT_MAX), BeforeValidator(_count_corners)] = []
    bore_d_mm: BoreMm | None = None
    ring_inner_r_mm: InnerMm | None = None
    ring_outer_r_mm: OuterMm | None = None

    @model_validator(mode="after")
    def _bore_or_ring(self) -> Self:
        check_part(self)
        return self


BesideUm = Annotated[list[Annotated[float, _Beside]], Len(0, PLACES_MAX)]
CutDepthsMm = Annotated[list[Annotated[float, _Cut]], Len(0, PLACES_MAX)]
UFilmUm = Annotated[float, _FilmU]
UDepthMm = Annotated[float, _CutU]


def check_cut(defect: Any) -> None:
    """Raises a refusal: depth and film beside a cut are read at the same three places or more, and leave film to be known."""
    films, depths = len(defect.beside_um or ()), len(defect.depth_mm or ())
    if films != depths:
        raise refuse("contradiction", say("disposition.cut_not_paired", defect=defect.id, films=films, depths=depths))
    if not depths:
        return
    if depths < PLACES_MIN:
        raise refuse("not_enough", say("disposition.cut_too_few", defect=defect.id, n=depths, least=PLACES_MIN))
    if defect.film_left_um is not None:
        raise refuse("contradiction", say("disposition.cut_and_film_left", defect=defect.id))
    if defect.through is True:
        raise refuse("contradiction", say("disposition.cut_but_through", defect=defect.id))


def film_left(defect: Any, u_film_um: float | None = None) -> tuple[float, float | None] | None:
    """The film left at damage and its standard uncertainty, µm: as read there, or under a cut; None: neither was read.

    ``u_film_um`` stands in where nobody stated one for the film beside a cut.
    """
    if not defect.depth_mm:
        return None if defect.film_left_um is None else (defect.film_left_um, defect.u_film_um)
    u_um = u_film_um if defect.u_film_um is None else defect.u_film_um
    return film_under(defect.beside_um, defect.depth_mm, u_beside_um=u_um, u_depth_mm=defect.u_depth_mm)


class DefectRequest(Request):
    """One defect at one stage. Exactly one of outline, circle, ellipse; null means not measured. With a ``place`` the shape's
    own zero lies there.

    The film left is read as ``film_left_um`` or, under a narrow cut, follows from ``beside_um`` and ``depth_mm``.
    """

    id: Word
    place: Place | None = None
    outline_mm: Outline | None = None
    circle_mm: Circle | None = None
    ellipse_mm: Ellipse | None = None
    u_area_mm2: Annotated[float, _AreaU] | None = 0.0
    stage: Stage = "as_found"
    through: bool | None = True
    pit_depth_mm: Annotated[float, _Pit] | None = 0.0
    kind: Kind = "chip"
    film_left_um: Annotated[float, _Film] | None = None
    beside_um: BesideUm | None = None
    depth_mm: CutDepthsMm | None = None
    u_film_um: UFilmUm | None = None
    u_depth_mm: UDepthMm | None = None
    smooth: bool | None = None
    note: Prose | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        given = [k for k in ("outline_mm", "circle_mm", "ellipse_mm") if getattr(self, k) is not None]
        if len(given) != 1:
            raise refuse("contradiction" if given else "missing",
                         say("disposition.defect_shape_count", defect=self.id, given=given or say("basis.no_shape")))
        if self.through is False and (self.pit_depth_mm or 0.0) > 0:
            raise refuse("contradiction", say("disposition.pit_but_not_through", defect=self.id, pit_mm=self.pit_depth_mm or 0))
        check_cut(self)
        if self.through is True and (self.film_left_um or 0.0) > 0:
            raise refuse("contradiction", say("disposition.film_left_but_through", defect=self.id,
                                              film_um=self.film_left_um or 0))
        return self


class EarlierRequest(Request):
    """An earlier repair on this part since its lining was made: centre and diameter of its footprint."""

    job: Word
    x: CoordinateMm
    y: CoordinateMm
    d: SizeMm
    months_ago: Annotated[float, _Months] | None = None


class TakenIn(Request):
    """One damage took others in: they are one repair, whatever lies between them."""

    into: Word
    took: Annotated[list[Word], Len(1, DEFECTS_MAX)]


class DispositionRequest(Request):
    """Defects, procedure, part and history. Marks of one defect at two stages share its id."""

    procedure: ProcedureRequest
    part: PartRequest = PartRequest()
    defects: Annotated[list[DefectRequest], BeforeValidator(_count_corners)]
    history: Annotated[list[EarlierRequest], Len(0, HISTORY_MAX)] = []
    decision: DecisionRequest | None = None
    taken_in: Annotated[list[TakenIn], Len(0, DEFECTS_MAX)] = []


def check_counts(asked: DispositionRequest) -> None:
    """Raises NotEnough, OutOfRange or Contradiction: no defect, too many, or one marked twice at a stage."""
    if not asked.defects:
        raise NotEnough("defects", say("disposition.defect_missing"))
    if len(asked.defects) > DEFECTS_MAX:
        raise OutOfRange("defects", say("disposition.too_many_defects", n=len(asked.defects), most=DEFECTS_MAX))
    corners = sum(len(d.outline_mm or ()) for d in asked.defects)
    corners += sum(len(k.shape_mm or ()) + sum(len(h) for h in k.holes_mm) for k in asked.part.keep_out)
    if corners > CORNERS_MAX:
        raise OutOfRange("defects", _too_many(corners))
    seen: dict[tuple[str, str], int] = {}
    for number, defect in enumerate(asked.defects):
        key = (defect.id, defect.stage)
        if key in seen:
            raise Contradiction(
                f"defects[{number}].id",
                say("disposition.defect_twice", defect=defect.id, stage=defect.stage, first=seen[key] + 1,
                    second=number + 1),
            )
        seen[key] = number


def with_decision(asked: DispositionRequest) -> Procedure:
    """The procedure with the request's decision rule, which may stand only beside bare limits."""
    from dataclasses import replace

    procedure: Procedure = asked.procedure
    if asked.decision is None:
        return procedure
    wanted = asked.decision.plain()
    if asked.procedure.id != "the request" and wanted != asked.procedure.decision:
        raise Contradiction(
            "decision",
            say("disposition.decision_rule_set_twice", procedure=asked.procedure.id,
                procedure_rule=asked.procedure.decision.rule,
                request_rule=wanted.rule),
        )
    return replace(procedure, decision=wanted)
