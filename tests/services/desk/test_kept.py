"""One state of a job is kept, and new entries fold onto it: it must never differ from the job read and judged from nothing."""

import itertools
from datetime import datetime, timedelta
from unittest import mock

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.job.acts.door import may_at
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.services.desk import enter, jobs, kept
from soundedge.services.desk import may as desk_may
from soundedge.services.desk.rows import rows_of
from soundedge.services.desk.state import judged, path_of, plain, state, unseen_by
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.evidence.records import as_it_stands, events_in

from ...hand import copied
from ...job.sheets import sheet
from ...job.two_repairs import two
from ...tries import tries
from . import bench
from .bench import AMARA, INES, NUMBER, ODILE, TOBIAS, at

DAY = bench.steps()
READ = {"air_c": 20.0, "rh_pct": 50, "steel_c": 19.0, "instrument": "H2"}
ACTS = st.one_of(
    st.tuples(st.just("day"), st.integers(0, 3)),
    st.tuples(st.just("air"), st.integers(-120, 120)),
    st.tuples(st.just("void"), st.integers(0, 60)),
    st.tuples(st.just("correct"), st.sampled_from([19.0, 97.0, 300.0])),
)
_shops = itertools.count()


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """A shop with the mixer cover's job opened."""
    with pytest.MonkeyPatch.context() as patch:
        data = bench.a_shop(tmp_path_factory.mktemp("kept"), patch)
        bench.opened(data)
        yield data


