"""Records and certificates that were issued once: do they verify today, byte for byte, with the verdict they state?

``golden/README.md`` says what they are. No vector is ever changed to suit the program.
"""

import base64
import hashlib
import json
import lzma
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest

from soundedge.job.edition import PROGRAM, RULES_EDITION
from soundedge.job.typed import events_of
from soundedge.record.replay import insist, rules_edition
from soundedge.record.verify import verify
from soundedge.record.write import document, write
from soundedge.services.evidence.check_document import given
from soundedge.services.evidence.records import facts_of
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.contents import read_folder

GOLDEN = Path(__file__).with_name("golden")
EXAMPLES = Path(__file__).parents[2] / "examples"
VECTORS = json.loads((GOLDEN / "vectors.json").read_text(encoding="utf-8"))
RECORDS = {vector["name"]: vector for vector in VECTORS["records"]}
CERTIFICATES = {vector["name"]: vector for vector in VECTORS["certificates"]}
PERSONS = {key: base64.b64decode(value) for key, value in VECTORS["persons"].items()}
# what later versions write down besides; everything else stays as it was
ADDED = {"job.opened": ("rules", "program"), "heat.planned": ("estimate",),
         "lining.identified": ("melt_class",)}
ADDED_TO_SURVEY = ("asked",)
# limits that the example procedures set since, so that their files are other ones
ADDED_LIMITS = ("edge_ph_min", "edge_ph_max", "edge_ph_from_rinse_max", "pause_min_max")
# what earlier versions wrote down as "no" though nobody had said so
NOBODY_SAID = {"lining.identified": {"conductive_filler": False, "immersed": False}}


@cache
def raw(name):
    return lzma.decompress((GOLDEN / name).read_bytes())


def test_every_vector_is_asked_and_the_seven_examples_are_among_them():
    assert {file.name.removesuffix(".json.xz") for file in GOLDEN.glob("*.json.xz")} == set(RECORDS)
    assert {file.name.removesuffix(".pdf.xz") for file in GOLDEN.glob("*.pdf.xz")} == set(CERTIFICATES)
    examples = {folder.name for folder in EXAMPLES.iterdir() if (folder / "job.toml").is_file()}
    assert len(examples) >= 7 and examples <= set(RECORDS)
    assert {vector["verdict"] for vector in RECORDS.values()} == {"released", "held", "engineering_review", "rejected"}


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_that_was_written_once_holds_byte_for_byte(name):
    vector, record = RECORDS[name], raw(f"{name}.json.xz")

    held = verify(record, keys=PERSONS)
    entries = list(held.entries())

    assert (held.digest, held.head, held.events) == (vector["sha256"], vector["head"], vector["events"])
    assert hashlib.sha256(record).hexdigest() == vector["sha256"]
    assert held.signed == held.signatures_checked == vector["signed"]
    assert document(entries) == record, "the entries as read are written in other bytes"
    assert [json.loads(entry.raw)["body"] for entry in write(held.job, entries, now=_moment(entries)).entries] == [
        entry.body for entry in entries], "what a body says is written in another form"
    assert insist(held).released is (vector["verdict"] == "released")


@pytest.mark.parametrize("name", RECORDS)
def test_a_record_that_was_written_once_states_the_verdict_it_stated(name, tmp_path):
    vector = RECORDS[name]
    (tmp_path / "record.json").write_bytes(raw(f"{name}.json.xz"))

    told = verify_file(tmp_path / "record.json")

    assert (told["verdict"], told["record_sha256"], told["head"]) == (vector["verdict"], vector["sha256"], vector["head"])
    made_by = rules_edition(verify(raw(f"{name}.json.xz")).entries())
    again = ("Judged again by the procedure inside it is what it says" if made_by == RULES_EDITION
             else f"It was judged by rules edition {made_by}; judging again needs version {PROGRAM[made_by]}")
    assert again in told["sentence"]


@pytest.mark.parametrize("name", CERTIFICATES)
def test_a_certificate_that_was_issued_once_still_verifies(name, tmp_path):
    """The whole way of a stranger: page, signature, record inside, place in the log, every byte by its proof."""
    vector = CERTIFICATES[name]
    (tmp_path / "certificate.pdf").write_bytes(raw(f"{name}.pdf.xz"))
    (tmp_path / "certificate.proof").write_bytes((GOLDEN / f"{name}.proof").read_bytes())
    (tmp_path / "log.pub").write_text(vector["log_pub"])
    (tmp_path / "certificate.pem").write_text(vector["certificate_pem"])
    assert hashlib.sha256(raw(f"{name}.pdf.xz")).hexdigest() == vector["sha256"]

    told = verify_file(tmp_path / "certificate.pdf",
                       at_hand=given([str(tmp_path / "log.pub"), str(tmp_path / "certificate.pem")]))

    assert (told["verdict"], told["certificate"]) == (vector["verdict"], vector["certificate"])
    assert "Byte for byte the file that was issued" in told["sentence"]
    assert "Its judgement is number" in told["sentence"]


@pytest.mark.parametrize("name", sorted(folder.name for folder in EXAMPLES.iterdir() if (folder / "job.toml").is_file()))
def test_an_example_is_written_today_as_it_was_then_apart_from_what_is_kept_besides(name):
    then = [entry for entry in verify(raw(f"{name}.json.xz")).entries() if entry.kind != "job.judged"]
    events = events_of(read_folder(EXAMPLES / name).sheet)
    now = list(write(then[0].job, facts_of(events), now=_moment(then)).entries)

    assert [(e.id, e.kind, e.by, e.at) for e in now] == [(e.id, e.kind, e.by, e.at) for e in then]
    for new, old in zip(now, then, strict=True):
        body = {key: value for key, value in new.body.items() if key not in ADDED.get(new.kind, ())}
        if "survey" in body:
            body["survey"] = {key: value for key, value in body["survey"].items() if key not in ADDED_TO_SURVEY}
        if new.kind == "job.opened":
            limits = body["procedure"]["limits"]
            body["procedure"] = body["procedure"] | {"limits": {
                k: v for k, v in limits.items() if k not in ADDED_LIMITS or k in old.body["procedure"]["limits"]}}
            body["procedure_sha256"] = old.body["procedure_sha256"]
        unsaid = NOBODY_SAID.get(new.kind, {})
        was = {key: value for key, value in old.body.items()
               if key not in ADDED.get(new.kind, ()) and (key in body or key not in unsaid or value != unsaid[key])}
        assert _numbers(body) == _numbers(was, near=True), f"{name}: {new.id}"


def _moment(entries):
    return datetime.fromisoformat(entries[-1].recorded_at)


def _numbers(node, near=False):
    """Decimal strings as numbers; ``near``: to nine digits, as builds of a library may differ in the last bit."""
    if isinstance(node, dict):
        return {key: _numbers(value, near) for key, value in node.items()}
    if isinstance(node, list):
        return [_numbers(value, near) for value in node]
    try:
        number = float(node) if isinstance(node, str) else node
    except ValueError:
        return node
    return pytest.approx(number, rel=1e-9, abs=1e-9) if near and isinstance(number, float) else number
