"""Signatures at the desk: on exactly what was reviewed, and only what the rules take from this person; corrections likewise."""

import io
from datetime import timedelta

import pytest
from pypdf import PdfReader

from soundedge.basis.errors import BenchError, Conflict, NotEnough, Refused, Unknown
from soundedge.job.acts.before import before
from soundedge.record.replay import insist
from soundedge.record.verify import verify
from soundedge.services.desk import enter, issue, jobs, sign
from soundedge.services.desk import register as reg
from soundedge.services.desk.shop_place import shop_key_folder
from soundedge.services.evidence import person_keys
from soundedge.services.evidence.records import events_in

from . import bench
from .bench import AMARA, INES, JONAS, NUMBER, ODILE, TOBIAS, WORDS, at, standing

pytestmark = pytest.mark.store_contract


@pytest.fixture
def data(tmp_path, monkeypatch):
    found = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(found)
    return found


def upto(kind, what=None):
    """How many acts come before the first one of this kind (and hold point)."""
    return next(
        n for n, (_, _, k, body) in enumerate(bench.steps()) if k == kind and (what is None or body.get("hold_point") == what)
    )


def put(data, actor, what, when, *, words=None, id="", head=None, meaning="I looked at it and it may go on.", on_covers=None):
    return sign.sign(
        data,
        actor,
        NUMBER,
        what=what,
        meaning=meaning,
        passphrase=words or WORDS[actor.person],
        on_head=head or jobs.head(data, NUMBER),
        id=id or f"s-{actor.person}-{what}",
        now=at(when),
        on_covers=on_covers,
    )


def correct(data, actor, entry, field, old, new, when, *, because="typed from the wrong line", id="c-1", head=None):
    return enter.correct(
        data,
        actor,
        NUMBER,
        {"entry": entry, "field": field, "old": old, "new": new, "because": because},
        id=id,
        at=at(when),
        on_head=head or jobs.head(data, NUMBER),
        now=at(when),
    )


def entry_of(data, kind, place=0):
    return [row["id"] for row in standing(data).events if row["kind"] == kind][place]


def test_a_signature_lies_on_the_head_that_was_reviewed_with_the_persons_own_key(data):
    bench.play(data, upto=upto("hold_point.signed"))
    head = jobs.head(data, NUMBER)

    put(data, TOBIAS, "disposition", "08:12")

    raw = jobs.record(data, NUMBER)
    signed = [e for e in verify(raw, keys=person_keys.person_keys(shop_key_folder(data))).entries() if e.sig]
    assert [(e.kind, e.by, e.prev) for e in signed] == [("hold_point.signed", "tobias", head)]
    assert signed[0].sig["key"] == reg.register(data).people["tobias"].key


def test_a_signature_sent_twice_is_one_and_another_under_its_id_is_refused(data):
    bench.play(data, upto=upto("hold_point.signed"))
    first = put(data, TOBIAS, "disposition", "08:12", id="s-1")

    again = put(data, TOBIAS, "disposition", "08:14", id="s-1", head="0" * 64)

    assert (again["outcome"], again["no"]) == ("duplicate", first["no"])
    with pytest.raises(BenchError):
        put(data, TOBIAS, "surface", "08:14", id="s-1")


def test_what_has_changed_since_the_review_is_told_and_nothing_is_signed(data):
    bench.play(data, upto=upto("hold_point.signed"))
    head = jobs.head(data, NUMBER)
    enter.enter(
        data,
        INES,
        NUMBER,
        [
            {
                "id": "d1-a1b2c3-50",
                "kind": "air.read",
                "at": at("08:11").isoformat(),
                "body": {"air_c": 20, "rh_pct": 50, "steel_c": 19},
            }
        ],
        now=at("08:12"),
    )
    after = jobs.head(data, NUMBER)

    with pytest.raises(Conflict) as fault:
        put(data, TOBIAS, "disposition", "08:13", head=head)

    assert [(c["kind"], c["by"]) for c in fault.value.changed] == [("air.read", "ines")]
    assert set(fault.value.changed[0]) == {"no", "kind", "by", "at"}
    assert jobs.head(data, NUMBER) == after


@pytest.mark.parametrize("actor", [INES, AMARA, ODILE])
def test_only_an_inspector_signs_a_hold_point(data, actor):
    bench.play(data, upto=upto("hold_point.signed"))

    with pytest.raises(Refused) as fault:
        put(data, actor, "disposition", "08:12")

    assert fault.value.field == "role"


