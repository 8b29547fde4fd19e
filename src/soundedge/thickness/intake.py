"""How do readings get in from a file, the clipboard or a gauge that types, so that none is lost?

A line that cannot be used is kept aside with its number and its reason; it never vanishes and never stops the
others. Nothing is guessed that could be wrong by a factor: without a unit in the header or beside the number
the unit must be said.

>>> table = read_table("spot;DFT [mil];where\\n1;43,3;repair\\n1;4o,1;repair\\n2;44.1;parent\\n")
>>> [(row.spot, round(row.value_um, 2)) for row in table.rows], [(a.line, a.because) for a in table.aside]
([('1', 1099.82)], [(3, "'4o,1' is not a number."), (4, "'44.1' has a point where this table writes a comma.")])
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from ..basis.errors import Contradiction, Missing, Unknown, Unreadable
from ..basis.quantity import read_instant
from ..basis.sentences import say

FilmUnit = Literal["um", "mil", "mm"]
TO_UM = {"um": 1.0, "mil": 25.4, "mm": 1000.0}
ROWS_MAX = 200_000

SPELLED = {"um": "um", "µm": "um", "μm": "um", "micron": "um", "microns": "um", "mic": "um", "mil": "mil", "mils": "mil",
            "mm": "mm"}
_HEADS = {
    "reading": ("reading", "readings", "dft", "film", "thickness", "value", "dry film", "dry film "
                                                                                        "thickness", "measurement",
                "film_um", "reading_um", "value_um", "r1", "r2", "r3", "r4", "r5"),
    "spot": ("spot", "id", "point", "location", "place", "position", "spot id", "no", "nr", "number"),
    "where": ("where", "zone", "stratum"),
    "area": ("area",),
    "x": ("x", "x_mm", "x mm"),
    "y": ("y", "y_mm", "y mm"),
    "at": ("at", "time", "date", "datetime", "timestamp", "date time"),
    "edge": ("edge_mm", "edge"),
}
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


class Row(NamedTuple):
    """One reading: its line in the source, the spot it belongs to, the film in µm, and what else stood beside it."""

    line: int
    spot: str
    value_um: float
    where: str = "repair"
    area: str = "1"
    x: float | None = None
    y: float | None = None
    at: str | None = None
    edge_mm: float | None = None


class Aside(NamedTuple):
    """A line that was not used: its number, its text, and why."""

    line: int
    text: str
    because: str


@dataclass
class Table:
    """What was found. ``columns`` maps each meaning to the heads it was taken from; ``unit_from`` says who named the unit;
    ``preview`` are the first lines as they stood."""

    rows: list[Row] = field(default_factory=list)
    aside: list[Aside] = field(default_factory=list)
    columns: dict[str, list[str]] = field(default_factory=dict)
    unused: list[str] = field(default_factory=list)
    unit: str = ""
    unit_from: str = ""
    decimal: str = "."
    delimiter: str = ","
    preview: list[list[str]] = field(default_factory=list)


def decode(raw: bytes) -> tuple[str, str]:
    """Bytes to text, and the name of the code that was used: UTF-8 (with or without mark), UTF-16 with mark, else cp1252.

    Raises
    ------
    Unreadable
        Neither, or text with zero bytes in it.
    """
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        tries: tuple[str, ...] = ("utf-16",)
    else:
        tries = ("utf-8-sig", "cp1252")
    for name in tries:
        try:
            text = raw.decode(name)
        except UnicodeDecodeError:
            continue
        if "\x00" not in text:
            return text, name
    raise Unreadable("text", say("thickness.table_encoding_unknown"))


def read_table(
    text: str,
    *,
    columns: dict[str, str | list[str]] | None = None,
    unit: str | None = None,
    decimal: str | None = None,
    delimiter: str | None = None,
    per_spot: int | None = None,
) -> Table:
    """Readings from a table of text: CSV, semicolon or tab, with or without a head.

    Parameters
    ----------
    text : str
    columns : dict, optional
        Meaning → head(s) of this table: ``{"reading": ["T1", "T2", "T3"], "spot": "Pt"}``. Meanings: reading, spot,
        where, area, x, y, at, edge. Left out, well-known heads are recognised.
    unit : "um", "mil" or "mm", optional
        Of the readings, when the head does not say.
    decimal : "." or ",", optional
        Recognised when left out: a comma where the delimiter is not one and numbers carry it.
    delimiter : str, optional
    per_spot : int, optional
        Without a spot column, so many readings in a row make a spot; each its own if left out.

    Returns
    -------
    Table

    Raises
    ------
    Missing
        No unit anywhere; no reading column.
    Unknown
        A named column is not in the head; an unknown unit.
    Contradiction
        The head names one unit and the option another; or a delimiter that is also the decimal sign.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    numbered = [(i, line) for i, line in enumerate(lines, 1) if line.strip()]
    if not numbered:
        raise Missing("text", say("thickness.table_empty"))
    if len(numbered) > ROWS_MAX:
        raise Unreadable("text", say("thickness.table_too_long", n=len(numbered), most=ROWS_MAX))
    table = Table(delimiter=delimiter or _delimiter([line for _, line in numbered[:50]]))
    cells = [(i, line, _split(line, table.delimiter)) for i, line in numbered]
    table.preview = [row for _, _, row in cells[:6]]
    table.decimal = decimal or _decimal([row for _, _, row in cells[:200]], table.delimiter)
    if table.decimal == table.delimiter:
        raise Contradiction("decimal", say("thickness.comma_twice"))
    head, body = (cells[0][2], cells[1:]) if _is_head(cells[0][2], table.decimal) or columns else (None, cells)
    found = _columns(head, columns, cells[0][2])
    table.columns = {meaning: [head[i] if head else f"column {i + 1}" for i in at] for meaning, at in found.items()}
    used = {i for at in found.values() for i in at}
    table.unused = [name for i, name in enumerate(head or []) if i not in used]
    units = _units(head, found["reading"], unit, table)
    count = 0
    for line, whole, row in body:
        count = _take(table, line, whole, row, found, units, per_spot, count)
    return table


