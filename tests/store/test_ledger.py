"""Is what the ledger acknowledged there, once, in its place, and can nobody write over it unseen?"""

import hashlib
import json
import multiprocessing
import os
import random
import re
import sqlite3
from datetime import timedelta

import pytest

from soundedge.basis.errors import BenchError, Conflict, Contradiction, RecordBroken, Unknown, Unreadable
from soundedge.record.entry import NOBODY_BEFORE
from soundedge.record.tree import leaf_hash, root
from soundedge.record.verify import verify
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.store.blobs import Blobs
from soundedge.store.ledger import FILE, NotKept
from soundedge.store.projections import JOBS, Projection, Table
from soundedge.store.schema import PRAGMAS
from soundedge.store.sqlite import SqliteLedger, check_file

from ..hand import prepared, unguarded
from ..record.jobs import NOW, fact, record, released

pytestmark = pytest.mark.store_contract


@pytest.fixture
def ledger(tmp_path):
    with open_ledger(tmp_path / "data") as opened:
        yield opened


def air(number, air_c=19.8):
    return fact(number, "air.read", "ines", {"air_c": air_c})


@pytest.mark.sqlite_only("SQLite's settings, triggers and errors; PostgreSQL's own in test_postgres.py")
def test_it_is_opened_with_full_sync_and_every_other_setting_read_back(ledger):
    for name, (_, due) in PRAGMAS.items():
        assert ledger._db.execute(f"PRAGMA {name}").fetchone()[0] == due
    assert ledger._db.execute("PRAGMA synchronous").fetchone()[0] == 2


@pytest.mark.sqlite_only("SQLite's settings, triggers and errors; PostgreSQL's own in test_postgres.py")
def test_a_disk_that_does_not_give_what_is_needed_is_refused(tmp_path, monkeypatch):
    monkeypatch.setitem(PRAGMAS, "synchronous", ("NORMAL", 2))

    with pytest.raises(NotKept, match="does not give synchronous"):
        SqliteLedger.open(tmp_path)


def test_it_says_how_it_keeps_what_it_acknowledges(ledger):
    ways = r"writes with full sync \(WAL\)|is kept by PostgreSQL \d+ with .*\bfsync on\b.*"
    assert re.fullmatch(f"the ledger ({ways})", ledger.kept())


def test_what_is_appended_is_there_after_opening_again(tmp_path):
    with open_ledger(tmp_path) as first:
        entries = first.append("KBW-1", [air(1), air(2)], now=NOW)
    with open_ledger(tmp_path) as again:
        assert again.record("KBW-1").entries == entries
        assert "2 entries of 1 job," in again.verify()
        assert verify(again.record("KBW-1").raw).events == 2


def test_the_same_event_sent_again_is_one_row_and_the_same_answer(ledger):
    first = ledger.append("KBW-1", [air(1), air(2)], now=NOW)

    assert ledger.append("KBW-1", [air(2), air(1)], now=NOW + timedelta(days=1)) == (first[1], first[0])
    assert ledger.append("KBW-1", [air(1), air(1)], now=NOW) == (first[0], first[0])
    assert ledger.size() == 2


def test_the_same_id_with_another_content_is_a_conflict_and_writes_nothing(ledger):
    ledger.append("KBW-1", [air(1)], now=NOW)

    with pytest.raises(Conflict, match="another content"):
        ledger.append("KBW-1", [air(2), air(1, air_c=25.0)], now=NOW)
    with pytest.raises(Conflict, match="another content"):
        ledger.append("KBW-1", [air(3), air(3, air_c=25.0)], now=NOW)
    assert ledger.size() == 1


def test_the_same_id_in_another_job_is_another_event(ledger):
    ledger.append("KBW-1", [air(1)], now=NOW)
    ledger.append("KBW-2", [air(1)], now=NOW)

    assert ledger.jobs() == ["KBW-1", "KBW-2"] and ledger.places("KBW-2") == [1]


def test_who_looked_at_an_older_state_is_told_and_nothing_is_written(ledger):
    ledger.append("KBW-1", [air(1)], now=NOW, on_head=NOBODY_BEFORE)
    seen = ledger.head("KBW-1")
    ledger.append("KBW-1", [air(2)], now=NOW)

    with pytest.raises(Conflict, match="moved on"):
        ledger.append("KBW-1", [fact(3, "release.signed", "tobias", {})], now=NOW, on_head=seen)
    assert ledger.size() == 2