@pytest.mark.parametrize("actor", [INES, AMARA])
def test_only_an_inspector_or_a_manager_signs_a_release(data, actor):
    bench.play(data, upto=upto("release.signed"))

    with pytest.raises(Refused) as fault:
        put(data, actor, "release", "12:30")

    assert fault.value.field == "role"


def test_a_manager_may_release(data):
    bench.play(data, upto=upto("release.signed"))

    assert put(data, ODILE, "release", "12:30")["verdict"] == "released"
    assert standing(data).outcome.verdict == "released"


def test_who_is_not_qualified_for_this_polymer_on_this_day_is_refused_in_the_rules_words(data):
    bench.play(data, upto=upto("hold_point.signed"))
    reg.change_person(data, ODILE, bench.person(JONAS) | {"qualified_for": ["pvdf"]}, now=at("08:00"))

    with pytest.raises(Refused) as fault:
        put(data, JONAS, "disposition", "08:12")

    assert fault.value.message.startswith("Jonas Feld is not qualified for ectfe on 04 May 2026.")


def test_a_technician_who_became_an_inspector_signs_nothing_of_their_own_work(data):
    bench.play(data, upto=upto("release.signed"))
    reg.change_person(data, ODILE, bench.person(INES) | {"role": "inspector"}, now=at("12:20"))

    with pytest.raises(Refused) as fault:
        put(data, INES, "release", "12:30")

    # the job named her as the technician she was when she began
    assert "Ines Marlow" in fault.value.message
    assert standing(data).outcome.verdict == "held"


def test_an_inspector_who_was_a_technician_before_releases_nothing_they_have_worked_on(data):
    reg.change_person(data, ODILE, bench.person(JONAS) | {"role": "technician"}, now=at("06:50"))
    said = {
        "id": "d2-ffffff-1",
        "kind": "surface.prepared",
        "at": at("07:49").isoformat(),
        "body": {"method": "ground by hand"},
    }
    assert enter.enter(data, JONAS, NUMBER, [said], now=at("07:50"))[0]["outcome"] == "stored"
    reg.change_person(data, ODILE, bench.person(JONAS), now=at("07:55"))
    bench.play(data, upto=upto("release.signed"))

    with pytest.raises(Refused) as fault:
        put(data, JONAS, "release", "12:30")

    assert "Jonas Feld" in fault.value.message
    assert put(data, TOBIAS, "release", "12:31")["verdict"] == "released"


def test_a_hold_point_with_nothing_to_look_at_is_not_signed(data):
    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "film", "08:12")

    assert "nothing recorded to sign" in fault.value.message


def test_a_hold_point_that_work_went_past_is_not_signed_afterwards(data):
    bench.play(data, upto=upto("hot_work.ended"), skip=lambda kind, body: body.get("hold_point") == "surface")

    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "surface", "10:00")

    assert "Work went past the hold point for the prepared surface: layer fused at " in fault.value.message
    assert standing(data).outcome.verdict == "held"


def test_a_hold_point_is_not_signed_twice_for_the_same(data):
    bench.play(data, upto=upto("hold_point.signed") + 1)

    with pytest.raises(Refused):
        put(data, TOBIAS, "disposition", "08:14")


def test_a_release_names_what_else_holds_the_job(data):
    bench.play(
        data,
        upto=upto("release.signed"),
        skip=lambda kind, body: kind == "holiday.tested" or body.get("hold_point") == "holiday",
    )

    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "release", "12:30")

    assert "cannot be released" in fault.value.message and "high-voltage" in fault.value.message
    assert not [row for row in standing(data).events if row["kind"] == "release.signed"]


def test_a_release_waits_for_the_end_of_the_fire_watch(data):
    sheet = bench.steps()
    bench.play(data, upto=upto("release.signed"), skip=lambda kind, body: kind == "hot_work.ended")
    ended = next(one for one in sheet if one[2] == "hot_work.ended")
    body = ended[3] | {"fire_watch_until": at("12:40").isoformat()}
    enter.enter(
        data,
        INES,
        NUMBER,
        [{"id": "d1-ffffff-1", "kind": "hot_work.ended", "at": ended[0].isoformat(), "body": body}],
        now=at("12:20"),
    )

    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "release", "12:30")

    assert "fire watch ran until" in fault.value.message
    assert put(data, TOBIAS, "release", "12:41")["verdict"] == "released"


