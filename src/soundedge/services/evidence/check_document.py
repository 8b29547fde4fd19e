"""How far a file can be checked with what is at hand. Four levels; each says what it checked and what it did not.

    the square code      the words of the paper, by the shop's public key
    the PDF alone        signature, record, rules; the place of its judgement in the shop's log
    PDF and its proof    every byte of the file: it is the one that was issued
    the whole log        every event of every job, held against what a witness keeps

A public key must be known by another way than with the file. When none is given, the one inside is used, the sentence says so
with its fingerprint, and the page counts for nothing (page_tie.py).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Missing, RecordBroken
from ...basis.on_paper import counted
from ...basis.sentences import say
from ...basis.strict_json import loads
from ...record.claim import read_claim
from ...record.entry import Entry, entry_of
from ...record.note import NoteKey
from ...record.proof import Proven, check_certificate, check_proof
from ...record.rotation import SHOP
from ...record.sign import key_id
from ...record.tree import leaf_hash
from ...record.verify import verify
from ...record.witness import Forked, compare, disagree
from ...record.write import document
from ...report.sign import SignatureCheck
from ..files import read_bytes
from . import key_files, keyring, person_keys
from .newer_entries import REPLACED, Since, since_issued
from .sealing import INSIDE_KEY, INSIDE_PROOF
from .witness import read_checkpoints

READ_RIGHT = "whether what was typed was read rightly"
WRITTEN_ANEW = "whether the whole was written anew before you first saw its head"
_SIGNED_MARKS = (b"/ByteRange", b"/ETSI.CAdES.detached", b"/DocMDP")


@dataclass(frozen=True)
class Given:
    """What a checker has besides the file: public keys, certificates of signing keys, the proof, a witness.

    ``named``: the keys were named by the checker; only they count then. Else they are this machine's own, and what
    another shop has signed is looked at with the key inside the file. ``data``: a shop's data folder, whose ledger is asked
    what has come since.
    """

    keys: tuple[NoteKey, ...] = ()
    certificates: tuple[bytes, ...] = ()
    named: bool = False
    proof: Path | None = None
    witness: Path | None = None
    people: tuple[bytes, ...] = ()
    data: Path | None = None

    @property
    def persons(self) -> dict[str, bytes]:
        """Every key at hand by the name that a person's signature gives it."""
        return {key_id(public): public for public in (*self.people, *(key.public for key in self.keys))}


@dataclass(frozen=True)
class Found:
    """What was checked, as sentences; what was not, as half sentences."""

    checked: list[str] = field(default_factory=list)
    not_checked: list[str] = field(default_factory=list)

    @property
    def sentence(self) -> str:
        """All of it."""
        return " ".join([*self.checked, f"Not checked: {'; '.join(self.not_checked)}."])


def given(keys: Sequence[str] = (), *, proof: str | None = None, witness: str | None = None, data: str | None = None) -> Given:
    """What the command line named; without any key, the public ones of this machine's keys' folder.

    Parameters
    ----------
    keys : sequence of str
        Each a file with public keys (log.pub) or a certificate (certificate.pem), or a key's text itself.

    Raises
    ------
    Missing, Unreadable
        A file that is not there, or holds no key.
    """
    public: list[NoteKey] = []
    certificates: list[bytes] = []
    for one in keys:
        if one.count("+") >= 2 and not Path(one).exists():
            public += keyring.keys_in(one)
            continue
        raw = read_bytes(one, what="The key", field="key", size_max_bytes=100_000)
        if raw.lstrip().startswith(b"-----BEGIN CERTIFICATE"):
            certificates.append(raw)
        else:
            public += keyring.keys_in(raw.decode("utf-8", "replace"))
    if not keys:
        place = key_files.key_folder()
        public = list(keyring.public_keys(place))
        certificates = [read_bytes(file, what="The certificate", field="key")
                        for file in sorted(place.glob("certificate*.pem"))]
    people = () if keys else tuple(person_keys.person_keys().values())
    return Given(tuple(public), tuple(certificates), bool(keys), Path(proof) if proof else None,
                 Path(witness) if witness else None, people, Path(data) if data else None)


