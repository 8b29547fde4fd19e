"""Does the fit give the plane back, and does it know how well?"""

import glob
import os

import cv2
import numpy as np
import pytest

from soundedge.basis.errors import NotEnough
from soundedge.survey.card import SHEETS
from soundedge.survey.plane import fit_plane
from soundedge.survey.view import shifted_area, view_of

from . import render
from .scenes import scene

SHEET = SHEETS["small"]
NUMBERS = list(SHEET.tags)
CORNERS = np.array([SHEET.corners_mm(number) for number in NUMBERS])


def seen_corners(one, corners=CORNERS, z=0.0):
    return render.project(one, corners.reshape(-1, 2), z).reshape(corners.shape)


def fitted(one, seen=None, **more):
    seen = seen_corners(one) if seen is None else seen
    return fit_plane(CORNERS, seen, NUMBERS, size_px=(one.width_px, one.height_px), **more)


@pytest.mark.parametrize("tilt_deg", [0, 10, 25, 40, 55, 70])
def test_an_exact_polygon_comes_back_exactly(tilt_deg):
    """One square inch through an exact homography: 645.16 mm² to one part in 10⁹."""
    one = scene(tilt_deg=tilt_deg, distance_mm=320.0, roll_deg=33.0)
    square = np.array([[-12.7, -12.7], [12.7, -12.7], [12.7, 12.7], [-12.7, 12.7]])

    back = fitted(one).to_card(render.project(one, square))

    assert render.polygon_area(back) == pytest.approx(645.16, rel=1e-9)
    assert back == pytest.approx(square, abs=1e-7)


def test_without_the_lens_term_the_area_is_wrong_and_with_it_right():
    """k1 = −0.05 at 250 mm: more than 0.3 % without, less than 0.03 % with it."""
    one = scene(width_px=4000, height_px=3000, focal_px=2900.0, distance_mm=250.0, k1=-0.05)
    blob = render.blob(400, 3)
    seen = render.project(one, blob)

    without = render.polygon_area(fitted(one, lens=False).to_card(seen)) / 400 - 1
    with_it = render.polygon_area(fitted(one).to_card(seen)) / 400 - 1

    assert abs(without) > 0.003
    assert abs(with_it) < 1e-6


def test_the_way_to_the_photo_and_back_is_the_same_point():
    plane = fitted(scene(k1=-0.08, distance_mm=160.0))
    points = np.random.default_rng(2).uniform(-40, 40, (200, 2))

    assert plane.to_card(plane.to_photo(points)) == pytest.approx(points, abs=1e-9)


def test_the_stated_uncertainty_of_the_fit_is_what_noise_really_does():
    """JCGM 101 in small: corners moved at random by 0.1 px; the spread of the area is what the covariance says."""
    from soundedge.survey.given import Clicks
    from soundedge.survey.measure import plane_u_mm2
    from soundedge.survey.seen import Seen

    one = scene(tilt_deg=30.0, k1=0.02)
    rng = np.random.default_rng(3)
    exact = seen_corners(one)
    outline = render.project(one, render.blob(400, 5))[::12]
    areas, stated = [], []
    for i in range(300):
        plane = fitted(one, exact + rng.normal(0, 0.1, exact.shape))
        areas.append(render.polygon_area(plane.to_card(outline)))
        if i % 30 == 0:
            stated.append(plane_u_mm2(Seen(None, [], SHEET, (1, 1), plane), Clicks(outline_px=outline.tolist())))

    assert np.mean(stated) == pytest.approx(np.std(areas), rel=0.25)


def test_one_wrong_mark_does_not_pull_the_plane():
    one = scene()
    seen = seen_corners(one)
    seen[5] += (6.0, -4.0)

    plane = fitted(one, seen)

    assert 5 not in plane.used and len(plane.used) == 15
    assert plane.residual_px < 1e-6


def test_a_bent_card_shows_in_the_residual_and_is_not_explained_away():
    """A 100 mm card wrapped on R = 250 mm: many marks are off, so none may be dropped and the residual is large."""
    one = scene(width_px=4000, height_px=3000, focal_px=2900.0, distance_mm=300.0)
    radius = 250.0
    flat = CORNERS.reshape(-1, 2)
    bent = np.stack([radius * np.sin(flat[:, 0] / radius), flat[:, 1], radius * (np.cos(flat[:, 0] / radius) - 1)], axis=1)
    turn, place = render.camera(one)
    rays = (bent - place) @ turn.T
    seen = rays[:, :2] / rays[:, 2:] * one.focal_px + ((one.width_px - 1) / 2, (one.height_px - 1) / 2)

    plane = fitted(one, seen.reshape(CORNERS.shape))

    assert plane.residual_mm > 0.15
    # and a flat one on the same place is flat
    assert fitted(one).residual_mm < 1e-6


def test_two_marks_are_needed_and_one_is_refused():
    one = scene()

    with pytest.raises(NotEnough, match="at least 2"):
        fit_plane(CORNERS[:1], seen_corners(one)[:1], NUMBERS[:1], size_px=(one.width_px, one.height_px))