def test_of_two_people_who_release_at_the_same_moment_one_does_and_the_other_is_told(data):
    from concurrent.futures import ThreadPoolExecutor
    from threading import Barrier

    bench.play(data, upto=upto("release.signed"))
    head, together = jobs.head(data, NUMBER), Barrier(2)

    def release(actor):
        together.wait(60)
        try:
            return put(data, actor, "release", "12:30", head=head)["verdict"]
        except (Conflict, Refused) as told:
            return told.message

    with ThreadPoolExecutor(2) as pool:
        one, other = sorted(pool.map(release, (TOBIAS, ODILE)), key=len)

    assert one == "released" and len(other) > 20
    assert [e.kind for e in verify(jobs.record(data, NUMBER)).entries()].count("release.signed") == 1


def test_a_wrong_password_signs_nothing(data):
    bench.play(data, upto=upto("hold_point.signed"))
    head = jobs.head(data, NUMBER)

    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "disposition", "08:12", words="not his words at all")

    assert "Nothing was signed" in fault.value.message and jobs.head(data, NUMBER) == head


def test_after_a_new_password_the_new_key_signs_and_the_old_signature_stays_good(data):
    bench.play(data, upto=upto("hold_point.signed") + 1)
    old = reg.register(data).people["tobias"].key
    reg.key_reset(data, ODILE, "tobias", "he forgot his password", now=at("08:12"))
    with pytest.raises(Refused):
        put(data, TOBIAS, "surface", "08:13")
    reg.seal_key(data, "tobias", "quite another four words", now=at("08:13"))

    with pytest.raises(Refused):
        put(data, TOBIAS, "surface", "08:13")
    put(data, TOBIAS, "surface", "08:13", words="quite another four words")

    held = verify(jobs.record(data, NUMBER), keys=person_keys.person_keys(shop_key_folder(data)))
    assert (held.signed, held.signatures_checked) == (2, 2)
    assert [e.sig["key"] for e in held.entries() if e.sig] == [old, reg.register(data).people["tobias"].key]


@pytest.mark.parametrize(("given", "signed", "hours"), [("08:13", "08:14", "less than an hour"), ("08:13", "10:13", "2 hours")])
def test_a_signature_on_the_day_of_a_new_password_is_marked_on_page_and_certificate(data, given, signed, hours):
    bench.play(data, upto=upto("hold_point.signed") + 1)
    reg.key_reset(data, ODILE, "tobias", "forgot the password", now=at("08:12") - timedelta(days=3))
    reg.seal_key(data, "tobias", "quite another four words", now=at(given))
    assert standing(data).signed_soon == []  # what was signed before is not marked
    put(data, TOBIAS, "surface", signed, words="quite another four words")

    name = reg.register(data).people["tobias"].name
    who = reg.register(data).people["odile"].name
    assert standing(data).signed_soon == [f"{name} signed the surface {hours} after a new password, given by {who} alone."]
    text = " ".join("".join(page.extract_text() for page in PdfReader(
        io.BytesIO(issue.certificate(data, NUMBER, now=at("12:00")).pdf)).pages).split())
    assert "New password" in text and f"signed the surface {hours} after a new password" in text


def test_a_signature_a_day_after_a_new_password_is_as_any_other(data):
    bench.play(data, upto=upto("hold_point.signed") + 1)
    reg.key_reset(data, ODILE, "tobias", "forgot the password", now=at("08:13") - timedelta(days=1))
    reg.seal_key(data, "tobias", "quite another four words", now=at("08:13") - timedelta(days=1))
    put(data, TOBIAS, "surface", "08:13", words="quite another four words")

    assert standing(data).signed_soon == []


def test_the_mark_says_who_asked_and_who_confirmed_or_that_it_was_done_at_the_machine(data):
    bench.play(data, upto=upto("hold_point.signed"))
    reg.key_reset(data, TOBIAS, "tobias", "At the machine itself: nobody there", now=at("08:11"))
    reg.seal_key(data, "tobias", "five other words of mine", now=at("08:11"))
    put(data, TOBIAS, "disposition", "08:12", words="five other words of mine")
    later = at("08:12") + timedelta(days=2)
    assert reg.ask_reset(data, ODILE, "tobias", "key_reset", "forgot the password", now=later)
    with pytest.raises(Refused):
        reg.key_reset(data, ODILE, "tobias", "forgot the password", now=later)
    reg.key_reset(data, INES, "tobias", "forgot the password", asked_by="odile", now=later)
    reg.seal_key(data, "tobias", "quite another four words", now=later)
    sign.sign(data, TOBIAS, NUMBER, what="surface", meaning="I looked at it and it may go on.",
              passphrase="quite another four words", on_head=jobs.head(data, NUMBER), id="s-late", now=later)

    alone, together = standing(data).signed_soon
    assert alone.endswith("a new password, given at the machine itself.")
    names = {one: reg.register(data).people[one].name for one in ("odile", "ines")}
    assert together.endswith(f"a new password, asked for by {names['odile']} and confirmed by {names['ines']}.")


