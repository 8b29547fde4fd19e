"""The vectorised window is the same window."""

import numpy as np
import pytest

from bench.arrays.windows import breakdown_many_v, windows
from soundedge.holiday.air import air_density, moist_factor
from soundedge.holiday.gap import AirGap
from soundedge.holiday.strength import Strength
from soundedge.holiday.window import window

STRENGTHS = [
    Strength.of([(750.0, 20.0)]),
    Strength.of([(254.0, 79.0), (3180.0, 21.0)]),       # far apart: held down by the law
    Strength.of([(3175.0, 10.2)]),                     # a plate: carried up to the cap
    Strength.of([(100.0, 40.0), (300.0, 30.0), (900.0, 20.0)]),
    Strength.of([(300.0, 20.0), (900.0, 22.0)]),       # rising: never scaled up beyond
]


@pytest.mark.parametrize("strength", STRENGTHS)
def test_it_agrees_with_one_by_one_over_more_than_one_block(strength):
    draw = np.random.default_rng(5)
    n = 40_000
    least, c, kpa = draw.uniform(100, 4000, n), draw.uniform(-20, 50, n), draw.uniform(60, 108, n)
    most = least * draw.uniform(1, 1.7, n)
    low, high, empty = windows(least, most, c, kpa, strength, 0.5)

    for i in [*range(0, n, 397), n - 1]:
        density = air_density(c[i], kpa[i])
        air = AirGap(density, density, moist_factor(c[i], None, density))
        one = window(least[i], most[i], air=air, strength=strength, fraction=0.5)
        assert low[i] == pytest.approx(one.low_v, rel=1e-12)
        assert high[i] == pytest.approx(one.high_v, rel=1e-12)
        assert bool(empty[i]) == one.empty


def test_shapes_broadcast_and_nothing_is_allowed():
    low, high, empty = windows([[620.0], [700.0]], [[880.0, 900.0, 950.0]], 20.0, 101.325, STRENGTHS[0], 0.5)

    assert low.shape == high.shape == empty.shape == (2, 3)
    assert windows([], [], 20.0, 101.325, STRENGTHS[0], 0.5)[0].shape == (0,)
    assert breakdown_many_v(750.0, STRENGTHS[0]) == pytest.approx(15_000)
