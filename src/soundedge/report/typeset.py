"""How does a page become a PDF that stays the same and can still be opened in thirty years?

One template of the house, one set of plain values, and files by name go in; PDF/A-3a comes out (tagged, with
alternative texts, fonts embedded), the same bytes for the same values. The templates are ours; every text of
a user travels as data and is never read as markup. No clock, no network, no font of the machine.

>>> table = fitted(["Spot", "Reading"], [["1", "940"]], width_em_total=20)
>>> table["header"], table["rows"], round(sum(table["columns"]), 3)
(['Spot', 'Reading'], [['1', '940']], 1.0)
"""

from __future__ import annotations

import json
import re
import tempfile
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

from ..basis.errors import Unreadable
from ..basis.sentences import say
from .fonts import FOLDER, drawable, width_em

TEMPLATES = Path(__file__).parent / "typ"
STANDARDS: tuple[Any, ...] = ("a-3a",)
BREAK = "\ue000"  # in data for a template: a line may be broken here. A user's text cannot hold it.
WORD_EM = 30.0  # a word wider than this may be broken anywhere, in running text too
GUTTER_EM = 1.5  # between two columns; `rows` in house.typ sets the same
_SLACK_EM = 0.25  # a column exactly as wide as its text would break it by a rounding
_BOLD = 1.14  # bold letters are that much wider
_KEPT_TOGETHER_EM = (12.0, 9.5, 6.0, 0.0)  # cells up to this width stay on one line: the first that leaves room

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,79}")
_MIME = {"json": "application/json", "txt": "text/plain", "pdf": "application/pdf", "csv": "text/csv"}


def typeset(
    template: str,
    data: Mapping[str, Any],
    *,
    title: str,
    made_at: datetime | None,
    files: Mapping[str, bytes] | None = None,
    attachments: Mapping[str, bytes] | None = None,
    subject: str = "",
) -> bytes:
    """Set one template with plain values.

    Parameters
    ----------
    template : str
        A file of ``report/typ``. It may import ``house.typ`` and reads ``data.json``.
    data : mapping
        Texts, numbers, lists and mappings. Texts are made drawable here; see ``fonts.drawable``.
    title, subject : str
        The document's own title and description.
    made_at : datetime or None
        The document's date. None: a document without a date, which cannot be PDF/A and is plain PDF 1.7.
    files : mapping
        Pictures by name, as the template reads them: see ``pictures``.
    attachments : mapping
        Files carried inside the PDF, byte for byte.

    Returns
    -------
    bytes
        PDF 1.7; PDF/A-3a when it has a date.

    Raises
    ------
    Unreadable
        A name of an attachment that is not a plain file name, or a picture that cannot be set.
    """
    import typst

    attached = dict(attachments or {})
    for name in attached:
        if not _NAME.fullmatch(name):
            raise Unreadable("attachments", say("report.file_name_form", file=name[:80]))
    values = _ready(data)
    assert isinstance(values, dict)
    values["_document"] = {
        "title": drawable(title),
        "subject": drawable(subject),
        "date": _date(made_at),
        "attachments": [
            {"name": name, "mime": _MIME.get(name.rpartition(".")[2].lower(), "application/octet-stream"),
             # ISO 32000-2, table 43: the data the page was made from is its source.
             "relationship": "source" if name == "record.json" else "supplement"}
            for name in sorted(attached)
        ],
    }
    sources: dict[str, bytes] = {
        "main.typ": _template(template),
        "house.typ": _template("house.typ"),
        "data.json": json.dumps(values, ensure_ascii=False, sort_keys=True, allow_nan=False).encode(),
        **{f"picture/{name}": content for name, content in (files or {}).items()},
        **{f"attached/{name}": content for name, content in attached.items()},
    }
    try:
        # A folder of its own, so that nothing else can be read; its name does not enter the page.
        with tempfile.TemporaryDirectory(prefix="soundedge-page-") as folder:
            for name, content in sources.items():
                target = Path(folder, name)
                target.parent.mkdir(exist_ok=True)
                target.write_bytes(content)
            return typst.compile(
                str(Path(folder, "main.typ")), root=folder, font_paths=_fonts(), ignore_system_fonts=True,
                pdf_standards=list(STANDARDS) if made_at else ["1.7"], timestamp=int(made_at.timestamp()) if made_at else 0,
            )
    except typst.TypstError as fault:
        raise Unreadable("report", say("report.page_not_set", title=title[:120], why=fault.message[:300])) from None


def running(text: str) -> str:
    """Running text with places to break in words too long for a line."""
    return breakable(drawable(text), WORD_EM)


