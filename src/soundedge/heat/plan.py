"""Which preheat, gun setting and layer times keep every bond above fusion and every surface below its limit?

The bare dish is tried under many settings side by side; the best are marched again with all their layers, and the
first that passes everywhere is the plan. When none does the answer is *never*, with what would change it.

>>> case = Case(material="carbon_steel", plate_mm=6, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=500)
>>> found = plan(case, Window.of(case), members=0)
>>> found.possible, found.outcome.passes, found.outcome.hottest_c <= 260
(True, True, True)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from .case import Case, Doubt, values
from .doubt import percentiles, priors_of, sample
from .march import Program, Run, Values, march
from .section import Section

PATIENCE_S = 5400.0
"""Longest warming up that a plan may ask for."""
LAYER_MM = 0.15
"""Film of one layer when nobody says otherwise (common practice)."""
BACK_OFF_K = 10.0
"""The gun is held away this far below the surface limit."""
START_ABOVE_K = 15.0
"""The first layer goes on this far above fusion: cold powder takes some of it away."""
TRIED_FIRST = 4
"""So many settings are marched with all their layers before hotter starts are looked at."""


@dataclass(frozen=True)
class Window:
    """What the procedure asks: °C and s. ``layers`` new layers."""

    fusion_c: float
    limit_c: float
    dwell_s: float
    layers: int

    @staticmethod
    def of(case: Case, *, dwell_s: float = 60.0, layers: int | None = None) -> Window:
        """The window of the case's own limits, and as many layers of 0.15 mm as the film needs."""
        count = layers or max(1, min(12, math.ceil(case.film_mm / LAYER_MM)))
        return Window(case.polymer_value("fusion_c"), case.polymer_value("surface_limit_c"), dwell_s, count)

    @property
    def start_c(self) -> float:
        """Bond temperature for the first layer."""
        return min(self.fusion_c + START_ABOVE_K, self.limit_c - 2.0 * BACK_OFF_K)

    @property
    def pause_c(self) -> float:
        """Surface temperature at which the gun is held away."""
        return self.limit_c - BACK_OFF_K


@dataclass(frozen=True)
class Outcome:
    """A layered repair as marched: when the first layer went on, shortest dwell, hottest surface, and what failed."""

    passes: bool
    first_layer_s: float | None
    end_s: float
    dwell_s: float
    layer_dwell_s: float
    hottest_c: float
    hottest_where: str
    bond_low_c: float | None
    failed: tuple[str, ...]
    run: Run | None


def repair(case: Case, window: Window, *, by_gloss: bool = False, every_s: float | None = None) -> Outcome:
    """March one layered repair.

    Parameters
    ----------
    by_gloss : bool
        False: the first layer waits for the bond line. True: as it is often done, powder on the steel as it is and the
        next layer every ``every_s`` (40 s if left out).
    every_s : float, optional
        Time between layers; the dwell and 15 s more when left out.

    Returns
    -------
    Outcome
    """
    every = every_s if every_s is not None else 40.0 if by_gloss else window.dwell_s + 15.0
    section = case.section(dish=True, layers=window.layers)
    finish = max(2.0 * window.dwell_s, 60.0)
    end = PATIENCE_S + window.layers * every + finish + 60.0
    aging = case.film.values.get("degradation_energy_j_mol")
    program = Program(
        end_s=end, lay_start_s=0.0 if by_gloss else 1e30, lay_start_c=1e30 if by_gloss else window.start_c,
        lay_every_s=every, finish_s=0.0 if by_gloss else finish, pause_c=1e30 if by_gloss else window.pause_c,
        fusion_c=window.fusion_c, dose_k=0.0 if aging is None else aging.value / 8.314462618, dose_ref_c=window.limit_c)
    if by_gloss:
        program = Program(**{f.name: getattr(program, f.name) for f in fields(program)} | {"finish_s": every})
    return judge_run(case, window, section, march(section, values(case, section), program))


