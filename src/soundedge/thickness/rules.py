"""Does the film meet each rule, and what does the rule look at?

Every rule of the rule book is turned into comparisons of one figure with one limit: the lowest reading, the
lowest spot mean, the area mean, the reading that decides a "90 % of readings". Each comparison knows its
uncertainty, so the simple verdict (the rule as written) and the guarded one stand side by side.

>>> film = Film([Spot("1", (1020.0, 1010.0, 1035.0)), Spot("2", (1100.0, 980.0, 1090.0))], min_um=1000.0, max_um=1800.0)
>>> judged = judge_rule("every_reading", film)
>>> judged.simple, judge_rule("sspc_pa_2", film).simple
('does_not_conform', 'conforms')
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from ..basis.finding import SIMPLE, Decision, Finding, Verdict, chance, judge, worst
from ..basis.quantity import shown
from ..basis.sources import cite
from .joint import Counted, Figure, all_together, alone, each_alone
from .moments import mean, sd, two_level
from .rule_book import Bound, Cells, Where, rule, title


@dataclass(frozen=True)
class Spot:
    """Corrected readings taken close together, in µm; empty when the spot was planned and not read."""

    id: str
    readings_um: tuple[float, ...]
    where: Where = "repair"
    area: str = "1"
    superseded: int = 0


@dataclass(frozen=True)
class Film:
    """All a rule may look at. ``out_of_gauge`` names the spots with a reading the gauge is not made for.
    ``u_reading_um`` and ``u_shared_um`` give the standard uncertainty of one reading, and of the part all
    readings share, at a film in µm; ``own_df`` and ``shared_df`` the degrees of freedom of what a reading has of its own and
    of the shared part. With ``u_known`` False nobody stated any of it: no probability is given."""

    spots: Sequence[Spot]
    min_um: float | None = None
    max_um: float | None = None
    nominal_um: float | None = None
    level: int = 3
    area_m2: float | None = None
    share_strict: bool | None = None
    out_of_gauge: frozenset[str] = frozenset()
    u_reading_um: Callable[[float], float] = lambda film_um: 0.0
    u_shared_um: Callable[[float], float] = lambda film_um: 0.0
    own_df: float = math.inf
    shared_df: float = math.inf
    u_known: bool = True

    def figure(self, value_um: float, low_um: float | None, high_um: float | None, own_u: float | None = None,
               own_df: float | None = None) -> Figure:
        """A film with its limits and what is known of it; a single reading when no uncertainty of its own is given."""
        shared = self.u_shared_um(value_um)
        if own_u is None:
            own_u, own_df = math.sqrt(max(0.0, self.u_reading_um(value_um) ** 2 - shared**2)), self.own_df
            own_u = 0.0 if own_u < 1e-6 * shared else own_u
        return Figure(settled(value_um), own_u, own_df or math.inf, shared, -math.inf if low_um is None else settled(low_um),
                      math.inf if high_um is None else settled(high_um))

    def read(self, where: Where | None = None) -> list[Spot]:
        """The spots that hold readings."""
        return [spot for spot in self.spots if spot.readings_um and where in (None, spot.where)]

    def limit(self, of: str) -> float | None:
        """The stated film by its short name: min, nominal or max."""
        return {"min": self.min_um, "nominal": self.nominal_um, "max": self.max_um}[of]

    def readings(self) -> list[float]:
        """All corrected readings, in the order given."""
        return [value for spot in self.spots for value in spot.readings_um]


@dataclass(frozen=True)
class Judged:
    """One rule's answer. ``verdict`` follows the decision rule; ``simple`` and ``guarded`` stand beside it.
    ``p_each_min`` is the lowest probability that one place meets the rule by itself, ``p_all`` that all do together, and
    ``p_conforms`` the one of them that decides; None when nothing was compared or nobody stated an uncertainty.
    ``unread`` are reasons why the rule cannot be answered yet."""

    rule: str
    verdict: Verdict
    simple: Verdict
    guarded: Verdict
    p_conforms: float | None
    p_each_min: float | None
    p_all: float | None
    because: str
    next_move: str
    findings: tuple[Finding, ...]
    notes: tuple[str, ...]
    title: str
    edition: str
    source: str
    read: str
    spots_failing: tuple[str, ...] = field(default=())


class _Sheet:
    """Collects the comparisons of one rule."""

    def __init__(self, name: str, film: Film, decision: Decision) -> None:
        self.rule, self.film, self.decision = name, film, decision
        self.held = rule(name)
        self.source = cite(self.held.source)
        self.pairs: list[tuple[Finding, Finding]] = []
        self.missing: list[tuple[str, str]] = []
        self.unstated: list[tuple[str, str]] = []
        self.notes: list[str] = []
        self.failing: list[str] = []
        self.figures: list[Figure] = []
        self.counted: list[Counted] = []

    def compare(self, what: str, name: str, figure: Figure, move: str) -> None:
        """Add the comparison of one figure with its one limit."""
        limit, sense = (figure.low, "at_least") if math.isfinite(figure.low) else (figure.high, "at_most")
        known = self.film.u_known or figure.own_u > 0
        given: dict[str, Any] = {
            "limit": limit, "sense": sense, "unit": "um", "next_move": move, "source": self.source, "name": name,
            "u": math.hypot(figure.own_u, figure.shared_u) if known else None,
            "p_conforms": alone(figure, self.film.shared_df) if known else None}
        guarded = Decision("guarded", self.decision.probability)
        self.pairs.append((judge(what, figure.value, decision=SIMPLE, **given),
                           judge(what, figure.value, decision=guarded, **given)))

    def done(self) -> Judged:
        """Everything put together."""
        simple = worst([plain.verdict for plain, _ in self.pairs] + ["not_measured"] * bool(self.missing)
                       + ["indeterminate"] * bool(self.unstated))
        each = whole = p = None
        guarded: Verdict = simple
        figures = [*self.figures, *(f for one in self.counted for f in one.figures)]
        if self.pairs and (self.film.u_known or any(figure.own_u for figure in figures)):
            whole = all_together(self.figures, self.counted, self.film.shared_df)
            singly = [f.p_conforms for f, _ in self.pairs if f.p_conforms is not None]
            each = min([each_alone(figures, self.film.shared_df), *singly])
            each = max(each, whole)  # the same integral, so what is left is its last digit
            p = whole if self.decision.scope == "all" else each
            asked = self.decision.probability
            if 1.0 - p >= asked:
                guarded = "does_not_conform"
            elif self.missing:
                guarded = "not_measured"
            elif self.unstated or p < asked:
                guarded = "indeterminate"
            else:
                guarded = "conforms"
        elif self.pairs and not self.missing:
            guarded = "indeterminate"
        is_guarded = self.decision.rule == "guarded"
        verdict = guarded if is_guarded else simple
        findings = tuple(pair[is_guarded] for pair in self.pairs)
        because, move = self._reason(verdict, findings)
        because += self._chances(each, whole)
        return Judged(
            self.rule, verdict, simple, guarded, p, each, whole, because, move, findings, tuple(self.notes), title(self.rule),
            self.held.edition, self.source, self.held.read, tuple(dict.fromkeys(self.failing)),
        )

    def _reason(self, verdict: Verdict, findings: tuple[Finding, ...]) -> tuple[str, str]:
        if verdict == "not_measured" and self.missing:
            return self.missing[0]
        picked = [f for f in findings if f.verdict == verdict]
        if verdict == "indeterminate" and self.unstated:
            return self.unstated[0]
        if verdict == "conforms":
            tight = min(findings, key=lambda f: abs(f.value - f.limit))  # type: ignore[operator]
            return f"All {len(findings)} comparisons of this rule hold; the closest: {tight.because}", "Go on."
        if picked:
            return " ".join(f.because for f in picked), picked[0].next_move
        if verdict == "does_not_conform":
            return "No place fails by itself, but that all of them conform is ruled out at the probability asked for.", _NARROW
        return "Each comparison holds by itself, but not all of them together at the probability asked for.", _NARROW

    def _chances(self, each: float | None, whole: float | None) -> str:
        """Each place alone and all together, and which of the two decides."""
        if each is None or whole is None:
            return ""
        decides = [", which decides" * (self.decision.rule == "guarded" and self.decision.scope == scope)
                   for scope in ("each", "all")]
        return (f" Probability of conforming: the least sure place alone {chance(each)}{decides[0]}; "
                f"all together {chance(whole)}{decides[1]}.")


def settled(value_um: float) -> float:
    """A film rounded to a billionth of a micrometre, so that 62.0 − 12.5 or 80 % of 63.5 meet their limit
    exactly when they do on paper."""
    return round(value_um, 9)


def judge_rule(name: str, film: Film, decision: Decision = SIMPLE) -> Judged:
    """Judge a film by one rule.

    Parameters
    ----------
    name : str
        A rule of the rule book.
    film : Film
        At least one spot with a reading.
    decision : Decision
        Which of the two verdicts leads.

    Returns
    -------
    Judged
    """
    sheet = _Sheet(name, film, decision)
    held = sheet.held
    _enough(sheet, film)
    _stated(sheet, film)
    cells = held.cells_at(film.level)
    if held.level and cells is not None and cells.read == "memory":
        sheet.notes.append(f"The cells of restriction level {film.level} stand from memory; check the contract's copy.")
    if film.max_um is None and held.without_max:
        sheet.notes.append(held.without_max)
    if cells is not None:
        _means(sheet, film, cells)
    if held.mean is not None:
        _mean_of_all(sheet, film, held.mean)
    judged = [spot for spot in film.read() if spot.where in held.judged]
    if judged:
        for bound in (*held.below, *held.above):
            _beyond(sheet, judged, bound)
        _readings(sheet, judged)
    _set_aside(sheet, film)
    if held.note:
        sheet.notes.append(held.note)
    beyond = [spot.id for spot in judged if spot.id in film.out_of_gauge]
    if beyond:
        sheet.unstated.insert(0, (
            f"{len(beyond)} of {len(judged)} spots (first '{beyond[0]}') hold a reading outside the gauge's own range; that "
            "is no measurement.", "Read them with a probe made for that film."))
    return sheet.done()


_NARROW = "Read more places, or use a gauge with a tighter tolerance."
_BUILD_UP = "Read the place again beside the old one; if it stays thin, build it up or repair it."
_DRESS = "Read the place again; if it stays thick, dress it down within the procedure."
_PLACE = {"repair": "on the repair itself", "overlap": "on the overlap ring", "parent": "on the parent ring outside it"}
_FILM = {"min": "the minimum", "nominal": "nominal", "max": "the maximum"}
_WHOLE = {"min": "the minimum film", "nominal": "the nominal film", "max": "the maximum film"}


def _enough(sheet: _Sheet, film: Film) -> None:
    """Whether everything was read that the rule asks for: spots, readings to a spot, spots and readings to an area."""
    held = sheet.held
    read, n = film.read(), len(film.readings())
    for spot in film.spots:
        if not spot.readings_um:
            sheet.missing.append((f"Spot '{spot.id}' holds no reading; not measured is not zero.", "Read it."))
    for spot in read:
        short = held.readings_per_spot - len(spot.readings_um)
        if short > 0:
            circle = f" within {held.spot_circle_mm:g} mm" * bool(held.spot_circle_mm)
            sheet.missing.append((
                f"Spot '{spot.id}' has {len(spot.readings_um)} reading{'s' * (len(spot.readings_um) != 1)}; a spot of "
                f"{held.called} is the mean of at least {held.readings_per_spot}{circle}.", f"Take {short} more there."))
    if held.counts_m2:
        counts = held.counts(film.area_m2 if film.area_m2 is not None else 1.0)
        if n < counts.readings:
            where = f"{shown(film.area_m2)} m²" if film.area_m2 is not None else "up to 1 m²"
            sheet.missing.append((f"{n} readings are taken; {held.called} asks for {counts.readings} on {where}.",
                                  f"Take {counts.readings - n} more."))
        repeated = sum(spot.superseded for spot in film.spots)
        if repeated:
            sheet.notes.append(f"{repeated} readings were repeated; {held.called} allows {counts.repeats} here.")
        if repeated > counts.repeats:
            sheet.missing.append((f"{repeated} readings were repeated and {held.called} allows {counts.repeats}.",
                                  "Take a whole new set, at places chosen before reading."))
    if held.areas_m2 and film.area_m2 is not None and film.area_m2 >= 1:
        areas = held.areas(film.area_m2)
        spots = areas * held.spots_per_area
        if len(read) < spots:
            sheet.missing.append((
                f"{len(read)} spots are read; {held.called} asks for {spots} spots in {areas} areas on "
                f"{shown(film.area_m2)} m².", f"Read {spots - len(read)} more spots."))
    for where, zone in held.zones.items():
        n = sum(len(spot.readings_um) for spot in film.read(where))
        if n < zone.least:
            sheet.missing.append((f"{n} readings are taken {_PLACE[where]}; {held.called} asks for {zone.least}.",
                                  f"Take {zone.least - n} more {_PLACE[where]}."))
        elif n < zone.better:
            sheet.notes.append(f"{n} readings are on the {where}; {zone.better} or more are better.")


def _stated(sheet: _Sheet, film: Film) -> None:
    """Whether the films the rule refers to were stated."""
    for needed in sheet.held.needs():
        if film.limit(needed) is None:
            why = "No minimum film is stated, so no reading can be held against one." if needed == "min" else \
                "This rule stands on the nominal film, and none is stated."
            sheet.unstated.append((sheet.held.unstated or why, f"State {needed}_um as the contract has it."))


def _means(sheet: _Sheet, film: Film, cells: Cells) -> None:
    """Lowest and highest spot mean, lowest and highest area mean, each against its share of minimum and maximum."""
    spots = film.read()
    means = [(mean(spot.readings_um), spot) for spot in spots]
    whole = two_level([spot.readings_um for spot in spots])
    within = whole.within_sd or 0.0

    def limits(low_pct: float | None, high_pct: float | None) -> tuple[float | None, float | None]:
        return (None if low_pct is None or film.min_um is None else film.min_um * low_pct / 100,
                None if high_pct is None or film.max_um is None else film.max_um * high_pct / 100)

    def of_spot(value: float, spot: Spot, low: float | None, high: float | None) -> Figure:
        return film.figure(value, low, high, within / math.sqrt(len(spot.readings_um)), whole.within_df)

    floor, ceiling = limits(cells.spot_min_pct, cells.spot_max_pct)
    if floor is not None or ceiling is not None:
        sheet.figures += [of_spot(value, spot, floor, ceiling) for value, spot in means]
    if floor is not None:
        low, spot = min(means, key=lambda pair: pair[0])
        sheet.failing += [s.id for m, s in means if settled(m) < settled(floor)]
        sheet.compare(
            "lowest_spot", f"The lowest spot mean ('{spot.id}', limit {cells.spot_min_pct:g} % of the minimum)",
            of_spot(low, spot, floor, None),
            "Measure single spots at 1.5 m in each direction until two in a row conform; what lies between is the "
            "nonconforming area.")
    if ceiling is not None:
        high, spot = max(means, key=lambda pair: pair[0])
        sheet.failing += [s.id for m, s in means if settled(m) > settled(ceiling)]
        sheet.compare(
            "highest_spot", f"The highest spot mean ('{spot.id}', limit {cells.spot_max_pct:g} % of the maximum)",
            of_spot(high, spot, None, ceiling), _DRESS)
    areas: dict[str, list[Spot]] = {}
    for spot in spots:
        areas.setdefault(spot.area, []).append(spot)
    figures = []
    for name, members in areas.items():
        level = two_level([spot.readings_um for spot in members])
        known = level.u_mean is not None
        figures.append((level.mean, name, level.u_mean if known else within, level.df if known else whole.within_df))

    def label(name: str) -> str:
        return f" of area '{name}'" if len(areas) > 1 else ""

    floor, ceiling = limits(cells.area_min_pct, cells.area_max_pct)
    if floor is not None or ceiling is not None:
        sheet.figures += [film.figure(value, floor, ceiling, u, df) for value, _, u, df in figures]
    if floor is not None:
        low, name, u, df = min(figures)
        sheet.compare("lowest_area", f"The mean{label(name)}", film.figure(low, floor, None, u, df),
                      "Build the area up, or divide it and judge each part.")
    if ceiling is not None:
        high, name, u, df = max(figures)
        sheet.compare("highest_area", f"The mean{label(name)}", film.figure(high, None, ceiling, u, df), _DRESS)
    if sheet.held.small and any(len(members) < sheet.held.spots_per_area for members in areas.values()):
        sheet.notes.append(sheet.held.small)


def _mean_of_all(sheet: _Sheet, film: Film, bound: Bound) -> None:
    stated = film.limit(bound.of)
    if stated is None:
        return
    average = mean(film.readings())
    level = two_level([spot.readings_um for spot in film.read()])
    figure = film.figure(average, stated * bound.pct / 100, None, level.u_mean or 0.0, level.df)
    sheet.figures.append(figure)
    sheet.compare("mean", "The mean of the readings", figure,
                  "Build the film up; a mean 1.5 to 2 standard deviations above nominal usually passes.")


def _beyond(sheet: _Sheet, spots: Sequence[Spot], bound: Bound) -> None:
    """Readings beyond one film. 'Fewer than 20 % below nominal' is: this many may be, so the next lowest must not be."""
    film = sheet.film
    stated = film.limit(bound.of)
    if stated is None:
        return
    limit = stated * bound.pct / 100
    over = bound.of == "max"
    sign = 1 if over else -1
    ordered = sorted(((value, spot.id) for spot in spots for value in spot.readings_um), key=lambda pair: pair[0],
                     reverse=over)
    n = len(ordered)
    beyond = [spot.id for spot in spots for value in spot.readings_um if sign * (settled(value) - settled(limit)) > 0]
    at = "" if bound.pct == 100 else f"{shown(bound.pct)} % of "
    side, end = ("above", "highest") if over else ("below", "lowest")
    if bound.none_may:
        value, spot = ordered[0]
        sheet.failing += beyond
        name = f"The {end} reading (spot '{spot}'{f', limit {at}{_FILM[bound.of]}' if at else ''})"
        if len(beyond) > 1 and not at and not over:
            name = f"{len(beyond)} of {n} readings are below {_FILM[bound.of]}; the lowest (spot '{spot}')"
        key = f"{end}_reading"
    else:
        or_equal = film.share_strict is False
        allowed = bound.may(n, or_equal=or_equal)
        value, spot = ordered[min(allowed, n - 1)]
        if bound.share_pct is None:
            may = f"at most {allowed} may"
        else:
            may = (f"{'fewer than' if bound.fewer_than and not or_equal else 'at most'} {shown(bound.share_pct)} % may, that "
                   f"is {allowed}")
        name = (f"{len(beyond)} of {n} readings lie {side} {at}{_WHOLE[bound.of]} and {may}; the reading that decides (spot "
                f"'{spot}')")
        key = f"share_{side}_{f'{bound.pct:g}_pct_of_' if at else ''}{bound.of}"
    figure = film.figure(value, None, limit) if over else film.figure(value, limit, None)
    sheet.compare(key, name, figure, _DRESS if over else _BUILD_UP)


def _readings(sheet: _Sheet, spots: Sequence[Spot]) -> None:
    """Every reading with the limits none may be beyond, and how many may lie beyond the others."""
    film, held = sheet.film, sheet.held

    def limits(bounds: Sequence[Bound], none_may: bool) -> list[tuple[float, Bound]]:
        return [(stated * bound.pct / 100, bound) for bound in bounds
                if bound.none_may is none_may and (stated := film.limit(bound.of)) is not None]

    low = max((limit for limit, _ in limits(held.below, True)), default=None)
    high = min((limit for limit, _ in limits(held.above, True)), default=None)
    values = [value for spot in spots for value in spot.readings_um]
    figures = tuple(film.figure(value, low, high) for value in values)
    counts = [(limit, bound, bounds is held.below) for bounds in (held.below, held.above)
              for limit, bound in limits(bounds, False)]
    for limit, bound, below in counts:
        allowed = bound.may(len(values), or_equal=film.share_strict is False)
        sheet.counted.append(Counted(figures, settled(limit), allowed, below))
        figures = tuple(replace(figure, low=-math.inf, high=math.inf) for figure in figures)  # their limits count once
    if not counts and (low is not None or high is not None):
        sheet.figures += figures


def _set_aside(sheet: _Sheet, film: Film) -> None:
    """What the readings say that the rule asks for and does not judge: those of the parent ring."""
    if "parent" in sheet.held.judged:
        return
    parent = [value for spot in film.read("parent") for value in spot.readings_um]
    if parent and film.min_um is not None and settled(min(parent)) < settled(film.min_um):
        sheet.notes.append(
            f"The parent ring reads down to {shown(settled(min(parent)))} µm, below the minimum: the old lining is thin "
            "there too; that is no fault of the repair, but somebody must decide on it.")
    spread = sd(parent)
    if spread is not None:
        sheet.notes.append(f"Parent ring: mean {mean(parent):.6g} µm, standard deviation {spread:.3g} µm.")
