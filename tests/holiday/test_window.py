"""The window as a plain value: direction, ends, and cutting an impossible zone into possible ones."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from soundedge.holiday.strength import Strength
from soundedge.holiday.window import PIECES_MAX, pieces, suggested_v, window

from ..tries import tries

films = st.tuples(st.floats(100, 4000), st.floats(1.0, 3.0)).map(lambda p: (p[0], p[0] * p[1]))
strengths = st.floats(4, 60).map(lambda kv: Strength.of([(3000.0, kv)]))


@given(films, strengths, st.floats(0.5, 1.2), st.floats(0.1, 1))
def test_a_wider_film_never_widens_the_window(film, strength, density, fraction):
    least, most = film
    one = window(least, most, density=density, strength=strength, fraction=fraction)
    wider = window(least * 0.9, most * 1.1, density=density, strength=strength, fraction=fraction)

    assert wider.low_v >= one.low_v
    assert wider.high_v <= one.high_v


@given(films, strengths, st.floats(0.5, 1.1))
def test_thin_air_lowers_the_floor_and_leaves_the_top(film, strength, density):
    below = window(*film, density=density + 0.05, strength=strength, fraction=0.5)
    above = window(*film, density=density, strength=strength, fraction=0.5)

    assert above.low_v < below.low_v
    assert above.high_v == below.high_v


@tries(200)
@given(films, strengths, st.sampled_from([0.0, 3000.0]))
def test_pieces_cover_the_film_without_a_gap_and_each_has_a_window(film, strength, fixed):
    least, most = film
    cut = pieces(least, most, density=1.0, strength=strength, fraction=0.5, demand=lambda a, b: fixed)

    for start, end in cut:
        part = window(start, end, density=1.0, strength=strength, fraction=0.5, demand=lambda a, b: fixed)
        assert not part.empty
    if cut:
        assert cut[0][0] == least and cut[-1][1] == most
        assert all(a[1] == b[0] for a, b in pairwise(cut))
        assert len(cut) <= PIECES_MAX
    if not window(least, most, density=1.0, strength=strength, fraction=0.5, demand=lambda a, b: fixed).empty:
        assert cut == [(least, most)]


@given(st.floats(100, 40_000), st.floats(100, 40_000))
def test_the_suggested_voltage_lies_in_the_window(low, high):
    volts = suggested_v(low, high)

    assert (volts is None) == (low > high)
    assert volts is None or low <= volts <= high


def test_no_strength_no_top_no_claim():
    one = window(600, 800, density=1.0, strength=None, fraction=0.5)

    assert one.high_v is None and one.empty is None
