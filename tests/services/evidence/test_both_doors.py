"""Do ``verify.html`` and ``soundedge verify`` say the same of crafted records and pages; does each list what it did not ask?

Two programs that share no code, one corpus. A case is a job that was released by the rules of today, or a certificate that
was issued once (tests/record/golden), changed in one way and chained anew where that takes a new chain. What must hold and
what must not is written beside each case; it follows from the words of the formats and of rules R1 to R7, from no program.
"""

import io
import json
import lzma
import re
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfWriter

from soundedge.cli.bench import run
from soundedge.job import edition
from soundedge.job.judge import judge_job
from soundedge.job.kinds import KINDS
from soundedge.job.typed import events_of
from soundedge.record.entry import Said
from soundedge.record.verify import verify
from soundedge.record.write import document, write
from soundedge.services.evidence.records import record_of
from soundedge.services.folder.contents import read_folder

from ...chromium import start
from ...job.sheets import EXAMPLES
from ...record.test_verify_html import PAGE, needs_browser
from . import pdf_attacks as attacks

GOLDEN = Path(__file__).parents[2] / "record" / "golden"
VECTORS = {one["name"]: one for one in json.loads((GOLDEN / "vectors.json").read_text("utf-8"))["certificates"]}
NOW = datetime(2031, 6, 1, 12, 0, tzinfo=UTC)
MOMENT = timedelta(microseconds=400)
LATER = edition.RULES_EDITION + 7


def golden(name):
    return lzma.decompress((GOLDEN / name).read_bytes())


COVER, NOZZLE, OLD = golden("cover.pdf.xz"), golden("nozzle.pdf.xz"), golden("mixer-cover.json.xz")


@pytest.fixture(scope="module")
def made():
    """The cover's record, judged and written by the rules of today: released."""
    events = events_of(read_folder(EXAMPLES / "mixer-cover").sheet)
    outcome = judge_job(events, estimates=False)
    assert outcome.verdict == "released"
    return record_of(events, outcome, now=NOW).raw


def anew(raw, *changes):
    """The record written anew after changes to its list of entries: an unbroken chain."""
    held = verify(raw)
    said = [Said(e.id, e.kind, e.by, datetime.fromisoformat(e.at.replace("Z", "+00:00")), e.body) for e in held.entries()]
    for change in changes:
        said = change(said)
    return write(held.job, said, now=NOW).raw


def body(kind, change, which=-1):
    """The n-th entry of a kind with another body."""
    def there(said):
        place = [n for n, one in enumerate(said) if one.kind == kind][which]
        return [*said[:place], replace(said[place], body=change(said[place].body)), *said[place + 1:]]
    return there


def at(kind, moment, which=-1):
    """The n-th entry of a kind at another moment, which is worked out from the job's entries."""
    def there(said):
        place = [n for n, one in enumerate(said) if one.kind == kind][which]
        return [*said[:place], replace(said[place], at=moment(said)), *said[place + 1:]]
    return there


def without(kind):
    return lambda said: [one for one in said if one.kind != kind]


def before_judgement(*more):
    return lambda said: [*said[:-1], *(one(said) if callable(one) else one for one in more), said[-1]]


def the(said, kind):
    return [one for one in said if one.kind == kind][-1]


def point(name):
    return [p for p in ("disposition", "surface", "film", "holiday")].index(name)


def later(*steps):
    """The same by rules that this program does not know."""
    return [*steps, body("job.judged", lambda b: b | {"rules": LATER})]


def film(um):
    return body("film.measured", lambda b: b | {"spots": [s | {"readings_um": [um] * 3} for s in b["spots"]]})


def one_reading(where, um):
    def thin(b):
        spot = next(s for s in b["spots"] if s["where"] == where)
        return b | {"spots": [s | ({"readings_um": [um, *s["readings_um"][1:]]} if s is spot else {}) for s in b["spots"]]}
    return body("film.measured", thin)


def corrected(id, kind, minutes, **what):
    return lambda said: Said(id, "entry.corrected", "tobias", the(said, "release.signed").at + timedelta(minutes=minutes),
                             {"entry": the(said, kind).id, "because": "digits swapped"} | what)


def note(text):
    return body("job.opened", lambda b: b | {"note": text})


def raw_at(raw, moment):
    *before, last = verify(raw).entries()
    return document([*before, replace(last, raw=last.raw.replace(f'"at":"{last.at}"'.encode(), f'"at":"{moment}"'.encode()))])


