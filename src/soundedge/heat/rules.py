"""How hot is the bond line when the surface turns glossy, without any simulation?

While heat flows in, the surface is hotter than the steel under it by the gap q·d/k. The plate's thickness
only decides *when*; what the gloss means is decided by the flux and the film alone.

>>> q = surface_flux_w_m2(h_w_m2k=60, air_c=500, surface_c=176, emissivity=0.9, surroundings_c=20)
>>> round(q), round(bond_under_c(176, q, thickness_mm=0.8, k_w_mk=0.2), 1)
(17740, 105.0)
"""

from __future__ import annotations

SIGMA_W_M2K4 = 5.670374419e-8
ZERO_C_K = 273.15


def surface_flux_w_m2(*, h_w_m2k: float, air_c: float, surface_c: float, emissivity: float, surroundings_c: float) -> float:
    """Net heat flux into a surface under hot air.

    Parameters
    ----------
    h_w_m2k : float
        Heat transfer coefficient of the jet, W/m²K, above 0.
    air_c, surface_c, surroundings_c : float
        Air that reaches the surface, the surface, what it radiates to; °C.
    emissivity : float
        Of the surface, 0 to 1.

    Returns
    -------
    float
        W/m², positive into the surface: q = h·(T_air − T_s) − ε·σ·(T_s⁴ − T_a⁴).
    """
    surface_k, around_k = surface_c + ZERO_C_K, surroundings_c + ZERO_C_K
    return h_w_m2k * (air_c - surface_c) - emissivity * SIGMA_W_M2K4 * (surface_k**4 - around_k**4)


def gap_k(flux_w_m2: float, *, thickness_mm: float, k_w_mk: float) -> float:
    """Temperature difference across the film, K: q·d/k.

    Holds once the film has settled, a few times d²/α after a change (about 8 s for 0.8 mm PVDF), and while the
    steel warms slowly beside it.
    """
    return flux_w_m2 * thickness_mm * 1e-3 / k_w_mk


def bond_under_c(surface_c: float, flux_w_m2: float, *, thickness_mm: float, k_w_mk: float) -> float:
    """Bond-line temperature under a surface of ``surface_c`` with ``flux_w_m2`` going in, °C: T_s − q·d/k."""
    return surface_c - gap_k(flux_w_m2, thickness_mm=thickness_mm, k_w_mk=k_w_mk)


def gloss_bond_c(
    *, h_w_m2k: float, air_c: float, emissivity: float, melt_c: float, thickness_mm: float, k_w_mk: float,
    surroundings_c: float,
) -> float:
    """The gloss rule: bond temperature at the moment the surface has melted and shines, °C.

    Also the surface-limit rule, with the limit in place of ``melt_c``: the hottest bond that can be had
    without burning the surface. Against the transient model: within 5 K for 0.6 to 1.0 mm film on 6 to 20 mm steel under
    h of 60 to 90 W/m²K. Outside it is no temperature of the steel: where the jet melts the surface before heat has crossed
    the film (h·d/k of about 1 and more, a reducer) the value falls below the part's own temperature at the start, without
    end; where the air is barely hotter than melting, it comes close to ``melt_c``, for the film then never gets there in time.
    """
    q = surface_flux_w_m2(h_w_m2k=h_w_m2k, air_c=air_c, surface_c=melt_c, emissivity=emissivity, surroundings_c=surroundings_c)
    return bond_under_c(melt_c, q, thickness_mm=thickness_mm, k_w_mk=k_w_mk)


def highest_useful_air_c(
    *, surface_limit_c: float, bond_needed_c: float, thickness_mm: float, k_w_mk: float, h_w_m2k: float,
    emissivity: float, surroundings_c: float,
) -> float:
    """Hottest air at which the bond can reach ``bond_needed_c`` before the surface passes its limit, °C.

    T_air = T_lim + [k·(T_lim − T_needed)/d + ε·σ·(T_lim⁴ − T_a⁴)]/h. Above it, waiting makes nothing better:
    turn the air down, or preheat the part.
    """
    limit_k, around_k = surface_limit_c + ZERO_C_K, surroundings_c + ZERO_C_K
    radiated = emissivity * SIGMA_W_M2K4 * (limit_k**4 - around_k**4)
    conducted = k_w_mk * (surface_limit_c - bond_needed_c) / (thickness_mm * 1e-3)
    return surface_limit_c + (conducted + radiated) / h_w_m2k
