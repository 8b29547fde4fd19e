"""Entries from tablets: each once, in order, in the name of the person at the device, each with an outcome of its own."""

import threading
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Refused, Unknown, Unreadable
from soundedge.job.kinds import KINDS
from soundedge.services.desk import enter, issue, jobs, roles
from soundedge.services.desk import register as reg
from soundedge.services.desk.state import state
from soundedge.services.evidence.ledger_place import open_ledger

from ...tries import tries
from . import bench
from .bench import AMARA, INES, JONAS, NORA, NUMBER, ODILE, TOBIAS, at

AIR = {"air_c": 20.1, "rh_pct": 50, "steel_c": 19.0, "instrument": "H2"}


@pytest.fixture
def data(tmp_path, monkeypatch):
    found = bench.a_shop(tmp_path, monkeypatch)
    bench.opened(found)
    return found


def air(number, when="07:00", **more):
    return {"id": f"d1-a1b2c3-{number}", "kind": "air.read", "at": at(when).isoformat(), "body": AIR | more}


def send(data, *entries, by=INES, when="08:00", job=NUMBER):
    return enter.enter(data, by, job, list(entries), now=at(when))


def record(data, job=NUMBER):
    with open_ledger(data, make=False) as ledger:
        return list(ledger.record(job).entries)


def test_whoever_first_acts_is_named_from_the_register_and_so_is_their_instrument(data):
    answer = send(data, air(1))

    entries = record(data)
    assert answer[0]["outcome"] == "stored" and answer[0]["no"] == entries[-1].no
    ids = [entry.id for entry in entries]
    assert "person-ines" in ids and "instrument-H2" in ids and ids[-1] == "d1-a1b2c3-1"
    assert entries[-1].by == "ines"
    send(data, air(2, "07:10"))
    assert [entry.id for entry in record(data)].count("instrument-H2") == 1


def test_one_bad_entry_stops_no_other_and_the_good_ones_keep_their_order(data):
    wet = air(2, "07:05", rh_pct=106)

    answers = send(data, air(1), wet, {"id": "x"}, "no entry", air(3, "07:10"))

    assert [a["outcome"] for a in answers] == ["stored", "refused", "refused", "refused", "stored"]
    assert answers[1]["error"]["field"] == "body.rh_pct" and "106" in answers[1]["error"]["message"]
    assert [e.id for e in record(data)][-2:] == ["d1-a1b2c3-1", "d1-a1b2c3-3"]


def test_the_same_entry_again_is_a_duplicate_and_another_under_its_id_a_conflict(data):
    first = send(data, air(1))[0]
    count = len(record(data))

    again, other = send(data, air(1))[0], send(data, air(1, air_c=25.0))[0]

    assert (again["outcome"], again["no"]) == ("duplicate", first["no"])
    assert other["outcome"] == "conflict" and "another content" in other["error"]["message"]
    both = send(data, air(2, "07:10"), air(2, "07:10"), air(2, "07:11"))
    assert [a["outcome"] for a in both] == ["stored", "duplicate", "conflict"]
    assert len(record(data)) == count + 1


def test_the_same_entry_from_another_person_is_a_conflict(data):
    send(data, air(1))

    assert send(data, air(1), by=TOBIAS)[0]["outcome"] == "conflict"


