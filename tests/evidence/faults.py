"""The faults, one function each: how often it was done, what was lost, what passed unseen."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from soundedge.basis.errors import BenchError, RecordBroken
from soundedge.record.checkpoint import make_checkpoint, open_checkpoint, read_checkpoint
from soundedge.record.keys import key_of
from soundedge.record.proof import check_proof, make_proof
from soundedge.record.tree import leaf_hash
from soundedge.record.verify import verify
from soundedge.record.witness import RolledBack, compare
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.store.ledger import FILE, NO_LINK
from soundedge.store.sqlite import SqliteLedger, verify_rows

from .disk import Image, library, watched
from .workload import after, append, job_of, missing, said

ORIGIN, SEED = "kelderbeck-basin.example/ledger", bytes(range(32))
LOG = key_of(ORIGIN, SEED)


@dataclass(frozen=True)
class Row:
    """One line of the table. ``bad`` must be nought."""

    fault: str
    done: int
    measured: str
    bad: int
    seconds: float


@contextmanager
def folder() -> Iterator[Path]:
    path = Path(tempfile.mkdtemp(prefix="evidence-"))
    try:
        yield path
    finally:
        shutil.rmtree(path, ignore_errors=True)


def kills(times: int, dice: random.Random) -> Row:
    """kill -9 at a random moment under write load; then open, verify, and look for everything acknowledged."""
    start, lost, half, closed, total = time.monotonic(), 0, 0, 0, 0
    done = 0
    while done < times:
        with folder() as place:
            acknowledged: set[int] = set()
            open_ledger(place).close()
            for _ in range(min(25, times - done)):
                mouth, hand = os.pipe()
                child = os.fork()
                if child == 0:
                    _write_until_killed(place, max(acknowledged, default=-1) + 1, mouth, hand)
                os.close(hand)
                time.sleep(dice.uniform(0.005, 0.12))
                os.kill(child, signal.SIGKILL)
                os.waitpid(child, 0)
                with os.fdopen(mouth) as lines:
                    acknowledged |= {int(line) for line in lines.read().split("\n")[:-1]}
                done += 1
                found = after(place, acknowledged)
                lost, half, closed = lost + found[0], half + found[1], closed + found[2]
                with open_ledger(place) as ledger:  # what was written but not acknowledged may stand; go on after it
                    acknowledged |= {int(e.id[1:]) for job in ledger.jobs() for e in ledger.record(job).entries}
            total += len(acknowledged)
    return Row("kill -9 under write load", times, f"{total} events written, {lost} acknowledged lost, {half} half, {closed} "
               "unopenable", lost + half + closed, time.monotonic() - start)


def _write_until_killed(place: Path, first: int, mouth: int, hand: int) -> None:
    os.close(mouth)
    try:
        with open_ledger(place) as ledger:
            for n in range(first, first + 100_000):
                append(ledger, n)
                os.write(hand, f"{n}\n".encode())
    finally:
        os._exit(1)


def power_cuts(times: int, dice: random.Random) -> Row | None:
    """Cut the power after any single disk operation; three ways what was not synced may be found again."""
    if library() is None:
        return None
    start, lost, half, closed, acks, images = time.monotonic(), 0, 0, 0, 0, 0
    cuts = 0
    while cuts < times:
        with folder() as place, watched() as disk:
            disk.noting = True
            with SqliteLedger.open(place / "shop") as ledger:
                for n in range(60):
                    append(ledger, n)
                    disk.acknowledged(n)
                    if n % 23 == 22:
                        ledger._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            log, disk.noting = list(disk.log), False
            chosen = set(dice.sample(range(1, len(log)), min(times - cuts, len(log) - 1)))
            image, acknowledged = Image(), set()
            for number, (what, file, spot, data) in enumerate(log):
                if number in chosen:
                    cuts += 1
                    for how in ("nothing", "torn", "everything"):
                        with folder() as found:
                            image.cut(found, how, dice)
                            if not (found / FILE).exists() and not acknowledged:
                                continue
                            images += 1
                            acks += len(acknowledged)
                            result = after(found, acknowledged)
                            # before the first acknowledgement an empty or half-made file may be there: made anew, nothing lost
                            lost, half = lost + result[0], half + result[1]
                            closed += result[2] if acknowledged else 0
                if what == "ack":
                    acknowledged.add(spot)
                else:
                    image.take(what, file, spot, data)
    return Row("power cut × 3 images", cuts, f"{images} images, {acks} acknowledged looked for, {lost} lost, {half} half, "
               f"{closed} unopenable", lost + half + closed, time.monotonic() - start)


def io_errors(upto: int) -> Row | None:
    """The k-th disk operation fails, k = 1, 2, 3, … until the work runs through; once, or from then on; error or full."""
    if library() is None:
        return None
    start, bad, done, refused = time.monotonic(), 0, 0, 0
    for k in range(1, upto + 1):  # while the ledger is being made
        with folder() as place, watched() as disk:
            disk.fail_at = k
            try:
                SqliteLedger.open(place).close()
            except BenchError:
                refused += 1
            reached = disk.count >= k
            disk.fail_at = 0
            done += 1
            bad += sum(after(place, set()))
        if not reached:
            break
    for persistent in (False, True):
        for full in (False, True):
            for k in range(1, upto + 1):
                with folder() as place, watched() as disk:
                    acknowledged: set[int] = set()
                    with SqliteLedger.open(place) as ledger:
                        append(ledger, 0)
                        acknowledged.add(0)
                        disk.count, disk.fail_at, disk.persistent, disk.full = 0, k, persistent, full
                        stopped = False
                        for n in range(1, 7):
                            try:
                                append(ledger, n)
                                acknowledged.add(n)
                                bad += stopped  # it went on writing after the disk had failed
                            except BenchError:
                                refused += 1
                                stopped = True
                        reached = disk.count >= k
                        disk.fail_at = 0
                    done += 1
                    bad += sum(after(place, acknowledged))
                if not reached:
                    break
    return Row("I/O error or full at operation k", done, f"{refused} writes refused by a sentence, {bad} lost, half or written "
               "on", bad, time.monotonic() - start)


def file_errors() -> Row:
    """The k-th call of the system that keeps a file fails; and file, name and folder are synced in that order."""
    from unittest import mock

    from soundedge.store.blobs import Blobs

    start, bad, done, k = time.monotonic(), 0, 0, 0
    names, data, reached = ("open", "fsync", "chmod", "replace"), b"photo" * 1000, True
    real = {name: getattr(os, name) for name in names}
    while reached:
        k += 1
        calls: list[str] = []

        def failing(name: str, calls: list[str], k: int):
            def call(*args, **more):
                calls.append(name)
                if len(calls) == k:
                    raise OSError(5, "Input/output error")
                return real[name](*args, **more)

            return call

        with folder() as place:
            blobs = Blobs(place / "blobs")
            with mock.patch.multiple(os, **{name: failing(name, calls, k) for name in names}):
                try:
                    digest = blobs.put(data)
                    bad += Blobs(place / "blobs").get(digest) != data
                except BenchError:
                    bad += sum(1 for path in place.rglob("*.part"))
            reached = len(calls) >= k
            done += 1
            bad += Blobs(place / "blobs").put(data) not in set(blobs.digests())
            if not reached:
                order = [name for name in calls if name in ("fsync", "replace")]
                bad += order[:3] != ["fsync", "replace", "fsync"]
    return Row("file store, call k fails", done, f"{bad} left half, lost, or synced too late", bad, time.monotonic() - start)


def disk_full(times: int, dice: random.Random) -> Row:
    """The system itself refuses to let files grow (a limit on file size); the shop writes until it cannot."""
    start, bad, acks, refused = time.monotonic(), 0, 0, 0
    for _ in range(times):
        with folder() as place:
            SqliteLedger.open(place).close()
            mouth, hand = os.pipe()
            child = os.fork()
            if child == 0:
                _write_until_full(place, mouth, hand, dice.randrange(40_000, 400_000))
            os.close(hand)
            with os.fdopen(mouth) as lines:
                words = lines.read().split("\n")[:-1]
            os.waitpid(child, 0)
            acknowledged = {int(word) for word in words if word.isdigit()}
            refused += sum(word == "refused" for word in words)
            bad += sum(word == "traceback" for word in words) + sum(after(place, acknowledged))
            acks += len(acknowledged)
    return Row("disk full", times, f"{acks} acknowledged, {refused} refused by a sentence, {bad} lost or half", bad,
               time.monotonic() - start)


def _write_until_full(place: Path, mouth: int, hand: int, limit: int) -> None:
    os.close(mouth)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    try:
        with SqliteLedger.open(place) as ledger:
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
            for n in range(100_000):
                try:
                    append(ledger, n)
                    os.write(hand, f"{n}\n".encode())
                except BenchError:
                    os.write(hand, b"refused\n")
                    break
    except BaseException:
        os.write(hand, b"traceback\n")
    finally:
        os._exit(0)


def bit_flips(events: int) -> Row:
    """Every single bit of an exported record, a checkpoint and a proof."""
    start, passed, done = time.monotonic(), 0, 0
    with folder() as place, open_ledger(place) as ledger:
        for n in range(0, 3 * events, 3):
            append(ledger, n)
        raw = ledger.record(job_of(0)).raw
        leaves, log = ledger.leaves(), list(ledger.export_log())
    note = make_checkpoint(ORIGIN, leaves, SEED)
    proof = make_proof(log[1], 1, leaves, note)
    for text, check in ((raw, verify), (note.encode(), lambda bad: open_checkpoint(bad, [LOG])),
                        (proof.encode(), lambda bad: check_proof(bad, [LOG]))):
        check(text)
        for spot in range(len(text)):
            for bit in range(8):
                bad = bytearray(text)
                bad[spot] ^= 1 << bit
                done += 1
                try:
                    check(bytes(bad))
                    passed += 1
                except BenchError:
                    pass
    return Row("single bit of record, checkpoint, proof", done, f"{passed} passed", passed, time.monotonic() - start)


def edits(times: int, dice: random.Random) -> Row:
    """Random edits of the database by hand, guards taken off and put back, whole rewrites of the chain among them."""
    start, unseen, unnamed, kinds = time.monotonic(), 0, 0, {}
    with folder() as place:
        with SqliteLedger.open(place) as ledger:
            for n in range(60):
                append(ledger, n)
            seen = read_checkpoint(make_checkpoint(ORIGIN, ledger.leaves(50), SEED).split("\n\n")[0] + "\n")
            ledger.backup(place / "copy")
        image = (place / "copy").read_bytes()
    for _ in range(times):
        db = sqlite3.connect(":memory:", isolation_level=None)
        db.deserialize(image)
        name = _edit(db, dice)
        kinds[name] = kinds.get(name, 0) + 1
        try:
            verify_rows(db)
            leaves = [leaf for (leaf,) in db.execute("SELECT leaf FROM ledger ORDER BY seq")]
            compare(leaves, [("tablet 3", seen)])
            unseen += 1
        except RecordBroken as fault:
            unnamed += not fault.field
        db.close()
    whole = sum(count for kind, count in kinds.items() if kind.startswith("rewrite"))
    return Row("edit of the database by hand", times, f"{len(kinds)} kinds, {whole} whole rewrites; {unseen} unseen",
               unseen + unnamed, time.monotonic() - start)


def _edit(db: sqlite3.Connection, dice: random.Random) -> str:
    """One edit among the first 50 rows, which a witness has seen."""
    guards = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        db.execute(f"DROP TRIGGER {name}")
    row = dice.randrange(1, 51)
    kind = dice.choice(["flip", "word", "leaf", "link", "column", "delete", "delete_job", "cut_tail", "swap", "double",
                        "rewrite", "rewrite_without", "rewrite_tail"])
    (raw,) = db.execute("SELECT entry FROM ledger WHERE seq = ?", (row,)).fetchone()
    if kind == "flip":
        bad = bytearray(raw)
        bad[dice.randrange(len(bad))] ^= 1 << dice.randrange(8)
        db.execute("UPDATE ledger SET entry = ? WHERE seq = ?", (bytes(bad), row))
    elif kind == "word":
        db.execute("UPDATE ledger SET entry = ?, leaf = ? WHERE seq = ?", (raw.replace(b"ines", b"inez"),
                   leaf_hash(raw.replace(b"ines", b"inez")), row))
    elif kind in ("leaf", "link"):
        db.execute(f"UPDATE ledger SET {kind} = ? WHERE seq = ?", (dice.randbytes(32), row))
    elif kind == "column":
        column, value = dice.choice([("job", "KBW-9"), ("id", "other"), ("no", 900), ("seq", 900)])
        db.execute(f"UPDATE ledger SET {column} = ? WHERE seq = ?", (value, row))
    elif kind == "delete":
        db.execute("DELETE FROM ledger WHERE seq = ?", (row,))
    elif kind == "delete_job":
        db.execute("DELETE FROM ledger WHERE job = ?", (job_of(row),))
    elif kind == "cut_tail":
        db.execute("DELETE FROM ledger WHERE seq >= ?", (row,))
    elif kind == "swap":
        other = row % 50 + 1
        db.execute("UPDATE ledger SET seq = -1 WHERE seq = ?", (row,))
        db.execute("UPDATE ledger SET seq = ? WHERE seq = ?", (row, other))
        db.execute("UPDATE ledger SET seq = ? WHERE seq = -1", (other,))
    elif kind == "double":
        db.execute("INSERT INTO ledger SELECT 61, job, 99, 'again', entry, leaf, link FROM ledger WHERE seq = ?", (row,))
    else:
        _rewrite(db, dice, row, kind)
    for _, sql in guards:
        db.execute(sql)
    return kind


def _rewrite(db: sqlite3.Connection, dice: random.Random, row: int, kind: str) -> None:
    """What an owner with all rights can do: tell another story and chain everything anew, so that it holds by itself."""
    import hashlib
    import json

    from soundedge.record.canonical import canonical
    from soundedge.record.entry import NOBODY_BEFORE

    rows = [json.loads(raw) for (raw,) in db.execute("SELECT entry FROM ledger ORDER BY seq")]
    if kind == "rewrite":
        rows[row - 1]["body"]["air_c"] = str(dice.randrange(1000))
    elif kind == "rewrite_without":
        rows = [r for r in rows if r["job"] != job_of(row)] if dice.random() < 0.5 else rows[: row - 1] + rows[row:]
    else:
        rows = rows[: row - 1]
    db.execute("DELETE FROM ledger")
    link, heads = NO_LINK, {}
    for seq, event in enumerate(rows, 1):
        no, prev = heads.get(event["job"], (0, NOBODY_BEFORE))
        raw = canonical(event | {"no": no + 1, "prev": prev})
        leaf = leaf_hash(raw)
        link = hashlib.sha256(link + leaf).digest()
        heads[event["job"]] = (no + 1, hashlib.sha256(raw).hexdigest())
        db.execute("INSERT INTO ledger VALUES (?, ?, ?, ?, ?, ?, ?)", (seq, event["job"], no + 1, event["id"], raw, leaf, link))


def restores(times: int) -> Row:
    """An older backup is put in place of the ledger; a tablet and a printed certificate have seen the newer one."""
    start, unseen = time.monotonic(), 0
    with folder() as place:
        with SqliteLedger.open(place / "shop") as ledger:
            for n in range(times):
                append(ledger, n)
                ledger.backup(place / f"backup-{n}")
            append(ledger, times)
            seen = read_checkpoint(make_checkpoint(ORIGIN, ledger.leaves(), SEED).split("\n\n")[0] + "\n")
        for n in range(times):
            shop = place / f"restored-{n}"
            shop.mkdir()
            shutil.copy(place / f"backup-{n}", shop / FILE)
            with SqliteLedger.open(shop) as ledger:
                ledger.verify()  # an old copy is sound in itself
                try:
                    compare(ledger.leaves(), [("tablet 3", seen)])
                    unseen += 1
                except RolledBack:
                    pass
            shutil.rmtree(shop)
    return Row("older backup put in place", times, f"{unseen} unseen", unseen, time.monotonic() - start)


def loaded(times: int) -> Row:
    """A whole backup is made while others write, brought back into an empty folder, verified there and written to."""
    from threading import Semaphore, Thread

    from soundedge.services.evidence import backup
    from soundedge.store.blobs import Blobs

    from .workload import NOW

    start, bad, written, free, stop = time.monotonic(), 0, [0], Semaphore(20), []
    with folder() as place:
        shop, files = place / "shop", Blobs(place / "shop" / "blobs")

        def write() -> None:
            with open_ledger(shop) as ledger:
                while free.acquire() and not stop:
                    append(ledger, written[0])
                    if written[0] % 5 == 0:
                        files.put(written[0].to_bytes(8, "big") * 500)
                    written[0] += 1

        writer = Thread(target=write)
        writer.start()
        try:
            while written[0] < 20:
                time.sleep(0.01)
            for n in range(times):
                before = written[0]
                free.release(20)  # so many are written while this copy is made; without an end, the last would take minutes
                backup.make(shop, place / "copy", now=NOW)
                backup.restore(place / "copy", place / "back", keys_folder=place / "keys")
                with open_ledger(place / "back") as ledger:
                    ledger.verify()
                    bad += bool(missing(ledger, set(range(before))))  # what was acknowledged before it began is in it
                    append(ledger, 10**6 + n)
                Blobs(place / "back" / "blobs").verify()
                shutil.rmtree(place / "back")
        finally:
            stop.append(True)
            free.release()
            writer.join()
    return Row("backup under load, brought back", times, f"{written[0]} written meanwhile, {bad} lack what was acknowledged "
               "before", bad, time.monotonic() - start)


def rebuilds(times: int) -> Row:
    """Everything derived thrown away, the whole ledger rebuilt from its log; compared byte for byte."""
    start, bad = time.monotonic(), 0
    with folder() as place, open_ledger(place / "shop") as ledger:
        for n in range(60):
            append(ledger, n)
        for n in range(times):
            with open_ledger(place / f"new-{n}") as other:
                other.import_log(ledger.export_log())
                before = ledger.derived()
                ledger.rebuild()
                bad += not (other.link() == ledger.link() and list(other.export_log()) == list(ledger.export_log())
                            and other.derived() == before == ledger.derived())
    return Row("rebuilt from the log", times, f"{bad} differ by a byte", bad, time.monotonic() - start)


def retries(times: int, dice: random.Random) -> Row:
    """The same event sent one to five times over, in any order, after lost replies: one row each, the same answer."""
    start, bad = time.monotonic(), 0
    with folder() as place, open_ledger(place) as ledger:
        answers: dict[int, object] = {}
        sent = [n for n in range(times) for _ in range(dice.randrange(1, 6))]
        dice.shuffle(sent)
        for n in sent:
            got = ledger.append(job_of(n), [said(n)], now=_moment(dice))
            bad += answers.setdefault(n, got) != got
        bad += ledger.size() != times or len(missing(ledger, set(range(times))))
    return Row("event sent again", len(sent), f"{times} events, {bad} doubled or answered otherwise", bad,
               time.monotonic() - start)


def races(times: int) -> Row:
    """Two inspectors release the same job at the same moment, each on top of what he saw: exactly one does."""
    from threading import Barrier, Thread

    from soundedge.basis.errors import Conflict
    from soundedge.record.write import Said

    from .workload import NOW

    start, bad, refused = time.monotonic(), 0, 0
    with folder() as place:
        with open_ledger(place) as ledger:
            for n in range(times):
                ledger.append(f"KBW-{n}", [said(0)], now=NOW)
        together = Barrier(2)
        answers: dict[tuple[str, int], str] = {}

        def inspector(name: str) -> None:
            with open_ledger(place) as mine:
                for n in range(times):
                    seen, release = mine.head(f"KBW-{n}"), Said(f"release-{name}", "release.signed", name, NOW, {})
                    together.wait(30)
                    try:
                        mine.append(f"KBW-{n}", [release], now=NOW, on_head=seen)
                        answers[name, n] = "released"
                    except Conflict:
                        answers[name, n] = "refused"

        hands = [Thread(target=inspector, args=(name,)) for name in ("tobias", "edda")]
        for hand in hands:
            hand.start()
        for hand in hands:
            hand.join()
        for n in range(times):
            pair = sorted(answers.get((name, n), "failed") for name in ("tobias", "edda"))
            bad += pair != ["refused", "released"]
            refused += pair.count("refused")
        with open_ledger(place) as ledger:
            bad += ledger.size() != 2 * times
            ledger.verify()
    return Row("two release one job at once", times, f"{refused} told that the job has moved on, {bad} released twice or "
               "not at all", bad, time.monotonic() - start)


def _moment(dice: random.Random):
    from datetime import timedelta

    from .workload import NOW

    return NOW + timedelta(seconds=dice.randrange(-10**8, 10**8))
