"""Is a record that was changed, anywhere, by anything, caught, and is the event named?"""

import hashlib
import json
import random
from dataclasses import replace
from datetime import timedelta

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Contradiction, NotEnough, RecordBroken
from soundedge.record.canonical import canonical
from soundedge.record.entry import START, Said, recorded_text
from soundedge.record.verify import verify
from soundedge.record.write import document, tail, write

from ..tries import tries
from .jobs import DAY, NOW, fact, record, released

GOOD = record()
NO_MOMENTS = ("2031-13-04T13:00:00", "2032-02-30T13:00:00", "2031-06-04T24:00:00", "2031-06-04T13:00:60", "2031-06-04T13:60:00",
              "0000-06-04T13:00:00", "\uff12031-06-04T13:00:00")


def spans(record):
    """(first byte, end) of every event in the file."""
    at, out = len(START), []
    for entry in record.entries:
        out.append((at, at + len(entry.raw)))
        at += len(entry.raw) + 1
    return out


def broken(raw):
    with pytest.raises(RecordBroken) as caught:
        verify(raw)
    assert caught.value.exit_code == 4
    return caught.value


def test_a_good_record_holds_and_says_so_in_one_sentence():
    held = verify(GOOD.raw)

    assert (held.job, held.events, held.head, held.digest) == ("KBW-2031-014", 23, GOOD.head, GOOD.digest)
    assert "holds: 23 entries" in held.sentence and "only a witness can tell" in held.sentence
    assert list(held.entries()) == list(GOOD.entries)


def test_the_file_is_the_rfc_8785_form_of_its_own_content():
    """An independent writer gives the same bytes: nothing before, nothing after, no line end."""
    assert rfc8785.dumps(json.loads(GOOD.raw)) == GOOD.raw


def test_the_chain_can_be_followed_with_nothing_but_a_hash():
    """A second walk, by the words at the top of entry.py alone."""
    before = "0" * 64
    for number, event in enumerate(json.loads(GOOD.raw)["events"], 1):
        assert event["no"] == number and event["prev"] == before
        before = hashlib.sha256(rfc8785.dumps(event)).hexdigest()

    assert json.loads(GOOD.raw)["head"]["digest"] == before


def test_every_bit_of_every_byte_is_held_and_every_changed_event_is_named():
    """All single-bit flips of the file: 0 pass; a flip inside an event names exactly that event."""
    small = record(released()[:2] + released()[8:10])
    places = spans(small)
    for spot in range(len(small.raw)):
        inside = next((n for n, (first, end) in enumerate(places, 1) if first <= spot < end), None)
        for bit in range(8):
            bad = bytearray(small.raw)
            bad[spot] ^= 1 << bit
            fault = broken(bytes(bad))
            if inside:
                assert fault.field == f"event {inside}", (spot, bit, fault.message)
                assert fault.message.startswith(f"Entry {inside} (")


def test_in_a_whole_job_every_changed_byte_names_its_event_and_kind():
    """Each byte of every event replaced by a random other byte."""
    dice = random.Random(1)
    for number, (first, end) in enumerate(spans(GOOD), 1):
        kind = GOOD.entries[number - 1].kind
        for spot in range(first, end, 3):
            bad = bytearray(GOOD.raw)
            bad[spot] ^= dice.randrange(1, 256)
            fault = broken(bytes(bad))
            assert fault.field == f"event {number}"
            if b'"kind":"' not in GOOD.raw[spot - 70 : spot + 60]:  # the kind itself, or what it is known by, was left alone
                assert f"Entry {number} ({kind})" in fault.message


def test_changed_bytes_of_the_frame_are_said_to_be_there():
    first = len(START)
    last = spans(GOOD)[-1][1]

    assert {broken(GOOD.raw[:n] + b"?" + GOOD.raw[n + 1 :]).field for n in range(first)} == {"file"}
    assert {broken(GOOD.raw[:n] + b"?" + GOOD.raw[n + 1 :]).field for n in range(last + 1, len(GOOD.raw))} <= {
        "head", "event 23"}


@pytest.mark.parametrize("extra", [b"\n", b" ", b"\x00", b"{}", b"\xff"])
def test_nothing_may_stand_after_the_end_or_before_the_start(extra):
    assert "after its end" in broken(GOOD.raw + extra).message
    assert broken(extra + GOOD.raw).field == "file"


def test_a_byte_order_mark_and_a_pretty_print_are_refused():
    assert "byte-order mark" in broken(b"\xef\xbb\xbf" + GOOD.raw).message
    assert broken(json.dumps(json.loads(GOOD.raw), indent=1).encode()).field == "file"