def test_who_looked_before_the_same_id_was_written_is_told_that_the_job_moved_on(ledger):
    """Two writers give an entry of the bench's own one id; the second looks again and finds it there."""
    seen = ledger.append("KBW-1", [air(1)], now=NOW, on_head=NOBODY_BEFORE)[0].digest
    ledger.append("KBW-1", [air(2)], now=NOW, on_head=seen)

    with pytest.raises(Conflict) as fault:
        ledger.append("KBW-1", [air(2, air_c=25.0), air(3)], now=NOW, on_head=seen)
    assert fault.value.field == "on_head" and ledger.size() == 2


def test_a_lost_reply_is_answered_the_same_on_the_retry_although_the_head_has_moved(ledger):
    first = ledger.append("KBW-1", [air(1)], now=NOW, on_head=NOBODY_BEFORE)

    assert ledger.append("KBW-1", [air(1)], now=NOW, on_head=NOBODY_BEFORE) == first
    assert ledger.append("KBW-1", [air(1), air(1)], now=NOW, on_head=NOBODY_BEFORE) == first * 2


def test_the_board_has_a_row_for_each_job_and_the_benchs_word_until_something_is_added(ledger):
    part = fact(1, "part.identified", "ines", {"name": "mixer cover", "tag": "MC-7"})
    lining = fact(2, "lining.identified", "ines", {"polymer": "ectfe"})
    word = fact(3, "job.judged", "bench", {"verdict": "released", "outcome": "temporary"})
    ledger.append("KBW-1", [part, lining, word], now=NOW)
    ledger.append("KBW-2", [air(1)], now=NOW)
    ledger.append("shop", [air(1)], now=NOW)

    one = next(row for row in ledger.lines() if row[0] == "KBW-1")
    assert one[1:3] == (3, ledger.head("KBW-1")) and one[4:] == ("mixer cover", "MC-7", "ectfe", "released", "temporary")
    assert {row[0] for row in ledger.lines()} == {"KBW-1", "KBW-2"} and set(ledger.heads()) == {"KBW-1", "KBW-2", "shop"}
    assert ledger.heads()["KBW-2"] == ledger.head("KBW-2")

    ledger.append("KBW-1", [fact(4, "picture.taken", "ines", {"file": "a.jpg"})], now=NOW)
    assert [row[7:] for row in ledger.lines() if row[0] == "KBW-1"] == [("released", "temporary")]
    ledger.append("KBW-1", [air(5)], now=NOW)
    assert [row[7:] for row in ledger.lines() if row[0] == "KBW-1"] == [("", "")]
    ledger.check_derived()


def test_a_bad_fact_among_good_ones_writes_none_of_them(ledger):
    with pytest.raises(BenchError):
        ledger.append("KBW-1", [air(1), fact(2, "air.read", "ines", {"x": float("nan")})], now=NOW)
    assert ledger.size() == 0


@pytest.mark.sqlite_only("SQLite's statements; PostgreSQL's own in test_postgres.py")
@pytest.mark.parametrize("statement", [
    "UPDATE ledger SET entry = x'00' WHERE seq = 1",
    "UPDATE ledger SET seq = 9 WHERE seq = 3",
    "DELETE FROM ledger WHERE seq = 3",
    "DELETE FROM ledger",
    "INSERT OR REPLACE INTO ledger SELECT * FROM ledger WHERE seq = 1",
    "REPLACE INTO ledger SELECT * FROM ledger WHERE seq = 3",
    "INSERT OR REPLACE INTO ledger SELECT 4, job, no, id, entry, leaf, link FROM ledger WHERE seq = 1",
    "INSERT INTO ledger SELECT 9, job, 4, 'new', entry, leaf, link FROM ledger WHERE seq = 1",
    "INSERT INTO ledger SELECT NULL, job, 4, 'new', entry, leaf, link FROM ledger WHERE seq = 1",
    "INSERT INTO ledger SELECT 4, job, 7, 'new', entry, leaf, link FROM ledger WHERE seq = 1",
    "INSERT OR IGNORE INTO ledger SELECT 5, job, 4, 'new', entry, leaf, link FROM ledger WHERE seq = 1",
    "INSERT INTO ledger SELECT * FROM ledger WHERE seq = 1 ON CONFLICT (seq) DO UPDATE SET entry = x'00'",
    "UPDATE OR REPLACE ledger SET seq = 1 WHERE seq = 2",
])
def test_every_way_to_write_over_the_ledger_is_refused(ledger, statement):
    ledger.append("KBW-1", [air(1), air(2), air(3)], now=NOW)
    before = list(ledger.export_log())

    with pytest.raises(sqlite3.IntegrityError):
        ledger._db.execute(statement)
    assert list(ledger.export_log()) == before


