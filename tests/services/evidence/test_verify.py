"""Does a certificate or record that was changed fail, by name?"""

import io
import random
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader, PdfWriter

from soundedge.basis.errors import BenchError, RecordBroken
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.record.entry import Said
from soundedge.record.verify import verify
from soundedge.record.write import document, write
from soundedge.services.evidence.certificate_page import certificate
from soundedge.services.evidence.records import record_of
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.contents import read_folder

from ...job.sheets import EXAMPLES

NOW = datetime(2031, 6, 1, 12, 0, tzinfo=UTC)


def made(name):
    """Record and certificate of an example, without the run's own writing."""
    folder = read_folder(EXAMPLES / name)
    events = events_of(folder.sheet)
    outcome = judge_job(events, estimates=False)
    record = record_of(events, outcome, now=NOW)
    return record.raw, certificate(outcome, record, folder)


@pytest.fixture(scope="module")
def held():
    return made("dosing-nozzle")


@pytest.fixture(scope="module")
def reviewed():
    return made("pump-casing")


def result(tmp_path, raw, name="record.json"):
    file = tmp_path / name
    file.write_bytes(raw)
    return verify_file(file)


def broken(tmp_path, raw, name="record.json"):
    """The fault of a file that no longer says what it said."""
    with pytest.raises(RecordBroken) as caught:
        result(tmp_path, raw, name)
    assert caught.value.exit_code == 4
    assert caught.value.message and caught.value.field
    return caught.value


def test_what_was_not_touched_holds(tmp_path, held):
    record, pdf = held

    assert result(tmp_path, record)["verdict"] == "held"
    found = result(tmp_path, pdf, "certificate.pdf")
    assert found["verdict"] == "held" and "Not checked" in found["sentence"]


def test_a_date_that_no_calendar_has_is_a_sentence_though_the_chain_was_written_anew(tmp_path, held):
    *before, last = verify(held[0]).entries()
    raw = last.raw.replace(f'"at":"{last.at}"'.encode(), b'"at":"2031-02-30T08:10:00Z"')
    assert raw != last.raw

    fault = broken(tmp_path, document([*before, replace(last, raw=raw)]))
    assert fault.field == f"event {last.no}" and "its at is not a UTC time" in fault.message


def small():
    """A short record, so that every byte of it can be tried."""
    said = [Said(f"air-{n}", "air.read", "ines", NOW, {"air_c": "19.8", "rh_pct": "52", "steel_c": f"18.{n}"})
            for n in range(5)]
    return write("KBW-1", said, now=NOW).raw


@pytest.mark.parametrize("step", [1, 17])
def test_a_flipped_bit_anywhere_in_a_record_is_found_and_the_event_named(held, step):
    """Every byte of a small record and every 17th of a whole one, one bit each: the event it lies in is named."""
    raw = small() if step == 1 else held[0]
    places = []
    at = 0
    for entry in verify(raw).entries():
        start = raw.index(entry.raw, at)
        at = start + len(entry.raw)
        places.append((start, at, entry.no))
    seed = random.Random(7)
    wrong = []
    for spot in range(0, len(raw), step):
        changed = raw[:spot] + bytes([raw[spot] ^ (1 << seed.randrange(8))]) + raw[spot + 1:]
        try:
            verify(changed)
        except RecordBroken as fault:
            number = next((no for start, end, no in places if start <= spot < end), None)
            if number is not None and fault.field != f"event {number}":
                wrong.append((spot, number, fault.field))
        else:
            wrong.append((spot, "holds"))
    assert wrong == []


def test_flips_are_found_through_the_file_too(tmp_path, held):
    raw, seed = held[0], random.Random(11)
    for _ in range(40):
        spot = seed.randrange(len(raw))
        changed = raw[:spot] + bytes([raw[spot] ^ (1 << seed.randrange(8))]) + raw[spot + 1:]
        assert broken(tmp_path, changed).message


@pytest.mark.parametrize("cut", [1, 2, 100, 5000])
def test_a_record_cut_short(tmp_path, held, cut):
    assert broken(tmp_path, held[0][:-cut])


def again(raw, change):
    """The record written anew from the start, after ``change`` to its events: an unbroken chain."""
    entries = [Said(e.id, e.kind, e.by, e.at, e.body) for e in verify(raw).entries()]
    return write(verify(raw).job, change(entries), now=NOW).raw


def with_body(kind, values):
    def change(entries):
        return [Said(e.id, e.kind, e.by, e.at, e.body | values) if e.kind == kind else e for e in entries]

    return change


def test_the_same_events_written_anew_hold(tmp_path, held):
    assert result(tmp_path, again(held[0], lambda entries: entries))["verdict"] == "held"


@pytest.mark.parametrize(
    "values",
    [
        {"verdict": "released", "blocked_by": []},
        {"verdict": "released"},
        {"blocked_by": []},
        {"blocked_by": ["conditions: something_else"]},
        {"verdict": "rejected"},
    ],
)
def test_an_edited_verdict_in_a_chain_written_anew_is_caught_by_judging_again(tmp_path, held, values):
    fault = broken(tmp_path, again(held[0], with_body("job.judged", values)))

    assert "job.judged" in fault.message and "rules give" in fault.message


