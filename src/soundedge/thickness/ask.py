"""What do the film readings say under the rule the contract names, under the others, and what not?

>>> answer = judge_film(FilmRequest.model_validate({"spots": [{"id": "1", "readings_um": [1100, 1150, 940]}],
...     "limits": {"min_um": 1000, "max_um": 1800, "nominal_um": 1050}}))
>>> answer.governing, answer.verdict, answer.by_rule["sspc_pa_2"].verdict
('every_reading', 'does_not_conform', 'conforms')
"""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from ..basis.errors import Contradiction, NotEnough, OutOfRange
from ..basis.finding import DecisionRequest, Finding, Verdict
from ..basis.quantity import Prose, Quantity, Word, shown
from ..basis.question import Answer, Form, Request, no_more_than, refuse
from ..basis.sentences import say
from ..basis.shape import CoordinateMm
from . import proof, sanity
from .ask_map import MapAnswer, MapRequest, draw_map
from .ask_plan import (
    CountsAnswer,
    CountsRequest,
    ExtremeAnswer,
    ExtremeRequest,
    RiskAnswer,
    RiskRequest,
    ThinSpotAnswer,
    ThinSpotRequest,
    count_readings,
    estimate_minimum,
    plan_readings,
    weigh_risk,
)
from .ask_table import TableAnswer, TableRequest, preview_table
from .moments import TwoLevel, mean, sd, two_level
from .plan import search_spots
from .rule_book import RuleName, Where, rule, rules, usual_rules
from .rules import Film, Judged, Spot, judge_rule, settled
from .uncertainty import Term, budget, gauge_u_um, resolution_u_um

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


class GaugeRequest(Request):
    """The gauge: tolerance (half-width), and what else is known of it."""

    tol_pct: Annotated[float, Quantity("Gauge tolerance", "%", at_least=0, at_most=50)] = 3.0
    tol_um: SmallUm = 0.0
    repeatability_um: SmallUm = 0.0
    resolution_um: SmallUm = 0.0
    range_min_um: ReadingUm | None = None
    range_max_um: ReadingUm | None = None
    id: Word | None = None

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


class RuleAnswer(BaseModel):
    """One rule: its verdict under the decision rule, the simple and the guarded verdict, and its reasons."""

    model_config = ConfigDict(extra="forbid")

    verdict: Verdict
    because: str
    next_move: str
    simple: Verdict
    guarded: Verdict
    p_conforms: float | None
    findings: list[Finding]
    notes: list[str]
    title: str
    edition: str
    source: str
    read: str


class BudgetLine(BaseModel):
    """One part of the uncertainty of the mean. ``shared`` parts do not shrink with more readings."""

    model_config = ConfigDict(extra="forbid")

    name: str
    u_um: float
    df: float | None
    shared: bool
    share_pct: float


class SpotAnswer(BaseModel):
    """One spot after correction."""

    model_config = ConfigDict(extra="forbid")

    id: str
    where: Where
    n: int
    mean_um: float | None
    min_um: float | None
    max_um: float | None
    sd_um: float | None
    readings_um: list[float]


class StrataAnswer(BaseModel):
    """The readings of one kind of place."""

    model_config = ConfigDict(extra="forbid")

    n: int
    mean_um: float
    min_um: float
    sd_um: float | None


class NoteAnswer(BaseModel):
    """Something that looks strange."""

    model_config = ConfigDict(extra="forbid")

    check: str
    spots: list[str]
    because: str
    next_move: str


class SearchAnswer(BaseModel):
    """Where to read next about a spot that does not conform: one step out, in one direction."""

    model_config = ConfigDict(extra="forbid")

    about: str
    x: float
    y: float
    direction_deg: float


