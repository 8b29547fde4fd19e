"""The written test sheet of a holiday answer, to take to the part."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any


def test_sheet(answer: dict[str, Any], *, number: str, now: datetime | None = None) -> bytes:
    """The sheet of a holiday answer (film, zones or session) as PDF: cautions, window, rules, boxes to fill in."""
    from ..report.sheet import from_plain, sheet_pdf

    return sheet_pdf(from_plain(answer["sheet"], number=number, made_at=now or datetime.now(UTC)))
