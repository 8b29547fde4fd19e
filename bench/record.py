"""How quick are record and ledger beside the bare tools they stand on? Ratios, in one run. `python bench/record.py`

    append   one event a transaction, synced, beside bare SQLite commits of the same bytes with the same settings
    verify   a record of 100 000 events, beside hashlib.sha256 + json.loads over the same bytes
    signed   the same with 5 000 signatures, beside the hash and 5 000 bare Ed25519 checks
"""

from __future__ import annotations

import gc
import hashlib
import json
import shutil
import sqlite3
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from soundedge.record.entry import NOBODY_BEFORE, placed, recorded_text, statement
from soundedge.record.sign import key_id, public_of, sign_event
from soundedge.record.verify import verify
from soundedge.record.write import Said, document
from soundedge.store.sqlite import SqliteLedger

NOW = datetime(2031, 5, 4, 13, 0, tzinfo=UTC)
SEED = bytes(range(32))
EVENTS = 100_000
SIGNED_EVERY = 20


def said(n: int) -> Said:
    body = {"air_c": 19.8, "rh_pct": 52.0, "steel_c": 18.6, "instrument": "H2", "readings": [1250.0, 1244.5, 1261.0],
            "remark": "dry wind from the north"}
    return Said(f"air-{n}", "air.read", "ines", NOW, body)


def best(work, times: int = 3) -> float:
    """The quickest of several runs, in seconds of this process; rubbish of the one before is swept first."""
    out = []
    for _ in range(times):
        gc.collect()
        start = time.process_time()
        work()
        out.append(time.process_time() - start)
    return min(out)


def appends(count: int = 1500) -> float:
    """Commits a second of the ledger over those of bare SQLite; blocks of both alternate, wall-clock."""
    folder = Path(tempfile.mkdtemp(prefix="bench-record-"))
    try:
        bare = sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)
        bare.execute("PRAGMA journal_mode=WAL")
        bare.execute("PRAGMA synchronous=FULL")
        bare.execute("CREATE TABLE t (seq INTEGER PRIMARY KEY, entry BLOB NOT NULL) STRICT")
        raw = placed(statement("KBW-2031-014", said(1)), no=1, prev=NOBODY_BEFORE, recorded_at=recorded_text(NOW)).raw
        spent = {"bare": 0.0, "ledger": 0.0}
        with SqliteLedger.open(folder / "shop") as ledger:
            for block in range(0, count, 100):
                start = time.perf_counter()
                for n in range(block, block + 100):
                    bare.execute("BEGIN IMMEDIATE")
                    bare.execute("INSERT INTO t VALUES (?, ?)", (n + 1, raw))
                    bare.execute("COMMIT")
                middle = time.perf_counter()
                for n in range(block, block + 100):
                    ledger.append("KBW-2031-014", [said(n)], now=NOW)
                spent["bare"] += middle - start
                spent["ledger"] += time.perf_counter() - middle
        bare.close()
    finally:
        shutil.rmtree(folder)
    print(f"append: {count / spent['ledger']:8.0f} events/s; bare SQLite commit, FULL: {count / spent['bare']:8.0f}/s")
    return spent["bare"] / spent["ledger"]


def long_record(signed: bool) -> bytes:
    entries, prev = [], NOBODY_BEFORE
    for n in range(EVENTS):
        fact = said(n)
        sig = sign_event(SEED, "KBW-2031-014", fact, prev=prev) if signed and n % SIGNED_EVERY == 0 else None
        entry = placed(statement("KBW-2031-014", fact), no=n + 1, prev=prev, recorded_at=recorded_text(NOW), sig=sig)
        entries.append(entry)
        prev = entry.digest
    return document(entries)


def verifies() -> float:
    raw = long_record(signed=False)
    ours = best(lambda: verify(raw))
    peer = best(lambda: (hashlib.sha256(raw).digest(), json.loads(raw)))
    print(f"verify {EVENTS} events, {len(raw) / 1e6:.1f} MB: {ours:.2f} s; sha256 + json.loads: {peer:.2f} s")
    return peer / ours


def signatures() -> float:
    """Time over that of a bare hash for every event and a bare Ed25519 check for every signature."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    raw = long_record(signed=True)
    public = public_of(SEED)
    ours = best(lambda: verify(raw, keys={key_id(public): public}))
    held = verify(raw, keys={key_id(public): public})
    assert held.signatures_checked == EVENTS // SIGNED_EVERY
    pieces = [entry.raw for entry in held.entries()]
    key = Ed25519PrivateKey.from_private_bytes(SEED)
    message = pieces[0]
    signature, check = key.sign(message), key.public_key()

    def bare() -> None:
        for piece in pieces:
            hashlib.sha256(piece).hexdigest()
        for _ in range(EVENTS // SIGNED_EVERY):
            check.verify(signature, message)

    peer = best(bare)
    parse = best(lambda: json.loads(raw))
    print(f"verify with {EVENTS // SIGNED_EVERY} signatures: {ours:.2f} s; bare hashes + Ed25519: {peer:.2f} s; json.loads of "
          f"the same file: {parse:.2f} s (×{ours / (peer + parse):.2f} of all three)")
    return ours / peer


def main() -> int:
    kept = [
        ("append ÷ bare commit rate", appends(), "at least 0.40", lambda x: x >= 0.40),
        ("verify ÷ (sha256 + json.loads) rate", verifies(), "at least 0.60", lambda x: x >= 0.60),
        ("signed verify ÷ (bare hashes + Ed25519) time", signatures(), "at most 2.0", lambda x: x <= 2.0),
    ]
    for name, ratio, aim, holds in kept:
        print(f"{name:42s} {ratio:5.2f}   aim {aim}: {'reached' if holds(ratio) else 'NOT reached'}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
