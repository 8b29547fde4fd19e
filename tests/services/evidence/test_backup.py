"""Backups: good when they say so, never with a key in them, refused when anything in them has changed."""

import json
import shutil
import threading

import pytest

from soundedge.basis.errors import BenchError, Conflict, Missing, RecordBroken, Refused, Unreadable
from soundedge.record.witness import Forked, RolledBack
from soundedge.services.evidence import backup, keyring, person_keys, witness
from soundedge.services.evidence.check_document import given
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.evidence.verify import verify_file
from soundedge.store.blobs import Blobs
from soundedge.store.ledger import FILE

from ...hand import cut, reworded
from ...record.jobs import fact, released
from ..shopfloor import everything_in, keys_in, later, size, write_job

pytestmark = pytest.mark.store_contract


@pytest.fixture
def keys(tmp_path):
    return keyring.load(keys_in(tmp_path))


@pytest.fixture
def data(tmp_path):
    write_job(tmp_path / "data")
    blobs = Blobs(tmp_path / "data" / "blobs")
    for picture in (b"as found", b"as prepared", b"finished"):
        blobs.put(picture * 50)
    return tmp_path / "data"


@pytest.fixture
def copy(tmp_path, data, keys):
    backup.make(data, tmp_path / "copy", now=later(1), keys=keys)
    return tmp_path / "copy"


def test_what_was_backed_up_comes_back_byte_for_byte(data, copy, keys, tmp_path):
    record = _record(data)

    done, found = backup.restore(copy, tmp_path / "back", keys_folder=keys.folder)

    assert (done.events, done.files) == (25, 3)  # key.created and backup.made with it
    assert _record(tmp_path / "back") == record
    assert list(Blobs(tmp_path / "back" / "blobs").digests()) == list(Blobs(data / "blobs").digests())
    assert found.fault is None and found.size == size(data)


def test_the_newest_backup_is_restored_and_written_to_without_any_declaration(data, keys, tmp_path):
    (tmp_path / "stick").mkdir()
    witness.witness(tmp_path / "stick", data, keys=keys, now=later(1))
    backup.make(data, tmp_path / "copy", now=later(2), keys=keys)
    shutil.rmtree(data)

    backup.restore(tmp_path / "copy", data, keys_folder=keys.folder)
    write_job(data, "KBW-2031-015", minutes=5)
    with open_ledger(data) as ledger:
        witness.guard(data, folder=keys.folder)
        note = witness.sign_checkpoint(ledger, keys, data=data)

    assert f"\n{size(data)}\n" in note and witness.guard(data, folder=keys.folder).size == size(data)


def test_a_stolen_older_backup_is_seen_though_a_newer_one_was_made(data, copy, keys, tmp_path):
    shutil.copytree(copy, tmp_path / "stolen")
    write_job(data, "KBW-2031-015", minutes=5)
    backup.make(data, copy, now=later(6), keys=keys)

    _, found = backup.restore(tmp_path / "stolen", tmp_path / "back", keys_folder=keys.folder)

    assert isinstance(found.fault, RolledBack)


def test_what_is_written_during_a_backup_is_not_signed_with_it(data, keys, tmp_path, monkeypatch):
    honest = backup.sign_leaves

    def busy(leaves, ledger, keys, *, data):
        write_job(data, "KBW-2031-015", minutes=5)
        return honest(leaves, ledger, keys, data=data)

    monkeypatch.setattr(backup, "sign_leaves", busy)
    done = backup.make(data, tmp_path / "copy", now=later(2), keys=keys)
    _, found = backup.restore(tmp_path / "copy", tmp_path / "back", keys_folder=keys.folder)

    assert size(data) > done.events and found.fault is None


def test_without_keys_it_is_a_backup_too(data, tmp_path):
    done = backup.make(data, tmp_path / "copy", now=later(1))

    assert done.said == f"Backup of 24 entries and 3 files in '{tmp_path / 'copy'}', opened and verified."
    assert backup.restore(tmp_path / "copy", tmp_path / "back")[1].fault is None


def test_no_key_is_ever_in_a_backup(copy, keys):
    secrets = [keys.seed, (keys.folder / "log.key").read_bytes()[-40:], keys.signing.key_pem[100:160],
               person_keys.person_seed("tobias", "four ordinary words here", folder=keys.folder)]
    for name, raw in everything_in(copy).items():
        assert not any(secret in raw for secret in secrets), name
        assert b"PRIVATE" not in raw, name