def test_senders_at_the_same_time_give_exactly_one_entry(data):
    outcomes, wrong = [], []

    def sender():
        try:
            for number in range(1, 9):
                outcomes.append(send(data, air(number, f"07:{number:02d}"))[0]["outcome"])
        except Exception as fault:
            wrong.append(fault)

    threads = [threading.Thread(target=sender) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert wrong == []
    assert outcomes.count("stored") == 8 and outcomes.count("duplicate") == 40
    assert [e.id for e in record(data) if e.kind == "air.read"] == [f"d1-a1b2c3-{n}" for n in range(1, 9)]


def test_another_process_writing_in_between_loses_nothing(data):
    """What this process knows of the job is read anew when the ledger's head is another one."""
    from soundedge.record.entry import Said

    send(data, air(1))
    with open_ledger(data, make=False) as ledger:
        ledger.append(NUMBER, [Said("d9-ffffff-1", "air.read", "ines", at("07:02"), AIR)], now=at("08:00"))

    assert send(data, air(2, "07:04"))[0]["outcome"] == "stored"
    assert [e.id for e in record(data)][-2:] == ["d9-ffffff-1", "d1-a1b2c3-2"]


def test_a_little_ahead_of_the_clock_is_taken_and_more_is_not(data):
    ahead = (at("08:00") + timedelta(minutes=4)).isoformat()
    far = (at("08:00") + timedelta(minutes=6)).isoformat()

    answers = send(data, air(1) | {"at": ahead}, air(2) | {"at": far}, air(3, "06:50"))

    assert [a["outcome"] for a in answers] == ["stored", "refused", "stored"]
    assert answers[1]["error"]["field"] == "at" and "clock" in answers[1]["error"]["message"]
    late = record(data)[-1]
    assert late.at < late.recorded_at  # said to be earlier, written down now: both stand there


def test_who_it_was_is_never_taken_from_the_body(data):
    assert send(data, air(1) | {"by": "tobias"})[0]["error"]["field"] == "by"
    assert send(data, air(1, by="tobias"))[0]["error"]["kind"] == "unknown"


@pytest.mark.parametrize("kind", sorted(set(KINDS) - set(roles.ADDING)))
def test_what_decides_or_what_the_bench_writes_is_not_added_like_this(data, kind):
    answer = send(data, air(1) | {"kind": kind, "body": {}})[0]

    assert answer["outcome"] == "refused" and answer["error"]["field"] == "kind"


@pytest.mark.parametrize("kind", sorted(roles.ADDING))
def test_every_kind_of_body_is_read_strictly_and_refused_by_name(data, kind):
    by = next(one for one in (INES, TOBIAS, AMARA, ODILE) if kind in roles.may_enter(one.role))
    answer = send(data, {"id": "d1-a1b2c3-1", "kind": kind, "at": at("07:00").isoformat(), "body": {"nonsense": 1}}, by=by)[0]

    assert answer["outcome"] == "refused"
    assert answer["error"]["field"].startswith("body.") and answer["error"]["message"]


@pytest.mark.parametrize("kind", sorted(roles.ADDING))
def test_a_role_records_its_kinds_and_no_others(data, kind):
    for person in (INES, TOBIAS, AMARA, ODILE):
        answer = send(
            data, {"id": "d1-a1b2c3-1", "kind": kind, "at": at("07:00").isoformat(), "body": {"nonsense": 1}}, by=person
        )[0]
        assert (answer["error"]["field"] == "role") == (kind not in roles.may_enter(person.role))


def test_an_inspector_never_does_repair_work():
    for kind in ("surface.prepared", "layer.fused", "heat.logged", "hot_work.ended"):
        assert roles.ADDING[kind] == {"technician"}


def test_an_auditor_records_nothing(data):
    with pytest.raises(Refused) as fault:
        send(data, air(1), by=NORA)

    assert fault.value.field == "role"


def test_somebody_the_register_does_not_name_or_has_let_go_records_nothing(data):
    with pytest.raises(Refused):
        send(data, air(1), by=bench.Actor("nobody", "Nobody", "technician"))
    reg.disable_person(data, ODILE, "ines", "left the shop in May", now=at("07:00"))
    with pytest.raises(Refused):
        send(data, air(1))


def test_the_register_decides_the_role_not_the_session(data):
    reg.change_person(data, ODILE, bench.person(INES) | {"role": "auditor"}, now=at("07:00"))

    with pytest.raises(Refused):
        send(data, air(1))


def test_a_revoked_device_records_nothing(data):
    reg.revoke_device(data, ODILE, "d1", "lost in the yard", now=at("07:00"))

    with pytest.raises(Refused) as fault:
        send(data, air(1))

    assert "lost in the yard" in fault.value.message


def test_an_unknown_job_is_said_so(data):
    for name in ("KBW-0000-000", "shop", ""):
        with pytest.raises(Unknown) as fault:
            send(data, air(1), job=name)
        assert fault.value.field == "job"


def test_an_instrument_or_lot_the_register_does_not_hold_is_refused_by_name(data):
    strange = send(data, air(1, instrument="H9"))[0]
    lot = send(
        data, {"id": "d1-a1b2c3-2", "kind": "layer.fused", "at": at("07:00").isoformat(), "body": {"number": 1, "lot": "P-9"}}
    )[0]

    assert (strange["error"]["field"], lot["error"]["field"]) == ("body.instrument", "body.lot")
    assert "H9" in strange["error"]["message"] and "P-9" in lot["error"]["message"]


def test_what_is_out_of_date_is_recorded_with_a_warning(data):
    reg.list_instrument(
        data,
        ODILE,
        {"id": "H3", "kind": "air_meter", "calibrated_on": "2024-01-01T00:00:00Z", "calibration_due": "2025-01-01T00:00:00Z"},
        now=at("06:30"),
    )
    reg.receive_lot(
        data, ODILE, {"id": "P-1", "kind": "powder", "polymer": "ectfe", "expires": "2026-01-01T00:00:00Z"}, now=at("06:30")
    )

    tool = send(data, air(1, instrument="H3"))[0]
    lot = send(
        data, {"id": "d1-a1b2c3-2", "kind": "layer.fused", "at": at("07:00").isoformat(), "body": {"number": 1, "lot": "P-1"}}
    )[0]

    assert tool["outcome"] == lot["outcome"] == "stored"
    assert "out of calibration" in tool["warning"] and "expired" in lot["warning"]
    assert "calibration" in [block.rule for block in bench.standing(data).outcome.steps["instruments"].blocks]


def test_what_was_withdrawn_is_refused_from_then_on_and_not_before(data):
    reg.withdraw_instrument(data, ODILE, "H2", "reads two kelvin too high", now=at("07:30"))

    before, after = send(data, air(1, "07:20"), air(2, "07:40"))

    assert before["outcome"] == "stored"
    assert after["outcome"] == "refused" and "two kelvin" in after["error"]["message"]


def test_a_picture_is_sent_before_the_entry_that_names_it(data):
    said = {
        "id": "d1-a1b2c3-1",
        "kind": "picture.taken",
        "at": at("07:00").isoformat(),
        "body": {"file": "cover.jpg", "sha256": "0" * 64, "caption": "the cover"},
    }
    assert send(data, said)[0]["error"]["field"] == "body.sha256"

    said["body"]["sha256"] = bench.photo(data)

    assert send(data, said)[0]["outcome"] == "stored"


def test_an_outline_from_a_photo_cannot_be_sent_as_if_it_was_measured(data):
    body = {"id": "A", "stage": "as_found", "circle_mm": {"x": 0, "y": 0, "d": 20}, "measured": "photo"}

    answer = send(data, {"id": "d1-a1b2c3-1", "kind": "damage.outlined", "at": at("07:00").isoformat(), "body": body})[0]

    assert answer["error"]["field"] == "body.measured"


def test_a_pit_that_was_not_measured_stays_not_measured_in_the_record(data):
    body = {"id": "A", "stage": "as_found", "circle_mm": {"x": 0, "y": 0, "d": 20}, "pit_depth_mm": None}

    send(data, {"id": "d1-a1b2c3-1", "kind": "damage.outlined", "at": at("07:00").isoformat(), "body": body})

    assert bench.standing(data).outcome.job.last("damage.outlined").body.pit_depth_mm is None


def test_ids_of_the_bench_itself_are_not_given_out(data):
    for name in ("person-ines", "judged-1", "lot-P-311", "", " ", "x" * 121, "a\nb", 7):
        assert send(data, air(1) | {"id": name})[0]["outcome"] == "refused"


def test_a_released_job_takes_nothing_more_but_a_picture_of_somebody_who_took_part(data):
    bench.play(data)
    late = air(99, "12:45")
    picture = {
        "id": "d1-a1b2c3-98",
        "kind": "picture.taken",
        "at": at("12:45").isoformat(),
        "body": {"file": "cover.jpg", "sha256": bench.photo(data), "caption": "packed"},
    }

    refused = send(data, late, when="12:50")[0]
    stranger = send(data, picture | {"id": "d2-a1b2c3-97"}, by=JONAS, when="12:50")[0]
    taken = send(data, picture, when="12:50")[0]

    assert refused["outcome"] == "refused" and "open a new job" in refused["error"]["message"]
    assert "correct that entry" in refused["error"]["message"]
    assert stranger["outcome"] == "refused" and taken["outcome"] == "stored"
    assert bench.standing(data).outcome.verdict == "released"
    back_dated = send(data, air(100, "08:30"), when="12:55")[0]
    assert back_dated["outcome"] == "refused"
    sealed = issue.certificate(data, NUMBER, now=at("13:00"))
    assert sealed.pdf[:4] == b"%PDF"


def test_too_many_at_once_and_no_list_are_refused(data):
    with pytest.raises(Unreadable):
        send(data, *[air(n) for n in range(1, enter.BATCH_MAX + 2)])
    with pytest.raises(Unreadable):
        enter.enter(data, INES, NUMBER, {"a": 1}, now=at("08:00"))


def test_a_missing_number_of_a_device_is_seen(data):
    send(data, air(1), air(2, "07:05"), air(5, "07:10"))

    (gap,) = bench.standing(data).gaps

    assert "d1" in gap and "up to number 5" in gap and "3, 4" in gap
    send(data, air(4, "07:08"), air(3, "07:07"))
    assert bench.standing(data).gaps == []


def test_a_clock_behind_the_ledger_is_written_down_once(data):
    send(data, air(1), when="09:00")
    for number in (2, 3):
        send(data, air(number, f"07:0{number}"), when="08:00")

    with open_ledger(data, make=False) as ledger:
        kinds = [e.kind for e in ledger.record("shop").entries]
    assert kinds.count("clock.found_behind") == 1
    times = [e.recorded_at for e in record(data)]
    assert times == sorted(times)


any_json = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=10), inner, max_size=4),
    max_leaves=8,
)


