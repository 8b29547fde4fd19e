"""Keys on paper, keys changed by two people, witnesses, claims, and persons' signatures."""

import base64
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, Missing, OutOfRange, RecordBroken, Unreadable
from soundedge.record.checkpoint import Checkpoint, make_checkpoint, open_checkpoint
from soundedge.record.claim import CLAIM_MAX_BYTES, make_claim, read_claim
from soundedge.record.entry import NOBODY_BEFORE, placed, recorded_text, statement
from soundedge.record.keys import key_of, paper_copy, read_paper_copy, read_secret, secret_text
from soundedge.record.rotation import SHOP, keys_of
from soundedge.record.sign import key_id, public_of, sign_event
from soundedge.record.tree import consistency, leaf_hash, root
from soundedge.record.verify import verify
from soundedge.record.witness import Forked, RolledBack, compare, disagree, witness
from soundedge.record.write import document

from ..tries import tries
from .jobs import NOW, fact, record, released

SEED, NEXT = bytes(range(32)), bytes(range(5, 37))
ORIGIN = "kelderbeck-basin.example/ledger"
PEOPLE = {"tobias": bytes([7]) * 32, "amara": bytes([9]) * 32, "ines": bytes([11]) * 32}
PUBLIC = {key_id(public_of(seed)): public_of(seed) for seed in PEOPLE.values()}


def chained(job, steps):
    """Entries, signed by whom a step names: (fact, seed or None)."""
    out = []
    for said, seed in steps:
        prev = out[-1].digest if out else NOBODY_BEFORE
        sig = sign_event(seed, job, said, prev=prev) if seed else None
        out.append(placed(statement(job, said), no=len(out) + 1, prev=prev, recorded_at=recorded_text(NOW), sig=sig))
    return out


# ---------------------------------------------------------------- paper


def test_a_key_comes_back_from_paper_with_spaces_and_capitals_as_people_type_them():
    text = paper_copy(ORIGIN, SEED)
    typed = "\n".join(f"  {line.upper() if line[0].isdigit() else line}  " for line in text.splitlines())

    assert read_paper_copy(text) == read_paper_copy(typed) == (ORIGIN, SEED)


def test_a_slip_in_a_line_is_named_by_its_number():
    """A single wrong digit is caught by the line's check in 255 of 256 cases, and by the fingerprint in all."""
    lines = paper_copy(ORIGIN, SEED).splitlines()
    named = 0
    for row in range(1, 5):
        for spot in range(3, 19):
            for digit in "0123456789abcdef":
                if digit != lines[row][spot]:
                    bad = list(lines)
                    bad[row] = lines[row][:spot] + digit + lines[row][spot + 1 :]
                    with pytest.raises(Unreadable) as caught:
                        read_paper_copy("\n".join(bad))
                    named += f"Line {row} " in caught.value.message
    assert named >= 940  # of 960

    with pytest.raises(Missing, match="line 3"):
        read_paper_copy("\n".join(lines[:3] + lines[4:]))
    with pytest.raises(BenchError):
        read_paper_copy("")


def test_a_secret_line_never_shows_in_an_error():
    text = secret_text(ORIGIN, SEED)
    bad = text[:-4] + "AAAA"

    assert read_secret(text) == (ORIGIN, SEED, 1)
    for wrong in (bad, text.replace(ORIGIN, "other"), "x", ""):
        with pytest.raises(Unreadable) as caught:
            read_secret(wrong)
        assert base64.b64encode(b"\1" + SEED).decode()[:12] not in caught.value.message


# ---------------------------------------------------------------- persons


def test_a_signature_holds_over_the_job_as_the_signer_saw_it():
    facts = released()
    entries = chained("KBW-2031-014", [(said, PEOPLE["tobias"] if said.by == "tobias" else None) for said in facts])
    held = verify(document(entries), keys=PUBLIC)

    assert held.signed == held.signatures_checked == sum(said.by == "tobias" for said in facts)
    assert f"{held.signed} of {held.signed} signatures" in held.sentence and held.signed >= 7
    assert verify(document(entries)).signatures_checked == 0


