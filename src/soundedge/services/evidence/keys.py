"""Where do the shop's keys lie, who may read them, and when are they refused?

In one folder that is neither the data folder nor in any backup: ``SOUNDEDGE_KEYS``, else
``~/.config/soundedge/keys``. Files are 0600, the folder 0700; anything wider is refused.

    log.key           signs the ledger's checkpoints, proofs and square codes (Ed25519)
    log.pub           its public keys, oldest first: one line each, to be handed out
    certificate.key   signs the finished PDF (RSA-3072); certificate.pem is its self-made certificate
    persons/          one key for each person who may confirm a new key or a restore, under his passphrase
    checkpoints/      the newest checkpoint these keys have signed: what the ledger is held against

The log's key has a paper copy; the certificate's key has none, a new one is made when it is lost. A person's key is
sealed with his passphrase: scrypt (n = 2^15, r = 8), then ChaCha20-Poly1305.
"""

from __future__ import annotations

import base64
import binascii
import json
import os
import re
import secrets
import stat
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Conflict, Missing, NotEnough, Refused, Unknown, Unreadable
from ...basis.sentences import say
from ...basis.strict_json import loads
from ...record.keys import key_of, paper_copy, read_paper_copy, read_secret, secret_text
from ...record.note import NoteKey, read_key
from ...record.sign import key_id, public_of
from ...report.sign import SigningKey
from ..files import read_bytes, read_text

LOG, PUBLIC, NEXT = "log.key", "log.pub", "log.key.next"
CERTIFICATE_KEY, CERTIFICATE = "certificate.key", "certificate.pem"
PERSONS, CHECKPOINTS = "persons", "checkpoints"
PASSPHRASE_MIN = 12
_PERSON = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}\Z")
_PERSON_FORMAT = "soundedge-person-key-1"
_SCRYPT_N, _SCRYPT_R = 2**15, 8


@dataclass(frozen=True)
class Keys:
    """The shop's keys as they lie in ``folder``. ``public`` holds every public key of the log, oldest first."""

    folder: Path
    origin: str
    seed: bytes
    public: tuple[NoteKey, ...]
    signing: SigningKey | None

    @property
    def key(self) -> NoteKey:
        """The log's key that counts now."""
        return key_of(self.origin, self.seed)

    @property
    def persons(self) -> dict[str, bytes]:
        """Key id → public key of everybody who has, or had, a person's key here: an old one is good for what it signed."""
        return person_keys(self.folder)


def place(folder: Path | str | None = None) -> Path:
    """The keys' folder: the one given, else ``SOUNDEDGE_KEYS``, else ``~/.config/soundedge/keys``."""
    given = folder or os.environ.get("SOUNDEDGE_KEYS")
    return Path(given) if given else Path(os.path.expanduser("~")) / ".config" / "soundedge" / "keys"


def there(folder: Path | None = None) -> bool:
    """Whether a log key lies in the keys' folder."""
    try:
        return (place(folder) / LOG).exists()
    except OSError:
        return False


def load(folder: Path | None = None, *, data: Path | None = None) -> Keys:
    """The keys, after a look at where they lie and who may read them.

    Parameters
    ----------
    folder : Path, optional
        See ``place``.
    data : Path, optional
        The shop's data folder: keys inside it, or around it, are refused.

    Raises
    ------
    Missing
        There are no keys.
    Refused
        Others may read them, or they lie in the data folder.
    Unreadable
        A file does not hold what it must.
    """
    where = place(folder)
    if not there(where):
        raise Missing("keys", say("evidence.there_log_key", where=where))
    apart(where, data)
    private(where)
    origin, seed, _ = read_secret(read_text(where / LOG, what="The log key", field="keys"))
    return Keys(where, origin, seed, public_keys(where), _signing(where))


def apart(folder: Path, data: Path | None) -> None:
    """Refuse a keys' folder inside the data folder, or one that holds the data folder.

    Raises
    ------
    Refused
    """
    if data is None:
        return
    keys, kept = folder.resolve(), Path(data).resolve()
    if keys == kept or kept in keys.parents or keys in kept.parents:
        raise Refused(
            "keys", say("evidence.keys_lie_data", keys=keys, kept=kept),
        )


