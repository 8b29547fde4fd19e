"""Is every touched byte of a signed certificate noticed, by us and by a reader that is not ours?"""

import asyncio
import io
import random
import re
from datetime import UTC, datetime, timedelta, timezone

import pytest

from soundedge.basis.errors import BenchError, Contradiction, OutOfRange, Unreadable
from soundedge.report import sign
from soundedge.report.certificate import certificate_pdf
from soundedge.report.sign import SigningKey, check_pdf, fingerprint, make_key, sign_pdf

from ..tries import share
from . import looking, sample

AT = datetime(2031, 5, 5, 9, 41, tzinfo=UTC)
REASON = "Release of KBW-2031-014-A"


@pytest.fixture(scope="module")
def key():
    return make_key("Kelderbeck Basin Works lining shop", valid_from=datetime(2025, 1, 1, tzinfo=UTC))


@pytest.fixture(scope="module")
def page():
    return certificate_pdf(sample.certificate(), {"record.json": sample.RECORD})


@pytest.fixture(scope="module")
def signed(page, key):
    return sign_pdf(page, key, at=AT, reason=REASON)


def test_a_signed_certificate_holds(signed, key):
    seen = check_pdf(signed, key.certificate_pem)

    assert seen.holds and seen.by_that_key and seen.to_the_last_byte and seen.no_changes_allowed
    assert (seen.name, seen.reason, seen.at) == ("Kelderbeck Basin Works lining shop", REASON, AT)
    assert seen.fingerprint == fingerprint(key.certificate_pem)
    assert seen.sentence == "Unchanged since Kelderbeck Basin Works lining shop signed it with the given key."


def test_another_reader_finds_it_valid_over_the_whole_file(signed):
    """poppler's pdfsig: a second implementation, from Debian."""
    _, said, _ = looking.run(signed, "pdfsig", "-nocert", "FILE")

    assert "Signature Validation: Signature is Valid." in said
    assert "Total document signed" in said and "Not total document signed" not in said
    assert "Signature Type: ETSI.CAdES.detached" in said
    assert "Signing Hash Algorithm: SHA-256" in said


def test_signing_adds_to_the_file_and_changes_nothing_of_it(page, signed):
    assert signed.startswith(page)
    assert signed.startswith(b"%PDF-1.7")
    assert b"/Version" not in signed[len(page) :]
    assert looking.attached(signed) == {"record.json": sample.RECORD}
    assert looking.metadata(signed) == looking.metadata(page)
    assert looking.text_of(signed) == looking.text_of(page)
    assert looking.whole(signed)[0]
    assert all(embedded == "yes" for _, embedded in looking.fonts_of(signed))


def test_nothing_on_the_printed_page_changes(page, signed):
    before, after = looking.printed(page, dots=40), looking.printed(signed, dots=40)

    assert [p.tobytes() for p in before] == [p.tobytes() for p in after]


def test_the_same_page_key_moment_and_words_give_the_same_bytes(page, signed, key):
    east = timezone(timedelta(hours=9))

    assert sign_pdf(page, key, at=AT, reason=REASON) == signed
    assert sign_pdf(page, key, at=AT.astimezone(east), reason=REASON) == signed
    assert sign_pdf(page, key, at=AT, reason=REASON + ".") != signed
    assert sign_pdf(page, key, at=AT + timedelta(seconds=1), reason=REASON) != signed


def flipped(data, place, bit=0):
    return data[:place] + bytes([data[place] ^ (1 << bit)]) + data[place + 1 :]


def test_one_flipped_byte_of_the_page_is_reported_by_both_readers(signed, key):
    broken = flipped(signed, len(signed) // 3)

    assert not check_pdf(broken, key.certificate_pem).holds
    _, said, err = looking.run(broken, "pdfsig", "-nocert", "FILE")
    assert "Signature is Valid" not in said, err


@pytest.mark.slow
def test_no_flipped_bit_anywhere_goes_unseen(signed, key):
    """For a release 150 places over the whole file, 150 inside the signature's own container, which no signature covers."""
    rng = random.Random(20310505)
    hole = re.search(rb"/Contents <([0-9a-fA-F]+)>", signed)
    places = [rng.randrange(5, len(signed)) for _ in range(share(150))]
    places += [rng.randrange(hole.start(1), hole.end(1)) for _ in range(share(150))]

    unseen = [
        place
        for place in places
        if (seen := check_pdf(flipped(signed, place, rng.randrange(8)), key.certificate_pem)).holds
        and seen.to_the_last_byte
    ]

    assert unseen == []


def test_a_padding_byte_in_the_hole_is_seen_although_the_signature_still_verifies(signed, key):
    hole = re.search(rb"/Contents <([0-9a-fA-F]+?)(0{40,})>", signed)
    touched = flipped(signed, hole.end(2) - 3)

    seen = check_pdf(touched, key.certificate_pem)

    assert not (seen.holds and seen.to_the_last_byte)


@pytest.mark.parametrize("tail", [b"\n", b"\n% a remark\n", b"\x00"])
def test_bytes_added_at_the_end_are_seen(signed, key, tail):
    assert not check_pdf(signed + tail, key.certificate_pem).holds


def test_an_update_appended_by_the_rules_of_the_format_is_seen(signed, key):
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(signed))
    writer.root["/PageMode"] = writer.root["/Type"]
    writer.update_root()
    out = io.BytesIO()
    writer.write(out)

    seen = check_pdf(out.getvalue(), key.certificate_pem)

    assert seen.signed and not seen.holds
    assert seen.sentence == "Something was added to the file after it was signed."


