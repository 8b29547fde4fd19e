"""Are signed notes, checkpoints and proofs those of the published formats, and does every bit of them count?"""

import base64
import hashlib

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, RecordBroken, Unreadable
from soundedge.record.checkpoint import make_checkpoint, open_checkpoint, read_checkpoint
from soundedge.record.keys import key_of
from soundedge.record.note import WITNESS, NoteKey, cosign, open_note, read_key, sign_note
from soundedge.record.proof import check_certificate, check_proof, make_proof
from soundedge.record.tree import leaf_hash

from ..tries import tries
from .jobs import fact, record, released

# The key and the note of the Go module's note package (golang.org/x/mod/sumdb/note, note_test.go).
# Read in public copies of that file; Ed25519 is deterministic (RFC 8032), so our signature must be the same.
GO_KEY = "PeterNeumann+c74f20a3+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"
GO_SECRET = "PRIVATE+KEY+PeterNeumann+c74f20a3+AYEKFALVFGyNhPJEMzD1QIDr+Y7hfZx09iUvxdXHKDFz"
GO_TEXT = "If you think cryptography is the answer to your problem,\nthen you don't know what your problem is.\n"
GO_NOTE = GO_TEXT + ("\n— PeterNeumann x08go/ZJkuBS9UG/SffcvIAQxVBtiFupLLr8pAcElZInNIuGUgYN1FFYC2pZSNXgKvqfqdngotpRZb6KE6RyyB"
                     "wJnAM=\n")
SEED, OTHER, WITNESS_SEED = bytes(range(32)), bytes(range(1, 33)), bytes(range(2, 34))
ORIGIN = "kelderbeck-basin.example/ledger"
LOG = key_of(ORIGIN, SEED)
EYE = key_of("kelderbeck-basin.example/tablet-3", WITNESS_SEED, WITNESS)
GOOD = record()
LEAVES = [leaf_hash(entry.raw) for entry in GOOD.entries]


def test_the_published_note_opens_and_is_written_the_same():
    from soundedge.record.keys import read_secret, secret_text

    name, seed, kind = read_secret(GO_SECRET)

    assert open_note(GO_NOTE, [read_key(GO_KEY)]).text == GO_TEXT
    assert sign_note(GO_TEXT, name, seed) == GO_NOTE
    assert secret_text(name, seed, kind) == GO_SECRET and key_of(name, seed).text == GO_KEY


def test_the_published_malformed_keys_are_refused():
    """From the same file: every part of the key's text, every character moved on by one, a wrong length, an unknown type."""
    bad = [GO_KEY[i:j] for i in range(len(GO_KEY) + 1) for j in range(i + 1, len(GO_KEY) + 1, 3) if (i, j) != (0, len(GO_KEY))]
    bad += [GO_KEY[:n] + chr(ord(GO_KEY[n]) + 1) + GO_KEY[n + 1 :] for n in range(len(GO_KEY))]
    bad += ["PeterNeumann+cc469956+ARpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TWBADKEY==",
            "PeterNeumann+173116ae+ZRpc2QcUPDhMQegwxbzhKqiBfsVkmqq/LDE4izWy10TW"]
    for text in bad:
        with pytest.raises(Unreadable):
            read_key(text)


def test_a_checkpoint_is_three_lines_that_ed25519_alone_can_check():
    """By the words of the format, with the cryptography library and nothing of ours."""
    note = make_checkpoint(ORIGIN, LEAVES, SEED)
    text, signature = note.split("\n\n— ")
    raw = base64.b64decode(signature.split(" ")[1])
    public = Ed25519PrivateKey.from_private_bytes(SEED).public_key().public_bytes_raw()

    assert raw[:4] == hashlib.sha256(ORIGIN.encode() + b"\n\x01" + public).digest()[:4]
    Ed25519PublicKey.from_public_bytes(public).verify(raw[4:], (text + "\n").encode())
    assert text.split("\n")[:2] == [ORIGIN, "23"]


def test_a_witness_signs_the_time_at_which_it_saw_the_checkpoint():
    """By the words of the co-signature format: two header lines, then the note's text."""
    note = cosign(make_checkpoint(ORIGIN, LEAVES, SEED), EYE.name, WITNESS_SEED, time_s=1935658800)
    raw = base64.b64decode(note.rstrip("\n").rsplit(" ", 1)[1])
    text = note.split("\n\n")[0] + "\n"

    assert raw[:4] == hashlib.sha256(EYE.name.encode() + b"\n\x04" + EYE.public).digest()[:4]
    Ed25519PublicKey.from_public_bytes(EYE.public).verify(raw[12:], f"cosignature/v1\ntime 1935658800\n{text}".encode())
    opened = open_note(note, [LOG, EYE])
    assert [(s.name, s.time_s) for s in opened.signed] == [(ORIGIN, None), (EYE.name, 1935658800)]
    assert open_note(note, [LOG]).unknown == (EYE.name,)


def flips(raw):
    for spot in range(len(raw)):
        for bit in range(8):
            bad = bytearray(raw)
            bad[spot] ^= 1 << bit
            yield bytes(bad)