@pytest.fixture(autouse=True)
def keys(begun, monkeypatch):
    """The shop's keys lie where they were made."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(begun.parents[1] / "keys"))


def entries_of(data):
    with open_ledger(data, make=False) as ledger:
        return list(ledger.record(NUMBER).entries)


def reading(n, minutes, **more):
    when = at("08:00") + timedelta(minutes=minutes)
    return {"id": f"d1-c3d4e5-{n}", "kind": "air.read", "at": when.isoformat(), "body": READ | more}


def done(data, act, how, n, place):
    """One act at the desk; gives how far the day is."""
    now = at("12:00") + timedelta(seconds=30 * n)
    head = jobs.head(data, NUMBER)
    if act == "day" and place < len(DAY):
        when, by, kind, body = DAY[place]
        try:
            bench.do(data, when, by, kind, body, 100 + n)
        except BenchError:
            assert kind in ("hold_point.signed", "release.signed")  # it was left too open to be signed
        return place + 1
    if act == "air":
        assert enter.enter(data, INES, NUMBER, [reading(n, how)], now=now)[0]["outcome"] == "stored"
    about = entries_of(data)
    try:
        if act == "void":
            enter.void(data, AMARA, NUMBER, {"entry": about[how % len(about)].id, "because": "it was not so at all"},
                       id=f"v-{n}", at=now, on_head=head, now=now)
        read = [entry for entry in about if entry.kind == "air.read"]
        if act == "correct" and read:
            enter.correct(data, AMARA, NUMBER, {"entry": read[-1].id, "field": "air_c", "old": read[-1].body["air_c"],
                                                "new": how, "because": "typed from the wrong line"},
                          id=f"c-{n}", at=now, on_head=head, now=now)
    except BenchError as fault:
        assert fault.message
    return place


def as_from_nothing(data):
    """Holds what is kept against the job read and judged anew."""
    entries, held = entries_of(data), state(data, NUMBER)
    anew = as_it_stands(entries)
    rows = rows_of(entries, anew)
    assert held.outcome.as_plain() == anew.as_plain() and held.head == entries[-1].digest
    assert held.events == rows
    assert (held.path, held.next_step, held.next_move) == path_of(anew, rows, list(unseen_by(entries, anew).values()))
    assert judged(data, NUMBER, entries).as_plain() == anew.as_plain()
    moment = max(event.at for event in events_in(entries)) + timedelta(minutes=7)
    with mock.patch.object(desk_may, "datetime", **{"now.return_value": moment, "spec": datetime}):
        now = desk_may.may_now(data, NUMBER)
    assert now == may_at(events_in(entries), moment.isoformat(), from_record=True, done=False)


@tries(60)
@given(start=st.integers(0, 20), acts=st.lists(st.tuples(ACTS, st.booleans()), min_size=1, max_size=7))
def test_what_is_folded_is_what_would_be_judged_from_nothing(begun, start, acts):
    data = copied(begun, begun.parents[1] / f"history-{next(_shops)}" / "shops" / "lining-shop")
    bench.play(data, upto=start)
    place = start
    for n, ((act, how), looked) in enumerate(acts, 1):
        for step in range(how + 1 if act == "day" else 1):
            place = done(data, act, how, 10 * n + step, place)
        if looked:
            as_from_nothing(data)
    as_from_nothing(data)


def test_a_new_entry_alone_is_read_and_the_rows_before_it_stay(begun, tmp_path, monkeypatch):
    data = copied(begun, tmp_path / "shops" / "lining-shop")
    before = state(data, NUMBER)
    read = []
    monkeypatch.setattr(kept, "events_in", lambda entries: read.extend(entries) or events_in(entries))
    enter.enter(data, INES, NUMBER, [reading(1, 0)], now=at("09:00"))
    after = state(data, NUMBER)

    assert [entry.kind for entry in read] == ["person.named", "instrument.listed", "air.read"]
    enter.enter(data, INES, NUMBER, [reading(2, 5)], now=at("09:10"))
    assert [row["id"] for row in state(data, NUMBER).events[len(after.events):]] == ["d1-c3d4e5-2"] and len(read) == 4
    assert all(one is other for one, other in zip(after.events, state(data, NUMBER).events, strict=False))
    assert len(before.events) < len(after.events)  # who looks at the older state goes on looking at it


def test_another_record_in_the_place_of_the_known_one_is_read_again(begun, tmp_path):
    one, other = (copied(begun, tmp_path / name / "shops" / "lining-shop") for name in ("one", "other"))
    for n, data in enumerate((one, other), 1):
        enter.enter(data, (INES, TOBIAS)[n - 1], NUMBER, [reading(n, n, rh_pct=50 + n)], now=at("09:00"))
    state(one, NUMBER)
    enter.enter(other, INES, NUMBER, [reading(7, 7)], now=at("09:10"))
    bench.put_down(one)
    bench.put_down(other)
    one.rename(tmp_path / "gone")
    other.rename(one)

    as_from_nothing(one)
    assert [event.body.rh_pct for event in state(one, NUMBER).outcome.job.of("air.read")] == [52, 50]


def test_a_job_has_one_place_in_memory_however_often_it_moves(begun, tmp_path):
    kept.forget()
    data = copied(begun, tmp_path / "shops" / "lining-shop")
    state(data, NUMBER)
    once = kept.held_bytes()
    for n in range(1, 31):
        enter.enter(data, INES, NUMBER, [reading(n, n)], now=at("11:00"))
        state(data, NUMBER)
        judged(data, NUMBER, entries_of(data), estimates=True)

    assert len(kept._held) == 1 and once < kept.held_bytes() < 3 * once


def test_what_is_kept_is_bounded_in_bytes_and_the_job_not_asked_for_longest_goes(begun, tmp_path, monkeypatch):
    data = copied(begun, tmp_path / "shops" / "lining-shop")
    numbers = [f"KBW-2036-{n:03d}" for n in range(1, 9)]
    for number in numbers:
        bench.opened(data, number)
    kept.forget()
    state(data, numbers[0])
    monkeypatch.setattr(kept, "_held", kept.LRUCache(4 * kept.held_bytes(), getsizeof=kept._held.getsizeof))
    said = {number: plain(state(data, number)) for number in numbers}

    assert [job for _, job in kept._held] == numbers[-len(kept._held):] and 2 <= len(kept._held) <= 4
    assert {number: plain(state(data, number)) for number in numbers} == said


def test_the_older_entries_of_a_job_push_out_nothing_newer(begun, tmp_path):
    data = copied(begun, tmp_path / "shops" / "lining-shop")
    enter.enter(data, INES, NUMBER, [reading(1, 0)], now=at("09:00"))
    state(data, NUMBER)
    judged(data, NUMBER, entries_of(data)[:-1])

    assert kept._held[str(data), NUMBER].head == jobs.head(data, NUMBER)


@pytest.mark.parametrize("typed", [sheet, two])
def test_what_may_be_done_is_the_same_when_the_job_is_judged_already(typed):
    events = events_of(typed())
    for upto in range(8, len(events) + 1, 7):
        known = events[:upto]
        last = max(event.at for event in known)
        outcome = judge_job(known, estimates=False)
        if outcome.job.corrections or outcome.job.voids:
            continue
        standing = desk_may.as_judged(outcome.case, outcome.steps, last)
        for minutes in (3, 900):
            moment = (last + timedelta(minutes=minutes)).isoformat()
            assert may_at(known, moment, standing=standing) == may_at(known, moment), upto


def test_a_change_of_the_shop_is_seen_though_the_job_has_not_moved(begun, tmp_path):
    from soundedge.services.desk import register as reg

    data = copied(begun, tmp_path / "shops" / "lining-shop")
    before = state(data, NUMBER)
    assert state(data, NUMBER) is before
    reg.enrol_device(data, ODILE, "d9", "tablet d9", now=at("09:00"))
    assert state(data, NUMBER) is not before and state(data, NUMBER).outcome is before.outcome