@pytest.mark.sqlite_only("SQLite's settings, triggers and errors; PostgreSQL's own in test_postgres.py")
def test_a_guard_that_was_taken_off_is_noticed_at_opening(tmp_path):
    for tampering in ("DROP TRIGGER ledger_no_update",
                      "CREATE TRIGGER sly AFTER INSERT ON ledger BEGIN SELECT 1; END"):
        folder = tmp_path / hashlib.sha256(tampering.encode()).hexdigest()[:8]
        SqliteLedger.open(folder).close()
        with sqlite3.connect(folder / FILE) as db:
            db.execute(tampering)
        db.close()
        with pytest.raises(RecordBroken, match=r"guard|trigger"):
            SqliteLedger.open(folder)


@pytest.mark.sqlite_only("SQLite's settings, triggers and errors; PostgreSQL's own in test_postgres.py")
def test_other_files_and_newer_ledgers_are_refused_by_a_sentence(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / FILE).write_bytes(b"not a database at all, but long enough to be read as one" * 50)
    with pytest.raises(RecordBroken, match="damaged"):
        SqliteLedger.open(tmp_path / "a")
    (tmp_path / "b").mkdir()
    other = sqlite3.connect(tmp_path / "b" / FILE)
    other.execute("CREATE TABLE t (x)")
    other.close()
    with pytest.raises(Unreadable, match="not a ledger"):
        SqliteLedger.open(tmp_path / "b")
    SqliteLedger.open(tmp_path / "c").close()
    newer = sqlite3.connect(tmp_path / "c" / FILE)
    newer.execute("PRAGMA user_version=7")
    newer.close()
    with pytest.raises(Unreadable, match="newer version"):
        SqliteLedger.open(tmp_path / "c")
    with pytest.raises(Unreadable, match="no ledger"):
        SqliteLedger.open(tmp_path / "d", make=False)


def test_a_record_goes_out_and_comes_in_byte_for_byte(ledger, tmp_path):
    ledger.append("KBW-2031-014", released(), now=NOW)
    raw = ledger.record("KBW-2031-014").raw

    with open_ledger(tmp_path / "other") as other:
        assert other.import_record(raw) == 23 and other.import_record(raw) == 0
        assert other.record("KBW-2031-014").raw == raw
        other.append("KBW-2031-014", [fact(50, "air.read", "ines", {"air_c": 20.0})], now=NOW)
        assert other.import_record(raw) == 0  # an older copy adds nothing and takes nothing away
        assert ledger.import_record(other.record("KBW-2031-014").raw) == 1


def test_another_history_of_the_same_job_is_not_taken_over(ledger):
    ledger.append("KBW-2031-014", released(), now=NOW)
    before = ledger.link()

    with pytest.raises(Conflict, match="another entry 9"):
        ledger.import_record(record([*released()[:8], air(8, air_c=25.0), *released()[9:]]).raw)
    with pytest.raises(RecordBroken):
        ledger.import_record(ledger.record("KBW-2031-014").raw[:-1] + b"?")
    assert ledger.link() == before


def test_the_ledger_is_rebuilt_from_its_log_byte_for_byte(ledger, tmp_path):
    dice = random.Random(2)
    for n in range(60):
        ledger.append(f"KBW-{dice.randrange(5)}", [air(n)], now=NOW + timedelta(seconds=n))
    with open_ledger(tmp_path / "new") as other:
        assert other.import_log(ledger.export_log()) == 60

        assert (other.link(), other.leaves()) == (ledger.link(), ledger.leaves())
        assert other.derived() == ledger.derived()
        with pytest.raises(Conflict):
            other.import_log([])


