"""Do the database's guard and the rules of release say the same, in whatever order a job was entered?"""

from datetime import timedelta
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from soundedge.basis.errors import Refused
from soundedge.job.fold import fold
from soundedge.job.kinds import REPAIR_STEPS as STEPS_OF_THE_JOB
from soundedge.job.kinds import Event
from soundedge.job.steps.hold_points import release
from soundedge.record.replay import BROKEN, _fold, _Job, _r1
from soundedge.record.replay import REPAIR_STEPS as STEPS_OF_THE_RECORD
from soundedge.record.verify import verify
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.store.schema import REPAIR_STEPS

from ..record.jobs import DAY, NOW, Said, released
from ..tries import tries

pytestmark = pytest.mark.store_contract

PEOPLE = ("ines", "tobias", "amara")
KINDS = ("release.signed", "release.signed", "escalation.decided", "air.read", *REPAIR_STEPS)
OWN = ("nobody_releases_his_own_work", "nobody_releases_his_own_decision")


@pytest.fixture(scope="module")
def ledger(tmp_path_factory):
    with open_ledger(tmp_path_factory.mktemp("own-work") / "data") as opened:
        yield opened


def said(n, kind, by, at, body=None):
    return Said(f"e{n}", kind, by, at, body or {})


@st.composite
def jobs(draw):
    """Entries in any order and at any time, fractions of a second too; voids of what stands, by anybody."""
    facts, standing = [], []
    for n in range(draw(st.integers(1, 9))):
        by = draw(st.sampled_from(PEOPLE))
        at = DAY + timedelta(microseconds=draw(st.sampled_from([0, 1, 400_000, 500_000, 1_000_000, 60_000_000])))
        if standing and draw(st.integers(0, 3)) == 0:
            gone = standing.pop(draw(st.integers(0, len(standing) - 1)))
            facts.append(said(n, "entry.voided", by, at, {"entry": gone, "because": "entered in the wrong job"}))
        else:
            facts.append(said(n, draw(st.sampled_from(KINDS)), by, at))
            standing.append(f"e{n}")
    return facts


def forbidden(facts, record):
    """Do the bench's own rule or rule R1 of the record forbid this release?"""
    events = [Event(f.id, f.kind, f.by, f.at, SimpleNamespace(entry=f.body.get("entry"), fire_watch_until=DAY)) for f in facts]
    lining = Event("lining", "lining.identified", "sheet", DAY, SimpleNamespace(polymer="ectfe"))
    job = fold([lining, *events])
    step = release(SimpleNamespace(job=job, part_job=job, rule_book="rule book"))
    standing, voided, _, _ = _fold(verify(record).entries())
    return bool({block.rule for block in step.blocks} & set(OWN)) or _r1(_Job(standing, voided), False).answer == BROKEN


count = iter(range(10**6))


@tries(150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(jobs())
def test_the_guard_refuses_exactly_what_the_rules_forbid(ledger, facts):
    number = f"KBW-{next(count)}"
    ledger.append(number, facts, now=NOW)
    judged = Said("judged", "job.judged", "bench", NOW, {"certificate": number, "verdict": "released", "blocked_by": []})
    size = ledger.size()

    if forbidden(facts, ledger.record(number).raw):
        with pytest.raises(Refused, match="Let another inspector look and sign"):
            ledger.append(number, [judged], now=NOW)
        assert ledger.size() == size
    else:
        ledger.append(number, [judged], now=NOW)
        assert ledger.size() == size + 1


def test_the_three_lists_of_repair_steps_are_one():
    assert REPAIR_STEPS == STEPS_OF_THE_JOB == STEPS_OF_THE_RECORD


@pytest.mark.parametrize("kind", [*REPAIR_STEPS, "escalation.decided"])
def test_whoever_repaired_or_decided_does_not_release(ledger, kind):
    number = f"own-{kind}"
    facts = [said(1, kind, "tobias", DAY), said(2, "release.signed", "tobias", DAY)]
    judged = [Said("j", "job.judged", "bench", NOW, {"verdict": "released"})]
    ledger.append(number, facts, now=NOW)

    with pytest.raises(Refused, match="did repair work on it or answered its engineering review"):
        ledger.append(number, judged, now=NOW)
    ledger.append(number, [Said("h", "job.judged", "bench", NOW, {"verdict": "held"})], now=NOW)  # only the release is refused
    ledger.append(number, [said(3, "release.signed", "ines", DAY)], now=NOW)  # another signs: it is he who counts now
    ledger.append(number, judged, now=NOW)
    assert "holds" in ledger.verify()


@pytest.mark.parametrize("work, voider, refused", [
    ("escalation.decided", "tobias", True),  # his own void does not make the answer another's (R1)
    ("escalation.decided", "amara", False),
    ("layer.fused", "tobias", True),
    ("layer.fused", "amara", True),
])
def test_what_was_voided_counts_as_the_rules_say(ledger, work, voider, refused):
    number = f"void-{work}-{voider}"
    facts = [said(1, work, "tobias", DAY), said(2, "entry.voided", voider, DAY, {"entry": "e1", "because": "in the wrong job"}),
             said(3, "release.signed", "tobias", DAY)]
    ledger.append(number, facts, now=NOW)
    assert forbidden(facts, ledger.record(number).raw) is refused

    judged = [Said("j", "job.judged", "bench", NOW, {"verdict": "released"})]
    if refused:
        with pytest.raises(Refused):
            ledger.append(number, judged, now=NOW)
    else:
        ledger.append(number, judged, now=NOW)


def test_a_release_that_was_voided_does_not_count_and_an_earlier_one_does(ledger):
    facts = [said(1, "layer.fused", "tobias", DAY), said(2, "release.signed", "ines", DAY),
             said(3, "release.signed", "tobias", DAY + timedelta(minutes=1)),
             said(4, "entry.voided", "amara", DAY, {"entry": "e3", "because": "not his to sign"})]
    ledger.append("void-release", facts, now=NOW)
    ledger.append("void-release", [Said("j", "job.judged", "bench", NOW, {"verdict": "released"})], now=NOW)


def test_what_another_job_holds_does_not_count(ledger):
    ledger.append("own-other", [said(1, "layer.fused", "tobias", DAY)], now=NOW)
    ledger.append("own-this", [said(1, "release.signed", "tobias", DAY),
                               Said("j", "job.judged", "bench", NOW, {"verdict": "released"})], now=NOW)


def test_a_record_in_which_somebody_releases_their_own_work_is_not_taken_over_either(ledger, tmp_path):
    from soundedge.record.write import write

    facts = [Said(f.id, f.kind, "ines" if f.kind == "release.signed" else f.by, f.at, f.body) for f in released("KBW-own")]
    size = ledger.size()
    with pytest.raises(Refused):
        ledger.import_record(write("KBW-own", facts, now=NOW).raw)
    assert ledger.size() == size


def test_words_in_a_remark_are_no_judgement(ledger):
    """The guard reads what the entry says, not what stands somewhere in its bytes."""
    remark = '"kind":"job.judged","verdict":"released"'
    ledger.append("own-words", [said(1, "layer.fused", "tobias", DAY), said(2, "release.signed", "tobias", DAY),
                                Said("a", "air.read", "tobias", DAY, {"remark": remark, "kind": "job.judged",
                                                                      "verdict": "released"})], now=NOW)
