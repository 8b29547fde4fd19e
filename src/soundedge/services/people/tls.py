"""How a tablet knows that the bench it talks to is the shop's own, without any outside party.

The shop is its own certificate authority. Its certificate is put on each tablet once, its fingerprint compared by eye;
the server's certificate is made from it again and again. Both lie in ``tls/`` in the keys' folder, never with the data:

    authority.key   EC P-256, 0600; signs server certificates and nothing else
    authority.pem   its certificate, ten years; vouches only for the names it was made for, for addresses of private
                    networks, and for names that end in .local, .lan, .home.arpa or .internal
    server.key      EC P-256, 0600; a new one with each certificate
    server.pem      396 days at most; for every name and address of this machine

So whoever steals the authority's key from the laptop can play the shop's bench on the shop's own network, but no site
in the world outside: the tablets refuse that (RFC 5280, 4.2.1.10).

>>> fingerprint(b"the certificate's bytes")[:24]
'CA6B 68A1 A600 8593 6C33'
"""

from __future__ import annotations

import hashlib
import os
import ssl
import stat
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_network
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...basis.errors import Refused, Unreadable
from ...basis.sentences import say
from ...store.durable import move
from ..evidence.key_files import apart, key_folder, write_private
from ..files import read_bytes, read_text
from .machine_names import PRIVATE_NETWORKS, address_of, checked_names, could_end_a_name

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

FOLDER = "tls"
AUTHORITY_KEY, AUTHORITY, SERVER_KEY, SERVER = "authority.key", "authority.pem", "server.key", "server.pem"
AUTHORITY_DAYS = 3652
SERVER_DAYS = 396  # with the day before: 397; devices refuse more than 398
RENEW_DAYS = 30
WARN_DAYS = 180
BACKWARD = timedelta(days=1)  # a tablet's clock may be behind the laptop's
SUFFIXES = ("local", "lan", "home.arpa", "internal")
CIPHERS = "ECDHE+AESGCM:ECDHE+CHACHA20"  # for TLS 1.2; TLS 1.3 brings its own
NEW_AUTHORITY = "soundedge serve --tls --new-authority"


@dataclass(frozen=True)
class Tls:
    """The shop's certificates as they lie in ``folder``.

    ``names`` are those the server's certificate holds, ``left_out`` those the authority does not vouch for.
    ``until`` and ``authority_until`` are the last moments of both certificates; ``notes`` are sentences for a person.
    """

    folder: Path
    names: tuple[str, ...]
    left_out: tuple[str, ...]
    authority_pem: bytes
    authority_der: bytes
    until: datetime
    authority_until: datetime
    notes: tuple[str, ...] = ()

    @property
    def server_file(self) -> Path:
        """The server's certificate, PEM."""
        return self.folder / SERVER

    @property
    def key_file(self) -> Path:
        """The server's private key, PEM."""
        return self.folder / SERVER_KEY

    @property
    def fingerprint(self) -> str:
        """SHA-256 of the authority's certificate: sixteen groups of four, to be compared by eye."""
        return fingerprint(self.authority_der)