def test_fewer_than_four_marks_do_not_carry_a_lens_term():
    one = scene(k1=0.05)
    plane = fit_plane(CORNERS[:3], seen_corners(one)[:3], NUMBERS[:3], size_px=(one.width_px, one.height_px))

    assert plane.k1 == 0.0


# --- outside: photos of a printed chessboard -------------------------------------------------------------------------
# Debian package opencv-doc 4.6.0, examples/data/left*.jpg and right*.jpg (Apache-2.0 / BSD-3), 640 × 480, strong lens
# distortion, tilt 14 to 42°. Truth: the squares are equal, so the inside counts 6 × 3 squares.
BOARDS = sorted(glob.glob("/usr/share/doc/opencv-doc/examples/data/left[01]*.jpg")
                + glob.glob("/usr/share/doc/opencv-doc/examples/data/right[01]*.jpg"))


def needs_boards():
    if not BOARDS:
        say = "The chessboard photos are not here. Install the system package opencv-doc."
        if os.environ.get("CI"):
            pytest.fail(say)
        pytest.skip(say)


def board_errors(lens: bool) -> tuple[np.ndarray, np.ndarray]:
    """Area error in per cent and residual in px: plane from the ring of outer corners, area of the inside."""
    errors, residuals = [], []
    world = np.stack(np.meshgrid((np.arange(9.0) - 4) * 25, (2.5 - np.arange(6.0)) * 25), axis=-1)
    ring = np.ones((6, 9), bool)
    ring[1:-1, 1:-1] = False
    for file in BOARDS:
        grey = cv2.imread(file, cv2.IMREAD_GRAYSCALE)
        found, corners = cv2.findChessboardCorners(grey, (9, 6))
        assert found, file
        corners = cv2.cornerSubPix(grey, corners, (5, 5), (-1, -1), (3, 50, 1e-3)).reshape(6, 9, 2).astype(float)
        plane = fit_plane(world[ring].reshape(13, 2, 2), corners[ring].reshape(13, 2, 2), range(13),
                          size_px=grey.shape[::-1], lens=lens)
        inner = corners[1:-1, 1:-1]
        outline = np.concatenate([inner[0], inner[1:, -1], inner[-1, -2::-1], inner[-2:0:-1, 0]])
        errors.append(100 * (render.polygon_area(plane.to_card(outline)) / (6 * 3 * 25**2) - 1))
        residuals.append(plane.residual_px)
    return np.array(errors), np.array(residuals)


def test_real_chessboards_give_their_area_within_one_per_cent():
    needs_boards()
    errors, residuals = board_errors(lens=True)

    assert len(errors) == 26
    assert np.abs(errors).max() < 1.0  # measured: 0.51, mean +0.24
    assert residuals.max() < 0.5


def test_the_lens_term_is_needed_on_real_photos():
    needs_boards()
    errors, _ = board_errors(lens=False)

    assert errors.mean() > 2.0


# --- view ------------------------------------------------------------------------------------------------------------


def test_a_surface_behind_the_card_is_seen_smaller_and_set_right():
    """t = 1 mm at D = 300 mm: factor (300/301)² = 0.99337; corrected to one part in 10⁶."""
    one = scene(tilt_deg=0.0, distance_mm=300.0)
    blob = render.blob(645.16, 4)
    plane = fitted(one, focal_px=one.focal_px)
    seen = render.polygon_area(plane.to_card(render.project(one, blob, -1.0)))

    assert seen / 645.16 == pytest.approx((300 / 301) ** 2, abs=1e-6)
    assert shifted_area(seen, stand_off_mm=1.0, distance_mm=300.0) == pytest.approx(645.16, rel=1e-6)


@pytest.mark.parametrize("tilt_deg, azimuth_deg", [(0, 0), (20, 75), (45, 200), (60, 310)])
def test_the_place_of_the_camera_comes_back(tilt_deg, azimuth_deg):
    one = scene(tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, distance_mm=260.0, roll_deg=50.0)

    view = view_of(fitted(one, focal_px=one.focal_px), focal_known=True)

    assert view.tilt_deg == pytest.approx(tilt_deg, abs=0.1)
    assert view.distance_mm == pytest.approx(260 * np.cos(np.radians(tilt_deg)), rel=0.002)
    if tilt_deg:
        assert np.degrees(np.arctan2(view.away[1], view.away[0])) % 360 == pytest.approx(azimuth_deg, abs=0.5)


def test_a_tilted_card_tells_the_focal_length_nobody_noted():
    """A telephoto picture: the guess is 40 % off, the perspective of a tilted card corrects it."""
    one = scene(focal_px=2000.0, distance_mm=320.0, tilt_deg=40.0)

    view = view_of(fitted(one), focal_known=False)

    assert view.focal_px == pytest.approx(2000, rel=0.03)
    assert view.u_distance_mm < 10


def test_a_square_view_admits_that_it_does_not_know_the_distance():
    view = view_of(fitted(scene(tilt_deg=0.0)), focal_known=False)

    assert view.u_distance_mm / view.distance_mm == pytest.approx(0.2, abs=0.02)
