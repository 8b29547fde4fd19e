"""Is the one task right for each role, all through the mixer cover's day, and never one that the role may not do?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.job.acts.door import may_at
from soundedge.services.desk.book import opened
from soundedge.services.desk.now import gates_of, now_for
from soundedge.services.desk.now_tasks import FACTS, GATES, PHASE_OF, PHASES, SIGNS, TASKS
from soundedge.services.desk.roles import may_enter
from soundedge.services.desk.state import State, path_of, rows_of
from soundedge.services.evidence.records import as_it_stands, events_in

from ...tries import tries
from . import bench

ROLES = ("technician", "inspector", "engineer", "manager", "auditor")
# After so many acts of the day → the task of the technician, and that of the inspector. The sheet reads air and gas in another
# order than the bench asks for them; what is asked for is what stands here.
DAY = {
    0: ("outline", "waits"), 1: ("permit", "waits"), 2: ("permit", "waits"), 3: ("prepare", "waits"),
    4: ("outline_prepared", "check_surface"), 5: ("gas", "check_surface"), 6: ("gas", "sign_disposition"),
    7: ("gas", "sign_surface"), 8: ("gas", "waits"), 11: ("heat", "waits"), 13: ("layer", "waits"), 16: ("layer", "waits"),
    17: ("end_heat", "waits"), 20: ("cool", "gauge"), 21: ("waits", "gauge"), 22: ("waits", "film"), 23: ("waits", "gauge"),
    24: ("waits", "sign_film"), 25: ("waits", "spark"), 26: ("waits", "sign_holiday"), 27: ("waits", "sign_release"),
    28: ("done", "done"),
}


@pytest.fixture(scope="module")
def entries(tmp_path_factory):
    """Every entry of the whole day."""
    with pytest.MonkeyPatch.context() as patch:
        data = bench.a_shop(tmp_path_factory.mktemp("now"), patch)
        bench.opened(data)
        bench.play(data)
        with opened(data) as ledger:
            return tuple(ledger.record(bench.NUMBER).entries)


_known = {}


def _asked(entries, gone, seconds):
    """Asked once."""
    if (gone, seconds) not in _known:
        _known[gone, seconds] = _judged(entries, gone, seconds)
    return _known[gone, seconds]


def _judged(entries, gone, seconds):
    """The job without the acts that are gone, and what may be done some seconds after the last act that is left."""
    acts = [one for one in entries if one.id[:3] in ("d1-", "d2-")]
    kept = [one for one in entries if one not in acts or acts.index(one) not in gone]
    kept = [one for one in kept if one.kind not in ("rules.applied",) or not gone]
    outcome, events = as_it_stands(kept), events_in(kept)
    rows = rows_of(kept, outcome)
    path, step, move = path_of(outcome, rows)
    held = State(bench.NUMBER, outcome, kept[-1].digest, rows, path, step, move)
    left = [one.at for one in events if one.id[:3] in ("d1-", "d2-")]
    at = max(left, default=bench.steps()[0][0]) + timedelta(seconds=seconds)
    return held, may_at(events, at.isoformat(), from_record=True, done=False)


@pytest.mark.parametrize("upto", DAY)
def test_the_day_of_the_cover(entries, upto):
    held, may = _asked(entries, frozenset(range(upto, 28)), 30)
    said = tuple(now_for(held, may, role).task.name for role in ("technician", "inspector"))
    assert said == DAY[upto]


def test_who_has_nothing_to_do_is_told_for_whom_the_job_waits(entries):
    held, may = _asked(entries, frozenset(range(24, 28)), 30)
    now = now_for(held, may, "technician")
    assert (now.word, now.by) == ("waits", "inspector")
    assert now.say == "It waits for an inspector: sign the film."
    assert now.say.text("de") == "Es wartet auf eine Prüferin oder einen Prüfer: Film unterschreiben."
    assert now.since == max(event.at for event in held.outcome.job.events)


def test_a_gate_shows_what_is_in_place_and_what_is_not(entries):
    held, may = _asked(entries, frozenset(range(10, 28)), 30)
    now = now_for(held, may, "technician")
    assert now.question == "May heat begin?" and now.word == "not_yet"
    assert {one.key for one in now.conditions if one.word != "conforms"} == {"gas"}
    assert now.in_place == len(now.conditions) - 1 == len(GATES["heat_on"]) - 1


def test_a_yes_says_when_it_ends(entries):
    held, may = _asked(entries, frozenset(range(11, 28)), 30)
    now = now_for(held, may, "technician")
    assert now.word == "yes" and now.until is not None and now.ends
    assert gates_of(may)["heat_on-A"]["until"] == now.until.isoformat()


def test_the_number_of_the_layer_is_not_asked_for(entries):
    held, may = _asked(entries, frozenset(range(14, 28)), 30)
    assert now_for(held, may, "technician").fixed == {"number": 3}


def test_who_may_not_sign_is_not_asked_to(entries):
    held, may = _asked(entries, frozenset({27}), 30)
    may_sign = now_for(held, may, "inspector", signs={("release", ""): True})
    may_not = now_for(held, may, "inspector", signs={("release", ""): False})
    assert (may_sign.task.name, may_not.word) == ("sign_release", "waits")


@tries(60)
@given(gone=st.frozensets(st.integers(0, 27)), seconds=st.sampled_from([1, 600, 5000, 40_000]), role=st.sampled_from(ROLES))
def test_whatever_is_recorded_there_is_one_task_and_the_role_may_do_it(entries, gone, seconds, role):
    held, may = _asked(entries, gone, seconds)
    now = now_for(held, may, role)
    assert now.say and now.question and now.phase in {name for name, _ in PHASES}
    if now.yours:
        assert role != "auditor" and now.by == role
        assert not now.task.kind or now.task.kind in may_enter(role)
    elif now.word == "waits":
        assert now.by in ROLES and (now.by != role or now.act is None or now.act.act in ("sign", "release"))
    if now.word in ("yes", "look"):
        assert now.act is not None and now.act.answer != "no"
    if now.word in ("not_yet", "no") and now.act is not None:
        assert now.act.answer == "no"


def test_the_tables_know_each_other():
    assert set(FACTS.values()) <= set(TASKS)
    assert {one.step for one in [*TASKS.values(), *SIGNS.values()]} <= set(PHASE_OF)
