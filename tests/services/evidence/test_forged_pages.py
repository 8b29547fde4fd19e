"""A genuine record can be put into any page: does a page count only when something covers its own bytes?

The pages are made of certificates that were issued once (tests/record/golden). ``pdf_attacks.py`` names the published attacks.
"""

import io
import json
import lzma
import shutil
import subprocess
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest
from pypdf import PdfReader

from soundedge.basis.errors import BenchError
from soundedge.cli.bench import run
from soundedge.report.from_job import TITLES
from soundedge.services.evidence import keyring, shop_chain
from soundedge.services.evidence.check_document import Given, given
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.evidence.verify import verify_bytes, verify_file

from ..shopfloor import keys_in, later
from . import pdf_attacks as attacks

GOLDEN = Path(__file__).parents[2] / "record" / "golden"
VECTOR = next(one for one in json.loads((GOLDEN / "vectors.json").read_text())["certificates"] if one["name"] == "cover")
COVER, NOZZLE = (lzma.decompress((GOLDEN / f"{name}.pdf.xz").read_bytes()) for name in ("cover", "nozzle"))
RECORD = attacks.attached(COVER)["record.json"]
AT = datetime(2031, 5, 5, 9, 41, tzinfo=UTC)
NOTHING_SHOWS = "The record inside holds; nothing shows that this page belongs to it."


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """Public keys of the shop that issued the cover, a stranger's own keys, and a ledger that holds the cover's certificate."""
    base = tmp_path_factory.mktemp("forged")
    (base / "log.pub").write_text(VECTOR["log_pub"])
    (base / "certificate.pem").write_text(VECTOR["certificate_pem"])
    keys_in(base)
    with open_ledger(base / "data") as ledger:
        ledger.import_record(RECORD)
        issue(ledger, COVER)
    return base


def issue(ledger, pdf):
    told = json.loads(RECORD)
    body = {"certificate": "KBW-2026-014", "job": told["head"]["job"], "verdict": "released",
            "record_sha256": sha256(RECORD).hexdigest(), "pdf_sha256": sha256(pdf).hexdigest()}
    shop_chain.write(ledger, "certificate.issued", body, now=later(0))


@pytest.fixture(scope="module")
def stranger(place):
    return keyring.load(place / "keys").signing


@pytest.fixture(scope="module")
def forged():
    """The nozzle's page, which was held, with the released cover's record and its words unseen."""
    return attacks.forged(NOZZLE, RECORD, [TITLES["released"], "KBW-2026-014", sha256(RECORD).hexdigest()[:32]])


@pytest.fixture(scope="module")
def resigned(forged, stranger):
    return attacks.signed_by(stranger, forged, AT)


@pytest.fixture
def known(place, monkeypatch):
    """What a checker has at hand, by name."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(place / "nobody"))
    both = [str(place / "log.pub"), str(place / "certificate.pem")]
    return {"nothing": Given(), "log key": given(both[:1]), "both keys": given(both), "ledger": Given(data=place / "data"),
            "proof": given(both[:1], proof=str(GOLDEN / "cover.proof")), "foreign proof": Given(proof=GOLDEN / "cover.proof")}


def answer(pdf, at_hand):
    """``proved``, ``untied`` or the field that does not hold."""
    try:
        said = verify_bytes(pdf, "c.pdf", at_hand=at_hand)
    except BenchError as fault:
        return fault.field
    assert said["page_proved"] is not said["sentence"].startswith(NOTHING_SHOWS)
    assert ("Certificate KBW-2026-014 holds" in said["sentence"]) is said["page_proved"]
    return "proved" if said["page_proved"] else "untied"


@pytest.mark.parametrize("at_hand, genuine, unsigned, stranger_signed", [
    ("nothing", "untied", "untied", "untied"),
    ("foreign proof", "untied", "key", "key"),  # the key in the file vouches for nothing
    ("log key", "untied", "page", "untied"),
    ("proof", "proved", "certificate", "certificate"),
    ("both keys", "proved", "page", "signature"),
    ("ledger", "proved", "page", "page"),
])
def test_a_page_counts_when_its_signature_its_proof_or_the_ledger_covers_it(
    known, forged, resigned, at_hand, genuine, unsigned, stranger_signed
):
    assert [answer(pdf, known[at_hand]) for pdf in (COVER, forged, resigned)] == [genuine, unsigned, stranger_signed]


def test_the_forged_page_has_all_that_was_looked_for_before(forged):
    """It is the other part's page, it carries the genuine record, and a reader of words finds the wanted ones."""
    text = "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(forged)).pages)

    assert attacks.attached(forged)["record.json"] == RECORD
    assert "KBW-2026-019" in text and "KBW-2026-014" in text and str(TITLES["released"]) in text


def test_the_key_of_this_machine_does_not_turn_away_another_shops_unsigned_page(place, forged, monkeypatch):
    """No key was named: the own ones vouch for own pages only, and what they do not know stays open."""
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(place / "keys"))

    assert answer(forged, given()) == "untied" and answer(COVER, given()) == "untied"