def rewritten(entries, change):
    """The owner changes one event and chains everything after it anew, keeping the signatures that are there."""
    import hashlib
    import json
    from dataclasses import replace

    from soundedge.record.canonical import canonical

    out, prev = [], NOBODY_BEFORE
    for entry in entries:
        raw = canonical(change(json.loads(entry.raw)) | {"prev": prev})
        prev = hashlib.sha256(raw).hexdigest()
        out.append(replace(entry, raw=raw))
    return document(out)


@pytest.mark.parametrize("target", range(21))
def test_changing_anything_before_a_signature_breaks_the_signature(target):
    """The whole chain is written anew, so only the signatures can tell: they do, for every event before the last one."""
    entries = chained("KBW-2031-014",
                      [(said, PEOPLE["tobias"] if said.kind.endswith("signed") else None) for said in released()])

    forged = rewritten(entries, lambda e: e | {"body": e["body"] | {"lie": "1"}} if e["no"] == target + 1 else e)

    assert verify(forged).events == 23
    with pytest.raises(RecordBroken, match="signature is not that of key"):
        verify(forged, keys=PUBLIC)


def test_every_bit_of_a_signature_counts():
    entries = chained("J", [(fact(1, "release.signed", "tobias", {"meaning": "released"}), PEOPLE["tobias"])])
    value = base64.b64decode(entries[0].sig["value"])
    for bit in range(512):
        bad = base64.b64encode((int.from_bytes(value, "big") ^ (1 << bit)).to_bytes(64, "big")).decode()
        forged = rewritten(entries, lambda e, bad=bad: e | {"sig": e["sig"] | {"value": bad}})
        with pytest.raises(RecordBroken):
            verify(forged, keys=PUBLIC)


def test_a_signature_has_one_form_in_text():
    """Base64 of 64 bytes leaves four spare bits in its last character; a second spelling of the same bytes is refused."""
    entries = chained("J", [(fact(1, "release.signed", "tobias", {"meaning": "released"}), PEOPLE["tobias"])])
    good = entries[0].sig["value"]
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
    other = good[:85] + letters[letters.index(good[85]) ^ 1] + "=="

    assert base64.b64decode(other) == base64.b64decode(good) and other != good
    for value in (other, good.rstrip("="), good + "\n", good[:-2] + "= ="):
        with pytest.raises(BenchError):
            verify(rewritten(entries, lambda e, value=value: e | {"sig": e["sig"] | {"value": value}}), keys=PUBLIC)


# ---------------------------------------------------------------- rotation


def rotation(first="tobias", second="amara", because="Old key left in a stolen tablet", **change):
    old, new = key_of(ORIGIN, SEED).text, key_of(ORIGIN, NEXT).text
    created = fact(1, "key.created", "bench", {"key": old})
    asked = fact(2, "key.rotation_proposed", first, {"old": old, "new": new, "because": because})
    steps = chained(SHOP, [(created, None), (asked, PEOPLE[first])])
    said = fact(3, "key.rotated", second, {"proposal": asked.id, "proposal_digest": steps[1].digest, "old": old, "new": new}
                | change)
    return chained(SHOP, [(created, None), (asked, PEOPLE[first]), (said, PEOPLE[second])])


def test_two_persons_change_the_key_and_the_old_one_stays_good_for_what_it_signed():
    entries = rotation()
    verify(document(entries), keys=PUBLIC)
    keys = keys_of(entries, PUBLIC)

    assert [(k.key, k.no) for k in keys] == [(key_of(ORIGIN, SEED), 1), (key_of(ORIGIN, NEXT), 3)]
    assert keys[1].by == ("tobias", "amara")
    old_note = make_checkpoint(ORIGIN, [leaf_hash(b"1")], SEED)
    assert open_checkpoint(old_note, [k.key for k in keys])[0].size == 1


