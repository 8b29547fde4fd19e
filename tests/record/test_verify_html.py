"""Does the page that a stranger opens from a stick say the same as the bench, over thousands of good and bad records?

The page is a second implementation: its own strict reader, its own walk, hashing and Ed25519 by the browser.
"""

import base64
import hashlib
import json
import random
import re
from dataclasses import replace
from pathlib import Path

import pytest

from soundedge.basis.errors import RecordBroken
from soundedge.record.canonical import canonical
from soundedge.record.checkpoint import Checkpoint, make_checkpoint
from soundedge.record.claim import make_claim
from soundedge.record.entry import START, Said
from soundedge.record.keys import key_of
from soundedge.record.note import WITNESS, cosign
from soundedge.record.proof import make_proof
from soundedge.record.replay import replay, rules_edition
from soundedge.record.sign import key_id, public_of
from soundedge.record.tree import leaf_hash, root
from soundedge.record.verify import verify
from soundedge.record.write import document, tail, write

from ..chromium import PROGRAM, start
from ..tries import share
from .jobs import DAY, NOW, fact, record, released
from .test_keys_and_witness import PEOPLE, chained
from .test_replay import BREAKS, covering, said_later
from .test_two_repairs import BROKEN, both
from .test_verify import NO_MOMENTS

PAGE = Path(__file__).parents[2] / "src" / "soundedge" / "record" / "verify.html"
ORIGIN, SEED = "kelderbeck-basin.example/ledger", bytes(range(32))
LOG = key_of(ORIGIN, SEED)

needs_browser = pytest.mark.skipif(not PROGRAM, reason="no browser on this machine")


@pytest.fixture(scope="module")
def page():
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as play:
        browser = start(play)
        opened = browser.new_page()
        opened.asked, opened.complaints = [], []
        opened.on("request", lambda request: opened.asked.append(request.url))
        opened.on("console", lambda message: opened.complaints.append(message.text))
        opened.goto(PAGE.as_uri())
        yield opened
        browser.close()


ASK = """async ([records, persons]) => {
  const se = window.soundedge, out = [], keys = {};
  for (const [id, key] of Object.entries(persons)) keys[id] = se.bytesOf(atob(key));
  for (const text of records) {
    try { const got = await se.checkRecord(se.bytesOf(atob(text)), keys); out.push([true, got.head, got.events]) }
    catch (fault) { out.push([false, fault.field || "", fault.message]) }
  }
  return out;
}"""


def asked(page, records, persons=None):
    """What the page says of each record, in portions."""
    out = []
    keys = {name: base64.b64encode(key).decode() for name, key in (persons or {}).items()}
    for first in range(0, len(records), 250):
        out += page.evaluate(ASK, [[base64.b64encode(raw).decode() for raw in records[first : first + 250]], keys])
    return out


def here(raw, persons=None):
    try:
        held = verify(raw, keys=persons)
    except RecordBroken as fault:
        return [False, fault.field]
    return [True, held.head, held.events]


def some_value(dice, depth=0):
    pick = dice.randrange(9 if depth < 3 else 7)
    if pick == 7:
        return [some_value(dice, depth + 1) for _ in range(dice.randrange(4))]
    if pick == 8:
        return {dice.choice(["a", "B", "z_1", "note", "x y", 'q"', "t\t", "\\"]) + str(n): some_value(dice, depth + 1)
                for n in range(dice.randrange(4))}
    return [None, True, dice.randrange(-(2**53) + 1, 2**53), dice.uniform(-1e3, 1e3), "", "Überzug µm „dicht“ 漆 \U0001f527",
            'tab\tline\nquote" back\\slash / </script>'][pick]


def some_record(dice, people=("ines", "tobias", "Åsa")):
    count = dice.randrange(1, 7)
    facts = [Said(f"e{n}", dice.choice(["air.read", "layer.fused", "film.measured", "a_b.c.d"]), dice.choice(people), DAY,
                  {"v": some_value(dice), "w": some_value(dice)}) for n in range(count)]
    return write(dice.choice(["KBW-1", "KBW-Ü 7", 'J"\\']), facts, now=NOW)


