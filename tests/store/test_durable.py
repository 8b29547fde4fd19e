"""Is a file there, whole, when the bench says so? Two writers at once, a power cut between rename and folder, a full disk."""

import errno
import os
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

import soundedge
from soundedge.services.evidence.key_files import write_private
from soundedge.store import durable
from soundedge.store.blobs import Blobs
from soundedge.store.durable import write_durably


def test_the_folder_is_synced_after_the_last_rename(tmp_path, monkeypatch):
    calls = []
    for name in ("fsync", "replace"):
        real = getattr(os, name)
        monkeypatch.setattr(durable.os, name, lambda *given, real=real, name=name: (calls.append(name), real(*given))[1])

    write_durably({tmp_path / "a": b"1", tmp_path / "b": b"2"})

    assert calls == ["fsync", "fsync", "replace", "replace", "fsync"]
    assert sorted(os.listdir(tmp_path)) == ["a", "b"]


def test_two_who_write_the_same_file_at_once_both_succeed(tmp_path):
    file = tmp_path / "checkpoint"

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda n: write_durably({file: bytes([n]) * 5000}), range(200)))

    assert len(set(file.read_bytes())) == 1 and file.stat().st_size == 5000
    assert os.listdir(tmp_path) == ["checkpoint"]


def test_what_cannot_be_written_changes_nothing_and_is_named(tmp_path, monkeypatch):
    (tmp_path / "a").write_bytes(b"old")

    def full(handle):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(durable.os, "fsync", full)
    with pytest.raises(OSError) as told:
        write_durably({tmp_path / "a": b"new"})

    assert told.value.filename == str(tmp_path / "a") and (tmp_path / "a").read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["a"]


def test_a_file_is_no_wider_than_asked(tmp_path):
    write_durably({tmp_path / "secret": b"1"}, mode=0o600)

    assert (tmp_path / "secret").stat().st_mode & 0o777 == 0o600


def test_two_who_write_the_same_key_at_once_both_succeed(tmp_path):
    file = tmp_path / "log.key"

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda n: write_private(file, bytes([n]) * 5000), range(200)))

    assert len(set(file.read_bytes())) == 1 and file.stat().st_mode & 0o777 == 0o600
    assert os.listdir(tmp_path) == ["log.key"]


def test_every_rename_goes_through_the_one_that_syncs_the_folder():
    source = Path(soundedge.__file__).parent
    bare = re.compile(r"\bos\.(replace|renames?)\(|\.rename\(|\bshutil\.move\(")
    found = {file.relative_to(source).as_posix() for file in source.rglob("*.py") if bare.search(file.read_text("utf-8"))}

    assert found == {"store/durable.py"}


def test_many_who_keep_the_same_photo_at_once_keep_it_whole_and_leave_nothing_beside_it(tmp_path):
    photo = os.urandom(200_000)

    with ThreadPoolExecutor(8) as pool:
        digests = set(pool.map(lambda _: Blobs(tmp_path / "blobs").put(photo), range(100)))

    (digest,) = digests
    assert Blobs(tmp_path / "blobs").get(digest) == photo
    assert [file.name for file in (tmp_path / "blobs").rglob("*") if file.is_file()] == [digest]


def test_a_photos_folder_is_synced_after_it_has_its_name(tmp_path, monkeypatch):
    calls = []
    for name in ("fsync", "replace"):
        real = getattr(os, name)
        monkeypatch.setattr(durable.os, name, lambda *given, real=real, name=name: (calls.append(name), real(*given))[1])

    Blobs(tmp_path / "blobs").put(b"as found")

    assert calls == ["fsync", "replace", "fsync", "fsync", "fsync"]  # the file; then its folder and the two above