def test_a_key_that_was_put_there_by_somebody_else_signs_nothing(data):
    """Whoever can write the keys' folder cannot sign as another: the register names the key."""
    bench.play(data, upto=upto("hold_point.signed"))
    person_keys.renew_person("tobias", "a stranger's four words", folder=shop_key_folder(data))

    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "disposition", "08:12", words="a stranger's four words")

    assert "not the one in the register" in fault.value.message


def test_what_comes_in_behind_a_signature_is_looked_at_and_signed_again_before_a_release(data):
    """Film readings of a tablet without network, said to be from before the signature that nobody saw them at."""
    bench.play(data, upto=upto("release.signed"))
    when, _, _, body = next(one for one in bench.steps() if one[2] == "film.measured")
    behind = {"id": "d1-ffffff-1", "kind": "film.measured", "at": (when - timedelta(minutes=1)).isoformat(), "body": body}
    assert enter.enter(data, INES, NUMBER, [behind], now=at("12:20"))[0]["outcome"] == "stored"

    held = standing(data)
    assert held.next_step == "hold_points" and "came into the record" in held.next_move
    with pytest.raises(Refused) as fault:
        put(data, TOBIAS, "release", "12:30")
    assert "film" in fault.value.message and "d1-ffffff-1" in fault.value.message
    put(data, TOBIAS, "film", "12:31", id="s-again")
    assert put(data, TOBIAS, "release", "12:32")["verdict"] == "released"


# ------------------------------------------------------------------ the engineer


def too_large(data):
    body = {"id": "A", "stage": "as_found", "circle_mm": {"x": -60, "y": 35, "d": 60}}
    enter.enter(
        data,
        INES,
        NUMBER,
        [{"id": "d1-ffffff-1", "kind": "damage.outlined", "at": at("06:55").isoformat(), "body": body}],
        now=at("06:56"),
    )


def decide(data, actor, decision, when, **more):
    return sign.decide(
        data,
        actor,
        NUMBER,
        decision=decision,
        because="the plate is thick enough to carry it",
        passphrase=WORDS[actor.person],
        on_head=jobs.head(data, NUMBER),
        id=f"e-{decision}",
        now=at(when),
        **more,
    )


def test_the_engineer_answers_where_the_procedure_does_not_allow_it(data):
    too_large(data)
    assert standing(data).outcome.verdict in ("engineering_review", "rejected")

    decide(data, AMARA, "repair_as_instructed", "07:10", instruction="two stages, cooled between", number="KBW-26-41",
           limits={"bare_area_mm2_max": 3000, "footprint_area_mm2_max": 7000}, expires=None, accepted_by=None)

    step = standing(data).outcome.steps["disposition"]
    assert step.blocks == [] and step.verdict == "repair_by_procedure"
    assert {f.source for f in step.findings if f.rule.endswith("_area")} == {"instruction KBW-26-41, Amara Quist, 2026-05-04"}
    assert [e.kind for e in verify(jobs.record(data, NUMBER)).entries() if e.sig] == ["escalation.decided"]


def test_an_ok_without_number_and_step_is_kept_and_lifts_nothing(data):
    too_large(data)

    assert decide(data, AMARA, "repair_as_instructed", "07:10")["verdict"] == "engineering_review"

    held = standing(data).outcome.steps["disposition"].blocks
    assert held[0].rule == "engineer_instructs" and held[0].next_move.startswith("Which number and which step?")
    asked = before(events_in(verify(jobs.record(data, NUMBER)).entries()), "grind", at=at("07:11"), from_record=True)
    assert "engineer_instructs" in [point.fact for point in asked.points]


