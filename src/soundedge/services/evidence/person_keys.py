"""Who can sign with a key of their own, and how is it opened? Each lies under ``persons/`` in the keys' folder.

A person's key is sealed with a passphrase: scrypt (n = 2^15, r = 8), then ChaCha20-Poly1305. An old key's public part stays,
good for what it has signed.
"""

from __future__ import annotations

import base64
import binascii
import json
import re
import secrets
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, Missing, NotEnough, Refused, Unknown, Unreadable
from ...basis.file_names import check_new_name
from ...basis.sentences import say
from ...basis.strict_json import loads
from ...record.note import NoteKey
from ...record.sign import key_id, public_of
from ..files import read_bytes, read_text
from .key_files import PERSONS, key_folder, make_key_folder, private, write_private
from .shared_keys import hand

PASSPHRASE_MIN = 12
_PERSON = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}\Z")
_PERSON_FORMAT = "soundedge-person-key-1"
_SCRYPT_N, _SCRYPT_R = 2**15, 8


def new_person(name: str, passphrase: str, *, folder: Path | None = None) -> NoteKey:
    """A key for a person, sealed with their passphrase.

    Raises
    ------
    NotEnough
        A passphrase below 12 characters.
    Conflict
        The person has a key already.
    """
    where = key_folder(folder)
    file = _person_file(where, name, passphrase)
    check_new_name("person", "the person's id", name, persons(where))
    if file.exists():
        raise Conflict("person", say("evidence.person_has_key", name=name, file=file))
    return _seal_person(where, name, passphrase, secrets.token_bytes(32))


def renew_person(name: str, passphrase: str, *, folder: Path | None = None) -> NoteKey:
    """Another key for a person, or their first; the public parts of earlier keys stay valid for what they have signed.

    Raises
    ------
    NotEnough
        A passphrase below 12 characters.
    """
    where = key_folder(folder)
    _person_file(where, name, passphrase)
    return _seal_person(where, name, passphrase, secrets.token_bytes(32))


def reseal_person(name: str, old: str, new: str, *, folder: Path | None = None) -> NoteKey:
    """The same key under a new passphrase.

    Raises
    ------
    Unknown, Refused, NotEnough
        No key, not the old passphrase, a new one below 12 characters.
    """
    where = key_folder(folder)
    _person_file(where, name, new)
    return _seal_person(where, name, new, person_seed(name, old, folder=where))


def retire_person(name: str, *, folder: Path | None = None) -> None:
    """A person may not sign with this key any more: its sealed part is taken away, its public part stays."""
    where = key_folder(folder)
    file = where / PERSONS / f"{name}.key"
    if _PERSON.match(name) and file.exists():
        _keep_old(where, name)
        hand(file, None)
        try:
            file.unlink()
        except OSError as error:
            raise Unreadable("keys", say("evidence.file_not_removed", file=file, why=error.strerror)) from None


def persons(folder: Path | None = None) -> dict[str, bytes]:
    """Name → public key, the newest, of everybody who has a key here."""
    return {file.stem: _bytes(_read_person(file), "public", 32, file)
            for file in sorted((key_folder(folder) / PERSONS).glob("*.key"))}


def person_keys(folder: Path | None = None) -> dict[str, bytes]:
    """Key id → public key: those that sign now and, from ``persons/NAME.old``, those before them."""
    found = {key_id(public): public for public in persons(folder).values()}
    for file in sorted((key_folder(folder) / PERSONS).glob("*.old")):
        for public in _old(file):
            found.setdefault(key_id(public), public)
    return found


def person_seed(name: str, passphrase: str, *, folder: Path | None = None) -> bytes:
    """A person's private seed.

    Raises
    ------
    Unknown
        Nobody of that name has a key.
    Refused
        The passphrase is wrong.
    """
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    where = key_folder(folder)
    file = where / PERSONS / f"{name}.key"
    if not _PERSON.match(name) or not file.exists():
        held = ", ".join(persons(where)) or "nobody"
        raise Unknown("person", say("evidence.person_without_key", name=name[:60], known=held))
    private(where)
    body = _read_person(file)
    public = _bytes(body, "public", 32, file)
    try:
        seed = ChaCha20Poly1305(_stretched(passphrase, _bytes(body, "salt", 16, file), _cost(body, file))).decrypt(
            _bytes(body, "nonce", 12, file), _bytes(body, "sealed", 48, file), _about(name, public))
    except InvalidTag:
        raise Refused("passphrase", say("evidence.passphrase_wrong", name=name)) from None
    if public_of(seed) != public:
        raise Unreadable("person", say("evidence.person_key_parts_differ", name=name))
    return seed


