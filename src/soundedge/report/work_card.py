"""What must hang beside the gun while the layers are fused?

One page: the set-points large enough to read at arm's length, the stages in order, what is never done. It says
that computed numbers are estimates, and which instrument decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from ..basis.errors import NotEnough
from ..basis.on_paper import when
from ..basis.sentences import say
from .fonts import drawable
from .typeset import breakable, fitted, running, typeset
from .view import Table

_WIDTH_MM = 178.0
_STAGE_PT = 11.0
_PT_PER_MM = 72 / 25.4


@dataclass(frozen=True)
class WorkCard:
    """A work card as plain texts, each with its unit.

    ``set_points`` are (label, value) pairs printed large; ``stages`` is a table in the order of the work;
    ``never`` are conditions under which the heat is switched off; ``notes`` say what the numbers are.
    """

    number: str
    title: str = "Heat work card"
    part: str = ""
    made_at: datetime | None = None
    example_mark: str = ""
    set_points: tuple[tuple[str, str], ...] = ()
    stages: Table | None = None
    never: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = (
        "Computed temperatures are estimates. A contact probe on the back of the plate decides; gloss proves nothing.",
    )


def work_card_pdf(card: WorkCard) -> bytes:
    """The card as a PDF of one A4 page, shrunk to seven tenths at most; PDF/A-3a when it has a date, same card, same bytes.

    Raises
    ------
    NotEnough
        A card without a set-point and without a stage: there is nothing to do by it.
    """
    if not card.set_points and (card.stages is None or not card.stages.rows):
        raise NotEnough("set_points", say("report.work_card_empty"))
    stages = None
    if card.stages is not None:
        stages = {
            **fitted(card.stages.header, card.stages.rows, width_em_total=_WIDTH_MM * _PT_PER_MM / _STAGE_PT),
            "numbers": list(card.stages.numbers), "caption": running(card.stages.caption),
        }
    return typeset(
        "workcard.typ",
        {
            "title": running(card.title), "number": breakable(drawable(card.number), 14.0), "part": running(card.part),
            "example_mark": running(card.example_mark),
            "made": when(card.made_at) if card.made_at else "",
            "foot": running(f"{card.title} {card.number}"),
            "set_points": [[breakable(drawable(key), 15.0), breakable(drawable(value), 6.5)]
                           for key, value in card.set_points],
            "stages": stages,
            "never": [running(line) for line in card.never],
            "cautions": [running(line) for line in card.cautions],
            "notes": [running(line) for line in card.notes],
        },
        title=f"{card.title} {card.number}", made_at=card.made_at, subject=card.part,
    )
