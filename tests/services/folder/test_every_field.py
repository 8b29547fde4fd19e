"""Every field of every question, at every depth, with what should never stand there: an answer or a sentence, nothing else."""

import copy
import itertools
import json
from typing import Any

import pytest

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer, pick, read
from soundedge.services.ask import ROOMS, ask, forms

from ...tries import some

DEEP: list[Any] = []
for _ in range(60):
    DEEP = [DEEP]
HOSTILE = [
    None, True, "x", "", float("nan"), float("inf"), float("-inf"), -1, 0, 1e308, 10**400, [], {}, DEEP, "\ud800",
    "a" * 5000, "a\x00\x1b[2Jb", [None], {"a": None}, [[0, 0], [1, 1]], "NaN", -0.0, 1e-308,
]
GUN = {"power_w": 2000, "air_c": 500, "outlet_mm": 34, "distance_mm": 60}
PLATE = {"part": {"material": "carbon_steel", "plate_mm": 12, "radius_mm": 150},
         "lining": {"polymer": "pvdf", "thickness_mm": 0.8}, "gun": GUN}
OUTLINE = [[0, 0], [20, 0], [20, 20], [0, 20]]
DAY = "2031-05-04T"

# One good request for every form of every room.
GOOD: dict[str, list[dict[str, Any]]] = {
    "conditions": [{
        "air_c": 21.4, "rh_pct": 63, "steel_c": 18.9, "tol_air_k": 0.5, "tol_rh_pct": 2, "tol_steel_k": 0.5,
        "limits": {"dew_margin_k": 3.0, "rh_pct_max": 85}, "profile_um": [70, 74],
        "dust": {"rating": 1, "size": 2}, "salts": {"rise_us_cm": 1.6, "volume_ml": 15},
        "series": [{"at": DAY + "07:00:00Z", "air_c": 21, "rh_pct": 60, "steel_c": 20},
                   {"at": DAY + "08:00:00Z", "air_c": 21, "rh_pct": 62, "steel_c": 19}],
        "prepared_at": DAY + "07:10:00Z", "first_layer_at": DAY + "07:50:00Z",
        "operations": [{"name": "layer", "start": DAY + "07:20:00Z", "end": DAY + "07:50:00Z"}],
    }],
    "hazards": [
        {"solvent": "acetone", "ml": 6, "space_l": 80, "air_c": 20, "air_changes_per_h": 0, "mixing_factor": 3},
        {"surface": "bare_metal", "temperature_c": 58, "contact_s": 1},
        {"polymer": "ectfe", "surface_c": 300},
        {"now": DAY + "12:00:00Z", "hot_work_ended_at": DAY + "11:30:00Z"},
        {"now": DAY + "12:00:00Z", "permit": {"start": DAY + "08:00:00Z", "end": DAY + "14:00:00Z"}},
    ],
    "disposition": [{
        "procedure": {"bare_area_mm2_max": 900, "feather_mm": 15, "merge_gap_factor": 2, "pit_depth_mm_max": 1},
        "part": {"lined_area_mm2": 212000, "keep_out": [{"kind": "edge", "shape_mm": [[90, 0], [99, 0], [99, 50]]}]},
        "defects": [{"id": "A", "circle_mm": {"x": 0, "y": 0, "d": 20}, "u_area_mm2": 5, "stage": "as_prepared"},
                    {"id": "B", "outline_mm": [[50, 50], [60, 50], [55, 60]], "stage": "as_prepared"},
                    {"id": "C", "ellipse_mm": {"x": -60, "y": 0, "a": 12, "b": 9, "angle_deg": 0}, "stage": "as_prepared"}],
        "history": [{"job": "J-1", "x": 100, "y": 100, "d": 30, "months_ago": 12}],
    }],
    "buildup": [{
        "outline_mm": OUTLINE, "depth_um": 900, "feather_mm": 15, "target_um": 900, "layer_max_um": 300, "overbuild_um": 150,
        "powder": {"polymer": "ectfe", "density_kg_m3": 1680, "packing": 0.5, "loss_fraction": 0.2}, "placement_d_mm": 12,
        "overlap_fraction": 0.2,
    }],
    "heat": [
        PLATE,
        PLATE | {"plan": {}},
        PLATE | {"readings": [{"time_s": 60, "reading_c": 90, "aimed_at": "polymer"}]},
        {"gloss_rule": {"h_w_m2k": 60, "air_c": 500, "emissivity": 0.9, "melt_c": 176, "thickness_mm": 0.8, "k_w_mk": 0.2,
                        "surroundings_c": 20, "surface_limit_c": 260}},
        {"infrared": {"reading_c": 100, "emissivity_set": 0.95, "emissivity_true": 0.3, "surroundings_c": 20,
                      "band_um": [8, 14]}},
        {"log": [{"time_s": 0, "reading_c": 230, "aimed_at": "painted_dot"},
                 {"time_s": 60, "reading_c": 250, "aimed_at": "painted_dot"}],
         "lining": {"polymer": "ectfe", "thickness_mm": 1.2}},
        {"trial": {"gun": PLATE["gun"]}},
    ],
    "thickness": [
        {"spots": [{"id": "1", "readings_um": [1210, 1190], "where": "repair", "x": 1, "y": 2},
                   {"id": "2", "readings_um": [1250]}],
         "correction": {"kind": "profile", "value_um": 12, "u_um": 3}, "gauge": {"tol_pct": 3, "tol_um": 0},
         "limits": {"min_um": 1000, "max_um": 1800, "nominal_um": 1200}, "rules": ["every_reading", "sspc_pa_2"],
         "restriction_level": 3, "decision": {"rule": "guarded", "probability": 0.95}},
        {"map": [{"x": x, "y": y, "film_um": 1200 + x} for x in (0, 7, 14, 20) for y in (0, 10, 20)], "outline_mm": OUTLINE},
        {"thin_spot_d_mm": 10, "repair": {"d": 30}},
        {"counts_for_m2": 10},
        {"risk": "film", "mean_um": 1200, "sd_um": 60, "u_um": 20, "min_um": 1000},
        {"block_minima_um": [1100, 1120, 1090, 1150, 1080, 1110, 1105, 1130, 1095, 1115], "blocks_in_all": 100},
        {"table": "spot;DFT [mil]\n1;43,3\n"},
    ],
    "holiday": [
        {"film_um": {"min": 1020, "max": 1380}, "polymer": "ectfe", "strength": [{"kv_mm": 20, "at_um": 1000}],
         "strength_fraction": 0.5, "electrode": "wire_brush", "air": {"c": 20, "kpa": 101.325}, "stated_voltage_v": 8000,
         "state": {"immersed": False, "conductive_filler": False, "wet": False}},
        {"zones": [{"id": "a", "film_um": {"min": 1020, "max": 1380}}], "polymer": "ectfe"},
        {"session": {"id": "HT-7", "at": DAY + "09:00:00Z"}, "polymer": "ectfe",
         "zones": [{"id": "a", "film_um": {"min": 1020, "max": 1380}}],
         "grounding": {"checked": True}, "electrode_voltage": [{"set_v": 8000, "measured_v": 7900}],
         "coupons": [{"film_um": 1500, "voltage_v": 7900, "found": True}],
         "passes": [{"zone": "a", "set_v": 8000, "covered_pct": 100, "travel_m_s": 0.2}],
         "sparks": [{"zone": "a", "x": 3, "y": 4}]},
    ],
    "instruments": [
        {"checks": [{"instrument": "G7", "at": DAY + "07:00:00Z", "reference_um": 1000, "reading_um": 1004}], "tol_pct": 3,
         "readings": [{"id": "r1", "instrument": "G7", "at": DAY + "09:00:00Z", "job": "J-1", "value_um": 1040}]},
        {"study": [{"part": str(p), "operator": o, "trial": t, "value": 10.0 * p + t}
                   for p in (1, 2) for o in ("A", "B") for t in (1, 2)]},
        {"chart": [10.0, 10.2, 9.9, 10.1, 10.0]},
        {"capability": [10.0, 10.2, 9.9, 10.1, 10.0], "low": 9, "high": 11},
    ],
    "survey": [
        {"photo": "a.jpg", "outline": {"kind": "chip", "outline_px": [[0, 0], [90, 0], [90, 90]], "holes_px": [],
                                       "confirmed": True},
         "card": {"bar_x_mm": 100.0, "bar_y_mm": 100.0, "thickness_mm": 0.5, "checked_on": "2031-03-02"}},
        {"photo": "a.jpg", "find_card": True},
        {"photo": "a.jpg", "box_px": [[0, 0], [90, 90]], "taps_px": [[5, 5]]},
    ],
}
# The march through the plate takes its time and the survey needs a photo: of these the reading of the request is tried.
READ_ONLY = {("heat", "heat"), ("heat", "plan"), ("heat", "readings"), *(("survey", form.name) for form in forms("survey"))}
CASES = [(room, n) for room in GOOD for n in range(len(GOOD[room]))]


