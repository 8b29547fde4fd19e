"""Does a typed sheet become the right events, and do corrections and voids keep what was written?"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Contradiction, Missing, Unknown, Unreadable
from soundedge.job.fold import fold
from soundedge.job.kinds import KINDS, SECTIONS, Event, body_of
from soundedge.job.typed import events_of

from ..tries import tries
from .sheets import sheet

AT = "2026-05-04T13:00:00Z"


def a_correction(**changes):
    return {"at": AT, "by": "tobias", "entry": "air-1", "field": "rh_pct", "old": 52, "new": 53,
            "because": "Misread the dial."} | changes


def with_section(name, value):
    return sheet() | {name: value}


def test_events_run_in_order_of_time():
    events = events_of(sheet())

    assert [e.at for e in events] == sorted(e.at for e in events)
    assert events[0].kind == "job.opened"


def test_every_section_makes_a_known_kind():
    assert {kind.name for kind in SECTIONS.values()} <= set(KINDS)


@pytest.mark.parametrize(
    "change, error, words",
    [
        ({"surprise": []}, Unknown, "not a section"),
        ({"air": {"at": AT}}, Unreadable, "double brackets"),
        ({"part": []}, Unreadable, "single brackets"),
        ({"air": [{"by": "ines", "air_c": 20, "rh_pct": 50, "steel_c": 19}]}, Missing, "does not say when"),
        ({"air": [{"at": AT, "air_c": 20, "rh_pct": 50, "steel_c": 19}]}, Missing, "does not say who"),
        ({"air": [{"at": "noon", "by": "ines", "air_c": 20, "rh_pct": 50, "steel_c": 19}]}, Unreadable, "2031"),
        ({"air": [{"at": AT, "by": "nobody", "air_c": 20, "rh_pct": 50, "steel_c": 19}]}, Unknown, "no [[person]] names"),
        ({"air": [{"at": AT, "by": "ines", "air_c": 20, "rh_pct": 106, "steel_c": 19}]}, BenchError, "106 %"),
        ({"air": [3]}, Unreadable, "not a table"),
    ],
)
def test_each_fault_of_a_sheet_names_its_entry(change, error, words):
    with pytest.raises(error) as caught:
        events_of(sheet() | change)

    assert words in caught.value.message
    assert caught.value.field


def test_two_persons_with_one_id_are_refused():
    doubled = sheet()
    doubled["person"].append(doubled["person"][0])

    with pytest.raises(Contradiction, match="Two people"):
        events_of(doubled)


def test_a_correction_counts_and_the_old_value_stays_in_the_record():
    events = events_of(with_section("correction", [a_correction()]))

    job = fold(events)

    assert job.of("air.read")[0].body.rh_pct == 53
    assert next(e for e in events if e.id == "air-1").body.rh_pct == 52
    assert job.corrections[0].body.because == "Misread the dial."


def test_a_correction_may_reach_into_a_list():
    first = sheet()["film"][0]["spots"][0]["readings_um"][0]

    job = fold(events_of(with_section(
        "correction", [a_correction(entry="film-1", field="spots.0.readings_um.0", old=first, new=1111)])))

    assert job.last("film.measured").body.spots[0].readings_um[0] == 1111


@pytest.mark.parametrize(
    "change, error, words",
    [
        ({"old": 51}, Contradiction, "it stands as 52"),
        ({"entry": "air-99"}, Unknown, "not there"),
        ({"field": "humidity"}, Unknown, "has no 'humidity'"),
        ({"field": "rh_pct.0"}, Unknown, "has no"),
        ({"new": 106}, BenchError, "106 %"),
        ({"new": None}, BenchError, "empty"),
    ],
)
def test_a_correction_must_fit_what_stands(change, error, words):
    with pytest.raises(error) as caught:
        fold(events_of(with_section("correction", [a_correction(**change)])))

    assert words in caught.value.message


def test_a_void_takes_an_entry_out_of_the_counting_only():
    events = events_of(with_section("void", [{"at": AT, "by": "tobias", "entry": "layer-5", "because": "Typed twice."}]))

    job = fold(events)

    assert len(job.of("layer.fused")) == 4
    assert [e.id for e in job.voided] == ["layer-5"]


def test_a_correction_comes_after_what_it_corrects():
    early = a_correction(at="2026-05-04T06:41:00Z")

    with pytest.raises(Unknown, match="not there before it"):
        fold(events_of(with_section("correction", [early])))


ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=10) | st.datetimes(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
FIELDS = sorted(
    (name, field) for name, kind in SECTIONS.items() for field in (*kind.body.model_fields, "at", "by")
)


@tries(400)
@given(st.sampled_from(FIELDS), ANYTHING)
def test_nothing_typed_in_any_field_makes_it_fall_over(where, value):
    """Every field of every section, in turn, set to anything TOML could hold."""
    name, field = where
    typed = sheet()
    entry = {"at": AT, "by": "tobias"} | (typed[name][0] if isinstance(typed.get(name), list) and typed[name]
                                         else typed.get(name, {}) if isinstance(typed.get(name), dict) else {})
    entry[field] = value
    typed[name] = [entry] if SECTIONS[name].many else entry
    try:
        fold(events_of(typed))
    except BenchError as fault:
        assert fault.message and fault.kind


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_an_unknown_key_in_any_body_is_refused(kind):
    with pytest.raises(BenchError):
        body_of(kind, {"surprise": 1})


def test_two_events_of_one_name_are_refused():
    event = events_of(sheet())[0]

    with pytest.raises(Contradiction, match="own name"):
        fold([event, Event(event.id, event.kind, event.by, event.at, event.body)])


def test_what_was_not_said_of_a_part_is_said_later_by_a_correction():
    late = a_correction(entry="part", field="bore_d_mm", old=None, new=300)

    assert fold(events_of(with_section("correction", [late]))).the("part.identified").bore_d_mm == 300
    with pytest.raises(Contradiction, match="it stands as 12"):
        fold(events_of(with_section("correction", [a_correction(entry="part", field="plate_mm", old=None, new=12)])))
    with pytest.raises(Unknown, match="has no 'colour'"):
        fold(events_of(with_section("correction", [a_correction(entry="part", field="colour", old=None, new="red")])))
