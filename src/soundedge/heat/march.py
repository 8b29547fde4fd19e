"""How do steel and film warm and cool, second by second, for one set of values or for many at once?

Each step lets heat spread along the plate (exactly, by its own modes) and through it: an implicit step of two
stages over every column, which damps whatever a sudden change stirs up, with short steps after each change that grow
with the time since. Melting is kept in the enthalpy, which moves only by heat that has passed: nothing is lost.

``march`` takes many members side by side in NumPy; once ``compiled.wake`` was called in this process, it goes by the compiled
march wherever that gives the same answer.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from ..basis.remembered import remembered
from .rules import SIGMA_W_M2K4, ZERO_C_K
from .section import SKIN_M, Section

_GAMMA = 1.0 - 0.5 * 2.0**0.5
NEVER = 1e30
compiled: Callable[[Section, Values, Program], Run | None] | None = None
"""The same march in machine code, or None for what it does not do; ``compiled.wake`` puts it here."""


@dataclass(frozen=True)
class Values:
    """Everything with a number that may differ from member to member: arrays of shape (members,).

    Temperatures °C, the rest SI. ``h_gun``, ``air_gun``, ``h_back``, ``air_back`` have shape (members, rings).
    ``h_back_off`` is the back once the work is over: a second gun is laid down with the first.
    """

    start_c: np.ndarray
    ambient_c: np.ndarray
    k_steel: np.ndarray
    rc_steel: np.ndarray
    plate_scale: np.ndarray
    film_scale: np.ndarray
    k_solid: np.ndarray
    k_melt: np.ndarray
    rc_solid: np.ndarray
    rc_melt: np.ndarray
    latent: np.ndarray
    melt_from_c: np.ndarray
    melt_to_c: np.ndarray
    k_powder: np.ndarray
    e_film: np.ndarray
    e_bare: np.ndarray
    e_back: np.ndarray
    h_idle: np.ndarray
    h_rim: np.ndarray
    h_gun: np.ndarray
    air_gun: np.ndarray
    h_back: np.ndarray
    air_back: np.ndarray
    h_back_off: np.ndarray

    @property
    def members(self) -> int:
        """How many members."""
        return len(self.start_c)

    def only(self, which: slice | np.ndarray) -> Values:
        """Some of the members."""
        return Values(**{name: getattr(self, name)[which] for name in self.__dataclass_fields__})


@dataclass(frozen=True)
class Program:
    """What is done, by the clock and by the temperatures.

    ``gun_off_s``: when the gun is laid down for good. ``pause_c``: when a surface passes that, the gun is held
    away for ``away_s``.
    ``lay_start_c``: the first layer goes on when the coldest bond has reached this; ``lay_every_s`` between layers;
    ``finish_s`` after the last layer the gun is laid down. ``stop_bond_c``: end as soon as every member's coldest
    bond has reached it; ``stop_surface_c``: when, the gun laid down, every surface has cooled to that. ``hold_s``
    lets the run go on that long after the gun was laid down.
    """

    end_s: float
    gun_off_s: float = NEVER
    pause_c: float = NEVER
    away_s: float = 10.0
    lay_start_c: float = NEVER
    lay_start_s: float = NEVER
    lay_every_s: float = 60.0
    finish_s: float = 180.0
    hold_s: float = 0.0
    stop_bond_c: float = NEVER
    stop_surface_c: float = -NEVER
    fusion_c: float = NEVER
    dose_k: float = 0.0
    dose_ref_c: float = 250.0
    first_s: float = 0.05
    share: float = 0.04
    longest_s: float = 8.0
    longest_laying_s: float = 1.0
    late_s: float = 1500.0
    longest_late_s: float = 20.0
    snaps_s: tuple[float, ...] = ()

    def finer(self, factor: float) -> Program:
        """The same with all time steps divided by ``factor``."""
        return replace(self, first_s=self.first_s / factor, share=self.share / factor,
                       longest_s=self.longest_s / factor, longest_late_s=self.longest_late_s / factor,
                       longest_laying_s=self.longest_laying_s / factor)


@dataclass
class Run:
    """What came out. Series have shape (steps + 1, members), temperatures in °C, the first at time 0.

    ``bond``: middle of the spot; ``bond_min``: coldest place of the bond; ``surface``: above the middle;
    ``joint_max``, ``sound_max``: hottest surface of the repair and of the lining around it; ``back``: behind the
    middle; ``gun``: 1 while it blows. ``dwell_s``, ``hottest_c``, ``dose_s`` (members, rings): time of the bond above
    fusion with film on it, hottest surface, equivalent seconds. ``layer_s`` (layers, members, rings): time each
    layer was fully molten. ``laid_s`` (layers, members): when it went on; NaN when never.
    ``heat_in_j``, ``heat_stored_j`` (members): the energy check.
    """

    t: np.ndarray
    bond: np.ndarray
    bond_min: np.ndarray
    surface: np.ndarray
    joint_max: np.ndarray
    sound_max: np.ndarray
    back: np.ndarray
    gun: np.ndarray
    dwell_s: np.ndarray
    hottest_c: np.ndarray
    dose_s: np.ndarray
    layer_s: np.ndarray
    laid_s: np.ndarray
    heat_in_j: np.ndarray
    heat_stored_j: np.ndarray
    bond_at_end: np.ndarray
    snaps: list[tuple[float, np.ndarray]] = field(default_factory=list)

    def when(self, series: np.ndarray, level: float, member: int = 0) -> float | None:
        """First time a series reaches ``level`` from below, s, on a straight line between steps; None if never."""
        y = series[:, member]
        hit = np.flatnonzero(y >= level)
        if not len(hit):
            return None
        i = int(hit[0])
        if i == 0:
            return 0.0
        part = (level - y[i - 1]) / (y[i] - y[i - 1])
        return float(self.t[i - 1] + part * (self.t[i] - self.t[i - 1]))

    def at(self, series: np.ndarray, time_s: float, member: int = 0) -> float:
        """A series at a time, on a straight line between steps."""
        return float(np.interp(time_s, self.t, series[:, member]))


def march(
    section: Section, values: Values, program: Program, *,
    watch: Callable[[np.ndarray, np.ndarray, np.ndarray], None] | None = None,
) -> Run:
    """Run all members side by side.

    Parameters
    ----------
    section : Section
        The cells; shared by all members, which may scale plate and film (``plate_scale``, ``film_scale``).
    values : Values
        Shapes as there.
    program : Program
    watch : callable, optional
        Is shown surface, back and steel front (members, rings) at the start and after every step.

    Returns
    -------
    Run
        Not to be changed: who asks the same again gets the same run.

    Notes
    -----
    Second order in space and time; steps of 0.05 s + 4 % of the time since the last change, at most 8 s
    (20 s once 25 minutes have gone).
    With several members the short steps after a layer or a pause of one of them are not taken: surfaces may be
    a few kelvin off for a second.
    SDIRK2: Alexander (1977), gamma = 1 - 1/sqrt(2), stiffly accurate, so nothing rings after a jump.
    """
    return _watched(section, values, program, watch) if watch is not None else _run(section, values, program)


def _numbers(section: Section, values: Values, program: Program) -> tuple[Any, ...]:
    arrays = (np.asarray(one) for one in (*vars(section).values(), *vars(values).values()))
    return program, *((one.shape, one.dtype.str, one.tobytes()) for one in arrays)


@remembered(32, key=_numbers)
def _run(section: Section, values: Values, program: Program) -> Run:
    found = compiled(section, values, program) if compiled is not None else None
    return _watched(section, values, program, None) if found is None else found


def _watched(section: Section, values: Values, program: Program,
             watch: Callable[[np.ndarray, np.ndarray, np.ndarray], None] | None) -> Run:
    m, nr, ns = values.members, section.rings, section.slices
    rows, films = section.rows, len(section.film_m)
    v = values
    col = _column
    ambient, from_c, to_c = col(v.ambient_c), col(v.melt_from_c), col(v.melt_to_c)
    ks, kl, kp = col(v.k_solid), col(v.k_melt), col(v.k_powder)
    rcs, rcl = col(v.rc_solid), col(v.rc_melt)
    rcm = col(v.latent) / (to_c - from_c) + 0.5 * (rcs + rcl)
    h1 = rcs * from_c
    h2 = h1 + rcm * (to_c - from_c)
    rates, left, right = section.spread()
    alpha = col(v.k_steel / v.rc_steel)
    areas = section.areas_m2
    rim_rate = v.h_rim / v.rc_steel * 2.0 * np.pi * section.edges_m[-1] / areas[-1]
    d_steel = section.steel_m * col(v.plate_scale)
    full = np.maximum(section.film_m[:, None, :] * v.film_scale[None, :, None], SKIN_M)
    layer_of, layers = section.layer_of, section.layers
    d = np.where((layer_of < 0)[:, None, None], full, SKIN_M)
    powder = np.zeros((films, m, nr), dtype=bool)
    steel = np.ones((ns, m, nr)) * v.start_c[None, :, None]
    film = np.ones((films, m, nr)) * v.start_c[None, :, None]
    t_all = np.empty((rows, m, nr))
    cap = np.empty((rows, m, nr))
    half = np.empty((rows, m, nr))
    cap[:ns] = col(v.rc_steel) * d_steel
    half[:ns] = 0.5 * d_steel / col(v.k_steel)

    def enthalpy(t: np.ndarray) -> np.ndarray:
        solid, melting = rcs * np.minimum(t, from_c), rcm * np.clip(t - from_c, 0.0, to_c - from_c)
        return np.asarray(solid + melting + rcl * np.maximum(t - to_c, 0.0))

    def temperature(h: np.ndarray) -> np.ndarray:
        solid, melting = np.minimum(h, h1) / rcs, np.clip(h - h1, 0.0, h2 - h1) / rcm
        return np.asarray(solid + melting + np.maximum(h - h2, 0.0) / rcl)

    def stored() -> np.ndarray:
        return np.asarray(((cap[:ns] * steel).sum(axis=0) + (d * enthalpy(film)).sum(axis=0)) @ areas)

    joint, sound = section.joint, section.sound
    b = section.bond_row
    next_layer = np.zeros(m, dtype=int)
    next_s = np.full(m, program.lay_start_s)
    off_s = np.full(m, program.gun_off_s)
    laid = np.full((layers, m), np.nan)
    gun, away_s = np.ones(m, dtype=bool), np.full(m, -1.0)
    dwell, hottest = np.zeros((m, nr)), np.full((m, nr), -NEVER)
    dose = np.zeros((m, nr))
    layer_s = np.zeros((layers, m, nr))
    heat_in, brought = np.zeros(m), np.zeros(m)
    before = stored()
    surface_c = np.ones((m, nr)) * v.start_c[:, None]
    bond_c, back_c = surface_c.copy(), surface_c.copy()
    bare = np.asarray(section.film_m[layer_of < 0].sum(axis=0) <= 2.0 * SKIN_M * max(1, (layer_of < 0).sum()))
    e_top = np.where(bare[None, :], col(v.e_bare), col(v.e_film)) * np.ones((m, nr))
    out: list[tuple[np.ndarray, ...]] = []
    snaps: list[tuple[float, np.ndarray]] = []
    waiting = sorted(program.snaps_s)

    def note(t: float) -> None:
        bond = bond_c[:, joint]
        ring = surface_c[:, sound].max(axis=1) if sound.any() else np.full(m, -NEVER)
        out.append((bond_c[:, 0].copy(), bond.min(axis=1), surface_c[:, 0].copy(), surface_c[:, joint].max(axis=1),
                    ring, back_c[:, 0].copy(), gun.astype(float)))
        if watch is not None:
            watch(surface_c, back_c, steel[-1])

    note(0.0)
    t, changed, moved, times = 0.0, 0.0, -NEVER, [0.0]
    reached = out[0][1] >= program.stop_bond_c
    single, rise = m == 1, np.zeros(m)
    g, flows = np.empty((rows - 1, m, nr)), np.empty((rows + 1, m, nr))
    while t < program.end_s - 1e-9:
        # --- what is done at this moment
        event = False
        if layers:
            start = (next_layer == 0) & ((bond_c[:, joint].min(axis=1) >= program.lay_start_c) | (t >= next_s))
            due = start | ((next_layer > 0) & (next_layer < layers) & (t >= next_s - 1e-9))
            for i in np.flatnonzero(due):
                n = next_layer[i]
                for row in np.flatnonzero(layer_of == n):
                    new = full[row, i] > 2.0 * SKIN_M
                    brought[i] += ((full[row, i] - d[row, i]) * float(rcs[i, 0]) * v.ambient_c[i]) @ areas
                    h_old = d[row, i] * enthalpy(film[row])[i]
                    h_new = h_old + (full[row, i] - d[row, i]) * float(rcs[i, 0]) * v.ambient_c[i]
                    d[row, i] = full[row, i]
                    film[row, i] = temperature((h_new / d[row, i])[None, :].repeat(m, 0))[i]
                    powder[row, i] = new
                    e_top[i, new] = v.e_film[i]
                laid[n, i] = t
                next_layer[i] += 1
                next_s[i] = t + program.lay_every_s
                if next_layer[i] == layers:
                    off_s[i] = min(off_s[i], t + program.finish_s)
            event = bool(due.any())
        was = gun
        gun = (t < off_s - 1e-9) & (t >= away_s - 1e-9)
        hot = gun & (surface_c.max(axis=1) > program.pause_c)
        away_s = np.where(hot, t + program.away_s, away_s)
        gun = gun & ~hot
        laying = layers > 0 and bool((next_layer > 0).any())
        if single:
            if event or ((gun != was) & (t >= off_s - 1e-9)).any():
                changed = t
            if (gun != was).any():
                moved = t
        if (t >= off_s + program.hold_s - 1e-9).all():
            break
        longest = program.longest_laying_s if laying and single else program.longest_s
        if t >= program.late_s and not laying:
            longest = max(longest, program.longest_late_s)
        dt = min(longest, program.first_s + program.share * (t - changed), program.end_s - t)
        ahead = np.concatenate([off_s, away_s])
        ahead = ahead[ahead > t + 1e-9]
        if single:
            dt = min(dt, 0.2 + 0.1 * (t - moved))
            if gun[0] and rise[0] > 0.0 and program.pause_c < NEVER:
                dt = min(dt, max((program.pause_c + 2.0 - float(surface_c.max())) / float(rise[0]), 0.1))
            least = 1e-6
        else:
            if ((next_layer > 0) & (t < np.minimum(off_s, next_s + 60.0))).any():
                dt = min(dt, program.longest_laying_s)
            elif (away_s > max(t - 60.0, 0.0)).any():
                dt = min(dt, 3.0)
            least = 1.0
        if len(ahead):
            dt = min(dt, max(float(ahead.min()) - t, least))
        if waiting:
            dt = min(dt, max(waiting[0] - t, 1e-6))
        top_before = surface_c.max(axis=1)
        # --- half a step along the plate
        fade = np.exp(-alpha * rates * (0.5 * dt))
        steel = ((steel @ left) * fade) @ right
        drop = (steel[:, :, -1] - v.ambient_c) * -np.expm1(-rim_rate * dt)
        steel[:, :, -1] -= drop
        heat_in -= (cap[:ns, :, -1] * drop).sum(axis=0) * areas[-1]
        # --- a step through plate and film: two stages of the L-stable SDIRK2
        melted = np.clip((film - from_c) / (to_c - from_c), 0.0, 1.0)
        k = np.where(powder, kp, ks + (kl - ks) * melted)
        half[ns:] = 0.5 * d / k
        np.divide(1.0, half[:-1] + half[1:], out=g)
        on = gun[:, None]
        h_air = np.where(on, v.h_gun, col(v.h_idle))
        air = np.where(on, v.air_gun, ambient)
        over = (t >= off_s - 1e-9)[:, None]
        h_back, air_back = np.where(over, col(v.h_back_off), v.h_back), np.where(over, ambient, v.air_back)
        ambient_k = ambient + ZERO_C_K
        held_film = d * enthalpy(film)
        skin = d <= 1.5 * SKIN_M
        held_steel = cap[:ns] * steel
        flow_before: np.ndarray | float = 0.0
        for last in (False, True):
            surface_k, back_k = surface_c + ZERO_C_K, back_c + ZERO_C_K
            h_rad = e_top * SIGMA_W_M2K4 * (surface_k**2 + ambient_k**2) * (surface_k + ambient_k)
            h_top = h_air + h_rad
            sink_top = (h_air * air + h_rad * ambient) / h_top
            u_top = 1.0 / (1.0 / h_top + half[-1])
            h_brad = col(v.e_back) * SIGMA_W_M2K4 * (back_k**2 + ambient_k**2) * (back_k + ambient_k)
            h_bottom = h_back + h_brad + 1e-12
            sink_bottom = (h_back * air_back + h_brad * ambient) / h_bottom
            u_bottom = 1.0 / (1.0 / h_bottom + half[0])
            cap[ns:] = d * np.where(film < from_c, rcs, np.where(film < to_c, rcm, rcl))
            step = _GAMMA * dt
            t_all[:ns] = held_steel
            t_all[ns:] = cap[ns:] * film - d * enthalpy(film) + held_film
            t_all += flow_before
            t_all /= step
            _solve(t_all, cap / step, g, u_bottom, sink_bottom, u_top, sink_top)
            flows[1:-1] = g * (t_all[:-1] - t_all[1:])
            flows[0] = u_bottom * (sink_bottom - t_all[0])
            flows[-1] = -u_top * (sink_top - t_all[-1])
            gain = flows[:-1] - flows[1:]
            film = np.where(skin, t_all[ns:], temperature((held_film + (flow_before + step * gain)[ns:]) / d))
            surface_c = film[-1] - flows[-1] * half[-1]
            back_c = t_all[0] + flows[0] * half[0]
            weight = dt * (_GAMMA if last else 1.0 - _GAMMA)
            heat_in += weight * ((flows[0] - flows[-1]) @ areas)
            flow_before = weight * gain
        steel = ((t_all[:ns] @ left) * fade) @ right
        back_c = steel[0] + flows[0] * half[0]
        # the half step along the plate has moved the steel by ``shift``; what lies on it follows as far as it can
        shift = steel[-1] - t_all[ns - 1]
        through = half[ns:].sum(axis=0)
        follows = dt / (dt + through * cap[ns:].sum(axis=0)) / (1.0 + 2.0 * h_top * through)
        surface_c = surface_c + shift * follows
        powder &= film < to_c
        # --- what is seen
        bond_c = (steel[b] if b < ns else film[b - ns] + shift) - flows[b + 1] * half[b]
        t += dt
        rise = (surface_c.max(axis=1) - top_before) / dt
        covered = (next_layer > 0)[:, None] if layers else True
        dwell += dt * ((bond_c >= program.fusion_c) & covered)
        for n in range(layers):
            rows_n = np.flatnonzero(layer_of == n)
            layer_s[n] += dt * ((film[rows_n].min(axis=0) >= to_c) & (next_layer > n)[:, None])
        np.maximum(hottest, surface_c, out=hottest)
        if program.dose_k:
            dose += dt * np.exp(-program.dose_k * (1.0 / (surface_c + ZERO_C_K)
                                                   - 1.0 / (program.dose_ref_c + ZERO_C_K)))
        if waiting and t >= waiting[0] - 1e-6:
            waiting.pop(0)
            snaps.append((t, np.concatenate([steel[:, 0], film[:, 0]])))
        times.append(t)
        note(t)
        reached = reached | (out[-1][1] >= program.stop_bond_c)
        if reached.all() or ((t > off_s).all() and surface_c.max() <= program.stop_surface_c):
            break
    cap[ns:] = 0.0
    bond, bond_min, surface, joint_max, sound_max, back, gun_on = (
        np.array([row[i] for row in out]) for i in range(7))
    return Run(np.array(times), bond, bond_min, surface, joint_max, sound_max, back, gun_on, dwell, hottest, dose,
               layer_s, laid, heat_in, stored() - before - brought, bond_c, snaps)


def _column(values: np.ndarray) -> np.ndarray:
    return np.asarray(values, dtype=float)[:, None]


def _solve(rhs: np.ndarray, cap: np.ndarray, g: np.ndarray, u_bottom: np.ndarray, sink_bottom: np.ndarray, u_top: np.ndarray,
           sink_top: np.ndarray) -> None:
    """Thomas' algorithm over the rows, all columns of all members at once; the answer stands in ``rhs``."""
    n = len(rhs)
    rhs[0] += u_bottom * sink_bottom
    rhs[-1] += u_top * sink_top
    diagonal = cap
    diagonal[0] += u_bottom
    diagonal[-1] += u_top
    diagonal[:-1] += g
    diagonal[1:] += g
    for i in range(1, n):
        w = g[i - 1] / diagonal[i - 1]
        diagonal[i] -= w * g[i - 1]
        rhs[i] += w * rhs[i - 1]
    rhs[-1] /= diagonal[-1]
    for i in range(n - 2, -1, -1):
        rhs[i] += g[i] * rhs[i + 1]
        rhs[i] /= diagonal[i]