def judge_run(case: Case, window: Window, section: Section, run: Run) -> Outcome:
    """Hold a marched repair against the window, ring by ring."""
    joint = section.joint
    laid = run.laid_s[:, 0]
    first = None if np.isnan(laid[0]) else float(laid[0])
    failed = []
    dwell = float(run.dwell_s[0, joint].min())
    real = section.film_m[section.layer_of >= 0] > 5e-6
    layer_dwell = min((float(run.layer_s[n, 0, joint & real[n]].min()) for n in range(section.layers)
                       if (joint & real[n]).any()), default=0.0)
    hottest = float(run.hottest_c.max())
    place = int(run.hottest_c[0].argmax())
    where = (f"repair at r = {section.middles_mm[place]:.0f} mm" if joint[place]
             else f"sound lining at r = {section.middles_mm[place]:.0f} mm")
    if np.isnan(laid).any():
        failed.append("the steel never gets hot enough for the first layer" if first is None
                      else "not all layers could be laid")
    else:
        if dwell < window.dwell_s:
            failed.append(f"the coldest bond is above {window.fusion_c:g} °C for {dwell:.0f} s of {window.dwell_s:g} s")
        if layer_dwell < window.dwell_s:
            failed.append(f"a layer is molten for {layer_dwell:.0f} s of {window.dwell_s:g} s")
    if hottest > window.limit_c:
        failed.append(f"{where} reaches {hottest:.0f} °C, limit {window.limit_c:g} °C")
    low = None if first is None else float(run.bond_min[run.t >= first, 0].max())
    return Outcome(not failed, first, float(run.t[-1]), dwell, layer_dwell, hottest, where, low, tuple(failed), run)


@dataclass(frozen=True)
class Sure:
    """How sure, over the stated priors: P10, P50, P90 and probabilities from ``members`` members; standard uncertainties
    of the shortest dwell [s] and the hottest lining [K] when the work goes by readings."""

    members: int
    first_layer_s: tuple[float, float, float]
    bond_at_time_c: tuple[float, float, float]
    neighbour_c: tuple[float, float, float]
    p_by_the_clock: float
    p_by_readings: float
    u_dwell_s: float
    u_hottest_k: float
    calibrated: bool


@dataclass(frozen=True)
class Found:
    """A plan, or never. ``tried`` settings were looked at; ``alternatives`` say what would make it possible; ``surer``
    is the mildest setting that also holds with a gun as much weaker or stronger as its heat is doubted."""

    possible: bool
    case: Case
    window: Window
    outcome: Outcome
    tried: int
    alternatives: tuple[tuple[str, bool, str], ...]
    surer: Case | None
    sure: Sure | None


def plan(case: Case, window: Window, *, members: int = 24, may_set_air: bool = True, may_preheat: bool = True) -> Found:
    """Find the mildest setting that passes.

    Parameters
    ----------
    case : Case
        Its gun air and distance are where the search begins.
    window : Window
    members : int
        Size of the ensemble that says how sure; 0 for none.
    may_set_air, may_preheat : bool
        Whether the gun's air and distance, and the part's temperature, may be chosen.

    Returns
    -------
    Found
        With the plan's own case; ``possible`` False when no setting passes.
    """
    options = _options(case, window, may_set_air, may_preheat)
    ranked, firm, best = _rank(options, window, case)
    chosen, outcome = case, best
    for option in _to_try(ranked):
        trial = repair(option, window)
        if trial.passes or outcome is best:
            chosen, outcome = option, trial
        if trial.passes:
            break
    possible = outcome.passes
    return Found(
        possible, chosen, window, outcome, len(options),
        () if possible else _alternatives(case, window),
        firm if firm is not chosen else None,
        how_sure(chosen, window, outcome, members) if members and possible and outcome.first_layer_s is not None else None,
    )


