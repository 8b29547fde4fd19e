"""The bulk path says what the careful path says."""

import numpy as np
import pytest

from bench.arrays.films import judge_many
from soundedge.thickness.moments import mean, sd
from soundedge.thickness.proof import lower_tolerance, thin_share_upper
from soundedge.thickness.rules import Film, Spot, judge_rule


@pytest.mark.parametrize("level", [1, 2, 3, 4, 5])
def test_every_spot_is_judged_as_the_rules_do(level):
    dice = np.random.default_rng(level)
    sizes = dice.integers(1, 25, 120)
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    readings = np.round(dice.normal(1250, 180, sizes.sum()) + np.repeat(dice.normal(0, 120, 120), sizes))
    limits = {"min_um": 1000.0, "max_um": 1600.0, "nominal_um": 1150.0}

    found = judge_many(readings, starts, correction_um=25, level=level, **limits)

    for i, (start, size) in enumerate(zip(starts, sizes)):
        values = [float(v) - 25 for v in readings[start : start + size]]
        film = Film([Spot("1", tuple(values))], level=level, **limits)
        assert found.mean_um[i] == pytest.approx(mean(values), rel=1e-13)
        for rule in ("every_reading", "sspc_pa_2", "iso_19840", "ninety_ten"):
            # the careful path also says not_measured where readings lack; its comparisons are what is compared here
            met = all(f.as_written == "conforms" for f in judge_rule(rule, film).findings)
            assert bool(getattr(found, rule)[i]) == met, (rule, values)
        assert found.thin_fraction_upper_95[i] == pytest.approx(
            thin_share_upper(sum(v < 1000 for v in values), size), rel=1e-12)
        if size > 1:
            assert found.sd_um[i] == pytest.approx(sd(values), rel=1e-9)
            assert found.lower_tolerance_95_95_um[i] == pytest.approx(lower_tolerance(values), rel=1e-11)
        else:
            assert np.isnan(found.sd_um[i])
        assert bool(found.enough_pa_2[i]) == (size >= 3) and bool(found.enough_iso[i]) == (size >= 5)


def test_a_large_offset_costs_no_spread():
    found = judge_many([10000001, 10000003, 10000002], [0], min_um=1, max_um=2e7, nominal_um=1)

    assert found.sd_um[0] == 1.0
