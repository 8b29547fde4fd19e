"""The paper card that goes into the vessel, and the order in which it is typed in afterwards."""

from __future__ import annotations

from typing import Any, NamedTuple

from ...job.judge import Outcome
from ...job.kinds import KINDS


class Section(NamedTuple):
    """One box of the card: its number and words on paper, and the kinds of entry that hold it."""

    number: str
    title: str
    kinds: tuple[str, ...]


# The order of the card (report/typ/blank_card.typ); what is written into a box, and where in it, says each kind.
_TITLES = ("Air and steel", "Damage", "Surface", "Layers and heat", "Film", "High-voltage test", "Earlier repairs")
_ON_PAPER = 6  # the last box stands only on the page


def _kinds_in(box: int) -> tuple[str, ...]:
    held = [kind for kind in KINDS.values() if kind.box[:-1] == str(box)]
    return tuple(kind.name for kind in sorted(held, key=lambda kind: kind.box))


SECTIONS = tuple(Section(str(box) if box <= _ON_PAPER else "", title, _kinds_in(box)) for box, title in enumerate(_TITLES, 1))


def card_pdf(outcome: Outcome | None, *, number: str = "") -> bytes:
    """The card to fill in with a pen: what is known is printed in, the procedure's limits stand small beside the boxes."""
    from ...report.blank_card import BlankCard, blank_card_pdf

    if outcome is None:
        return blank_card_pdf(BlankCard(number=number))
    part, held = outcome.job.the("part.identified"), outcome.case.procedure
    return blank_card_pdf(
        BlankCard(
            number=outcome.job.the("job.opened").number,
            tag=part.tag,
            part=part.name,
            procedure=outcome.case.rule_book,
            example_mark="Example procedure" if held.example else "",
            **hints(outcome),
        )
    )


def hints(outcome: Outcome) -> dict[str, Any]:
    """The procedure's limits in a few words for each box; empty where it sets none."""
    held = outcome.case.procedure

    def limit(*parts: tuple[str, str]) -> str:
        return "; ".join(text.format(f"{held.value(key):g}") for key, text in parts if held.value(key) is not None)

    return {
        "hint_air": limit(
            ("dew_margin_k", "steel at least {} K above the dew point"),
            ("rh_pct_max", "humidity at most {} %"),
            ("log_gap_min_max", "read at least every {} min"),
        ),
        "hint_damage": limit(
            ("bare_area_mm2_max", "bare steel at most {} mm²"), ("keep_out_mm", "{} mm clear of faces and edges")
        ),
        "hint_profile": limit(("profile_um_min", "{} or more")) + limit(("profile_um_max", ", at most {}")),
        "hint_salts": limit(("salts_mg_m2_max", "at most {}")),
        "hint_dust": limit(("dust_rating_max", "at most {}")),
        "hint_cool": limit(("cool_c_max", "at most {}")),
        "hint_film": limit(("film_um_min", "film at least {} µm"), ("film_um_max", "at most {} µm")),
    }