def make_shop_tls(
    folder: Path | str | None,
    names: Sequence[str],
    *,
    now: datetime,
    shop: str,
    data: Path | None = None,
    anew: bool = False,
) -> Tls:
    """The shop's authority and a server certificate for these names; what is there and good is kept.

    Parameters
    ----------
    folder : Path, optional
        The keys' folder, see ``key_files.key_folder``; the files lie in its ``tls/``.
    names : list of str
        DNS names and IP addresses under which the bench is opened, the foremost first.
    now : datetime
        With its zone. A certificate with less than 30 days left is made again, so is the server's when names changed.
    shop : str
        As it shall stand in the authority's certificate.
    data : Path, optional
        The data or installation folder: keys inside it are refused.
    anew : bool
        Make a new authority in any case; the old certificate is put aside under its date.

    Raises
    ------
    Refused
        Others may read the keys, they lie in the data folder, or the authority vouches for none of the names.
    Unreadable
        A name that cannot be one; a folder that cannot be written; a key or certificate that is damaged.
    """
    wanted = checked_names(names)
    where = key_folder(folder)
    apart(where, data)
    _make_private(where)
    _make_private(where / FOLDER)
    where = where / FOLDER
    _look(where)

    notes: list[str] = []
    held = None if anew else _authority(where)
    if held is not None and _end(held[0]) - now < timedelta(days=RENEW_DAYS):
        notes.append(f"The authority of {_start(held[0]):%d %b %Y} ends on {_end(held[0]):%d %b %Y}.")
        held = None
    if held is None:
        before = _put_aside(where, now)
        held = _make_authority(where, wanted, now=now, shop=shop)
        if before:
            notes.append("A new authority was made. Install it on every tablet and phone; take the old one off them.")
    certificate, key = held
    covered = [name for name in wanted if vouches_for(certificate, name)]
    left_out = tuple(name for name in wanted if name not in covered)
    if not covered:
        raise Refused("names", say("people.authority_other_names", names=', '.join(wanted)[:200], command=NEW_AUTHORITY))
    if left_out:
        notes.append(f"The authority on the tablets does not vouch for {', '.join(left_out)}: open the bench under "
                     f"{covered[0]}, or make a new one and install that on every tablet: {NEW_AUTHORITY}")
    if timedelta(days=RENEW_DAYS) <= _end(certificate) - now < timedelta(days=WARN_DAYS):
        notes.append(f"The authority ends on {_end(certificate):%d %b %Y}. Make a new one in a quiet week and install it on "
                     f"every tablet: {NEW_AUTHORITY}")
    server = _server(where, certificate)
    if server is None or set(names_in(server)) != set(covered) or not _good(server, now):
        server = _make_server(where, certificate, key, covered, now=now, shop=shop)
    pem, der = _encoded(certificate)
    return Tls(where, tuple(covered), left_out, pem, der, _end(server), _end(certificate), tuple(notes))


def server_context(certificate: Path | str, key: Path | str) -> ssl.SSLContext:
    """What the server speaks: TLS 1.2 or 1.3, keys that are thrown away after the connection, no compression.

    Raises
    ------
    Unreadable
        The files are no certificate and key that belong together.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.options |= ssl.OP_NO_COMPRESSION | ssl.OP_NO_RENEGOTIATION | ssl.OP_CIPHER_SERVER_PREFERENCE
    context.set_ciphers(CIPHERS)
    try:
        context.load_cert_chain(certificate, key)
    except (OSError, ssl.SSLError) as error:
        reason = error.strerror or error
        raise Unreadable("tls", say("people.certificate_not_usable", file=certificate, reason=reason)) from None
    return context


def fingerprint(certificate_der: bytes) -> str:
    """SHA-256 of a certificate in sixteen groups of four, in capitals as devices show it."""
    digits = hashlib.sha256(certificate_der).hexdigest().upper()
    return " ".join(digits[n: n + 4] for n in range(0, 64, 4))


def authority_der(folder: Path | str | None = None) -> bytes | None:
    """The authority's certificate as a device installs it (DER); None when none was made.

    Raises
    ------
    Unreadable
        The file is damaged.
    """
    file = key_folder(folder) / FOLDER / AUTHORITY
    if not file.exists():
        return None
    try:
        return ssl.PEM_cert_to_DER_cert(read_text(file, what="The authority", field="tls").strip())
    except ValueError:
        raise Unreadable("tls", say("people.authority_damaged", file=file, command=NEW_AUTHORITY)) from None


def names_in(certificate: x509.Certificate) -> tuple[str, ...]:
    """DNS names and addresses a certificate holds, as text."""
    from cryptography import x509

    held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return (*held.get_values_for_type(x509.DNSName), *(str(one) for one in held.get_values_for_type(x509.IPAddress)))


def vouches_for(authority: x509.Certificate, name: str) -> bool:
    """Whether the authority's name constraints allow a DNS name or an address."""
    from cryptography import x509

    allowed = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    address = address_of(name)
    for tree in allowed:
        if isinstance(tree, x509.IPAddress):
            if address is not None and address in ip_network(str(tree.value)):
                return True
        elif isinstance(tree, x509.DNSName) and address is None and (name == tree.value or name.endswith(f".{tree.value}")):
            return True
    return False


