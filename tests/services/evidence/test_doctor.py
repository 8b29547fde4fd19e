"""The doctor: six sentences; each fault is seen by the question it belongs to, and only there."""

from datetime import timedelta

import pytest

from soundedge.basis.errors import Unreadable
from soundedge.cli.bench import run
from soundedge.services.evidence import backup, doctor, keyring, witness
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.store.blobs import Blobs
from soundedge.store.ledger import FILE

from ...hand import cut, reworded
from ..shopfloor import keys_in, later, write_job

pytestmark = pytest.mark.store_contract


@pytest.fixture
def keys(tmp_path):
    return keyring.load(keys_in(tmp_path))


@pytest.fixture
def data(tmp_path, keys, monkeypatch):
    """A shop in good health; the files are as old as its clock says, on a disk whatever this machine has."""
    monkeypatch.setattr(doctor, "filesystem", lambda path: "ext4")
    folder = tmp_path / "data"
    write_job(folder)
    Blobs(folder / "blobs").put(b"as found")
    (tmp_path / "stick").mkdir()
    witness.witness(tmp_path / "stick", folder, keys=keys, now=later(1))
    backup.make(folder, tmp_path / "copy", now=later(2), keys=keys)
    return folder


def looks(data, keys, minutes=3.0):
    return {one.name: one for one in doctor.examine(data, now=later(minutes), folder=keys.folder)}


def unwell(data, keys, minutes=3.0):
    return [one.name for one in looks(data, keys, minutes).values() if not one.well]


def test_a_shop_in_good_health(data, keys):
    found = looks(data, keys)

    assert list(found) == ["saved", "verified", "backed up", "witnessed", "clock", "keys"]
    assert [one.said for one in found.values() if not one.well] == []
    assert "25 entries of 2 jobs" in found["verified"].said
    assert "Backup of 25 entries and 1 file" in found["backed up"].said
    assert "tobias can confirm" in found["keys"].said


def test_nothing_is_left_behind_by_looking(data, keys):
    before = sorted(file.name for file in data.iterdir())
    looks(data, keys)
    assert sorted(file.name for file in data.iterdir()) == before


def test_a_changed_reading_is_seen_as_such_and_by_the_witnesses(data, keys):
    reworded(data, 18, b"1251", b"1215")

    assert unwell(data, keys) == ["verified", "witnessed"]
    assert "film.measured" in looks(data, keys)["verified"].said


def test_a_damaged_file_is_named(data, keys):
    file = next((data / "blobs").glob("*/*"))
    file.chmod(0o600)
    file.write_bytes(b"as lost.")

    assert unwell(data, keys) == ["verified"]
    assert file.name[:16] in looks(data, keys)["verified"].said


def test_an_older_ledger_is_seen(data, keys):
    cut(data, 1)
    assert unwell(data, keys) == ["verified", "witnessed"]  # rows taken off by hand: what was derived from them is still there
    with open_ledger(data) as ledger:
        ledger.rebuild()  # an older copy agrees with itself

    assert unwell(data, keys) == ["witnessed"]


@pytest.mark.sqlite_only("takes a guard off for everybody; in PostgreSQL see tests/store/test_postgres.py")
def test_guards_that_were_taken_off_are_seen(data, keys):
    import sqlite3

    db = sqlite3.connect(data / FILE)
    db.execute("DROP TRIGGER ledger_no_update")
    db.commit()
    db.close()

    assert "guard 'ledger_no_update'" in looks(data, keys)["verified"].said


@pytest.mark.sqlite_only("changes the ledger's file")
@pytest.mark.parametrize("place", [b"CREATE TABLE ledger", b"ledger_no_update", b"RAISE"])
def test_a_damaged_byte_in_the_files_table_of_contents_is_a_sentence(data, keys, place, capsys):
    """The database cannot even say in text what is wrong with it."""
    raw = (data / FILE).read_bytes()
    assert place in raw[:4096]
    (data / FILE).write_bytes(raw.replace(place, b"\xff" + place[1:], 1))

    found = looks(data, keys)
    assert not found["verified"].well and found["verified"].said
    assert run(["record", "rebuild", "--data", str(data)]) == 4
    assert "Traceback" not in capsys.readouterr().err