class FilmAnswer(Answer):
    """What the readings say. All films are after correction, in µm."""

    n: int
    mean_um: float
    min_um: float
    max_um: float
    sd_um: float | None
    u_mean_um: float
    df_effective: float | None
    u_mean_expanded_95_um: float
    budget: list[BudgetLine]
    within_spot_sd_um: float | None
    between_spot_f: float | None
    by_rule: dict[str, RuleAnswer]
    governing: str
    governing_because: str
    rules_disagree: bool
    verdict: Verdict
    thin_readings: int | None
    thin_fraction_upper_95: float | None
    lower_tolerance_95_95_um: float | None
    readings_worth: float
    more_readings: dict[str, int | None]
    proves: list[str]
    remeasure: list[str]
    remeasure_because: dict[str, list[str]]
    search: list[SearchAnswer]
    sanity: list[NoteAnswer]
    spots: list[SpotAnswer]
    strata: dict[str, StrataAnswer]
    superseded: int
    cautions: list[str]


def judge_film(request: FilmRequest) -> FilmAnswer:
    """Correct the readings, judge them under each rule, and say what they do not prove.

    Raises
    ------
    NotEnough
        No spot holds a reading.
    OutOfRange
        The readings as a whole are in another unit than the limits; more than ``READINGS_MAX`` of them.
    Contradiction
        The correction is above the mean of the readings.
    """
    limits, gauge = request.limits, request.gauge
    shown_um = [value for spot in request.spots for value in spot.readings_um]
    if not shown_um:
        raise NotEnough("spots", say("thickness.nothing_read"))
    taken = len(shown_um) + sum(len(spot.superseded_um) for spot in request.spots)
    if taken > READINGS_MAX:
        raise OutOfRange("spots", say("thickness.too_many_readings", n=taken,
                                      most=READINGS_MAX))
    reference = limits.min_um or limits.nominal_um or limits.max_um or 0.0
    _fence(shown_um, reference)
    minus = request.correction.value_um
    if mean(shown_um) < minus:
        raise Contradiction(
            "correction.value_um",
            say("thickness.correction_above_mean", correction_um=minus, mean_um=mean(shown_um)))
    spots = [Spot(s.id, tuple(settled(v - minus) for v in s.readings_um), s.where, s.area, len(s.superseded_um))
             for s in request.spots]
    groups = [spot.readings_um for spot in spots if spot.readings_um]
    values = [value for group in groups for value in group]
    n, average, spread = len(values), mean(values), sd(values)
    level = two_level(groups)

    def u_shared(film_um: float) -> float:
        return budget(_shared_terms(request, film_um + minus)).u

    def u_reading(film_um: float) -> float:
        own = [Term(t.name, t.u_um) for t in request.uncertainty if not t.shared]
        own.append(Term("repeatability", gauge.repeatability_um))
        return budget([*_shared_terms(request, film_um + minus), *own]).u

    film = Film(spots, limits.min_um, limits.max_um, limits.nominal_um, request.restriction_level, request.area_m2,
                request.share_strict, _out_of_gauge(request), u_reading, u_shared)
    governing, why = _governing(request)
    names = list(dict.fromkeys([*request.rules, governing]))
    judged = {name: judge_rule(name, film, request.decision.plain()) for name in names}
    terms = [Term("scatter of the spot means" if len(groups) > 1 else "scatter of the readings", level.u_mean or 0.0,
                  level.df or float("inf"))]
    terms += [Term(t.name, t.u_um / n**0.5, t.df or float("inf")) for t in request.uncertainty if not t.shared]
    terms += _shared_terms(request, average + minus)
    whole = budget([term for term in terms if term.u])
    notes = sanity.look(
        [(spot.id, spot.readings_um) for spot in spots], min_um=reference, gauge_min_um=gauge.range_min_um,
        gauge_max_um=gauge.range_max_um, taken_off_um=minus,
        edge_mm={s.id: s.edge_mm for s in request.spots if s.edge_mm is not None},
        place={s.id: (s.x, s.y) for s in request.spots if s.x is not None and s.y is not None},
        agree_pct=request.agree_pct)
    again = _again(spots, notes, judged[governing], film)
    thin = sum(settled(v) < settled(limits.min_um) for v in values) if limits.min_um is not None else None
    tolerance = proof.lower_tolerance(values)
    worth = _worth(level, n, len(groups))
    upper = proof.thin_share_upper(thin, n) if thin is not None else None
    return FilmAnswer(
        findings=list(judged[governing].findings),
        n=n, mean_um=average, min_um=min(values), max_um=max(values), sd_um=spread, u_mean_um=whole.u,
        df_effective=_finite(whole.df), u_mean_expanded_95_um=whole.expanded,
        budget=[BudgetLine(name=t.name, u_um=t.u, df=_finite(t.df), shared=t.shared,
                           share_pct=100 * t.u**2 / whole.u**2) for t in whole.terms],
        within_spot_sd_um=level.within_sd, between_spot_f=level.f,
        by_rule={name: _rule_answer(one) for name, one in judged.items()},
        governing=governing, governing_because=why,
        rules_disagree=len({one.verdict for one in judged.values()}) > 1,
        verdict=judged[governing].verdict,
        thin_readings=thin, thin_fraction_upper_95=upper, lower_tolerance_95_95_um=tolerance,
        readings_worth=worth, more_readings=_more(values, thin, limits.min_um),
        proves=_proves(n, worth, thin, upper, tolerance, limits.min_um, level.u_mean is None) + _parent_proves(spots),
        remeasure=list(again), remeasure_because=again,
        search=_search(request, judged),
        sanity=[NoteAnswer(check=x.check, spots=list(x.spots), because=x.because, next_move=x.next_move) for x in notes],
        spots=[_spot_answer(spot) for spot in spots], strata=_strata(spots),
        superseded=sum(spot.superseded for spot in spots),
        cautions=_cautions(request) + _parent_cautions(spots, limits.min_um) + _read_over(request),
    )