def test_what_the_procedure_forbids_is_not_instructed(data):
    text = bench.PROCEDURE.replace('id = "KBW-LP-04"', 'id = "KBW-LP-09"') + (
        '\n[[prohibited]]\nwhat = "repair of chips"\nclause = "clause 5.10"\n')
    name = reg.propose_procedure(data, AMARA, text, because="chips are relined now", id="lp09-1", now=at("06:30"))
    reg.approve_procedure(data, ODILE, name, now=at("06:31"))
    other = "KBW-2026-099"
    jobs.open_job(data, ODILE, bench.opening(other, procedure="KBW-LP-09"), id="open-other", now=at("06:40"))
    body = {"id": "A", "stage": "as_found", "circle_mm": {"x": -60, "y": 35, "d": 20}}
    enter.enter(data, INES, other, [{"id": "d1-ffffff-9", "kind": "damage.outlined", "at": at("06:55").isoformat(),
                                     "body": body}], now=at("06:56"))
    how = {"because": "It is a small chip.", "passphrase": WORDS["amara"], "now": at("07:10")}

    with pytest.raises(Refused) as fault:
        sign.decide(data, AMARA, other, decision="repair_as_instructed", number="KBW-26-41", instruction="Two stages.",
                    on_head=jobs.head(data, other), id="e-1", **how)

    assert "back to the owner" in fault.value.message
    assert sign.decide(data, AMARA, other, decision="return_to_owner", on_head=jobs.head(data, other), id="e-2",
                       **how)["verdict"] == "rejected"


@pytest.mark.parametrize("actor", [INES, TOBIAS, ODILE])
def test_nobody_else_answers_it(data, actor):
    too_large(data)

    with pytest.raises(Refused) as fault:
        decide(data, actor, "repair_as_instructed", "07:10")

    assert fault.value.field == "role"


def test_there_is_nothing_to_decide_where_the_procedure_allows_it(data):
    bench.play(data, upto=3)

    with pytest.raises(Refused) as fault:
        decide(data, AMARA, "repair_as_instructed", "07:10")

    assert "nothing to decide" in fault.value.message
    assert decide(data, AMARA, "scrap", "07:11")["verdict"] == "rejected"


# ------------------------------------------------------------------ corrections and voids


def test_the_author_corrects_their_own_slip_and_the_old_value_stays(data):
    bench.play(data, upto=4)
    name = entry_of(data, "air.read")

    correct(data, INES, name, "air_c", 19.8, 19.9, "07:30")

    row = next(row for row in standing(data).events if row["id"] == name)
    line = next(one for one in row["lines"] if one["label"] == "air_c")
    assert (line["old"], line["value"]) == ("19.8", "19.9") and row["body"]["air_c"] == "19.8"
    assert standing(data).outcome.job.last("air.read").body.air_c == 19.9


def test_another_technician_corrects_nothing_and_an_inspector_does(data):
    reg.change_person(data, ODILE, bench.person(JONAS) | {"role": "technician"}, now=at("06:50"))
    bench.play(data, upto=4)
    name = entry_of(data, "air.read")

    with pytest.raises(Refused) as fault:
        correct(data, JONAS, name, "air_c", 19.8, 19.9, "07:30")
    assert fault.value.field == "role"
    assert correct(data, TOBIAS, name, "air_c", 19.8, 19.9, "07:31")["outcome"] == "stored"


def test_a_correction_says_what_stood_there_and_why(data):
    bench.play(data, upto=4)
    name = entry_of(data, "air.read")

    with pytest.raises(BenchError) as fault:
        correct(data, INES, name, "air_c", 25.0, 19.9, "07:30")
    assert "19.8" in fault.value.message
    with pytest.raises(NotEnough):
        correct(data, INES, name, "air_c", 19.8, 19.9, "07:30", because="typo")
    with pytest.raises(Unknown):
        correct(data, INES, "nothing", "air_c", 19.8, 19.9, "07:30")
    with pytest.raises(BenchError):
        correct(data, INES, name, "rh_pct", 52, 106, "07:30")
    assert not [row for row in standing(data).events if row["kind"] == "entry.corrected"]


def test_a_correction_on_an_older_head_is_a_conflict_with_what_changed(data):
    bench.play(data, upto=3)
    head = jobs.head(data, NUMBER)
    bench.play(data, upto=4)

    with pytest.raises(Conflict) as fault:
        correct(data, INES, entry_of(data, "air.read"), "air_c", 19.8, 19.9, "07:30", head=head)

    assert fault.value.changed and fault.value.changed[-1]["no"] == standing(data).events[-1]["no"]


