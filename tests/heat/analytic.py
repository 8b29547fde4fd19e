"""Published closed solutions of heat conduction, written out from the books' formulas: nothing here is shared with the
code under test. SI and °C (or differences). Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.; Incropera and
DeWitt; Alexiades and Solomon for melting. Formulas from memory; each is checked against a number computed elsewhere to
25 digits."""

import math

import numpy as np
from scipy.optimize import brentq
from scipy.special import erf, erfc, i0, k1


def ierfc(x):
    return np.exp(-x * x) / np.sqrt(np.pi) - x * erfc(x)


def semi_infinite_convection(x, t, *, start, fluid, h, k, alpha):
    """Half-space under a fluid (Carslaw and Jaeger 2.7)."""
    a = x / (2 * np.sqrt(alpha * t))
    b = h * np.sqrt(alpha * t) / k
    return start + (fluid - start) * (erfc(a) - np.exp(h * x / k + b * b) * erfc(a + b))


def freezing_depth(t, *, start, surface, level, alpha):
    """Depth at which a half-space under a constant surface temperature stands at ``level``."""
    return 2 * np.sqrt(alpha * t) * brentq(lambda z: surface + (start - surface) * erf(z) - level, 0, 5)


def plane_wall(z_share, t, *, thickness, h, k, alpha, start, fluid, terms=80):
    """Wall insulated at the back (z = 0) under a fluid at z = 1: the full series."""
    biot, fourier = h * thickness / k, alpha * t / thickness**2
    out = 0.0
    for n in range(terms):
        zeta = brentq(lambda z: z * np.sin(z) - biot * np.cos(z), n * np.pi + 1e-9, n * np.pi + np.pi / 2 - 1e-12)
        c = 4 * np.sin(zeta) / (2 * zeta + np.sin(2 * zeta))
        out += c * np.exp(-(zeta**2) * fourier) * np.cos(zeta * z_share)
    return fluid + (start - fluid) * out


def flux_disc(t, *, q, radius, k, alpha):
    """Middle of a disc of flux on a half-space (Carslaw and Jaeger 10.5)."""
    root = np.sqrt(alpha * t)
    return 2 * q * root / k * (1 / np.sqrt(np.pi) - ierfc(radius / (2 * root)))


def gaussian_flux(t, *, q, width, k, alpha):
    """Middle of a Gaussian of flux on a half-space."""
    return q * width / (k * np.sqrt(np.pi)) * np.arctan(2 * np.sqrt(alpha * t) / width)


def film_on_half_space(t, *, q, d, film, base, terms=400):
    """Surface and bond rise of a film on a half-space under a constant flux; film and base are (k, rho, c)."""
    (k1_, r1, c1), (k2, r2, c2) = film, base
    alpha = k1_ / (r1 * c1)
    e1, e2 = np.sqrt(k1_ * r1 * c1), np.sqrt(k2 * r2 * c2)
    beta = (e1 - e2) / (e1 + e2)
    root = np.sqrt(alpha * t)
    n = np.arange(1, terms)
    surface = 2 * q * root / k1_ * (ierfc(0.0) + 2 * np.sum(beta**n * ierfc(n * d / root)))
    m = np.arange(0, terms)
    bond = 2 * q * root / k1_ * (1 + beta) * np.sum(beta**m * ierfc((2 * m + 1) * d / (2 * root)))
    return surface, bond


def stefan(*, cp, latent, dt):
    """λ of the one-phase Stefan problem; front at 2·λ·√(αt)."""
    number = cp * dt / latent
    return number, brentq(lambda z: np.sqrt(np.pi) * z * np.exp(z * z) * erf(z) - number, 1e-6, 5)


def neumann(*, wall, melt, start, latent, k_solid, k_liquid, c_solid, c_liquid, rho):
    """λ of the two-phase melting problem; front at 2·λ·√(α_liquid·t)."""
    a_l, a_s = k_liquid / (rho * c_liquid), k_solid / (rho * c_solid)
    nu = np.sqrt(a_l / a_s)

    def balance(z):
        hot = k_liquid * (wall - melt) / (np.sqrt(np.pi * a_l) * erf(z)) * np.exp(-z * z)
        cold = k_solid * (melt - start) / (np.sqrt(np.pi * a_s) * erfc(nu * z)) * np.exp(-((nu * z) ** 2))
        return hot - cold - rho * latent * z * np.sqrt(a_l)

    z = brentq(balance, 1e-4, 2)
    return z, lambda t: 2 * z * np.sqrt(a_l * t)


def plate_hot_spot(r, *, q, radius, plate, k, loss):
    """Steady disc of flux on a thin wide plate with loss, inside the disc."""
    m = np.sqrt(loss / (k * plate))
    return q / loss * (1 - m * radius * k1(m * radius) * i0(m * r))


def lumped_tau_s(*, plate_mm: float, density_kg_m3: float, heat_capacity_j_kgk: float, loss_w_m2k: float) -> float:
    """Time constant of a plate that cools through both faces, s: ρ·c·H/h, h of both faces together."""
    return density_kg_m3 * heat_capacity_j_kgk * plate_mm * 1e-3 / loss_w_m2k


def lumped_cool_s(start_c: float, end_c: float, around_c: float, tau_s: float) -> float | None:
    """Time for a plate to cool from ``start_c`` to ``end_c`` in still air, s; None when it never gets there.

    τ·ln[(T₀ − T_a)/(T − T_a)]. Takes the whole plate at one temperature; a spot in a wide cold plate cools faster.
    """
    if end_c >= start_c:
        return 0.0
    if end_c <= around_c:
        return None
    return tau_s * math.log((start_c - around_c) / (end_c - around_c))


def radiated_time_s(
    start_c: float, end_c: float, around_c: float, *, plate_mm: float, density_kg_m3: float,
    heat_capacity_j_kgk: float, emissivity: float, faces: int = 2,
) -> float:
    """Time for a plate to cool by radiation alone, s (Heat Transfer Handbook).

    t = C/(4·T_s³)·{ln[(T + T_s)/(T − T_s)] + 2·atan(T/T_s)} between the two temperatures,
    C = ρ·c·H/(n·ε·σ), kelvin; ``end_c`` must lie above ``around_c``.
    """
    c = density_kg_m3 * heat_capacity_j_kgk * plate_mm * 1e-3 / (faces * emissivity * 5.670374419e-8)
    around = around_c + 273.15

    def term(temperature_c: float) -> float:
        t = temperature_c + 273.15
        return math.log((t + around) / (t - around)) + 2.0 * math.atan(t / around)

    return c / (4.0 * around**3) * (term(end_c) - term(start_c))