def think(room: str, raw: Any) -> Any:
    """The answer as plain values, or None where only the request is read."""
    form = pick(forms(room), raw)
    if (room, form.name) in READ_ONLY:
        read(form.request, raw)
        return None
    return answer(forms(room), raw).model_dump(mode="json")


def honest(room: str, raw: Any, where: str) -> None:
    """An answer that is JSON, or an error that says something."""
    try:
        told = think(room, raw)
    except BenchError as fault:
        assert len(fault.message) > 12, where
        json.dumps(fault.as_json())
        assert fault.as_json()["error"]["kind"] in fault.kind, where
    else:
        json.dumps(told, allow_nan=False)


def spots(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The paths of everything in a request; of a list, the first element stands for all."""
    out = [path] if path else []
    if isinstance(value, dict):
        for key, item in value.items():
            out += spots(item, (*path, key))
    elif isinstance(value, list) and value:
        out += spots(value[0], (*path, 0))
    return out


def optional(room: str, raw: dict[str, Any]) -> list[str]:
    """Keys the request could have and has not."""
    return [key for key in pick(forms(room), raw).request.model_fields if key not in raw]


def put(raw: Any, path: tuple[Any, ...], value: Any) -> Any:
    changed = copy.deepcopy(raw)
    spot = changed
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    return changed


def taken(raw: Any, path: tuple[Any, ...]) -> Any:
    changed = copy.deepcopy(raw)
    spot = changed
    for step in path[:-1]:
        spot = spot[step]
    del spot[path[-1]]
    return changed


def test_every_room_and_nearly_every_form_has_a_request_here():
    assert set(GOOD) == set(ROOMS)
    for room in GOOD:
        tried = {pick(forms(room), raw).name for raw in GOOD[room]}
        left = {form.name for form in forms(room)} - tried
        assert left <= {"gun_label", "plate_test", "dose"}, (room, left)


@pytest.mark.parametrize("room, n", CASES)
def test_the_request_as_it_stands_is_answered(room, n):
    told = think(room, GOOD[room][n])

    assert told is None or "findings" in told
    json.dumps(told, allow_nan=False)


@pytest.mark.slow
@pytest.mark.parametrize("room, n", CASES)
def test_a_hostile_value_in_any_field_gets_an_answer_or_a_sentence(room, n):
    good = GOOD[room][n]
    paths = [*spots(good), *((key,) for key in optional(room, good))]
    for path, value in some(itertools.product(paths, HOSTILE)):
        honest(room, put(good, path, value), f"{room} {path} = {str(value)[:30]}")


@pytest.mark.parametrize("room, n", CASES)
def test_a_field_taken_away_gets_an_answer_or_a_sentence(room, n):
    good = GOOD[room][n]
    for path in spots(good):
        honest(room, taken(good, path), f"{room} without {path}")


@pytest.mark.parametrize("room, n", CASES)
def test_an_unknown_key_in_any_object_is_refused_by_name(room, n):
    good = GOOD[room][n]
    objects = [(), *(path for path in spots(good) if isinstance(at(good, path), dict))]
    for path in objects:
        with pytest.raises(BenchError) as caught:
            think(room, put(good, (*path, "surprise"), 1))
        assert "surprise" in caught.value.message, path


def at(raw: Any, path: tuple[Any, ...]) -> Any:
    for step in path:
        raw = raw[step]
    return raw


@pytest.mark.parametrize("room", ROOMS)
@pytest.mark.parametrize("raw", [None, True, 3, "x", [], {}, [[]], {"": 1}, {"a": 1}, {"\ud800": 1}])
def test_a_request_of_the_wrong_shape_is_refused(room, raw):
    with pytest.raises(BenchError) as caught:
        ask(room, raw)
    assert len(caught.value.message) > 12
