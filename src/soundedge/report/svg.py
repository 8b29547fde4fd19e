"""How is a drawing written down? SVG elements as text: short numbers, every text escaped.

>>> element("path", d="M0 0", stroke_width=0.12345, class_="a & b", fill=None)
'<path d="M0 0" stroke-width="0.123" class="a &amp; b"/>'
>>> element("text", "8 < 9", x=12.0)
'<text x="12">8 &lt; 9</text>'
"""

from __future__ import annotations

from html import escape


class Drawn(str):
    """SVG text that is written already; every other text is escaped."""

    __slots__ = ()


def element(tag: str, *inside: str, **attributes: float | str | None) -> Drawn:
    """One element. ``stroke_width`` is written ``stroke-width``, ``class_`` is ``class``; an attribute of None is left out."""
    given = {name.rstrip("_").replace("_", "-"): value for name, value in attributes.items() if value is not None}
    said = "".join(f' {name}="{_value(value)}"' for name, value in given.items())
    body = "".join(one if isinstance(one, Drawn) else escape(one, quote=False) for one in inside)
    return Drawn(f"<{tag}{said}>{body}</{tag}>" if inside else f"<{tag}{said}/>")


def joined(parts: list[Drawn]) -> Drawn:
    """Elements one after the other."""
    return Drawn("".join(parts))


def number(value: float) -> str:
    """A length short enough for the file: four digits that count, at most three behind the point.

    >>> number(14.0), number(0.12345), number(-1234.56), number(-0.0001)
    ('14', '0.123', '-1235', '0')
    """
    digits = 3 if abs(value) < 1 else 2 if abs(value) < 10 else 1 if abs(value) < 1000 else 0
    said = f"{value:.{digits}f}"
    said = said.rstrip("0").rstrip(".") if "." in said else said
    return "0" if said == "-0" else said


def _value(value: float | str) -> str:
    return escape(value) if isinstance(value, str) else number(value)
