"""Has this certificate been touched since the shop's key signed it?

One signature over the whole file, PAdES baseline B-B (ETSI EN 319 142-1), by an RSA-3072 key with a certificate the
shop makes itself; certified with "no changes" (ISO 32000-1, 12.8.2.2, DocMDP level 1). The field is invisible: the page
already prints who released and why. The header stays PDF 1.7, as PDF/A-3 wants it; an elliptic-curve key would
have raised it to 2.0.

What it shows: the bytes are those the holder of the key signed. What it does not show: whose key that is. The
fingerprint has to be known by another way.

A PDF signature cannot cover the container it stands in: there are bytes there that no reader checks. Signing here
depends on nothing but the page, the key, the moment and the words, so ``check_pdf`` builds the file once more from
what it says of itself, and compares every byte.

No clock is read here. Making a key draws on the system's randomness; signing does not.
"""

from __future__ import annotations

import asyncio
import hashlib
import io
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any, TypeVar

from ..basis.errors import Contradiction, OutOfRange, Unreadable
from ..basis.sentences import say

FIELD = "Release"
KEY_BITS = 3072

T = TypeVar("T")


@dataclass(frozen=True)
class SigningKey:
    """A private key and its self-made certificate, both PEM. Keep the key where nobody else can read it."""

    key_pem: bytes
    certificate_pem: bytes


@dataclass(frozen=True)
class SignatureCheck:
    """What one look at a file showed. ``holds`` is the whole answer; the rest says why.

    ``intact``: the signed bytes are the signed ones. ``whole_file``: nothing was added after the signature.
    ``by_that_key``: the certificate inside is the one that was given (None when none was given).
    ``to_the_last_byte``: the file built once more is the same file; False also when another version of the
    program signed it.
    """

    signed: bool
    readable: bool = True
    intact: bool = False
    whole_file: bool = False
    no_changes_allowed: bool = False
    by_that_key: bool | None = None
    to_the_last_byte: bool = False
    name: str = ""
    reason: str = ""
    at: datetime | None = None
    fingerprint: str = ""

    @property
    def holds(self) -> bool:
        """Signed, intact, nothing added, and by the given key when one was given."""
        return self.signed and self.intact and self.whole_file and self.by_that_key is not False

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        if not self.readable:
            return "The file is broken; what it says of its signature cannot be read, so nothing is proved."
        if not self.signed:
            return "The file carries no signature."
        if not self.intact:
            return "The file is not the one that was signed: its signed bytes have changed."
        if not self.whole_file:
            return "Something was added to the file after it was signed."
        if self.by_that_key is False:
            return f"The file was signed by another key than the given one: {self.fingerprint}."
        tail = "" if self.to_the_last_byte else (
            " Its signature container is not as this version writes it; that changes nothing on the page."
        )
        whose = "the given key" if self.by_that_key else f"the key {self.fingerprint}, which you must know by another way"
        return f"Unchanged since {self.name} signed it with {whose}.{tail}"


