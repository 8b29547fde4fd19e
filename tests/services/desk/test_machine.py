"""Any people doing anything in any order: nobody ever releases his own work, and the record says so to whoever replays it.

Each history starts somewhere in the mixer cover's day (nothing done … released) and goes on with acts that hypothesis chooses:
the day's next entry by anybody, signatures and decisions by anybody, corrections, voids, another role for a person.
"""

import itertools
import shutil
import tempfile
from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest
from hypothesis import HealthCheck
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from soundedge.basis.errors import BenchError
from soundedge.job.kinds import REPAIR_STEPS
from soundedge.record.replay import insist
from soundedge.record.verify import verify
from soundedge.services.desk import enter, jobs, sign
from soundedge.services.desk import register as reg
from soundedge.services.desk.shop_place import shop_key_folder
from soundedge.services.evidence import person_keys
from soundedge.services.evidence.records import replayed

from ...hand import copied
from ...tries import tries
from . import bench
from .bench import EVERYBODY, NUMBER, ODILE, WORDS

pytestmark = pytest.mark.store_contract

DAY = len(bench.steps())
STARTS = (0, 7, 9, 20, 27, 30, 34, DAY - 1, DAY - 1, DAY)
WHAT = st.sampled_from(["disposition", "surface", "film", "holiday", "release", "release"])
WHO = st.sampled_from(EVERYBODY)
OWN_WORK = (*REPAIR_STEPS, "escalation.decided")


@cache
def _shop():
    """The shop, with its keys in an environment of this module only."""
    base = Path(tempfile.mkdtemp(prefix="soundedge-test-machine-"))
    import atexit

    atexit.register(shutil.rmtree, base, ignore_errors=True)
    return bench.a_shop(base)


@cache
def _seeds():
    return {name: person_keys.person_seed(name, words, folder=shop_key_folder(_shop())) for name, words in WORDS.items()}


@cache
def _begun(upto):
    """A copy of the shop in which the day was played so far; gives its folder."""
    data = copied(_shop(), _shop().parents[2] / f"upto-{upto}" / "shops" / "lining-shop")
    bench.opened(data)
    bench.play(data, upto=upto)
    return data


_count = itertools.count()


