"""Can this gun fuse this repair on this steel, how long does it take, and which mistake comes first?

Two marches: the film whole (what the surface says about the bond line) and the dish bare (what the lining around
the spot suffers while the steel warms). A third cools it down again; ``spread`` says how far off all that may be.

>>> case = Case(material="carbon_steel", plate_mm=12, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=500)
>>> told = estimate(case)
>>> 60 < told.gloss_bond_c < 90, told.reaches, told.overheats
(True, True, 'repair_surface')
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .case import H_BACK_W_M2K, H_IDLE_W_M2K, Case, values
from .march import NEVER, Program, Run, march
from .rules import gloss_bond_c, highest_useful_air_c
from .spread import Spread, fate, spread

PATIENCE_S = 7200.0
"""What does not happen in two hours is called never."""
TOUCH_C = 43.0
"""Contact of any length: ISO 13732-1 (memory)."""
LOOK_S = (60.0, 120.0, 300.0, 600.0, 900.0, 1200.0, 1800.0, 2700.0, 3600.0, 5400.0, 7200.0)


@dataclass(frozen=True)
class Estimate:
    """The answer in plain numbers: °C and s; None where the thing does not happen within ``PATIENCE_S``."""

    gloss_s: float | None
    gloss_bond_c: float | None
    gloss_rule_c: float | None
    limit_bond_c: float | None
    reaches: bool
    fusion_s: float | None
    bond_max_c: float
    surface_at_fusion_c: float | None
    bare_fusion_s: float | None
    bare_max_c: float
    neighbour_c: float
    neighbour_limit_s: float | None
    surface_limit_s: float | None
    overheats: Literal["neighbour_lining", "repair_surface"] | None
    first_mistake: Literal["cold_bond_under_gloss", "burnt_neighbour", "burnt_surface"] | None
    preheat_c: float | None
    cool_s: float | None
    back_at_fusion_c: float | None
    best_air_c: float | None
    melted_s: float | None
    whole: Run
    bare: Run
    spread: Spread


def estimate(case: Case, *, patience_s: float = PATIENCE_S, preheat: bool = True, cool: bool = True) -> Estimate:
    """Run the case.

    Parameters
    ----------
    case : Case
    patience_s : float
        Longest heating that counts, s.
    preheat, cool : bool
        Whether to look for the preheat needed and the cooling time (each a run of its own).

    Returns
    -------
    Estimate
    """
    need, limit = case.polymer_value("fusion_c"), case.polymer_value("surface_limit_c")
    melt = case.film.value("melt_to_c")
    heating = Program(end_s=patience_s)
    section = case.section(dish=False)
    whole = march(section, values(case, section), heating)
    dish = case.section(dish=True)
    bare = march(dish, values(case, dish), heating)

    own = fate(case, whole, bare, 0)
    gloss, fused, bare_fused = own.gloss_s, own.fusion_s, own.bare_fusion_s
    over, over_ring = whole.when(whole.joint_max, limit), bare.when(bare.sound_max, limit)
    first = [(t, name) for t, goal, name in ((over_ring, bare_fused, "neighbour_lining"), (over, fused, "repair_surface"))
             if t is not None and (goal is None or t < goal or t == 0.0)]  # at 0: the part starts too hot already
    overheats: Literal["neighbour_lining", "repair_surface"] | None = None
    if first:
        overheats = "neighbour_lining" if min(first)[1] == "neighbour_lining" else "repair_surface"
    jet = case.blow()
    h, air = jet.h_w_m2k(0.0) * case.h_factor, jet.air_c(0.0)
    k = case.film.value("conductivity_w_mk")
    k_mean = 0.5 * (k + case.film.melt_conductivity_w_mk)
    shared = {"h_w_m2k": h, "air_c": air, "emissivity": case.film.value("emissivity"),
              "thickness_mm": case.film_mm, "surroundings_c": case.ambient_c}
    melts, hot_enough = air > melt, air > max(melt, need)
    reaches = fused is not None
    mistake: Literal["cold_bond_under_gloss", "burnt_neighbour", "burnt_surface"] | None = None
    if gloss is not None and (fused is None or gloss < fused - 1.0):
        mistake = "cold_bond_under_gloss"
    if first and (gloss is None or min(first)[0] < gloss or min(first)[0] == 0.0):
        mistake = "burnt_neighbour" if overheats == "neighbour_lining" else "burnt_surface"
    return Estimate(
        gloss_s=gloss,
        gloss_bond_c=own.gloss_bond_c,
        gloss_rule_c=gloss_bond_c(**shared, melt_c=melt, k_w_mk=k) if melts else None,
        limit_bond_c=gloss_bond_c(**shared, melt_c=limit, k_w_mk=k_mean) if air > limit else None,
        reaches=reaches, fusion_s=fused, bond_max_c=own.bond_max_c,
        surface_at_fusion_c=own.surface_at_fusion_c,
        bare_fusion_s=bare_fused, bare_max_c=float(bare.bond_min.max()),
        neighbour_c=own.neighbour_c, neighbour_limit_s=over_ring, surface_limit_s=over,
        overheats=overheats, first_mistake=mistake,
        preheat_c=_preheat_c(case, patience_s)
        if preheat and (not reaches or overheats) and hot_enough and case.start_c < need else None,
        cool_s=_cool_s(case, fused if fused is not None else patience_s) if cool else None,
        back_at_fusion_c=None if fused is None else whole.at(whole.back, fused),
        best_air_c=highest_useful_air_c(
            surface_limit_c=limit, bond_needed_c=need, thickness_mm=case.film_mm, k_w_mk=k_mean, h_w_m2k=h,
            emissivity=case.film.value("emissivity"), surroundings_c=case.ambient_c),
        melted_s=whole.when(whole.bond_min, case.film.melted_c), whole=whole, bare=bare, spread=spread(case, own, patience_s),
    )


def _preheat_c(case: Case, patience_s: float) -> float | None:
    """Coldest part, in steps of 10 K, from which the bond fuses within an hour and before any surface passes its limit.

    All temperatures are tried side by side on a coarse grid; from what passes there, the first is taken that also
    passes on the everyday grid, so that the estimate of the preheated part says the same. The fusion temperature itself
    when nothing below will do: the part must then come out of the oven as hot as it is to be fused.
    """
    need = case.polymer_value("fusion_c")
    first = 10.0 * (math.floor(case.start_c / 10.0) + 1.0)
    starts = np.arange(first, need, 10.0)
    if not len(starts):
        return need
    coarse = Program(end_s=min(patience_s, 3600.0), stop_bond_c=need, share=0.06, longest_s=20.0)
    likely = [t for t, good in zip(starts, _passes(case, starts, coarse, rings=12, slices=3)) if good]
    if not likely:
        return need
    starts = np.arange(likely[0], need, 10.0)
    sure = [t for t, good in zip(starts, _passes(case, starts, Program(end_s=patience_s, stop_bond_c=need))) if good]
    return float(sure[0]) if sure else need


def _passes(case: Case, starts: np.ndarray, program: Program, **grid: int) -> list[bool]:
    """Whether a part that starts so hot fuses, whole and bare, before any surface passes its limit."""
    need, limit = case.polymer_value("fusion_c"), case.polymer_value("surface_limit_c")
    good = [True] * len(starts)
    for bare in (False, True):
        section = case.section(dish=bare, **grid)
        run = march(section, values(case, section, start_c=starts), program)
        hot = run.sound_max if bare else run.joint_max
        for i in range(len(starts)):
            fused = run.when(run.bond_min, need, i)
            good[i] = good[i] and fused is not None and run.at(hot, fused, i) <= limit
    return good


def _cool_s(case: Case, off_s: float) -> float | None:
    """Time from laying the gun down until the surface may be touched, s; None when the air is too warm for it."""
    if case.ambient_c >= TOUCH_C - 1.0:
        return None
    section = case.section(dish=False, rings=12, slices=3)
    hold = 6.0 * 3600.0
    run = march(section, values(case, section), Program(
        end_s=off_s + hold, gun_off_s=off_s, hold_s=hold, longest_s=30.0, share=0.08, longest_late_s=30.0,
        stop_surface_c=TOUCH_C))
    hottest = np.maximum(run.joint_max[:, 0], run.sound_max[:, 0])
    cold = np.flatnonzero((run.t > off_s) & (hottest <= TOUCH_C))
    return float(run.t[cold[0]] - off_s) if len(cold) else None


def lost_w_m2k(case: Case, at_c: float) -> float:
    """What both faces lose together at ``at_c``, W/m²K: natural convection and radiation, made linear."""
    from .case import E_BACK
    from .rules import SIGMA_W_M2K4, ZERO_C_K

    t, a = at_c + ZERO_C_K, case.ambient_c + ZERO_C_K
    rad = SIGMA_W_M2K4 * (t * t + a * a) * (t + a)
    back = 0.0 if case.back == "insulated" else H_BACK_W_M2K + E_BACK * rad
    return H_IDLE_W_M2K + case.film.value("emissivity") * rad + back


__all__ = ["LOOK_S", "NEVER", "PATIENCE_S", "TOUCH_C", "Case", "Estimate", "estimate", "lost_w_m2k"]