def make_key(name: str, *, valid_from: datetime, years: int = 10) -> SigningKey:
    """A new RSA-3072 key with a self-made certificate for signing documents.

    Parameters
    ----------
    name : str
        Who signs, as the certificate is to name them (the shop, not a person): 1 to 64 characters.
    valid_from : datetime
        With its time zone.
    years : int
        1 to 30.

    Raises
    ------
    Unreadable, OutOfRange
        A name that is empty or too long, a moment without a zone, a span out of range.
    """
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import rsa
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    if not 1 <= len(name.strip()) <= 64 or not name.isprintable():
        raise Unreadable("name", say("report.name_not_for_certificate", name=name[:64]))
    if valid_from.tzinfo is None:
        raise Unreadable("valid_from", say("report.key_start_without_zone"))
    if not 1 <= years <= 30:
        raise OutOfRange("years", say("report.key_years", years=years))
    key = rsa.generate_private_key(public_exponent=65537, key_size=KEY_BITS)
    who = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name.strip())])
    own_id = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    certificate = (
        x509.CertificateBuilder()
        .subject_name(who)
        .issuer_name(who)
        .public_key(key.public_key())
        .serial_number(int.from_bytes(own_id.digest[:16], "big") >> 1)
        .not_valid_before(valid_from.astimezone(UTC))
        .not_valid_after(valid_from.astimezone(UTC) + timedelta(days=round(365.25 * years)))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(own_id, critical=False)
        .add_extension(
            x509.KeyUsage(
                digital_signature=True, content_commitment=True, key_encipherment=False, data_encipherment=False,
                key_agreement=False, key_cert_sign=False, crl_sign=False, encipher_only=False, decipher_only=False,
            ),
            critical=True,
        )
        # RFC 9336: a certificate for signing documents that people read
        .add_extension(
            x509.ExtendedKeyUsage([x509.ObjectIdentifier("1.3.6.1.5.5.7.3.36"), ExtendedKeyUsageOID.EMAIL_PROTECTION]),
            critical=False,
        )
        .sign(key, hashes.SHA256())
    )
    return SigningKey(
        key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        ),
        certificate.public_bytes(serialization.Encoding.PEM),
    )


def fingerprint(certificate_pem: bytes) -> str:
    """SHA-256 of the certificate, as people compare it: 16 groups of four."""
    return _grouped(_certificate(certificate_pem).dump())


def sign_pdf(pdf: bytes, key: SigningKey, *, at: datetime, reason: str, name: str = "") -> bytes:
    """The file with one signature over all of it. Same file, key, moment and words: same bytes.

    Parameters
    ----------
    pdf : bytes
        A page from ``certificate_pdf``; unsigned.
    key : SigningKey
    at : datetime
        The moment of signing, with its zone; it must lie in the key's span.
    reason : str
        What the signature means, in words.
    name : str
        Who signs; the certificate's own name when left out.

    Raises
    ------
    Unreadable
        Not a PDF, or not a key of this kind.
    Contradiction
        Signed already; a key that does not belong to the certificate; a moment outside the key's span.
    """
    certificate, private = _certificate(key.certificate_pem), _private(key.key_pem)
    if at.tzinfo is None:
        raise Unreadable("at", say("report.signing_time_without_zone"))
    first, last = certificate.not_valid_before, certificate.not_valid_after
    if not first <= at <= last:
        raise Contradiction("at", say("report.key_not_valid_then", first=first, last=last, at=at))
    from cryptography.hazmat.primitives import serialization

    theirs = private.public_key().public_bytes(
        serialization.Encoding.DER, serialization.PublicFormat.SubjectPublicKeyInfo
    )
    if theirs != certificate.public_key.dump():
        raise Contradiction("key", say("report.key_and_certificate_differ"))
    if _signatures(pdf):
        raise Contradiction("pdf", say("report.pdf_already_signed"))
    signer = _with_key(certificate, private)
    moment, whose = at.astimezone(UTC).replace(microsecond=0), name or _common_name(certificate)
    return _away_from_loops(_signed, pdf, signer, moment, reason, whose)


def check_pdf(pdf: bytes, certificate_pem: bytes | None = None) -> SignatureCheck:
    """Look at the first signature of a file.

    Never an exception for a broken file that still begins like a PDF: a file that cannot be read is a file whose
    signature does not hold.

    Raises
    ------
    Unreadable
        The bytes are not a PDF at all, or the given certificate is none.
    MemoryError, OSError, RuntimeError
        The machine could not look; nothing is said of the file.
    """
    if not pdf.startswith(b"%PDF-"):
        raise Unreadable("pdf", say("report.not_a_pdf"))
    given = _certificate(certificate_pem) if certificate_pem is not None else None
    try:
        return _away_from_loops(_looked_at, pdf, given)
    except (RecursionError, NotImplementedError):
        return SignatureCheck(signed=False, readable=False)
    except (ImportError, MemoryError, OSError, RuntimeError):  # of this machine or program; it says nothing of the file
        raise
    except Exception:  # a parser of broken bytes may raise almost anything else; whatever it is, nothing is proved
        return SignatureCheck(signed=False, readable=False)


