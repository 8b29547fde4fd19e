"""A clock that was set back: is it seen, kept, and does time in the ledger still never run backwards?"""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from soundedge.services.evidence.ledger_place import open_ledger
from soundedge.services.evidence.verify import verify_file
from soundedge.services.folder.job import run_job

pytestmark = pytest.mark.store_contract

EXAMPLES = Path(__file__).parents[3] / "examples"
NOON = datetime(2026, 11, 1, 12, tzinfo=UTC)


def events(data):
    with open_ledger(data, make=False) as ledger:
        return [entry for job in ledger.jobs() for entry in ledger.record(job).entries]


def two_jobs(tmp_path, second):
    run_job(EXAMPLES / "dosing-nozzle", tmp_path / "a", data=tmp_path / "data", now=NOON)
    run_job(EXAMPLES / "pump-casing", tmp_path / "b", data=tmp_path / "data", now=second)
    return events(tmp_path / "data")


def test_a_clock_set_back_by_a_year_is_an_event_and_time_goes_on(tmp_path):
    kept = two_jobs(tmp_path, NOON.replace(year=2025))

    (found,) = [entry for entry in kept if entry.kind == "clock.found_behind"]
    assert found.body["seconds"] == 365 * 24 * 3600
    assert all(entry.recorded_at >= "2026-11-01T12:00:00.000Z" for entry in kept)
    assert verify_file(tmp_path / "b" / "record.json")["verdict"] == "engineering_review"


def test_a_clock_that_goes_on_says_nothing(tmp_path):
    kept = two_jobs(tmp_path, NOON.replace(minute=1))

    assert [entry.kind for entry in kept if entry.kind.startswith("clock.")] == []
