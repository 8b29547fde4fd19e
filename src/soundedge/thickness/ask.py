"""What do the film readings say under the rule the contract names, under the others, and what not?

>>> answer = judge_film(FilmRequest.model_validate({"spots": [{"id": "1", "readings_um": [1100, 1150, 940]}],
...     "limits": {"min_um": 1000, "max_um": 1800, "nominal_um": 1050}}))
>>> answer.governing, answer.verdict, answer.by_rule["sspc_pa_2"].verdict
('every_reading', 'does_not_conform', 'conforms')
"""

from __future__ import annotations

import math

from ..basis.errors import Contradiction, NotEnough, OutOfRange
from ..basis.quantity import shown
from ..basis.question import Form
from ..basis.sentences import say
from . import proof, sanity
from .answers import BudgetLine, FilmAnswer, NoteAnswer, RuleAnswer, SearchAnswer, SpotAnswer, StrataAnswer
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
from .chances import normal_quantile
from .given import READINGS_MAX, FilmRequest
from .moments import TwoLevel, mean, sd, two_level
from .plan import search_spots
from .rule_book import rule
from .rules import Film, Judged, Spot, judge_rule, settled
from .uncertainty import Term, budget, combined, gauge_u_um, resolution_u_um


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
        raise OutOfRange("spots", say("thickness.too_many_readings", n=taken, most=READINGS_MAX))
    reference = limits.min_um or limits.nominal_um or limits.max_um or 0.0
    _fence(shown_um, reference)
    minus = request.correction.value_um
    if mean(shown_um) < minus:
        raise Contradiction(
            "correction.value_um",
            say("thickness.correction_above_mean", correction_um=minus, mean_um=mean(shown_um)))
    gain = _gain(request)
    spots = [Spot(s.id, tuple(settled(v * gain - minus) for v in s.readings_um), s.where, s.area, len(s.superseded_um))
             for s in request.spots]
    groups = [spot.readings_um for spot in spots if spot.readings_um]
    values = [value for group in groups for value in group]
    n, average, spread = len(values), mean(values), sd(values)
    level = two_level(groups)

    def u_shared(film_um: float) -> float:
        return combined(_shared_terms(request, film_um + minus))

    own = [Term(t.name, t.u_um, t.df or float("inf")) for t in request.uncertainty if not t.shared]
    own.append(Term("repeatability", gauge.repeatability_um))

    def u_reading(film_um: float) -> float:
        return combined([*_shared_terms(request, film_um + minus), *own])

    film = Film(spots, limits.min_um, limits.max_um, limits.nominal_um, request.restriction_level, request.area_m2,
                request.share_strict, _out_of_gauge(request), u_reading, u_shared, budget(own).df,
                budget(_shared_terms(request, reference + minus)).df, u_known=u_reading(reference) > 0)
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
        gauge_max_um=gauge.range_max_um, taken_off_um=minus, gain=gain,
        edge_mm={s.id: s.edge_mm for s in request.spots if s.edge_mm is not None},
        place={s.id: (s.x, s.y) for s in request.spots if s.x is not None and s.y is not None},
        agree_pct=request.agree_pct)
    again = _again(spots, notes, judged[governing], film)
    tolerance = proof.lower_tolerance_of_spots(level, n, u_shared(average))
    worth = _worth(level, n, len(groups))
    gaps = [settled(v) - settled(limits.min_um) for v in values] if limits.min_um is not None else []
    u_gaps = u_shared(limits.min_um) if limits.min_um is not None else 0.0
    upper = proof.thin_share_upper_of_spots(gaps, worth, u_gaps) if gaps else None
    thin = sum(gap < 0 for gap in gaps) if gaps else None
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
        readings_worth=worth, more_readings=_more(values, worth, gaps, u_gaps),
        proves=_proves(n, worth, thin, upper, tolerance, limits.min_um, len(groups)) + _parent_proves(spots),
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
        raise OutOfRange("limits", say("thickness.limits_look_like_mil", reference=shown(reference), middle_um=middle))