def _take(
    table: Table, line: int, whole: str, row: list[str], found: dict[str, list[int]], units: list[str | None],
    per_spot: int | None, count: int,
) -> int:
    """One line of the body: readings into ``rows``, anything strange into ``aside``; the readings counted so far."""

    def cell(meaning: str) -> str:
        at = found.get(meaning)
        text = row[at[0]].strip() if at and at[0] < len(row) else ""
        # the apostrophe of ``write_table`` comes off again
        return text[1:] if text.startswith("'") and text[1:].startswith(_FORMULA) else text

    extra: dict[str, float | None] = {}
    for meaning in ("x", "y", "edge"):
        extra[meaning] = None
        if cell(meaning):
            value, bad = number(cell(meaning), table.decimal)
            if bad:
                table.aside.append(Aside(line, whole, f"{meaning}: {bad}"))
                return count
            extra[meaning] = value
    where = cell("where").lower() or "repair"
    if where not in ("repair", "overlap", "parent"):
        table.aside.append(Aside(line, whole, f"'{where[:40]}' is not repair, overlap or parent."))
        return count
    at = cell("at") or None
    if at is not None:
        try:
            read_instant(at.replace(" ", "T", 1))
        except ValueError:
            table.aside.append(Aside(line, whole, f"'{at[:40]}' is not a time like 2031-05-04T09:12:00Z."))
            return count
    something = False
    for position, of in zip(found["reading"], units):
        written = row[position].strip() if position < len(row) else ""
        if not written:
            continue
        something = True
        value_text, own = split_unit(written)
        value, bad = number(value_text, table.decimal)
        if bad:
            table.aside.append(Aside(line, whole, bad))
            continue
        used = own or of
        if used is None:
            table.aside.append(Aside(line, whole, f"'{written[:40]}' has no unit, and neither has its column."))
            continue
        if value < 0:
            table.aside.append(Aside(line, whole, f"'{written[:40]}' is negative; film is not."))
            continue
        count += 1
        spot = cell("spot") or (str((count - 1) // per_spot + 1) if per_spot else str(line if len(units) > 1 else count))
        table.rows.append(Row(line, spot[:120], round(value * TO_UM[used], 9), where, cell("area") or "1", extra["x"],
                              extra["y"], at, extra["edge"]))
    if not something:
        table.aside.append(Aside(line, whole, "There is no reading on this line."))
    return count


_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)([eE][+-]?[0-9]{1,3})?")
# Patterns here look at each sign of a cell once: a long line of blanks or brackets must not hold up the bench.
_UNIT = re.compile(r"(µm|μm|um|microns?|mic|mils?|mm)\Z", re.IGNORECASE)
_UNIT_SIGNS = 7
_IN_BRACKETS = re.compile(r"[\[(][^\[\]()]*[\])]")


def number(text: str, decimal: str = ".") -> tuple[float, str]:
    """A written number, or the reason why it is none: ``(1099.8, "")`` or ``(0.0, "…")``."""
    written = text.strip().replace("−", "-")
    if not _NUMBER.fullmatch(written) or len(written) > 40:
        return 0.0, f"'{text.strip()[:40]}' is not a number."
    wrong = "," if decimal == "." else "."
    if wrong in written:
        names = {",": "comma", ".": "point"}
        return 0.0, f"'{written}' has a {names[wrong]} where this table writes a {names[decimal]}."
    value = float(written.replace(",", "."))
    if not abs(value) <= 1e9:
        return 0.0, f"'{written}' is too large for a film."
    return value, ""


def split_unit(text: str) -> tuple[str, str | None]:
    """'43.3 mil' → ('43.3', 'mil'); no unit → None."""
    written = text.rstrip()
    match = _UNIT.search(written[-_UNIT_SIGNS:])
    value = written[: -len(match[1])].rstrip() if match else ""
    return (value, SPELLED[match[1].lower()]) if match and value else (text, None)


def _split(line: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=delimiter))
    except (csv.Error, StopIteration):
        return [line]