def test_a_correction_sent_twice_is_one(data):
    bench.play(data, upto=4)
    first = correct(data, INES, entry_of(data, "air.read"), "air_c", 19.8, 19.9, "07:30")

    again = correct(data, INES, entry_of(data, "air.read"), "air_c", 19.8, 19.9, "07:40", head="0" * 64)

    assert (again["outcome"], again["no"]) == ("duplicate", first["no"])


def failing(data, low=(310.0,)):
    """A film with the first reading of its first spots far too low, ``d2-ffffff-1``; what a good reading is."""
    bench.play(data, upto=upto("film.measured"))
    _, _, _, body = next(one for one in bench.steps() if one[2] == "film.measured")
    spots = [dict(spot) for spot in body["spots"]]
    for place, value in enumerate(low):
        spots[place] = spots[place] | {"readings_um": [value, *spots[place]["readings_um"][1:]]}
    enter.enter(
        data,
        TOBIAS,
        NUMBER,
        [{"id": "d2-ffffff-1", "kind": "film.measured", "at": at("11:30").isoformat(), "body": body | {"spots": spots}}],
        now=at("11:31"),
    )
    assert standing(data).outcome.steps["thickness"].blocks
    return spots[0]["readings_um"][1] if len(spots[0]["readings_um"]) > 1 else 1240.0


@pytest.mark.parametrize("actor", [TOBIAS, JONAS])
def test_a_failed_reading_is_corrected_by_the_engineer_only(data, actor):
    good = failing(data)

    with pytest.raises(Refused) as fault:
        correct(data, actor, "d2-ffffff-1", "spots.0.readings_um.0", 310, good, "11:40")
    with pytest.raises(Refused):
        enter.void(
            data,
            actor,
            NUMBER,
            {"entry": "d2-ffffff-1", "because": "the gauge slipped off"},
            id="v-1",
            at=at("11:40"),
            on_head=jobs.head(data, NUMBER),
            now=at("11:40"),
        )

    assert "lining engineer" in fault.value.message
    assert correct(data, AMARA, "d2-ffffff-1", "spots.0.readings_um.0", 310, good, "11:41")["outcome"] == "stored"
    assert standing(data).outcome.steps["thickness"].blocks == []


@pytest.mark.parametrize("place, old", [(0, 310), (1, 305)])
def test_of_two_low_places_nobody_else_corrects_one_behind_the_other(data, place, old):
    """The job is held either way; but the engineer must see both when he decides."""
    good = failing(data, low=(310.0, 305.0))

    with pytest.raises(Refused) as fault:
        correct(data, TOBIAS, "d2-ffffff-1", f"spots.{place}.readings_um.0", old, good, "11:40")

    assert "lining engineer" in fault.value.message
    assert correct(data, AMARA, "d2-ffffff-1", f"spots.{place}.readings_um.0", old, good, "11:41")["outcome"] == "stored"


def test_what_the_failing_step_does_not_rest_on_is_still_corrected_by_its_author(data):
    failing(data)

    assert correct(data, INES, entry_of(data, "air.read"), "air_c", 19.8, 19.9, "11:40")["outcome"] == "stored"


def test_a_correction_that_makes_something_fail_is_anybodys_who_wrote_it(data):
    bench.play(data, upto=4)

    assert correct(data, INES, entry_of(data, "air.read"), "rh_pct", 52, 97, "07:30")["outcome"] == "stored"


def test_signatures_and_what_the_bench_wrote_are_not_corrected(data):
    bench.play(data)

    for kind in ("hold_point.signed", "release.signed", "job.judged", "person.named"):
        name = entry_of(data, kind)
        with pytest.raises(Refused):
            correct(data, AMARA, name, "meaning", "x", "y", "12:50")
    with pytest.raises(Refused):
        enter.void(
            data,
            AMARA,
            NUMBER,
            {"entry": entry_of(data, "release.signed"), "because": "signed too early"},
            id="v-1",
            at=at("12:50"),
            on_head=jobs.head(data, NUMBER),
            now=at("12:50"),
        )


