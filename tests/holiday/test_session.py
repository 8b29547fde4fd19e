"""A test that was made: passed, failed, void, incomplete or unproven, and what must be done again."""

import copy
import json
from itertools import pairwise

import pytest

from soundedge.basis.errors import BenchError, Contradiction, Missing, Unknown
from soundedge.basis.question import answer
from soundedge.holiday.ask import FORMS

SQUARE = [[0, 0], [200, 0], [200, 100], [0, 100]]
STRIPS = [{"points_mm": [[0, y], [200, y]], "width_mm": 40} for y in (15, 50, 85)]
# Kelderbeck Basin Works, cover of mixer 3: ECTFE, maker's strength at 1.8 mm
SESSION = {
    "session": {"id": "HT-7", "part": "mixer cover 3", "by": "I. Varga", "at": "2031-05-04T09:12:00+02:00",
                "instrument": "H2"},
    "polymer": "ectfe", "strength": [{"kv_mm": 16, "at_um": 1800}],
    "zones": [{"id": "overlap", "kind": "overlap", "film_um": {"min": 1800, "max": 2000}, "outline_mm": SQUARE}],
    "grounding": {"checked": True, "resistance_ohm": 0.4},
    "electrode_voltage": [{"set_v": 9000, "measured_v": 8900}],
    "coupons": [{"film_um": 2000, "voltage_v": 8900, "found": True, "hole_mm": 0.7}],
    "passes": [{"zone": "overlap", "set_v": 9000, "travel_m_s": 0.2, "tracks": STRIPS}],
    "lel_pct": 0,
}


def ask(**changes):
    request = copy.deepcopy(SESSION) | changes
    return answer(FORMS, {key: value for key, value in request.items() if value is not ...})


def only(found):
    return found.zones[0]


def a_pass(**changes):
    return [SESSION["passes"][0] | changes]


def test_a_full_test_inside_the_window_with_its_coupon_passes():
    found = ask()

    assert (only(found).status, found.verdict) == ("passed", "conforms")
    assert only(found).voltage_v == 8900
    assert only(found).covered_pct == 100.0
    assert found.leave_alone == ["overlap"] and found.again == []


def test_3_kv_as_always_over_a_2_mm_overlap_is_void_with_the_reason():
    found = ask(electrode_voltage=[{"set_v": 3000, "measured_v": 3000}], passes=a_pass(set_v=3000),
                coupons=[{"film_um": 2000, "voltage_v": 3000, "found": True}])

    assert only(found).status == "void"
    assert found.verdict == "not_measured"
    assert "3000 V at the electrode is below the window" in only(found).because
    assert "2000 µm, needs 8344 V, and 7563 V by the lowest" in only(found).because
    assert only(found).because.startswith("Void, not passed")
    assert [(one.zone, one.why) for one in found.again] == [("overlap", "test")]
    assert found.leave_alone == []


def test_the_voltage_at_the_electrode_decides_and_not_the_dial():
    found = ask(electrode_voltage=[{"set_v": 9000, "measured_v": 7000}])

    assert only(found).status == "void"
    assert only(found).voltage_v == 7000


def test_the_lowest_of_several_measured_voltages_decides():
    sagged = [{"set_v": 9000, "measured_v": 8900}, {"set_v": 9000, "measured_v": 7000}]

    assert only(ask(electrode_voltage=sagged)).voltage_v == 7000
    assert only(ask(electrode_voltage=sagged)).status == "void"


def test_a_hole_in_thicker_film_that_was_not_found_says_nothing():
    coupons = [*SESSION["coupons"], {"film_um": 3500, "voltage_v": 8900, "found": False}]

    assert only(ask(coupons=coupons)).status == "passed"


@pytest.mark.parametrize("change, word", [
    ({"grounding": ...}, "earth was not checked"),
    ({"grounding": {"checked": False}}, "earth was not checked"),
    ({"grounding": {"checked": True, "resistance_ohm": 5000}}, "5000 ohm"),
    ({"electrode_voltage": []}, "not measured at the electrode"),
    ({"electrode_voltage": [{"set_v": 5000, "measured_v": 4900}]}, "9000 V"),
    ({"coupons": [{"film_um": 2000, "voltage_v": 8900, "found": False}]}, "was not found"),
    ({"passes": a_pass(travel_m_s=0.9)}, "0.9 m/s"),
    ({"passes": a_pass(travel_m_s=0.3), "pulse_hz": 20, "contact_mm": 5}, "15.0 mm"),
    ({"passes": []}, "not tested"),
    ({"state": {"wet": True}}, "wet"),
])
def test_a_test_that_could_not_have_found_the_hole_is_void(change, word):
    found = ask(**change)

    assert only(found).status == "void", only(found).because
    assert word in only(found).because
    assert found.verdict == "not_measured"


