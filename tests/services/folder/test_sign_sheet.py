"""Does a person sign exactly what he reviewed, with his own key, once, and can a stranger check it?"""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError, Conflict, Contradiction, RecordBroken, Refused, Unknown
from soundedge.services.evidence import keyring, person_keys
from soundedge.services.evidence.check_document import Given, given
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.job import run_job
from soundedge.services.folder.sign_sheet import review, sign

COVER = Path(__file__).parents[3] / "examples" / "mixer-cover"
WORD = "seven grey herons at dawn"
TESTED = datetime(2026, 5, 4, 12, 15, tzinfo=UTC)
RELEASED = datetime(2026, 5, 4, 12, 30, tzinfo=UTC)
LATER = datetime(2026, 5, 4, 13, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def keys(tmp_path_factory):
    """The shop's and two people's, made once: each takes its time."""
    folder = tmp_path_factory.mktemp("made") / "keys"
    keyring.new("kelderbeck-basin.example/ledger", now=TESTED, folder=folder)
    person_keys.new_person("tobias", WORD, folder=folder)
    person_keys.new_person("ines", WORD + "!", folder=folder)
    return folder


@pytest.fixture
def shop(tmp_path, monkeypatch, keys):
    """The cover up to its holiday test: the last hold point and the release are not signed yet."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(shutil.copytree(keys, tmp_path / "keys")))
    folder = tmp_path / "jobs" / "cover"
    shutil.copytree(COVER, folder)
    shutil.copytree(COVER.parent / "procedures", folder.parent / "procedures")
    sheet = folder / "job.toml"
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(text[: text.index("[[sign]]\nat = 2026-05-04T12:15:00Z")], encoding="utf-8")
    return folder, tmp_path / "data"


def put(shop, what, *, person="tobias", word=WORD, now=TESTED, reviewed=None):
    folder, data = shop
    seen = reviewed or review(folder, data, now=now)
    return sign(folder, data, seen, person=person, passphrase=word, what=what, meaning="I looked at it.", now=now)


def test_two_signatures_release_the_job_and_a_stranger_checks_them(shop, tmp_path):
    put(shop, "holiday")
    put(shop, "release", now=RELEASED)
    outcome = run_job(shop[0], tmp_path / "out", data=shop[1], now=LATER)

    answer = verify_file(tmp_path / "out" / "certificate.pdf", at_hand=given())

    assert outcome["verdict"] == "released"
    assert "checked against keys at hand and good: 2 of 2" in answer["sentence"]


@pytest.mark.release
def test_without_the_persons_key_it_says_so(shop, tmp_path):
    put(shop, "holiday")
    run_job(shop[0], tmp_path / "out", data=shop[1], now=LATER)

    assert "good: 0 of 1" in verify_file(tmp_path / "out" / "record.json", at_hand=Given())["sentence"]


def test_another_persons_key_under_their_name_is_refused(shop, tmp_path):
    """The signature is held against the key it names; a record signed by nobody at hand is not called good."""
    put(shop, "holiday")
    run_job(shop[0], tmp_path / "out", data=shop[1], now=LATER)
    record = tmp_path / "out" / "record.json"
    raw = record.read_bytes()
    at = raw.index(b'"sig":{"key":') + len(b'"sig":{"key":"0123456789abcdef","value":"')
    record.write_bytes(raw[:at] + (b"B" if raw[at : at + 1] != b"B" else b"C") + raw[at + 1 :])

    with pytest.raises(RecordBroken):
        verify_file(record, at_hand=given())


def test_a_wrong_passphrase_signs_nothing(shop):
    before = (shop[0] / "job.toml").read_bytes()

    with pytest.raises(Refused, match="passphrase"):
        put(shop, "holiday", word=WORD + "!")

    assert (shop[0] / "job.toml").read_bytes() == before


def test_what_was_not_reviewed_is_not_signed(shop):
    folder, data = shop
    seen = review(folder, data, now=TESTED)
    sheet = folder / "job.toml"
    more = '\n[[vapour]]\nat = 2026-05-04T12:16:00Z\nby = "tobias"\nlel_pct = 1\n'
    sheet.write_text(sheet.read_text(encoding="utf-8") + more, encoding="utf-8")

    with pytest.raises(Conflict, match="moved on"):
        put(shop, "holiday", reviewed=seen)


def test_the_same_review_signs_once(shop):
    seen = review(*shop, now=TESTED)
    put(shop, "holiday", reviewed=seen)

    with pytest.raises(Conflict):
        put(shop, "holiday", reviewed=seen)


@pytest.mark.parametrize(
    "changes, error",
    [
        ({"what": "lunch"}, Unknown),
        ({"what": "holiday", "person": "nobody"}, Unknown),
        ({"what": "holiday", "person": "amara"}, BenchError),
    ],
)
def test_each_fault_is_named(shop, changes, error):
    what = changes.pop("what")

    with pytest.raises(error):
        put(shop, what, **changes)


@pytest.mark.release
def test_a_second_release_is_refused(shop):
    put(shop, "holiday")
    put(shop, "release", now=RELEASED)

    with pytest.raises(Contradiction, match="release"):
        put(shop, "release", now=LATER)


def test_what_stands_is_shown_before_it_is_signed(shop):
    lines = review(*shop, now=TESTED).lines

    assert "held by" in lines[0] and "corrections" in lines[1] and "everything up to" in lines[2]


def test_the_technician_may_sign_and_the_job_stays_held(shop, tmp_path):
    """Signing is not being allowed: the gate says so, and the record keeps who tried."""
    put(shop, "holiday", person="ines", word=WORD + "!")
    outcome = run_job(shop[0], tmp_path / "out", data=shop[1], now=LATER)

    assert outcome["verdict"] == "held"
    assert any(block["rule"] == "hold_point_holiday" for block in outcome["blocked_by"])