RECORDS = {   # name → (must hold, what is done to the entries)
    "as it was made": (True, []),
    "a tilde after a line end": (True, [note("one\n\u0303two")]),
    "a caron after a tab": (True, [note("one\t\u030ctwo")]),
    "a dot below after a line end": (True, [note("one\n\u0323two")]),
    "a moment with an offset": (True, [body("person.named", lambda b: b | {"qualified_until": "2027-01-31T02:00:00+02:00"})]),
    "an entry signed 0.4 ms after what it covers": (True, [
        at("hold_point.signed", lambda said: the(said, "film.measured").at + MOMENT, point("film"))]),
    "an entry signed 0.4 ms before what it covers": (False, [
        at("hold_point.signed", lambda said: the(said, "film.measured").at - MOMENT, point("film"))]),
    "calibration that ended 0.4 ms before use": (False, [body("instrument.listed", lambda b: b, 0), lambda said: [
        replace(one, body=one.body | {"calibration_due": (the(said, "film.measured").at - MOMENT).isoformat()})
        if one.kind == "instrument.listed" and one.body["id"] == the(said, "film.measured").body["instrument"] else one
        for one in said]]),
    "no release": (False, [without("release.signed")]),
    "the release was voided": (False, [before_judgement(lambda said: Said(
        "v", "entry.voided", "tobias", the(said, "release.signed").at, {"entry": the(said, "release.signed").id,
                                                                        "because": "too early"}))]),
    "film of 10 µm": (False, [film("10")]),
    "one thin reading on the repair": (False, [one_reading("repair", "1011.9")]),   # less the 12 µm of the gauge: 999.9
    "one thin reading on parent film": (False, [one_reading("parent", "600")]),
    "one reading above the maximum": (False, [one_reading("repair", "2900")]),
    "film never measured": (False, [without("film.measured")]),
    "a correction after the release": (False, [before_judgement(corrected(
        "late", "air.read", 5, field="rh_pct", old="61", new="51"))]),
    "a correction of what did not stand there": (False, [before_judgement(corrected(
        "odd", "air.read", -60, field="rh_pct", old="12.5", new="51"))]),
    "a correction of no entry": (False, [before_judgement(corrected(
        "odd", "air.read", -60, entry="nothing", field="rh_pct", old="61", new="51"))]),
    "a void without a reason": (False, [before_judgement(lambda said: Said(
        "v", "entry.voided", "ines", the(said, "air.read").at, {"entry": the(said, "air.read").id, "because": "\u00a0"}))]),
    "a reading after the release": (False, [before_judgement(lambda said: replace(
        the(said, "air.read"), id="late", at=the(said, "release.signed").at + MOMENT))]),
    "an unknown kind": (False, [before_judgement(lambda said: replace(the(said, "air.read"), id="odd", kind="edge.tapped"))]),
    "30 February in a body": (False, [body("person.named", lambda b: b | {"qualified_until": "2027-02-30T00:00:00Z"})]),
    "24 o'clock in a body": (False, [body("instrument.listed", lambda b: b | {"calibration_due": "2027-02-03T24:00:00Z"})]),
    "30 February in the procedure's words": (True, [body("job.opened", lambda b: b | {"procedure": b["procedure"] | {
        "procedure": b["procedure"]["procedure"] | {"approved_on": "2031-02-30"}}})]),
    "no judgement": (False, [without("job.judged")]),
    "a judgement by a person": (False, [lambda said: [*said[:-1], replace(said[-1], by="tobias")]]),
    "something after the judgement": (False, [lambda said: [*said, replace(the(said, "air.read"), id="late")]]),
    "whoever fused released": (False, [lambda said: [
        replace(one, by=the(said, "release.signed").by) if one.kind == "layer.fused" else one for one in said]]),
    "an earlier edition after a later one": (False, [body("job.opened", lambda b: b | {"rules": LATER})]),
    "by later rules": (True, later()),
    "by later rules, with a kind of theirs": (True, later(before_judgement(
        lambda said: replace(the(said, "air.read"), id="odd", kind="edge.tapped")))),
    "by later rules, no release": (False, later(without("release.signed"))),
    "by later rules, a correction after the release": (False, later(before_judgement(corrected(
        "late", "air.read", 5, field="rh_pct", old="61", new="51")))),
    "by later rules, whoever fused released": (False, later(lambda said: [
        replace(one, by=the(said, "release.signed").by) if one.kind == "layer.fused" else one for one in said])),
}


# What takes the program: it does not hold there; the page says in so many words that it did not ask.
PROGRAM = {
    "a key that the kind does not have": [body("air.read", lambda b: b | {"weather": "fine"})],
    "steel at the dew point": [body("air.read", lambda b: b | {"steel_c": "2"}, n) for n in (0, -1)],
    "a procedure that is a list": [body("job.opened", lambda b: b | {"procedure": [b["procedure"]]})],
}