@pytest.mark.parametrize("spoil", [lambda x: [x[1], x[0], *x[2:]], lambda x: x[1:], lambda x: [*x[:2], b"{}", *x[2:]],
                                   lambda x: [*x[:2], x[2][:-1], *x[3:]]])
def test_a_log_with_a_line_missing_moved_or_spoilt_is_refused_whole(ledger, tmp_path, spoil):
    ledger.append("KBW-1", [air(n) for n in range(6)], now=NOW)
    with open_ledger(tmp_path / "new") as other:
        with pytest.raises(RecordBroken):
            other.import_log(spoil(list(ledger.export_log())))
        assert other.size() == 0


def test_projections_are_derived_anew_byte_for_byte(tmp_path):
    def take(db, entry):
        if not db.execute("UPDATE kinds SET n = n + 1 WHERE kind = ?", (entry.kind,)).rowcount:
            db.execute("INSERT INTO kinds (kind, n) VALUES (?, 1)", (entry.kind,))

    kinds = Projection("kinds", {"kinds": Table({"kind": "TEXT", "n": "BIGINT"}, ("kind",))}, take)
    prepared(kinds)
    with open_ledger(tmp_path) as plain:
        plain.append("KBW-2031-014", released(), now=NOW)
    with open_ledger(tmp_path, projections=(JOBS, kinds)) as ledger:  # a new projection fills itself
        ledger.append("KBW-2", [air(1)], now=NOW)
        before = ledger.derived()
        assert b"layer.fused" in before
        with ledger._writing() as db:
            db.execute("DELETE FROM jobs")
            db.execute("UPDATE kinds SET n = 99")
        assert ledger.derived() != before
        with pytest.raises(RecordBroken, match=r"'jobs'.* 0 rows .*\(2 rows\).*record rebuild"):
            ledger.check_derived()

        ledger.rebuild()

        assert ledger.derived() == before
        ledger.check_derived()


def test_a_new_job_is_not_told_from_another_by_capitals_alone(ledger, tmp_path):
    ledger.append("J-1", [air(1)], now=NOW)
    for number in ("j-1", "CON", "nul.x", "J-2."):
        with pytest.raises((Contradiction, Unreadable)):
            ledger.append(number, [air(1)], now=NOW)
    assert ledger.jobs() == ["J-1"] and [entry.job for entry in ledger.firsts("air.read")] == ["J-1"]

    with open_ledger(tmp_path / "before the rule") as older:  # what was kept under such names goes on, and comes back
        for number in ("J-1", "j-1", "CON"):
            older.import_record(record([air(1)], number).raw)
        older.append("CON", [air(5)], now=NOW)
        with open_ledger(tmp_path / "restored") as back:
            assert back.import_log(older.export_log()) == older.size() and back.jobs() == ["J-1", "j-1", "CON"]


def test_the_clock_set_back_does_not_set_the_record_back(ledger):
    ledger.append("KBW-1", [air(1)], now=NOW)
    entry = ledger.append("KBW-2", [air(1)], now=NOW - timedelta(days=3650))[0]

    assert entry.recorded_at == "2031-05-04T13:00:00.000Z"
    assert ledger.seconds_behind(NOW - timedelta(seconds=90)) == 90.0 and ledger.seconds_behind(NOW) == 0.0
    assert "holds" in ledger.verify()


def test_leaves_and_places_are_those_of_the_tree(ledger):
    ledger.append("KBW-1", [air(1), air(2)], now=NOW)
    ledger.append("KBW-2", [air(1)], now=NOW)
    ledger.append("KBW-1", [air(3)], now=NOW)

    assert ledger.leaves() == [leaf_hash(raw) for raw in ledger.export_log()]
    assert ledger.leaves(2) == ledger.leaves()[:2] and ledger.places("KBW-1") == [0, 1, 3]
    assert root(ledger.leaves(3)) != root(ledger.leaves())


