"""Does a stated confidence hold when readings lie in spots and share the gauge's error? Simulation says how often."""

import math

import numpy as np
import pytest

from soundedge.thickness import proof
from soundedge.thickness.chances import normal_quantile, tolerance_factor
from soundedge.thickness.moments import mean, sd, two_level

FILM_UM = 1200.0


def films(spots, readings, spot_sd, reading_sd, tol_pct, tries, seed=7):
    """Readings of films that are all alike, each by a gauge with an error of its own, anywhere within its tolerance."""
    dice = np.random.default_rng(seed)
    for _ in range(tries):
        error = dice.uniform(-1, 1) * FILM_UM * tol_pct / 100
        yield (FILM_UM + error + dice.normal(0, spot_sd, (spots, 1)) + dice.normal(0, reading_sd, (spots, readings))).tolist()


def held_by_tolerance(spots, readings, spot_sd, reading_sd, tol_pct, tries):
    truth = FILM_UM - normal_quantile(0.95) * math.hypot(spot_sd, reading_sd)
    u = FILM_UM * tol_pct / 100 / math.sqrt(3)
    limits = [proof.lower_tolerance_of_spots(two_level(film), spots * readings, u)
              for film in films(spots, readings, spot_sd, reading_sd, tol_pct, tries)]
    return sum(limit <= truth for limit in limits) / tries


def held_by_thin_share(spots, readings, spot_sd, reading_sd, tol_pct, tries, share):
    minimum = FILM_UM - normal_quantile(1 - share) * math.hypot(spot_sd, reading_sd)
    u, held = FILM_UM * tol_pct / 100 / math.sqrt(3), 0
    for film in films(spots, readings, spot_sd, reading_sd, tol_pct, tries):
        level = two_level(film)
        alike = proof.alike_within(level.between_ss / level.between_df, level.within_ss / level.within_df, readings)
        worth = proof.readings_worth(spots * readings, readings, alike)
        held += proof.thin_share_upper_of_spots([v - minimum for spot in film for v in spot], worth, u) >= share
    return held / tries


# 400 tries: a confidence of 0.95 is seen as 0.95 ± 0.011 (one standard deviation)
@pytest.mark.parametrize("tol_pct", [3, pytest.param(0, marks=pytest.mark.release)])
@pytest.mark.parametrize("reading_sd", [20, pytest.param(5, marks=pytest.mark.release)])
def test_the_film_that_95_percent_has_is_so_in_95_of_100_films(reading_sd, tol_pct):
    assert held_by_tolerance(5, 3, 40, reading_sd, tol_pct, 400) == pytest.approx(0.95, abs=0.02)


@pytest.mark.release
@pytest.mark.parametrize(("spots", "most"), [(5, 0.995), (10, 0.985)])
def test_where_spots_do_not_differ_it_is_careful_and_less_so_with_more_spots(spots, most):
    """Three readings in each spot, spots 10 µm and readings 40 µm apart: 0.98 of five, 0.97 of ten; with σ_b² cut at 0 it was
    0.99 and 0.98. No exact limit is known there; a shop reads more spots rather than more readings in each."""
    assert 0.955 <= held_by_tolerance(spots, 3, 10, 40, 0, 400) <= most


@pytest.mark.release
@pytest.mark.parametrize("tol_pct", [0, 3])
@pytest.mark.parametrize(("spot_sd", "reading_sd"), [(40, 5), (40, 20), (10, 40), (0.001, 40)])
@pytest.mark.parametrize(("spots", "readings"), [(3, 3), (5, 3), (10, 3)])
def test_no_way_of_reading_makes_it_too_hopeful(spots, readings, spot_sd, reading_sd, tol_pct):
    assert held_by_tolerance(spots, readings, spot_sd, reading_sd, tol_pct, 400) >= 0.93
    assert held_by_thin_share(spots, readings, spot_sd, reading_sd, tol_pct, 400, 0.2) >= 0.93


@pytest.mark.parametrize(("spot_sd", "tol_pct"), [(40, 3), (0.001, 3)])
def test_the_share_of_thin_film_is_not_above_its_limit_in_93_of_100_films(spot_sd, tol_pct):
    assert held_by_thin_share(5, 3, spot_sd, 20, tol_pct, 200, 0.2) >= 0.93


def test_counted_as_independent_the_same_readings_are_too_hopeful():
    """What the sum over spots mends: the plain factor of ISO 16269-6 holds in fewer than 80 of 100 such films, not in 95."""
    truth = FILM_UM - normal_quantile(0.95) * math.hypot(40, 20)
    plain = [proof.lower_tolerance([v for spot in film for v in spot]) for film in films(5, 3, 40, 20, 3, 400)]
    assert sum(limit <= truth for limit in plain) / 400 < 0.8


@pytest.mark.parametrize("n", [2, 3, 5, 10, 50, 400])
def test_one_reading_in_each_spot_and_a_perfect_gauge_is_the_factor_of_iso_16269_6(n):
    values = [FILM_UM + 30 * math.sin(7 * i) for i in range(n)]
    limit = proof.lower_tolerance_of_spots(two_level([[v] for v in values]), n)

    assert limit == pytest.approx(mean(values) - tolerance_factor(n) * sd(values), abs=1e-3)
    assert proof.lower_tolerance_of_spots(two_level([values]), n) == pytest.approx(limit, abs=1e-6)


def test_what_all_readings_share_lowers_both_and_no_number_of_readings_lifts_it():
    film = [[1190, 1210], [1240, 1260], [1150, 1170], [1215, 1220]]
    limits = [proof.lower_tolerance_of_spots(two_level(film), 8, u) for u in (0, 5, 20, 80)]
    gaps = [v - 1140 for spot in film for v in spot]
    shares = [proof.thin_share_upper_of_spots(gaps, 4, u) for u in (0, 5, 20, 80)]

    assert limits == sorted(limits, reverse=True) and limits[0] > limits[-1] + 50
    assert shares == sorted(shares) and shares[-1] > 0.9
    assert proof.worth_to_show(gaps, 0.05) == proof.readings_to_show(0.05) == 59
    assert proof.worth_to_show(gaps, 0.05, 2.0) >= 59
    assert proof.worth_to_show(gaps, 0.05, 80.0) is None


def test_film_that_is_the_same_everywhere_has_its_own_thickness():
    assert proof.lower_tolerance_of_spots(two_level([[1200.0, 1200.0], [1200.0, 1200.0]]), 4) == 1200
    assert proof.lower_tolerance_of_spots(two_level([[1200.0]]), 1) is None
    same = proof.lower_tolerance_of_spots(two_level([[1200.0, 1200.0], [1200.0, 1200.0]]), 4, 10.0)
    assert same == pytest.approx(1200 - 1.6449 * 10, abs=0.01)