def test_the_end_cut_off_is_no_signature(page, signed, key):
    assert not check_pdf(page, key.certificate_pem).holds
    assert check_pdf(page).sentence == "The file carries no signature."
    assert not check_pdf(signed[:-300], key.certificate_pem).holds


def test_a_file_signed_with_another_key_under_the_same_name_is_told_apart(page, key):
    other = make_key("Kelderbeck Basin Works lining shop", valid_from=datetime(2025, 1, 1, tzinfo=UTC))

    seen = check_pdf(sign_pdf(page, other, at=AT, reason=REASON), key.certificate_pem)

    assert seen.intact and seen.by_that_key is False and not seen.holds
    assert fingerprint(other.certificate_pem) in seen.sentence


def test_without_a_known_key_the_answer_says_what_must_be_compared(signed, key):
    seen = check_pdf(signed)

    assert seen.holds and seen.by_that_key is None
    assert f"the key {fingerprint(key.certificate_pem)}, which you must know by another way" in seen.sentence


def test_the_key_is_what_it_is_said_to_be(key):
    """Read by another library than the one that signs."""
    from cryptography import x509

    certificate = x509.load_pem_x509_certificate(key.certificate_pem)

    assert certificate.public_key().key_size == 3072
    assert certificate.not_valid_after_utc - certificate.not_valid_before_utc == timedelta(days=3652)
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert usage.digital_signature and usage.content_commitment and not usage.key_cert_sign
    certificate.verify_directly_issued_by(certificate)


@pytest.mark.parametrize("years, name", [(0, "shop"), (31, "shop"), (10, ""), (10, "x" * 65), (10, "a\nb")])
def test_a_key_that_makes_no_sense_is_refused(years, name):
    with pytest.raises((OutOfRange, Unreadable)):
        make_key(name, valid_from=datetime(2025, 1, 1, tzinfo=UTC), years=years)


def test_what_cannot_be_signed_is_refused_by_name(page, signed, key):
    for pdf, at, chosen, kind in (
        (signed, AT, key, Contradiction),
        (b"no pdf", AT, key, Unreadable),
        (page, datetime(2024, 1, 1, tzinfo=UTC), key, Contradiction),
        (page, datetime(2036, 1, 1, tzinfo=UTC), key, Contradiction),
        (page, datetime(2031, 1, 1), key, Unreadable),
        (page, AT, SigningKey(b"nonsense", key.certificate_pem), Unreadable),
        (page, AT, SigningKey(key.key_pem, b"nonsense"), Unreadable),
        (page, AT, SigningKey(key.key_pem, key.key_pem), Unreadable),
        (page, AT, SigningKey(key.key_pem, make_key("x", valid_from=AT).certificate_pem), Contradiction),
    ):
        with pytest.raises(BenchError) as refused:
            sign_pdf(pdf, chosen, at=at, reason=REASON)
        assert isinstance(refused.value, kind), refused.value.message


def test_what_is_no_pdf_is_refused_and_a_broken_one_proves_nothing(key):
    with pytest.raises(Unreadable):
        check_pdf(b"PK\x03\x04", key.certificate_pem)
    seen = check_pdf(b"%PDF-1.7 and then nothing", key.certificate_pem)
    assert not seen.holds and "nothing is proved" in seen.sentence


def test_words_in_other_letters_come_back_as_they_were(page, key):
    seen = check_pdf(
        sign_pdf(page, key, at=AT, reason="Freigabe: geprüft, µm & (Klammern)", name="Łódź\\lining"),
        key.certificate_pem,
    )

    assert seen.holds and seen.to_the_last_byte
    assert (seen.reason, seen.name) == ("Freigabe: geprüft, µm & (Klammern)", "Łódź\\lining")


def test_inside_a_running_event_loop_the_same_is_signed_and_found(page, signed, key):
    async def in_a_loop():
        return sign_pdf(page, key, at=AT, reason=REASON), check_pdf(signed, key.certificate_pem), check_pdf(signed[:-9])

    again, seen, cut = asyncio.run(in_a_loop())

    assert again == signed and seen.holds and seen.to_the_last_byte and not cut.holds


@pytest.mark.parametrize("fault", [MemoryError(), OSError("disk"), RuntimeError("can't start new thread"), ImportError("x")])
def test_what_the_machine_could_not_do_is_not_said_of_the_file(signed, monkeypatch, fault):
    def failing(*_):
        raise fault

    monkeypatch.setattr(sign, "_looked_at", failing)
    with pytest.raises(type(fault)):
        check_pdf(signed)


def test_hundreds_of_damaged_pages_are_answered_and_none_holds(page, signed):
    """Bytes changed, cut, doubled and put in, most of them near the signature: whatever the parser raises, an answer."""
    chance = random.Random(17)
    words = b"0 -1 99999999999999999999 << >> [ null /Type () 1 0 R endobj stream".split(b" ")
    for _ in range(share(1500)):
        broken = bytearray(signed)
        low = len(page) - 3000 if chance.random() < 0.6 else 0
        here = chance.randrange(low, len(broken))
        match chance.randrange(4):
            case 0:
                for _ in range(chance.randint(1, 12)):
                    broken[chance.randrange(low, len(broken))] ^= chance.randint(1, 255)
            case 1:
                del broken[here : here + chance.randint(1, 400)]
            case 2:
                there = chance.randrange(low, len(broken))
                broken[here:here] = broken[there : there + chance.randint(1, 400)] or b"0"
            case _:
                broken[here : here + chance.randint(0, 6)] = chance.choice(words) + b" "

        seen = check_pdf(bytes(broken)) if bytes(broken) != signed else None
        assert seen is None or not (seen.holds and seen.to_the_last_byte)
