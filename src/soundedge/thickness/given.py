"""What may be said in a question about film readings?

Every number has its fence here, and a question that contradicts itself is refused.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import Field, model_validator

from ..basis.finding import DecisionRequest
from ..basis.quantity import Prose, Quantity, Word
from ..basis.question import Request, no_more_than, refuse
from ..basis.sentences import say
from ..basis.shape import CoordinateMm
from .rule_book import RuleName, Where, rules, usual_rules

_UM = "Film is in micrometres (1 mil = 25.4 µm, 1 mm = 1000 µm); check the unit."
ReadingUm = Annotated[float, Quantity("A reading", "um", at_least=0, at_most=20_000, next_move=_UM)]
LimitUm = Annotated[float, Quantity("A film limit", "um", at_least=50, at_most=20_000, next_move=_UM)]
SmallUm = Annotated[float, Quantity("A correction or uncertainty", "um", at_least=0, at_most=1000, next_move=_UM)]
Freedom = Annotated[float, Quantity("Degrees of freedom", "", at_least=1, at_most=1e9)]

READINGS_MAX, SPOTS_MAX, TERMS_MAX = 200_000, 20_000, 100


class SpotRequest(Request):
    """Readings taken close together, as the gauge showed them; earlier ones they replace stand beside them."""

    id: Word
    readings_um: Annotated[list[ReadingUm], no_more_than(READINGS_MAX, "readings of one spot")]
    where: Where = "repair"
    area: Word = "1"
    x: CoordinateMm | None = None
    y: CoordinateMm | None = None
    edge_mm: Annotated[float, Quantity("Distance from the edge", "mm", at_least=0, at_most=20_000)] | None = None
    superseded_um: Annotated[list[ReadingUm], no_more_than(READINGS_MAX, "superseded readings")] = []
    superseded_because: Prose | None = None

    @model_validator(mode="after")
    def _a_reason(self) -> SpotRequest:
        if self.superseded_um and self.superseded_because is None:
            raise refuse("missing", say("thickness.superseded_without_reason", spot=self.id))
        if (self.x is None) != (self.y is None):
            given, lacks = ("x", "y") if self.y is None else ("y", "x")
            raise refuse("contradiction", say("thickness.spot_half_given", spot=self.id, given=given, lacks=lacks))
        return self


class CorrectionRequest(Request):
    """What the gauge shows over the peaks of rough steel and the film is not: one method, never two."""

    kind: Literal["none", "base_metal_reading", "profile"] = "none"
    value_um: SmallUm = 0.0
    u_um: SmallUm = 0.0
    df: Freedom | None = None

    @model_validator(mode="after")
    def _one_method(self) -> CorrectionRequest:
        if self.kind == "none" and (self.value_um or self.u_um):
            raise refuse("contradiction", say("thickness.correction_of_no_kind", correction_um=self.value_um))
        return self


class GaugeCheckRequest(Request):
    """The gauge on a shim of known thickness, before the readings; ``u_reference_um`` is the shim's standard uncertainty."""

    reference_um: Annotated[float, Quantity("A reference thickness", "um", above=0, at_most=50_000, next_move=_UM)]
    reading_um: Annotated[float, Quantity("A reading on the shim", "um", above=0, at_most=50_000, next_move=_UM)]
    u_reference_um: SmallUm = 0.0


class GaugeRequest(Request):
    """The gauge: tolerance (half-width), and what else is known of it.

    The error that ``check`` found belongs to every reading: it is added to the shared uncertainty, or (``known_error`` is
    ``correct``) taken off each reading in proportion.
    """

    tol_pct: Annotated[float, Quantity("Gauge tolerance", "%", at_least=0, at_most=50)] = 3.0
    tol_um: SmallUm = 0.0
    repeatability_um: SmallUm = 0.0
    resolution_um: SmallUm = 0.0
    range_min_um: ReadingUm | None = None
    range_max_um: ReadingUm | None = None
    id: Word | None = None
    check: GaugeCheckRequest | None = None
    known_error: Literal["add", "correct"] = "add"

    @model_validator(mode="after")
    def _a_range(self) -> GaugeRequest:
        if self.range_max_um is not None and self.range_max_um <= (self.range_min_um or 0.0):
            raise refuse("contradiction", say("thickness.gauge_range_empty", low_um=self.range_min_um or 0,
                                              high_um=self.range_max_um))
        return self


class LimitsRequest(Request):
    """The film the contract asks for."""

    min_um: LimitUm | None = None
    max_um: LimitUm | None = None
    nominal_um: LimitUm | None = None

    @model_validator(mode="after")
    def _in_order(self) -> LimitsRequest:
        given = [(name, getattr(self, name)) for name in ("min_um", "nominal_um", "max_um")]
        held = [(name, value) for name, value in given if value is not None]
        if not held:
            raise refuse("missing", say("thickness.film_limit_missing"))
        for (name, low), (other, high) in pairwise(held):
            if low > high:
                raise refuse("contradiction",
                             say("thickness.limits_out_of_order", lower=name, lower_um=low, upper=other, upper_um=high))
        return self


class TermRequest(Request):
    """A further uncertainty: curvature, temperature, operator. ``shared`` terms do not shrink with more readings."""

    name: Word
    u_um: SmallUm
    df: Freedom | None = None
    shared: bool = True


class FilmRequest(Request):
    """Readings, limits and rules."""

    spots: Annotated[list[SpotRequest], no_more_than(SPOTS_MAX, "spots")]
    limits: LimitsRequest
    correction: CorrectionRequest = CorrectionRequest()
    gauge: GaugeRequest = GaugeRequest()
    rules: list[RuleName] = Field(default_factory=usual_rules)
    governing: RuleName | None = None
    restriction_level: Annotated[int, Quantity("Restriction level", "", at_least=1, at_most=5, whole=True)] = 3
    decision: DecisionRequest = DecisionRequest()
    area_m2: Annotated[float, Quantity("Inspected area", "m2", above=0, at_most=1e6)] | None = None
    share_strict: bool | None = None
    agree_pct: Annotated[float, Quantity("Agreement within a spot", "%", above=0, at_most=100)] | None = None
    uncertainty: Annotated[list[TermRequest], no_more_than(TERMS_MAX, "terms of uncertainty")] = []

    @model_validator(mode="after")
    def _whole(self) -> FilmRequest:
        if not self.spots:
            raise refuse("not_enough", say("thickness.spot_missing"))
        seen = set()
        for spot in self.spots:
            if spot.id in seen:
                raise refuse("contradiction", say("thickness.spot_twice", spot=spot.id))
            seen.add(spot.id)
        terms = [term.name for term in self.uncertainty]
        twice = next((name for name in terms if terms.count(name) > 1), None)
        if twice is not None:
            raise refuse("contradiction", say("thickness.uncertainty_twice", name=twice))
        if not self.rules:
            raise refuse("missing", say("thickness.rule_missing", known=', '.join(rules())))
        return self
