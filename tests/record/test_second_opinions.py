"""Do those who check a record without the rows of job/kinds/ know the same kinds as the rows?

The replay, the page for strangers and the guards of both databases share no code with the rows; so their lists are compared.
"""

import re
from pathlib import Path

import soundedge
from soundedge.job.kinds import BENCH_KINDS, HOLD_POINTS, KINDS, REPAIR_STEPS, covers, follow
from soundedge.record import covered, replay
from soundedge.store import postgres_schema, schema

PAGE = (Path(soundedge.__file__).parent / "record" / "verify.html").read_text("utf-8")
POINTS = {point: (covers(point), follow(point)) for point in HOLD_POINTS}
GUARDS = (schema.GUARDS["ledger_own_work"], postgres_schema.FUNCTIONS["own_work"])


def repair_steps_of_page(text):
    """The list named REPAIR in the page's script."""
    return tuple(re.findall(r'"([a-z_.]+)"', re.search(r"const REPAIR = \[(.*?)\];", text)[1]))


def points_of_page(text):
    """Hold point → kinds it covers and the kinds that follow it, from the page's script."""
    table = re.search(r"const COVERS = \{(.*?)\};", text, re.S)[1]
    found = re.findall(r'(\w+): \[\[(.*?)\], "(.*?)"\]', table)
    return {point: (tuple(re.findall(r'"(.*?)"', covered)), (after,)) for point, covered, after in found}


def repair_steps_of_guard(sql):
    """The kinds in the guard's ``IN (…)``."""
    return tuple(re.findall(r"'([a-z_.]+)'", re.search(r"kind\S* IN \((.*?)\)", sql)[1]))


def test_replay_knows_the_same_kinds():
    changes = {"entry.corrected", "entry.voided", "release.signed"}

    assert replay.REPAIR_STEPS == REPAIR_STEPS and replay.HOLD_POINTS == HOLD_POINTS
    assert covered.COVERS == POINTS
    assert set(replay._AFTER_RELEASE) == changes | set(BENCH_KINDS) | {k.name for k in KINDS.values() if k.after_release}


def test_the_page_for_strangers_knows_the_same_kinds():
    releases = re.search(r"!\[(.*?)\]\.includes\(role\(release\.by\)\)", PAGE)[1]

    assert repair_steps_of_page(PAGE) == REPAIR_STEPS
    assert points_of_page(PAGE) == POINTS
    assert set(re.findall(r'"(\w+)"', releases)) == KINDS["release.signed"].roles


def test_the_guards_of_both_databases_know_the_same_kinds():
    """A guard is changed by a migration only; a row that calls for one fails here first."""
    assert [repair_steps_of_guard(sql) for sql in GUARDS] == [REPAIR_STEPS, REPAIR_STEPS]


def test_every_kind_that_they_name_is_a_kind():
    known = {*KINDS, "escalation.raised"}  # replay and page read this one too; no bench writes it
    named = set(re.findall(r'of\("([a-z_]+\.[a-z_]+)"\)', PAGE)) | set(re.findall(r"'([a-z_]+\.[a-z_]+)'", "".join(GUARDS)))

    assert len(named) > 5 and named - known == set()


def test_a_planted_difference_is_seen():
    assert repair_steps_of_page(PAGE.replace('"layer.fused", ', "")) != REPAIR_STEPS
    assert points_of_page(PAGE.replace('"surface.checked"', '"air.read"')) != POINTS
    assert repair_steps_of_guard(GUARDS[0].replace("'heat.logged', ", "")) != REPAIR_STEPS
