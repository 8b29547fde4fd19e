"""Which repair is this entry of? Asked at the desk before it is taken, where the part has several.

    layer of B                         → taken
    layer, on a part with A and B      → refused: "Which repair is this of: A, B?"
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from ...job.asked import Asked
from ...job.case import case_of
from ...job.fold import fold
from ...job.judge import Outcome
from ...job.kinds import KINDS, Event
from ...job.rules.repairs import of_repair, repairs_of, several, unclear
from ..evidence.records import events_in
from .book import Known


def names_its_repair(ledger: Any, held: Known, event: Event, coming: Sequence[Event]) -> None:
    """Whether the entry says which of several repairs it is of; ``coming`` are the entries taken with it.

    Raises
    ------
    Missing, Unknown
        It names none, or one that is no damage of this part.
    """
    if not KINDS[event.kind].names_repair:
        return
    damages = held.damages | {one.body.id for one in coming if one.kind == "damage.outlined"}
    letter = getattr(event.body, "repair", None)
    if len(damages) < 2 and letter is None and event.kind != "film.measured":
        return
    case = case_of(fold([*events_in(list(ledger.record(held.number).entries)), *coming]), from_record=True, estimates=False)
    repairs = repairs_of(case, Asked(case).step("disposition"))
    for fault in unclear(case, repairs, [event], where="body.repair"):
        raise fault


def letters(outcome: Outcome) -> list[str]:
    """The letters to choose from; none where there is only one repair to build."""
    repairs = repairs_of(outcome.case, outcome.steps["disposition"])
    return [repair.letter for repair in repairs if repair.made] if several(repairs) else []


def asked_of(outcome: Outcome, letter: str) -> Outcome:
    """The job as it stands for one of several repairs, every step asked from that repair's own entries."""
    repairs = repairs_of(outcome.case, outcome.steps["disposition"])
    own = next(repair for repair in repairs if repair.letter == letter)
    asked = Asked(of_repair(outcome.case, repairs, own))
    return replace(outcome, case=asked.case, steps={name: asked.step(name) for name in outcome.steps})


def must_name(kind: str) -> bool:
    """Whether an entry of this kind is refused without its letter, where there are several."""
    return KINDS[kind].names_repair