def private(folder: Path) -> None:
    """Refuse keys that anybody but their owner may read or write.

    Raises
    ------
    Refused
        With the file, its mode and the command that mends it.
    """
    for path in (folder, *sorted(folder.glob("*.key*")), *sorted(folder.glob(f"{PERSONS}/*.key"))):
        try:
            about = os.stat(path)
        except OSError as error:
            raise Unreadable("keys", say("evidence.looked", path=path, strerror=error.strerror)) from None
        mode, wanted = stat.S_IMODE(about.st_mode), 0o700 if path == folder else 0o600
        if mode & 0o077:
            raise Refused("keys", say("evidence.mode", path=path, mode=mode, wanted=wanted))


def public_keys(folder: Path | None = None) -> tuple[NoteKey, ...]:
    """The log's public keys from ``log.pub``, oldest first; none when there is no such file."""
    file = place(folder) / PUBLIC
    return read_public(file) if file.exists() else ()


def read_public(file: Path | str) -> tuple[NoteKey, ...]:
    """Public keys from a file, one ``name+id+base64`` on a line.

    Raises
    ------
    Missing, Unreadable
        No such file, or a line that is no key.
    """
    return keys_in(read_text(file, what="The public key", field="key"))


def keys_in(text: str) -> tuple[NoteKey, ...]:
    """Public keys from text, one on a line; lines that begin with # are words for people.

    Raises
    ------
    Unreadable
        A line that is no key, or none at all.
    """
    found = tuple(read_key(line.strip()) for line in text.splitlines() if line.strip() and not line.startswith("#"))
    if not found:
        raise Unreadable("key", say("evidence.there_key_text"))
    return found


def new(origin: str, *, now: datetime, shop: str = "", folder: Path | None = None, data: Path | None = None) -> Keys:
    """Make what is missing: the log's key and the certificate's key.

    Parameters
    ----------
    origin : str
        The log's name, without spaces, like ``kelderbeck-basin.example/ledger``; at most 60 characters, since it stands in
        the square code.
    now : datetime
        From when the certificate is valid.
    shop : str
        Who signs, as it shall stand in the certificate; the log's name when left out.

    Raises
    ------
    Conflict
        Both are there already.
    Unreadable
        The name cannot be a log's name.
    """
    from ...report.sign import make_key

    where = place(folder)
    apart(where, data)
    if len(origin) > 60 or not origin.isascii() or not origin.isprintable() or "|" in origin:
        raise Unreadable("name", say("evidence.log_name", origin=origin[:80]))
    key_of(origin, bytes(32))  # refuses a name that cannot be one, before anything is written
    _folder(where)
    private(where)
    has_log, has_certificate = (where / LOG).exists(), (where / CERTIFICATE_KEY).exists()
    if has_log and has_certificate:
        raise Conflict("keys", say("evidence.there_keys_already", where=where))
    if has_log:
        held = read_secret(read_text(where / LOG, what="The log key", field="keys"))[0]
        if held != origin:
            raise Conflict("name", say("evidence.log_key_called", where=where, held=held, origin=origin))
    if not has_certificate:
        made = make_key(shop or origin, valid_from=now)
        if (where / CERTIFICATE).exists():
            os.replace(where / CERTIFICATE, where / f"certificate-{now:%Y%m%d%H%M%S}.pem")
        write_private(where / CERTIFICATE_KEY, made.key_pem)
        write_private(where / CERTIFICATE, made.certificate_pem)
    if not has_log:
        write_log_key(where, origin, secrets.token_bytes(32))
    return load(where, data=data)


def from_paper(text: str, *, folder: Path | None = None, data: Path | None = None) -> NoteKey:
    """Bring the log's key back from its paper copy, typed in.

    Raises
    ------
    Missing, Unreadable
        A line lacks, or does not fit its check: it is named by its number.
    Conflict
        Another log key lies there.
    """
    origin, seed = read_paper_copy(text)
    where = place(folder)
    apart(where, data)
    _folder(where)
    private(where)
    if (where / LOG).exists():
        if read_secret(read_text(where / LOG, what="The log key", field="keys"))[:2] != (origin, seed):
            raise Conflict("keys", say("evidence.another_log_key_lies", where=where))
        return key_of(origin, seed)
    write_log_key(where, origin, seed)
    return key_of(origin, seed)