def check_signature(
    raw: bytes, name: str, at_hand: Given, inside: Mapping[str, bytes], found: Found
) -> SignatureCheck | None:
    """The PDF's own signature, None when it has none; a page that was issued signed and no longer is does not hold.

    Raises
    ------
    RecordBroken
        The signature does not hold, or is gone.
    """
    marks = any(mark in raw for mark in _SIGNED_MARKS) or INSIDE_PROOF in inside
    if not marks:
        return None
    from ...report.sign import check_pdf, fingerprint

    seen = check_pdf(raw)
    if at_hand.certificates and seen.signed and seen.readable:
        known = seen.fingerprint in [fingerprint(one) for one in at_hand.certificates]
        if known or at_hand.named:
            seen = replace(seen, by_that_key=known)
    if not seen.holds:
        raise RecordBroken("signature", say("evidence.pdf_signature_broken", name=name, why=seen.sentence))
    found.checked.append(seen.sentence)
    return seen


def check_place(name: str, judged: Entry, at_hand: Given, inside: Mapping[str, bytes], found: Found) -> Proven | None:
    """The proof inside the PDF: that its judgement stands in the shop's log.

    Raises
    ------
    RecordBroken
        The proof does not hold, or is that of another event.
    """
    if INSIDE_PROOF not in inside:
        found.not_checked.append("its place in the shop's log (the page carries no proof)")
        return None
    keys = _keys(at_hand, inside, found)
    proven = check_proof(inside[INSIDE_PROOF], keys)
    if proven.entry != judged.raw:
        raise RecordBroken("proof", say("evidence.proof_of_another_entry", name=name, no=proven.event['no'],
                                        job=proven.event['job']))
    found.checked.append(f"Its judgement is number {proven.index + 1} of {proven.checkpoint.size} in the log "
                         f"{proven.checkpoint.origin} as that log was signed.")
    return proven


def check_bytes(
    raw: bytes, name: str, record_sha256: str, at_hand: Given, inside: Mapping[str, bytes], found: Found
) -> Proven | None:
    """The detached proof: that the file is, byte for byte, the one that was issued.

    Raises
    ------
    RecordBroken
        It is not, or the proof is that of another certificate.
    """
    file = at_hand.proof
    if file is None:
        if INSIDE_PROOF in inside:
            found.not_checked.append("the bytes of the file that no signature covers (give its certificate.proof)")
        return None
    proof = read_bytes(file, what="The proof", field="proof", size_max_bytes=6_000_000)
    proven = check_certificate(raw, proof, _keys(at_hand, inside, found))
    if proven.event["body"].get("record_sha256") != record_sha256:
        raise RecordBroken("proof", say("evidence.proof_of_another_record", file=file, name=name))
    found.checked.append(f"Byte for byte the file that was issued, by {Path(file).name}: entry {proven.index + 1} of "
                         f"{proven.checkpoint.size} in that log.")
    return proven


def check_witness(proofs: Sequence[Proven | None], at_hand: Given, inside: Mapping[str, bytes], found: Found) -> None:
    """What a witness keeps, beside what the proofs speak of.

    Raises
    ------
    Forked
        Two different logs of one size are being shown.
    """
    if at_hand.witness is None:
        found.not_checked.append(WRITTEN_ANEW)
        return
    seen = _witnessed(at_hand, _keys(at_hand, inside, found))
    same = 0
    for proven in proofs:
        for one in seen:
            if proven is not None and disagree(proven.checkpoint, one.point):
                raise Forked("proof", say("evidence.proof_of_another_log", size=one.point.size, who=one.who))
            same += proven is not None and proven.checkpoint == one.point
    if same:
        found.checked.append(f"The witness '{at_hand.witness}' has seen the very same log.")
    else:
        found.not_checked.append(f"whether the log continues what '{at_hand.witness}' has seen (that takes the whole log)")


def check_claim_text(text: str, at_hand: Given) -> dict[str, Any]:
    """The square code of a printed certificate.

    Raises
    ------
    Missing
        No public key is known.
    RecordBroken
        None of the keys signed it.
    """
    if not at_hand.keys:
        raise Missing("key", say("evidence.code_key_missing"))
    claim = read_claim(text.strip(), list(at_hand.keys))
    found = Found([f"The code is signed by the given key. {claim.sentence}"],
                  ["the record, the rules, the page (that takes the PDF)", READ_RIGHT])
    asked = since_issued(at_hand.data, claim.certificate, claim.record.hex()) if at_hand.data else None
    return {"certificate": claim.certificate, "verdict": claim.verdict, "size": claim.size} | said_since(asked, found)