def _options(case: Case, window: Window, may_set_air: bool, may_preheat: bool) -> list[Case]:
    melt = case.film.value("melt_to_c")
    airs = {case.gun_c}
    distances = {case.distance_mm}
    if may_set_air:
        airs |= {a for a in (case.gun_c + s for s in (50, -50, -100, -150)) if melt + 60 <= a <= 650}
        distances |= {d for d in (2.5 * case.outlet_mm,) if abs(d - case.distance_mm) > 8}
    starts = {case.start_c}
    if may_preheat:
        starts |= {float(t) for t in (*range(60, int(window.start_c), 20), window.start_c) if t > case.start_c}
    out = []
    for air in sorted(airs):
        if air <= case.ambient_c:
            continue
        for distance in sorted(distances):
            out += [case.but(gun_c=float(air), distance_mm=distance, start_c=start) for start in sorted(starts)]
    return out


def _to_try(ranked: Sequence[Case]) -> list[Case]:
    """The four best, then the best of every hotter start: a gun held away from hot lining needs more preheat than bare
    steel alone lets one think."""
    best = list(ranked[:TRIED_FIRST])
    hotter = {option.start_c: option for option in reversed(ranked) if not best or option.start_c > best[-1].start_c}
    return best + [hotter[start] for start in sorted(hotter)]


def _rank(options: Sequence[Case], window: Window, case: Case) -> tuple[list[Case], Case | None, Outcome]:
    """Options whose bare steel gets there: mildest preheat first, then the gun as it is set, then the quicker. Also
    the first that gets there with a weaker and a stronger gun too, and what to say when there are none."""
    far = math.exp(case.h_width)
    spread = [bare([o.but(h_factor=o.h_factor * f) for o in options], window) for f in (1.0, 1.0 / far, far)]
    scored, best_c = [], -math.inf
    for i, option in enumerate(options):
        at, ring, hottest = spread[0][i]
        best_c = max(best_c, hottest)
        if at is None or ring > window.limit_c + 5.0:
            continue
        weak = any(a is None or r > window.limit_c + 5.0 for a, r, _ in (tried[i] for tried in spread))
        moved = (option.gun_c != case.gun_c) + (option.distance_mm != case.distance_mm)
        awkward = (ring > window.limit_c) + (at > 2700.0)
        scored.append((awkward, option.start_c, moved, at, i, weak))
    scored.sort()
    firm = next((options[i] for *_, i, weak in scored if not weak), None)
    because = (f"none of {len(options)} settings brings the bare steel to {window.start_c:.0f} °C in "
               f"{PATIENCE_S / 60:.0f} min with the lining around it below {window.limit_c:g} °C; the hottest steel, "
               f"whatever the lining, is {best_c:.0f} °C")
    nothing = Outcome(False, None, PATIENCE_S, 0.0, 0.0, max(ring for _, ring, _ in spread[0]),
                      "lining around the spot", None, (because,), None)
    return [options[i] for *_, i, _ in scored], firm, nothing


def bare(options: Sequence[Case], window: Window) -> list[tuple[float | None, float, float]]:
    """For each option the time at which the bare steel is ready for a first layer (None: never), the lining around
    it then (or at its hottest), and the hottest the steel gets; all of one part, side by side."""
    section = options[0].section(dish=True, rings=12, slices=3)
    run = march(section, stack([values(option, section) for option in options]),
                Program(end_s=PATIENCE_S, stop_bond_c=window.start_c, share=0.08, longest_s=30.0))
    out = []
    for i in range(len(options)):
        at = run.when(run.bond_min, window.start_c, i)
        ring = float(run.sound_max[:, i].max()) if at is None else run.at(run.sound_max, at, i)
        out.append((at, ring, float(run.bond_min[:, i].max())))
    return out


def stack(many: Sequence[Values]) -> Values:
    """Several sets of values as the members of one."""
    return Values(**{f.name: np.concatenate([getattr(v, f.name) for v in many]) for f in fields(Values)})


