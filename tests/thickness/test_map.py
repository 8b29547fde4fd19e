"""The map against exact sums, other programs and itself."""

import numpy as np
import pytest

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer
from soundedge.thickness.ask import FORMS
from soundedge.thickness.charts import map_chart, readings_chart
from soundedge.thickness.map import Field, fit, grid_of, hunt, inside, krige, krige_grid, without_one

DICE = np.random.default_rng(4)
PLACES = [tuple(map(float, p)) for p in DICE.uniform(0, 200, (60, 2))]
FILM = (1200 + 50 * np.sin(np.array(PLACES)[:, 0] / 30) + DICE.normal(0, 10, 60)).tolist()


def test_two_readings_on_a_line_by_hand():
    """Simple kriging with exp(−h/10), sill 400, nugget 25: 471.7296 ± 15.9173 at 15 mm (solved by hand, 2 × 2)."""
    field = Field(10, 400, 25, 480, "exponential")

    film, error = krige(field, [(0, 0), (20, 0)], [500, 460], [(10, 0), (15, 0)])

    a = np.array([[425, 400 * np.exp(-2)], [400 * np.exp(-2), 425]])
    c = 400 * np.exp(-np.array([1.5, 0.5]))
    by_hand = 480 + c @ np.linalg.solve(a, [20, -20])
    assert film == pytest.approx([480, by_hand], abs=1e-9) and round(by_hand, 4) == 471.7296
    assert error**2 == pytest.approx([309.6134, 253.3611], abs=5e-5)


@pytest.mark.parametrize("model", ["gaussian", "matern32", "exponential"])
def test_it_agrees_with_gaussian_process_regression(model):
    kernels = pytest.importorskip("sklearn.gaussian_process.kernels")
    from sklearn.gaussian_process import GaussianProcessRegressor

    shape = {"gaussian": kernels.RBF(35), "matern32": kernels.Matern(length_scale=35, nu=1.5),
             "exponential": kernels.Matern(length_scale=35, nu=0.5)}[model]
    other = GaussianProcessRegressor(kernels.ConstantKernel(900) * shape, alpha=100, optimizer=None)
    other.fit(PLACES, np.array(FILM) - 1200)
    xs, ys = np.linspace(0, 200, 41), np.linspace(0, 160, 33)
    gx, gy = np.meshgrid(xs, ys)
    mean, sd = other.predict(np.column_stack([gx.ravel(), gy.ravel()]), return_std=True)

    film, error = krige_grid(Field(35, 900, 100, 1200, model), PLACES, FILM, xs, ys)

    assert np.abs(film.ravel() - mean - 1200).max() < 1e-6
    assert np.abs(error.ravel() - sd).max() < 1e-6


@pytest.mark.parametrize("range_mm", [5, 20, 60, 300])
def test_the_grid_gives_what_the_single_places_give(range_mm):
    field = Field(range_mm, 900, 100, 1200)
    xs, ys = np.linspace(0, 200, 37), np.linspace(-10, 210, 23)
    gx, gy = np.meshgrid(xs, ys)

    film, error = krige_grid(field, PLACES, FILM, xs, ys)
    one, u = krige(field, PLACES, FILM, np.column_stack([gx.ravel(), gy.ravel()]))

    assert np.abs(film.ravel() - one).max() < 1e-8 and np.abs(error.ravel() - u).max() < 1e-6


@pytest.mark.parametrize("model", ["gaussian", "matern32", "exponential"])
def test_without_a_nugget_it_goes_through_the_readings_and_far_away_it_knows_nothing(model):
    field = Field(20, 400, 0, 1200, model)

    film, error = krige(field, [(0, 0), (50, 0)], [1150, 1260], [(0, 0), (50, 0), (5000, 0)])

    assert film == pytest.approx([1150, 1260, 1200], abs=1e-3)
    assert error == pytest.approx([0, 0, 20], abs=5e-3)


def test_another_reading_never_makes_the_map_less_sure():
    field = Field(30, 400, 25, 1200)
    targets = [(x, y) for x in range(0, 200, 20) for y in range(0, 200, 20)]

    _, before = krige(field, PLACES[:20], FILM[:20], targets)
    _, after = krige(field, PLACES[:21], FILM[:21], targets)

    assert np.all(after <= before + 1e-9)


def test_leaving_one_out_agrees_with_really_leaving_it_out():
    field = Field(35, 900, 100, 1200)

    quick = without_one(field, PLACES, FILM)

    for i in (0, 7, 59):
        film, error = krige(field, PLACES[:i] + PLACES[i + 1:], FILM[:i] + FILM[i + 1:], [PLACES[i]])
        assert quick[i] == pytest.approx((FILM[i] - film[0]) / np.sqrt(error[0] ** 2 + 100), rel=1e-6)


