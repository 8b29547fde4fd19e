"""The window as a plain value: direction, ends, and cutting an impossible zone into possible ones."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from soundedge.holiday.gap import AirGap
from soundedge.holiday.strength import Strength
from soundedge.holiday.window import PIECES_MAX, READING_SHARE, WIDTH, pieces, suggested_v, window

from ..tries import tries

AIR = AirGap(1.0, 1.0, 1.0)
films = st.tuples(st.floats(100, 4000), st.floats(1.0, 3.0)).map(lambda p: (p[0], p[0] * p[1]))
strengths = st.floats(4, 60).map(lambda kv: Strength.of([(3000.0, kv)]))


@given(films, strengths, st.floats(0.5, 1.2), st.floats(0.1, 1))
def test_a_wider_film_never_widens_the_window(film, strength, density, fraction):
    least, most = film
    air = AirGap(density, density, 1.0)
    one = window(least, most, air=air, strength=strength, fraction=fraction)
    wider = window(least * 0.9, most * 1.1, air=air, strength=strength, fraction=fraction)

    assert wider.low_v >= one.low_v
    assert wider.high_v <= one.high_v


@given(films, strengths, st.floats(0.5, 1.1))
def test_thin_air_lowers_the_floor_and_leaves_the_top(film, strength, density):
    below = window(*film, air=AirGap(density + 0.05, density + 0.05, 1.0), strength=strength, fraction=0.5)
    above = window(*film, air=AirGap(density, density, 1.0), strength=strength, fraction=0.5)

    assert above.low_v < below.low_v
    assert above.high_v == below.high_v


@tries(200)
@given(films, strengths, st.sampled_from([0.0, 3000.0]))
def test_pieces_cover_the_film_and_each_is_worth_masking_and_can_be_set(film, strength, fixed):
    least, most = film
    cut = pieces(least, most, air=AIR, strength=strength, fraction=0.5, demand=lambda a, b: fixed)

    for start, end in cut:
        part = window(start, end, air=AIR, strength=strength, fraction=0.5, demand=lambda a, b: fixed)
        assert part.settable and part.high_v >= WIDTH * part.low_v
        assert len(cut) == 1 or end - start > 2 * READING_SHARE * start
    if cut:
        assert cut[0][0] == least and cut[-1][1] == most
        assert all(a[1] == b[0] for a, b in pairwise(cut))
        assert len(cut) <= PIECES_MAX
    whole = window(least, most, air=AIR, strength=strength, fraction=0.5, demand=lambda a, b: fixed)
    assert (cut == [(least, most)]) is whole.settable


@given(st.floats(1000, 40_000), st.floats(0.7, 3))
def test_the_suggested_voltage_lies_in_the_window_on_a_step_of_the_detector(low, ratio):
    """50 V and 5 % are what a detector can be set to (common practice, no source)."""
    high = low * ratio
    volts = suggested_v(low, high)

    assert (volts is None) == (high < 1.05 * low)
    assert volts is None or (low <= volts <= high and volts % 50 == 0)


def test_no_strength_no_top_no_claim():
    one = window(600, 800, air=AIR, strength=None, fraction=0.5)

    assert one.high_v is None and one.empty is None