def _away_from_loops(work: Callable[..., T], *given: Any) -> T:
    """pyHanko runs an event loop of its own, which a thread that is running one refuses: then another thread does it."""
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return work(*given)
    with ThreadPoolExecutor(1) as one:
        return one.submit(work, *given).result()


def _looked_at(pdf: bytes, given: Any) -> SignatureCheck:
    from pyhanko.sign.fields import MDPPerm
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    found = _signatures(pdf)
    if not found:
        return SignatureCheck(signed=False)
    inside = found[0]
    at, reason, name = _words(inside)
    certificate = inside.signer_cert
    status = validate_pdf_signature(
        inside,
        signer_validation_context=ValidationContext(
            trust_roots=[certificate], allow_fetching=False, moment=at, best_signature_time=at, revocation_mode="soft-fail"
        ),
    )
    whole = (
        len(found) == 1
        and status.coverage == SignatureCoverageLevel.ENTIRE_FILE
        and inside.byte_range[0] == 0
        and inside.byte_range[2] + inside.byte_range[3] == len(pdf)
    )
    intact = bool(status.intact and status.valid and status.trusted)
    return SignatureCheck(
        signed=True,
        intact=intact,
        whole_file=bool(whole),
        no_changes_allowed=inside.docmdp_level == MDPPerm.NO_CHANGES,
        by_that_key=None if given is None else given.dump() == certificate.dump(),
        to_the_last_byte=intact and bool(whole) and _built_again(pdf, inside, at, reason, name) == pdf,
        name=name,
        reason=reason,
        at=at,
        fingerprint=_grouped(certificate.dump()),
    )


def _built_again(pdf: bytes, inside: Any, at: datetime, reason: str, name: str) -> bytes | None:
    """The signed file as it must be, from the page before signing and the one number only the key can make."""
    from pyhanko.sign.signers import ExternalSigner
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    end = pdf.rfind(b"%%EOF", 0, inside.byte_range[1])
    if end < 0:
        return None
    value = inside.signer_info["signature"].native
    signer = ExternalSigner(
        signing_cert=inside.signer_cert, cert_registry=SimpleCertificateStore.from_certs([]), signature_value=value
    )
    for tail in (b"%%EOF", b"%%EOF\n"):
        if pdf[end : end + len(tail)] == tail:
            built = _signed(pdf[:end] + tail, signer, at, reason, name)
            if built == pdf:
                return built
    return None


def _signed(pdf: bytes, signer: Any, at: datetime, reason: str, name: str) -> bytes:
    from pyhanko.pdf_utils.misc import PdfReadError
    from pyhanko.sign.fields import MDPPerm, SigFieldSpec, SigSeedSubFilter
    from pyhanko.sign.signers import PdfSignatureMetadata

    try:
        page = _writer(pdf, at, reason)
    except PdfReadError:
        raise Unreadable("pdf", say("report.pdf_unreadable")) from None
    out = _signer_class()(
        PdfSignatureMetadata(
            field_name=FIELD, md_algorithm="sha256", reason=reason or None, name=name or None, certify=True,
            subfilter=SigSeedSubFilter.PADES, docmdp_permissions=MDPPerm.NO_CHANGES,
        ),
        signer=signer,
        new_field_spec=SigFieldSpec(FIELD),
        moment=at,
    ).sign_pdf(page)
    return out.getvalue()


def _writer(pdf: bytes, at: datetime, reason: str) -> Any:
    """A writer that adds the signature and leaves the page's own dates and description alone."""
    from pyhanko.pdf_utils import generic
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    class Quiet(IncrementalPdfFileWriter):
        def _update_meta(self) -> None:
            """The description and the dates stay those of the page: PDF/A wants both places to agree."""

    page = Quiet(io.BytesIO(pdf))
    # The second half of the file's id is random by default; here it follows from what is signed.
    second = hashlib.sha256(pdf + at.isoformat().encode() + reason.encode("utf-8", "surrogatepass")).digest()[:16]
    page._document_id = generic.ArrayObject([page._document_id[0], generic.ByteStringObject(second)])
    return page


