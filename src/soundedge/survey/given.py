"""What does a person give for a survey: taps, card, and what they know about the part?

Taps are pixels of the upright photo; (0, 0) is the centre of its first pixel, x to the right, y down.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from pydantic import ValidationInfo, field_validator, model_validator
from pydantic_core import PydanticCustomError, core_schema

from ..basis.damage import DamageKind as Kind
from ..basis.finding import DecisionRequest
from ..basis.procedure import LIMITS
from ..basis.quantity import NotThat, Prose, Quantity, Word
from ..basis.question import Request, refuse
from ..basis.sentences import Sentence, say

POINTS_MAX = 5000
HOLES_MAX = 50
_PIXEL = Quantity("A coordinate", "px", at_least=-50_000, at_most=50_000, next_move="Taps are pixels of the upright photo.")



class _PixelsRule:
    """A list of [x, y] in pixels; following points that are alike are taken once."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any, info: core_schema.ValidationInfo) -> list[tuple[float, float]]:
            decimal_strings = bool((info.context or {}).get("decimal_strings"))
            if not isinstance(value, (list, tuple)):
                raise _fault("unreadable", say("survey.taps_not_a_list"))
            if len(value) > POINTS_MAX:
                raise _fault("out_of_range", say("survey.too_many_taps", n=len(value), most=POINTS_MAX))
            points: list[tuple[float, float]] = []
            for number, point in enumerate(value, 1):
                if not isinstance(point, (list, tuple)) or len(point) != 2:
                    raise _fault("unreadable", say("survey.tap_not_a_pair", number=number))
                try:
                    x, y = (_PIXEL.read(c, decimal_strings=decimal_strings) for c in point)
                except NotThat as bad:
                    raise _fault(bad.kind, say("survey.tap_unreadable", number=number, why=bad.message)) from None
                if not points or (x, y) != points[-1]:
                    points.append((x, y))
            return points

        return core_schema.with_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        pair = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "description": "Taps: points [x, y] in pixels of the upright photo"}


Pixels = Annotated[list[tuple[float, float]], _PixelsRule()]


def _fault(kind: str, message: Sentence) -> PydanticCustomError:
    return PydanticCustomError(kind, "{message}", {"message": message})


