"""Is a request read so that nothing in it is silently dropped or changed?"""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Unreadable
from soundedge.basis.strict_json import loads

JSON = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
    | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@given(JSON)
def test_what_is_json_comes_back_as_it_was(value):
    try:
        text = json.dumps(value, ensure_ascii=False)
        text.encode()
    except UnicodeEncodeError:
        return

    assert loads(text) == json.loads(text)


@pytest.mark.parametrize(
    "text, word",
    [
        ('{"a": 1, "a": 2}', "twice"),
        ('{"a": NaN}', "NaN"),
        ('{"a": Infinity}', "Infinity"),
        ('{"a": 1e400}', "too large"),
        ('{"a": 9007199254740993}', "whole number"),
        (r'{"a": "\ud800"}', "surrogate"),
        (r'{"\udfff": 1}', "surrogate"),
        (r'["\ud800"]', "surrogate"),
        ("[" * 100 + "]" * 100, "nested"),
        ("[" * 200_000, "nested"),
        ("{", "line 1"),
        ("", "not JSON"),
        (b"\xff\xfe", "UTF-8"),
        ('"' + "x" * 100 + '"', "bytes long"),
    ],
)
def test_each_trap_is_refused_by_name(text, word):
    with pytest.raises(Unreadable, match=word):
        loads(text, size_max_bytes=50 if word == "bytes long" else 16_000_000)


@given(st.binary(max_size=200))
def test_no_bytes_make_it_fall_over(raw):
    try:
        loads(raw)
    except BenchError as fault:
        assert fault.message
