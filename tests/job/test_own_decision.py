"""Nobody releases his own decision, also when he voids it first (rule R1 of the record says the same)."""

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

from soundedge.job.fold import Job
from soundedge.job.kinds import Event, body_of
from soundedge.job.steps.hold_points import release

AT = datetime(2031, 5, 4, 9, 0, tzinfo=UTC)


def asked(voider):
    decided = Event("engineer-1", "escalation.decided", "amara", AT,
                    body_of("escalation.decided", {"decision": "repair_as_instructed", "because": "The spot is small enough."}))
    void = Event("void-1", "entry.voided", voider, AT + timedelta(minutes=5),
                 body_of("entry.voided", {"entry": "engineer-1", "because": "Written for another job."}))
    signed = Event("release", "release.signed", "amara", AT + timedelta(hours=1),
                   body_of("release.signed", {"meaning": "I release the part."}))
    person = SimpleNamespace(role="manager", name="Amara Okoye")
    job = Job(events=(signed,), voids=(void,), voided=(decided,), people={"amara": person})
    step = release(SimpleNamespace(job=job, part_job=job, rule_book="KBW-LP-04"))
    return [block.rule for block in step.blocks]


def test_a_decision_that_its_author_voided_still_keeps_them_from_releasing():
    assert "nobody_releases_his_own_decision" in asked("amara")


def test_a_decision_that_another_person_voided_does_not():
    assert "nobody_releases_his_own_decision" not in asked("ines")
