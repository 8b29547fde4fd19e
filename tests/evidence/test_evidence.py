"""The table of faults in its short form, and whether the table itself can fail."""

import random

import pytest

from soundedge.store import sqlite as store
from soundedge.store.schema import PRAGMAS

from ..tries import share
from . import faults, parsers
from .__main__ import SHORT, rows
from .disk import library

pytestmark = pytest.mark.store_contract

SLOW = ("I/O error or full at operation k", "power cut × 3 images", "kill -9 under write load")
OF_THE_FILE = ("power cut × 3 images", "I/O error or full at operation k", "disk full", "edit of the database by hand",
               "older backup put in place", "backup under load, brought back")


def _marks(name):
    yield from [pytest.mark.slow] if name in SLOW else []
    yield from [pytest.mark.sqlite_only("what befalls the file; see test_postgres.py")] if name in OF_THE_FILE else []


SIZES = {fault: share(times) for fault, times in SHORT.items()}
FAULTS = [pytest.param(name, work, id=name, marks=list(_marks(name))) for name, work in rows(SIZES)]


@pytest.mark.sqlite_only("asks no store")
def test_every_parser_reads_a_broken_file_or_refuses_it_in_a_sentence(tmp_path):
    for name, (work, good) in parsers.parsers(tmp_path).items():
        for raw in good:
            work(raw)  # what is broken was good
        tally = parsers.tried(work, good, random.Random(f"{name} 17"), times=share(60))
        assert not tally.faults, (name, tally.faults)


@pytest.mark.sqlite_only("asks no store")
def test_a_parser_that_falls_over_or_hangs_is_seen(monkeypatch):
    monkeypatch.setattr(parsers, "SLOW_S", 0.0)
    tally = parsers.tried(lambda raw: 1 // len(raw[:0]), [b"abc"], random.Random(1), times=3)

    assert tally.bad == 6 and tally.faults[0].startswith("ZeroDivisionError")


@pytest.mark.parametrize("name, work", FAULTS)
def test_nothing_is_lost_and_nothing_passes_unseen(name, work):
    row = work()
    if row is None:
        pytest.skip("the file layer of this Python's SQLite cannot be reached")

    assert row.done > 0 and row.bad == 0, row.measured


@pytest.mark.sqlite_only("plants a fault in the file's settings")
@pytest.mark.skipif(library() is None, reason="the file layer of this Python's SQLite cannot be reached")
def test_the_table_sees_it_when_commits_are_not_synced(monkeypatch):
    """Planted: WAL with synchronous=NORMAL, which many guides recommend. Acknowledged events are lost, and it is seen."""
    monkeypatch.setitem(PRAGMAS, "synchronous", ("NORMAL", 1))

    assert faults.power_cuts(40, random.Random(1)).bad > 0


@pytest.mark.sqlite_only("edits the file")
def test_the_table_sees_it_when_nobody_keeps_a_checkpoint(monkeypatch):
    """Planted: no witness. Whole rewrites pass, because a chain alone proves nothing against its owner."""
    monkeypatch.setattr(faults, "compare", lambda leaves, seen: "")

    assert faults.edits(100, random.Random(1)).bad > 0


@pytest.mark.sqlite_only("the file's disk fails")
def test_the_table_sees_it_when_writing_goes_on_after_the_disk_failed(monkeypatch):
    """Planted: the ledger forgets that the disk failed."""
    if library() is None:
        pytest.skip("the file layer of this Python's SQLite cannot be reached")

    class Forgetful(store.SqliteLedger):
        @property
        def _stopped(self):
            return ""

        @_stopped.setter
        def _stopped(self, text):
            pass

    monkeypatch.setattr(faults, "SqliteLedger", Forgetful)

    assert faults.io_errors(12).bad > 0


def test_the_table_sees_it_when_a_file_is_renamed_before_it_is_synced(monkeypatch):
    """Planted: a file store that forgets to sync."""
    import os

    from soundedge.store import blobs

    monkeypatch.setattr(blobs.os, "fsync", lambda handle: None)
    assert os.fsync(0) is None
    monkeypatch.setattr(blobs, "sync_folder", lambda folder: None)

    assert faults.file_errors().bad > 0
