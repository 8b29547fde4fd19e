"""A damage placed by clock and radius or along a bore, in the job: laid, judged across the seam, printed, always readable."""

import copy

import pytest

from soundedge.basis.errors import BenchError, Contradiction
from soundedge.history.recall import told_by
from soundedge.job.acts.may import may
from soundedge.job.judge import judge_job
from soundedge.job.kinds import body_of
from soundedge.job.typed import events_of
from soundedge.report.from_job import certificate_view
from soundedge.report.part_drawing import close_up
from soundedge.report.part_layers import marks_of, part_frame

from .sheets import blocks, sheet
from .test_gates import at

BORE = {"bore_d_mm": 300, "datum": "0° at the arrow, length 0 at the flange face"}
TURN = 3.141592653589793 * 300


def printed(outcome):
    return repr(certificate_view(outcome, issued_at=at("13:00"), record_digest="0" * 64))


def placed(**places):
    """The released cover as a bore, its chip at a place there: the way round, and the readings on it moved along."""
    typed = sheet()
    place = places or {"along_mm": 60, "angle_deg": 359.5}
    typed["part"] |= BORE
    typed["part"]["keep_out"] = []
    y = place.get("angle_deg", 0) / 360 * TURN
    for one in typed["damage"]:
        for key in ("survey", "photo", "photo_sha256", "measured", "outline_mm", "ellipse_mm"):
            one.pop(key, None)
        one |= {"circle_mm": {"d": 25 if one["stage"] == "as_found" else 29}, "place": dict(place)}
    for spot in typed["film"][0]["spots"] if isinstance(typed["film"], list) else typed["film"]["spots"]:
        if "x" in spot:
            spot["x"], spot["y"] = spot["x"] + 60 + place.get("along_mm", 0), (spot["y"] - 35 + y) % TURN
    return typed


def judged(typed, **how):
    return judge_job(events_of(typed), estimates=False, **how)


def test_a_chip_across_the_seam_is_released_like_any_other():
    outcome = judged(placed())
    (repair,) = outcome.steps["disposition"].answers[0]["repairs"]

    assert outcome.verdict == "released", [b.because for b in outcome.blocked_by]
    assert repair["centroid_mm"] == pytest.approx([60, 359.5 / 360 * TURN], abs=1e-3)


def test_where_0_is_painted_changes_no_verdict():
    """Readings on the far side of the seam are readings on the repair; those elsewhere are not."""
    for angle in (0.0, 90.0, 181.0, 358.0, 360.0):
        assert judged(placed(along_mm=60, angle_deg=angle)).verdict == "released", angle


def test_readings_on_the_far_side_of_the_bore_are_not_on_the_repair():
    typed = placed()
    for film in typed["film"]:
        for spot in film["spots"]:
            if "y" in spot:
                spot["y"] = (spot["y"] + TURN / 2) % TURN

    assert "each_repair_measured" in blocks(judged(typed))


def gouge(y):
    """A scratch not through at 359°, and a reading at this way round."""
    typed = placed()
    first = typed["damage"][0]
    typed["damage"].append(copy.deepcopy(first) | {
        "id": "G", "kind": "scratch", "through": False, "pit_depth_mm": 0, "circle_mm": {"d": 20},
        "place": {"along_mm": 250, "angle_deg": 359}})
    typed["film"][0]["spots"].append({"id": "G1", "where": "parent", "readings_um": [1300], "x": 250, "y": y, "repair": "G"})
    return judged(typed)


def test_a_gouge_is_read_across_the_seam_and_not_on_the_other_side():
    assert "gouge_measured" not in blocks(gouge(3.0))
    assert "gouge_measured" not in blocks(gouge(TURN - 3.0))
    assert "gouge_measured" in blocks(gouge(TURN / 2))


def test_the_page_says_where_it_lies_and_from_where_it_counts():
    view = printed(judged(placed()))

    assert "359.5°, 60 mm along" in view and "0° at the arrow" in view and "300 mm" in view


def test_the_plan_draws_a_damage_on_the_side_of_the_seam_where_its_repair_is():
    typed = placed()
    for damage, angle in zip(typed["damage"], (1.0, 359.5), strict=False):
        damage["place"]["angle_deg"] = angle
    outcome = judged(typed)
    west, _, east, _ = close_up(part_frame(outcome), marks_of(outcome))

    assert east - west < 130