@pytest.mark.parametrize(
    "entries, said",
    [
        (rotation(second="tobias"), "a second person must"),
        (rotation(because="because"), "no reason"),
        (rotation(new=key_of(ORIGIN, bytes(32)).text), "other keys"),
        (rotation(proposal="e9"), "not there before"),
        (rotation(proposal_digest="0" * 64), "not there before"),
        (rotation(old="x"), "other keys"),
    ],
)
def test_a_key_that_one_person_changed_does_not_count(entries, said):
    with pytest.raises(RecordBroken, match=said):
        keys_of(entries, PUBLIC)


def test_one_person_with_two_keys_is_still_one_person():
    old, new = key_of(ORIGIN, SEED).text, key_of(ORIGIN, NEXT).text
    asked = fact(2, "key.rotation_proposed", "tobias", {"old": old, "new": new, "because": "Old key left in a stolen tablet"})
    steps = [(fact(1, "key.created", "bench", {"key": old}), None), (asked, PEOPLE["tobias"])]
    body = {"proposal": asked.id, "proposal_digest": chained(SHOP, steps)[1].digest, "old": old, "new": new}

    with pytest.raises(RecordBroken, match="a second person must"):
        keys_of(chained(SHOP, [*steps, (fact(3, "key.rotated", "tobias", body), PEOPLE["amara"])]), PUBLIC)
    with pytest.raises(RecordBroken, match="a second person must"):
        keys_of(chained(SHOP, [*steps, (fact(3, "key.rotated", "amara", body), PEOPLE["tobias"])]), PUBLIC)


def test_an_unsigned_rotation_or_a_second_first_key_does_not_count():
    old, new = key_of(ORIGIN, SEED).text, key_of(ORIGIN, NEXT).text
    body = {"old": old, "new": new, "because": "Old key left in a stolen tablet"}
    first = (fact(1, "key.created", "bench", {"key": old}), None)
    for steps, said in (
        ([first, (fact(2, "key.created", "bench", {"key": new}), None)], "has a"),
        ([first, (fact(2, "key.rotation_proposed", "ines", body), None)], "signed"),
        ([(fact(1, "key.created", "bench", {"key": "junk"}), None)], "not a key"),
    ):
        with pytest.raises(RecordBroken, match=said):
            keys_of(chained(SHOP, steps), PUBLIC)
    with pytest.raises(RecordBroken, match="nobody's here"):
        keys_of(rotation(), {})


# ---------------------------------------------------------------- witness


def leaves(count, fork=None):
    return [leaf_hash(f"{'x' if n == fork else ''}{n}".encode()) for n in range(count)]


def seen(count, fork=None):
    return Checkpoint(ORIGIN, count, root(leaves(count, fork)))


def test_a_log_that_only_grew_is_said_to_be_unchanged_and_by_whom():
    said = compare(leaves(50), [("tablet 3", seen(20)), ("certificate KBW-2031-014", seen(41))])

    assert said == "Unchanged up to entry 41 of 50, seen by certificate KBW-2031-014, tablet 3."
    assert "No witness" in compare(leaves(5), [])


@pytest.mark.parametrize("cut", range(1, 51))
def test_every_cut_tail_and_every_restored_older_copy_is_rolled_back(cut):
    with pytest.raises(RolledBack, match=f"holds {50 - cut} entries; tablet 3 has seen 50"):
        compare(leaves(50 - cut), [("printed", seen(min(10, 50 - cut))), ("tablet 3", seen(50))])


def test_every_event_changed_before_a_checkpoint_is_a_fork():
    for changed in range(30):
        with pytest.raises(Forked, match="first 30 entries"):
            compare(leaves(50, fork=changed), [("tablet 3", seen(30))])
    assert "Unchanged up to entry 30" in compare(leaves(50, fork=30), [("tablet 3", seen(30))])


def test_a_witness_signs_a_continuation_and_keeps_it():
    old = make_checkpoint(ORIGIN, leaves(5), SEED)
    kept, first = witness(None, old, [], [key_of(ORIGIN, SEED)], name="tablet-3", seed=NEXT, time_s=1)
    new = make_checkpoint(ORIGIN, leaves(12), SEED)
    kept, second = witness(kept, new, consistency(leaves(12), 5), [key_of(ORIGIN, SEED)], name="tablet-3", seed=NEXT, time_s=2)

    assert kept.size == 12
    assert [s.time_s for s in open_checkpoint(second, [key_of("tablet-3", NEXT, 4)])[1].signed] == [2]
    assert first != old


