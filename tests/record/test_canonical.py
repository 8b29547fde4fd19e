"""Has every value exactly one form in bytes, and is it that of RFC 8785?"""

import json
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import numpy as np
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, OutOfRange, Unreadable
from soundedge.record.canonical import canonical, decimal_text, fast_text, plain

from ..tries import tries

texts = st.text(st.characters(exclude_categories=("Cs", "Cc")), max_size=20).map(
    lambda text: __import__("unicodedata").normalize("NFC", text)
)
keys = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=8)
values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=12,
)


@given(values)
@tries(300)
def test_it_gives_the_bytes_of_an_independent_rfc_8785_writer(value):
    """Oracle: the rfc8785 package, another implementation of the same RFC."""
    assert canonical(value) == rfc8785.dumps(value)


@given(values)
@tries(200)
def test_what_is_written_reads_back_and_writes_the_same(value):
    raw = canonical(value)

    assert json.loads(raw) == value
    assert fast_text(json.loads(raw)).encode() == raw


def test_the_rfcs_own_example_of_sorting_and_escapes():
    """RFC 8785 section 3.2.2, the string and literals parts; from memory, and equal to the oracle's output."""
    value = {"string": "\u20ac$\u000a'\u0042\u0022\u005c\\\"/", "literals": [None, True, False]}
    expected = '{"literals":[null,true,false],"string":"€$\\n\'B\\"\\\\\\\\\\"/"}'.encode()

    assert canonical(value) == expected == rfc8785.dumps(value)


@pytest.mark.parametrize(
    "value, said",
    [
        ({"a": 1.5}, "decimal strings"),
        ({"a": float("nan")}, "decimal strings"),
        ({"ä": 1}, "ASCII"),
        ({1: 1}, "ASCII"),
        ("e\u0301", "NFC"),
        ("\ud800", "U+D800"),
        ("a\x00b", "U+0000"),
        ("a\rb", "U+000D"),
        (2**53, "2^53"),
        (-(2**53), "2^53"),
        (b"bytes", "bytes"),
        ((1, 2), "tuple"),
        ({"a": {"b": [object()]}}, "object"),
    ],
)
def test_what_has_two_forms_or_none_is_refused(value, said):
    with pytest.raises(BenchError, match=said.replace("^", r"\^").replace("+", r"\+")):
        canonical(value)


def test_nesting_has_an_end():
    deep: object = "x"
    for _ in range(40):
        deep = [deep]

    with pytest.raises(Unreadable, match="32 deep"):
        canonical(deep)
    with pytest.raises(Unreadable, match="32 deep"):
        plain(deep)


@given(st.floats(allow_nan=False, allow_infinity=False))
@tries(500)
def test_a_measured_number_comes_back_as_the_same_float(number):
    text = decimal_text(number)

    assert float(Decimal(text)) == number
    assert text == text.strip() and "E" not in text and not text.endswith(".")


@given(st.floats(min_value=-1e6, max_value=1e6, allow_nan=False))
@tries(300)
def test_the_decimal_text_is_the_shortest_that_comes_back(number):
    """No shorter digit string reads back as the same float: repr is the published shortest round trip."""

    def digits(text):
        return text.split("e")[0].lstrip("-").replace(".", "").strip("0")

    assert digits(decimal_text(number)) == digits(repr(number))


def test_nothing_is_written_in_one_way_only():
    assert decimal_text(-0.0) == decimal_text(0.0) == "0"


@pytest.mark.parametrize("room", ["canonical", "entry", "write", "tree"])
def test_the_worked_cases_are_what_the_room_gives(room):
    import doctest
    import importlib

    tried = doctest.testmod(importlib.import_module(f"soundedge.record.{room}"))

    assert tried.attempted > 0 and tried.failed == 0


def test_what_cannot_be_kept_is_refused_by_name():
    for bad in (float("nan"), float("inf"), Decimal("NaN"), np.float64("inf")):
        with pytest.raises(OutOfRange):
            plain({"air_c": bad})
    with pytest.raises(OutOfRange) as caught:
        plain({"air": [{"c": float("inf")}]})
    assert caught.value.field == "air[0].c"


def test_plain_takes_numpy_moments_and_models():
    from soundedge.basis.finding import Finding  # any model of the house

    moment = datetime(2031, 5, 4, 9, 12, tzinfo=timezone(timedelta(hours=2)))
    value = {"a": np.float64(0.5), "b": np.int64(3), "c": moment, "d": (1, 2.0), "e": "e\u0301", "f": Decimal("12.50")}

    assert plain(value) == {"a": "0.5", "b": 3, "c": "2031-05-04T07:12:00Z", "d": [1, "2"], "e": "é", "f": "12.50"}
    assert Finding.model_fields
    assert plain({"at": datetime(2031, 5, 4, tzinfo=UTC)}) == {"at": "2031-05-04T00:00:00Z"}