def _delimiter(lines: Sequence[str]) -> str:
    """By the first line: a tab wins, then the semicolon unless commas are more (they may be decimal signs there)."""
    first = lines[0]
    if "\t" in first:
        return "\t"
    return ";" if first.count(";") >= max(1, first.count(",")) else ","


def _decimal(rows: Sequence[Sequence[str]], delimiter: str) -> str:
    if delimiter == ",":
        return "."
    every = [split_unit(cell.strip())[0] for row in rows for cell in row]
    commas = sum(bool(re.fullmatch(r"[+-]?\d+,\d+", cell)) for cell in every)
    points = sum(bool(re.fullmatch(r"[+-]?\d+\.\d+", cell)) for cell in every)
    return "," if commas and commas >= points else "."


def _is_head(row: Sequence[str], decimal: str) -> bool:
    return all(number(split_unit(cell)[0], decimal)[1] for cell in row if cell.strip())


def _plain(head: str) -> str:
    name = _IN_BRACKETS.sub(" ", head.lower()).replace("_", " ")
    words = [word for word in name.split() if word not in SPELLED]
    return " ".join(words)


def _columns(head: list[str] | None, given: dict[str, str | list[str]] | None, first: list[str]) -> dict[str, list[int]]:
    if head is None:
        # without a head: one column is the reading, two are spot and reading
        return {"reading": [0]} if len(first) == 1 else {"spot": [0], "reading": list(range(1, len(first)))}
    found: dict[str, list[int]] = {}
    if given:
        for meaning, names in given.items():
            if meaning not in _HEADS:
                raise Unknown("columns", say("thickness.column_meaning_unknown", meaning=meaning, known=', '.join(_HEADS)))
            for name in [names] if isinstance(names, str) else names:
                if name not in head:
                    raise Unknown("columns", say("thickness.column_not_in_table", column=name[:60], head=', '.join(head)[:200]))
                found.setdefault(meaning, []).append(head.index(name))
    else:
        for i, name in enumerate(head):
            for meaning, words in _HEADS.items():
                plain = _plain(name)
                many = meaning == "reading" and re.fullmatch(r"(reading|dft|film|thickness|t|r) ?\d+", plain)
                if plain in words or many:
                    if meaning == "reading" or meaning not in found:
                        found.setdefault(meaning, []).append(i)
                    break
    if "reading" not in found:
        raise Missing("columns", say("thickness.reading_column_unknown", head=', '.join(head)[:200]))
    return found


