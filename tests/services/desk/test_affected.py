"""Does the ledger answer for all its jobs?"""

import shutil
from datetime import UTC, datetime
from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError, NotEnough
from soundedge.job.fold import fold
from soundedge.record.entry import Said
from soundedge.services.cache import Cache
from soundedge.services.desk import affected
from soundedge.services.desk.affected import by_lot, by_part, suspects
from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.folder.job import run_job

from ...hand import copied

NOW = datetime(2036, 3, 2, 12, tzinfo=UTC)
EXAMPLES = Path(__file__).parents[3] / "examples"


def test_a_kept_job_is_found_by_gauge_lot_and_part(data):
    assert suspects(data, tol_pct=3)["suspect"] == []
    assert len(suspects(data, tol_pct=0.1)["suspect"]) == 36
    assert by_lot(data, "P-311")[0]["certificates"] == ("KBW-2026-014",)
    assert by_part(data, "MC-7")[0]["job"] == "KBW-2026-014"


def test_a_ledger_without_a_check_says_so(tmp_path):
    run_job(EXAMPLES / "pump-casing", tmp_path / "out", data=tmp_path / "data")

    with pytest.raises(NotEnough, match="No gauge check"):
        suspects(tmp_path / "data", tol_pct=3)


def test_no_ledger_is_said_by_name(tmp_path):
    with pytest.raises(BenchError, match="no ledger"):
        by_lot(tmp_path / "nowhere", "P-311")


def copied_job(source, data, number, *, lot="P-311", upto=None):
    """The kept job of the cover once more in another ledger, or under another number; written as another process would."""
    with open_ledger(source) as ledger:
        entries = list(ledger.record("KBW-2026-014").entries)[:upto]
    changed = {"job.opened": {"number": number}, "layer.fused": {"lot": lot}, "lot.received": {"id": lot}}
    facts = [Said(one.id, one.kind, one.by, one.at, {**one.body, **changed.get(one.kind, {})}) for one in entries
             if one.kind != "lot.received" or one.body["kind"] == "powder"]
    with open_ledger(data) as ledger:
        ledger.append(number, facts, now=NOW)


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    """The cover's job in a ledger: run once, copied for each test."""
    base = tmp_path_factory.mktemp("kept")
    run_job(EXAMPLES / "mixer-cover", base / "out", data=base / "data")
    return base / "data"


@pytest.fixture
def data(kept, tmp_path):
    return copied(kept, tmp_path / "data")


def test_a_job_that_stays_as_it_is_is_read_once(data, monkeypatch):
    copied_job(data, data, "KBW-2026-015")
    before = by_lot(data, "P-311"), by_part(data, "MC-7"), suspects(data, tol_pct=0.1)
    read = []
    monkeypatch.setattr(affected, "fold", lambda events: (read.append(events), fold(events))[1])
    assert (by_lot(data, "P-311"), by_part(data, "MC-7"), suspects(data, tol_pct=0.1)) == before and read == []

    copied_job(data, data, "KBW-2026-016")
    assert len(by_lot(data, "P-311")) == 3 == len(by_part(data, "MC-7"))
    assert len(read) == 1, "only the job that came was read"


def test_an_entry_that_was_added_by_anybody_changes_the_answer(data, tmp_path):
    assert [one["job"] for one in by_lot(data, "P-311")] == ["KBW-2026-014"] and by_lot(data, "P-999") == []
    with open_ledger(data) as ledger:
        layer = next(one for one in ledger.record("KBW-2026-014").entries if one.kind == "layer.fused")
        body = {"entry": layer.id, "field": "lot", "old": "P-311", "new": "P-999", "because": "The bag was read wrongly."}
        ledger.append("KBW-2026-014", [Said("c-1", "entry.corrected", layer.by, layer.at, body)], now=NOW)
    assert by_lot(data, "P-999")[0]["entries"] == (layer.id,)
    assert layer.id not in by_lot(data, "P-311")[0]["entries"]


def test_two_shops_with_a_job_of_the_same_number_do_not_share_it(data, tmp_path):
    other = tmp_path / "other"
    copied_job(data, other, "KBW-2026-014", lot="P-777")
    for _ in range(2):
        assert [one["job"] for one in by_lot(data, "P-311")] == ["KBW-2026-014"] and by_lot(data, "P-777") == []
        assert [one["job"] for one in by_lot(other, "P-777")] == ["KBW-2026-014"] and by_lot(other, "P-311") == []


def test_an_older_ledger_put_in_place_is_answered_from(data, tmp_path):
    """A backup brought back: fewer entries under the same number."""
    older = tmp_path / "older"
    copied_job(data, older, "KBW-2026-014", upto=8)
    assert by_lot(data, "P-311")[0]["certificates"] == ("KBW-2026-014",)
    shutil.rmtree(data)
    shutil.move(older, data)
    assert all(one["certificates"] == () for one in by_lot(data, "P-311")) and by_part(data, "MC-7") == []


def test_no_more_is_held_than_there_is_room_for(data, monkeypatch):
    monkeypatch.setattr(affected, "_told", Cache(1))
    copied_job(data, data, "KBW-2026-015")
    for _ in range(2):
        assert len(by_lot(data, "P-311")) == 2 and len(affected._told.held) == 1