@pytest.mark.parametrize("edit, values, said", [
    ("UPDATE ledger SET entry = ? WHERE seq = 3", lambda row: [row[3].replace(b"19.8", b"19.9")], r"Row 3 .*air\.read"),
    ("UPDATE ledger SET entry = ?, leaf = ? WHERE seq = 3",
     lambda row: [row[3].replace(b"19.8", b"19.9"), leaf_hash(row[3].replace(b"19.8", b"19.9"))], r"Row 3 .*air\.read"),
    ("DELETE FROM ledger WHERE seq = 3", lambda row: [], "Row 3 of the ledger is missing"),
    ("DELETE FROM ledger WHERE job = ?", lambda row: ["KBW-0"], "missing"),
    ("UPDATE ledger SET id = ? WHERE seq = 4", lambda row: ["x"], "Row 4"),
    ("UPDATE ledger SET job = ? WHERE seq = 4", lambda row: ["KBW-9"], "Row 4"),
    ("UPDATE ledger SET no = 99 WHERE seq = 4", lambda row: [], "Row 4"),
    ("UPDATE ledger SET leaf = ? WHERE seq = 5", lambda row: [bytes(32)], "Row 5"),
    ("UPDATE ledger SET link = ? WHERE seq = 6", lambda row: [bytes(32)], "Row 6"),
    ("UPDATE ledger SET seq = 100 WHERE seq = 10", lambda row: [], "Row 10 of the ledger is missing"),
])
def test_an_edit_by_hand_is_found_although_the_guards_are_put_back(tmp_path, edit, values, said):
    with open_ledger(tmp_path) as ledger:
        for n in range(10):
            ledger.append(f"KBW-{n % 2}", [air(n)], now=NOW)
    with unguarded(tmp_path) as db:
        row = db.execute("SELECT job, no, id, entry FROM ledger WHERE seq = 3").fetchone()
        db.execute(edit, tuple(values(row)))

    with open_ledger(tmp_path) as ledger, pytest.raises(RecordBroken, match=said):
        ledger.verify()


@pytest.mark.sqlite_only("SQLite's own types; PostgreSQL's columns refuse a text outright")
def test_a_text_where_bytes_belong_is_refused_by_the_table(tmp_path):
    with SqliteLedger.open(tmp_path) as ledger:
        ledger.append("KBW-1", [air(1)], now=NOW)
    with unguarded(tmp_path) as db, pytest.raises(sqlite3.IntegrityError, match="cannot store TEXT"):
        db.execute("UPDATE ledger SET entry = CAST(entry AS TEXT)")


def test_a_backup_is_verified_before_it_is_called_one(ledger, tmp_path):
    for n in range(5):
        ledger.append("KBW-1", [air(n)], now=NOW)
    ledger.backup(tmp_path / "copy.sqlite3")

    assert "5 entries" in check_file(tmp_path / "copy.sqlite3")
    with pytest.raises(NotKept):
        ledger.backup(tmp_path / "nowhere" / "copy.sqlite3")


def test_a_backup_of_a_ledger_that_does_not_hold_is_not_called_one(tmp_path):
    with open_ledger(tmp_path) as ledger:
        ledger.append("KBW-1", [air(n) for n in range(5)], now=NOW)
        with unguarded(tmp_path) as db:
            db.execute("UPDATE ledger SET leaf = ? WHERE seq = 3", (bytes(32),))

        with pytest.raises(RecordBroken, match="Row 3"):
            ledger.backup(tmp_path / "copy.sqlite3")
    assert [path.name for path in tmp_path.iterdir() if "copy" in path.name] == []


def _append_many(folder, worker, count, shared):
    with open_ledger(folder) as ledger:
        for n in range(count):
            ledger.append("KBW-shared", [air(n if shared else worker * 1000 + n)], now=NOW)


