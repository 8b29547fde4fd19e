"""Where may photos lie, a folder or the database that several hosts share? `python bench/photos.py`

Photos of 5, 8 and 12 MB (random bytes: a JPEG does not shrink either), kept and read by turns in a folder, in the database as
the bench does it, and there as large objects; each kept is synced, each read is checked. PostgreSQL is one of its own here.
"""

from __future__ import annotations

import hashlib
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path

from table import row

sys.path.insert(0, str(Path(__file__).parents[1]))
from tests import postgres

ROUNDS, SIZES_MB = 7, (5, 8, 12)


class LargeObjects:
    """The same in PostgreSQL's large objects, as little as it takes: no wall between shops, no check of the digest there."""

    def __init__(self, url: str) -> None:
        import psycopg

        self.db = psycopg.connect(url, autocommit=True)
        self.db.execute("CREATE TABLE IF NOT EXISTS public.loose (digest text PRIMARY KEY, object oid NOT NULL)")

    def put(self, data: bytes) -> str:
        digest = hashlib.sha256(data).hexdigest()
        with self.db.transaction():
            made = self.db.execute("SELECT lo_from_bytea(0, %b)", (data,)).fetchone()[0]
            self.db.execute("INSERT INTO public.loose VALUES (%s, %s)", (digest, made))
        return digest

    def get(self, digest: str) -> bytes:
        found = self.db.cursor(binary=True).execute("SELECT lo_get(object) FROM public.loose WHERE digest = %s", (digest,))
        data = found.fetchone()[0]
        assert hashlib.sha256(data).hexdigest() == digest
        return data


def timed(work, *given):
    """Seconds, and what came of it."""
    start = time.perf_counter()
    out = work(*given)
    return time.perf_counter() - start, out


def main() -> int:
    """Print a row for each size and way."""
    if postgres.binaries() is None:
        print("PostgreSQL's programs are not here; nothing was measured.")
        return 0
    from soundedge.store.blobs import Blobs
    from soundedge.store.postgres_files import DatabaseBlobs

    dice = random.Random(1)
    with postgres.cluster() as running, tempfile.TemporaryDirectory(prefix="soundedge-photos-", dir="/var/tmp") as place:
        ways = {"a folder": Blobs(Path(place) / "blobs"), "large objects": LargeObjects(running.url(postgres.OWNER)),
                "database": DatabaseBlobs(running.url(postgres.APP), "0" * 32)}
        for size in SIZES_MB:
            kept: dict[str, list[float]] = {name: [] for name in ways}
            read: dict[str, list[float]] = {name: [] for name in ways}
            for _ in range(ROUNDS):
                for name, way in ways.items():
                    data = dice.randbytes(size * 1_000_000)
                    took, digest = timed(way.put, data)
                    kept[name].append(took)
                    took, again = timed(way.get, digest)
                    read[name].append(took)
                    assert again == data
            for what, times in (("kept", kept), ("read", read)):
                middle = {name: statistics.median(each) for name, each in times.items()}
                row(f"photo of {size} MB {what} in the database", middle["database"], middle["a folder"], "a folder, synced",
                    left_out="the network between host and database")
                row(f"photo of {size} MB {what} in the database", middle["database"], middle["large objects"], "large objects",
                    left_out="the network between host and database")
    return 0


if __name__ == "__main__":
    sys.exit(main())