@pytest.mark.parametrize("gone", [0, 5, 21])
def test_an_event_taken_out_is_missed(gone):
    left = [entry for n, entry in enumerate(GOOD.entries) if n != gone]

    fault = broken(document(left))

    assert fault.field in (f"event {gone + 1}", f"event {gone}", "event 22")


def test_events_swapped_doubled_or_put_in_are_noticed():
    e = list(GOOD.entries)

    assert broken(document([*e[:4], e[5], e[4], *e[6:]])).field == "event 5"
    assert broken(document([*e[:4], e[3], *e[4:]])).field == "event 5"
    assert broken(document([*e, e[-1]])).field == "event 24"


def test_a_cut_tail_is_noticed_by_the_head_unless_the_head_is_written_anew():
    """The chain alone cannot see a new head. Said here so that nobody thinks it can: that is the witness's business."""
    events = GOOD.raw[: spans(GOOD)[-2][1]]
    head = GOOD.raw[spans(GOOD)[-1][1] :]

    assert "cut off" in broken(events + head).message
    assert verify(document(GOOD.entries[:-1])).events == 22


def rechained(entries, change):
    """What an owner of the file can do: change one event and write every later prev and the head anew."""
    out, prev = [], "0" * 64
    for entry in entries:
        value = change(json.loads(entry.raw) | {"prev": prev})
        raw = canonical(value)
        prev = hashlib.sha256(raw).hexdigest()
        out.append(replace(entry, raw=raw))
    return document(out)


def test_a_whole_rewrite_holds_by_itself_and_has_another_head():
    def lie(event):
        return event | {"body": {"profile_um": "99"}} if event["kind"] == "surface.checked" else event

    forged = verify(rechained(GOOD.entries, lie))

    assert forged.events == 23 and forged.head != GOOD.head


@pytest.mark.parametrize(
    "name, change, word",
    [
        ("float", lambda e: e.replace(b'"number":1', b'"number":1.0'), "float"),
        ("big number", lambda e: e.replace(b'"number":1', b'"number":9007199254740993'), "2^53"),
        ("minus nought", lambda e: e.replace(b'"number":1', b'"number":-0'), "one form"),
        ("NaN", lambda e: e.replace(b'"number":1', b'"number":NaN'), "NaN"),
        ("double key", lambda e: e.replace(b'"number":1', b'"number":1,"number":1'), "one form"),
        ("space", lambda e: e.replace(b'"number":1', b'"number": 1'), "one form"),
        ("order", lambda e: e.replace(b'"lot":"P-311","number":1', b'"number":1,"lot":"P-311"'), "one form"),
        ("escape", lambda e: e.replace(b"P-311", b"\\u0050-311"), "one form"),
        ("half character", lambda e: e.replace(b"P-311", b"\\ud800"), "one form"),
        ("not NFC", lambda e: e.replace(b"P-311", b"e\xcc\x81"), "NFC"),
        ("control", lambda e: e.replace(b"P-311", b"a\\u0000"), "U\\+0000"),
        ("delete sign", lambda e: e.replace(b"P-311", b"\x7f"), "U\\+007F"),
        ("bad UTF-8", lambda e: e.replace(b"P-311", b"P\xff311"), "UTF-8"),
        ("key not ASCII", lambda e: e.replace(b'"lot"', '"lött"'.encode()), "ASCII"),
        ("deep", lambda e: e.replace(b'"P-311"', b"[" * 40 + b"]" * 40), "deep"),
        ("very deep", lambda e: e.replace(b'"P-311"', b"[" * 90_000 + b"]" * 90_000), "Entry 15"),
        ("another key", lambda e: e.replace(b'"by":"ines"', b'"by":"ines","c":1'), "keys"),
        ("upper hex", lambda e: e[:-130].replace(b"x", b"x") + e[-130:].upper().replace(b"PREV", b"prev").replace(
            b"RECORDED_AT", b"recorded_at"), "hex|one form|another digest|keys"),
    ],
)
def test_another_form_of_the_same_words_is_refused_even_when_the_chain_fits(name, change, word):
    """The forger chains again after his change; the form alone gives him away."""
    out, prev = [], "0" * 64
    for entry in GOOD.entries:
        raw = entry.raw.replace(entry.prev.encode(), prev.encode())
        if entry.no == 15:
            raw = change(raw)
            assert raw != entry.raw
        prev = hashlib.sha256(raw).hexdigest()
        out.append(raw)
    forged = START.encode() + b",".join(out) + tail("KBW-2031-014", 23, prev).encode()

    fault = broken(forged)

    assert fault.field == "event 15", fault.message
    import re

    assert re.search(word.replace("^", r"\^"), fault.message), fault.message