@tries(150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.dictionaries(st.sampled_from(["id", "kind", "at", "body", "by", "x"]), any_json, max_size=6)
    | st.fixed_dictionaries(
        {"id": st.just("d1-a1b2c3-9"), "kind": st.sampled_from(sorted(KINDS)), "at": any_json, "body": any_json}
    )
    | st.fixed_dictionaries(
        {"id": any_json, "kind": st.just("air.read"), "at": st.just("2026-05-04T07:00:00Z"), "body": st.just(AIR)}
    )
)
def test_whatever_is_sent_gets_a_sentence_and_no_trace(data, entry):
    (answer,) = send(data, entry)

    assert answer["outcome"] in ("stored", "duplicate", "conflict", "refused")
    assert answer["outcome"] in ("stored", "duplicate") or answer["error"]["message"]


def test_what_was_stored_is_what_the_ledger_verifies(data):
    bench.play(data, upto=12)

    with open_ledger(data, make=False) as ledger:
        assert "holds" in ledger.verify()
    assert jobs.record(data, NUMBER) and BenchError


def test_an_odd_value_is_taken_asked_back_and_freed_by_the_answer_of_its_entry(data):
    """66 °F is 18.9 °C by the definition of the scale; in air of 20.1 °C and before any heat, 66 °C is not likely."""
    def asked_back():
        return [block.because for block in state(data, NUMBER).outcome.blocked_by if block.rule == "odd_steel_c"]

    send(data, air(1, steel_c=66.0))
    assert len(asked_back()) == 1 and "°F (18.9 °C)" in asked_back()[0]

    send(data, air(2, "07:10", steel_c=66.0, confirmed="Out of the drying oven, read with two probes."), when="08:05")
    assert len(asked_back()) == 1  # the first entry is still unanswered, the second is not asked about
    assert record(data)[-1].body["confirmed"] == "Out of the drying oven, read with two probes."


def test_an_odd_value_is_corrected_by_whoever_typed_it(data):
    """The bench asked back: the technician's own correction is the answer, though the step does not conform meanwhile."""
    send(data, air(1, steel_c=66.0))
    name = record(data)[-1].id
    answer = enter.correct(data, INES, NUMBER, {"entry": name, "field": "steel_c", "old": 66.0, "new": 18.9,
                                                "because": "The probe was set to °F."},
                           id="c-1", at=at("08:10"), on_head=jobs.head(data, NUMBER), now=at("08:10"))

    assert answer["outcome"] == "stored"
    assert not [block for block in state(data, NUMBER).outcome.blocked_by if block.rule == "odd_steel_c"]
