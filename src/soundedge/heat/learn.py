"""What do a few readings of the polymer or of the back tell about this gun on this part, and what is to be done next?

A plate test once for each gun gives its heat directly. During the job the readings narrow the priors (Gauss-Newton to
the most probable values, Laplace around them), and the model looks ahead from there. Jet strength and air temperature
cannot be told apart; their product, the flux, can.

>>> test = plate_test(material_key="carbon_steel", plate_mm=8, times_s=[5, 15, 25, 35, 45, 55],
...     readings_c=[22.0, 26.1, 30.1, 34.1, 38.0, 41.9], h_mean_w_m2k=40, air_mean_c=330, ambient_c=20)
>>> round(test.rate_k_s, 2), round(test.factor, 2)
(0.4, 1.04)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

import numpy as np

from ..basis.errors import NotEnough
from ..basis.materials import material
from ..basis.sentences import say
from .case import E_BACK, H_BACK_W_M2K, Case, values
from .doubt import NAMES, from_normals, normals, percentiles, priors_of
from .infrared import reading_c, true_c
from .march import Program, Run, Values, march
from .plan import PATIENCE_S, Window
from .rules import SIGMA_W_M2K4, ZERO_C_K
from .section import Section

Advice = Literal["hold", "next_layer", "back_off", "steel_is_cold"]
NOISE_K = 2.5
GAIN = 0.015
E_POLYMER, U_E_POLYMER = 0.91, 0.025
E_DOT = 0.95
QUICK_K, QUICK_S = 60.0, 30.0
"""A surface that falls this fast once the gun is away lies on cold steel."""


@dataclass(frozen=True)
class PlateTest:
    """Heat of one gun at one setting, from a plate of known steel: flux into it and the factor on the model's jet."""

    rate_k_s: float
    flux_w_m2: float
    factor: float
    u_factor: float


def plate_test(
    *, material_key: str, plate_mm: float, times_s: Sequence[float], readings_c: Sequence[float], h_mean_w_m2k: float,
    air_mean_c: float, ambient_c: float, emissivity: float = 0.95,
) -> PlateTest:
    """Flux and calibration factor from a plate heated for about a minute.

    Parameters
    ----------
    times_s, readings_c : list of float
        At least 4 readings over at least 20 s, of the back or of a black-painted plate.
    h_mean_w_m2k, air_mean_c : float
        The model's jet, averaged over the plate.

    Returns
    -------
    PlateTest
        q = ρ·c·H·dT/dt + what the back loses; factor = (q + radiated)/(h·(T_air − T)).

    Raises
    ------
    NotEnough
        Fewer than 4 readings, or all within 20 s, or a plate that does not warm.
    """
    t, y = np.asarray(times_s, dtype=float), np.asarray(readings_c, dtype=float)
    if len(t) < 4 or t.max() - t.min() < 20.0:
        raise NotEnough("plate_test.readings",
                        say("heat.plate_test_too_short", n=len(t), seconds=t.max() - t.min() if len(t) else 0))
    steel = material(material_key, kind="metal")
    slope, offset = np.polyfit(t - t.mean(), y, 1)
    if slope <= 0.01:
        raise NotEnough("plate_test.readings", say("heat.plate_warms_too_slowly", k_s=slope))
    middle = float(offset)
    rest = y - (slope * (t - t.mean()) + offset)
    u_slope = math.sqrt(float(rest @ rest) / (len(t) - 2) / float(((t - t.mean()) ** 2).sum()))
    store = steel.value("density_kg_m3") * steel.value("heat_capacity_j_kgk") * plate_mm * 1e-3
    k, a = middle + ZERO_C_K, ambient_c + ZERO_C_K
    radiated = SIGMA_W_M2K4 * (k**4 - a**4)
    lost = H_BACK_W_M2K * (middle - ambient_c) + E_BACK * radiated
    flux = store * float(slope) + lost
    drive = h_mean_w_m2k * (air_mean_c - middle)
    if drive <= 0:
        raise NotEnough("plate_test.readings", say("heat.plate_hotter_than_air", plate_c=middle, air_c=air_mean_c))
    factor = (flux + emissivity * radiated) / drive
    share = math.hypot(u_slope / float(slope), 0.045)  # steel's own heat 4 %, thickness 2 %
    return PlateTest(float(slope), flux, factor, factor * share)


