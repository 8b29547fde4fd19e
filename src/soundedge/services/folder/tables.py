"""How is a small CSV from the bench read: named columns, any of three separators, no line lost?

    time_s;reading_c;aimed_at
    0;21,5;polymer
    15;48,0;polymer
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ...basis.errors import Missing, NotEnough, Unreadable
from .files import read_bytes

LINES_MAX = 200_000


def read_table(
    path: Path, *, what: str, field: str, numbers: Sequence[str], texts: Sequence[str] = (), optional: Sequence[str] = ()
) -> list[dict[str, Any]]:
    """The rows of a CSV with a header line.

    Parameters
    ----------
    numbers, texts : list of str
        Columns that must be there; ``numbers`` are turned into floats (decimal comma allowed with ``;`` or tab).
    optional : list of str
        Columns that may be there; a number where it can be read as one.

    Returns
    -------
    list of dict
        One for each line, in order; empty optional cells are left out.

    Raises
    ------
    Missing, Unreadable, NotEnough
        No file or column, a cell that is no number (with its line), no line at all.
    """
    text = decoded(read_bytes(path, what=what, field=field), what, field)
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if len(lines) < 2:
        raise NotEnough(field, f"{what}: '{path.name}' has no line below its header. Fill it in.")
    if len(lines) > LINES_MAX:
        raise Unreadable(field, f"{what}: '{path.name}' has {len(lines)} lines; at most {LINES_MAX} are read. Split it.")
    separator = max(";\t,", key=lines[0].count)
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=separator))
    except csv.Error as error:
        raise Unreadable(field, f"{what}: '{path.name}' is not a table: {error}. Save it again as CSV.") from None
    header = [name.strip().lower() for name in rows[0]]
    known = [*numbers, *texts, *optional]
    lacking = [name for name in (*numbers, *texts) if name not in header]
    if lacking:
        raise Missing(field, f"{what}: '{path.name}' has no column '{lacking[0]}'. Its first line names: {', '.join(known)}.")
    strange = [name for name in header if name not in known]
    if strange:
        raise Unreadable(field, f"{what}: '{path.name}' has a column '{strange[0][:40]}' that is not known. "
                         f"Known: {', '.join(known)}.")
    if len(set(header)) != len(header):
        raise Unreadable(field, f"{what}: '{path.name}' names a column twice. Name each once.")
    out = []
    for number, row in enumerate(rows[1:], 2):
        if len(row) != len(header):
            raise Unreadable(field, f"{what}: line {number} of '{path.name}' has {len(row)} cells; the header has "
                             f"{len(header)}. Complete it.")
        out.append(_row(header, row, numbers, optional, separator, f"{what}: line {number} of '{path.name}'", field))
    return out


def _row(
    header: list[str], row: list[str], numbers: Sequence[str], optional: Sequence[str], separator: str, spot: str, field: str
) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, cell in zip(header, row):
        cell = cell.strip()
        if not cell:
            if name in optional:
                continue
            raise Missing(field, f"{spot}: '{name}' is empty. Not measured is not zero: write it, or leave the line out.")
        value = _number(cell, separator)
        if name in numbers:
            if value is None:
                raise Unreadable(field, f"{spot}: cannot read {cell[:30]!r} as the number '{name}'. Correct it.")
            out[name] = value
        else:
            out[name] = value if name in optional and value is not None else cell
    return out


_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?\Z", re.ASCII)


def _number(cell: str, separator: str) -> float | None:
    text = cell.replace(",", ".") if separator != "," else cell
    return float(text) if len(text) < 60 and _PLAIN_NUMBER.match(text) else None


def decoded(raw: bytes, what: str, field: str) -> str:
    """The text of a file that is UTF-8, or else Windows text."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        try:
            return raw.decode("cp1252")
        except UnicodeDecodeError as error:
            raise Unreadable(
                field, f"{what}: byte {error.start} is neither UTF-8 nor Windows text. Save the file as UTF-8."
            ) from None