@pytest.mark.parametrize(
    "now, proof, fault",
    [(leaves(3), [], RolledBack), (leaves(12, fork=2), consistency(leaves(12, fork=2), 5), Forked),
     (leaves(5, fork=1), [], Forked), (leaves(12), [], Forked)],
)
def test_a_witness_does_not_sign_what_does_not_continue(now, proof, fault):
    with pytest.raises(fault):
        witness(seen(5), make_checkpoint(ORIGIN, now, SEED), proof, [key_of(ORIGIN, SEED)], name="t", seed=NEXT, time_s=1)


def test_two_logs_shown_to_two_people_are_found_when_they_compare():
    assert disagree(seen(5), seen(5, fork=1))
    assert not disagree(seen(5), seen(5)) and not disagree(seen(5), seen(6))


# ---------------------------------------------------------------- claim


def claim(**change):
    words = {"certificate": "KBW-2031-014-A", "part": "MC-7 mixer cover", "verdict": "released", "date": "2031-05-04",
             "released_by": "Tobias Renn", "record": record().digest} | change
    return make_claim(seen(4712 % 50), SEED, **words)


def test_a_claim_is_read_back_and_fits_a_code_below_40_mm():
    import segno

    text = claim()
    got = read_claim(text, [key_of(ORIGIN, SEED)])
    code = segno.make(text, error="m", micro=False, boost_error=False)
    modules = code.symbol_size()[0]  # with the margin of four modules on each side

    assert (got.certificate, got.part, got.released_by) == ("KBW-2031-014-A", "MC-7 mixer cover", "Tobias Renn")
    assert got.record.hex() == record().digest[:32]
    assert "Compare each of these with the paper" in got.sentence
    assert modules * 0.5 <= 40.0, modules


def test_the_longest_claim_still_fits():
    import segno

    longest = claim(part="M" * (CLAIM_MAX_BYTES - len(claim()) + len("MC-7 mixer cover")))

    assert len(longest) == CLAIM_MAX_BYTES
    assert segno.make(longest, error="m", micro=False, boost_error=False).symbol_size()[0] * 0.5 <= 40.0
    with pytest.raises(OutOfRange):
        claim(part="M" * 200)


def test_every_bit_of_a_claim_counts():
    raw = claim().encode()
    for spot in range(len(raw)):
        for bit in range(8):
            bad = bytearray(raw)
            bad[spot] ^= 1 << bit
            with pytest.raises(BenchError):
                read_claim(bytes(bad).decode("latin-1"), [key_of(ORIGIN, SEED)])


def test_a_claim_of_another_shop_or_with_a_bar_is_refused():
    with pytest.raises(RecordBroken):
        read_claim(claim(), [key_of(ORIGIN, NEXT)])
    for bad in ({"part": "a|b"}, {"part": ""}, {"part": "a\nb"}):
        with pytest.raises(Unreadable):
            claim(**bad)


@given(st.text(max_size=300))
@tries(200)
def test_no_text_at_all_ends_in_a_traceback(text):
    for call in (lambda: read_claim(text, [key_of(ORIGIN, SEED)]), lambda: read_claim("SE1|" + text, []),
                 lambda: read_paper_copy(text), lambda: read_secret(text)):
        with pytest.raises(BenchError):
            call()


def test_random_swaps_of_two_claims_never_hold():
    """Two good certificates of one shop; any mixture of their parts is refused."""
    dice = random.Random(5)
    one, two = claim().split("|"), claim(certificate="KBW-2031-027", part="DN-2 nozzle", released_by="Edda Voss",
                                         record=record(job="KBW-2031-027").digest).split("|")
    for _ in range(200):
        mixed = [dice.choice(pair) for pair in zip(one, two, strict=True)]
        if mixed not in (one, two):
            with pytest.raises(RecordBroken):
                read_claim("|".join(mixed), [key_of(ORIGIN, SEED)])