def test_between_the_models_the_coupon_of_the_thickest_film_decides():
    """8000 V over 2 mm: 24.22·δd + 6.08·√δd asks for 7563 V, IEC 60052 (2 cm spheres, from memory) for 8000 ± 3 %."""
    at_8 = {"electrode_voltage": [{"set_v": 9000, "measured_v": 8000}]}
    proved = only(ask(**at_8, coupons=[{"film_um": 2000, "voltage_v": 8000, "found": True}]))
    assert (proved.status, proved.verdict) == ("passed", "conforms") and "proved on the coupon" in proved.because
    measured = [one for one in proved.findings if one.rule != "repeats"]  # passes are counted: no uncertainty to leave out
    assert measured and all(one.u is None and one.p_conforms is None for one in measured)

    for film_um, volts in ((1900, 8000), (2000, 8300), (None, None)):
        coupons = [{"film_um": film_um, "voltage_v": volts, "found": True}] if film_um else []
        found = only(ask(**at_8, coupons=coupons))
        assert (found.status, found.verdict) == ("unproven", "indeterminate") and "pinhole" in found.next_move
    assert only(ask(**at_8, coupons=[{"film_um": 2000, "voltage_v": 8000, "found": False}])).status == "void"


def test_a_window_too_narrow_to_set_is_open_until_the_coupon_has_proved_its_lower_end():
    narrow = {"strength": [{"kv_mm": 9.4, "at_um": 1800}], "electrode_voltage": [{"set_v": 9000, "measured_v": 8400}]}

    assert only(ask(**narrow, coupons=[])).status == "unproven"
    assert "coupon proof" in only(ask(**narrow, coupons=[])).next_move
    assert only(ask(**narrow, coupons=[{"film_um": 2000, "voltage_v": 8400, "found": True}])).status == "passed"


def test_without_a_coupon_or_with_too_thin_a_coupon_it_stays_unproven():
    for coupons in ([], [{"film_um": 1900, "voltage_v": 8900, "found": True}],
                    [{"film_um": 2000, "voltage_v": 12_000, "found": True}]):
        found = ask(coupons=coupons)
        assert (only(found).status, found.verdict) == ("unproven", "indeterminate")
        assert "drilled hole" in only(found).because


def test_a_spark_fails_its_zone_and_only_that_zone_is_repaired_and_tested_again():
    zones = [*SESSION["zones"], {"id": "patch", "kind": "patch", "film_um": {"min": 1800, "max": 1950}}]
    passes = [*SESSION["passes"], {"zone": "patch", "set_v": 9000, "travel_m_s": 0.2, "covered_pct": 100}]
    found = ask(zones=zones, passes=passes, sparks=[{"zone": "overlap", "x": 120, "y": 40, "note": "at the toe"}])

    assert [one.status for one in found.zones] == ["failed", "passed"]
    assert found.verdict == "does_not_conform"
    assert [(one.zone, one.x, one.y, one.why) for one in found.again] == [("overlap", 120, 40, "repair")]
    assert "only there" in found.again[0].next_move
    assert found.leave_alone == ["patch"]


def test_a_spark_in_a_void_test_is_still_a_failure():
    found = ask(grounding=..., sparks=[{"zone": "overlap"}])

    assert only(found).status == "failed"
    assert "counts as not tested" in only(found).because


def test_a_spark_above_the_window_may_have_been_made_by_the_test():
    found = ask(electrode_voltage=[{"set_v": 9000, "measured_v": 15_000}], sparks=[{"zone": "overlap", "x": 1, "y": 1}])

    assert "may have made it" in only(found).because


def test_no_spark_above_the_window_is_not_a_pass():
    found = ask(electrode_voltage=[{"set_v": 9000, "measured_v": 15_000}])

    assert only(found).status == "unproven"
    assert "too high" in only(found).because


def test_places_left_out_are_found_and_only_they_are_tested_again():
    found = ask(passes=a_pass(tracks=STRIPS[:2]))

    assert only(found).status == "incomplete"
    assert only(found).covered_pct == pytest.approx(70.0)
    assert only(found).left_out[0].area_mm2 == pytest.approx(200 * 30)
    assert 70 <= found.again[0].y <= 100
    assert ask(passes=a_pass(tracks=[])).zones[0].status == "incomplete"
    assert ask(passes=a_pass(tracks=[], covered_pct=100)).zones[0].status == "passed"


def test_a_second_pass_over_a_zone_counts_and_is_asked_about():
    zone = SESSION["zones"][0] | {"earlier_passes": 1}

    assert only(ask(zones=[zone])).passes_so_far == 2
    assert only(ask(zones=[zone])).status == "unproven"
    assert only(ask(zones=[zone], procedure={"repeats_max": 3})).status == "passed"


def test_an_unknown_strength_leaves_it_unproven():
    assert only(ask(polymer=..., strength=[])).status == "unproven"


def test_thin_film_is_proven_by_the_wet_sponge():
    zones = [{"id": "edge", "film_um": {"min": 300, "max": 450}}]
    found = ask(zones=zones, passes=[{"zone": "edge", "set_v": 67.5, "travel_m_s": 0.1, "covered_pct": 100}],
                electrode_voltage=[{"set_v": 67.5, "measured_v": 67}],
                coupons=[{"film_um": 450, "voltage_v": 67, "found": True}])

    assert only(found).status == "passed"
    assert "wet sponge" in only(found).because


