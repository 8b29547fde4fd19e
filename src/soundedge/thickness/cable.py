"""How do readings get in from a gauge on a cable, line by line, so that none is lost?

A line that does not fit the pattern is kept aside with its number and its reason.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from ..basis.errors import Contradiction, Missing, Unknown, Unreadable
from ..basis.sentences import say
from .intake import SPELLED, TO_UM, Aside, Row, number

LINE_MAX = 500


@dataclass(frozen=True)
class LinePattern:
    """How a gauge writes a line: text with places in braces, ``N={spot} T={value} {unit}``.

    Places: {value} a number, {unit} um, mil or mm, {spot} and {skip} a word, {at} a time. Blanks match any blanks. Every
    other sign stands for itself, so a pattern cannot run away.
    """

    text: str
    unit: str | None = None
    decimal: str = "."

    def compiled(self) -> re.Pattern[str]:
        """The pattern made ready; Unreadable, Missing or Unknown when it cannot be."""
        if len(self.text) > 200:
            raise Unreadable("pattern", say("thickness.pattern_too_long", n=len(self.text)))
        places = {"value": r"\s*(?P<value>[+-]?[0-9]+(?:[.,][0-9]+)?)", "unit": "(?P<unit>µm|μm|um|microns?|mic|mils?|mm)",
                  "spot": r"(?P<spot>[^\s,;=]{1,60})", "skip": r"[^\s]{0,60}", "at": r"(?P<at>[0-9TZ:+.\-]{10,40})"}
        parts, seen = [], set()
        for piece in re.split(r"(\{[a-z]*\}|\s+)", self.text.strip()):
            if not piece:
                continue
            if piece[0] == "{" and piece[-1] == "}":
                name = piece[1:-1]
                if name not in places:
                    raise Unknown("pattern", say("thickness.pattern_place_unknown", piece=piece,
                                                 known=', '.join('{' + p + '}' for p in places)))
                if name in seen and name != "skip":
                    raise Contradiction("pattern", say("thickness.pattern_place_twice", piece=piece))
                seen.add(name)
                parts.append(places[name])
            elif piece.isspace():
                parts.append(r"\s*")
            else:
                parts.append(re.escape(piece))
        if "value" not in seen:
            raise Missing("pattern", say("thickness.pattern_without_value"))
        if "unit" not in seen and self.unit is None:
            raise Missing("unit", say("thickness.pattern_unit_missing"))
        if self.unit is not None and self.unit not in TO_UM:
            raise Unknown("unit", say("thickness.film_unit_unknown", unit=self.unit))
        return re.compile(r"\s*" + "".join(parts) + r"\s*", re.IGNORECASE)


class Lines:
    """A stream of bytes from a cable, cut into lines and read by a pattern. It holds what has not ended yet.

    >>> stream = Lines(LinePattern("{spot}: {value} {unit}"))
    >>> [row.value_um for row in stream.feed(b"1: 1100 um\\r\\n2: 11")]
    [1100.0]
    >>> [row.value_um for row in stream.feed(b"20 um\\n")]
    [1120.0]
    """

    def __init__(self, pattern: LinePattern) -> None:
        self.pattern = pattern
        self.aside: list[Aside] = []
        self._match = pattern.compiled()
        self._rest = b""
        self._count = 0
        self._overlong = False

    def feed(self, data: bytes, at: str | None = None) -> list[Row]:
        """Rows of all lines that ended with this piece; ``at`` is the moment they came in."""
        self._rest += data
        rows: list[Row] = []
        *whole, self._rest = re.split(rb"\r\n|\n|\r(?!\n|$)", self._rest)
        for line in whole:
            if self._overlong:  # the end of a line that was cut before
                self._overlong = False
                continue
            rows += self._line(line, at)
        if len(self._rest) > LINE_MAX:
            if not self._overlong:
                self._count += 1
                self.aside.append(Aside(self._count, _text(self._rest[:60]), f"The line does not end within "
                                                                             f"{LINE_MAX} signs."))
            self._overlong, self._rest = True, b""
        return rows

    def close(self, at: str | None = None) -> list[Row]:
        """The last line when it had no end: kept aside unless it reads whole."""
        rest, self._rest = self._rest.rstrip(b"\r"), b""
        if self._overlong:
            return []
        return list(self._line(rest, at)) if rest.strip() else []

    def _line(self, raw: bytes, at: str | None) -> Iterator[Row]:
        if not raw.strip(b"\r\x00 \t"):
            return
        self._count += 1
        text = _text(raw.strip(b"\r\x00"))
        match = self._match.fullmatch(text) if len(text) <= LINE_MAX else None
        if not match:
            self.aside.append(Aside(self._count, text[:200], "The line does not fit the pattern."))
            return
        held = match.groupdict()
        value, bad = number(held["value"], self.pattern.decimal)
        unit = SPELLED[held["unit"].lower()] if held.get("unit") else self.pattern.unit
        if bad or value < 0:
            self.aside.append(Aside(self._count, text[:200], bad or f"'{held['value']}' is negative; film is not."))
            return
        stamp = held.get("at") or at
        yield Row(self._count, held.get("spot") or str(self._count), round(value * TO_UM[unit], 9), at=stamp)  # type: ignore[index]


def _text(raw: bytes) -> str:
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("cp1252", "replace")
