"""An invented shop for the tests: its keys, two people who may confirm, a ledger with jobs in it."""

import atexit
import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from unittest import mock

from soundedge.services.evidence import keyring, person_keys
from soundedge.services.evidence.ledger_place import MARKER, open_ledger

from ..record.jobs import released

ORIGIN = "kelderbeck-basin.example/ledger"
NOW = datetime(2031, 5, 4, 13, 0, tzinfo=UTC)
WORDS = {"tobias": "four ordinary words here", "amara": "another four words there"}
BOTH = list(WORDS.items())
WHY = "the disk of the bench machine died"


@cache
def _made() -> Path:
    """Made once: the certificate's key takes a second."""
    base = tempfile.mkdtemp(prefix="soundedge-test-keys-")
    atexit.register(shutil.rmtree, base, ignore_errors=True)
    folder = Path(base) / "keys"
    keyring.new(ORIGIN, now=datetime(2026, 1, 1, tzinfo=UTC), shop="Kelderbeck Basin Works", folder=folder)
    with cheap_passphrases():
        for name, words in WORDS.items():
            person_keys.new_person(name, words, folder=folder)
    return folder


def cheap_passphrases():
    """A key that is sealed meanwhile opens at once: its file says the cost. tests/web/test_asvs.py holds the one in use."""
    return mock.patch.object(person_keys, "_SCRYPT_N", 2**8)


def keys_in(tmp: Path) -> Path:
    """A keys' folder of its own for one test."""
    return Path(shutil.copytree(_made(), tmp / "keys"))


def later(minutes: float) -> datetime:
    return NOW + timedelta(minutes=minutes)


def write_job(data: Path, number: str = "KBW-2031-014", *, upto: int | None = None, minutes: float = 0) -> None:
    """A whole job (or its first events) in the ledger."""
    with open_ledger(data) as ledger:
        ledger.append(number, released(number)[:upto], now=later(minutes))


def size(data: Path) -> int:
    with open_ledger(data, make=False) as ledger:
        return ledger.size()


def everything_in(folder: Path) -> dict[str, bytes]:
    """Every file's bytes, to see that nothing was written. The ledger's side files come and go with reading."""
    found = {str(file.relative_to(folder)): file.read_bytes() for file in sorted(folder.rglob("*"))
             if file.is_file() and not file.name.endswith(("-wal", "-shm"))}
    for marker in sorted(folder.rglob(MARKER)):  # a ledger in a database belongs to what is there
        with open_ledger(marker.parent, make=False) as ledger:
            found[f"{marker.relative_to(folder)} →"] = b"\n".join(ledger.export_log())
    return found