@dataclass(frozen=True)
class Seen:
    """One reading while working, °C: of the polymer at ``r_mm``, of a painted dot, or of the back."""

    time_s: float
    reading_c: float
    aimed_at: str
    emissivity_set: float = 0.95
    r_mm: float | None = None
    gun_on: bool = True


@dataclass(frozen=True)
class Known:
    """What the readings leave: °C, s. ``bond_now_c``, ``bond_later_c``: P10, P50, P90; ``effective`` is the effective
    sample size of ``members``; ``ready_s`` when the first layer may go on (None: not in this time)."""

    used: int
    ignored: tuple[tuple[int, str], ...]
    contradictions: tuple[str, ...]
    bond_now_c: tuple[float, float, float]
    bond_prior_now_c: tuple[float, float, float]
    bond_later_c: tuple[float, float, float]
    later_s: float
    neighbour_now_c: tuple[float, float, float]
    ready_s: tuple[float, float, float] | None
    p_ready: float
    flux_factor: tuple[float, float, float]
    effective: float
    members: int
    advice: Advice
    because: str


def learn(
    case: Case, window: Window, seen: Sequence[Seen], *, later_s: float = 1500.0, layers_laid_s: Sequence[float] = (),
    members: int = 64,
) -> Known:
    """Narrow the priors by the readings and look ahead.

    Parameters
    ----------
    seen : list of Seen
        In the order of time, gun start at 0 s. Readings of ground steel are set aside.
    later_s : float
        How far to look ahead of the last reading.
    layers_laid_s : list of float
        When layers went on; empty while the dish is still bare.

    Returns
    -------
    Known

    Raises
    ------
    NotEnough
        No reading is left that says anything.
    """
    ignored, kept = [], []
    for number, one in enumerate(seen):
        if one.aimed_at == "ground_steel":
            ignored.append((number, "ground steel: its emissivity is anything from 0.1 to 0.6"))
        elif not one.gun_on:
            ignored.append((number, "taken with the gun away: used for the cooling check only"))
        else:
            kept.append(one)
    if not kept:
        raise NotEnough("readings", say("heat.steel_not_read"))
    section = case.section(dish=True, layers=max(len(layers_laid_s), 0), rings=16)
    now = max(one.time_s for one in seen)
    end = now + later_s
    every = float(np.mean(np.diff(layers_laid_s))) if len(layers_laid_s) > 1 else 60.0
    first = layers_laid_s[0] if len(layers_laid_s) else 1e30
    program = Program(end_s=end, lay_start_s=first, lay_every_s=max(every, 1.0), finish_s=1e29, share=0.06,
                      longest_s=15.0, longest_laying_s=2.0)
    priors = priors_of(case)
    places = [_between(section.middles_mm, _radius(one, case)) for one in kept]
    truth, sigma = np.array([_true(one, case) for one in kept]).T

    def foretell(z: np.ndarray) -> tuple[np.ndarray, Run, list[np.ndarray]]:
        tracks = _march_tracks(section, values(case, section, from_normals(z, priors)), program)
        run, surfaces, backs, steels = tracks
        out = np.empty((len(z), len(kept)))
        for j, (one, (ring, part)) in enumerate(zip(kept, places)):
            source = backs if one.aimed_at == "back_contact" else steels if one.aimed_at == "painted_dot" else surfaces
            line = (1.0 - part) * source[:, :, ring] + part * source[:, :, ring + 1]
            for i in range(len(z)):
                out[i, j] = np.interp(one.time_s, run.t, line[:, i])
        return out, run, [surfaces, backs, steels]

    width = len(NAMES)
    z = np.zeros(width)
    step = 0.3
    for _ in range(3):
        probe = np.vstack([z, z + step * np.eye(width)])
        y, _, _ = foretell(probe)
        jacobian = (y[1:] - y[0]).T / step / sigma[:, None]
        rest = (truth - y[0]) / sigma
        precision = jacobian.T @ jacobian + np.eye(width)
        z = np.clip(np.linalg.solve(precision, jacobian.T @ (rest + jacobian @ z)), -4.0, 4.0)
    spread = np.linalg.cholesky(np.linalg.inv(precision))
    standard = normals(members, width)
    cloud = np.clip(z + standard @ spread.T, -5.0, 5.0)
    y, run, _ = foretell(np.vstack([z, cloud]))
    misfit = ((truth - y[1:]) / sigma) ** 2
    log_w = -0.5 * misfit.sum(axis=1) - 0.5 * (cloud**2).sum(axis=1) + 0.5 * (standard**2).sum(axis=1)
    w = np.exp(log_w - log_w.max())
    effective = float(w.sum() ** 2 / (w**2).sum())
    if effective < 0.25 * members:  # temper: the Laplace cloud itself stands when the weights collapse
        w = w ** (0.5 if effective > 0.05 * members else 0.0)
    bond_now = np.array([run.at(run.bond_min, now, i) for i in range(1, members + 1)])
    bond_later = np.array([run.at(run.bond_min, end, i) for i in range(1, members + 1)])
    ring_now = np.array([run.at(run.sound_max, now, i) for i in range(1, members + 1)])
    ready = [run.when(run.bond_min, window.start_c, i) for i in range(1, members + 1)]
    share = w / w.sum()
    p_ready = float(share @ np.array([t is not None for t in ready]))
    times = np.array([2.0 * PATIENCE_S + end if t is None else t for t in ready])
    prior_run = _march_tracks(section, values(case, section, from_normals(normals(32, width), priors)), program)[0]
    prior = np.array([prior_run.at(prior_run.bond_min, now, i) for i in range(32)])
    residual = (truth - y[0]) / np.hypot(sigma, 1.0)
    contradictions = _contradictions(kept, seen, truth, residual)
    doubt = from_normals(cloud, priors)
    flux = doubt.h * (case.gun_c + doubt.air_k - 150.0) / max(case.gun_c - 160.0, 1.0)
    now_p, ring_p = percentiles(bond_now, w), percentiles(ring_now, w)
    later_p = percentiles(bond_later, w)
    advice, because = _advice(window, now_p, ring_p, later_p, layers_laid_s, now, contradictions, later_s)
    return Known(
        len(kept), tuple(ignored), tuple(contradictions), now_p, percentiles(prior), later_p, end, ring_p,
        percentiles(times, w) if p_ready > 0.1 else None, p_ready, percentiles(flux, w), effective, members, advice,
        because)


