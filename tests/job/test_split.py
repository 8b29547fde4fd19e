"""One repair that turns out to be several: each under its own letter and outline, before a layer, and nothing bare is lost."""

import pytest

from soundedge.job.acts.before import before
from soundedge.job.typed import events_of

from .sheets import blocks
from .test_gates import ENGINEER, also, at, instructs, judged
from .two_repairs import OF_EACH, two


def apart(**first):
    """The two chips of the cover, found as one spot A round both; ground, they are C and D."""
    typed = two()
    for one in typed["damage"]:
        one["id"] = {"A": "C", "B": "D"}[one["id"]]
    for section in OF_EACH:
        for one in typed[section]:
            if "repair" in one:
                one["repair"] = {"A": "C", "B": "D"}[one["repair"]]
    typed["damage"].insert(0, {"at": at("06:50"), "by": "ines", "id": "A", "stage": "as_found", "kind": "chip",
                               "circle_mm": {"x": -60, "y": 35, "d": 16}} | first)
    return typed


def split(clock="07:02", of="A", into=("C", "D"), by="ines"):
    return also("split", at=at(clock), by=by, of=of, into=list(into), because="Sound lining between them.")


AWAY = {"circle_mm": {"x": 150, "y": 120, "d": 6}}  # where no other damage takes it in


def told(*changes, **first):
    typed = apart(**first)
    for change in changes:
        change(typed)
    return judged(lambda sheet: (sheet.clear(), sheet.update(typed)))


def test_a_spot_that_is_two_goes_on_as_two_and_its_first_outline_is_kept():
    assert "as_prepared" in blocks(told(**AWAY))  # A was found, and never outlined as prepared

    outcome = told(split())
    assert (outcome.verdict, blocks(outcome)) == ("released", [])
    assert [one["members"] for one in outcome.steps["disposition"].answers[0]["repairs"]] == [["C"], ["D"]]
    assert [event.body.id for event in outcome.job.replaced] == ["A"]


@pytest.mark.parametrize("of, into", [("A", ["C"]), ("A", ["C", "C"]), ("A", ["A", "C"]), ("A", ["C", "Z"]), ("Z", ["C", "D"])])
def test_a_split_into_what_nobody_outlined_counts_for_nothing(of, into):
    outcome = told(split(of=of, into=into), **AWAY)

    assert "split" in blocks(outcome) and not outcome.job.replaced
    assert any("outline each of them" in block.next_move for block in outcome.blocked_by)


def test_it_is_outlined_first_and_split_afterwards():
    early = told(split("06:52"), **AWAY)
    assert {"split", "as_prepared"} <= set(blocks(early)) and not early.job.replaced


def test_after_a_layer_nothing_is_split():
    def laid(typed):
        typed["layer"][0]["repair"] = "A"

    outcome = told(laid, split("10:30"), **AWAY)
    assert "split" in blocks(outcome) and not outcome.job.replaced
    assert any("name the zones" in block.next_move for block in outcome.blocked_by)


def test_bare_steel_is_not_lost_in_a_split():
    def prepared(d):
        return also("damage", at=at("06:56"), by="ines", id="A", stage="as_prepared", circle_mm={"x": -60, "y": 35, "d": d})

    assert "split" in blocks(told(prepared(60), split("07:59")))
    assert "split" not in blocks(told(prepared(12), split("07:59")))  # inside of what C is ground to


def test_what_held_the_job_is_split_by_the_engineer_alone():
    """A spot of 2827 mm², where 900 are allowed, is not made two small ones by whoever would like it so."""
    large = {"circle_mm": {"x": 20, "y": -60, "d": 60}}

    assert "changed_what_failed" in blocks(told(split(), **large))
    assert "changed_what_failed" not in blocks(told(ENGINEER, split(by="amara"), **large))
    assert "changed_what_failed" not in blocks(told(ENGINEER, split(), instructs("07:10"), **large))


def test_what_is_said_of_the_old_letter_afterwards_is_asked_back():
    late = also("look", at=at("07:30"), by="ines", stage="before", repair="A", accepted=True, seen="Clean.")
    assert "split" in blocks(told(late, split()))


def test_a_disposition_signed_before_the_split_is_signed_again():
    signed = next(one["at"] for one in apart()["sign"] if one["hold_point"] == "disposition")
    after = f"{signed.hour:02}:{signed.minute + 1:02}"

    assert "hold_point_disposition" in blocks(told(split(after)))


def test_before_a_split_that_does_not_count_no_heat():
    typed = apart(**AWAY)
    split(into=("C", "Z"))(typed)
    assert before(events_of(typed), "heat_on", at=at("08:30")).answer != "yes"