def spoilt(dice, made):
    """One of many ways to change a record; some keep the chain, so that only the form or the order tells."""
    raw, entries = made.raw, list(made.entries)
    way = dice.randrange(10)
    spot = dice.randrange(len(raw))
    if way <= 3:
        bad = bytearray(raw)
        bad[spot] ^= 1 << dice.randrange(8)
        return bytes(bad)
    if way == 4:
        return raw[:spot] + bytes([dice.randrange(256)]) + raw[spot:]
    if way == 5:
        return raw[:spot] + raw[spot + dice.randrange(1, 9):]
    if way == 6:
        return document([entries[0], *entries]) if len(entries) < 2 else document(entries[::-1])
    if way == 7:
        return raw + dice.choice([b"\n", b" ", b"}", b"\xef\xbb\xbf"])
    raws, prev = [], "0" * 64
    target = dice.randrange(len(entries))
    for n, entry in enumerate(entries):
        value = json.loads(entry.raw) | {"prev": prev}
        if n == target and way == 8:
            value |= dice.choice([{"recorded_at": "2031-05-04T13:00:00Z"}, {"kind": "x"}, {"by": ""}, {"extra": 1},
                                  {"no": n + 5}, {"body": []}, {"prev": "0" * 63}, {"at": "noon"}, {"id": "x" * 121},
                                  {"sig": {"key": "k", "value": "AAAA"}}])
        own = canonical(value)
        if n == target and way == 9:
            own = dice.choice([
                own.replace(b'"at":', b'"at": ', 1), own.replace(b'"body":{', b'"body":{"v":1,', 1),
                own.replace(b'"by":"', b'"by":"\\u0041', 1), own.replace(b'"body":{', b'"body":{"A":1.5,', 1),
                own.replace(b'"body":{', b'"body":{"A":-0,', 1), own.replace(b'"body":{', b'"body":{"A":1e3,', 1),
                own.replace(b'"body":{', b'"body":{"A":9007199254740992,', 1),
                own.replace(b'"body":{', '"body":{"Ä":1,'.encode(), 1), own.replace(b'"by":"', b'"by":"e\xcc\x81', 1),
                own.replace(b'"by":"', b'"by":"\xed\xa0\x80', 1), own.replace(b'"by":"', b'"by":"\x7f', 1),
                own.replace(b'"by":"', b'"by":"\\/', 1),
                own.replace(b'"body":{', b'"body":{"A":' + b"[" * 33 + b"]" * 33 + b",", 1),
                own[:-1] + b',"zz":1}',
            ])
        prev = hashlib.sha256(own).hexdigest()
        raws.append(own)
    return START.encode() + b",".join(raws) + tail(entries[0].job, len(raws), prev).encode()


@needs_browser
@pytest.mark.slow
def test_the_page_agrees_on_good_and_on_bad_records(page):
    dice = random.Random(14)
    good, bad, each = [], [], share(1000)
    while len(good) < each:
        good.append(some_record(dice))
    while len(bad) < each:
        made = dice.choice(good)
        raw = spoilt(dice, made)
        if raw != made.raw:
            bad.append(raw)

    said = asked(page, [made.raw for made in good])
    assert [answer for answer in said] == [here(made.raw) for made in good]

    said = asked(page, bad)
    ours = [here(raw) for raw in bad]
    assert [answer[0] for answer in ours].count(True) == 0
    assert [answer[0] for answer in said].count(True) == 0
    other = [(a[:2], b, raw) for a, b, raw in zip(said, ours, bad, strict=True) if a[1] != b[1]]
    assert len(other) <= each // 100, other[:5]  # where two faults meet, the two walks may name either


@needs_browser
def test_the_page_knows_the_calendar_and_the_clock(page):
    """A moment that no calendar has, in a record that is chained well, is refused by both; a leap day is not."""
    (entry,) = some_record(random.Random(3)).entries[:1]

    def said(**change):
        raw = canonical(json.loads(entry.raw) | change)
        return document([replace(entry, raw=raw)])

    bad = [said(at=f"{moment}Z") for moment in NO_MOMENTS] + [said(recorded_at=f"{moment}.000Z") for moment in NO_MOMENTS]
    good = [said(at="2032-02-29T23:59:59.999999Z"), said(recorded_at="1970-01-01T00:00:00.000Z")]

    assert [answer[:2] for answer in asked(page, bad)] == [here(raw) for raw in bad] == [[False, "event 1"]] * len(bad)
    assert asked(page, good) == [here(raw) for raw in good] and [here(raw)[0] for raw in good] == [True, True]


@needs_browser
def test_the_page_catches_every_bit_and_names_the_same_event(page):
    small = record(released()[:1] + released()[8:9]).raw
    bad = []
    for spot in range(len(small)):
        flipped = bytearray(small)
        flipped[spot] ^= 1 << (spot % 8)
        bad.append(bytes(flipped))

    said = asked(page, bad)

    assert not any(answer[0] for answer in said)
    assert [answer[1] for answer in said] == [here(raw)[1] for raw in bad]


@needs_browser
def test_the_page_checks_a_persons_signature_where_its_key_is_given(page):
    entries = chained("KBW-2031-014", [(said, PEOPLE["tobias"] if said.by == "tobias" else None) for said in released()])
    keys = {key_id(public_of(PEOPLE["tobias"])): public_of(PEOPLE["tobias"])}
    wrong = {key_id(public_of(PEOPLE["tobias"])): public_of(PEOPLE["amara"])}
    raw = document(entries)

    assert asked(page, [raw], keys) == [here(raw, keys)] and here(raw, keys)[0]
    assert asked(page, [raw], wrong)[0][:2] == here(raw, wrong) == [False, "event 12"]