def lines(keys: Keys) -> list[str]:
    """What may be told to everybody: public keys, fingerprints, who can confirm."""
    from ...report.sign import fingerprint

    out = [f"Keys in {keys.folder}", f"  log          {keys.origin}", f"  fingerprint  {keys.key.fingerprint}",
           f"  public key   {keys.key.text}"]
    out += [f"  before it    {key.text}" for key in keys.public if key != keys.key]
    out.append(f"  certificate  {fingerprint(keys.signing.certificate_pem)}" if keys.signing else
               f"  certificate  none; make it with: soundedge key new {keys.origin}")
    held = ", ".join(persons(keys.folder))
    out.append(f"  people       {held or 'nobody; give two people a key each: soundedge key new --person NAME'}")
    return out


def paper(keys: Keys) -> str:
    """The paper copy of the log's key: it *is* the key; for an envelope in the cabinet."""
    return paper_copy(keys.origin, keys.seed)


def write_log_key(folder: Path, origin: str, seed: bytes, *, name: str = LOG) -> None:
    """Write the private key to ``name`` and, unless it is only the next one, its public line to ``log.pub``."""
    write_private(folder / name, (secret_text(origin, seed) + "\n").encode())
    if name == LOG:
        add_public(folder, key_of(origin, seed))


def add_public(folder: Path, key: NoteKey, *, oldest: bool = False) -> None:
    """Add a public key to ``log.pub`` as the newest one, or as the oldest."""
    held = [known.text for known in public_keys(folder)]
    if key.text not in held:
        wanted = [key.text, *held] if oldest else [*held, key.text]
        write_private(folder / PUBLIC, ("\n".join(wanted) + "\n").encode())


def trust(text: str, *, folder: Path | None = None) -> list[NoteKey]:
    """Take older public keys of this log back into ``log.pub``, from a witness's folder or a letter.

    Raises
    ------
    Conflict
        A key of another log.
    """
    held = load(folder)
    found = keys_in(text)
    for key in found:
        if key.name != held.origin:
            raise Conflict("key", say("evidence.key", name=key.name[:60], origin=held.origin))
    for key in reversed(found):
        add_public(held.folder, key, oldest=True)
    return list(found)


# ---------------------------------------------------------------------------- persons


def new_person(name: str, passphrase: str, *, folder: Path | None = None) -> NoteKey:
    """A key for a person, sealed with his passphrase.

    Raises
    ------
    NotEnough
        A passphrase below 12 characters.
    Conflict
        He has a key already.
    """
    where = place(folder)
    file = _person_file(where, name, passphrase)
    if file.exists():
        raise Conflict("person", say("evidence.key_already", name=name, file=file))
    return _seal_person(where, name, passphrase, secrets.token_bytes(32))


def renew_person(name: str, passphrase: str, *, folder: Path | None = None) -> NoteKey:
    """Another key for a person, or his first; the public parts of those before stay, good for what they have signed.

    Raises
    ------
    NotEnough
        A passphrase below 12 characters.
    """
    where = place(folder)
    _person_file(where, name, passphrase)
    return _seal_person(where, name, passphrase, secrets.token_bytes(32))


def reseal_person(name: str, old: str, new: str, *, folder: Path | None = None) -> NoteKey:
    """The same key under a new passphrase.

    Raises
    ------
    Unknown, Refused, NotEnough
        No key, not the old passphrase, a new one below 12 characters.
    """
    where = place(folder)
    _person_file(where, name, new)
    return _seal_person(where, name, new, person_seed(name, old, folder=where))


def retire_person(name: str, *, folder: Path | None = None) -> None:
    """A person signs no more with his key: its sealed part is taken away, its public part stays."""
    where = place(folder)
    file = where / PERSONS / f"{name}.key"
    if _PERSON.match(name) and file.exists():
        _keep_old(where, name)
        try:
            file.unlink()
        except OSError as error:
            raise Unreadable("keys", say("evidence.taken_away", file=file, strerror=error.strerror)) from None


def persons(folder: Path | None = None) -> dict[str, bytes]:
    """Name → public key, the newest, of everybody who has a key here."""
    return {file.stem: _bytes(_read_person(file), "public", 32, file)
            for file in sorted((place(folder) / PERSONS).glob("*.key"))}