def test_after_a_release_a_correction_holds_the_job_until_it_is_released_again_and_the_page_says_what_it_replaces(data):
    bench.play(data)
    first = issue.certificate(data, NUMBER, now=at("12:40"))
    assert first.pdf == issue.certificate(data, NUMBER, now=at("12:45")).pdf
    name = entry_of(data, "air.read")
    with pytest.raises(Refused) as fault:
        correct(data, TOBIAS, name, "air_c", 19.8, 19.9, "12:50")
    assert "signed a release" in fault.value.message

    correct(data, JONAS, name, "air_c", 19.8, 19.9, "12:50")

    assert standing(data).outcome.verdict == "held" and standing(data).next_step == "release"
    assert (
        enter.enter(
            data,
            INES,
            NUMBER,
            [
                {
                    "id": "d1-ffffff-1",
                    "kind": "air.read",
                    "at": at("12:51").isoformat(),
                    "body": {"air_c": 20, "rh_pct": 50, "steel_c": 19},
                }
            ],
            now=at("12:52"),
        )[0]["outcome"]
        == "stored"
    )
    again = put(data, TOBIAS, "release", "12:55", id="s-again")
    assert again["verdict"] == "released"
    second = issue.certificate(data, NUMBER, now=at("13:00"))
    assert second.pdf != first.pdf
    last = standing(data).events[-1]
    assert (last["body"]["certificate"], last["body"]["supersedes"]) == (f"{NUMBER}-A", NUMBER)
    insist(verify(jobs.record(data, NUMBER)))


def test_a_review_says_to_each_person_what_they_may_sign_and_why_not(data):
    bench.play(data, upto=upto("hold_point.signed"))

    seen = {actor.person: sign.review(data, NUMBER, actor=actor) for actor in (INES, TOBIAS)}

    points = {p.name: p for p in seen["tobias"].points}
    assert points["disposition"].may and points["surface"].may and not points["film"].may
    assert points["film"].why_not and not seen["tobias"].release.may and seen["tobias"].release.why_not
    assert not any(p.may for p in seen["ines"].points) and "inspector" in seen["ines"].points[0].why_not
    assert [c["kind"] for c in points["disposition"].covers] == ["damage.outlined", "damage.outlined"]
    assert not any(p.may for p in sign.review(data, NUMBER).points)


def test_the_procedure_of_a_job_is_corrected_by_nobody(data):
    """Before any film is read no rule holds on it, so that a lower limit would be seen by nobody."""
    opening = entry_of(data, "job.opened")
    for actor in (AMARA, ODILE, TOBIAS):
        with pytest.raises(Refused, match="new edition for the next job"):
            correct(data, actor, opening, "procedure.limits.film_um_min.value", 1000, 800, "07:30")


def test_only_what_it_covers_stands_in_the_way_of_a_signature(data):
    """An air reading comes in between looking and signing, and stops nobody; an outline of the same damage does."""
    bench.play(data, upto=upto("hold_point.signed"))
    seen = {point.name: point.fingerprint for point in sign.review(data, NUMBER, actor=TOBIAS, now=at("08:11")).points}
    head = jobs.head(data, NUMBER)

    def send(number, kind, **body):
        one = {"id": f"d1-a1b2c3-{number}", "kind": kind, "at": at("08:11").isoformat(), "body": body}
        enter.enter(data, INES, NUMBER, [one], now=at("08:12"))

    send(50, "air.read", air_c=20, rh_pct=50, steel_c=19)
    first = put(data, TOBIAS, "disposition", "08:13", id="s-1", head=head, on_covers=seen["disposition"])
    again = put(data, TOBIAS, "disposition", "08:14", id="s-1", head=head, on_covers=seen["disposition"])
    assert (first["outcome"], again["outcome"], again["no"]) == ("stored", "duplicate", first["no"])

    send(51, "damage.outlined", id="A", stage="as_prepared", circle_mm={"x": -60, "y": 35, "d": 33})
    with pytest.raises(Conflict) as fault:
        put(data, TOBIAS, "disposition", "08:16", id="s-2", head=head, on_covers=seen["disposition"])
    assert [one["kind"] for one in fault.value.changed] == ["damage.outlined"]
    entries = verify(jobs.record(data, NUMBER)).entries()
    assert [entry.body["covers"] for entry in entries if entry.kind == "hold_point.signed"] == [seen["disposition"]]


def test_a_release_covers_everything(data):
    bench.play(data, upto=upto("release.signed"))
    point = sign.review(data, NUMBER, actor=JONAS, now=at("12:20")).release

    assert point.fingerprint == ""
    with pytest.raises(Conflict):
        put(data, JONAS, "release", "12:30", head="0" * 64)