def _opened(ring: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A ring without the first tap repeated at its end."""
    return ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring


class _DayRule:
    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any) -> date:
            if isinstance(value, date):
                return date(value.year, value.month, value.day)
            try:
                if not isinstance(value, str):
                    raise ValueError
                return date.fromisoformat(value.strip()[:10])
            except ValueError:
                text = say("survey.day_unreadable", day=str(value)[:40])
                raise _fault("unreadable", text) from None

        return core_schema.no_info_plain_validator_function(
            read, serialization=core_schema.plain_serializer_function_ser_schema(lambda day: day.isoformat(), when_used="json")
        )

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "format": "date"}


Day = Annotated[date, _DayRule()]


class Clicks(Request):
    """The taps of one person on one photo.

    ``kind``: decides how well the edge is defined. ``outline_px``: round the edge, closed by itself; for a crack, along
    it. ``holes_px``: islands of sound lining. ``confirmed``: somebody looked at the drawn outline and accepted it.
    ``joined``: straight lines between the taps, or a smooth curve through them. ``edge``: the top edge of the lining, or
    the bottom edge at the steel. ``band_mm``: for a crack only, when the procedure's limit is an area: length × this
    width is then the area, and the answer says so. ``u_edge_mm``: standard uncertainty of where the edge is, when the
    kind's own value does not fit (a chalk line round a blister).
    """

    kind: Kind = "chip"
    outline_px: Pixels
    holes_px: list[Pixels] = []
    confirmed: bool = False
    joined: Literal["straight", "curve"] = "straight"
    edge: Literal["top", "bottom"] = "top"
    band_mm: Annotated[
        float, Quantity("Width of the band counted along a crack", "mm", at_least=0.5, at_most=200)
    ] | None = None
    u_edge_mm: Annotated[float, Quantity("Uncertainty of the edge", "mm", at_least=0.02, at_most=5)] | None = None
    by: Word | None = None

    @property
    def _words(self) -> str:
        return self.kind.replace("_", " ")

    @field_validator("holes_px")
    @classmethod
    def _holes_close_by_themselves(cls, value: list[list[tuple[float, float]]]) -> list[list[tuple[float, float]]]:
        return [_opened(ring) for ring in value]

    @field_validator("outline_px")
    @classmethod
    def _outline_closes_by_itself(cls, value: list[tuple[float, float]], info: ValidationInfo) -> list[tuple[float, float]]:
        return value if info.data.get("kind") == "crack" else _opened(value)

    @model_validator(mode="after")
    def _enough(self) -> Clicks:
        least = 2 if self.kind == "crack" else 3
        if len(self.outline_px) < least:
            raise refuse("not_enough", say("survey.outline_too_few_taps", n=len(self.outline_px), kind=self._words,
                                           least=least))
        if len(self.holes_px) > HOLES_MAX:
            raise refuse("out_of_range", say("survey.too_many_holes", n=len(self.holes_px), most=HOLES_MAX))
        for number, hole in enumerate(self.holes_px, 1):
            if len(hole) < 3:
                raise refuse("not_enough", say("survey.hole_too_few_taps", number=number, n=len(hole)))
        if self.band_mm is not None and self.kind != "crack":
            raise refuse("contradiction", say("survey.band_not_for_kind", kind=self._words))
        if self.kind == "crack" and self.holes_px:
            raise refuse("contradiction", say("survey.crack_with_holes"))
        return self


_BAR_MOVE = "The bars are nominally 100 mm; read them in mm with a steel rule."


class CardFacts(Request):
    """What was measured on the printed card. Bars between their ticks with a steel rule; thickness of card and mount."""

    bar_x_mm: Annotated[float, Quantity("Check bar x", "mm", at_least=20, at_most=400, next_move=_BAR_MOVE)] | None = None
    bar_y_mm: Annotated[float, Quantity("Check bar y", "mm", at_least=20, at_most=400, next_move=_BAR_MOVE)] | None = None
    u_bar_mm: Annotated[float, Quantity("Uncertainty of a bar", "mm", at_least=0.01, at_most=5)] = 0.2
    thickness_mm: Annotated[
        float, Quantity("Thickness of the card", "mm", at_least=0, at_most=10,
                        next_move="Measure card and mount with a calliper.")
    ] | None = None
    u_thickness_mm: Annotated[float, Quantity("Uncertainty of the thickness", "mm", at_least=0, at_most=5)] | None = None
    checked_on: Day | None = None
    serial: Word | None = None

    @property
    def stand_off_mm(self) -> tuple[float, float]:
        """How far the printed face lies above the lining, with its standard uncertainty: 0.5 ± 0.3 when not stated."""
        if self.thickness_mm is None:
            return 0.5, max(self.u_thickness_mm or 0.0, 0.3)
        return self.thickness_mm, 0.15 if self.u_thickness_mm is None else self.u_thickness_mm


class SurveyLimits(Request):
    """The limits of the procedure that a photo can judge."""

    bare_area_mm2_max: Annotated[float, LIMITS["bare_area_mm2_max"]] | None = None


class Other(Request):
    """Another outline of the same place: by another person on the same photo, or on a photo of its own."""

    outline: Clicks
    photo: Prose | None = None


class SurveyRequest(Request):
    """One damaged place. ``others``: further outlines or photos of the same place. ``radius_mm``: of a curved part,
    left out when it is flat. ``off_centre_mm``: from the damage to where a flat card touches a curved part."""

    photo: Prose
    outline: Clicks
    card: CardFacts = CardFacts()
    limits: SurveyLimits = SurveyLimits()
    decision: DecisionRequest = DecisionRequest()
    others: list[Other] = []
    lining_mm: Annotated[float, Quantity("Lining thickness", "mm", above=0, at_most=20,
                                         next_move="Lining thickness is in mm here; 1000 µm is 1 mm.")] | None = None
    radius_mm: Annotated[float, Quantity("Radius of the part", "mm", above=0, at_most=100_000)] | None = None
    off_centre_mm: Annotated[float, Quantity("Distance from the touching line", "mm", at_least=0, at_most=200)] = 0.0
    taken_on: Day | None = None
    suggest: bool = False

    @field_validator("others")
    @classmethod
    def _few(cls, value: list[Other]) -> list[Other]:
        if len(value) > 5:
            raise refuse("out_of_range", say("survey.too_many_outlines", n=len(value)))
        return value

    @model_validator(mode="after")
    def _no_copies(self) -> SurveyRequest:
        seen = {(self.photo, tuple(self.outline.outline_px))}
        for number, other in enumerate(self.others, 1):
            copy = (other.photo or self.photo, tuple(other.outline.outline_px))
            if copy in seen and other.outline.kind != "crack":
                raise refuse("contradiction", say("survey.outline_copied", number=number))
            seen.add(copy)
        return self

    @model_validator(mode="after")
    def _one_kind(self) -> SurveyRequest:
        for other in self.others:
            if (other.outline.kind == "crack") != (self.outline.kind == "crack"):
                raise refuse("contradiction", say("survey.kinds_differ"))
        if self.lining_mm is None and any(c.edge == "bottom" for c in (self.outline, *(o.outline for o in self.others))):
            raise refuse("missing", say("survey.lining_thickness_missing"))
        return self


class FindCardRequest(Request):
    """Only find the card: pose and scale, no outline."""

    photo: Prose
    find_card: Literal[True]
    card: CardFacts = CardFacts()


class DraftRequest(Request):
    """A quick start for the taps: two opposite corners of a box round the damage, and a few taps inside it, in pixels."""

    photo: Prose
    box_px: Pixels
    taps_px: Pixels

    @model_validator(mode="after")
    def _two_corners(self) -> DraftRequest:
        if len(self.box_px) != 2:
            raise refuse("not_enough", say("survey.box_corners", n=len(self.box_px)))
        if not self.taps_px:
            raise refuse("not_enough", say("survey.seed_taps_missing"))
        return self