def _between(middles: np.ndarray, r_mm: float) -> tuple[int, float]:
    """The ring at or inside ``r_mm`` and how far it lies towards the next, 0 to 1."""
    ring = int(np.clip(np.searchsorted(middles, r_mm) - 1, 0, len(middles) - 2))
    return ring, float(np.clip((r_mm - middles[ring]) / (middles[ring + 1] - middles[ring]), 0.0, 1.0))


def _radius(one: Seen, case: Case) -> float:
    if one.r_mm is not None:
        return one.r_mm
    return 0.5 * case.spot_d_mm + case.feather_mm + 10.0 if one.aimed_at == "polymer" else 0.0


def _true(one: Seen, case: Case) -> tuple[float, float]:
    """True temperature behind a reading and its standard uncertainty, °C and K."""
    if one.aimed_at == "back_contact":
        return one.reading_c, math.hypot(NOISE_K, 0.01 * abs(one.reading_c - case.ambient_c))
    e = E_POLYMER if one.aimed_at == "polymer" else E_DOT
    true, other = (
        true_c(reading_c=one.reading_c, emissivity_set=one.emissivity_set, emissivity_true=each,
               surroundings_c=case.ambient_c) for each in (e, e - U_E_POLYMER))
    return true, math.hypot(NOISE_K, GAIN * (true - case.ambient_c), other - true)