def test_another_page_of_the_same_record_is_not_the_issued_one_though_the_shop_signed_it(tmp_path, forged, resigned, place):
    """The shop's key signs, but the ledger keeps another digest: with the ledger at hand the file is compared."""
    with open_ledger(tmp_path / "data") as ledger:
        ledger.import_record(RECORD)
        issue(ledger, COVER)
    own = given([str(place / "keys" / "certificate.pem")])
    assert answer(resigned, own) == "proved"

    assert answer(resigned, given([str(place / "keys" / "certificate.pem")], data=str(tmp_path / "data"))) == "page"
    with open_ledger(tmp_path / "data") as ledger:
        issue(ledger, forged)
    assert answer(forged, given([str(place / "log.pub")], data=str(tmp_path / "data"))) == "proved"


@pytest.fixture(scope="module")
def attacked(stranger, place):
    """Published attack → file. Each is made of a page that was signed, mostly by the shop's own key."""
    shadow = attacks.signed_by(stranger, attacks.shadowed(attacks.forged(COVER, RECORD, [])), AT)
    return {
        "Incremental Saving Attack": attacks.incremental_saving(COVER),
        "Incremental Saving Attack, no xref": attacks.incremental_saving_without_xref(COVER),
        "Signature Wrapping Attack": attacks.signature_wrapping(COVER),
        "Shadow Attack, hide and replace": attacks.revealed(shadow),
        "Evil Annotation Attack": attacks.evil_annotation(COVER),
        "Sneaky Signature Attack": attacks.sneaky_signature(COVER, stranger, AT),
    } | {f"Universal Signature Forgery, {variant}": attacks.universal(COVER, variant) for variant in attacks.UNIVERSAL}


def test_no_published_attack_passes_with_or_without_a_key(attacked, known):
    """Each kind of file is refused, or the signature is seen to be gone; none is ever the shop's page."""
    passed = {(name, at_hand): found for name, pdf in attacked.items() for at_hand in ("nothing", "both keys")
              if (found := answer(pdf, known[at_hand])) not in ("signature", "pdf")}

    assert passed == {}


def test_the_shadow_is_prepared_before_signing_and_holds_until_it_is_revealed(stranger, place):
    """The first half of the attack is a good signature; so the refusal above is of the reveal, not of a broken file."""
    covered = attacks.signed_by(stranger, attacks.shadowed(attacks.forged(COVER, RECORD, [])), AT)

    assert answer(covered, given([str(place / "keys" / "certificate.pem")])) == "proved"


@pytest.mark.skipif(not shutil.which("pdfsig"), reason="pdfsig (poppler-utils) is not on this machine")
def test_a_second_validator_vouches_for_the_genuine_page_and_for_no_attacked_one(attacked, tmp_path):
    def valid(pdf):
        (tmp_path / "c.pdf").write_bytes(pdf)
        said = subprocess.run(["pdfsig", "-nocert", str(tmp_path / "c.pdf")], capture_output=True, check=False).stdout.decode()
        whole = "Total document signed" in said.replace("Not total document signed", "")
        return said.count("Signature #") == 1 and "Signature is Valid." in said and whole

    assert valid(COVER)
    assert [name for name, pdf in attacked.items() if valid(pdf)] == []


def test_the_command_tells_the_three_apart_by_code_and_in_the_readers_language(place, forged, tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SOUNDEDGE_KEYS", str(place / "nobody"))
    for name, raw in (("genuine.pdf", COVER), ("forged.pdf", forged), ("record.json", RECORD)):
        (tmp_path / name).write_bytes(raw)
    (tmp_path / "broken.json").write_bytes(RECORD[:-1])
    keys = [f"--key={place / name}" for name in ("log.pub", "certificate.pem")]

    def code(*names):
        files = {file.name: str(file) for file in tmp_path.iterdir()}
        return run(["verify", *[files.get(name, name) for name in names]])

    assert code("genuine.pdf", *keys) == 0 and code("record.json") == 0
    assert code("forged.pdf") == 5 and code("genuine.pdf", "record.json") == 5
    assert NOTHING_SHOWS in capsys.readouterr().out
    assert code("forged.pdf", *keys) == 4 and code("forged.pdf", "--data", str(place / "data")) == 4
    assert code("forged.pdf", "broken.json") == 4 and code("forged.pdf", "nothing.pdf") == 2
    capsys.readouterr()
    monkeypatch.setenv("SOUNDEDGE_LANGUAGE", "de")
    assert code("forged.pdf") == 5
    said = capsys.readouterr().out
    assert "nichts zeigt, dass dieses Blatt zu ihr gehört" in said and NOTHING_SHOWS not in said


def test_a_proof_beside_the_page_is_found_by_itself(place, tmp_path):
    (tmp_path / "certificate.pdf").write_bytes(COVER)
    shutil.copy(GOLDEN / "cover.proof", tmp_path / "certificate.proof")

    assert verify_file(tmp_path / "certificate.pdf", at_hand=given([str(place / "log.pub")]))["page_proved"] is True