@needs_browser
def test_the_page_refuses_a_release_by_whoever_did_the_work(page):
    own = [Said(f.id, f.kind, "tobias" if f.kind == "layer.fused" else f.by, f.at, f.body) for f in released()]
    voided = [*own[:17], fact(16, "entry.voided", "tobias", {"entry": "e14", "because": "never mind"}, id="v"), *own[17:]]

    said = asked(page, [record(own).raw, record(voided).raw, record().raw])

    assert [answer[0] for answer in said] == [False, False, True]
    assert "rule R1 was not kept" in said[0][2] and "did or decided" in said[0][2]


@needs_browser
@pytest.mark.parametrize("rule, said, change", BREAKS, ids=[f"{b[0]} {b[1]}" for b in BREAKS])
def test_the_page_and_the_bench_find_the_same_rule_broken(page, rule, said, change):
    """R1 to R5 and R7 are asked by both; every one of these releases is broken."""
    raw = record(change(released())).raw
    broken = [found.name for found in replay(verify(raw)).broken]
    (answer,) = asked(page, [raw])

    assert rule in broken and not answer[0]
    assert f"rule {broken[0]} was not kept" in answer[2]


@needs_browser
def test_a_signature_that_says_what_it_covers_holds_on_the_page_too(page):
    (answer,) = asked(page, [record(covering(released())).raw])

    assert answer[0], answer


@needs_browser
def test_what_was_not_said_had_no_value_for_the_page_either(page):
    (answer,) = asked(page, [record([*released()[:20], said_later(), *released()[20:]]).raw])

    assert answer[0], answer


@needs_browser
def test_the_page_asks_each_of_two_repairs_as_the_bench_does(page):
    """One signature, film or test of A is none of B."""
    raws = [record(change(both())).raw for change, _, _ in BROKEN.values()]
    good, *spoilt = asked(page, [record(both()).raw, *raws])

    assert good[0]
    assert [(answer[0], f"rule {rule} was not kept" in answer[2]) for answer, (_, rule, _) in
            zip(spoilt, BROKEN.values(), strict=True)] == [(False, True)] * len(BROKEN)


TRY = """async ([what, text, keys]) => {
  try { return [true, (await window.soundedge[what](text, await window.soundedge.readKeys(keys))).sentence] }
  catch (fault) { return [false, fault.message] }
}"""


@needs_browser
def test_the_page_checks_proofs_and_claims_like_the_bench(page):
    entries = record().entries
    leaves = [leaf_hash(entry.raw) for entry in entries]
    eye = key_of("tablet-3", bytes(range(3, 35)), WITNESS)
    note = cosign(make_checkpoint(ORIGIN, leaves, SEED), eye.name, bytes(range(3, 35)), time_s=1935658800)
    proofs = [make_proof(entry.raw, n, leaves, note) for n, entry in enumerate(entries)]
    claim = make_claim(Checkpoint(ORIGIN, 23, root(leaves)), SEED, certificate="KBW-2031-014", part="MC-7", verdict="released",
                       date="2031-05-04", released_by="Tobias Renn", record=record().digest)

    for proof in proofs:
        assert page.evaluate(TRY, ["checkProof", proof, f"{LOG.text}\n{eye.text}\n"])[0]
        assert page.evaluate(TRY, ["checkProof", proof.replace("index 1", "index 2"), LOG.text])[0] == ("index 1" not in proof)
    assert "signed by kelderbeck-basin.example/ledger, tablet-3" in page.evaluate(TRY, ["checkProof", proofs[8],
                                                                                    f"{LOG.text}\n{eye.text}"])[1]
    assert page.evaluate(TRY, ["checkProof", proofs[8].replace("\n23\n", "\n24\n"), LOG.text]) == [
        False, f"The signature of {ORIGIN} does not hold."]
    assert page.evaluate(TRY, ["checkProof", proofs[8], key_of(ORIGIN, bytes(32)).text])[1] == "No key given here signed this."
    assert "certificate KBW-2031-014, part MC-7" in page.evaluate(TRY, ["checkClaim", claim, LOG.text])[1]
    assert not page.evaluate(TRY, ["checkClaim", claim.replace("MC-7", "MC-8"), LOG.text])[0]