def test_every_bit_of_a_checkpoint_counts():
    note = cosign(make_checkpoint(ORIGIN, LEAVES, SEED), EYE.name, WITNESS_SEED, time_s=1935658800).encode()
    passed = 0
    for bad in flips(note):
        with pytest.raises(BenchError):
            open_checkpoint(bad, [LOG, EYE], all_known=True)
            passed += 1

    assert passed == 0


def test_every_bit_of_a_proof_file_counts():
    proof = make_proof(GOOD.entries[8].raw, 8, LEAVES, make_checkpoint(ORIGIN, LEAVES, SEED)).encode()

    assert check_proof(proof, [LOG]).event["kind"] == "air.read"
    for bad in flips(proof):
        with pytest.raises(BenchError):
            check_proof(bad, [LOG])


def test_a_proof_has_the_published_form():
    lines = make_proof(GOOD.entries[8].raw, 8, LEAVES, make_checkpoint(ORIGIN, LEAVES, SEED)).split("\n")

    assert lines[0] == "c2sp.org/tlog-proof@v1" and lines[2] == "index 8"
    assert base64.b64decode(lines[1].removeprefix("extra ")) == GOOD.entries[8].raw
    assert lines[lines.index("") + 1] == ORIGIN


def test_every_event_of_a_log_is_proven_and_the_sentence_says_what_was_not_checked():
    note = make_checkpoint(ORIGIN, LEAVES, SEED)
    for n, entry in enumerate(GOOD.entries):
        proven = check_proof(make_proof(entry.raw, n, LEAVES, note), [LOG])

        assert (proven.entry, proven.index) == (entry.raw, n)
    assert "anything after that checkpoint" in proven.sentence


def test_a_certificate_is_the_one_that_was_issued_to_the_last_byte():
    pdf = b"%PDF-1.7 finished page"
    body = {"certificate": "KBW-2031-014", "pdf_sha256": hashlib.sha256(pdf).hexdigest()}
    whole = record([*released(), fact(40, "certificate.issued", "bench", body)])
    leaves = [leaf_hash(entry.raw) for entry in whole.entries]
    note = make_checkpoint(ORIGIN, leaves, SEED)
    proof = make_proof(whole.entries[-1].raw, len(leaves) - 1, leaves, note)

    assert check_certificate(pdf, proof, [LOG]).event["body"]["certificate"] == "KBW-2031-014"
    for bad in flips(pdf):
        with pytest.raises(RecordBroken, match="bytes have changed"):
            check_certificate(bad, proof, [LOG])
    with pytest.raises(RecordBroken, match="not a certificate"):
        check_certificate(pdf, make_proof(whole.entries[0].raw, 0, leaves, note), [LOG])


def test_nobody_elses_key_is_enough():
    note = make_checkpoint(ORIGIN, LEAVES, SEED)

    with pytest.raises(RecordBroken, match="No key that is trusted"):
        open_checkpoint(note, [key_of(ORIGIN, OTHER)])
    with pytest.raises(RecordBroken):
        open_checkpoint(note, [])
    with pytest.raises(RecordBroken, match="not known here"):
        open_checkpoint(cosign(note, EYE.name, WITNESS_SEED, time_s=5), [LOG], all_known=True)


def test_a_known_key_under_a_bad_signature_spoils_the_whole_note():
    note = make_checkpoint(ORIGIN, LEAVES, SEED)
    lie = f"— {ORIGIN} {base64.b64encode(LOG.id + bytes(64)).decode()}\n"

    with pytest.raises(RecordBroken):
        open_note(note + lie, [LOG])
    with pytest.raises(RecordBroken, match="two signatures"):
        open_note(note + note.rsplit("\n\n", 1)[1], [LOG])


@pytest.mark.parametrize("text", ["", "a\n", "a\n1\n", "a\n01\nAA==\n", "a\n1\nAA==\n", "\n1\n" + "A" * 43 + "=\n",
                                  "a\n-1\n" + "A" * 43 + "=\n", "a\n1\n" + "A" * 43 + "=\nmore\n",
                                  "a\n1\n" + "A" * 42 + "B=\n"])
def test_what_is_no_checkpoint_is_refused(text):
    with pytest.raises(Unreadable):
        read_checkpoint(text)


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
@tries(300)
def test_no_input_at_all_ends_in_a_traceback(raw):
    for call in (lambda: open_note(raw, [LOG]), lambda: check_proof(raw, [LOG]), lambda: open_checkpoint(raw, [LOG]),
                 lambda: check_proof(b"c2sp.org/tlog-proof@v1\nextra \nindex 0\n\n" + raw, [LOG]),
                 lambda: read_key(raw.decode("utf-8", "replace"))):
        with pytest.raises(BenchError):
            call()


def test_a_key_name_with_a_space_or_plus_is_refused():
    for name in ("a b", "a+b", "", "a\u2003b"):
        with pytest.raises(Unreadable):
            NoteKey(name, bytes(32))
