"""Solvent vapour in a space: how concentrated does it get, and how long must the space be aired?

Six millilitres of acetone wiped in an 80-litre casing:

>>> from soundedge.hazards.solvents import solvent
>>> acetone = solvent("acetone")
>>> ppm = vapour_ppm(acetone, ml=6, space_l=80, air_c=20)
>>> round(ppm), round(lel_pct(acetone, ppm))
(24571, 98)
>>> round(minutes_to(ppm, 2500, air_changes_per_h=6, mixing_factor=3))
69
"""

from __future__ import annotations

import math

from .solvents import Solvent

GAS_CONSTANT = 8.314462618  # J/(mol K), exact: BIPM SI brochure, 9th edition
AIR_G_MOL = 28.96  # mean molar mass of dry air
PPM_ALL = 1e6


def molar_volume_l(air_c: float, air_kpa: float = 101.325) -> float:
    """Volume of one mole of gas, V = R·T/p. [l/mol]

    >>> round(molar_volume_l(20.0), 2)
    24.06
    """
    return GAS_CONSTANT * (air_c + 273.15) / air_kpa


def vapour_l(solvent: Solvent, ml: float, air_c: float, air_kpa: float = 101.325) -> float:
    """Vapour of ``ml`` of liquid, all of it evaporated: V = ml·ρ/M·(R·T/p). [l]"""
    grams = ml * solvent.value("density_kg_m3") / 1000.0
    return grams / solvent.value("molar_mass_g_mol") * molar_volume_l(air_c, air_kpa)


def vapour_ppm(
    solvent: Solvent, *, ml: float, space_l: float, air_c: float, air_kpa: float = 101.325,
    evaporated_fraction: float = 1.0,
) -> float:
    """Vapour in a space when what evaporated is mixed through all of it.

    Parameters
    ----------
    ml : float
        Liquid, at least 0. [ml]
    space_l : float
        Free air in the space, above 0. [l]
    air_c, air_kpa : float
        Air in the space. [°C], [kPa]
    evaporated_fraction : float
        Share that has evaporated, 0 to 1.

    Returns
    -------
    float
        [ppm by volume], at most one million. The vapour is counted on top of the air, which the space
        holds only while it is small beside it; saturation is not looked at here (``saturation_ppm``).
    """
    return min(PPM_ALL, 1e6 * evaporated_fraction * vapour_l(solvent, ml, air_c, air_kpa) / space_l)


def saturation_ppm(solvent: Solvent, air_c: float, air_kpa: float = 101.325) -> float:
    """The most the air can hold: 10⁶·p_s/p. [ppm] Any more stays liquid and keeps evaporating."""
    return min(PPM_ALL, 1e6 * solvent.vapour_pressure_kpa(air_c) / air_kpa)


def lel_pct(solvent: Solvent, ppm: float) -> float:
    """Vapour as a share of the lower explosive limit. [%]"""
    return ppm / (solvent.value("lel_pct") * 1e4) * 100.0


def minutes_to(ppm: float, target_ppm: float, *, air_changes_per_h: float, mixing_factor: float) -> float | None:
    """Airing time until ``ppm`` has fallen to ``target_ppm``.

    Parameters
    ----------
    ppm, target_ppm : float
        Above 0. [ppm]
    air_changes_per_h : float
        Fresh air over the volume of the space, Q/V, at least 0. [1/h]
    mixing_factor : float
        K, at least 1; 3 to 10 for poor mixing.

    Returns
    -------
    float or None
        [min]; None when nothing needs to fall, or when no air is changed and it never will.

    Notes
    -----
    t = (V·K/Q)·ln(C₀/C), a well-mixed space with a factor for poor mixing; nothing evaporates any more.
    """
    if ppm <= target_ppm or air_changes_per_h <= 0:
        return None
    return 60.0 * mixing_factor / air_changes_per_h * math.log(ppm / target_ppm)


def heavier_than_air(solvent: Solvent) -> float:
    """Density of the vapour beside that of air at the same temperature, M/28.96."""
    return solvent.value("molar_mass_g_mol") / AIR_G_MOL
