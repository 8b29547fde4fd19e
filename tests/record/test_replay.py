"""Does somebody who was not there find out, from the record alone, that a rule was not kept?"""

import random
from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import RecordBroken
from soundedge.record.covered import covered, fingerprint
from soundedge.record.replay import BROKEN, KEPT, REPAIR_STEPS, file_digests, insist, replay
from soundedge.record.verify import verify

from ..tries import share, tries
from .jobs import DAY, fact, record, released


def replayed(facts, **more):
    return replay(verify(record(facts).raw), **more)


def changed(facts, id, **change):
    return [replace(f, **change) if f.id == id else f for f in facts]


def the(kind, which=0, **body):
    """The id of the n-th fact of a kind in the good job."""
    return [f.id for f in released() if f.kind == kind and body.items() <= f.body.items()][which]


def test_a_job_done_in_order_keeps_every_rule_that_can_be_asked():
    found = replayed(released())

    assert found.released and not found.broken
    assert [rule.name for rule in found.rules if rule.answer == KEPT] == ["R1", "R2", "R3", "R4", "R5", "R7"]
    assert "not asked: R6, R8" in found.sentence
    assert insist(verify(record().raw)).released


def said_later(**change):
    """The part's bore, which nobody had named when the job was opened."""
    return fact(19, "entry.corrected", "tobias", {"entry": the("part.identified"), "field": "bore_d_mm", "old": None,
                                                  "new": 300, "because": "read off the drawing"} | change, id="c")


@pytest.mark.parametrize("step", REPAIR_STEPS)
def test_whoever_did_any_repair_step_does_not_release(step):
    facts = released()
    if any(f.kind == step for f in facts):
        facts = changed(facts, the(step), by="tobias")
    else:
        facts.insert(16, fact(15, step, "tobias", {}, id="extra"))

    found = replayed(facts)

    assert found.rules[0].answer == BROKEN and "did repair work" in found.rules[0].because
    with pytest.raises(RecordBroken) as caught:
        insist(verify(record(facts).raw))
    assert caught.value.exit_code == 4 and "R1" in caught.value.message


def test_whoever_answered_the_engineering_review_does_not_release():
    facts = released()
    facts.insert(12, fact(11, "escalation.decided", "tobias", {"decision": "repair_as_instructed", "because": "x"}, id="extra"))

    assert "answered the engineering review" in replayed(facts).rules[0].because


def covering(facts, place=12, print_=None):
    """The good job with a signature of the disposition that says what it covers."""
    said = print_ or fingerprint(covered(list(verify(record(facts[:place]).raw).entries()), "disposition"))
    return [replace(f, body=f.body | {"covers": said}) if n == place else f for n, f in enumerate(facts)]


def test_a_signature_binds_what_it_covers_and_an_air_reading_is_none_of_it():
    facts = released()
    assert facts[12].kind == "hold_point.signed"
    good = covering(facts)
    assert not replayed(good).broken
    more = [*facts[:12], fact(11, "air.read", "ines", {"air_c": 20, "rh_pct": 50, "steel_c": 19}, id="air"), *facts[12:]]
    assert covering(more, 13)[13].body["covers"] == good[12].body["covers"]
    kinds = [entry.kind for entry in covered(list(verify(record(more[:13]).raw).entries()), "disposition")]
    assert "air.read" not in kinds and kinds.count("damage.outlined") == 2