def test_vapour_over_the_limit_never_lets_a_zone_pass():
    assert only(ask(lel_pct=30)).status != "passed"


def test_the_charge_left_on_the_zone_is_stated():
    """½·ε0·ε·V²/t over 0.02 m², worked apart: ε = 2.5, 8900 V, 1.8 mm."""
    assert only(ask()).stored_mj == pytest.approx(0.5 * 8.854e-12 * 2.5 * 8900**2 / 1.8e-3 * 0.02 * 1e3, rel=1e-3)


def test_the_record_of_the_test_is_plain_data():
    found = ask(sparks=[{"zone": "overlap", "x": 120, "y": 40}])
    text = json.dumps(found.sheet, allow_nan=False)

    assert "HT-7" in text and "2031-05-04T07:12:00Z" in text and "(120, 40) mm" in text
    assert found.sheet["cautions"]
    found.model_dump_json()


@pytest.mark.parametrize("change, kind", [
    ({"passes": a_pass(zone="nowhere")}, Unknown),
    ({"sparks": [{"zone": "nowhere"}]}, Unknown),
    ({"sparks": [{"zone": "overlap", "x": 500, "y": 0}]}, Contradiction),
    ({"sparks": [{"zone": "overlap", "x": 5}]}, Missing),
    ({"zones": SESSION["zones"] * 2}, Contradiction),
    ({"zones": [SESSION["zones"][0] | {"outline_mm": [[0, 0], [10, 10], [10, 0], [0, 10.5]]}]}, Contradiction),
    ({"passes": a_pass(covered_pct=50)}, Contradiction),
    ({"zones": [{"id": "overlap", "film_um": {"min": 1800, "max": 2000}}]}, Missing),
    ({"passes": a_pass(tracks=[{"points_mm": [[0, 0]], "width_mm": 10}])}, BenchError),
    ({"passes": a_pass(tracks=[{"points_mm": [[0, 0], [0, 0]], "width_mm": 10}])}, BenchError),
    ({"passes": a_pass(tracks=[{"points_mm": [[0, 0, 1], [5, 5]], "width_mm": 10}])}, BenchError),
    ({"passes": a_pass(travel_m_s=0)}, BenchError),
    ({"session": "HT-7"}, BenchError),
    ({"session": {"id": "HT-7", "at": "yesterday"}}, BenchError),
])
def test_bad_sessions_are_refused_by_name(change, kind):
    with pytest.raises(kind):
        ask(**change)


def counted_pct(outline, tracks, nx=200, ny=100):
    """The covered share by another road: places laid out evenly, each asked one by one."""
    def in_zone(x, y):
        crossings = 0
        for (xa, ya), (xb, yb) in zip(outline, outline[1:] + outline[:1]):
            if (ya > y) != (yb > y) and x < (xb - xa) * (y - ya) / (yb - ya) + xa:
                crossings += 1
        return crossings % 2 == 1

    def under(x, y):
        for points, width in tracks:
            for number, ((xa, ya), (xb, yb)) in enumerate(pairwise(points)):
                length = ((xb - xa) ** 2 + (yb - ya) ** 2) ** 0.5
                along = ((x - xa) * (xb - xa) + (y - ya) * (yb - ya)) / length
                across = abs((x - xa) * (yb - ya) - (y - ya) * (xb - xa)) / length
                if 0 <= along <= length and across <= width / 2:
                    return True
                if number and ((x - xa) ** 2 + (y - ya) ** 2) ** 0.5 <= width / 2:
                    return True
        return False

    x_max, y_max = max(x for x, _ in outline), max(y for _, y in outline)
    places = [(x_max * (i + 0.5) / nx, y_max * (j + 0.5) / ny) for i in range(nx) for j in range(ny)]
    zone = [place for place in places if in_zone(*place)]
    return 100 * sum(under(*place) for place in zone) / len(zone)


SCRIBBLE = [(float((37 * i) % 200), float((61 * i) % 100)) for i in range(60)]


@pytest.mark.parametrize("outline, tracks", [
    ([(0.0, 0.0), (200.0, 0.0), (240.0, 100.0), (20.0, 120.0)],
     [([(0.0, 20.0), (230.0, 40.0)], 30.0), ([(30.0, 80.0), (200.0, 70.0), (220.0, 110.0)], 24.0)]),
    ([(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)], [(SCRIBBLE, 6.0)]),
])
def test_the_area_map_agrees_with_a_count_of_points(outline, tracks):
    """Area by shapely against 20 000 places asked one by one; that grid is good to about 0.3 %."""
    from soundedge.holiday.coverage import covered

    assert covered(outline, tracks).pct == pytest.approx(counted_pct(outline, tracks), abs=0.4)


def test_tracks_without_end_are_refused_by_number():
    long = [{"points_mm": [[i % 200, (i * 7) % 100] for i in range(5000)], "width_mm": 10}]

    with pytest.raises(BenchError, match="15000 points together"):
        ask(passes=a_pass(tracks=long * 3))
    assert only(ask(passes=a_pass(tracks=long))).covered_pct > 0