@pytest.mark.parametrize("shared, rows", [(False, 60), (True, 20)])
def test_three_processes_at_once_keep_every_event_once(tmp_path, shared, rows):
    open_ledger(tmp_path).close()
    work = multiprocessing.get_context("fork")
    hands = [work.Process(target=_append_many, args=(tmp_path, w, 20, shared)) for w in range(3)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join(60)
    assert [hand.exitcode for hand in hands] == [0, 0, 0]
    with open_ledger(tmp_path) as ledger:
        assert ledger.size() == rows and "holds" in ledger.verify()


@pytest.mark.sqlite_only("SQLite's settings, triggers and errors; PostgreSQL's own in test_postgres.py")
def test_after_an_error_of_the_disk_nothing_more_is_written(ledger):
    class Failing:
        in_transaction = False

        def __init__(self, db):
            self.db = db

        def execute(self, statement, *values):
            if statement == "COMMIT":
                self.db.execute("ROLLBACK")
                error = sqlite3.OperationalError("disk I/O error")
                error.sqlite_errorname = "SQLITE_IOERR_FSYNC"
                raise error
            return self.db.execute(statement, *values)

    ledger.append("KBW-1", [air(1)], now=NOW)
    real, ledger._db = ledger._db, Failing(ledger._db)
    with pytest.raises(NotKept, match="Nothing of the last entry was saved"):
        ledger.append("KBW-1", [air(2)], now=NOW)
    ledger._db = real
    with pytest.raises(NotKept, match="read-only since the disk failed"):
        ledger.append("KBW-1", [air(3)], now=NOW)
    assert ledger.size() == 1 and ledger.record("KBW-1").entries[0].no == 1
    with SqliteLedger.open(ledger.folder) as again:
        again.append("KBW-1", [air(2)], now=NOW)


def test_a_job_that_is_not_there_is_unknown(ledger):
    with pytest.raises(Unknown):
        ledger.record("KBW-404")
    assert ledger.head("KBW-404") == NOBODY_BEFORE and ledger.size() == 0 and ledger.link() == "0" * 64


# ---------------------------------------------------------------- files


def test_a_file_is_kept_once_under_its_digest_and_read_back_checked(tmp_path):
    blobs = Blobs(tmp_path / "blobs")
    data = os.urandom(5000)
    digest = blobs.put(data)

    assert digest == hashlib.sha256(data).hexdigest() == blobs.put(data)
    assert blobs.get(digest) == data and list(blobs.digests()) == [digest]
    assert "All 1 files" in blobs.verify()
    assert not list((tmp_path / "blobs").rglob("*.part"))


def test_a_file_that_changed_on_disk_is_named_and_mended_by_putting_it_again(tmp_path):
    blobs = Blobs(tmp_path)
    digest = blobs.put(b"photo")
    path = tmp_path / digest[:2] / digest
    path.chmod(0o600)
    path.write_bytes(b"phot0")

    with pytest.raises(RecordBroken, match=digest[:16]):
        blobs.get(digest)
    with pytest.raises(RecordBroken):
        blobs.verify()
    assert blobs.put(b"photo") == digest and blobs.get(digest) == b"photo"


@pytest.mark.parametrize("name", ["../../etc/passwd", "", "AB" * 32, "ab" * 31, "ab" * 32 + "\n", None, "/" + "a" * 63])
def test_no_name_is_ever_a_path(tmp_path, name):
    with pytest.raises(Unreadable):
        Blobs(tmp_path).get(name)


def test_an_unknown_file_is_said_to_be_unknown(tmp_path):
    with pytest.raises(Unknown):
        Blobs(tmp_path).get("ab" * 32)


def test_a_disk_that_takes_no_file_leaves_nothing_behind(tmp_path):
    (tmp_path / "blobs").write_bytes(b"a file where the folder belongs")

    with pytest.raises(NotKept):
        Blobs(tmp_path / "blobs").put(b"photo")


def test_every_stored_row_is_its_events_own_bytes(ledger):
    ledger.append("KBW-2031-014", released(), now=NOW)

    assert b'{"events":[' + b",".join(ledger.export_log()) == ledger.record("KBW-2031-014").raw.split(b'],"format"')[0]
    assert [json.loads(raw)["no"] for raw in ledger.export_log()] == list(range(1, 24))


@pytest.mark.sqlite_only("formats of the file")
def test_a_file_of_format_1_gets_the_guard_it_lacks_and_nothing_else_changes(tmp_path):
    with SqliteLedger.open(tmp_path) as ledger:
        ledger.append("KBW-2031-014", released(), now=NOW)
        before = list(ledger.export_log())
    db = sqlite3.connect(tmp_path / FILE, isolation_level=None)
    db.execute("DROP TRIGGER ledger_own_work")
    db.execute("PRAGMA user_version=1")
    db.close()
    assert "23 entries" in check_file(tmp_path / FILE)  # an older backup is good as it is

    with SqliteLedger.open(tmp_path) as ledger:
        assert list(ledger.export_log()) == before and "23 entries" in ledger.verify()
        assert ledger._db.execute("PRAGMA user_version").fetchone() == (2,)
        assert ledger._db.execute("SELECT count(*) FROM sqlite_master WHERE type = 'trigger'").fetchone() == (4,)
