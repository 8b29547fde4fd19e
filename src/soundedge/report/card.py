"""How does the drawn card become a page that prints at exactly 100 %?

The drawing is set as one A4 page at full size, unscaled; the same drawing gives the same bytes.
"""

from __future__ import annotations

from .typeset import _fonts

_PAGE = """
#set document(title: "{title}", date: none)
#set page(width: 210mm, height: 297mm, margin: 0mm)
#set text(lang: "en")
#image("card.svg", width: 210mm, height: 297mm, alt: "Target card with check bars, to be printed at 100 %")
"""


def card_pdf(svg: str, *, title: str = "Target card") -> bytes:
    """A card's drawing (A4, millimetres) as PDF.

    ``title`` is a plain text of letters, digits, commas and spaces.
    """
    import typst

    plain = "".join(c for c in title if c.isalnum() or c in " ,-")
    sources = {"main": _PAGE.replace("{title}", plain).encode(), "card.svg": svg.encode("utf-8")}
    return typst.compile(sources, font_paths=_fonts(), ignore_system_fonts=True, timestamp=0)