def _out_of_gauge(request: FilmRequest) -> frozenset[str]:
    gauge = request.gauge
    return frozenset(spot.id for spot in request.spots
                     if any(sanity.beyond(v, gauge.range_min_um, gauge.range_max_um) for v in spot.readings_um))


def _fence(shown_um: list[float], reference: float) -> None:
    middle = sorted(shown_um)[len(shown_um) // 2]
    unit = sanity.all_in_unit(shown_um, reference)
    if unit:
        raise OutOfRange(
            "spots", say("thickness.readings_look_like_unit", middle=shown(middle), unit=unit,
                         reference_um=reference))
    if middle > 8 * reference and 0.25 <= middle / (25.4 * reference) <= 4:
        raise OutOfRange(
            "limits", say("thickness.limits_look_like_mil", reference=shown(reference), middle_um=middle))


def _shared_terms(request: FilmRequest, shown_um: float) -> list[Term]:
    gauge, correction = request.gauge, request.correction
    terms = [Term("gauge tolerance", gauge_u_um(shown_um, gauge.tol_pct, gauge.tol_um), shared=True),
             Term("display step", resolution_u_um(gauge.resolution_um), shared=True),
             Term(correction.kind.replace("_", " "), correction.u_um, correction.df or float("inf"), shared=True)]
    terms += [Term(t.name, t.u_um, t.df or float("inf"), shared=True) for t in request.uncertainty if t.shared]
    return [term for term in terms if term.u]


def _governing(request: FilmRequest) -> tuple[str, str]:
    if request.governing is not None:
        return request.governing, "The request names it as the rule of the contract."
    if "every_reading" in request.rules:
        return "every_reading", ("No rule is named as the contract's. On a lining that holds back a chemical one thin "
                                 "place is enough to lose the steel, so every reading counts until the contract says "
                                 "else.")
    return request.rules[0], "No rule is named as the contract's; the first of the request leads."


def _rule_answer(one: Judged) -> RuleAnswer:
    return RuleAnswer(verdict=one.verdict, because=one.because, next_move=one.next_move, simple=one.simple,
                      guarded=one.guarded, p_conforms=one.p_conforms, findings=list(one.findings), notes=list(one.notes),
                      title=one.title, edition=one.edition, source=one.source, read=one.read)


def _again(spots: list[Spot], notes: list[sanity.Note], leading: Judged, film: Film) -> dict[str, list[str]]:
    """Which spots to measure again, in the order given, and why."""
    reasons: dict[str, list[str]] = {spot.id: [] for spot in spots}
    for spot in spots:
        if not spot.readings_um:
            reasons[spot.id].append("It holds no reading.")
        elif film.min_um is not None and settled(min(spot.readings_um)) < settled(film.min_um):
            reasons[spot.id].append("A reading is below the minimum.")
    for note in notes:
        if note.again:
            for spot_id in note.spots:
                reasons[spot_id].append(note.because)
    for spot_id in leading.spots_failing:
        if not reasons[spot_id]:
            reasons[spot_id].append(f"It fails {leading.rule}.")
    return {spot_id: why for spot_id, why in reasons.items() if why}


def _search(request: FilmRequest, judged: dict[str, Judged]) -> list[SearchAnswer]:
    """The next single spots about each nonconforming one whose place is known, where a rule searches so."""
    steps = {spot_id: step for name, one in judged.items() if (step := rule(name).search_mm) for spot_id in one.spots_failing}
    return [SearchAnswer(about=spot.id, x=x, y=y, direction_deg=angle)
            for spot in request.spots if spot.id in steps and spot.x is not None and spot.y is not None
            for x, y, angle in search_spots(spot.x, spot.y, steps[spot.id])]


def _worth(level: TwoLevel, n: int, spots: int) -> float:
    if spots < 2 or not level.within_df:
        return float(n)
    alike = proof.alike_within(level.between_ss / level.between_df, level.within_ss / level.within_df, n / spots)
    return proof.readings_worth(n, n / spots, alike)


def _more(values: list[float], thin: int | None, min_um: float | None) -> dict[str, int | None]:
    if min_um is None:
        return {}
    n = len(values)
    out: dict[str, int | None] = {}
    for share in (0.10, 0.05, 0.01):
        out[f"to_show_thin_share_below_{share:g}"] = max(0, proof.readings_to_show(share) - n) if thin == 0 else None
    total = proof.readings_for_tolerance(values, min_um)
    out["to_lift_tolerance_limit_to_minimum"] = None if total is None else max(0, total - n)
    return out


def _proves(n: int, worth: float, thin: int | None, upper: float | None, tolerance: float | None, min_um: float | None,
            no_spread: bool) -> list[str]:
    said = []
    if thin is not None and upper is not None and min_um is not None:
        found = "none" if thin == 0 else str(thin)
        said.append(f"Of {n} readings {found} lie below {shown(min_um)} µm. If they were taken at random places, up to "
                    f"{100 * upper:.1f} % of the film may be thinner than that (95 % confidence).")
    if tolerance is not None:
        said.append(f"At 95 % confidence 95 % of the film is at least {tolerance:.0f} µm, if film varies as a normal "
                    "curve.")
    if no_spread:
        said.append("One reading shows no spread; nothing can be said about other places.")
    if worth < 0.9 * n:
        said.append(f"Readings within a spot are alike: these {n} are worth about {worth:.1f} at different places. "
                    "Both "
                    "figures above are too hopeful by that.")
    said.append("A thin place or pinhole that lies wholly between the readings stays unseen at any number; the holiday "
                "test looks for those.")
    return said


def _parent_proves(spots: list[Spot]) -> list[str]:
    if any(spot.where != "parent" for spot in spots if spot.readings_um):
        return []
    return ["Nothing about the repair: every reading lies on the parent lining beside it."]


def _parent_cautions(spots: list[Spot], min_um: float | None) -> list[str]:
    """What a verdict over all readings hides when repair and parent lining are not alike."""
    repair = [v for spot in spots if spot.where != "parent" for v in spot.readings_um]
    parent = [v for spot in spots if spot.where == "parent" for v in spot.readings_um]
    if not repair:
        return ["Every reading lies on the parent lining; nobody read the repair. Read it before this verdict is used for "
                "it."]
    if parent and min_um is not None and settled(min(parent)) < settled(min_um) <= settled(min(repair)):
        return [f"Only the parent lining reads below {shown(min_um)} µm, down to {shown(min(parent))} µm; the repair does "
                "not. The rule 'small_repair' judges the repair by itself; somebody must decide on the old lining."]
    return []


def _read_over(request: FilmRequest) -> list[str]:
    """Spots that were read again and again: more superseded readings than count."""
    over = [(len(s.superseded_um), len(s.readings_um), s.id) for s in request.spots
            if len(s.superseded_um) > len(s.readings_um)]
    if not over:
        return []
    replaced, kept, spot = max(over)
    others = f" So it is at {len(over) - 1} more." if len(over) > 1 else ""
    return [f"At spot '{spot}' {replaced} readings were replaced by {kept}.{others} A place that is read until it fits "
            "proves nothing: see the reasons, and read a new set at places chosen before reading."]


def _spot_answer(spot: Spot) -> SpotAnswer:
    values = spot.readings_um
    return SpotAnswer(id=spot.id, where=spot.where, n=len(values), mean_um=mean(values) if values else None,
                      min_um=min(values, default=None), max_um=max(values, default=None), sd_um=sd(values),
                      readings_um=list(values))


def _strata(spots: list[Spot]) -> dict[str, StrataAnswer]:
    out = {}
    for where in ("repair", "overlap", "parent"):
        values = [value for spot in spots if spot.where == where for value in spot.readings_um]
        if values:
            out[where] = StrataAnswer(n=len(values), mean_um=mean(values), min_um=min(values), sd_um=sd(values))
    return out


def _cautions(request: FilmRequest) -> list[str]:
    said = []
    correction = request.correction
    if correction.kind == "none":
        said.append("No correction for the steel's profile was made. That is right only when the gauge was adjusted "
                    "on the "
                    "blasted steel; otherwise it shows more film than lies over the peaks.")
    elif correction.value_um == 0:
        said.append(f"The correction '{correction.kind}' is named and is 0 µm.")
    if correction.kind == "base_metal_reading" and "iso_19840" in request.rules:
        said.append("ISO 19840 has its own profile correction; a base-metal reading stands in for it here. Never use "
                    "both.")
    if correction.kind == "profile" and correction.value_um not in rule("iso_19840").profile_um:
        said.append(f"A profile correction of {shown(correction.value_um)} µm is none of 10, 25, 40 µm (ISO 19840).")
    if correction.kind != "none" and correction.u_um == 0:
        said.append("The uncertainty of the correction was not stated; it is shared by all readings and does not "
                    "average down.")
    return said


def _finite(df: float) -> float | None:
    return None if df == float("inf") else df


FORMS = (
    Form("map", marked_by="map", request=MapRequest, answer=MapAnswer, work=draw_map),
    Form("plan", marked_by="thin_spot_d_mm", request=ThinSpotRequest, answer=ThinSpotAnswer, work=plan_readings),
    Form("counts", marked_by="counts_for_m2", request=CountsRequest, answer=CountsAnswer, work=count_readings),
    Form("risk", marked_by="risk", request=RiskRequest, answer=RiskAnswer, work=weigh_risk),
    Form("minimum", marked_by="block_minima_um", request=ExtremeRequest, answer=ExtremeAnswer, work=estimate_minimum),
    Form("table", marked_by="table", request=TableRequest, answer=TableAnswer, work=preview_table),
    Form("film", request=FilmRequest, answer=FilmAnswer, work=judge_film),
)
