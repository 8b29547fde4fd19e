"""How fast are a million readings judged and a map drawn, beside general-purpose peers in the same run?

    python bench/thickness.py

1. One million readings in 50 000 spots under all four rules, with thin share and tolerance limit for every spot,
   against pandas groupby for the plain statistics and scipy.stats for each group.
2. A map of 400 readings, film and standard error on 100 × 100 places, against scikit-learn's Gaussian process with
   fixed parameters and the same kernel, each on one thread; the largest difference is printed.
"""

from __future__ import annotations

import os
import time

from table import row

# one thread of linear algebra for both sides: two would wait for each other on a busy machine
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

LIMITS = {"min_um": 1000.0, "max_um": 1600.0, "nominal_um": 1150.0}


def timed(work, times):
    """The shortest of several runs, and the result."""
    best, out = float("inf"), None
    for _ in range(times):
        begun = time.perf_counter()
        out = work()
        best = min(best, time.perf_counter() - begun)
    return best, out


def readings():
    """Judge a million readings twice, once by a general-purpose way."""
    import pandas as pd
    from arrays.films import judge_many
    from scipy import stats

    dice = np.random.default_rng(1)
    spots, each = 50_000, 20
    film = np.round(dice.normal(1250, 90, (spots, each)) + dice.normal(0, 60, (spots, 1))).ravel()
    starts = np.arange(spots) * each
    ours, found = timed(lambda: judge_many(film, starts, **LIMITS), 3)

    z = stats.norm.ppf(0.95)

    def peer():
        frame = pd.DataFrame({"spot": np.repeat(np.arange(spots), each), "film": film})
        plain = frame.groupby("spot")["film"].agg(["size", "mean", "std", "min", "max"])

        def judged(group):
            n, s, m = len(group), group.std(), group.mean()
            thin = int((group < LIMITS["min_um"]).sum())
            below = (group < LIMITS["nominal_um"]).sum()
            upper = stats.beta.ppf(0.95, thin + 1, n - thin) if thin < n else 1.0
            tolerance = m - stats.nct.ppf(0.95, n - 1, z * n**0.5) / n**0.5 * s
            low, high = group.min(), group.max()
            return (thin, upper, tolerance, low >= LIMITS["min_um"] and high <= LIMITS["max_um"],
                    LIMITS["min_um"] <= m <= LIMITS["max_um"],
                    m >= LIMITS["nominal_um"] and low >= 0.8 * LIMITS["nominal_um"] and below < 0.2 * n
                    and high <= LIMITS["max_um"],
                    low >= 0.9 * LIMITS["nominal_um"] and below <= 0.1 * n)

        return plain, frame.groupby("spot")["film"].apply(judged)

    theirs, (plain, rows) = timed(peer, 1)
    rows = list(rows)
    assert np.allclose(found.mean_um, plain["mean"]) and np.allclose(found.sd_um, plain["std"])
    assert np.allclose(found.thin_fraction_upper_95, [r[1] for r in rows])
    assert np.allclose(found.lower_tolerance_95_95_um, [r[2] for r in rows])
    for k, name in ((3, "every_reading"), (4, "sspc_pa_2"), (5, "iso_19840"), (6, "ninety_ten")):
        assert np.array_equal(getattr(found, name), [bool(r[k]) for r in rows]), name
    print("1 000 000 readings in 50 000 spots, four rules: equal verdicts")
    row("a million readings under four rules", ours, theirs, "pandas groupby, scipy per group", at_least=50,
        left_out="the peer's rules are plain Python per group, as one writes them first")


def maps():
    """Draw a map of 400 readings by each model, beside the general-purpose regressor."""
    from sklearn.gaussian_process import GaussianProcessRegressor
    from sklearn.gaussian_process.kernels import RBF, ConstantKernel, Matern

    from soundedge.thickness.map import Field, krige_grid

    dice = np.random.default_rng(2)
    places = dice.uniform(0, 500, (400, 2))
    film = 1200 + 40 * np.sin(places[:, 0] / 60) + dice.normal(0, 12, 400)
    line = np.linspace(0, 500, 100)
    gx, gy = np.meshgrid(line, line)
    grid = np.column_stack([gx.ravel(), gy.ravel()])
    for model, kernel in (("gaussian", RBF(60.0)), ("matern32", Matern(length_scale=60.0, nu=1.5)),
                          ("exponential", Matern(length_scale=60.0, nu=0.5))):
        field = Field(60.0, 1600.0, 144.0, 1200.0, model)
        def peer(kernel=kernel):
            regressor = GaussianProcessRegressor(ConstantKernel(1600.0) * kernel, alpha=144.0, optimizer=None)
            return regressor.fit(places, film - 1200.0).predict(grid, return_std=True)

        ours = theirs = float("inf")
        for _ in range(12):  # by turns, so that a busy machine slows both
            one, (mean, error) = timed(lambda field=field: krige_grid(field, places, film, line, line), 1)
            two, (other, sd) = timed(peer, 1)
            ours, theirs = min(ours, one), min(theirs, two)
        gap = max(np.abs(mean.ravel() - other - 1200.0).max(), np.abs(error.ravel() - sd).max())
        print(f"map of 400 readings on 100 × 100 places, {model}: values within {gap:.0e} µm")
        row(f"map of 400 readings, {model}", ours, theirs, "scikit-learn, Gaussian process", at_least=1.0,
            left_out="both with the kernel given: nothing is fitted")


if __name__ == "__main__":
    readings()
    maps()