def test_a_later_job_recalls_the_place_on_the_wall():
    events = events_of(placed(along_mm=60, angle_deg=90.0))
    (repair,) = told_by(judge_job(events, estimates=False).job).repairs

    assert (repair.x, repair.y) == pytest.approx((60, TURN / 4), abs=0.01)


WRONG = [
    ({"along_mm": 60, "clock": "3"}, {}),
    ({"radius_mm": 60, "clock": "3"}, BORE),
    ({"radius_mm": 60, "clock": "3"}, {"ring_inner_r_mm": 100}),
    ({"radius_mm": 60, "clock": "3"}, {"ring_outer_r_mm": 50}),
]


@pytest.mark.parametrize("place, part", WRONG)
def test_a_place_that_does_not_fit_is_refused_on_a_sheet(place, part):
    typed = sheet()
    typed["part"] |= part
    typed["damage"][1] = typed["damage"][1] | {"place": place}

    with pytest.raises(Contradiction, match="Damage A lies"):
        judged(typed)


def test_a_correction_on_a_sheet_is_held_to_the_part_as_well():
    typed = sheet()
    typed["part"] |= {"ring_inner_r_mm": 20, "ring_outer_r_mm": 150}
    for one in typed["damage"]:
        one["place"] = {"radius_mm": 60, "clock": "3"}
    fixed = {"at": at("08:30"), "by": "ines", "entry": "part", "field": "ring_inner_r_mm", "old": 20, "because": "taped again"}

    assert judged(typed | {"correction": [fixed | {"new": 50}]}).steps["disposition"].answers
    with pytest.raises(Contradiction, match="inside the ring"):
        judged(typed | {"correction": [fixed | {"new": 80}]})


@pytest.mark.parametrize("place, part", WRONG)
def test_and_holds_a_record_that_stays_readable(place, part):
    """Whatever stands in a record is read: judged, drawn, printed, recalled; it holds with a reason and a next move."""
    typed = sheet()
    typed["part"] |= part
    typed["damage"][1] = typed["damage"][1] | {"place": place}
    outcome = judged(typed, from_record=True)
    held = [block for block in outcome.blocked_by if block.step == "disposition"]

    assert outcome.verdict != "released"
    assert held and "lies" in held[0].because and held[0].next_move
    assert marks_of(outcome) and printed(outcome) and told_by(outcome.job).repairs
    assert may(events_of(typed), from_record=True).say


def test_what_is_no_place_is_no_body():
    said = {"id": "A", "stage": "as_found", "circle_mm": {"d": 20}, "place": {"clock": "25:00", "radius_mm": 3}}

    with pytest.raises(BenchError, match="clock place"):
        body_of("damage.outlined", said)


def test_the_plan_draws_a_keep_out_where_it_is_met_across_the_seam():
    """A weld along 0°, 4 mm round the corner from a chip at 359.5°: drawn closer it lies beside it, not a turn away."""
    typed = placed()
    typed["part"]["keep_out"] = [{"kind": "weld", "shape_mm": [[20, 5], [100, 5]]}]
    outcome = judged(typed)
    frame, marks = part_frame(outcome), marks_of(outcome, [("KBW-0", 60, 4, 30)])
    box = close_up(frame, marks)

    assert box[2] - box[0] < 130
    for sort in ("no_repair", "earlier"):
        (mark,) = [one for one in marks if one.sort == sort]
        assert any(box[0] < u < box[2] for ring in frame.met(mark.rings[0], box) for u, _ in ring), sort



def test_the_page_says_what_a_straight_rule_reads_in_a_narrow_bore():
    """29 mm round a bore of 60 mm: chord 60 · sin(29/60) = 27.88 mm."""
    typed = placed(along_mm=60, angle_deg=0.0)
    typed["part"]["bore_d_mm"] = 60

    assert "29.0 mm round, only 27.9 mm" in printed(judged(typed))


def test_an_outline_drawn_again_across_the_seam_has_not_grown():
    """Outlined again smaller after a layer, 0.2° past the seam, it lies in the outline of 359.9°; 3° on, it does not."""
    def again(angle):
        typed = placed(along_mm=60, angle_deg=359.9)
        typed["damage"].append(copy.deepcopy(typed["damage"][1]) | {
            "at": at("09:10"), "circle_mm": {"d": 20}, "place": {"along_mm": 60, "angle_deg": angle}})
        return blocks(judged(typed))

    assert "taken_in" not in again(0.2)
    assert "taken_in" in again(3.0)
