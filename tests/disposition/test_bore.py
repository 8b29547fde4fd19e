"""Places by clock and radius, and a bore laid flat: against sums done by hand, and the same wherever the seam is cut.

Outside values: a circle's circumference π·d and chord d·sin(arc/d), as every machinery handbook prints them (here Machinery's
Handbook, 27th ed., "Properties of the Circle": circumference of 100 is 314.159; for radius 1 the segment of 60° has arc 1.0472,
chord 1.0000, the one of 90° arc 1.5708, chord 1.4142). From memory; both are computed by hand in a line.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Contradiction
from soundedge.basis.question import answer
from soundedge.disposition.ask import FORMS
from soundedge.disposition.bore import beside, chord_mm, in_bore, on_face, round_mm
from soundedge.disposition.place import Laid, Place, lay

RULES = {"bare_area_mm2_max": 900, "footprint_area_mm2_max": 9000, "feather_mm": 15, "merge_gap_factor": 2, "keep_out_mm": 20,
         "repairs_per_part_max": 4, "pit_depth_mm_max": 1, "same_spot_radius_mm": 50, "same_spot_repairs_max": 1}


def said(*defects, d=200.0, keep_out=(), history=(), **part):
    return answer(FORMS, {
        "procedure": RULES, "part": {"bore_d_mm": d, "lined_area_mm2": 400000, "keep_out": list(keep_out), **part},
        "defects": list(defects), "history": list(history)})


def chip(name, along, angle, d=10.0, **more):
    return {"id": name, "circle_mm": {"d": d}, "place": {"along_mm": along, "angle_deg": angle}, **more}


def test_once_round_and_the_chord_are_those_of_a_handbook():
    assert round_mm(100) == pytest.approx(314.159, abs=5e-4)
    assert chord_mm(1.0472, 2.0) == pytest.approx(1.0000, abs=5e-5)
    assert chord_mm(1.5708, 2.0) == pytest.approx(1.4142, abs=5e-5)
    assert chord_mm(500.0, 100.0) == 100.0  # past half way round a rule reads no more than across


@pytest.mark.parametrize("clock, angle, x, y", [
    ("12", 0, 0, 100), ("3", 90, 100, 0), ("6:00", 180, 0, -100), ("9", 270, -100, 0),
    ("1", 30, 50, 86.6025404), ("10:30", 315, -70.7106781, 70.7106781), ("0:30", 15, 25.8819045, 96.5925826)])
def test_the_clock_is_read_as_on_a_face_seen_from_its_lined_side(clock, angle, x, y):
    """Sine and cosine of 30°, 45° and 15° from a table of seven figures."""
    place = lay(Place(clock=clock, radius_mm=100), Laid())

    assert place == pytest.approx((x, y), abs=1e-6)
    assert lay(Place(angle_deg=angle, radius_mm=100), Laid()) == pytest.approx(place, abs=1e-9)


@pytest.mark.parametrize("radius", [0.0, 5e-324, 1e-12, 1e-3])
def test_a_radius_next_to_nothing_is_the_middle(radius):
    x, y = lay(Place(clock="7:20", radius_mm=radius), Laid())

    assert math.hypot(x, y) <= radius * 1.0000001


@pytest.mark.parametrize("clock", ["13", "3.30", "3:60", "noon", "-1", "", "3:3"])
def test_a_clock_that_cannot_be_read_is_refused(clock):
    with pytest.raises(BenchError):
        said({"id": "A", "circle_mm": {"d": 10}, "place": {"clock": clock, "along_mm": 10}})


@pytest.mark.parametrize("place", [{"along_mm": 10}, {"clock": "3"}, {"clock": "3", "angle_deg": 90, "along_mm": 10},
                                   {"clock": "3", "along_mm": 10, "radius_mm": 10}, {}])
def test_half_a_place_is_refused(place):
    with pytest.raises(BenchError):
        said({"id": "A", "circle_mm": {"d": 10}, "place": place})


@pytest.mark.parametrize("place, on", [
    ({"along_mm": 40, "clock": "3"}, Laid()), ({"radius_mm": 40, "clock": "3"}, Laid(bore_d_mm=200)),
    ({"radius_mm": 99, "clock": "3"}, Laid(None, 100, 200)), ({"radius_mm": 201, "clock": "3"}, Laid(None, 100, 200))])
def test_a_place_that_does_not_fit_the_part_is_refused(place, on):
    with pytest.raises(Contradiction):
        lay(Place(**place), on)


@pytest.mark.parametrize("part", [{"bore_d_mm": 100, "ring_outer_r_mm": 50}, {"ring_inner_r_mm": 50, "ring_outer_r_mm": 50},
                                  {"bore_d_mm": 1}])
def test_a_part_that_is_no_part_is_refused(part):
    with pytest.raises(BenchError):
        answer(FORMS, {"procedure": RULES, "part": part, "defects": [{"id": "A", "circle_mm": {"d": 10}}]})


def test_two_damages_across_the_seam_are_one_repair_with_one_outline():
    """359° and 1° in a bore of 200 mm: 2/360 · π · 200 = 3.49 mm from middle to middle, so two of 10 mm overlap."""
    found = said(chip("A", 50, 359), chip("B", 50, 1))
    (repair,) = found.repairs
    ys = [y for _, y in repair.outline_mm]
    apart = 2 / 360 * math.pi * 200

    assert repair.members == ["A", "B"]
    assert repair.bare_area_mm2 == pytest.approx(math.pi * 25 + 10 * apart, rel=1e-3)   # a stadium
    assert max(ys) - min(ys) == pytest.approx(10 + apart, abs=0.01)
    assert found.verdict == "repair_by_procedure"


def test_the_gap_across_the_seam_decides_as_any_other():
    """Limit 30 mm between edges (two feathers). 340° and 0°: 34.9 mm between middles, 24.9 between edges; 335°: 33.6."""
    assert len(said(chip("A", 50, 340), chip("B", 50, 0)).repairs) == 1
    assert len(said(chip("A", 50, 335), chip("B", 50, 0)).repairs) == 2
    assert len(said(chip("A", 50, 335), chip("B", 50, 360)).repairs) == 2


def test_a_keep_out_is_as_near_across_the_seam():
    """A weld along the bore at 0°; a chip of 10 mm at 350° is 17.45 mm from it, less 5 and the feather of 15: it touches."""
    weld = {"kind": "weld", "shape_mm": [[0, 0], [300, 0]]}

    for angle in (350, 10):
        found = said(chip("A", 50, angle), keep_out=[weld])
        assert found.repairs[0].min_keep_out_mm == 0.0
        assert found.repairs[0].min_keep_out_bare_mm == pytest.approx(17.4533 - 5, abs=1e-3)
        assert found.verdict == "engineering_review"


def test_an_earlier_repair_across_the_seam_is_at_the_same_spot():
    found = said(chip("A", 50, 358), history=[{"job": "KBW-1", "x": 50, "y": 5, "d": 40}])

    assert found.repairs[0].same_spot_repairs == 1


def test_the_prepared_spot_across_the_seam_lies_over_what_was_found():
    over = said(chip("A", 50, 359.5), chip("A", 50, 0.5, d=14.0, stage="as_prepared"))
    away = said(chip("A", 50, 340), chip("A", 50, 20, d=14.0, stage="as_prepared"))

    assert over.verdict == "repair_by_procedure"
    assert "prepared_elsewhere" in away.repairs[0].decided_by


def test_a_repair_that_meets_itself_goes_to_the_engineer():
    """Once round a bore of 20 mm is 62.8 mm: a crack of 40 mm round it leaves 22.8 mm, less than two feathers of 15."""
    crack = {"id": "A", "ellipse_mm": {"a": 8, "b": 40}, "place": {"along_mm": 50, "clock": "6"}}
    found = said(crack, d=20.0)

    assert "all_round" in found.repairs[0].decided_by
    assert found.verdict == "engineering_review"


def test_damages_that_join_both_ways_round_go_to_the_engineer():
    """Six of 10 mm in a bore of 70 mm: 36.7 mm from middle to middle, 26.7 between edges, less than two feathers of 15."""
    found = said(*(chip(f"{i}", 50, 60 * i) for i in range(6)), d=70.0)

    assert "all_round" in found.repairs[0].decided_by


def test_damage_taken_in_across_the_seam_is_joined_the_near_way_round():
    """335° and 0° in a bore of 200 mm: 43.6 mm from middle to middle the near way, 584.7 mm the far way."""
    request = {"procedure": RULES, "part": {"bore_d_mm": 200}, "defects": [chip("A", 50, 335), chip("B", 50, 0)]}
    found = answer(FORMS, request | {"taken_in": [{"into": "A", "took": ["B"]}]})
    (repair,) = found.repairs

    assert repair.members == ["A", "B"] and "all_round" not in repair.decided_by
    assert repair.bare_area_mm2 == pytest.approx(math.pi * 25 + 10 * 25 / 360 * math.pi * 200, rel=1e-3)


def test_a_damage_longer_than_once_round_is_refused():
    with pytest.raises(Contradiction, match="once round"):
        said(chip("A", 50, 90, d=64.0), d=20.0)


def test_it_says_what_a_straight_rule_would_read():
    """60 mm round a bore of 100 mm: chord 100 · sin(0.6) = 56.46 mm."""
    found = said({"id": "A", "ellipse_mm": {"a": 8, "b": 60}, "place": {"along_mm": 50, "clock": "6"}}, d=100.0)

    assert any("60.0 mm round, only 56.5 mm" in caution for caution in found.cautions)


def test_what_has_no_place_is_judged_as_it_always_was():
    """A face knows no seam: what lies 628 mm apart is two, whatever a bore would make of it."""
    defects = [{"id": name, "circle_mm": {"x": 0, "y": y, "d": 10}} for name, y in (("A", 0), ("B", 628))]
    request = {"procedure": RULES, "defects": defects}

    assert len(answer(FORMS, request).repairs) == 2
    assert len(answer(FORMS, request | {"part": {"bore_d_mm": 200}}).repairs) == 1


spots = st.lists(st.tuples(st.floats(0, 400), st.floats(0, 360), st.floats(2, 40)), min_size=1, max_size=6)


@given(spots, st.floats(0, 360), st.floats(0, 360))
def test_turning_the_datum_changes_no_group_no_area_and_no_gap(given_spots, turn, weld_deg):
    """Where 0° is painted is nobody's fact: turned by any angle, the same part gets the same answer."""
    def judged(by):
        at = [chip(f"{i}", along, (angle + by) % 360, d) for i, (along, angle, d) in enumerate(given_spots)]
        y = in_bore(0, (weld_deg + by) % 360, d_mm=200)[1]
        return said(*at, keep_out=[{"kind": "weld", "shape_mm": [[150, y], [250, y]]}])

    before, after = judged(0.0), judged(turn)
    for one in before.findings:  # a value that is its limit but for the last digit may fall either way
        assume(one.value is None or one.limit is None or abs(one.value - one.limit) > 1e-3)

    assert [r.members for r in after.repairs] == [r.members for r in before.repairs]
    for one, other in zip(before.repairs, after.repairs, strict=True):
        assert other.bare_area_mm2 == pytest.approx(one.bare_area_mm2, rel=1e-6)
        assert other.footprint_area_mm2 == pytest.approx(one.footprint_area_mm2, rel=1e-4)
        assert other.min_keep_out_mm == pytest.approx(one.min_keep_out_mm, abs=1e-3)
        assert other.decided_by == one.decided_by
    assert after.verdict == before.verdict


@given(st.floats(-5000, 5000), st.floats(-5000, 5000), st.floats(31, 3000))
def test_beside_is_a_whole_number_of_turns_and_never_more_than_half_a_turn_away(y, to, around):
    near = beside(y, to, around)

    assert abs(near - to) <= around / 2 * (1 + 1e-9) + 1e-6
    assert math.isclose((near - y) / around, round((near - y) / around), abs_tol=1e-6)


@given(st.floats(0, 10000), st.floats(0, 360))
def test_a_place_on_a_face_lies_at_its_radius(radius, turn):
    assert math.hypot(*on_face(radius, turn)) == pytest.approx(radius, rel=1e-9, abs=1e-9)
