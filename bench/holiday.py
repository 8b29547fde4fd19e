"""How fast is the window of a million films in a million airs, against a plain Python loop in the same run?

    python bench/holiday.py
"""

from __future__ import annotations

import time

import numpy as np
from arrays.windows import windows
from table import row

from soundedge.holiday.air import air_density, moist_factor
from soundedge.holiday.gap import AirGap
from soundedge.holiday.strength import Strength
from soundedge.holiday.window import window

MILLION = 1_000_000
LOOPED = 20_000  # the loop is timed on this many and scaled


def main() -> None:
    """Print both times and their ratio; the two answers are compared first."""
    draw = np.random.default_rng(11)
    least_um = draw.uniform(500, 1200, MILLION)
    most_um = least_um * draw.uniform(1.0, 1.6, MILLION)
    air_c, air_kpa = draw.uniform(-10, 40, MILLION), draw.uniform(70, 104, MILLION)
    strength = Strength.of([(25.4, 80.0), (3000.0, 14.5)])

    best = min(_timed(lambda: windows(least_um, most_um, air_c, air_kpa, strength, 0.5)) for _ in range(5))
    low_v, high_v, empty = windows(least_um, most_um, air_c, air_kpa, strength, 0.5)

    films = list(zip(least_um.tolist(), most_um.tolist(), air_c.tolist(), air_kpa.tolist()))[:LOOPED]
    started = time.perf_counter()
    one_by_one = [
        window(a, b, air=_air(c, kpa), strength=strength, fraction=0.5) for a, b, c, kpa in films
    ]
    loop = (time.perf_counter() - started) * MILLION / LOOPED
    gap = max(max(abs(w.low_v - low) / low, abs(w.high_v - high) / high)
              for w, low, high in zip(one_by_one, low_v, high_v))
    assert gap < 1e-12 and [w.empty for w in one_by_one] == empty[:LOOPED].tolist()

    print(f"window of {MILLION} films: vectorised {best * 1000:.0f} ms, Python loop {loop:.2f} s "
          f"(from {LOOPED}); largest difference {gap:.1e}")
    row("a million test-voltage windows", best, loop, "the same formula in a Python loop", at_least=50,
        left_out="the peer is our own formula; no library has it")


def _air(air_c: float, air_kpa: float) -> AirGap:
    density = air_density(air_c, air_kpa)
    return AirGap(density, density, moist_factor(air_c, None, density))


def _timed(work) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


if __name__ == "__main__":
    main()