def pages(log_pub):
    """name → (must hold, the page, the proof beside it, the key that was given)."""
    proof, foreign = ((GOLDEN / f"{name}.proof").read_bytes() for name in ("cover", "nozzle"))
    record = attacks.attached(COVER)["record.json"]
    forged = attacks.forged(NOZZLE, record, [])
    place = COVER.index(b"/MediaBox")
    dead = COVER[:place] + COVER[place:].replace(b"595", b"594", 1)
    assert dead != COVER and len(dead) == len(COVER)
    bare, two = PdfWriter(), PdfWriter()
    for made in (bare, two):
        made.add_blank_page(100, 100)
    two.add_attachment("record.json", record)
    two.add_attachment("record.json", OLD)
    return {
        "as it was issued": (True, COVER, None, ""),
        "as it was issued, with its proof": (True, COVER, proof, log_pub),
        "signed bytes changed": (False, dead, None, ""),
        "signature gone": (False, attacks.universal(COVER, next(iter(attacks.UNIVERSAL))), None, ""),
        "an update added": (False, attacks.incremental_saving(COVER), None, ""),
        "wrapped": (False, attacks.signature_wrapping(COVER), None, ""),
        "a record put into another page": (False, forged, None, log_pub),
        "a record put into another page, beside its proof": (False, forged, proof, log_pub),
        "another page's proof": (False, COVER, foreign, VECTORS["nozzle"]["log_pub"]),
        "no record inside": (False, written(bare), None, ""),
        "two records inside": (False, written(two), None, ""),
        "cut short": (False, COVER[:-400], None, ""),
    }


def written(writer):
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def command(files, key, capsys):
    """Whether it holds (a page whose tie to its record is open does: exit code 5), and the words."""
    code = run(["verify", *([f"--key={key}"] if key else []), files[0]])
    said = capsys.readouterr()
    assert code in (0, 2, 4, 5)
    return code in (0, 5), said.out + said.err


@contextmanager
def page_for_strangers():
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as play:
        browser = start(play)
        page = browser.new_page()
        page.goto(PAGE.as_uri())

        def asked(files, key):
            page.get_by_label("Files").set_input_files(files)
            page.get_by_label("Public keys").fill(key)
            page.get_by_role("button", name="Check").click()
            page.wait_for_selector("#said[aria-busy=false]")
            said = page.locator("#said").inner_text()
            return "DOES NOT HOLD" not in said, said

        yield asked
        browser.close()


def laid_out(folder, raw, proof):
    """The files of a case, as a stranger is given them."""
    folder.mkdir()
    file = folder / ("c.pdf" if raw[:5] == b"%PDF-" else "record.json")
    file.write_bytes(raw)
    if proof:
        (folder / "c.proof").write_bytes(proof)
    return [str(file), *([str(folder / "c.proof")] if proof else [])]


@needs_browser
def test_both_doors_say_the_same_of_every_case_and_list_what_they_did_not_ask(made, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "nobody"))
    log_pub = VECTORS["cover"]["log_pub"].strip()
    cases = {name: (due, anew(made, *changes), None, "") for name, (due, changes) in RECORDS.items()}
    cases["30 February as a moment"] = (False, raw_at(made, "2031-02-30T08:10:00Z"), None, "")
    cases["by earlier rules, as it was written then"] = (True, OLD, None, "")
    cases |= pages(log_pub)
    alone = {name: anew(made, *changes) for name, changes in PROGRAM.items()}
    files = {name: laid_out(tmp_path / str(n), raw, proof) for n, (name, (_, raw, proof, _)) in enumerate(cases.items())}
    files |= {name: laid_out(tmp_path / name, raw, None) for name, raw in alone.items()}

    ours = {name: command(files[name], cases[name][3] if name in cases else "", capsys) for name in files}
    with page_for_strangers() as asked:
        theirs = {name: asked(files[name], cases[name][3] if name in cases else "") for name in files}

    wrong = [(name, due, ours[name], theirs[name]) for name, (due, *_) in cases.items()
             if not ours[name][0] == theirs[name][0] == due]
    silent = [(name, ours[name][1], theirs[name][1]) for name, (due, *_) in cases.items()
              if due and not ("Not checked:" in ours[name][1] and "Not asked:" in theirs[name][1])]
    assert len(cases) >= 40
    assert wrong == [], "\n".join(str(one)[:700] for one in wrong)
    assert silent == []
    for name in alone:
        assert not ours[name][0], name
        assert "Not asked: whether every value has its form and every limit was kept (the program)" in theirs[name][1], name


def test_the_page_knows_the_kinds_and_the_edition_of_the_rules_and_the_moments_in_bodies():
    """All three stand in the page by hand; a new edition, kind or moment fails here first."""
    text = PAGE.read_text("utf-8")
    dated = {key for kind in KINDS.values() for key, form in kind.body.model_json_schema()["properties"].items()
             if "date-time" in json.dumps(form)}

    assert re.search(r'data-edition="(\d+)"', text)[1] == str(edition.RULES_EDITION)
    assert set(re.search(r"KNOWN = \(`(.*?)`", text, re.S)[1].split()) == set(KINDS)
    assert set(re.findall(r'"(\w+)"', re.search(r"MOMENTS = \[(.*?)\]", text)[1])) == dated
