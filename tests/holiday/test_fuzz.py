"""No bad value of any field, in any form, ends in anything but a refusal by name or a whole answer."""

import copy
import json

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer
from soundedge.holiday.ask import FORMS

from ..tries import tries
from .test_one_film import COVER
from .test_session import SESSION

WHOLE = {
    "film": COVER | {
        "rule": "two_step", "path": {"lift_off_um": 10, "slant_deg": 20, "tip_radius_um": 80}, "area_m2": 0.5,
        "procedure": {"limits": {"holiday_v_min": 2500}, "strength": {"ectfe": [{"kv_mm": 20, "at_um": 700}]},
                      "holiday_rule": "two_step"},
        "lel_pct": 1, "zone": "A",
    },
    "zones": {"zones": [{"id": "a", "kind": "patch", "film_um": {"min": 700, "max": 900}, "stated_voltage_v": 4000},
                        {"id": "b", "film_um": {"min": 520, "max": 600}}], "polymer": "pvdf",
              "own_rule": {"rule": "T", "source": "s", "rows": [{"from_um": 500, "to_um": 900, "voltage_v": 3000}]}},
    "session": SESSION | {"sparks": [{"zone": "overlap", "x": 3, "y": 4}], "pulse_hz": 30, "contact_mm": 20},
}
ODD = [None, True, "", "x", "620", [], {}, [[]], -1, 0, 1e-300, 1e300, -1e300, float("nan"), float("inf"), 10**300,
       "2031-05-04T09:12:00", "\x00", "é" * 5000, [None], {"": None}, 1e6, 42]


def places(value, path=()):
    """Every place in a request, leaf or branch."""
    yield path
    if isinstance(value, dict):
        for key, one in value.items():
            yield from places(one, (*path, key))
    elif isinstance(value, list):
        for number, one in enumerate(value):
            yield from places(one, (*path, number))


def changed(request, path, value):
    if not path:
        return value
    out = copy.deepcopy(request)
    spot = out
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    return out


def either_answers_or_refuses(raw):
    try:
        found = answer(FORMS, raw)
    except BenchError as refused:
        assert refused.message.strip() and len(refused.message) < 3000
        return
    json.dumps(found.model_dump(mode="json"), allow_nan=False)


@pytest.mark.parametrize("form", WHOLE)
def test_the_whole_request_is_answered(form):
    json.dumps(answer(FORMS, WHOLE[form]).model_dump(mode="json"), allow_nan=False)


@pytest.mark.parametrize("form", WHOLE)
def test_every_odd_value_in_every_place(form):
    for path in places(WHOLE[form]):
        for odd in ODD:
            either_answers_or_refuses(changed(WHOLE[form], path, odd))


@pytest.mark.parametrize("form", WHOLE)
def test_every_key_left_out_in_turn(form):
    for path in places(WHOLE[form]):
        if path and isinstance(path[-1], str):
            out = copy.deepcopy(WHOLE[form])
            spot = out
            for step in path[:-1]:
                spot = spot[step]
            del spot[path[-1]]
            either_answers_or_refuses(out)


numbers = st.floats(allow_nan=True, allow_infinity=True) | st.integers(-10**6, 10**6)


@tries(150, suppress_health_check=[HealthCheck.too_slow])
@given(st.floats(100, 20_000), st.floats(100, 20_000), st.floats(1, 400), st.floats(5, 20_000), st.floats(-40, 70),
       st.floats(45, 110), st.none() | st.floats(5, 60_000))
def test_an_honest_request_is_answered_and_its_parts_agree(a, b, kv, at, c, kpa, volts):
    found = answer(FORMS, {"film_um": {"min": min(a, b), "max": max(a, b)}, "strength": [{"kv_mm": kv, "at_um": at}],
                           "air": {"c": c, "kpa": kpa}, "stated_voltage_v": volts})

    assert found.low_v >= found.air_gap_v > 0
    assert 0 < found.proven_from_v < found.low_v
    if at < 100:        # film thinner than any lining
        assert found.high_v is None and found.verdict != "conforms"
        return
    assert found.window_empty == (found.low_v > found.high_v)
    assert found.high_v <= 0.5 * max(kv, 30) * min(a, b) * (1 + 1e-9)
    assert found.suggested_v is None or (found.suggested_v % 50 == 0 and found.low_v <= found.suggested_v <= found.high_v)
    if found.verdict == "conforms" and found.method == "high_voltage":
        assert found.low_v <= volts <= found.high_v
    if volts is None:
        assert found.verdict != "conforms"


@tries(100)
@given(st.recursive(st.none() | st.booleans() | numbers | st.text(max_size=8),
                    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
                        st.sampled_from(["film_um", "zones", "session", "min", "max", "air", "id", "strength"]), inner,
                        max_size=4), max_leaves=12))
def test_any_shape_at_all(raw):
    either_answers_or_refuses(raw)


def as_in_a_record(value):
    """Numbers as decimal strings, the way the record keeps them."""
    if isinstance(value, dict):
        return {key: as_in_a_record(one) for key, one in value.items()}
    if isinstance(value, list):
        return [as_in_a_record(one) for one in value]
    return repr(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else value


@pytest.mark.parametrize("form", WHOLE)
def test_a_request_kept_in_the_record_is_answered_alike(form):
    fresh, kept = answer(FORMS, WHOLE[form]), answer(FORMS, as_in_a_record(WHOLE[form]), from_record=True)

    assert kept.model_dump(mode="json") == fresh.model_dump(mode="json")