def breakable(text: str, room_em: float) -> str:
    """A drawable text in which every word wider than ``room_em`` may be broken between two letters.

    >>> breakable("ab abcdef", 2.0).replace(BREAK, "|")
    'ab a|b|c|d|e|f'
    """
    if len(text) < room_em and text.isascii():  # no letter is wider than 1 em
        return text
    return re.sub(r"\S+", lambda word: _split(word[0]) if width_em(word[0]) > room_em else word[0], text)


def _split(word: str) -> str:
    out = []
    for place, char in enumerate(word):
        if place and not unicodedata.category(char).startswith("M"):
            out.append(BREAK)
        out.append(char)
    return "".join(out)


def fitted(
    header: Sequence[str], rows: Iterable[Sequence[str]], *, width_em_total: float
) -> dict[str, Any]:
    """A table whose columns fit the page: ``{"header", "rows", "columns"}`` with widths as shares of 1.

    A column gets at least its widest word and at most its widest line; what is left over is shared by need.
    Words still wider than their column get places to break. Short rows are filled with empty cells; a row
    longer than the header is a mistake of the caller.
    """
    head = [drawable(cell) for cell in header]
    body = []
    for row in rows:
        assert len(row) <= len(head), f"a row of {len(row)} cells under {len(head)} headings"
        body.append([drawable(cell) for cell in row] + [""] * (len(head) - len(row)))
    gutters = [GUTTER_EM if 0 < place < len(head) - 1 else GUTTER_EM / 2 for place in range(len(head))]
    room = width_em_total - sum(gutters)
    widest, words, most = [], [], []
    for place in range(len(head)):
        cells = {line[place] for line in body}
        lines = [width_em(cell) + _SLACK_EM for cell in cells] + [_BOLD * width_em(head[place])]
        parts = [width_em(word) + _SLACK_EM for cell in cells for word in cell.split()[:400]]
        words.append(max(parts + [_BOLD * width_em(word) for word in head[place].split()], default=1.0))
        widest.append(lines)
        most.append(min(max(lines, default=1.0), room))
    for together in _KEPT_TOGETHER_EM:
        short = [max([line for line in lines if line <= together], default=0.0) for lines in widest]
        least = [min(max(word, line), room / 3) for word, line in zip(words, short)]
        if sum(least) <= 0.8 * room:
            break
    widths = _shared(least, most, room)
    whole = [width + gutter for width, gutter in zip(widths, gutters)]
    return {
        "header": [breakable(cell, width / _BOLD) for cell, width in zip(head, widths)],
        "rows": [[breakable(cell, width) for cell, width in zip(row, widths)] for row in body],
        "columns": [round(width / sum(whole), 5) for width in whole],
    }


def _shared(least: list[float], most: list[float], room: float) -> list[float]:
    """Widths that fill the room: at least the widest word, at most the widest line, as far as that can be."""
    if sum(least) >= room:
        return [need * room / sum(least) for need in least]
    if sum(most) <= room:
        # all lines fit; a little air for every column, the rest goes to the last
        air = min((room - sum(most)) / len(most), 3.0)
        widths = [need + air for need in most]
        widths[-1] += room - sum(widths)
        return widths
    spare = room - sum(least)
    wish = [max(min(b, 40.0) - a, 0.01) for a, b in zip(least, most)]
    widths = [a + spare * w / sum(wish) for a, w in zip(least, wish)]
    for _ in range(3):
        over = sum(max(w - m, 0.0) for w, m in zip(widths, most))
        hungry = [max(m - w, 0.0) for w, m in zip(widths, most)]
        if over <= 1e-9 or sum(hungry) <= 1e-9:
            break
        share = min(over, sum(hungry)) / sum(hungry)
        widths = [min(w, m) + share * h for w, m, h in zip(widths, most, hungry)]
    return widths


def _ready(value: Any) -> Any:
    """Plain values with every text drawable; places to break are kept."""
    if isinstance(value, str):
        if value.isascii():
            return drawable(value)
        return BREAK.join(map(drawable, value.split(BREAK)))
    if isinstance(value, Mapping):
        return {str(key): _ready(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_ready(inner) for inner in value]
    return value


def _date(moment: datetime | None) -> list[int] | None:
    if moment is None:
        return None
    if moment.tzinfo is None:
        raise Unreadable("made_at", say("report.document_date_without_zone"))
    moment = moment.astimezone(UTC)
    return [moment.year, moment.month, moment.day, moment.hour, moment.minute, moment.second]


@cache
def _template(name: str) -> bytes:
    return (TEMPLATES / name).read_bytes()


@cache
def _fonts() -> Any:
    import typst

    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FOLDER)])
