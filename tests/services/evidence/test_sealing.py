"""The sealed certificate: signed, issued once, checked at four levels, and refused by name when anything has changed."""

import hashlib
import random
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from soundedge.basis.errors import Missing, RecordBroken, Refused
from soundedge.cli.bench import run
from soundedge.record.checkpoint import Checkpoint
from soundedge.record.claim import CLAIM_MAX_BYTES, read_claim
from soundedge.record.witness import Forked
from soundedge.report.sign import check_pdf
from soundedge.services.evidence import key_rotation, keyring, sealing, shop_chain, witness
from soundedge.services.evidence.check_document import Found, check_bytes, check_place, given
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.job import run_job
from soundedge.store.blobs import Blobs

from ...hand import copied
from ..shopfloor import BOTH, ORIGIN, WHY, keys_in, later

JOB = Path(__file__).parents[3] / "examples" / "dosing-nozzle"


@pytest.fixture(scope="module")
def shop_floor(tmp_path_factory):
    """One job, judged, kept, signed and issued; a stick that has seen the ledger."""
    base = tmp_path_factory.mktemp("shop")
    keys_in(base)
    (base / "stick").mkdir()
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("SOUNDEDGE_KEYS", str(base / "keys"))
        told = []
        run_job(JOB, base / "out", data=base / "data", now=later(0), tell=told.append)
        witness.witness(base / "stick", base / "data", keys=keyring.load(base / "keys"), now=later(1))
    assert told[-1].startswith("Signed, and issued as entry ")
    return base


@pytest.fixture
def floor(shop_floor, tmp_path, monkeypatch):
    """A copy to be harmed, on a machine that has no keys of its own unless a test says so."""
    copied(shop_floor, tmp_path / "floor")
    for file in (tmp_path / "floor" / "data" / "settings.json", tmp_path / "floor" / "keys" / "checkpoints" / "witnesses.txt"):
        file.write_text(file.read_text().replace(str(shop_floor), str(tmp_path / "floor")))
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "nobody's"))
    return tmp_path / "floor"


def known(floor, **more):
    return given([str(floor / "keys" / "log.pub"), str(floor / "keys" / "certificate.pem")], **more)


def test_another_program_finds_the_signature_valid(floor):
    """pdfsig of poppler, an independent reader of PDF signatures."""
    said = pdfsig(floor / "out" / "certificate.pdf")

    assert "Signature is Valid." in said
    assert "Total document signed" in said
    assert "ETSI.CAdES.detached" in said
    assert "Kelderbeck Basin Works" in said


def test_with_everything_at_hand_everything_but_the_gauge_is_checked(floor):
    found = verify_file(floor / "out" / "certificate.pdf", at_hand=known(floor, witness=str(floor / "stick")))

    said = found["sentence"]
    assert "Kelderbeck Basin Works signed it with the given key." in said
    assert f"in the log {ORIGIN} as that log was signed" in said
    assert "Byte for byte the file that was issued, by certificate.proof" in said
    assert f"The witness '{floor / 'stick'}' has seen the very same log." in said
    assert said.endswith("Not checked: whether what was typed was read rightly; whether it has been replaced since.")


def test_the_pdf_alone_says_what_it_cannot_say(floor, tmp_path):
    alone = shutil.copy(floor / "out" / "certificate.pdf", tmp_path / "alone.pdf")

    said = verify_file(alone)["sentence"]

    assert "which you must know by another way" in said
    assert "the bytes of the file that no signature covers (give its certificate.proof)" in said
    assert f"fingerprint {keyring.public_keys(floor / 'keys')[0].fingerprint}" in said
    assert "whether the whole was written anew" in said


def test_every_changed_byte_of_the_certificate_is_refused_with_its_proof(floor):
    """300 places all over the file, the signature's own container with its unsigned bytes among them."""
    file = floor / "out" / "certificate.pdf"
    whole, rng, at_hand = file.read_bytes(), random.Random(11), known(floor)
    proof = (floor / "out" / "certificate.proof").read_bytes()
    from soundedge.record.proof import check_certificate

    check_certificate(whole, proof, at_hand.keys)
    for place in rng.sample(range(len(whole)), 300):
        with pytest.raises(RecordBroken, match="its bytes have changed"):
            check_certificate(_flipped(whole, place, rng), proof, at_hand.keys)
    hole = whole.index(b"/Contents <") + 11  # in the container: no PDF reader can see these
    for place in (hole + 5, hole + 3000, whole.index(b">", hole) - 3):
        file.write_bytes(whole[:place] + (b"1" if whole[place : place + 1] == b"0" else b"0") + whole[place + 1 :])
        with pytest.raises(RecordBroken):
            verify_file(file, at_hand=at_hand)