# ---------------------------------------------------------------------------- files


def _make_private(folder: Path) -> None:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("keys", say("people.keys_folder_not_made", folder=folder, reason=reason)) from None


def _look(folder: Path) -> None:
    """Refuse keys that anybody but their owner may read or write, as ``key_files.private`` does."""
    for path in (folder.parent, folder, *sorted(folder.glob("*.key"))):
        try:
            mode = stat.S_IMODE(os.stat(path).st_mode)
        except OSError as error:
            raise Unreadable("keys", say("people.keys_not_readable", path=path, reason=error.strerror)) from None
        if mode & 0o077:
            wanted = 0o700 if path.is_dir() else 0o600
            raise Refused("keys", say("people.keys_open_to_others", path=path, mode=mode, wanted=wanted, command=NEW_AUTHORITY))


def _put_aside(folder: Path, now: datetime) -> bool:
    """Keep the old certificate under its date, drop its key; whether there was one."""
    there = (folder / AUTHORITY).exists()
    if there:
        move(folder / AUTHORITY, folder / f"authority-until-{now:%Y%m%d%H%M%S}.pem")
    (folder / AUTHORITY_KEY).unlink(missing_ok=True)
    return there


def _authority(folder: Path) -> tuple[x509.Certificate, EllipticCurvePrivateKey] | None:
    """The authority and its key; None when either lacks or they do not belong together."""
    from cryptography import x509

    pair = _pair(folder / AUTHORITY, folder / AUTHORITY_KEY)
    if pair is not None:
        try:
            pair[0].extensions.get_extension_for_class(x509.NameConstraints)
            pair[0].extensions.get_extension_for_class(x509.SubjectKeyIdentifier)
        except (ValueError, x509.ExtensionNotFound):
            raise Unreadable("tls", say("people.authority_foreign", file=folder / AUTHORITY, command=NEW_AUTHORITY)) from None
    return pair


def _server(folder: Path, authority: x509.Certificate) -> x509.Certificate | None:
    """The server's certificate when its key is there and this authority has signed it; None otherwise."""
    from cryptography import x509
    from cryptography.exceptions import InvalidSignature

    try:
        pair = _pair(folder / SERVER, folder / SERVER_KEY)
        if pair is not None:
            pair[0].verify_directly_issued_by(authority)
            names_in(pair[0])
    except (Unreadable, ValueError, TypeError, InvalidSignature, x509.ExtensionNotFound):
        return None
    return pair[0] if pair is not None else None


def _pair(certificate_file: Path, key_file: Path) -> tuple[x509.Certificate, Any] | None:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    if not (certificate_file.exists() and key_file.exists()):
        return None
    raw = read_bytes(certificate_file, what="The certificate", field="tls", size_max_bytes=100_000)
    secret = read_bytes(key_file, what="The certificate's key", field="tls", size_max_bytes=100_000)
    try:
        certificate, key = x509.load_pem_x509_certificate(raw), load_pem_private_key(secret, None)
    except (ValueError, TypeError):
        raise Unreadable("tls", say("people.certificate_damaged", file=certificate_file, command=NEW_AUTHORITY)) from None
    if not isinstance(key, EllipticCurvePrivateKey) or certificate.public_key() != key.public_key():
        return None
    return certificate, key


# ---------------------------------------------------------------------------- certificates


