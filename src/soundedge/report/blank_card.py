"""What is taken into the vessel when no screen may go there?

A card of two pages for a pen in a glove: the same questions as the job sheet, in the order of the work, with
the limits of the procedure printed small beside the boxes. "Not measured" is an answer and has its own box, with its sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ..basis.errors import OutOfRange
from ..basis.sentences import say
from .signs import sign_svg
from .typeset import running, typeset


@dataclass(frozen=True)
class BlankCard:
    """A blank card. What is known already is printed in; the hints are the procedure's limits in words."""

    number: str = ""
    title: str = "Job card"
    tag: str = ""
    part: str = ""
    procedure: str = ""
    example_mark: str = ""
    made_at: datetime | None = None
    layers: int = 6
    spots: int = 6
    readings: int = 5
    hint_air: str = ""
    hint_damage: str = ""
    hint_profile: str = ""
    hint_salts: str = ""
    hint_dust: str = ""
    hint_cool: str = ""
    hint_film: str = ""


def blank_card_pdf(card: BlankCard) -> bytes:
    """The card as PDF (PDF/A-3a when it has a date), two A4 pages; same card, same bytes.

    Raises
    ------
    OutOfRange
        More lines than the page has room for: 1 to 7 layers, 1 to 8 spots (13 together), 1 to 8 readings.
    """
    for name, value, most in (("layers", card.layers, 7), ("spots", card.spots, 8), ("readings", card.readings, 8)):
        if not 1 <= value <= most:
            raise OutOfRange(name, say("report.card_out_of_room", n=value, what=name, most=most))
    if card.layers + card.spots > 13:
        raise OutOfRange("spots", say("report.card_too_long", layers=card.layers, spots=card.spots))
    texts = {
        name: running(getattr(card, name))
        for name in ("number", "title", "tag", "part", "procedure", "example_mark", "hint_air", "hint_damage",
                     "hint_profile", "hint_salts", "hint_dust", "hint_cool", "hint_film")
    }
    return typeset(
        "blank_card.typ",
        {**texts, "layers": card.layers, "spots": card.spots, "readings": card.readings,
         "foot": running(f"{card.title} {card.number} · what was not measured stays empty or is ticked; "
                         "nothing is filled in afterwards from memory")},
        title=f"{card.title} {card.number}".strip(), made_at=card.made_at, files={"sign-dash.svg": sign_svg("dash")},
    )