@cache
def _signer_class() -> Any:
    from pyhanko.sign.signers import PdfSigner

    class AtThatMoment(PdfSigner):
        """Signs at the moment it is told, not at the machine's."""

        def __init__(self, *args: Any, moment: datetime, **more: Any) -> None:
            super().__init__(*args, **more)
            self._moment = moment

        def init_signing_session(self, *args: Any, **more: Any) -> Any:
            session = super().init_signing_session(*args, **more)
            session.system_time = self._moment
            return session

    return AtThatMoment


def _with_key(certificate: Any, private: Any) -> Any:
    """A signer that holds the loaded key. PKCS #1 v1.5: one message has one signature (RFC 8017, 8.2.1)."""
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric.padding import PKCS1v15
    from pyhanko.sign.signers import Signer
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    class Held(Signer):
        async def async_sign_raw(self, data: bytes, digest_algorithm: str, dry_run: bool = False) -> bytes:
            assert digest_algorithm == "sha256"
            if dry_run:
                return bytes(private.key_size // 8)
            value = private.sign(data, PKCS1v15(), hashes.SHA256())
            # A slip in the arithmetic would give the key away (Boneh, DeMillo, Lipton 1997): look before handing out.
            private.public_key().verify(value, data, PKCS1v15(), hashes.SHA256())
            return value

    return Held(signing_cert=certificate, cert_registry=SimpleCertificateStore.from_certs([]))


def _signatures(pdf: bytes) -> list[Any]:
    from pyhanko.pdf_utils.misc import PdfReadError
    from pyhanko.pdf_utils.reader import PdfFileReader

    try:
        return list(PdfFileReader(io.BytesIO(pdf)).embedded_regular_signatures)
    except PdfReadError:
        raise Unreadable("pdf", say("report.pdf_unreadable")) from None


def _words(inside: Any) -> tuple[datetime, str, str]:
    """Moment, reason and name as the signature says them of itself."""
    said = inside.sig_object
    return inside.self_reported_timestamp.astimezone(UTC), str(said.get("/Reason", "")), str(said.get("/Name", ""))


def _certificate(pem_bytes: bytes) -> Any:
    from asn1crypto import pem, x509

    try:
        kind, _, der = pem.unarmor(pem_bytes)
        certificate = x509.Certificate.load(der, strict=True)
        algorithm, bits = certificate.public_key.algorithm, certificate.public_key.bit_size
    except (ValueError, TypeError):
        raise Unreadable("certificate", say("report.certificate_not_pem")) from None
    if kind != "CERTIFICATE" or algorithm != "rsa" or bits < KEY_BITS:
        raise Unreadable("certificate", say("report.key_too_weak", algorithm=algorithm, bits=bits, least=KEY_BITS))
    return certificate


def _private(pem_bytes: bytes) -> Any:
    from cryptography.hazmat.primitives import serialization
    from cryptography.hazmat.primitives.asymmetric import rsa

    try:
        # Testing the primes again takes longer than all the rest; what the key makes is verified instead.
        private = serialization.load_pem_private_key(pem_bytes, password=None, unsafe_skip_rsa_key_validation=True)
    except (ValueError, TypeError):
        raise Unreadable("key", say("report.key_not_pem")) from None
    if not isinstance(private, rsa.RSAPrivateKey):
        raise Unreadable("key", say("report.key_not_rsa"))
    return private


def _common_name(certificate: Any) -> str:
    return str(certificate.subject.native.get("common_name", ""))


def _grouped(der: bytes) -> str:
    text = hashlib.sha256(der).hexdigest()
    return " ".join(text[n : n + 4] for n in range(0, 64, 4))
