"""Does the ledger answer for all its jobs?"""

from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError, NotEnough
from soundedge.services.job import run_job
from soundedge.services.recall import by_lot, by_part, suspects

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_a_kept_job_is_found_by_gauge_lot_and_part(tmp_path):
    run_job(EXAMPLES / "mixer-cover", tmp_path / "out", data=tmp_path / "data")

    assert suspects(tmp_path / "data", tol_pct=3)["suspect"] == []
    assert len(suspects(tmp_path / "data", tol_pct=0.1)["suspect"]) == 36
    assert by_lot(tmp_path / "data", "P-311")[0]["certificates"] == ("KBW-2026-014",)
    assert by_part(tmp_path / "data", "MC-7")[0]["job"] == "KBW-2026-014"


def test_a_ledger_without_a_check_says_so(tmp_path):
    run_job(EXAMPLES / "pump-casing", tmp_path / "out", data=tmp_path / "data")

    with pytest.raises(NotEnough, match="No gauge check"):
        suspects(tmp_path / "data", tol_pct=3)


def test_no_ledger_is_said_by_name(tmp_path):
    with pytest.raises(BenchError, match="no ledger"):
        by_lot(tmp_path / "nowhere", "P-311")
