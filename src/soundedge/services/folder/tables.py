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
from ...basis.sentences import say
from ..files import read_bytes

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
        raise NotEnough(field, say("folder.table_empty", what=what, file=path.name))
    if len(lines) > LINES_MAX:
        raise Unreadable(field, say("folder.table_too_long", what=what, file=path.name, n=len(lines), most=LINES_MAX))
    separator = max(";\t,", key=lines[0].count)
    try:
        rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=separator))
    except csv.Error as error:
        raise Unreadable(field, say("folder.not_a_table", what=what, file=path.name, why=error)) from None
    header = [name.strip().lower() for name in rows[0]]
    known = [*numbers, *texts, *optional]
    lacking = [name for name in (*numbers, *texts) if name not in header]
    if lacking:
        raise Missing(field, say("folder.column_missing", what=what, file=path.name, column=lacking[0], known=', '.join(known)))
    strange = [name for name in header if name not in known]
    if strange:
        raise Unreadable(field, say("folder.column_unknown", what=what, file=path.name, column=strange[0][:40],
                                    known=', '.join(known)))
    if len(set(header)) != len(header):
        raise Unreadable(field, say("folder.column_twice", what=what, file=path.name))
    out = []
    for number, row in enumerate(rows[1:], 2):
        if len(row) != len(header):
            raise Unreadable(field, say("folder.line_of_other_length", what=what, number=number, file=path.name, cells=len(row),
                                        columns=len(header)))
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
            raise Missing(field, say("folder.cell_empty", spot=spot, column=name))
        value = _number(cell, separator)
        if name in numbers:
            if value is None:
                raise Unreadable(field, say("folder.cell_not_a_number", spot=spot, cell=cell[:30], column=name))
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
            raise Unreadable(field, say("folder.table_encoding_unknown", what=what, byte=error.start)) from None