def _make_authority(
    folder: Path, names: Sequence[str], *, now: datetime, shop: str
) -> tuple[x509.Certificate, EllipticCurvePrivateKey]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    key = ec.generate_private_key(ec.SECP256R1())
    given = [address_of(name) or name for name in names]
    dns = [name for name in given if isinstance(name, str) and not name.endswith(tuple(f".{end}" for end in SUFFIXES))
           and not could_end_a_name(name)]
    nets = [*PRIVATE_NETWORKS, *(str(ip_network(one)) for one in given
                        if not isinstance(one, str) and not any(one in ip_network(net) for net in PRIVATE_NETWORKS))]
    trees = [*(x509.DNSName(name) for name in (*SUFFIXES, *dns)), *(x509.IPAddress(ip_network(net)) for net in nets)]
    subject = _name(f"{shop} bench authority {now.astimezone(UTC):%Y-%m-%d %H:%M}", shop)
    own = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject).issuer_name(subject).public_key(key.public_key()).serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKWARD).not_valid_after(now + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(x509.NameConstraints(permitted_subtrees=trees, excluded_subtrees=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(own, critical=False)
        .sign(key, hashes.SHA256())
    )
    write_private(folder / AUTHORITY_KEY, _key_pem(key))
    write_private(folder / AUTHORITY, _encoded(certificate)[0])
    return certificate, key


def _make_server(
    folder: Path, authority: x509.Certificate, signer: EllipticCurvePrivateKey, names: Sequence[str], *, now: datetime,
    shop: str,
) -> x509.Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID

    key = ec.generate_private_key(ec.SECP256R1())
    given = [(name, address_of(name)) for name in names]
    held = [x509.IPAddress(address) if address is not None else x509.DNSName(name) for name, address in given]
    keyed = authority.extensions.get_extension_for_class(x509.SubjectKeyIdentifier).value
    certificate = (
        x509.CertificateBuilder()
        .subject_name(_name(names[0], shop)).issuer_name(authority.subject)
        .public_key(key.public_key()).serial_number(x509.random_serial_number())
        .not_valid_before(max(now - BACKWARD, _start(authority)))
        .not_valid_after(min(now + timedelta(days=SERVER_DAYS), _end(authority)))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(held), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_subject_key_identifier(keyed), critical=False)
        .sign(signer, hashes.SHA256())
    )
    write_private(folder / SERVER_KEY, _key_pem(key))
    write_private(folder / SERVER, _encoded(certificate)[0])
    return certificate


def _good(certificate: x509.Certificate, now: datetime) -> bool:
    return _start(certificate) <= now and _end(certificate) - now >= timedelta(days=RENEW_DAYS)


def _start(certificate: x509.Certificate) -> datetime:
    return certificate.not_valid_before_utc


def _end(certificate: x509.Certificate) -> datetime:
    return certificate.not_valid_after_utc


def _name(common: str, organisation: str) -> x509.Name:
    from cryptography import x509
    from cryptography.x509.oid import NameOID

    parts = [(NameOID.ORGANIZATION_NAME, organisation), (NameOID.COMMON_NAME, common)]
    printable = [(oid, "".join(c for c in text if c.isprintable()).strip()[:64]) for oid, text in parts]
    return x509.Name([x509.NameAttribute(oid, text) for oid, text in printable if text])


def _usage(*, signs: bool) -> x509.KeyUsage:
    from cryptography import x509

    return x509.KeyUsage(digital_signature=not signs, key_cert_sign=signs, crl_sign=False, content_commitment=False,
                         key_encipherment=False, data_encipherment=False, key_agreement=False, encipher_only=False,
                         decipher_only=False)


def _key_pem(key: EllipticCurvePrivateKey) -> bytes:
    from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())


def _encoded(certificate: x509.Certificate) -> tuple[bytes, bytes]:
    from cryptography.hazmat.primitives.serialization import Encoding

    return certificate.public_bytes(Encoding.PEM), certificate.public_bytes(Encoding.DER)