def test_a_changed_byte_outside_the_container_is_refused_by_the_signature_alone(floor, tmp_path):
    whole, rng = (floor / "out" / "certificate.pdf").read_bytes(), random.Random(12)
    start = whole.index(b"/Contents <") + 10
    end = whole.index(b">", start) + 1
    places = [place for place in rng.sample(range(8, len(whole)), 40) if not start <= place < end]
    assert len(places) > 30
    for place in places:
        assert not check_pdf(_flipped(whole, place, rng)).holds
    file = tmp_path / "alone.pdf"
    for place in places[:4]:
        file.write_bytes(_flipped(whole, place, rng))
        with pytest.raises(RecordBroken) as told:
            verify_file(file)
        assert told.value.field in ("signature", "pdf", "file") or told.value.field.startswith("event")
    assert "Signature is Valid." not in pdfsig(file)


def test_a_certificate_whose_signature_was_taken_off_is_refused(floor, tmp_path):
    """The file as it was before signing: a good PDF with a good record, but it says it was issued."""
    whole = (floor / "out" / "certificate.pdf").read_bytes()
    bare = tmp_path / "bare.pdf"
    bare.write_bytes(whole[: whole.index(b"%%EOF") + 6])

    with pytest.raises(RecordBroken, match="carries no signature") as told:
        verify_file(bare)
    assert told.value.field == "signature"


def test_what_somebody_else_signed_is_not_by_the_given_key(floor, tmp_path):
    from datetime import UTC, datetime

    other = keyring.new("other.example/ledger", now=datetime(2026, 1, 1, tzinfo=UTC), folder=tmp_path / "other")

    for at_hand in (given([str(other.folder / "certificate.pem")]), given([str(other.folder / "log.pub")])):
        with pytest.raises(RecordBroken):
            verify_file(floor / "out" / "certificate.pdf", at_hand=at_hand)


def test_another_shop_with_keys_of_its_own_checks_it_with_the_key_inside(floor, tmp_path, monkeypatch):
    keyring.write_log_key(_folder(tmp_path / "own"), "other.example/ledger", bytes(range(32)))
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(tmp_path / "own"))

    said = verify_file(floor / "out" / "certificate.pdf", at_hand=given())["sentence"]

    assert "none was given with --key, so the one inside the file was used" in said


def test_the_proof_of_another_certificate_is_refused(floor, tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(floor / "keys"))
    sheet = shutil.copytree(JOB.parent, tmp_path / "examples") / JOB.name
    text = (sheet / "job.toml").read_text()
    number = next(line.split('"')[1] for line in text.splitlines() if line.startswith("number"))
    (sheet / "job.toml").write_text(text.replace(number, "KBW-2031-777"))
    run_job(sheet, tmp_path / "out", data=floor / "data", now=later(5))

    with pytest.raises(RecordBroken, match="its bytes have changed"):
        verify_file(floor / "out" / "certificate.pdf", at_hand=known(floor, proof=str(tmp_path / "out" / "certificate.proof")))
    older = verify_file(floor / "out" / "certificate.pdf", at_hand=known(floor, witness=str(floor / "stick")))
    assert "that takes the whole log" in older["sentence"]  # the stick has seen more since; the old proof speaks of less


def test_a_good_proof_of_something_else_is_refused(floor):
    """Rightly signed, in the right log, but of another event, or issued for another record."""
    at_hand, out = known(floor), floor / "out"
    pdf = (out / "certificate.pdf").read_bytes()
    with open_ledger(floor / "data") as ledger:
        entries = ledger.record(ledger.jobs()[0]).entries
    import io

    from pypdf import PdfReader

    inside = {name: bytes(raw[0]) for name, raw in PdfReader(io.BytesIO(pdf)).attachments.items()}

    assert check_place("c.pdf", entries[-1], at_hand, inside, Found()).event["kind"] == "job.judged"
    with pytest.raises(RecordBroken, match="not of this record's judgement"):
        check_place("c.pdf", entries[-2], at_hand, inside, Found())
    digest = hashlib.sha256((out / "record.json").read_bytes()).hexdigest()
    name, at_hand = "c.pdf", replace(at_hand, proof=out / "certificate.proof")
    assert check_bytes(pdf, name, digest, at_hand, inside, Found()).event["kind"] == "certificate.issued"
    with pytest.raises(RecordBroken, match="issued for another record"):
        check_bytes(pdf, name, "0" * 64, at_hand, inside, Found())


