"""Damage that grows, or takes other damage in: one letter, one outline, and layers that were laid before prove nothing new."""

import pytest

from soundedge.basis.question import answer
from soundedge.disposition.ask import FORMS
from soundedge.job.acts.before import before
from soundedge.job.typed import events_of

from .sheets import blocks, sheet
from .test_gates import ENGINEER, also, at, every, instructs, judged

LARGER = {"id": "A", "stage": "as_prepared", "circle_mm": {"x": -60, "y": 35, "d": 33}, "u_area_mm2": 8, "pit_depth_mm": 0.15}
BESIDE = also("damage", at=at("06:58"), by="ines", id="B", stage="as_found", circle_mm={"x": -55, "y": 35, "d": 6})
FAR = also("damage", at=at("06:58"), by="ines", id="B", stage="as_found", circle_mm={"x": 100, "y": -150, "d": 5})


def outlined(clock, **more):
    return also("damage", at=at(clock), by="ines", **(LARGER | more))


def took(clock, into="A", took=("B",)):
    return also("took_in", at=at(clock), by="ines", into=into, took=list(took), because="One spot after grinding.")


def test_a_repair_may_be_ground_and_outlined_again_before_its_first_layer():
    outcome = judged(outlined("08:00"))

    assert outcome.verdict == "released", blocks(outcome)
    (repair,) = outcome.steps["disposition"].answers[0]["repairs"]
    assert repair["bare_area_mm2"] == pytest.approx(855.3, abs=0.5)  # π/4 · 33², not the ellipse of before


def test_outlined_larger_after_a_layer_it_is_the_engineers():
    late = outlined("09:45")
    assert "taken_in" in blocks(judged(late))
    assert "taken_in" not in blocks(judged(every(ENGINEER, late, instructs("09:50"))))
    assert "taken_in" not in blocks(judged(outlined("09:45", circle_mm={"x": -60, "y": 35, "d": 20})))  # nothing new is bare


def test_damage_that_was_taken_in_is_part_of_the_repair_and_needs_no_outline_of_its_own():
    outcome = judged(every(BESIDE, outlined("07:58"), took("07:59")))

    assert outcome.verdict == "released", blocks(outcome)
    assert [one["members"] for one in outcome.steps["disposition"].answers[0]["repairs"]] == [["A", "B"]]


def test_damage_beside_the_new_outline_is_still_to_be_outlined_as_prepared():
    outcome = judged(every(FAR, outlined("07:58"), took("07:59")))

    assert {"as_prepared", "bare_area"} <= set(blocks(outcome))  # and the limits are asked of what lies between as well


def test_the_one_that_took_the_other_in_gives_the_letter():
    outcome = judged(every(BESIDE, outlined("07:58", id="B"), took("07:59", into="B", took=["A"])))

    assert [one["members"] for one in outcome.steps["disposition"].answers[0]["repairs"]] == [["B", "A"]]


def test_taken_in_after_a_layer_the_engineer_says_which_layers_stand():
    late = every(BESIDE, outlined("07:58"), took("09:30"))

    assert (judged(late).verdict, "taken_in" in blocks(judged(late))) == ("engineering_review", True)
    assert "taken_in" not in blocks(judged(every(ENGINEER, late, instructs("09:35"))))
    typed = sheet()
    late(typed)
    assert before(events_of(typed), "next_layer", at=at("09:32")).answer == "no"


@pytest.mark.parametrize("into, taken", [("A", ["Z"]), ("Z", ["A"]), ("A", ["A"])])
def test_what_names_no_other_damage_is_voided_and_joins_nothing(into, taken):
    outcome = judged(took("07:59", into=into, took=taken))

    assert blocks(outcome) == ["taken_in"] and "Void it" in outcome.blocked_by[0].next_move


def test_a_chain_ends_at_the_first_and_a_ring_joins_only_once():
    third = also("damage", at=at("06:59"), by="ines", id="C", stage="as_found", circle_mm={"x": -62, "y": 35, "d": 4})
    chain = judged(every(BESIDE, third, outlined("07:58"), took("07:59", "B", ["C"]), took("08:00", "A", ["B"])))
    assert sorted(chain.steps["disposition"].answers[0]["repairs"][0]["members"]) == ["A", "B", "C"]
    ring = judged(every(BESIDE, outlined("07:58"), took("07:59"), took("08:00", "B", ["A"])))
    assert len(ring.steps["disposition"].answers[0]["repairs"]) == 1


def test_the_room_joins_what_lies_far_apart_when_it_is_told_to():
    asked = {"procedure": {"limits": {"bare_area_mm2_max": 900, "feather_mm": 10}},
             "defects": [{"id": n, "circle_mm": {"x": x, "y": 0, "d": 8}} for n, x in (("A", 0), ("B", 90))]}
    told = answer(FORMS, asked | {"taken_in": [{"into": "B", "took": ["A"]}]})

    assert [one.members for one in told.repairs] == [["B", "A"]]
    assert "said to be one repair" in told.merged_because[0]