def _alternatives(case: Case, window: Window) -> tuple[tuple[str, bool, str], ...]:
    """What would change a never: each tried with the gun as it is."""
    out = []
    ideas = [
        ("insulate the back", case.but(back="insulated")),
        ("a second gun on the back", case.but(back="second_gun")),
        ("a smaller field of steel (half the radius)", case.but(radius_mm=max(0.5 * case.radius_mm, case.spot_d_mm))),
        (f"the whole part at {window.start_c:.0f} °C from an oven", case.but(start_c=window.start_c)),
    ]
    melt = case.film.value("melt_to_c")
    if case.gun_c <= melt + 20:
        ideas.insert(0, (f"air of {melt + 280:.0f} °C", case.but(gun_c=melt + 280.0)))
    elif case.gun_c - 100 > melt + 60:
        ideas.append((f"lower air, {case.gun_c - 100:g} °C", case.but(gun_c=case.gun_c - 100.0)))
    for words, idea in ideas:
        (at, ring, hottest), = bare([idea], window)
        if at is None:
            out.append((words, False, f"the bare steel stops at {hottest:.0f} °C"))
        elif ring > window.limit_c + 5.0:
            out.append((words, False, f"the lining around the spot reaches {ring:.0f} °C"))
        else:
            trial = repair(idea, window)
            out.append((words, trial.passes, "passes" if trial.passes else "; ".join(trial.failed)))
    return tuple(out)


def how_sure(case: Case, window: Window, outcome: Outcome, members: int, doubt: Doubt | None = None,
             weights: Sequence[float] | np.ndarray | None = None) -> Sure:
    """March the bare dish over the priors, and say how the plan fares by the clock and by readings.

    By the clock: the first layer goes on at the planned time, whatever the steel is. By readings: it waits for the
    bond, the gun is held away when any lining gets too hot, and every layer and every bond must have its dwell.
    """
    doubt = doubt or sample(members, priors_of(case))
    at = outcome.first_layer_s or 0.0
    section = case.section(dish=True, rings=12, slices=3)
    run = march(section, values(case, section, doubt), Program(
        end_s=PATIENCE_S, stop_bond_c=window.start_c, share=0.06, longest_s=20.0))
    count = len(doubt.h)
    w = np.full(count, 1.0 / count) if weights is None else np.asarray(weights) / np.sum(weights)
    planned = np.array([run.at(run.bond_min, min(at, run.t[-1]), i) for i in range(count)])
    ring_then = np.array([run.at(run.sound_max, min(at, run.t[-1]), i) for i in range(count)])
    dish = case.section(dish=True, layers=window.layers, rings=12, slices=3)
    every = window.dwell_s + 15.0
    finish = max(2.0 * window.dwell_s, 60.0)
    held = march(dish, values(case, dish, doubt), Program(
        end_s=PATIENCE_S + window.layers * every + finish, lay_start_c=window.start_c, lay_every_s=every,
        finish_s=finish, pause_c=window.pause_c, fusion_c=window.fusion_c, share=0.08, longest_s=20.0,
        longest_laying_s=3.0))
    times = np.where(np.isnan(held.laid_s[0]), 2.0 * PATIENCE_S, held.laid_s[0])
    real = dish.joint & (dish.film_m[dish.layer_of >= 0].min(axis=0) > 5e-6)
    molten = held.layer_s[:, :, real].min(axis=(0, 2))
    done = ~np.isnan(held.laid_s).any(axis=0)
    good = done & (held.dwell_s[:, dish.joint].min(axis=1) >= window.dwell_s) & (molten >= window.dwell_s)
    clock = float(w @ ((planned >= window.fusion_c) & (ring_then <= window.limit_c)))
    reading = float(w @ good)
    dwell, hottest = held.dwell_s[:, dish.joint].min(axis=1), held.hottest_c.max(axis=1)
    return Sure(count, percentiles(times, w), percentiles(planned, w), percentiles(ring_then, w), clock, reading,
                _sd(dwell, w), _sd(hottest, w), case.tried)


def _sd(numbers: np.ndarray, w: np.ndarray) -> float:
    return float(np.sqrt(w @ (numbers - w @ numbers) ** 2))
