"""Are corners measured where the edges are?"""

import cv2
import numpy as np
import pytest

from soundedge.survey.marks import find_marks, measure


def one_mark(side: int = 200, at: int = 100, size: int = 600) -> np.ndarray:
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    picture = np.full((size, size), 255, np.uint8)
    picture[at : at + side, at : at + side] = cv2.aruco.generateImageMarker(dictionary, 3, side)
    return picture


@pytest.mark.parametrize("blur", [0, 0.6, 1.5, 3.0])
def test_blur_moves_no_corner(blur):
    """A mark on pixels 100 to 299 has its edges at 99.5 and 299.5, sharp or smeared.

    Raw corners of the detector were 0.6 to 1.0 px off over the same blurs, its own sub-pixel corners 0.1 to 0.7.
    """
    picture = one_mark()
    if blur:
        picture = cv2.GaussianBlur(picture, (0, 0), blur)

    (mark,) = find_marks(picture)

    assert mark.corners_px == pytest.approx(np.array([[99.5, 99.5], [299.5, 99.5], [299.5, 299.5], [99.5, 299.5]]), abs=0.02)


@pytest.mark.parametrize("blur", [1.0, 2.0, 3.0])
def test_the_smear_of_an_edge_is_told(blur):
    (mark,) = find_marks(cv2.GaussianBlur(one_mark(), (0, 0), blur))

    assert mark.blur_px == pytest.approx(blur, rel=0.1)


@pytest.mark.parametrize("turn_deg", [0, 17, 45, 90, 133, 180, 271])
def test_a_turned_mark_keeps_its_corner_order(turn_deg):
    """Top left as drawn stays first, wherever it lies in the photo."""
    turn = cv2.getRotationMatrix2D((199.5, 199.5), turn_deg, 1.0)
    # drawn exactly: every pixel is the mean of 8 × 8 looks at the mark, turned back
    fine = (np.arange(400 * 8) + 0.5) / 8 - 0.5
    x, y = np.meshgrid(fine, fine)
    back = cv2.invertAffineTransform(turn)
    u = np.clip(np.floor(back[0, 0] * x + back[0, 1] * y + back[0, 2] + 0.5).astype(int), 0, 399)
    v = np.clip(np.floor(back[1, 0] * x + back[1, 1] * y + back[1, 2] + 0.5).astype(int), 0, 399)
    looks = one_mark(side=200, at=100, size=400)[v, u].reshape(400, 8, 400, 8)
    picture = cv2.GaussianBlur(np.round(looks.mean(axis=(1, 3))).astype(np.uint8), (0, 0), 0.7)  # no lens is sharper
    want = np.array([[99.5, 99.5], [299.5, 99.5], [299.5, 299.5], [99.5, 299.5]]) @ turn[:, :2].T + turn[:, 2]

    (mark,) = find_marks(picture)

    assert mark.corners_px == pytest.approx(want, abs=0.03)


def test_a_half_covered_mark_is_left_out_and_not_guessed():
    picture = one_mark()
    picture[:, 180:260] = 255  # a finger

    assert find_marks(picture) == []


def test_a_mark_reported_twice_on_one_place_is_one_mark_and_on_two_places_two():
    picture = np.full((600, 1200), 255, np.uint8)
    picture[:, :600] = picture[:, 600:] = one_mark()
    here = np.array([[100.0, 100], [299, 100], [299, 299], [100, 299]])

    twice = measure(picture, [(3, here), (3, here + 1.0)])
    apart = measure(picture, [(3, here), (3, here + np.array([600.0, 0.0]))])

    assert len(twice) == 1 and len(apart) == 2


def test_nothing_is_found_in_noise_and_in_plain_white():
    noise = np.random.default_rng(1).integers(0, 255, (800, 800), dtype=np.uint8)

    assert find_marks(noise) == []
    assert find_marks(np.full((500, 700), 255, np.uint8)) == []
