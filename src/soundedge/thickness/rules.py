"""Does the film meet each rule, and what does the rule look at?

Every rule is turned into comparisons of one figure with one limit: the lowest reading, the lowest spot
mean, the area mean, the reading that decides a "90 % of readings". Each comparison knows its uncertainty,
so the simple verdict (the rule as written) and the guarded one stand side by side.

>>> film = Film([Spot("1", (1020.0, 1010.0, 1035.0)), Spot("2", (1100.0, 980.0, 1090.0))], min_um=1000.0, max_um=1800.0)
>>> judged = judge_rule("every_reading", film)
>>> judged.simple, judge_rule("sspc_pa_2", film).simple
('does_not_conform', 'conforms')
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any, Literal

from ..basis.finding import SIMPLE, Decision, Finding, Verdict, judge, worst
from ..basis.quantity import shown
from ..basis.sources import cite
from .moments import mean, sd, two_level

RULES = ("every_reading", "sspc_pa_2", "iso_19840", "ninety_ten", "small_repair")
RuleName = Literal["every_reading", "sspc_pa_2", "iso_19840", "ninety_ten", "small_repair"]
Where = Literal["repair", "overlap", "parent"]

_FILE = Path(__file__).with_name("rules.toml")


@cache
def rule_data() -> dict[str, Any]:
    """The tables of ``rules.toml``: each rule with title, edition, source and read-mark."""
    return tomllib.loads(_FILE.read_text(encoding="utf-8"))


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

    def __init__(self, rule: str, film: Film, decision: Decision) -> None:
        self.rule, self.film, self.decision = rule, film, decision
        self.data = rule_data()[rule]
        self.source = cite(self.data["source"])
        self.pairs: list[tuple[Finding, Finding]] = []
        self.missing: list[tuple[str, str]] = []
        self.unstated: list[tuple[str, str]] = []
        self.notes: list[str] = []
        self.failing: list[str] = []

    def compare(self, what: str, name: str, value: float, limit: float, sense: str, u: float, move: str,
                strict: bool = False) -> bool:
        """Add one comparison; tells whether the plain value meets the limit."""
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
            self.rule, verdict, simple, guarded, p, because, move, findings, tuple(self.notes), self.data["title"],
            self.data["edition"], self.source, self.data["read"], tuple(dict.fromkeys(self.failing)),
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


def judge_rule(rule: str, film: Film, decision: Decision = SIMPLE) -> Judged:
    """Judge a film by one rule.

    Parameters
    ----------
    rule : str
        One of ``RULES``.
    film : Film
        At least one spot with a reading.
    decision : Decision
        Which of the two verdicts leads.

    Returns
    -------
    Judged
    """
    sheet = _Sheet(rule, film, decision)
    {"every_reading": _every_reading, "sspc_pa_2": _sspc_pa_2, "iso_19840": _iso_19840,
     "ninety_ten": _ninety_ten, "small_repair": _small_repair}[rule](sheet, film)
    judged = [s.id for s in film.read() if not (rule == "small_repair" and s.where == "parent")]
    beyond = [spot_id for spot_id in judged if spot_id in film.out_of_gauge]
    if beyond:
        sheet.unstated.insert(0, (
            f"{len(beyond)} of {len(judged)} spots (first '{beyond[0]}') hold a reading outside the gauge's own range; that "
            "is no measurement.", "Read them with a probe made for that film."))
    return sheet.done()


_BUILD_UP = "Read the place again beside the old one; if it stays thin, build it up or repair it."
_DRESS = "Read the place again; if it stays thick, dress it down within the procedure."


def _unread(sheet: _Sheet, film: Film) -> None:
    for spot in film.spots:
        if not spot.readings_um:
            sheet.missing.append((f"Spot '{spot.id}' holds no reading; not measured is not zero.", "Read it."))


def _single_readings(sheet: _Sheet, spots: Sequence[Spot], min_um: float | None, max_um: float | None) -> None:
    every = [(value, spot) for spot in spots for value in spot.readings_um]
    if min_um is not None:
        value, spot = min(every, key=lambda pair: pair[0])
        sheet.failing += [s.id for v, s in every if settled(v) < settled(min_um)]
        below = sum(settled(v) < settled(min_um) for v, _ in every)
        name = f"The lowest reading (spot '{spot.id}')"
        if below > 1:
            name = f"{below} of {len(every)} readings are below the minimum; the lowest (spot '{spot.id}')"
        sheet.compare("lowest_reading", name, value, min_um, "at_least", sheet.film.u_reading_um(value), _BUILD_UP)
    if max_um is not None:
        value, spot = max(every, key=lambda pair: pair[0])
        sheet.failing += [s.id for v, s in every if settled(v) > settled(max_um)]
        sheet.compare("highest_reading", f"The highest reading (spot '{spot.id}')", value, max_um, "at_most",
                      sheet.film.u_reading_um(value), _DRESS)


def _every_reading(sheet: _Sheet, film: Film) -> None:
    _unread(sheet, film)
    if film.min_um is None:
        sheet.unstated.append(("No minimum film is stated, so no reading can be held against one.",
                               "State min_um as the contract has it."))
    _single_readings(sheet, film.read(), film.min_um, film.max_um)


def _sspc_pa_2(sheet: _Sheet, film: Film) -> None:
    _unread(sheet, film)
    data = sheet.data
    level = data["level"][str(film.level)]
    if level["read"] == "memory":
        sheet.notes.append(f"The cells of restriction level {film.level} stand from memory; check the contract's copy.")
    least = data["readings_per_spot_min"]
    spots = film.read()
    for spot in spots:
        if len(spot.readings_um) < least:
            sheet.missing.append((
                f"Spot '{spot.id}' has {len(spot.readings_um)} reading{'s' * (len(spot.readings_um) != 1)}; a spot of "
                f"this rule is the mean of at least {least} within {data['spot_circle_mm']} mm.",
                f"Take {least - len(spot.readings_um)} more there."))
    if film.min_um is None:
        sheet.unstated.append(("No minimum film is stated; if one value only is specified, it is the minimum.",
                               "State min_um as the contract has it."))
    if film.max_um is None:
        sheet.notes.append("No maximum is stated; the rule takes it from the product's data sheet.")
    means = [(mean(spot.readings_um), spot) for spot in spots]
    within = two_level([spot.readings_um for spot in spots]).within_sd or 0.0

    def u_spot(value: float, spot: Spot) -> float:
        return math.hypot(within / math.sqrt(len(spot.readings_um)), film.u_shared_um(value))

    low, spot_low = min(means, key=lambda pair: pair[0])
    high, spot_high = max(means, key=lambda pair: pair[0])
    if film.min_um is not None:
        limit = film.min_um * level["spot_min_pct"] / 100
        sheet.failing += [spot.id for m, spot in means if settled(m) < settled(limit)]
        sheet.compare(
            "lowest_spot", f"The lowest spot mean ('{spot_low.id}', limit {level['spot_min_pct']} % of the "
                           "minimum)", low,
            limit, "at_least", u_spot(low, spot_low),
            "Measure single spots at 1.5 m in each direction until two in a row conform; what lies between is the "
            "nonconforming area.")
    if film.max_um is not None and "spot_max_pct" in level:
        limit = film.max_um * level["spot_max_pct"] / 100
        sheet.failing += [spot.id for m, spot in means if settled(m) > settled(limit)]
        sheet.compare(
            "highest_spot", f"The highest spot mean ('{spot_high.id}', limit {level['spot_max_pct']} % of the maximum)",
            high, limit, "at_most", u_spot(high, spot_high), _DRESS)
    areas: dict[str, list[Spot]] = {}
    for spot in spots:
        areas.setdefault(spot.area, []).append(spot)
    figures = []
    for name, members in areas.items():
        level_of = two_level([spot.readings_um for spot in members])
        figures.append((level_of.mean, name, level_of.u_mean or within))
    label = (lambda name: f" of area '{name}'") if len(areas) > 1 else (lambda name: "")
    low, name, scatter = min(figures)
    if film.min_um is not None:
        sheet.compare("lowest_area", f"The mean{label(name)}", low, film.min_um * level["area_min_pct"] / 100, "at_least",
                      math.hypot(scatter, film.u_shared_um(low)), "Build the area up, or divide it and judge each "
                                                                  "part.")
    high, name, scatter = max(figures)
    if film.max_um is not None and "area_max_pct" in level:
        sheet.compare("highest_area", f"The mean{label(name)}", high, film.max_um * level["area_max_pct"] / 100,
                      "at_most", math.hypot(scatter, film.u_shared_um(high)), _DRESS)
    short = [name for name, members in areas.items() if len(members) < data["spots_per_area"]]
    if film.area_m2 is not None:
        from .plan import pa2_counts

        counts = pa2_counts(film.area_m2)
        if film.area_m2 >= 1 and len(spots) < counts.spots:
            sheet.missing.append((
                f"{len(spots)} spots are read; this rule asks for {counts.spots} spots in {counts.areas} areas "
                f"on {shown(film.area_m2)} m².", f"Read {counts.spots - len(spots)} more spots."))
    if short:
        sheet.notes.append(
            f"The rule takes {data['spots_per_area']} spots per {data['area_m2']} m²; here an area has fewer. On a "
            "repair "
            "not larger than one spot it says little: use it with every_reading or small_repair.")


def _share_rule(sheet: _Sheet, film: Film, share_pct: float, strict: bool, nominal: float) -> None:
    """'Fewer than 20 % below nominal' is: this many readings may be below, so the next lowest must not be."""
    ordered = sorted((value, spot.id) for spot in film.read() for value in spot.readings_um)
    n = len(ordered)
    allowed = may_be_below(n, share_pct, strict)
    below = sum(settled(value) < settled(nominal) for value, _ in ordered)
    value, spot = ordered[min(allowed, n - 1)]
    word = "fewer than" if strict else "at most"
    sheet.compare(
        "share_below_nominal",
        f"{below} of {n} readings lie below the nominal film and {word} {shown(share_pct)} % may, that is {allowed}; "
        f"the reading that decides (spot '{spot}')",
        value, nominal, "at_least", film.u_reading_um(value), _BUILD_UP)


def may_be_below(n: int, share_pct: float, strict: bool) -> int:
    """How many of n readings may lie below nominal: fewer than the share (strict), or at most that.

    >>> may_be_below(5, 20, True), may_be_below(10, 20, True), may_be_below(10, 20, False), may_be_below(10, 10, False)
    (0, 1, 2, 1)
    """
    whole, rest = divmod(n * round(share_pct * 1000), 100_000)
    if strict and rest == 0:
        return max(0, whole - 1)
    return whole


def _nominal(sheet: _Sheet, film: Film) -> float | None:
    if film.nominal_um is None:
        sheet.unstated.append(("This rule stands on the nominal film, and none is stated.",
                               "State nominal_um as the contract has it."))
    return film.nominal_um


def _iso_19840(sheet: _Sheet, film: Film) -> None:
    from .plan import iso_counts

    _unread(sheet, film)
    data = sheet.data
    nominal = _nominal(sheet, film)
    n = len(film.readings())
    counts = iso_counts(film.area_m2 if film.area_m2 is not None else 1.0)
    if n < counts.readings:
        where = f"{shown(film.area_m2)} m²" if film.area_m2 is not None else "up to 1 m²"
        sheet.missing.append((f"{n} readings are taken; this rule asks for {counts.readings} on {where}.",
                              f"Take {counts.readings - n} more."))
    repeated = sum(spot.superseded for spot in film.spots)
    if repeated:
        sheet.notes.append(f"{repeated} readings were repeated; this rule allows {counts.repeats} here.")
        if repeated > counts.repeats:
            sheet.missing.append((
                f"{repeated} readings were repeated and this rule allows {counts.repeats}.",
                "Take a whole new set, at places chosen before reading."))
    if nominal is not None:
        everything = [value for spot in film.read() for value in spot.readings_um]
        level = two_level([spot.readings_um for spot in film.read()])
        average = mean(everything)
        sheet.compare("mean", "The mean of the readings", average, nominal, "at_least",
                      math.hypot(level.u_mean or 0.0, film.u_shared_um(average)),
                      "Build the film up; a mean 1.5 to 2 standard deviations above nominal usually passes.")
        low, spot = min((value, spot.id) for spot in film.read() for value in spot.readings_um)
        limit = nominal * data["lowest_pct"] / 100
        sheet.failing += [s.id for s in film.read() if any(settled(v) < settled(limit) for v in s.readings_um)]
        sheet.compare("lowest_reading", f"The lowest reading (spot '{spot}', limit {data['lowest_pct']} % of nominal)",
                      low, limit, "at_least", film.u_reading_um(low), _BUILD_UP)
        strict = data["share_strict"] if film.share_strict is None else film.share_strict
        _share_rule(sheet, film, data["share_pct"], strict, nominal)
    if film.max_um is not None:
        high, spot = max((value, spot.id) for spot in film.read() for value in spot.readings_um)
        sheet.compare("highest_reading", f"The highest reading (spot '{spot}')", high, film.max_um, "at_most",
                      film.u_reading_um(high), _DRESS)
    else:
        sheet.notes.append("No maximum is stated, so none was judged; ISO 12944-5 gives a default.")


def _ninety_ten(sheet: _Sheet, film: Film) -> None:
    _unread(sheet, film)
    data = sheet.data
    nominal = _nominal(sheet, film)
    if nominal is None:
        return
    low, spot = min((value, spot.id) for spot in film.read() for value in spot.readings_um)
    limit = nominal * data["lowest_pct"] / 100
    sheet.failing += [s.id for s in film.read() if any(settled(v) < settled(limit) for v in s.readings_um)]
    sheet.compare("lowest_reading", f"The lowest reading (spot '{spot}', limit {data['lowest_pct']} % of nominal)",
                  low, limit, "at_least", film.u_reading_um(low), _BUILD_UP)
    _share_rule(sheet, film, data["share_pct"], data["share_strict"], nominal)
    sheet.notes.append("This rule sets no maximum.")


def _small_repair(sheet: _Sheet, film: Film) -> None:
    _unread(sheet, film)
    data = sheet.data
    for where, key, what in (("repair", "repair_readings_min", "on the repair itself"),
                             ("overlap", "overlap_readings_min", "on the overlap ring"),
                             ("parent", "parent_readings_min", "on the parent ring outside it")):
        n = len([v for spot in film.read() if spot.where == where for v in spot.readings_um])
        if n < data[key]:
            sheet.missing.append((f"{n} readings are taken {what}; the house rule asks for {data[key]}.",
                                  f"Take {data[key] - n} more {what}."))
        if where == "repair" and data[key] <= n < data["repair_readings_better"]:
            sheet.notes.append(f"{n} readings are on the repair; {data['repair_readings_better']} or more are better.")
    if film.min_um is None:
        sheet.unstated.append(("No minimum film is stated.", "State min_um as the contract has it."))
    new = [spot for spot in film.read() if spot.where in ("repair", "overlap")]
    if new:
        _single_readings(sheet, new, film.min_um, film.max_um)
    parent = [value for spot in film.read("parent") for value in spot.readings_um]
    if parent and film.min_um is not None and settled(min(parent)) < settled(film.min_um):
        sheet.notes.append(
            f"The parent ring reads down to {shown(settled(min(parent)))} µm, below the minimum: the old lining is "
            "thin "
            "there too; that is no fault of the repair, but somebody must decide on it.")
    spread = sd(parent)
    if spread is not None:
        sheet.notes.append(f"Parent ring: mean {mean(parent):.6g} µm, standard deviation {spread:.3g} µm.")
