"""Which characters can the vendored letters draw, and how wide is a text set in them?

The page is archival: a character without a shape would make the file invalid, and one that steers the
reading direction could make a line read differently from what was typed. Both are written out instead.

>>> drawable("µm, Ω, ≥ 3 K")
'µm, Ω, ≥ 3 K'
>>> drawable("bell\\x07 and \\u202eturned")
'bell[U+0007] and [U+202E]turned'
>>> round(width_em("1234"), 2)
2.29
"""

from __future__ import annotations

import struct
import unicodedata
from functools import cache, lru_cache
from pathlib import Path

FOLDER = Path(__file__).parent / "letters"
WIDEST = "DejaVuSansCondensed.ttf"  # covers more than the others; typst falls back to it

# Written out although some of them have a glyph: they hide, turn or join text without being seen.
_HIDDEN = {0x00AD, 0x034F, 0x061C, 0x115F, 0x1160, 0x17B4, 0x17B5, 0x180E, 0x3164, 0xFEFF, 0xFFA0, 0xFFFC}


@cache
def advances() -> dict[int, float]:
    """Width in em of every character the widest vendored font can draw, read from its own tables.

    From the OpenType tables ``head`` (units per em), ``hhea`` and ``hmtx`` (advance widths) and ``cmap``
    format 12 (character → glyph).
    """
    data = (FOLDER / WIDEST).read_bytes()
    (count,) = struct.unpack_from(">H", data, 4)
    tables = {}
    for n in range(count):
        tag, _, offset, _ = struct.unpack_from(">4sLLL", data, 12 + 16 * n)
        tables[tag] = offset
    (units,) = struct.unpack_from(">H", data, tables[b"head"] + 18)
    (n_metrics,) = struct.unpack_from(">H", data, tables[b"hhea"] + 34)
    widths = struct.unpack_from(f">{2 * n_metrics}H", data, tables[b"hmtx"])[::2]
    (n_maps,) = struct.unpack_from(">H", data, tables[b"cmap"] + 2)
    found: dict[int, float] = {}
    for n in range(n_maps):
        _, _, offset = struct.unpack_from(">HHL", data, tables[b"cmap"] + 4 + 8 * n)
        at = tables[b"cmap"] + offset
        if struct.unpack_from(">H", data, at)[0] == 12:
            (groups,) = struct.unpack_from(">L", data, at + 12)
            for first, last, glyph in struct.iter_unpack(">LLL", data[at + 16 : at + 16 + 12 * groups]):
                for code in range(first, last + 1):
                    number = glyph + code - first
                    if number:
                        found[code] = widths[min(number, n_metrics - 1)] / units
    return found


def _seen(char: str) -> bool:
    """True for a character that can be printed as itself."""
    if char in "\n ":
        return True
    code = ord(char)
    if code in _HIDDEN or code not in advances():
        return False
    return unicodedata.category(char) not in ("Cc", "Cf", "Co", "Cs", "Cn", "Zl", "Zp")


@cache
def _shown(char: str) -> str:
    if char in "\t\r":
        return " "
    if _seen(char):
        return char
    return f"[U+{ord(char):04X}]"


def drawable(text: str) -> str:
    """The text with every character that cannot be drawn, or cannot be seen, written as ``[U+…]``.

    Letter, digit, sign and accent stay; a line break stays; a tab becomes a space. In Arabic and Hebrew the
    order is the font's own; marks that would force another order are written out.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(map(_shown, text.replace("\r\n", "\n")))


@lru_cache(maxsize=20_000)  # the same words stand in many cells, and on the next page again
def width_em(text: str) -> float:
    """Width of a drawable text in em, set in the table font; the widest line when it has several."""
    table = advances()
    return max(sum(table.get(ord(char), 1.0) for char in line) for line in text.split("\n"))