def _march_tracks(section: Section, many: Values, program: Program) -> tuple[Any, ...]:
    """A march that also keeps every ring's surface, back and steel front at every step."""
    tracks: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    run = march(section, many, program, watch=lambda s, b, f: tracks.append((s.copy(), b.copy(), f.copy())))
    return run, *(np.array([row[i] for row in tracks]) for i in range(3))


def _contradictions(kept: Sequence[Seen], seen: Sequence[Seen], truth: np.ndarray, residual: np.ndarray) -> list[str]:
    out = []
    for one, true, r in zip(kept, truth, residual):
        if abs(r) > 3.0:
            side = "hotter" if r > 0 else "colder"
            out.append(f"The reading of {one.reading_c:g} °C at {one.time_s:g} s ({one.aimed_at.replace('_', ' ')}, about "
                       f"{true:.0f} °C true) is {side} than anything the model can make of the others. Read again.")
    by_time = sorted(seen, key=lambda one: one.time_s)
    for a, b in pairwise(by_time):
        if a.aimed_at == b.aimed_at == "polymer" and a.gun_on and not b.gun_on and b.time_s > a.time_s:
            if (a.reading_c - b.reading_c) / (b.time_s - a.time_s) > QUICK_K / QUICK_S and \
                    a.reading_c - b.reading_c > 0.5 * QUICK_K:
                out.append(f"The surface fell by {a.reading_c - b.reading_c:.0f} K in {b.time_s - a.time_s:.0f} s with the "
                           "gun away: the steel under it is cold.")
    for one in kept:
        if one.aimed_at == "back_contact":
            near = [o for o in kept if o.aimed_at == "polymer" and abs(o.time_s - one.time_s) <= 10]
            if near and one.reading_c > min(o.reading_c for o in near) + 15:
                out.append(f"At {one.time_s:g} s the back reads hotter than the heated surface: one of the two is wrong.")
    return out


def _advice(
    window: Window, now_c: tuple[float, float, float], ring_c: tuple[float, float, float],
    later_c: tuple[float, float, float], laid: Sequence[float], now: float, contradictions: Sequence[str], later_s: float,
) -> tuple[Advice, str]:
    if any("steel under it is cold" in words for words in contradictions):
        return "steel_is_cold", "The surface fell as it only does over cold steel. Take the gun off the powder, heat the steel."
    if ring_c[2] >= window.pause_c:
        return "back_off", (f"The lining around the spot may be at {ring_c[2]:.0f} °C (P90); hold the gun away below "
                            f"{window.pause_c:.0f} °C.")
    if not len(laid):
        if now_c[0] >= window.start_c:
            return "next_layer", f"The coldest bond is at {now_c[0]:.0f} °C or more (P10): the first layer may go on."
        if later_c[2] < window.fusion_c:
            return "steel_is_cold", (f"Even in {later_s / 60:.0f} min the bond is at {later_c[2]:.0f} °C at best (P90): this "
                                     "gun does not bring it to fusion. Preheat the part or heat the back.")
        return "hold", (f"The bond is at {now_c[0]:.0f} to {now_c[2]:.0f} °C and must reach {window.start_c:.0f} °C for the "
                        "first layer.")
    if now_c[1] < window.fusion_c:
        return "steel_is_cold", (f"Layers lie on a bond of {now_c[1]:.0f} °C (P50), below fusion at {window.fusion_c:g} °C: no "
                                 "more powder until it is hot.")
    if now_c[0] >= window.fusion_c and now - laid[-1] >= window.dwell_s:
        return "next_layer", f"The bond has held {now_c[0]:.0f} °C (P10) and the last layer has had its {window.dwell_s:g} s."
    return "hold", f"The last layer has had {now - laid[-1]:.0f} s of {window.dwell_s:g} s, bond {now_c[0]:.0f} °C (P10)."


def expected_reading_c(true: float, around_c: float) -> float:
    """What an instrument set to 0.95 shows for polymer at ``true``, °C."""
    return reading_c(true_c=true, emissivity_set=0.95, emissivity_true=E_POLYMER, surroundings_c=around_c)
