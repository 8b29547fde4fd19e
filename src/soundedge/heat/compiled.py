"""The same march one member at a time, compiled: has it been woken in this process?

NumPy is the default: it answers a cold process in a second. ``wake()`` loads numba and compiles; from then on ``march.march``
goes by the compiled loops, in a tenth of the time. Both give the same answer. Compiling takes about 10 s of processor time
once, then the machine code lies in numba's cache (beside this file, or where ``NUMBA_CACHE_DIR`` says) and waking takes 1 s.
Set-up wakes it once, so that nobody waits for it. It is compiled for any processor of its kind, which costs nothing here: what
was made in an image, or on the machine before, is not made again on the next.

>>> awake()
False
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from . import march as by_numpy
from .case import Case, values
from .march import _GAMMA, NEVER, Program, Run, Values
from .rules import SIGMA_W_M2K4, ZERO_C_K
from .section import SKIN_M, Section

_SERIES_MAX = 40_000
_compiled: Callable[..., Any] | None = None


def awake() -> bool:
    """Whether the compiled march is ready in this process."""
    return _compiled is not None


def wake() -> None:
    """Load numba and make the compiled march ready; until that is done, other threads go on with NumPy."""
    global _compiled
    if _compiled is not None:
        return
    import numba

    numba.config.CPU_NAME, numba.config.CPU_FEATURES = "generic", ""  # type: ignore[attr-defined]
    try:
        code = numba.njit(cache=True)(loops)  # what may change goes in as an argument: the cache keeps constants
    except RuntimeError:  # no folder that it may write to: compiled in each process
        code = numba.njit(loops)
    case = Case(material="carbon_steel", plate_mm=12, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=500)
    for layers in (0, 1):
        section = case.section(dish=bool(layers), layers=layers, rings=4, slices=2, old_cells=1)
        march_one(section, values(case, section), Program(end_s=2.0), code=code)
    _compiled = code
    by_numpy.compiled = march_all


def march_all(section: Section, v: Values, program: Program) -> Run | None:
    """March all members; None where they would not come out as they do side by side, or nothing was woken.

    Side by side all members take the same steps, and end when the last has got there. Alone, each takes short steps after
    what is done to it; so only members to whom nothing is done on the way can be marched one after the other.
    """
    code, done_to = _compiled, section.layers or program.pause_c < NEVER or program.gun_off_s < program.end_s
    if code is None or program.snaps_s or (v.members > 1 and done_to):
        return None
    members = [v.only(slice(i, i + 1)) for i in range(v.members)]
    runs = [march_one(section, one, program, code=code) for one in members]
    last = max(run.t[-1] for run in runs)
    on = replace(program, end_s=float(last), stop_bond_c=NEVER)  # who was there sooner goes on beside the last
    runs = [run if run.t[-1] == last else march_one(section, one, on, code=code) for one, run in zip(members, runs)]
    return None if len(runs[0].t) >= _SERIES_MAX else runs[0] if v.members == 1 else _beside(runs)


def _beside(runs: list[Run]) -> Run:
    """Runs over the same times as one."""
    def all_of(name: str, axis: int = 1) -> np.ndarray:
        return np.concatenate([getattr(run, name) for run in runs], axis=axis)

    return Run(
        runs[0].t, all_of("bond"), all_of("bond_min"), all_of("surface"), all_of("joint_max"), all_of("sound_max"),
        all_of("back"), all_of("gun"), all_of("dwell_s", 0), all_of("hottest_c", 0), all_of("dose_s", 0), all_of("layer_s"),
        all_of("laid_s"), all_of("heat_in_j", 0), all_of("heat_stored_j", 0), all_of("bond_at_end", 0))


def march_one(section: Section, v: Values, program: Program, *, code: Callable[..., Any]) -> Run:
    """March one member by ``code``: the compiled loops, or ``loops`` as they are written.

    Shapes and units as ``march.march`` with one member; no snapshots.
    """
    rates, left, right = section.spread()
    numbers = np.array([
        v.start_c[0], v.ambient_c[0], v.k_steel[0], v.rc_steel[0], v.k_solid[0], v.k_melt[0], v.rc_solid[0],
        v.rc_melt[0], v.latent[0], v.melt_from_c[0], v.melt_to_c[0], v.k_powder[0], v.e_film[0], v.e_bare[0],
        v.e_back[0], v.h_idle[0], v.h_rim[0], section.steel_m * v.plate_scale[0], SKIN_M,
        v.h_back_off[0],
    ])
    p = program
    plan = np.array([
        p.end_s, p.gun_off_s, p.pause_c, p.lay_start_c, p.lay_start_s, p.lay_every_s, p.finish_s, p.hold_s,
        p.stop_bond_c, p.fusion_c, p.dose_k, p.dose_ref_c, p.first_s, p.share, p.longest_s, p.longest_laying_s,
        p.stop_surface_c, p.away_s, p.late_s, p.longest_late_s,
    ])
    full = np.maximum(section.film_m * v.film_scale[0], SKIN_M)
    bare = section.film_m[section.layer_of < 0].sum(axis=0) <= 2.0 * SKIN_M * max(1, int((section.layer_of < 0).sum()))
    n, t, series, dwell, hottest, dose, layer_s, laid, heat_in, stored, bond = code(
        section.edges_m, section.areas_m2, rates, left, right, section.slices, full, section.layer_of, section.layers,
        section.joint, section.sound, section.bond_row, numbers, plan, v.h_gun[0], v.air_gun[0], v.h_back[0],
        v.air_back[0], bare, _SERIES_MAX,
    )
    bond_of, bond_min, surface, joint_max, sound_max, back, gun = (series[i, :n, None].copy() for i in range(7))
    return Run(
        t[:n].copy(), bond_of, bond_min, surface, joint_max, sound_max, back, gun, dwell[None], hottest[None],
        dose[None], layer_s[:, None], laid[:, None], np.array([heat_in]), np.array([stored]), bond[None])


def loops(edges: Any, areas: Any, rates: Any, left: Any, right: Any, ns: int, full: Any, layer_of: Any, layers: int, joint: Any,
          sound: Any, b: int, numbers: Any, plan: Any, h_gun: Any, air_gun: Any, h_back: Any, air_back: Any, bare: Any,
          series_max: int) -> tuple[Any, ...]:
    # numba unpacks no array whose length it does not know, so each number is named by its place
    start_c, ambient, k_steel, rc_steel, ks = numbers[0], numbers[1], numbers[2], numbers[3], numbers[4]
    kl, rcs, rcl, latent, from_c = numbers[5], numbers[6], numbers[7], numbers[8], numbers[9]
    to_c, kp, e_film, e_bare, e_back = numbers[10], numbers[11], numbers[12], numbers[13], numbers[14]
    h_idle, h_rim, d_steel, skin_m, h_back_off = numbers[15], numbers[16], numbers[17], numbers[18], numbers[19]
    end_s, off_s, pause_c, lay_start_c, next_s = plan[0], plan[1], plan[2], plan[3], plan[4]
    lay_every_s, finish_s, hold_s, stop_bond_c, fusion_c = plan[5], plan[6], plan[7], plan[8], plan[9]
    dose_k, dose_ref, first_s, share, longest_s = plan[10], plan[11], plan[12], plan[13], plan[14]
    longest_laying_s, stop_surface_c, away_for_s, late_s, longest_late_s = plan[15], plan[16], plan[17], plan[18], plan[19]
    nr, films = len(areas), full.shape[0]
    rows = ns + films
    rcm = latent / (to_c - from_c) + 0.5 * (rcs + rcl)
    h1 = rcs * from_c
    h2 = h1 + rcm * (to_c - from_c)
    alpha = k_steel / rc_steel
    rim_rate = h_rim / rc_steel * 2.0 * math.pi * edges[-1] / areas[-1]
    cap_steel, half_steel = rc_steel * d_steel, 0.5 * d_steel / k_steel
    ambient_k = ambient + ZERO_C_K

    d = np.empty((films, nr))
    powder = np.zeros((films, nr), dtype=np.bool_)
    e_top = np.empty(nr)
    for j in range(nr):
        e_top[j] = e_bare if bare[j] else e_film
        for i in range(films):
            d[i, j] = full[i, j] if layer_of[i] < 0 else skin_m
    temp = np.full((rows, nr), start_c)
    mode = np.empty(nr)
    surface, back, bond = np.full(nr, start_c), np.full(nr, start_c), np.full(nr, start_c)
    dwell, hottest, dose = np.zeros(nr), np.full(nr, -NEVER), np.zeros(nr)
    layer_s, laid = np.zeros((layers, nr)), np.full(layers, np.nan)
    rhs, diag, half = np.empty(rows), np.empty(rows), np.empty(rows)
    held, before_flow, flow, cap = np.empty(rows), np.empty(rows), np.empty(rows + 1), np.empty(rows)
    g = np.empty(rows - 1)
    fade, drawn, shift, hold, lift = np.empty(nr), np.empty(nr), np.empty(nr), np.empty(nr), np.empty(nr)
    times = np.empty(series_max)
    series = np.empty((7, series_max))
    heat_in, brought = 0.0, 0.0

    stored = 0.0
    for j in range(nr):
        for i in range(rows):
            if i < ns:
                stored += cap_steel * temp[i, j] * areas[j]
            else:
                x = temp[i, j]
                stored += d[i - ns, j] * areas[j] * (
                    rcs * min(x, from_c) + rcm * min(max(x - from_c, 0.0), to_c - from_c) + rcl * max(x - to_c, 0.0))
    before = stored
    n, t, changed, moved, next_layer, away_s = 0, 0.0, 0.0, -NEVER, 0, -1.0
    gun, reached, rise = True, False, 0.0
    while True:
        # --- what is seen
        coldest, joint_max, sound_max, top = NEVER, -NEVER, -NEVER, -NEVER
        for j in range(nr):
            top = max(top, surface[j])
            if joint[j]:
                coldest, joint_max = min(coldest, bond[j]), max(joint_max, surface[j])
            if sound[j]:
                sound_max = max(sound_max, surface[j])
        times[n] = t
        series[0, n], series[1, n], series[2, n], series[3, n] = bond[0], coldest, surface[0], joint_max
        series[4, n], series[5, n], series[6, n] = sound_max, back[0], 1.0 if gun else 0.0
        n += 1
        reached = reached or coldest >= stop_bond_c
        if n > 1 and (reached or (t > off_s and top <= stop_surface_c)):
            break
        if t >= end_s - 1e-9 or n >= series_max:
            break
        # --- what is done
        event = False
        if layers > 0:
            due = next_layer == 0 and (coldest >= lay_start_c or t >= next_s)
            due = due or (0 < next_layer < layers and t >= next_s - 1e-9)
            if due:
                for i in range(films):
                    if layer_of[i] == next_layer:
                        for j in range(nr):
                            extra = (full[i, j] - d[i, j]) * rcs * ambient
                            brought += extra * areas[j]
                            x = temp[ns + i, j]
                            h = d[i, j] * (rcs * min(x, from_c) + rcm * min(max(x - from_c, 0.0), to_c - from_c)
                                           + rcl * max(x - to_c, 0.0)) + extra
                            d[i, j] = full[i, j]
                            h /= d[i, j]
                            temp[ns + i, j] = (min(h, h1) / rcs + min(max(h - h1, 0.0), h2 - h1) / rcm
                                               + max(h - h2, 0.0) / rcl)
                            powder[i, j] = full[i, j] > 2.0 * skin_m
                            if powder[i, j]:
                                e_top[j] = e_film
                laid[next_layer] = t
                next_layer += 1
                next_s = t + lay_every_s
                if next_layer == layers:
                    off_s = min(off_s, t + finish_s)
                event = True
        was = gun
        gun = t < off_s - 1e-9 and t >= away_s - 1e-9
        if gun and top > pause_c:
            away_s, gun = t + away_for_s, False
        laying = layers > 0 and next_layer > 0
        if event or (gun != was and t >= off_s - 1e-9):
            changed = t
        if gun != was:
            moved = t
        if t >= off_s + hold_s - 1e-9:
            break
        longest = longest_laying_s if laying else longest_s
        if t >= late_s and not laying:
            longest = max(longest, longest_late_s)
        dt = min(longest, first_s + share * (t - changed), end_s - t)
        dt = min(dt, 0.2 + 0.1 * (t - moved))
        if gun and rise > 0.0 and pause_c < NEVER:
            dt = min(dt, max((pause_c + 2.0 - top) / rise, 0.1))
        if off_s > t + 1e-9:
            dt = min(dt, max(off_s - t, 1e-6))
        if away_s > t + 1e-9:
            dt = min(dt, max(away_s - t, 1e-6))
        # --- half a step along the plate
        for q in range(nr):
            fade[q] = math.exp(-alpha * rates[q] * 0.5 * dt)
        for i in range(ns):
            for q in range(nr):
                total = 0.0
                for j in range(nr):
                    total += temp[i, j] * left[j, q]
                mode[q] = total * fade[q]
            for j in range(nr):
                total = 0.0
                for q in range(nr):
                    total += mode[q] * right[q, j]
                temp[i, j] = total
        kept = -math.expm1(-rim_rate * dt)
        for i in range(ns):
            drop = (temp[i, nr - 1] - ambient) * kept
            temp[i, nr - 1] -= drop
            heat_in -= cap_steel * drop * areas[nr - 1]
        # --- a step through every column
        step = _GAMMA * dt
        for j in range(nr):
            for i in range(rows):
                if i < ns:
                    half[i] = half_steel
                    held[i] = cap_steel * temp[i, j]
                    cap[i] = cap_steel
                else:
                    f = i - ns
                    x = temp[i, j]
                    share_melted = min(max((x - from_c) / (to_c - from_c), 0.0), 1.0)
                    k = kp if powder[f, j] else ks + (kl - ks) * share_melted
                    half[i] = 0.5 * d[f, j] / k
                    held[i] = d[f, j] * (rcs * min(x, from_c) + rcm * min(max(x - from_c, 0.0), to_c - from_c)
                                         + rcl * max(x - to_c, 0.0))
                before_flow[i] = 0.0
            for i in range(rows - 1):
                g[i] = 1.0 / (half[i] + half[i + 1])
            h_air, air = (h_gun[j], air_gun[j]) if gun else (h_idle, ambient)
            for stage in range(2):
                sk, bk = surface[j] + ZERO_C_K, back[j] + ZERO_C_K
                h_rad = e_top[j] * SIGMA_W_M2K4 * (sk * sk + ambient_k * ambient_k) * (sk + ambient_k)
                h_top = h_air + h_rad
                sink_top = (h_air * air + h_rad * ambient) / h_top
                u_top = 1.0 / (1.0 / h_top + half[rows - 1])
                h_brad = e_back * SIGMA_W_M2K4 * (bk * bk + ambient_k * ambient_k) * (bk + ambient_k)
                h_under, air_under = (h_back_off, ambient) if t >= off_s - 1e-9 else (h_back[j], air_back[j])
                h_bottom = h_under + h_brad + 1e-12
                sink_bottom = (h_under * air_under + h_brad * ambient) / h_bottom
                u_bottom = 1.0 / (1.0 / h_bottom + half[0])
                for i in range(rows):
                    if i < ns:
                        rhs[i] = (held[i] + before_flow[i]) / step
                    else:
                        x, dd = temp[i, j], d[i - ns, j]
                        cap[i] = dd * (rcs if x < from_c else (rcm if x < to_c else rcl))
                        h = dd * (rcs * min(x, from_c) + rcm * min(max(x - from_c, 0.0), to_c - from_c)
                                  + rcl * max(x - to_c, 0.0))
                        rhs[i] = (cap[i] * x - h + held[i] + before_flow[i]) / step
                    diag[i] = cap[i] / step
                rhs[0] += u_bottom * sink_bottom
                rhs[rows - 1] += u_top * sink_top
                diag[0] += u_bottom
                diag[rows - 1] += u_top
                for i in range(rows - 1):
                    diag[i] += g[i]
                    diag[i + 1] += g[i]
                for i in range(1, rows):
                    w = g[i - 1] / diag[i - 1]
                    diag[i] -= w * g[i - 1]
                    rhs[i] += w * rhs[i - 1]
                rhs[rows - 1] /= diag[rows - 1]
                for i in range(rows - 2, -1, -1):
                    rhs[i] = (rhs[i] + g[i] * rhs[i + 1]) / diag[i]
                flow[0] = u_bottom * (sink_bottom - rhs[0])
                for i in range(rows - 1):
                    flow[i + 1] = g[i] * (rhs[i] - rhs[i + 1])
                flow[rows] = -u_top * (sink_top - rhs[rows - 1])
                weight = dt * (_GAMMA if stage == 1 else 1.0 - _GAMMA)
                for i in range(rows):
                    gain = flow[i] - flow[i + 1]
                    if i < ns:
                        if stage == 1:
                            temp[i, j] = rhs[i]
                    else:
                        h = (held[i] + before_flow[i] + step * gain) / d[i - ns, j]
                        if d[i - ns, j] <= 1.5 * skin_m:
                            temp[i, j] = rhs[i]
                        else:
                            temp[i, j] = (min(h, h1) / rcs + min(max(h - h1, 0.0), h2 - h1) / rcm
                                          + max(h - h2, 0.0) / rcl)
                    before_flow[i] = weight * gain
                surface[j] = temp[rows - 1, j] - flow[rows] * half[rows - 1]
                back[j] = rhs[0] + flow[0] * half[0]
                drawn[j] = flow[0] * half[0]
                if stage == 1:
                    shift[j] = -temp[ns - 1, j]
                    through, holds = 0.0, 0.0
                    for i in range(ns, rows):
                        through += half[i]
                        holds += cap[i]
                    hold[j] = dt / (dt + through * holds) / (1.0 + 2.0 * h_top * through)
                    lift[j] = -flow[b + 1] * half[b]
                heat_in += weight * (flow[0] - flow[rows]) * areas[j]
        for i in range(ns):
            for q in range(nr):
                total = 0.0
                for j in range(nr):
                    total += temp[i, j] * left[j, q]
                mode[q] = total * fade[q]
            for j in range(nr):
                total = 0.0
                for q in range(nr):
                    total += mode[q] * right[q, j]
                temp[i, j] = total
        # --- what has come of it
        t += dt
        hotter = -NEVER
        for j in range(nr):
            shift[j] += temp[ns - 1, j]
            surface[j] += shift[j] * hold[j]
            hotter = max(hotter, surface[j])
            back[j] = temp[0, j] + drawn[j]
        rise = (hotter - top) / dt
        for j in range(nr):
            for i in range(films):
                if powder[i, j] and temp[ns + i, j] >= to_c:
                    powder[i, j] = False
            bond[j] = temp[b, j] + lift[j] + (shift[j] if b >= ns else 0.0)
            if bond[j] >= fusion_c and (layers == 0 or next_layer > 0):
                dwell[j] += dt
            hottest[j] = max(hottest[j], surface[j])
            if dose_k > 0.0:
                dose[j] += dt * math.exp(-dose_k * (1.0 / (surface[j] + ZERO_C_K) - 1.0 / (dose_ref + ZERO_C_K)))
        for q in range(layers):
            for j in range(nr):
                if next_layer > q:
                    low = NEVER
                    for i in range(films):
                        if layer_of[i] == q:
                            low = min(low, temp[ns + i, j])
                    if low >= to_c:
                        layer_s[q, j] += dt
    stored = 0.0
    for j in range(nr):
        for i in range(rows):
            x = temp[i, j]
            if i < ns:
                stored += cap_steel * x * areas[j]
            else:
                stored += d[i - ns, j] * areas[j] * (
                    rcs * min(x, from_c) + rcm * min(max(x - from_c, 0.0), to_c - from_c) + rcl * max(x - to_c, 0.0))
    stored -= before + brought
    return n, times, series, dwell, hottest, dose, layer_s, laid, heat_in, stored, bond
