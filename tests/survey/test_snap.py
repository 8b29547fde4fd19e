"""Does the suggested edge lie on the edge, and stay silent where none can be seen?"""

import numpy as np
import pytest

from soundedge.survey.draft import draft_outline
from soundedge.survey.outline import curve_through
from soundedge.survey.seen import see
from soundedge.survey.snap import CONTRAST_MIN, snap

from . import render
from .scenes import photo, scene


def on_card(seen, taps):
    return np.array(curve_through([tuple(p) for p in seen.plane.to_card(np.array(taps)).tolist()]))


@pytest.fixture(scope="module")
def chip():
    one = scene(seed=31, area_mm2=450.0)
    data, truth = photo(one)
    return see(data), truth


@pytest.mark.parametrize("push_mm", [-0.6, 0.0, 0.6])
def test_taps_all_too_far_in_or_out_end_on_the_same_edge(chip, push_mm):
    """±0.6 mm all round is ±10 % of 450 mm²; after snapping less than 2 % is left of it."""
    seen, truth = chip
    ring = on_card(seen, render.taps(truth, 12, push_mm=push_mm))
    raw = render.polygon_area(ring) / 450 - 1

    found = snap(seen.flat, ring)

    assert found.d_prime > CONTRAST_MIN
    assert abs(render.polygon_area(found.outline_mm) / 450 - 1) < 0.02
    if push_mm:
        assert abs(raw) > 0.05


def test_a_blister_has_no_edge_to_snap_to():
    """No colour step: the separation is below 2.5 and no outline is proposed."""
    data, truth = photo(scene(seed=33, kind="blister"))
    seen = see(data)

    found = snap(seen.flat, on_card(seen, render.taps(truth, 12)))

    assert found.d_prime < CONTRAST_MIN
    assert found.outline_mm is None


def test_it_is_the_same_every_time(chip):
    seen, truth = chip
    ring = on_card(seen, render.taps(truth, 12))

    assert np.array_equal(snap(seen.flat, ring).outline_mm, snap(seen.flat, ring).outline_mm)


def test_a_box_and_taps_give_a_draft(chip):
    """Only a start: within a quarter of the true area, and it holds the taps."""
    seen, truth = chip
    middle = truth.outline_mm.mean(axis=0)
    low, high = truth.outline_mm.min(axis=0) - 3, truth.outline_mm.max(axis=0) + 3

    draft = draft_outline(seen.flat, (low[0], low[1], high[0], high[1]), middle + np.array([[0, 0], [4, 3], [-4, -3]]))

    assert render.polygon_area(draft) == pytest.approx(450, rel=0.25)


def test_a_draft_without_a_tap_in_the_box_is_refused(chip):
    from soundedge.basis.errors import NotEnough

    with pytest.raises(NotEnough, match="Tap inside"):
        draft_outline(chip[0].flat, (-10, -10, 10, 10), np.array([[25.0, 25.0]]))
