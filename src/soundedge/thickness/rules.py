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
from dataclasses import dataclass, field
from typing import Any

from ..basis.finding import SIMPLE, Decision, Finding, Verdict, judge, worst
from ..basis.quantity import shown
from ..basis.sources import cite
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
    readings share, at a film in µm."""

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
    ``p_conforms`` is a lower bound of the chance that the rule is truly met; None when nothing was compared.
    ``unread`` are reasons why the rule cannot be answered yet."""

    rule: str
    verdict: Verdict
    simple: Verdict
    guarded: Verdict
    p_conforms: float | None
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

    def compare(self, what: str, name: str, value: float, limit: float, sense: str, u: float, move: str,
                strict: bool = False) -> bool:
        """Add one comparison; says whether the plain value meets the limit."""
        given: dict[str, Any] = {"limit": settled(limit), "sense": sense, "u": u, "unit": "um", "next_move": move,
                                 "source": self.source, "name": name, "strict": strict}
        value = settled(value)
        guarded = Decision("guarded", self.decision.probability)
        plain = judge(what, value, decision=SIMPLE, **given)
        self.pairs.append((plain, judge(what, value, decision=guarded, **given)))
        return plain.as_written == "conforms"

    def done(self) -> Judged:
        """Everything put together."""
        simple = worst([plain.verdict for plain, _ in self.pairs] + ["not_measured"] * bool(self.missing)
                       + ["indeterminate"] * bool(self.unstated))
        p = None
        guarded: Verdict = simple
        if self.pairs:
            # all readings share the gauge's error, so the lower sides stand or fall together, and so do the upper
            low = min((f.p_conforms or 0.0 for f, _ in self.pairs if f.sense == "at_least"), default=1.0)
            high = min((f.p_conforms or 0.0 for f, _ in self.pairs if f.sense == "at_most"), default=1.0)
            p = max(0.0, low + high - 1.0)
            asked = self.decision.probability
            if 1.0 - min(low, high) >= asked:
                guarded = "does_not_conform"
            elif self.missing:
                guarded = "not_measured"
            elif self.unstated or p < asked:
                guarded = "indeterminate"
            else:
                guarded = "conforms"
        is_guarded = self.decision.rule == "guarded"
        verdict = guarded if is_guarded else simple
        findings = tuple(pair[is_guarded] for pair in self.pairs)
        because, move = self._reason(verdict, findings)
        return Judged(
            self.rule, verdict, simple, guarded, p, because, move, findings, tuple(self.notes), title(self.rule),
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
        return "Each comparison holds by itself, but not all of them together at the probability asked for.", \
            "Read more places, or use a gauge with a tighter tolerance."


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
    _set_aside(sheet, film)
    if held.note:
        sheet.notes.append(held.note)
    beyond = [spot.id for spot in judged if spot.id in film.out_of_gauge]
    if beyond:
        sheet.unstated.insert(0, (
            f"{len(beyond)} of {len(judged)} spots (first '{beyond[0]}') hold a reading outside the gauge's own range; that "
            "is no measurement.", "Read them with a probe made for that film."))
    return sheet.done()


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
    within = two_level([spot.readings_um for spot in spots]).within_sd or 0.0

    def u_spot(value: float, spot: Spot) -> float:
        return math.hypot(within / math.sqrt(len(spot.readings_um)), film.u_shared_um(value))

    if film.min_um is not None and cells.spot_min_pct is not None:
        low, spot = min(means, key=lambda pair: pair[0])
        limit = film.min_um * cells.spot_min_pct / 100
        sheet.failing += [s.id for m, s in means if settled(m) < settled(limit)]
        sheet.compare(
            "lowest_spot", f"The lowest spot mean ('{spot.id}', limit {cells.spot_min_pct:g} % of the minimum)", low, limit,
            "at_least", u_spot(low, spot),
            "Measure single spots at 1.5 m in each direction until two in a row conform; what lies between is the "
            "nonconforming area.")
    if film.max_um is not None and cells.spot_max_pct is not None:
        high, spot = max(means, key=lambda pair: pair[0])
        limit = film.max_um * cells.spot_max_pct / 100
        sheet.failing += [s.id for m, s in means if settled(m) > settled(limit)]
        sheet.compare(
            "highest_spot", f"The highest spot mean ('{spot.id}', limit {cells.spot_max_pct:g} % of the maximum)", high,
            limit, "at_most", u_spot(high, spot), _DRESS)
    areas: dict[str, list[Spot]] = {}
    for spot in spots:
        areas.setdefault(spot.area, []).append(spot)
    figures = []
    for name, members in areas.items():
        level = two_level([spot.readings_um for spot in members])
        figures.append((level.mean, name, level.u_mean or within))

    def label(name: str) -> str:
        return f" of area '{name}'" if len(areas) > 1 else ""

    if film.min_um is not None and cells.area_min_pct is not None:
        low, name, scatter = min(figures)
        sheet.compare("lowest_area", f"The mean{label(name)}", low, film.min_um * cells.area_min_pct / 100, "at_least",
                      math.hypot(scatter, film.u_shared_um(low)), "Build the area up, or divide it and judge each part.")
    if film.max_um is not None and cells.area_max_pct is not None:
        high, name, scatter = max(figures)
        sheet.compare("highest_area", f"The mean{label(name)}", high, film.max_um * cells.area_max_pct / 100, "at_most",
                      math.hypot(scatter, film.u_shared_um(high)), _DRESS)
    if sheet.held.small and any(len(members) < sheet.held.spots_per_area for members in areas.values()):
        sheet.notes.append(sheet.held.small)


def _mean_of_all(sheet: _Sheet, film: Film, bound: Bound) -> None:
    stated = film.limit(bound.of)
    if stated is None:
        return
    average = mean(film.readings())
    level = two_level([spot.readings_um for spot in film.read()])
    sheet.compare("mean", "The mean of the readings", average, stated * bound.pct / 100, "at_least",
                  math.hypot(level.u_mean or 0.0, film.u_shared_um(average)),
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
    sense, side, end = ("at_most", "above", "highest") if over else ("at_least", "below", "lowest")
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
    sheet.compare(key, name, value, limit, sense, film.u_reading_um(value), _DRESS if over else _BUILD_UP)


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