def said_since(asked: Since | None, found: Found) -> dict[str, Any]:
    """The whole sentence, beginning with what matters most when the file no longer counts; and ``counts``."""
    if asked is None or asked.counts is None:
        found.not_checked.append(REPLACED)
    if asked is None:
        return {"counts": None, "sentence": found.sentence}
    if asked.counts is not False:
        found.checked.append(asked.sentence)
        return {"counts": asked.counts, "sentence": found.sentence}
    return {"counts": False, "sentence": f"{asked.sentence} What the file says of the time when it was made: {found.sentence}"}


def check_log(raw: bytes, name: str, at_hand: Given) -> dict[str, Any]:
    """A whole log as exported: every line, every job's chain and judgement, and what a witness has seen of it.

    Raises
    ------
    RecordBroken, RolledBack, Forked
        What does not hold, by name.
    """
    from .records import replayed

    jobs: dict[str, list[Entry]] = {}
    leaves: list[bytes] = []
    lines = raw.split(b"\n")
    if lines.pop():
        raise RecordBroken("log", say("evidence.log_cut_off", name=name))
    for number, line in enumerate(lines, 1):
        try:
            entry = entry_of(loads(line, what="The line"), line)
        except (BenchError, KeyError, TypeError):
            raise RecordBroken(f"line {number}", say("evidence.log_line_not_an_entry", line=number, name=name)) from None
        jobs.setdefault(str(entry.job), []).append(entry)
        leaves.append(leaf_hash(line))
    verdicts: dict[str, int] = {}
    others = 0
    for job, entries in jobs.items():
        try:
            if job == SHOP:
                verify(document(entries))
            else:
                again = replayed(document(entries))
                others += again.outcome is None
                if again.outcome is not None:
                    verdicts[again.verdict] = verdicts.get(again.verdict, 0) + 1
        except RecordBroken as fault:
            raise RecordBroken(fault.field, say("evidence.job_broken", job=job[:60], why=fault.message)) from None
    told = ", ".join(f"{count} {verdict.replace('_', ' ')}" for verdict, count in sorted(verdicts.items()))
    found = Found([f"The log holds: {counted(len(leaves), 'entry', 'entries')}; "
                   f"{counted(sum(verdicts.values()), 'job')} judged again, each with its own verdict ({told or 'none'})."])
    if others:
        found.not_checked.append(f"the judgement of {others} jobs, made by another edition of the rules than this program's")
    if at_hand.witness is None:
        found.not_checked.append("whether the whole was written anew (give --witness FOLDER and --key FILE)")
    else:
        if not at_hand.keys:
            raise Missing("key", say("evidence.witness_key_missing"))
        found.checked.append(compare(leaves, [(one.who, one.point) for one in _witnessed(at_hand, at_hand.keys)]))
        found.not_checked.append("anything after that")
    found.not_checked.append(READ_RIGHT)
    return {"events": len(leaves), "jobs": len(jobs), "sentence": found.sentence}


def shop_chain(raw: bytes) -> str:
    """The shop's own chain as a record: what it holds, in one sentence."""
    held = verify(raw)
    return f"{held.sentence} It is the shop's own chain: keys, issued certificates, backups."




def _witnessed(at_hand: Given, keys: Sequence[NoteKey]) -> list[Any]:
    assert at_hand.witness is not None
    if not at_hand.witness.is_dir():
        raise Missing("witness", say("evidence.witness_folder_missing", folder=at_hand.witness))
    seen = read_checkpoints(at_hand.witness, keys)
    if not seen:
        raise Missing("witness", say("evidence.witness_without_checkpoint", folder=at_hand.witness))
    return seen


def keys_known(at_hand: Given, inside: Mapping[str, bytes]) -> bool:
    """Whether a proof of this file is checked with keys from elsewhere, not with the one inside the file."""
    names = {key.name for key in _inside_keys(inside)}
    return bool(at_hand.keys) and (at_hand.named or not names or bool(names & {key.name for key in at_hand.keys}))


def _inside_keys(inside: Mapping[str, bytes]) -> list[NoteKey]:
    return list(keyring.keys_in(inside[INSIDE_KEY].decode("utf-8", "replace"))) if INSIDE_KEY in inside else []


def _keys(at_hand: Given, inside: Mapping[str, bytes], found: Found) -> list[NoteKey]:
    if keys_known(at_hand, inside):
        return list(at_hand.keys)
    own = _inside_keys(inside)
    if not own:
        raise Missing("key", say("evidence.proof_key_missing"))
    said = (f"whose key that is: none was given with --key, so the one inside the file was used, fingerprint "
            f"{own[-1].fingerprint}; compare it with one you know")
    if said not in found.not_checked:
        found.not_checked.append(said)
    return own