class Desk(RuleBasedStateMachine):
    """One history."""

    @initialize(start=st.sampled_from(STARTS))
    def begin(self, start):
        begun = _begun(start)
        self.base = begun.parents[1] / f"history-{next(_count)}"
        self.data = copied(begun, self.base / "shops" / "lining-shop")
        self.start, self.number = start, 500
        self.now = bench.steps()[min(start, DAY - 1)][0] + timedelta(minutes=1 if start < DAY else 30)
        self.said = ()

    def attempt(self, act):
        try:
            act()
        except BenchError as fault:
            assert fault.message
        self.now += timedelta(seconds=40)

    def a_name(self):
        self.number += 1
        return f"d1-bbbbbb-{self.number}"

    @rule(actor=WHO, right=st.booleans())
    def the_next_act_of_the_day(self, actor, right):
        if self.start >= DAY:
            return
        when, by, kind, body = bench.steps()[self.start]
        if kind in ("hold_point.signed", "release.signed"):
            self.start += 1
            return self.signs(bench.who(by) if right else actor, body.get("hold_point", "release"))
        who = bench.who(by) if right else actor
        said = {"id": self.a_name(), "kind": kind, "at": when.isoformat(), "body": body}
        self.attempt(lambda: enter.enter(self.data, who, NUMBER, [said], now=max(self.now, when)))
        self.start += 1
        self.now = max(self.now, when + timedelta(seconds=5))

    @rule(actor=WHO, kind=st.sampled_from(REPAIR_STEPS))
    def repair_work(self, actor, kind):
        body = next(body for _, _, k, body in bench.steps() if k == kind)
        said = {"id": self.a_name(), "kind": kind, "at": self.now.isoformat(), "body": body}
        self.attempt(lambda: enter.enter(self.data, actor, NUMBER, [said], now=self.now))

    @rule(actor=WHO, what=WHAT)
    def signs(self, actor, what):
        self.attempt(
            lambda: sign.sign(
                self.data,
                actor,
                NUMBER,
                what=what,
                meaning="looked at it",
                passphrase=WORDS.get(actor.person, "x" * 12),
                on_head=jobs.head(self.data, NUMBER),
                id=self.a_name(),
                now=self.now,
            )
        )

    @rule(actor=WHO, decision=st.sampled_from(["repair_as_instructed", "strip_and_reline"]))
    def decides(self, actor, decision):
        self.attempt(
            lambda: sign.decide(
                self.data,
                actor,
                NUMBER,
                decision=decision,
                because="a reason of the engineer",
                passphrase=WORDS.get(actor.person, "x" * 12),
                on_head=jobs.head(self.data, NUMBER),
                id=self.a_name(),
                now=self.now,
            )
        )

    @rule(actor=WHO, place=st.integers(0, 60))
    def voids(self, actor, place):
        entries = list(verify(jobs.record(self.data, NUMBER)).entries())
        entry = entries[place % len(entries)]
        self.attempt(
            lambda: enter.void(
                self.data,
                actor,
                NUMBER,
                {"entry": entry.id, "because": "it was not so at all"},
                id=self.a_name(),
                at=self.now,
                on_head=entries[-1].digest,
                now=self.now,
            )
        )

    @rule(actor=WHO, place=st.integers(0, 60), new=st.sampled_from(["19.9", "97", "300"]))
    def corrects(self, actor, place, new):
        entries = [e for e in verify(jobs.record(self.data, NUMBER)).entries()]
        read = [e for e in entries if e.kind == "air.read"]
        if not read:
            return
        entry = read[place % len(read)]
        self.attempt(
            lambda: enter.correct(
                self.data,
                actor,
                NUMBER,
                {
                    "entry": entry.id,
                    "field": "air_c",
                    "old": entry.body["air_c"],
                    "new": new,
                    "because": "typed from the wrong line",
                },
                id=self.a_name(),
                at=self.now,
                on_head=entries[-1].digest,
                now=self.now,
            )
        )

    @rule(role=st.sampled_from(["technician", "inspector"]), who=st.sampled_from(["ines", "jonas", "tobias"]))
    def another_role(self, role, who):
        self.attempt(
            lambda: reg.change_person(
                self.data, ODILE, bench.person(bench.who(who)) | bench.QUALIFIED | {"role": role}, now=self.now
            )
        )

    @invariant()
    def nobody_has_released_his_own_work(self):
        if not hasattr(self, "data"):
            return
        entries = list(verify(jobs.record(self.data, NUMBER)).entries())
        self.said = [e.body["verdict"] for e in entries if e.kind == "job.judged"]
        for place, release in enumerate(entries):
            if release.kind != "release.signed":
                continue
            assert not [e for e in entries[:place] if e.by == release.by and e.kind in OWN_WORK], release.by
            assert release.sig is not None

    def released_by_one_who_worked(self):
        """Work that was done is always recorded, also that of one who released before; then his release is worth nothing."""
        entries = list(verify(jobs.record(self.data, NUMBER)).entries())
        releases = [e for e in entries if e.kind == "release.signed"]
        return [e for e in entries if releases and e.by == releases[-1].by and e.kind in OWN_WORK]

    def teardown(self):
        if not hasattr(self, "data"):
            return
        try:
            held = verify(jobs.record(self.data, NUMBER), keys=person_keys.person_keys(shop_key_folder(_shop())))
            assert held.signed == held.signatures_checked
            verdict = bench.standing(self.data).outcome.verdict
            if self.said and self.said[-1] == "released" and verdict == "released":
                raw = jobs.record(self.data, NUMBER)
                assert replayed(raw).outcome.verdict == "released"  # the desk's word is that of the record alone
                assert insist(verify(raw)).released
            if verdict == "released":
                assert self.said[-1] == "released"
                assert not self.released_by_one_who_worked()
        finally:
            shutil.rmtree(self.base, ignore_errors=True)


@pytest.fixture(autouse=True)
def the_shops_keys(monkeypatch):
    """Keys are opened once: what a password costs is tested in test_sign."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(_shop().parents[1] / "keys"))
    seeds = _seeds()
    monkeypatch.setattr(sign, "_seed", lambda data, person, words: seeds[person.id])
    monkeypatch.setattr(sign, "ready", lambda *a, **k: None)


def run(histories, steps):
    from hypothesis.stateful import run_state_machine_as_test

    settings = tries(histories, stateful_step_count=steps, suppress_health_check=list(HealthCheck), print_blob=False)
    run_state_machine_as_test(Desk, settings=settings)


def test_nobody_releases_their_own_work_in_any_history():
    run(100, 5)


@pytest.mark.release
def test_nobody_releases_their_own_work_in_many_long_histories():
    run(67, 20)


def test_an_inspector_who_released_and_then_works_at_the_part_has_released_nothing():
    desk = Desk()
    desk.begin(start=DAY)
    try:
        assert bench.standing(desk.data).outcome.verdict == "released"
        entries = list(verify(jobs.record(desk.data, NUMBER)).entries())
        releaser = bench.who([e for e in entries if e.kind == "release.signed"][-1].by)
        desk.voids(bench.who("jonas"), place=[e.kind for e in entries].index("air.read"))  # a released job takes no new work
        desk.another_role(role="technician", who=releaser.person)
        desk.repair_work(replace(releaser, role="technician"), kind="surface.prepared")
        assert desk.released_by_one_who_worked()
        held = bench.standing(desk.data).outcome
        assert held.verdict != "released"
        assert "nobody_releases_his_own_work" in str(held)
    finally:
        shutil.rmtree(desk.base, ignore_errors=True)
