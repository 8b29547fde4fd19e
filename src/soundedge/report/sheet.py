"""How does a room's sheet get onto paper, to work by and to fill in with a pen?

Cautions stand before everything else; a row without a value becomes a box to write in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from ..basis.errors import NotEnough
from ..basis.on_paper import when
from ..basis.sentences import say
from .fonts import drawable
from .typeset import breakable, running, typeset


@dataclass(frozen=True)
class Sheet:
    """A sheet: title, number, cautions, and sections of (label, value) rows; an empty value is to be filled in."""

    title: str
    number: str
    cautions: tuple[str, ...]
    sections: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    made_at: datetime | None = None


def sheet_pdf(sheet: Sheet) -> bytes:
    """The sheet as PDF; the same sheet gives the same bytes.

    Raises
    ------
    NotEnough
        A sheet without a section.
    """
    if not sheet.sections:
        raise NotEnough("sections", say("report.sheet_empty", title=sheet.title))
    return typeset(
        "sheet.typ",
        {
            "title": running(sheet.title),
            "number": breakable(drawable(sheet.number), 14.0),
            "foot": running(f"{sheet.title} {sheet.number}"),
            "made": when(sheet.made_at) if sheet.made_at else "",
            "cautions": [running(line) for line in sheet.cautions],
            "sections": [
                {"heading": running(heading), "rows": [[running(a), running(b)] for a, b in rows]}
                for heading, rows in sheet.sections
            ],
        },
        title=f"{sheet.title} {sheet.number}", made_at=sheet.made_at,
    )


def from_plain(plain: dict[str, object], *, number: str, made_at: datetime | None) -> Sheet:
    """A room's sheet (title, cautions, sections with heading and rows) as it is printed."""
    sections: Sequence[dict[str, object]] = plain["sections"]  # type: ignore[assignment]
    return Sheet(
        title=str(plain["title"]),
        number=number,
        cautions=tuple(str(line) for line in plain["cautions"]),  # type: ignore[attr-defined]
        sections=tuple(
            (str(part["heading"]), tuple((str(a), str(b)) for a, b in part["rows"]))  # type: ignore[attr-defined]
            for part in sections
        ),
        made_at=made_at,
    )
