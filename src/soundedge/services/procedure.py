"""Which procedure governs this job? Reads the file, checks every limit, says what it lacks."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from ..basis.procedure import LIMITS, Procedure, load_procedure, plain_procedure
from .files import read_text


def procedure_of(name: str, *, base: Path | None = None) -> Procedure:
    """The procedure in a TOML file; ``name`` is relative to ``base``."""
    path = Path(name) if base is None else Path(base) / name
    return load_procedure(read_text(path, what="The procedure", field="procedure"), what=f"The procedure '{name}'")


def procedure_named(folder: Path) -> str:
    """The procedure that a job folder names, on its own sheet or on its shop's; relative to the folder.

    Raises
    ------
    BenchError
        A sheet is not there or cannot be opened.
    KeyError, TypeError, ValueError
        A sheet is not one, or nobody names a procedure.
    """
    job = tomllib.loads(read_text(folder / "job.toml", what="The job sheet", field="job.toml"))["job"]
    if "procedure" in job:
        return str(job["procedure"])
    shop = tomllib.loads(read_text(folder / job["shop"], what="The shop's sheet", field="job.shop"))["shop"]
    return (Path(job["shop"]).parent / shop["procedure"]).as_posix()


def procedure_file(name: str, *, base: Path | None = None) -> dict[str, Any]:
    """The same as plain values, the way a request carries it."""
    return plain_procedure(procedure_of(name, base=base))


def check_procedure(name: str) -> dict[str, Any]:
    """What the file sets, with every source, and which known limits it does not set."""
    procedure = procedure_of(name)
    return {
        "procedure": {
            "id": procedure.id, "title": procedure.title, "edition": procedure.edition,
            "approver": procedure.approver, "approved_on": procedure.approved_on, "example": procedure.example,
        },
        "decision": procedure.decision.asked(),
        "limits": [
            {"limit": key, "name": LIMITS[key].name, "value": limit.value, "unit": LIMITS[key].unit,
             "source": procedure.cite(key)}
            for key, limit in procedure.limits.items()
        ],
        "not_set": [key for key in LIMITS if key not in procedure.limits],
    }
