"""Which settings pass, and what hangs beside the gun? The planner's card set on one page."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from ..basis.errors import NotEnough
from ..basis.quantity import shown
from ..basis.sentences import say
from .ask import ask

_AIM = {"polymer": "polymer", "painted_dot": "painted dot", "ground_steel": "ground steel", "back_contact": "back"}


def plan(request: dict[str, Any]) -> dict[str, Any]:
    """The planner's answer to a heat request; ``plan`` is added when the request has none."""
    return ask("heat", {"plan": {}} | request)


def work_card(answer: dict[str, Any], *, number: str, part: str = "", now: datetime | None = None) -> bytes:
    """The plan's work card as a PDF of one page.

    Parameters
    ----------
    answer : dict
        As ``plan`` gives it.
    number : str
        Of the job, or of the card.

    Raises
    ------
    NotEnough
        The plan says *never*: there is nothing to work by.
    """
    from ..report.view import Table
    from ..report.work_card import WorkCard, work_card_pdf

    card = answer.get("card")
    if card is None:
        raise NotEnough("plan", say("services.work_card_missing", because=answer['because']))
    rows = tuple(
        (stage["stage"], stage["do"], stage["until"], stage["lasts"].replace("cool_to_touch", "the estimate"),
         _readings(stage["read"]))
        for stage in card["stages"]
    )
    return work_card_pdf(WorkCard(
        number=number,
        part=f"{card['title']}{', ' + part if part else ''}",
        made_at=now or datetime.now(UTC),
        set_points=tuple(
            (point["what"], f"{shown(point['value'])} {point['unit']}".strip()) for point in card["set_points"]
        ),
        stages=Table(("Stage", "Do", "Until", "Lasts about", "Expect to read"), rows),
        never=tuple(card["never"]),
        cautions=tuple(card["cautions"]),
    ))


def _readings(read: list[dict[str, Any]]) -> str:
    """What to expect, one clause for each moment: ``6 min: back 119 °C, polymer 181 °C``."""
    moments: dict[str, list[str]] = {}
    for one in read:
        if one.get("expect_c") is None:
            moments.setdefault("", []).append(one.get("where", ""))
            continue
        at = f"{one['at_s'] / 60:.0f} min" if "at_s" in one else ""
        moments.setdefault(at, []).append(f"{_AIM[one['aim']]} {one['expect_c']:.0f} °C")
    return "; ".join(f"{at}: {', '.join(said)}" if at else ", ".join(said) for at, said in moments.items())