def test_what_was_issued_is_issued_once_byte_for_byte(floor, tmp_path, monkeypatch):
    """Asked for again after a change of key: the same file, no second event; only the proof is newer."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(floor / "keys"))
    key_rotation.rotate_keys(floor / "data", BOTH, WHY, now=later(5), keys=floor / "keys")

    run_job(JOB, tmp_path / "again", data=floor / "data", now=later(6))

    whole = (floor / "out" / "certificate.pdf").read_bytes()
    assert (tmp_path / "again" / "certificate.pdf").read_bytes() == whole
    with open_ledger(floor / "data") as ledger:
        issued = [entry for entry in shop_chain.chain(ledger) if entry.kind == "certificate.issued"]
    assert [entry.body["pdf_sha256"] for entry in issued] == [hashlib.sha256(whole).hexdigest()]
    assert Blobs(floor / "data" / "blobs").get(issued[0].body["pdf_sha256"]) == whole
    said = verify_file(tmp_path / "again" / "certificate.pdf", at_hand=known(floor))["sentence"]
    assert "signed it with the given key" in said


def test_a_certificate_key_that_was_lost_is_made_anew_and_the_old_pages_stay_good(floor, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(floor / "keys"))
    old = (floor / "keys" / "certificate.pem").read_bytes()
    (floor / "keys" / "certificate.key").unlink()

    held = keyring.new(ORIGIN, now=later(5))

    assert held.signing.certificate_pem != old
    assert "signed it with the given key" in verify_file(floor / "out" / "certificate.pdf", at_hand=given())["sentence"]
    with pytest.raises(RecordBroken, match="another key than the given one"):
        verify_file(floor / "out" / "certificate.pdf", at_hand=known(floor))  # who names only the new one is told


def test_without_keys_the_page_says_it_is_not_signed_and_no_old_proof_stays_beside_it(floor):
    run_job(JOB, floor / "out", now=later(5))

    assert not (floor / "out" / "certificate.proof").exists()
    assert "The page is not signed." in verify_file(floor / "out" / "certificate.pdf")["sentence"]


def test_with_keys_and_no_ledger_it_is_signed_and_nothing_more(floor, tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(floor / "keys"))
    run_job(JOB, tmp_path / "out", now=later(5))

    said = verify_file(tmp_path / "out" / "certificate.pdf", at_hand=given())["sentence"]

    assert "signed it with the given key" in said and "the page carries no proof" in said
    assert sorted(file.name for file in (tmp_path / "out").iterdir()) == ["certificate.pdf", "job.json", "record.json"]


def test_keys_open_to_others_stop_the_job_before_anything_is_written(floor, tmp_path, monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(floor / "keys"))
    (floor / "keys" / "log.key").chmod(0o640)

    with pytest.raises(Refused, match="chmod"):
        run_job(JOB, tmp_path / "out", data=tmp_path / "fresh", now=later(5))
    assert not (tmp_path / "out").exists() and not (tmp_path / "fresh").exists()


def test_a_job_is_not_called_like_the_shops_own_chain(tmp_path):
    with pytest.raises(Refused, match="own chain"):
        sealing.ready(tmp_path / "data", "shop", folder=tmp_path / "no-keys")


# ------------------------------------------------------------------------ the square code


@pytest.fixture
def code(floor, tmp_path):
    """The text of the square code, read from the printed page by an independent reader."""
    cv2 = pytest.importorskip("cv2")
    pdf = floor / "out" / "certificate.pdf"
    subprocess.run(["pdftoppm", "-r", "200", "-gray", "-png", str(pdf), str(tmp_path / "page")], check=True)
    for file in sorted(tmp_path.glob("page*.png"), reverse=True):
        text = cv2.QRCodeDetectorAruco().detectAndDecode(cv2.imread(str(file)))[0]
        if text:
            return text
    raise AssertionError("no square code was found on any page")


def test_paper_is_checked_by_its_square_code_and_the_shops_key(floor, code, tmp_path):
    (tmp_path / "code.txt").write_text(code + "\n")

    found = verify_file(code, at_hand=known(floor))

    assert found == verify_file(tmp_path / "code.txt", at_hand=known(floor)) | {"file": "square code"}
    assert "part DN-" in found["sentence"] or "part " in found["sentence"]
    assert "Not checked: the record, the rules, the page" in found["sentence"]
    assert witness.check_claim(code, floor / "data", folder=floor / "keys").startswith("Unchanged up to entry ")
    with pytest.raises(Missing, match="--key"):
        verify_file(code)
    with pytest.raises(RecordBroken):
        verify_file(code.replace("|held|", "|released|"), at_hand=known(floor))


def test_long_names_are_cut_until_the_code_fits():
    keys = SimpleNamespace(origin="k" * 60, seed=bytes(range(32)))
    record = SimpleNamespace(certificate="KBW-2031-014", issued_at=later(0), digest="ab" * 32)
    person = SimpleNamespace(body=SimpleNamespace(id="tobias", name="Tobias | " + "ö" * 100))

    def outcome(tag):
        of = {"release.signed": [SimpleNamespace(by="tobias")], "person.named": [person]}
        job = SimpleNamespace(the=lambda kind: SimpleNamespace(tag=tag), of=lambda kind: of[kind])
        return SimpleNamespace(job=job, verdict="released")

    point = Checkpoint(keys.origin, 10**6, bytes(32))
    text = sealing._claim(outcome("P-" + "9" * 118), record, keys, point)

    claim = read_claim(text, [keyring.key_of(keys.origin, keys.seed)])
    assert len(text.encode()) <= CLAIM_MAX_BYTES
    assert claim.released_by.startswith("Tobias / ö") and claim.released_by.endswith("…") and claim.part.endswith("…")
    record.certificate = "\U0001f529" * 120
    text = sealing._claim(outcome("\U0001f529" * 120), record, keys, point)
    assert len(text.encode()) <= CLAIM_MAX_BYTES


# ------------------------------------------------------------------------ the whole log, the command


def test_the_whole_log_is_judged_again_and_held_against_the_stick(floor, capsys):
    keys, data, out = floor / "keys", floor / "data", floor / "export"
    assert run(["backup", "export", str(out), "--data", str(data), "--keys", str(keys)]) == 0

    arguments = ["verify", str(out / "log.jsonl"), "--key", str(keys / "log.pub"), "--witness", str(floor / "stick")]
    assert run(arguments) == 0
    said = capsys.readouterr().out
    assert "1 job judged again, each with its own verdict (1 held)" in said
    assert "Unchanged up to entry" in said

    lines = (out / "log.jsonl").read_bytes().split(b"\n")
    (out / "log.jsonl").write_bytes(b"\n".join([*lines[:-2], b""]))
    assert run(arguments) == 4
    assert "has seen" in capsys.readouterr().out
    (out / "log.jsonl").write_bytes(b"\n".join(lines).replace(b'"verdict":"held"', b'"verdict":"released"'))
    assert run(arguments) == 4


def test_two_logs_shown_to_two_people_are_seen_where_they_meet(floor):
    """The same number of events, signed by the same key, but another story: the stick has seen the other one."""
    keys = keyring.load(floor / "keys")
    file = next((floor / "stick").glob("*.checkpoint"))
    number = witness.read_checkpoint(file.read_text().partition("\n\n")[0] + "\n").size
    from soundedge.record.checkpoint import make_checkpoint

    file.write_text(make_checkpoint(ORIGIN, [bytes(32)] * number, keys.seed))

    with pytest.raises(Forked, match="Two logs are being shown"):
        verify_file(floor / "out" / "certificate.pdf", at_hand=known(floor, witness=str(floor / "stick")))


def test_a_folder_without_a_checkpoint_is_no_witness(floor, tmp_path):
    for folder in (tmp_path / "empty", tmp_path / "not-there"):
        if folder.name == "empty":
            folder.mkdir()
        with pytest.raises(Missing):
            verify_file(floor / "out" / "certificate.pdf", at_hand=known(floor, witness=str(folder)))


def pdfsig(file):
    return subprocess.run(["pdfsig", str(file)], capture_output=True, text=True, check=False).stdout


def _flipped(whole, place, rng):
    return whole[:place] + bytes([whole[place] ^ (1 << rng.randrange(8))]) + whole[place + 1 :]


def _folder(path):
    path.mkdir(parents=True, mode=0o700)
    return path
