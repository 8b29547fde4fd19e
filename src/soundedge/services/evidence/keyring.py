"""The keys a shop signs with: how they are made, and which public ones count.

    log.key           signs the ledger's checkpoints, proofs and square codes (Ed25519)
    log.pub           its public keys, oldest first: one line each, to be handed out
    certificate.key   signs the finished PDF (RSA-3072); certificate.pem is its self-made certificate
    persons/          one key for each person (person_keys.py)
    checkpoints/      the newest checkpoint these keys have signed: what the ledger is held against

Where they lie and who may read them: key_files.py. The log's key has a paper copy; the certificate's key has none, a new one
is made when it is lost.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from ...basis.errors import Conflict, Missing, Unreadable
from ...basis.sentences import say
from ...record.keys import key_of, paper_copy, read_paper_copy, read_secret, secret_text
from ...record.note import NoteKey, read_key
from ...report.sign import SigningKey
from ..files import read_bytes, read_text
from .key_files import apart, key_folder, make_key_folder, move_private, private, write_private
from .person_keys import person_keys, persons

LOG, PUBLIC, NEXT = "log.key", "log.pub", "log.key.next"
CERTIFICATE_KEY, CERTIFICATE = "certificate.key", "certificate.pem"


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


def there(folder: Path | None = None) -> bool:
    """Whether a log key lies in the keys' folder."""
    try:
        return (key_folder(folder) / LOG).exists()
    except OSError:
        return False


def load(folder: Path | None = None, *, data: Path | None = None) -> Keys:
    """The keys, after a look at where they lie and who may read them.

    Parameters
    ----------
    folder : Path, optional
        See ``key_files.key_folder``.
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
    where = key_folder(folder)
    if not there(where):
        raise Missing("keys", say("evidence.log_key_missing", where=where))
    apart(where, data)
    private(where)
    origin, seed, _ = read_secret(read_text(where / LOG, what="The log key", field="keys"))
    return Keys(where, origin, seed, public_keys(where), _signing(where))


def public_keys(folder: Path | None = None) -> tuple[NoteKey, ...]:
    """The log's public keys from ``log.pub``, oldest first; none when there is no such file."""
    file = key_folder(folder) / PUBLIC
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
        raise Unreadable("key", say("evidence.key_not_in_text"))
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

    where = key_folder(folder)
    apart(where, data)
    if len(origin) > 60 or not origin.isascii() or not origin.isprintable() or "|" in origin:
        raise Unreadable("name", say("evidence.log_name_form", origin=origin[:80]))
    key_of(origin, bytes(32))  # refuses a name that cannot be one, before anything is written
    make_key_folder(where)
    private(where)
    has_log, has_certificate = (where / LOG).exists(), (where / CERTIFICATE_KEY).exists()
    if has_log and has_certificate:
        raise Conflict("keys", say("evidence.keys_exist", where=where))
    if has_log:
        held = read_secret(read_text(where / LOG, what="The log key", field="keys"))[0]
        if held != origin:
            raise Conflict("name", say("evidence.log_key_of_another_name", where=where, held=held, origin=origin))
    if not has_certificate:
        made = make_key(shop or origin, valid_from=now)
        if (where / CERTIFICATE).exists():
            move_private(where / CERTIFICATE, where / f"certificate-{now:%Y%m%d%H%M%S}.pem")
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
    where = key_folder(folder)
    apart(where, data)
    make_key_folder(where)
    private(where)
    if (where / LOG).exists():
        if read_secret(read_text(where / LOG, what="The log key", field="keys"))[:2] != (origin, seed):
            raise Conflict("keys", say("evidence.log_key_in_the_way", where=where))
        return key_of(origin, seed)
    write_log_key(where, origin, seed)
    return key_of(origin, seed)


def lines(keys: Keys) -> list[str]:
    """What everybody may know: public keys, fingerprints, who can confirm."""
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
            raise Conflict("key", say("evidence.key_of_another_log", name=key.name[:60], origin=held.origin))
    for key in reversed(found):
        add_public(held.folder, key, oldest=True)
    return list(found)


# ---------------------------------------------------------------------------- inside


def _signing(folder: Path) -> SigningKey | None:
    if not (folder / CERTIFICATE_KEY).exists():
        return None
    return SigningKey(read_bytes(folder / CERTIFICATE_KEY, what="The certificate's key", field="keys"),
                      read_bytes(folder / CERTIFICATE, what="The certificate", field="keys"))