def person_keys(folder: Path | None = None) -> dict[str, bytes]:
    """Key id → public key: those that sign now and, from ``persons/NAME.old``, those before them."""
    found = {key_id(public): public for public in persons(folder).values()}
    for file in sorted((place(folder) / PERSONS).glob("*.old")):
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
        The passphrase is not his.
    """
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    where = place(folder)
    file = where / PERSONS / f"{name}.key"
    if not _PERSON.match(name) or not file.exists():
        held = ", ".join(persons(where)) or "nobody"
        raise Unknown("person", say("evidence.key_here", name=name[:60], held=held))
    private(where)
    body = _read_person(file)
    public = _bytes(body, "public", 32, file)
    try:
        seed = ChaCha20Poly1305(_stretched(passphrase, _bytes(body, "salt", 16, file), _cost(body, file))).decrypt(
            _bytes(body, "nonce", 12, file), _bytes(body, "sealed", 48, file), _about(name, public))
    except InvalidTag:
        raise Refused("passphrase", say("evidence.passphrase", name=name)) from None
    if public_of(seed) != public:
        raise Unreadable("person", say("evidence.key_does_belong_public_part", name=name))
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
        named = " and ".join(name for name, _ in people) or "nobody"
        raise Refused("by", say("evidence.needs_two_different_people_their", named=named))
    return [(name, person_seed(name, passphrase, folder=folder)) for name, passphrase in people]


# ---------------------------------------------------------------------------- inside


def write_private(path: Path, content: bytes) -> None:
    """Write a file of mode 0600 so that either the whole of it is there or nothing; it is never wider, not for a moment.

    Raises
    ------
    Unreadable
        The folder does not take it.
    """
    temporary = path.with_name(f".{path.name}.part")
    try:
        temporary.unlink(missing_ok=True)
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(temporary, path)
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
    except OSError as error:
        raise Unreadable("keys", say("evidence.could_written", path=path, value=error.strerror or error)) from None


def _folder(path: Path) -> None:
    try:
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("keys", say("evidence.made_3", path=path, reason=reason)) from None


def _signing(folder: Path) -> SigningKey | None:
    if not (folder / CERTIFICATE_KEY).exists():
        return None
    return SigningKey(read_bytes(folder / CERTIFICATE_KEY, what="The certificate's key", field="keys"),
                      read_bytes(folder / CERTIFICATE, what="The certificate", field="keys"))


def _person_file(where: Path, name: str, passphrase: str) -> Path:
    """Where a person's key belongs; refuses a passphrase or a name that cannot be."""
    if len(passphrase) < PASSPHRASE_MIN:
        raise NotEnough("passphrase", say("evidence.passphrase_characters", n=len(passphrase), passphrase_min=PASSPHRASE_MIN))
    if not _PERSON.match(name):
        raise Unreadable("person", say("evidence.name_key_file", name=name[:60]))
    return where / PERSONS / f"{name}.key"


def _seal_person(where: Path, name: str, passphrase: str, seed: bytes) -> NoteKey:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    _folder(where)
    _folder(where / PERSONS)
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
        raise Unreadable("keys", say("evidence.person_key_made", file=file, stem=file.stem))
    return body


def _bytes(body: dict[str, Any], name: str, size: int, file: Path) -> bytes:
    try:
        raw = base64.b64decode(str(body.get(name)), validate=True)
    except (binascii.Error, ValueError):
        raw = b""
    if len(raw) != size:
        raise Unreadable("keys", say("evidence.damaged_2", file=file, name=name, stem=file.stem))
    return raw


def _cost(body: dict[str, Any], file: Path) -> int:
    """The scrypt cost that a key was sealed with; it stands in its file, so that a later one may be higher."""
    n = body.get("scrypt_n", 2**15)
    if not isinstance(n, int) or isinstance(n, bool) or n & (n - 1) or not 2 <= n <= 2**20:
        raise Unreadable("keys", say("evidence.damaged_scrypt_n", file=file, stem=file.stem))
    return n


def _stretched(passphrase: str, salt: bytes, n: int) -> bytes:
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return Scrypt(salt=salt, length=32, n=n, r=_SCRYPT_R, p=1).derive(passphrase.encode("utf-8", "surrogatepass"))


def _about(name: str, public: bytes) -> bytes:
    return f"{_PERSON_FORMAT}\n{name}\n".encode() + public


def _b64(raw: bytes) -> str:
    return base64.b64encode(raw).decode()