@pytest.mark.parametrize(
    "change, word",
    [
        ({"recorded_at": "2031-05-04T12:00:00.000Z"}, "before the entry"),
        ({"recorded_at": "2031-05-04T13:00:00Z"}, "milliseconds"),
        ({"at": "yesterday"}, "at is not"),
        *(({"at": f"{moment}Z"}, "at is not") for moment in NO_MOMENTS),
        *(({"recorded_at": f"{moment}.000Z"}, "milliseconds") for moment in NO_MOMENTS),
        ({"job": "KBW-2031-015"}, "belongs to job"),
        ({"id": "e3"}, "stands there already"),
        ({"kind": "layer"}, "dotted word"),
        ({"kind": 5}, "dotted word"),
        ({"by": ""}, "by is not"),
        ({"no": 16}, "numbered 16"),
        ({"no": "15"}, "whole number"),
        ({"body": []}, "not an object"),
        ({"sig": {"key": "k", "value": "AA=="}}, "64 bytes"),
        ({"sig": {"key": "k"}}, "other keys"),
        ({"sig": "x"}, "other keys"),
    ],
)
def test_what_does_not_make_sense_is_refused_even_when_the_chain_fits(change, word):
    forged = rechained(GOOD.entries, lambda e: e | change if e["id"] == "e14" else e)

    fault = broken(forged)

    assert fault.field == "event 15" and word in fault.message, fault.message


def test_an_unknown_kind_and_unknown_keys_in_a_body_are_kept():
    """Made by a newer version: carried and hashed, not understood."""
    held = verify(record([*released(), fact(30, "spot.weighed", "ines", {"new": {"thing": "1.5"}})]).raw)

    assert list(held.entries())[-1].kind == "spot.weighed"


@given(st.binary(max_size=300))
@tries(300)
def test_any_bytes_at_all_are_a_broken_record_and_never_a_traceback(raw):
    with pytest.raises(RecordBroken):
        verify(raw)


@given(st.data())
@tries(300)
def test_any_cut_insert_or_replacement_is_caught(data):
    raw = GOOD.raw
    first = data.draw(st.integers(0, len(raw)))
    end = data.draw(st.integers(first, min(len(raw), first + 400)))
    new = data.draw(st.binary(max_size=20) | st.just(raw[end : end + 10]))
    bad = raw[:first] + new + raw[end:]
    if bad != raw:
        with pytest.raises(RecordBroken):
            verify(bad)


def test_it_is_never_written_down_before_what_was_written_before():
    one_more = [fact(40, "air.read", "ines", {"air_c": 20.5})]

    later = write("KBW-2031-014", one_more, now=NOW - timedelta(days=3), after=GOOD.entries)

    assert later.entries[-1].recorded_at == GOOD.entries[-1].recorded_at
    assert recorded_text(NOW + timedelta(seconds=1)) > recorded_text(NOW)
    assert verify(later.raw).events == 24


def test_two_facts_under_one_id_and_no_fact_at_all_are_refused():
    with pytest.raises(Contradiction):
        write("J", [fact(1, "air.read", "ines", {}), fact(1, "air.read", "ines", {})], now=NOW)
    with pytest.raises(NotEnough):
        write("J", [], now=NOW)


@pytest.mark.parametrize(
    "bad",
    [
        Said("", "air.read", "ines", DAY, {}), Said("a", "air read", "ines", DAY, {}), Said("a", "air.read", "", DAY, {}),
        Said("a", "air.read", "ines", "today", {}), Said("a", "air.read", "ines", DAY, [1]), Said("a", None, "ines", DAY, {}),
        Said("a", "air.read", "ines", None, {}), Said("a", "air.read", "ines", DAY, {"x": "a\x00"}),
        Said(1, "a.b", "i", DAY, {}),
        Said("a" * 121, "air.read", "ines", DAY, {}), Said("a", "air.read", "ines", DAY, {"x": "y" * 4_000_001}),
        Said("a\u0000", "air.read", "ines", DAY, {}),
    ],
)
def test_a_fact_that_cannot_be_kept_is_refused_by_name(bad):
    with pytest.raises(BenchError):
        write("KBW-1", [bad], now=NOW)