def _shared_terms(request: FilmRequest, shown_um: float) -> list[Term]:
    gauge, correction, check = request.gauge, request.correction, request.gauge.check
    terms = [Term("gauge tolerance", gauge_u_um(shown_um, gauge.tol_pct, gauge.tol_um), shared=True),
             Term("display step", resolution_u_um(gauge.resolution_um), shared=True),
             Term(correction.kind.replace("_", " "), correction.u_um, correction.df or float("inf"), shared=True)]
    if check is not None:  # both grow with the film, as the gauge's tolerance does
        error = check.reading_um - check.reference_um if gauge.known_error == "add" else 0.0
        terms += [Term(name, abs(u) * shown_um / check.reference_um, shared=True)
                  for name, u in (("known error of the gauge", error), ("shim", check.u_reference_um))]
    terms += [Term(t.name, t.u_um, t.df or float("inf"), shared=True) for t in request.uncertainty if t.shared]
    return [term for term in terms if term.u]


def _gain(request: FilmRequest) -> float:
    """What a reading is multiplied by so that the gauge would have shown the shim right; 1 unless that was asked for."""
    check = request.gauge.check
    return check.reference_um / check.reading_um if check and request.gauge.known_error == "correct" else 1.0


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
                      guarded=one.guarded, p_conforms=one.p_conforms, p_each_min=one.p_each_min, p_all=one.p_all,
                      findings=list(one.findings), notes=list(one.notes),
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


def _more(values: list[float], worth: float, gaps: list[float], u_shared: float) -> dict[str, int | None]:
    """How many more readings, each at a place of its own. None: no number would do."""
    if not gaps:
        return {}
    out: dict[str, int | None] = {}
    for share in (0.10, 0.05, 0.01):
        needed = proof.worth_to_show(gaps, share, u_shared) if min(gaps) >= 0 else None
        out[f"to_show_thin_share_below_{share:g}"] = None if needed is None else max(0, math.ceil(needed - worth))
    # what all readings share stays whatever their number, so the mean must clear the minimum by that first
    needed = proof.readings_for_tolerance(values, values[0] - gaps[0] + normal_quantile(0.95) * u_shared)
    out["to_lift_tolerance_limit_to_minimum"] = None if needed is None else max(0, math.ceil(needed - worth))
    return out


def _proves(n: int, worth: float, thin: int | None, upper: float | None, tolerance: float | None, min_um: float | None,
            spots: int) -> list[str]:
    said = []
    if thin is not None and upper is not None and min_um is not None:
        found = "none" if thin == 0 else str(thin)
        said.append(f"Of {n} readings {found} lie below {shown(min_um)} µm. If they were taken at random places, up to "
                    f"{100 * upper:.1f} % of the film may be thinner than that (95 % confidence).")
    if tolerance is not None and tolerance > 0:
        said.append(f"At 95 % confidence 95 % of the film is at least {tolerance:.0f} µm, if film varies as a normal "
                    "curve.")
    if n == 1:
        said.append("One reading shows no spread; nothing can be said about other places.")
    elif spots == 1:
        said.append("All readings lie in one spot: these figures speak for that spot alone.")
    if worth < 0.9 * n:
        said.append(f"Readings within a spot are alike: these {n} are worth about {worth:.1f} at different places. The "
                    "figures reckon with that, and with the error that all readings share.")
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
    check = request.gauge.check
    if check is not None and check.reading_um != check.reference_um:
        off = 100 * (check.reading_um / check.reference_um - 1)
        done = ("added to the uncertainty all readings share" if request.gauge.known_error == "add"
                else "taken off every reading")
        said.append(f"On the shim of {shown(check.reference_um)} µm the gauge showed {shown(check.reading_um)} µm, "
                    f"{off:+.2g} %. That is {done}; adjusting the gauge on the shim is better.")
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