@needs_browser
def test_the_page_refuses_a_proof_with_any_byte_changed(page):
    entries = record().entries
    leaves = [leaf_hash(entry.raw) for entry in entries]
    proof = make_proof(entries[8].raw, 8, leaves, make_checkpoint(ORIGIN, leaves, SEED)).encode()
    bad = []
    for spot in range(len(proof)):
        flipped = bytearray(proof)
        flipped[spot] ^= 1 << (spot % 7)
        bad.append(base64.b64encode(bytes(flipped)).decode())
    count = """async ([proofs, keys]) => {
      let passed = 0;
      for (const text of proofs) {
        try {
          const whole = new TextDecoder("utf-8", { fatal: true }).decode(window.soundedge.bytesOf(atob(text)));
          await window.soundedge.checkProof(whole, await window.soundedge.readKeys(keys)); passed++;
        } catch {}
      }
      return passed;
    }"""

    assert page.evaluate(count, [[base64.b64encode(proof).decode()], LOG.text]) == 1
    assert page.evaluate(count, [bad, LOG.text]) == 0


@needs_browser
def test_a_stranger_uses_the_page_with_files_and_keys(page, tmp_path):
    from playwright.sync_api import expect

    inside = record().raw
    pdf = b"%%PDF-1.7 finished page 4 0 obj<< /Type /EmbeddedFile /Length %d >>stream\n%s" % (len(inside), inside)
    body = {"certificate": "KBW-2031-014", "pdf_sha256": hashlib.sha256(pdf).hexdigest()}
    whole = record([*released(), fact(40, "certificate.issued", "bench", body)])
    leaves = [leaf_hash(entry.raw) for entry in whole.entries]
    (tmp_path / "record.json").write_bytes(whole.raw)
    (tmp_path / "c.pdf").write_bytes(pdf)
    (tmp_path / "c.tlog-proof").write_text(make_proof(whole.entries[-1].raw, 23, leaves, make_checkpoint(ORIGIN, leaves, SEED)))

    page.get_by_label("Files").set_input_files([str(tmp_path / name) for name in ("record.json", "c.pdf", "c.tlog-proof")])
    page.get_by_label("Public keys").fill(LOG.text)
    page.get_by_role("button", name="Check").click()
    expect(page.locator("#said li")).to_have_count(4)  # the record, the page with the record inside it, the proof, the tie
    said = page.locator("#said").inner_text()

    assert "24 entries" in said and "23 entries" in said and "The page carries no signature" in said
    assert "byte for byte" in said and "number 24 of 24" in said
    assert "NOT" not in said.upper().replace("NOT CHECKED", "").replace("NOT ASKED", "")

    (tmp_path / "record.json").write_bytes(whole.raw.replace(b"P-311", b"P-312", 1))
    page.get_by_label("Files").set_input_files([str(tmp_path / "record.json")])
    page.get_by_role("button", name="Check").click()
    expect(page.locator("#said li")).to_have_count(1)
    assert "Entry 15 (layer.fused) does not hold" in page.locator("#said").inner_text()


@needs_browser
def test_the_page_asks_the_network_for_nothing(page):
    assert [url for url in page.asked if not url.startswith("file:")] == []
    assert [text for text in page.complaints if "Content Security" in text] == []


def test_the_page_is_one_short_file_and_lets_only_its_own_script_run():
    """Its policy names the digests of its own script and style; nothing may be loaded."""
    text = PAGE.read_text(encoding="utf-8")

    def digest(tag):
        inside = re.search(f"<{tag}>(.*?)</{tag}>", text, re.S)[1]
        return base64.b64encode(hashlib.sha256(inside.encode()).digest()).decode()

    assert len(text.splitlines()) <= 300
    assert "default-src 'none'" in text
    assert f"script-src 'sha256-{digest('script')}'" in text and f"style-src 'sha256-{digest('style')}'" in text
    assert not re.search(r"https?://|src=|href=|fetch\(|XMLHttpRequest|innerHTML|eval\(", text)


@needs_browser
def test_the_page_reads_the_edition_of_the_rules_as_the_bench_does(page):
    """No judgement is of an earlier edition than what stands before it; what is not named is the first."""
    said = """async (text) => {
      try { return [true, (await window.soundedge.checkRecord(window.soundedge.bytesOf(atob(text)), {})).sentence] }
      catch (fault) { return [false, fault.message] }
    }"""
    for opened, judged in [(None, None), (1, 1), (1, 2), (2, 2), (None, 3), (2, None), (3, 2), (0, 1), ("2", 2), (True, 1),
                           (1, 2.5)]:
        facts = [fact(0, "job.opened", "sheet", {} if opened is None else {"rules": opened}),
                 fact(1, "job.judged", "bench", {"verdict": "held"} | ({} if judged is None else {"rules": judged}))]
        made = record(facts)
        try:
            edition = rules_edition(made.entries)
        except RecordBroken as fault:
            edition = fault.field

        got = page.evaluate(said, base64.b64encode(made.raw).decode())

        if isinstance(edition, int):
            assert got[0] and f"judged by rules edition {edition};" in got[1], (opened, judged, got)
        else:
            assert got[0] is False and "names rules edition" in got[1], (opened, judged, got)
