"""How far may the real part lie off the estimate, when jet, air, film and radius are not what was typed?

An ensemble is marched on a coarse grid, whole film and bare dish. Every number of one member comes from the same jet: a gun
too weak for the bond is the one that does not burn the surface, so what is claimed together is judged together.

>>> from .case import Case
>>> from .estimate import estimate
>>> case = Case(material="carbon_steel", plate_mm=12, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=500)
>>> told = estimate(case, preheat=False, cool=False)
>>> told.spread.gloss_bond_c[0] < told.gloss_bond_c < told.spread.gloss_bond_c[1]
True
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from .case import Case, Doubt, values
from .doubt import beside, priors_of, sample
from .march import Program, Run, march

MEMBERS = 24
QUICK = Program(end_s=0.0, share=0.1, longest_s=60.0, longest_late_s=90.0)
"""Steps of the ensemble: its width comes out within 0.2 K of that of the everyday steps, in a third of the time."""
RADIUS_STEP = 1.4
"""The part is also marched this much smaller and larger."""
BAND = (5.0, 95.0)
"""Shares of the members that the ends of a band leave below them, %."""
TIME_BAND = (10.0, 90.0)
UNTOLD_PCT = (-40.0, 150.0)
"""Band of the times where nothing happens that could be timed, % (own estimate)."""
MOST_PCT = 1000.0


@dataclass(frozen=True)
class Fate:
    """What became of one member: °C and s, None where it does not happen."""

    gloss_s: float | None
    gloss_bond_c: float | None
    fusion_s: float | None
    bare_fusion_s: float | None
    bond_max_c: float
    surface_at_fusion_c: float | None
    neighbour_c: float
    joint_max_c: float

    @property
    def hottest_c(self) -> float:
        """The hottest lining when the bond fuses, or in all the time."""
        at = self.joint_max_c if self.surface_at_fusion_c is None else self.surface_at_fusion_c
        return max(self.neighbour_c, at)


@dataclass(frozen=True)
class RadiusSays:
    """What the radius of the part does: the hottest bond on a smaller and on a larger disc."""

    smaller_mm: float
    smaller_bond_c: float
    larger_mm: float
    larger_bond_c: float


@dataclass(frozen=True)
class Spread:
    """The doubt of one estimate. ``p_both``: share of the members whose bond fuses with no lining over its limit."""

    members: int
    gloss_bond_c: tuple[float, float] | None
    band_pct: tuple[float, float]
    u_bond_k: float
    u_hottest_k: float
    p_both: float
    correlation: float | None
    radius: RadiusSays


def fate(case: Case, whole: Run, bare: Run, member: int) -> Fate:
    """What became of one member of both runs."""
    need, melt = case.polymer_value("fusion_c"), case.film.value("melt_to_c")
    gloss = whole.when(whole.surface, melt, member)
    fused, bare_fused = whole.when(whole.bond_min, need, member), bare.when(bare.bond_min, need, member)
    return Fate(
        gloss_s=gloss, gloss_bond_c=None if gloss is None else whole.at(whole.bond, gloss, member),
        fusion_s=fused, bare_fusion_s=bare_fused, bond_max_c=float(whole.bond_min[:, member].max()),
        surface_at_fusion_c=None if fused is None else whole.at(whole.joint_max, fused, member),
        neighbour_c=float(bare.sound_max[:, member].max()) if bare_fused is None
        else bare.at(bare.sound_max, bare_fused, member),
        joint_max_c=float(whole.joint_max[:, member].max()))


def spread(case: Case, own: Fate, patience_s: float) -> Spread:
    """The doubt of an estimate whose own numbers are ``own``."""
    doubt = beside(Doubt.none(), sample(MEMBERS, priors_of(case)))
    whole, bare = (_quick(case, dish, patience_s, doubt) for dish in (False, True))
    plain, *others = (fate(case, whole, bare, i) for i in range(1 + MEMBERS))
    need, limit = case.polymer_value("fusion_c"), case.polymer_value("surface_limit_c")
    bond, hot = (np.array([getattr(one, name) for one in others]) for name in ("bond_max_c", "hottest_c"))
    radius, u_bond, u_hot = _radius(case, patience_s)
    glossy = [one.gloss_bond_c for one in others if one.gloss_bond_c is not None]
    still = min(float(bond.std()), float(hot.std())) < 1e-9
    return Spread(
        members=MEMBERS,
        gloss_bond_c=None if own.gloss_bond_c is None or not glossy else
        (min(own.gloss_bond_c, float(np.percentile(glossy, BAND[0]))),
         max(own.gloss_bond_c, float(np.percentile(glossy, BAND[1])))),
        band_pct=_time_band(plain, others, patience_s),
        u_bond_k=math.hypot(float(bond.std(ddof=1)), u_bond), u_hottest_k=math.hypot(float(hot.std(ddof=1)), u_hot),
        p_both=float(np.mean((bond >= need) & (hot <= limit))),
        correlation=None if still else float(np.corrcoef(bond, hot)[0, 1]), radius=radius)


def _quick(case: Case, dish: bool, patience_s: float, doubt: Doubt | None = None) -> Run:
    section = case.section(dish=dish, rings=12, slices=3)
    return march(section, values(case, section, doubt), replace(QUICK, end_s=patience_s))


def _time_band(plain: Fate, others: list[Fate], patience_s: float) -> tuple[float, float]:
    """How much sooner and later than the estimate, %: of the bare steel's fusion, else of the gloss."""
    name = "bare_fusion_s" if plain.bare_fusion_s else "gloss_s"
    middle = getattr(plain, name)
    if not middle:
        return UNTOLD_PCT
    times = [patience_s if getattr(one, name) is None else getattr(one, name) for one in others]
    low, high = (100.0 * (float(np.percentile(times, share)) / middle - 1.0) for share in TIME_BAND)
    return min(round(low), 0.0), max(min(round(high), MOST_PCT), 0.0)


def _radius(case: Case, patience_s: float) -> tuple[RadiusSays, float, float]:
    """A smaller and a larger disc under a whole film, and what the doubt of the radius adds to bond and hottest lining."""
    fates = []
    radii = tuple(min(max(case.radius_mm * f, 0.6 * case.spot_d_mm + 5.0), 5000.0) for f in (1.0 / RADIUS_STEP, RADIUS_STEP))
    for radius_mm in radii:
        other = case.but(radius_mm=radius_mm)
        run = _quick(other, False, patience_s)
        fates.append(fate(other, run, run, 0))
    small, large = fates
    share = case.radius_doubt / math.log(radii[1] / radii[0]) if radii[1] > radii[0] else 0.0
    says = RadiusSays(radii[0], small.bond_max_c, radii[1], large.bond_max_c)
    return (says, share * abs(small.bond_max_c - large.bond_max_c), share * abs(small.hottest_c - large.hottest_c))