def _units(head: list[str] | None, readings: list[int], said: str | None, table: Table) -> list[str | None]:
    if said is not None and said not in TO_UM:
        raise Unknown("unit", say("thickness.film_unit_unknown", unit=said))
    units: list[str | None] = []
    for i in readings:
        words = re.findall(r"[a-zµμ]+", head[i].lower()) if head else []
        named = next((SPELLED[word] for word in reversed(words) if word in SPELLED), None)
        if named and said and named != said:
            assert head is not None
            raise Contradiction("unit", say("thickness.unit_contradicts_head", head=head[i], head_unit=named, option_unit=said))
        units.append(named or said)
    if all(u is None for u in units):
        beside = any(split_unit(cell.strip())[1] for row in table.preview[1:] or table.preview for cell in row)
        if not beside:
            raise Missing("unit", say("thickness.readings_unit_missing"))
        table.unit, table.unit_from = "", "beside each number"
    else:
        table.unit = next(u for u in units if u)
        table.unit_from = "the option" if said else "the head"
    return units


def spots_of(rows: Iterable[Row]) -> list[dict[str, Any]]:
    """The spots of a film request from the rows of a table, in order of first appearance.

    Readings of one spot that name different kinds of place or positions keep the first one's.
    """
    spots: dict[str, dict[str, Any]] = {}
    for row in rows:
        spot = spots.setdefault(row.spot, {"id": row.spot, "readings_um": [], "where": row.where, "area": row.area})
        spot["readings_um"].append(row.value_um)
        for key, value in (("x", row.x), ("y", row.y), ("edge_mm", row.edge_mm)):
            if value is not None:
                spot.setdefault(key, value)
    return list(spots.values())


def write_table(rows: Iterable[Row]) -> str:
    """Readings as CSV text (comma, point, CRLF) that a spreadsheet opens without running anything in it.

    A text cell that begins with =, +, -, @, tab or return gets an apostrophe before it; numbers stay numbers.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(["spot", "reading_um", "where", "area", "x_mm", "y_mm", "at", "edge_mm"])
    for row in rows:
        writer.writerow([harmless(row.spot), repr(row.value_um), harmless(row.where), harmless(row.area),
                         "" if row.x is None else repr(row.x), "" if row.y is None else repr(row.y),
                         harmless(row.at or ""), "" if row.edge_mm is None else repr(row.edge_mm)])
    return out.getvalue()


def harmless(cell: str) -> str:
    """A text cell no spreadsheet takes for a formula.

    >>> harmless("=2+5"), harmless("Spot 1")
    ("'=2+5", 'Spot 1')
    """
    return "'" + cell if cell.startswith(_FORMULA) else cell


def read_typed(text: str, unit: str | None = None, decimal: str | None = None) -> Table:
    """Readings from the clipboard or a gauge that types: numbers with blanks, tabs or line ends between them.

    A unit beside the number wins over ``unit``; with neither the number is kept aside. Lines with more on them are
    read as a table by ``read_table`` instead.
    """
    table = Table(unit=unit or "", unit_from="the option" if unit else "beside each number", delimiter=" ")
    pieces = [(i, m.group(0)) for i, line in enumerate(text.replace("\r", "\n").split("\n"), 1)
              for m in re.finditer(r"[^\s;]+(?:[ ]?(?:µm|μm|um|microns?|mic|mils?|mm)\b)?", line)]
    if len(pieces) > ROWS_MAX:
        raise Unreadable("text", say("thickness.text_too_many_readings", n=len(pieces), most=ROWS_MAX))
    if unit is not None and unit not in TO_UM:
        raise Unknown("unit", say("thickness.film_unit_unknown", unit=unit))
    table.decimal = decimal or _decimal([[piece for _, piece in pieces[:200]]], ";")
    for line, piece in pieces:
        value_text, own = split_unit(piece)
        value, bad = number(value_text, table.decimal)
        if not bad and own is None and unit is None:
            bad = f"'{piece[:40]}' has no unit beside it, and none was said."
        if not bad and value < 0:
            bad = f"'{piece[:40]}' is negative; film is not."
        if bad:
            table.aside.append(Aside(line, piece, bad))
        else:
            table.rows.append(Row(line, str(len(table.rows) + 1), round(value * TO_UM[own or unit], 9)))  # type: ignore[index]
    return table
