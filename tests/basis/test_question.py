"""Is every fault of a request named, whatever the field and whatever stands in it?"""

from typing import Annotated

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Missing, OutOfRange, Unknown, Unreadable
from soundedge.basis.quantity import Instant, Prose, Quantity, Word
from soundedge.basis.question import Request, read
from soundedge.basis.shape import Circle, Ellipse, Outline, area_mm2


class Sheet(Request):
    rh_pct: Annotated[float, Quantity("Relative humidity", "%", above=0, at_most=100, next_move="Dry it.")]
    n: Annotated[int, Quantity("Count", at_least=0, at_most=9, whole=True)] = 0
    at: Instant | None = None
    name: Word | None = None
    note: Prose | None = None
    wet: bool = False
    outline_mm: Outline | None = None
    circle_mm: Circle | None = None


@pytest.mark.parametrize(
    "raw, error, words",
    [
        ({}, Missing, "'rh_pct' was not given"),
        ({"rh_pct": 106}, OutOfRange, "Relative humidity is 106 %; it must be above 0 and at most 100 %. Dry it."),
        ({"rh_pct": "63"}, Unreadable, "is '63'; it must be a number of %"),
        ({"rh_pct": True}, Unreadable, "is true"),
        ({"rh_pct": None}, Unreadable, "is empty"),
        ({"rh_pct": float("nan")}, OutOfRange, "finite"),
        ({"rh_pct": 63, "rh": 1}, Unknown, "'rh' is not a key"),
        ({"rh_pct": 63, "n": 1.5}, OutOfRange, "whole number"),
        ({"rh_pct": 63, "wet": "no"}, Unreadable, "wet"),
        ({"rh_pct": 63, "at": "yesterday"}, Unreadable, "2031-05-04T09:12:00Z"),
        ({"rh_pct": 63, "name": "a\x00b"}, Unreadable, "U+0000"),
        ({"rh_pct": 63, "name": " "}, Missing, "empty"),
        ({"rh_pct": 63, "name": "x" * 121}, OutOfRange, "at most 120"),
        ({"rh_pct": 63, "outline_mm": [[0, 0], [1, 1], [2, 2]]}, OutOfRange, "no area"),
        ({"rh_pct": 63, "circle_mm": {"d": 0}}, OutOfRange, "above 0"),
        ([1], Unreadable, "not a JSON object"),
    ],
)
def test_each_fault_is_named(raw, error, words):
    with pytest.raises(error) as caught:
        read(Sheet, raw)

    assert words in caught.value.message


def test_a_word_has_no_blanks_around_it_and_prose_keeps_its_own():
    sheet = read(Sheet, {"rh_pct": 63, "name": " A 1\t", "note": " as said\n"})

    assert (sheet.name, sheet.note) == ("A 1", " as said\n")


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.binary(max_size=3),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=8,
)


@given(st.sampled_from(sorted(Sheet.model_fields)), ANYTHING)
def test_nothing_in_any_field_makes_it_fall_over(field, value):
    try:
        read(Sheet, {"rh_pct": 63} | {field: value})
    except BenchError as fault:
        assert fault.message and fault.kind


def test_a_record_may_hold_numbers_as_decimal_strings_and_a_request_may_not():
    assert read(Sheet, {"rh_pct": "63.5"}, from_record=True).rh_pct == 63.5
    with pytest.raises(Unreadable):
        read(Sheet, {"rh_pct": "63.5"})


def test_area_is_the_same_drawn_either_way_round_and_far_from_the_corner():
    shape = [(0, 0), (4, 0), (4, 3), (0, 3)]
    far = [(x + 1e4, y - 1e4) for x, y in shape]

    assert area_mm2(shape) == area_mm2(shape[::-1]) == area_mm2(far) == 12


def test_an_ellipse_is_given_by_its_full_axes():
    """π·a·b/4 with full axes; 256 points lose 0.01 %."""
    assert area_mm2(Ellipse(a=62.0, b=31.0).outline()) == pytest.approx(3.14159265 * 62 * 31 / 4, rel=2e-4)