def test_the_range_is_found_from_a_field_that_has_one():
    dice = np.random.default_rng(11)
    places = dice.uniform(0, 300, (150, 2))
    gap = places[:, None] - places[None]
    c = 2500 * np.exp(-0.5 * (gap**2).sum(-1) / 40**2) + 100 * np.eye(150)
    film = 1200 + np.linalg.cholesky(c) @ dice.standard_normal(150)

    found = fit([tuple(p) for p in places], film.tolist())

    assert 25 < found.range_mm < 65 and 5 < found.nugget_um2**0.5 < 20


def test_the_hunt_agrees_with_the_map_and_is_lower_than_it():
    field = Field(35, 900, 100, 1200)
    targets = [(float(x), float(y)) for x in range(0, 201, 20) for y in range(0, 201, 20)]
    film, _ = krige(field, PLACES, FILM, targets)

    found = hunt(field, PLACES, FILM, targets, limit_um=1150)
    again = hunt(field, PLACES, FILM, targets, limit_um=1150)

    assert found.p_thinnest.sum() == pytest.approx(1) and np.array_equal(found.p_thinnest, again.p_thinnest)
    assert found.minimum_um[1] < film.min()
    assert found.p_any_below >= found.p_below.max()


def test_the_map_keeps_to_the_true_outline():
    l_shape = [(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)]
    xs, ys, mask = grid_of(l_shape, 5.0)

    assert mask.sum() * 25 == pytest.approx(6400, rel=0.02)
    assert not mask[ys > 45][:, xs > 45].any()
    assert inside(l_shape, np.array([20.0, 80.0]), np.array([80.0, 80.0])).tolist() == [True, False]


REQUEST = {
    "map": [{"x": x, "y": y, "film_um": round(z, 1)} for (x, y), z in zip(PLACES, FILM)],
    "outline_mm": [[0, 0], [200, 0], [200, 200], [0, 200]], "min_um": 1000,
}


def test_the_map_question_names_the_next_readings_and_its_assumption():
    found = answer(FORMS, REQUEST)

    assert found.range_from == "found from the readings" and 1 <= len(found.next_readings) <= 5
    assert len(found.film_um) == len(found.y_mm) and len(found.film_um[0]) == len(found.x_mm)
    assert found.minimum_um_05 <= found.minimum_um_50 <= found.minimum_um_95
    assert len(found.sensitivity) == 3 and "holiday test" in found.cautions[0]
    assert np.mean(np.abs([r.against_others for r in found.readings]) < 2) > 0.85


def test_few_readings_need_a_stated_range():
    few = REQUEST | {"map": REQUEST["map"][:5]}
    with pytest.raises(BenchError, match="range_mm"):
        answer(FORMS, few)
    assert answer(FORMS, few | {"range_mm": 30}).range_from == "stated"


@pytest.mark.parametrize("change, words", [
    ({"map": REQUEST["map"][:2]}, "at least 3"),
    ({"step_mm": 0.1}, "grid points"),
    ({"map": [{"x": 0, "y": 0}]}, "needed"),
])
def test_a_map_that_cannot_be_drawn_is_refused(change, words):
    with pytest.raises(BenchError, match=words):
        answer(FORMS, REQUEST | change)


def test_readings_all_alike_or_at_one_place_still_give_a_map():
    alike = [{"x": float(i * 7 % 50), "y": float(i * 3 % 50), "film_um": 1200} for i in range(12)]
    assert answer(FORMS, REQUEST | {"map": alike}).film_min_um == pytest.approx(1200, abs=0.1)
    one_place = [{"x": 10.0, "y": 10.0, "film_um": 1200 + i} for i in range(12)]
    assert 1190 < answer(FORMS, REQUEST | {"map": one_place}).film_min_um < 1220


def test_the_charts_are_drawn():
    vl_convert = pytest.importorskip("vl_convert")
    import json

    film = answer(FORMS, {"spots": [{"id": "1", "readings_um": [1200, 1100]}, {"id": "2", "readings_um": []}],
                          "limits": {"min_um": 1000, "max_um": 1800}}).model_dump(mode="json")
    drawn = answer(FORMS, REQUEST).model_dump(mode="json")
    for spec in (readings_chart(film, {"min_um": 1000, "max_um": 1800}), map_chart(drawn), map_chart(drawn, of="error_um")):
        assert spec["description"] and "<svg" in vl_convert.vegalite_to_svg(json.dumps(spec, allow_nan=False))