def two_people(who: Iterable[tuple[str, str]], *, folder: Path | None = None) -> list[tuple[str, bytes]]:
    """Names and seeds of exactly two different persons.

    Raises
    ------
    Refused
        Fewer, more, or the same one twice.
    """
    people = list(who)
    if len(people) != 2 or people[0][0] == people[1][0]:
        named = [name for name, _ in people] or "nobody"
        raise Refused("by", say("evidence.two_people_needed", named=named))
    return [(name, person_seed(name, passphrase, folder=folder)) for name, passphrase in people]


def _person_file(where: Path, name: str, passphrase: str) -> Path:
    """Where a person's key belongs; refuses a passphrase or a name that cannot be."""
    if len(passphrase) < PASSPHRASE_MIN:
        raise NotEnough("passphrase", say("evidence.passphrase_too_short", n=len(passphrase), least=PASSPHRASE_MIN))
    if not _PERSON.match(name):
        raise Unreadable("person", say("evidence.key_file_name_form", name=name[:60]))
    return where / PERSONS / f"{name}.key"


def _seal_person(where: Path, name: str, passphrase: str, seed: bytes) -> NoteKey:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    make_key_folder(where)
    make_key_folder(where / PERSONS)
    salt, nonce = secrets.token_bytes(16), secrets.token_bytes(12)
    public = public_of(seed)
    sealed = ChaCha20Poly1305(_stretched(passphrase, salt, _SCRYPT_N)).encrypt(nonce, seed, _about(name, public))
    body = {"format": _PERSON_FORMAT, "name": name, "public": _b64(public), "scrypt_n": _SCRYPT_N, "salt": _b64(salt),
            "nonce": _b64(nonce), "sealed": _b64(sealed)}
    if persons(where).get(name) != public:
        _keep_old(where, name)
    write_private(where / PERSONS / f"{name}.key", (json.dumps(body, indent=1) + "\n").encode())
    return NoteKey(name, public)


def _keep_old(where: Path, name: str) -> None:
    """The public part of the key that stands now goes to ``NAME.old`` before anything takes its place."""
    file, old = where / PERSONS / f"{name}.key", where / PERSONS / f"{name}.old"
    if file.exists():
        public = _bytes(_read_person(file), "public", 32, file)
        held = _old(old)
        if public not in held:
            write_private(old, ("\n".join(_b64(one) for one in (*held, public)) + "\n").encode())


def _old(file: Path) -> list[bytes]:
    if not file.exists():
        return []
    lines = read_text(file, what="The person's earlier keys", field="keys").split()
    return [_bytes({"public": line}, "public", 32, file) for line in lines]


def _read_person(file: Path) -> dict[str, Any]:
    try:
        body = loads(read_bytes(file, what="The person's key", field="keys", size_max_bytes=4000))
    except Missing:
        raise
    except BenchError:
        body = None
    if not isinstance(body, dict) or body.get("format") != _PERSON_FORMAT or body.get("name") != file.stem:
        raise Unreadable("keys", say("evidence.person_key_changed", file=file, person=file.stem))
    return body


def _bytes(body: dict[str, Any], name: str, size: int, file: Path) -> bytes:
    try:
        raw = base64.b64decode(str(body.get(name)), validate=True)
    except (binascii.Error, ValueError):
        raw = b""
    if len(raw) != size:
        raise Unreadable("keys", say("evidence.person_key_part_damaged", file=file, part=name, person=file.stem))
    return raw


def _cost(body: dict[str, Any], file: Path) -> int:
    """The scrypt cost that a key was sealed with; it stands in its file, so that a later one may be higher."""
    n = body.get("scrypt_n", 2**15)
    if not isinstance(n, int) or isinstance(n, bool) or n & (n - 1) or not 2 <= n <= 2**20:
        raise Unreadable("keys", say("evidence.person_key_cost_damaged", file=file, person=file.stem))
    return n


def _stretched(passphrase: str, salt: bytes, n: int) -> bytes:
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return Scrypt(salt=salt, length=32, n=n, r=_SCRYPT_R, p=1).derive(passphrase.encode("utf-8", "surrogatepass"))


def _about(name: str, public: bytes) -> bytes:
    return f"{_PERSON_FORMAT}\n{name}\n".encode() + public


def _b64(raw: bytes) -> str:
    return base64.b64encode(raw).decode()