def test_keys_and_backup_do_not_lie_in_one_another(data, keys):
    for folder in (keys.folder, keys.folder / "copy", keys.folder.parent, data, data / "copy"):
        with pytest.raises(Refused):
            backup.make(data, folder, now=later(1), keys=keys)


def test_a_backup_is_whole_while_others_write(data, tmp_path):
    stop = threading.Event()
    acknowledged = []

    def write():
        with open_ledger(data) as ledger:
            number = 0
            while not stop.is_set():
                ledger.append("KBW-2031-020", [fact(1, "air.read", "ines", {"air_c": 19.8}, id=f"a{number}")], now=later(2))
                acknowledged.append(number)
                number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        done = backup.make(data, tmp_path / "copy", now=later(3))
    finally:
        stop.set()
        writer.join()

    assert acknowledged and backup.check(tmp_path / "copy") == done
    with open_ledger(data) as ledger:
        assert ledger.size() == 23 + len(acknowledged) + 1
        assert "holds" in ledger.verify()


def test_a_ledger_cut_anywhere_in_the_backup_is_refused(copy, tmp_path):
    whole = (copy / FILE).read_bytes()
    for length in [0, 1, 99, 4096, *range(5000, len(whole), len(whole) // 15), len(whole) - 1]:
        (copy / FILE).write_bytes(whole[:length])

        with pytest.raises(RecordBroken, match="Use another backup"):
            backup.restore(copy, tmp_path / "back")

    assert not (tmp_path / "back").exists()


def test_a_reading_changed_in_the_backup_is_refused(copy):
    reworded(copy, 18, b"1251", b"1215")

    with pytest.raises(RecordBroken, match=r"film\.measured"):
        backup.check(copy)


def test_rows_cut_off_in_the_backup_are_refused(copy):
    cut(copy, 1)

    with pytest.raises(RecordBroken, match="holds 24 entries; its manifest speaks of 25"):
        backup.check(copy)


@pytest.mark.parametrize("fault", ["changed", "missing", "another", "settings", "ledger gone"])
def test_a_file_that_is_not_as_it_was_copied_is_refused(copy, fault):
    file = next((copy / "blobs").glob("*/*"))
    if fault == "changed":
        file.chmod(0o600)
        file.write_bytes(file.read_bytes()[:-1] + b"!")
    elif fault == "missing":
        file.unlink()
    elif fault == "another":
        Blobs(copy / "blobs").put(b"was never there")
    elif fault == "settings":
        (copy / "settings.json").write_bytes(b'{"witness_folders": []}')
    else:
        (copy / FILE).unlink()

    with pytest.raises(RecordBroken):
        backup.check(copy)


def test_every_changed_byte_of_the_manifest_is_seen(copy):
    file = copy / "backup.json"
    whole = file.read_bytes()
    for place in range(len(whole)):
        for bit in (0, 5, 7):
            file.write_bytes(whole[:place] + bytes([whole[place] ^ (1 << bit)]) + whole[place + 1 :])
            with pytest.raises(Unreadable):
                backup.read_manifest(copy)


def test_a_backup_is_not_written_over_a_newer_one(data, tmp_path):
    """The data folder was put back to an older state; the backup knows better, without any key."""
    copy = tmp_path / "copy"
    backup.make(data, copy, now=later(2))
    backup.make(data, copy, now=later(2))
    cut(data, 3)
    before = everything_in(copy)

    with pytest.raises(RolledBack, match="the backup in"):
        backup.make(data, copy, now=later(3))

    assert everything_in(copy) == before


def test_a_backup_is_not_written_over_one_that_tells_another_story(data, tmp_path):
    backup.make(data, tmp_path / "copy", now=later(1))
    shutil.rmtree(data)
    write_job(data, "KBW-2031-077")
    write_job(data, "KBW-2031-078")

    with pytest.raises(Forked):
        backup.make(data, tmp_path / "copy", now=later(2))


def test_a_backup_is_brought_up_to_date_where_it_lies(data, copy, keys):
    write_job(data, "KBW-2031-015", minutes=5)
    Blobs(data / "blobs").put(b"one more")

    done = backup.make(data, copy, now=later(6), keys=keys)

    assert (done.events, done.files) == (49, 4)
    assert backup.check(copy) == done


def test_nothing_is_restored_over_anything(data, copy):
    before = everything_in(data)
    with pytest.raises(Conflict, match="not empty"):
        backup.restore(copy, data)
    assert everything_in(data) == before


def test_a_drill_restores_verifies_and_leaves_nothing(copy, tmp_path):
    (tmp_path / "room").mkdir()

    done, seconds = backup.drill(copy, at=tmp_path / "room")

    assert done.events == 25 and 0 < seconds < 30
    assert list((tmp_path / "room").iterdir()) == []


def test_a_drill_on_a_bad_backup_leaves_nothing_either(copy, tmp_path):
    (tmp_path / "room").mkdir()
    next((copy / "blobs").glob("*/*")).unlink()

    with pytest.raises(RecordBroken):
        backup.drill(copy, at=tmp_path / "room")
    assert list((tmp_path / "room").iterdir()) == []


def test_a_folder_without_a_backup_is_named(tmp_path):
    for ask in (backup.check, backup.drill, backup.read_manifest):
        with pytest.raises(Missing, match=r"no backup\.json"):
            ask(tmp_path)


def test_the_whole_log_is_exported_and_checked_by_a_stranger(data, keys, tmp_path):
    (tmp_path / "stick").mkdir()
    from soundedge.services.evidence.witness import witness

    with open_ledger(tmp_path / "own") as ledger:  # a log whose job the rooms can judge is made in test_seal; here: chains
        ledger.append("shop", [fact(1, "backup.made", "bench", {"events": 0})], now=later(0))
    witness(tmp_path / "stick", tmp_path / "own", keys=keys, now=later(1))
    said = backup.export(tmp_path / "own", tmp_path / "out", keys=keys)
    log = tmp_path / "out" / "log.jsonl"
    at_hand = given([str(keys.folder / "log.pub")], witness=str(tmp_path / "stick"))

    assert said.startswith("The ledger holds: 2 entries of 1 job")
    assert "Unchanged up to entry 2 of 2" in verify_file(log, at_hand=at_hand)["sentence"]
    assert "own chain" in verify_file(tmp_path / "out" / "records" / "00001.record.json")["sentence"]
    whole = log.read_bytes()
    for bad in (whole[:-1], whole.split(b"\n")[0] + b"\n", whole.replace(b"backup.made", b"backup.lost"), whole[:40] + b"\n"):
        log.write_bytes(bad)
        with pytest.raises(RecordBroken):
            verify_file(log, at_hand=at_hand)


def test_an_export_goes_into_a_new_folder(data, tmp_path):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "letter.txt").write_text("mine")
    with pytest.raises(Conflict):
        backup.export(data, tmp_path / "out")


def test_a_disk_that_is_full_leaves_a_backup_that_says_so(data, tmp_path, monkeypatch):
    """The files cannot be copied: the old manifest does not speak for the new ledger."""
    backup.make(data, tmp_path / "copy", now=later(1))
    write_job(data, "KBW-2031-015", minutes=5)

    def full(self, data):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(Blobs, "put", full)
        with pytest.raises((BenchError, OSError)):
            backup.make(data, tmp_path / "copy", now=later(6))
    with pytest.raises(RecordBroken):
        backup.check(tmp_path / "copy")
    assert backup.make(data, tmp_path / "copy", now=later(7)).events == size(data)


def test_a_stick_that_keeps_something_else_than_was_written_is_seen_before_it_says_done(data, tmp_path, monkeypatch):
    honest = backup._copy_files

    def bad_stick(source, target):
        digests = honest(source, target)
        file = target.folder / digests[0][:2] / digests[0]
        file.chmod(0o600)
        file.write_bytes(file.read_bytes()[:-1])
        return digests

    monkeypatch.setattr(backup, "_copy_files", bad_stick)
    with pytest.raises(RecordBroken, match="bytes have changed"):
        backup.make(data, tmp_path / "copy", now=later(1))

    assert size(data) == 23  # no backup.made


def test_the_manifest_is_plain_to_read(copy):
    assert json.loads((copy / "backup.json").read_text())["events"] == 25


def _record(data):
    with open_ledger(data, make=False) as ledger:
        return ledger.record("KBW-2031-014").raw


def test_the_invented_job_is_the_one_that_was_kept(data):
    assert len(released()) == 23 and size(data) == 23