BREAKS = [
    ("R2", "covers other entries", lambda f: covering(f, print_="0" * 64)),
    ("R2", "not signed", lambda f: [x for x in f if x.id != the("hold_point.signed", 2)]),
    ("R2", "before what it covers", lambda f: changed(f, the("hold_point.signed", 2), at=DAY)),
    ("R2", "went past", lambda f: changed(f, the("hold_point.signed", 1), at=DAY + timedelta(hours=5))),
    ("R2", "no inspector qualified", lambda f: changed(f, the("person.named", 1), body={
        "id": "tobias", "name": "Tobias Renn", "role": "inspector", "qualified_until": "2031-05-01T00:00:00Z",
        "qualified_for": ["ectfe"]})),
    ("R2", "no inspector qualified", lambda f: changed(f, the("person.named", 1), body={
        "id": "tobias", "name": "Tobias Renn", "role": "inspector", "qualified_until": "2032-05-01T00:00:00Z",
        "qualified_for": ["etfe"]})),
    ("R2", "no inspector qualified", lambda f: changed(f, the("hold_point.signed", 0), by="amara")),
    ("R2", "was not qualified", lambda f: changed(f, the("release.signed"), by="amara")),
    ("R3", "out of calibration", lambda f: changed(f, the("instrument.listed"), body={
        "id": "G7", "calibrated_on": "2030-01-20T00:00:00Z", "calibration_due": "2031-01-20T00:00:00Z"})),
    ("R3", "nobody listed", lambda f: [x for x in f if x.kind != "instrument.listed"]),
    ("R4", "never answered", lambda f: [*f[:12], fact(11, "escalation.raised", "ines", {}, id="up"), *f[12:]]),
    ("R4", "decided scrap", lambda f: [*f[:12], fact(11, "escalation.decided", "amara", {"decision": "scrap"}, id="d"),
                                              *f[12:]]),
    ("R4", "is no engineer", lambda f: [*f[:12], fact(11, "escalation.decided", "ines", {"decision": "repair_as_instructed"},
                                                      id="d"), *f[12:]]),
    ("R5", "no good test follows", lambda f: changed(f, the("holiday.tested"), body={"holidays": [{"x": 1, "y": 2}]})),
    ("R5", "no good test follows", lambda f: changed(f, the("holiday.tested"), body={"coupon_hole_found": False})),
    ("R5", "nothing was repaired", lambda f: [*f[:19], fact(18, "holiday.tested", "tobias", {"holidays": [{"x": 1}]}, id="h"),
                                              *f[19:]]),
    ("R7", "not there before", lambda f: [*f[:20], fact(19, "entry.voided", "tobias", {"entry": "e99", "because": "x"}, id="v"),
                                          *f[20:]]),
    ("R7", "no reason", lambda f: [*f[:20], fact(19, "entry.voided", "tobias", {"entry": "e8", "because": " "}, id="v"),
                                   *f[20:]]),
    ("R7", "old value", lambda f: [*f[:20], fact(19, "entry.corrected", "tobias", {
        "entry": "e8", "field": "air_c", "old": 20.0, "new": 19, "because": "misread"}, id="c"), *f[20:]]),
    ("R7", "old value", lambda f: [*f[:20], said_later(old=14), *f[20:]]),  # nobody had said that
    ("R7", "came after the release", lambda f: [*f, fact(30, "film.measured", "tobias", {"instrument": "G7"}, id="late")]),
    ("R7", "after the release was signed", lambda f: [*f, fact(30, "entry.corrected", "tobias", {
        "entry": "e8", "field": "air_c", "old": 19.8, "new": 19, "because": "misread"}, id="late")]),
]


@pytest.mark.parametrize("rule, said, change", BREAKS, ids=[f"{b[0]} {b[1]}" for b in BREAKS])
def test_each_broken_rule_is_named_with_its_reason(rule, said, change):
    facts = change(released())

    found = replayed(facts)

    assert rule in [r.name for r in found.broken], found.rules
    assert any(said in r.because for r in found.broken if r.name == rule), found.broken
    with pytest.raises(RecordBroken, match="The release does not hold"):
        insist(verify(record(facts).raw))


def test_a_correction_counts_and_the_old_value_stays_in_the_record():
    facts = [*released()[:20], fact(19, "entry.corrected", "ines", {
        "entry": "e17", "field": "spots.0.readings_um.1", "old": 1249.5, "new": 1294.5, "because": "digits swapped"}, id="c"),
        *released()[20:]]

    found = replayed(facts)

    assert not found.broken and found.corrections == 1
    assert b'"1249.5"' in record(facts).raw and b'"1294.5"' in record(facts).raw


def test_what_was_not_said_had_no_value():
    assert not replayed([*released()[:20], said_later(), *released()[20:]]).broken


@pytest.mark.parametrize("voider, answer", [("ines", KEPT), ("amara", KEPT), ("tobias", BROKEN)])
def test_a_step_that_was_entered_under_the_wrong_name_is_voided_by_another_person(voider, answer):
    """Nobody voids their own repair work and then releases. The voided entry stays to be read."""
    step = the("layer.fused", 1)
    facts = changed(released(), step, by="tobias")
    facts.insert(17, fact(16, "entry.voided", voider, {"entry": step, "because": "typed on the wrong job"}, id="v"))

    assert replayed(facts).rules[0].answer == answer
    assert b"typed on the wrong job" in record(facts).raw