def test_an_edited_reading_in_a_chain_written_anew_no_longer_fits_the_verdict(tmp_path, held):
    fault = broken(tmp_path, again(held[0], with_body("air.read", {"rh_pct": "30", "steel_c": "25"})))

    assert "rules give" in fault.message


@pytest.mark.parametrize(
    "change",
    [
        lambda entries: entries[:-1],
        lambda entries: [e for e in entries if e.kind != "part.identified"],
        lambda entries: [e for e in entries if e.kind != "job.opened"],
        lambda entries: [*entries[:-1], Said("x", "air.read", "ines", NOW, {"air_c": "20"}), entries[-1]],
        lambda entries: [*entries[:-1], Said("x", "moon.seen", "ines", NOW, {}), entries[-1]],
        lambda entries: [*entries[:-1], Said(entries[-1].id, "job.judged", "ines", NOW, entries[-1].body)],
        lambda entries: [entries[-1]],
        with_body("job.opened", {"procedure": {}}),
        with_body("job.opened", {"procedure": {"powder": 3}}),
        with_body("job.opened", {"procedure": {"limits": {"dew_margin_k": "cold"}}}),
        with_body("part.identified", {"plate_mm": "thick"}),
        with_body("lining.identified", {"polymer": "gold"}),
        with_body("person.named", {"role": "king"}),
        with_body("damage.outlined", {"ellipse_mm": {"x": "NaN", "y": "0", "a": "1", "b": "1", "angle_deg": "0"}}),
    ],
)
def test_other_events_in_a_chain_written_anew_are_refused_by_name(tmp_path, held, change):
    assert broken(tmp_path, again(held[0], change))


def repacked(pdf, attachments):
    """The same pages with other attachments."""
    writer = PdfWriter()
    for page in PdfReader(io.BytesIO(pdf)).pages:
        writer.add_page(page)
    for name, raw in attachments:
        writer.add_attachment(name, raw)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def test_pages_repacked_with_their_own_record_hold(tmp_path, held):
    record, pdf = held

    assert result(tmp_path, repacked(pdf, [("record.json", record)]), "c.pdf")["verdict"] == "held"


def test_a_page_with_the_record_of_another_job(tmp_path, held, reviewed):
    fault = broken(tmp_path, repacked(held[1], [("record.json", reviewed[0])]), "c.pdf")

    assert fault.field == "page"


def test_a_page_with_a_later_record_of_the_same_job(tmp_path, held):
    later = again(held[0], with_body("part.identified", {"tag": "X-1"}))

    assert broken(tmp_path, repacked(held[1], [("record.json", later)]), "c.pdf").field == "page"


@pytest.mark.parametrize("names", [[], ["record.json", "record.json"], ["other.json"], ["Record.json"]])
def test_a_certificate_has_exactly_one_record(tmp_path, held, names):
    record, pdf = held

    assert broken(tmp_path, repacked(pdf, [(name, record) for name in names]), "c.pdf").field == "pdf"


def test_a_pdf_cut_short(tmp_path, held):
    pdf = held[1]
    for share in (0.1, 0.5, 0.9, 0.999):
        assert broken(tmp_path, pdf[: int(len(pdf) * share)], "c.pdf")


@pytest.mark.slow
def test_flipped_bits_of_a_certificate_never_make_it_fall_over(tmp_path, held):
    """A flip may hit a font's outline, which no text shows; it must then still hold, or be named."""
    pdf, seed = held[1], random.Random(3)
    for _ in range(12):
        spot = seed.randrange(5, len(pdf))
        changed = pdf[:spot] + bytes([pdf[spot] ^ (1 << seed.randrange(8))]) + pdf[spot + 1:]
        try:
            assert result(tmp_path, changed, "c.pdf")["verdict"] == "held"
        except BenchError as fault:
            assert fault.message


def test_some_other_pdf(tmp_path):
    writer = PdfWriter()
    writer.add_blank_page(100, 100)
    out = io.BytesIO()
    writer.write(out)

    assert broken(tmp_path, out.getvalue(), "c.pdf").field == "pdf"


@pytest.mark.parametrize("head", [b"", b"%PDF-1.7\n", b"{", b"[", b"\x00", b'{"events":[', b"{}", b"[]"])
def test_any_bytes_at_all(tmp_path, head):
    seed = random.Random(len(head))
    for length in (0, 1, 40, 3000):
        for name in ("a.json", "a.pdf", "a"):
            with pytest.raises(BenchError) as caught:
                result(tmp_path, head + seed.randbytes(length), name)
            assert caught.value.exit_code in (2, 4) and caught.value.message


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path):
    for path in (tmp_path, tmp_path / "nothing.pdf"):
        with pytest.raises(BenchError) as caught:
            verify_file(path)
        assert caught.value.exit_code == 2