def test_a_backup_that_is_old_damaged_or_was_never_made_is_told(data, keys, tmp_path):
    write_job(data, "KBW-2031-015", minutes=5)
    assert "backed up" not in unwell(data, keys, minutes=60)
    assert "1 day old and 23 entries were written since" in looks(data, keys, minutes=60 * 25)["backed up"].said
    assert "backed up" in unwell(data, keys, minutes=60 * 25)

    next((tmp_path / "copy" / "blobs").glob("*/*")).unlink()
    assert "Use another backup" in looks(data, keys)["backed up"].said

    (data / "settings.json").unlink()
    assert "No backup was ever made" in looks(data, keys)["backed up"].said


def test_nobody_outside_is_told(data, keys, tmp_path):
    for folder in (tmp_path / "stick", tmp_path / "copy"):
        folder.rename(folder.with_name(folder.name + "-in-the-cabinet"))

    found = looks(data, keys)

    assert not found["witnessed"].well and "No witness is there now" in found["witnessed"].said
    assert found["backed up"].well and "was not opened" in found["backed up"].said


@pytest.mark.parametrize(("minutes", "words"), [(-60, "before the last entry"), (-60 * 24 * 400, "400 days before"),
                                                 (60 * 24 * 400, "runs ahead")])
def test_a_clock_set_wrong_is_told(data, keys, minutes, words):
    found = looks(data, keys, minutes)["clock"]

    assert not found.well and words in found.said


def test_a_clock_behind_the_files_is_told(data, keys):
    import os

    ahead = (later(3) + timedelta(days=2)).timestamp()
    os.utime(data / "settings.json", (ahead, ahead))

    assert "2 days younger than the clock" in looks(data, keys)["clock"].said


def test_keys_that_are_open_misplaced_or_gone_are_told(data, keys, tmp_path):
    (keys.folder / "log.key").chmod(0o644)
    assert "chmod 600" in looks(data, keys)["keys"].said
    (keys.folder / "log.key").chmod(0o600)

    (data / "old keys").mkdir()
    (data / "old keys" / "k.txt").write_bytes((keys.folder / "log.key").read_bytes())
    assert "lies in the data folder" in looks(data, keys)["keys"].said
    (data / "old keys" / "k.txt").write_bytes(keys.signing.key_pem)
    assert "lies in the data folder" in looks(data, keys)["keys"].said
    (data / "old keys" / "k.txt").unlink()

    assert "ends on 2036-01-01" in looks(data, keys, minutes=60 * 24 * 365 * 4.6)["keys"].said
    (keys.folder / "persons" / "amara.key").unlink()
    assert "1 people have a key" in looks(data, keys)["keys"].said
    (keys.folder / "log.key").unlink()
    assert "There are no keys" in looks(data, keys)["keys"].said


def test_a_disk_in_memory_or_on_the_network_is_told(data, keys, monkeypatch):
    for kind in ("tmpfs", "nfs4", "cifs"):
        monkeypatch.setattr(doctor, "filesystem", lambda path, kind=kind: kind)
        assert f"lies on {kind}" in looks(data, keys)["saved"].said


def test_no_ledger_is_said(tmp_path, keys):
    with pytest.raises(Unreadable, match="There is no ledger"):
        doctor.examine(tmp_path, folder=keys.folder)


def test_the_command_ends_with_0_or_3(data, keys, capsys, monkeypatch):
    monkeypatch.setattr(doctor, "CLOCK_AHEAD", timedelta(days=36500))
    monkeypatch.setattr(doctor, "CLOCK_BACK_S", 1e12)  # this shop's ledger is of 2031; the machine's clock is not
    arguments = ["doctor", "--data", str(data), "--keys", str(keys.folder)]

    assert run(arguments) == 0
    assert capsys.readouterr().out.count("●") == 6
    cut(data, 1)
    assert run([*arguments, "--json"]) == 3