def test_files_are_asked_for_by_their_digest():
    digest = "ab" * 32
    facts = changed(released(), "e7", body={"id": "A", "stage": "as_found", "photo_sha256": digest})

    assert replayed(facts, files=[digest]).rules[7].answer == KEPT
    assert replayed(facts, files=[]).rules[7].answer == BROKEN
    assert file_digests({"a": [{"sha256": digest}], "procedure_sha256": "cd" * 32}) == [digest]


def test_a_record_that_claims_no_release_is_not_held_to_one():
    facts = [f for f in released() if f.kind != "release.signed"]
    facts = changed(facts, the("job.judged"), body={"verdict": "held"})

    assert "claims no release" in insist(verify(record(facts).raw)).sentence


@pytest.mark.parametrize("body", [{"procedure": 5}, {"procedure": {"hold_points": 5}}, {"id": []}, {"qualified_until": "soon"},
                                  {"calibrated_on": 3, "id": "G7"}, {"holidays": 5}, {"readings": None}])
@pytest.mark.parametrize("kind", ["job.opened", "person.named", "instrument.listed", "holiday.tested"])
def test_a_body_of_another_kind_is_an_answer_or_a_broken_record_never_a_traceback(kind, body):
    held = verify(record([replace(f, body=body) if f.kind == kind else f for f in released()]).raw)
    try:
        assert replay(held).rules
    except RecordBroken as fault:
        assert "rules" in fault.message


@pytest.mark.slow
def test_in_random_histories_nobody_releases_their_own_work():
    """Six people, up to fifty steps done by anybody in any order: whenever the releaser did a repair step (not voided by
    another) or answered a review, the replay says so; whenever it does not, he did neither. The oracle is three lines long."""
    dice = random.Random(11)
    people = ["ines", "tobias", "amara", "edda", "joris", "mira"]
    kinds = [*REPAIR_STEPS, "escalation.decided", "air.read", "hold_point.signed", "film.measured", "entry.voided"]
    caught = 0
    histories = share(1000)
    for _ in range(histories):
        facts, voidable = [fact(0, "job.opened", "sheet", {"procedure": {}})], []
        for n in range(1, dice.randrange(2, 51)):
            kind = dice.choice(kinds)
            body = {"hold_point": "film"} if kind == "hold_point.signed" else {}
            if kind == "entry.voided":
                if not voidable:
                    continue
                body = {"entry": voidable.pop(dice.randrange(len(voidable))), "because": "wrong job"}
            else:
                voidable.append(f"e{n}")
            facts.append(fact(n, kind, dice.choice(people), body))
        releaser = dice.choice(people)
        facts += [fact(60, "release.signed", releaser, {}), fact(61, "job.judged", "bench", {"verdict": "released"})]

        voided = {f.body["entry"] for f in facts if f.kind == "entry.voided" and f.by != releaser}
        own = [f for f in facts if f.by == releaser and f.id not in voided and f.kind in (*REPAIR_STEPS, "escalation.decided")]
        answer = replayed(facts).rules[0].answer

        assert (answer == BROKEN) == bool(own)
        caught += bool(own)
    assert 0.3 < caught / histories < 0.99


json_like = st.recursive(st.none() | st.booleans() | st.integers(-5, 5) | st.text(max_size=5),
                         lambda inner: st.lists(inner, max_size=3) | st.dictionaries(
                             st.sampled_from(["id", "entry", "field", "old", "new", "because", "holidays", "instrument", "role",
                                              "procedure", "hold_points", "qualified_until", "verdict", "decision"]), inner,
                             max_size=4), max_leaves=8)


@given(st.lists(st.tuples(st.sampled_from(["job.opened", "person.named", "instrument.listed", "layer.fused", "entry.corrected",
                                           "entry.voided", "release.signed", "job.judged", "holiday.tested",
                                           "hold_point.signed", "escalation.decided"]), json_like), min_size=1, max_size=8))
@tries(200)
def test_no_bodies_at_all_end_in_a_traceback(steps):
    from soundedge.basis.errors import BenchError

    facts = [fact(n, kind, "ines", body if isinstance(body, dict) else {"x": body}) for n, (kind, body) in enumerate(steps)]
    try:
        held = verify(record(facts).raw)
    except BenchError:
        return  # a text with a control character was refused at the door
    try:
        replay(held)
    except RecordBroken:
        pass
