"""Answers that stand in for a fact: waived, merged, closed. None of them makes a thing measured."""

from __future__ import annotations

from typing import Literal

from pydantic import field_validator

from ...basis.on_paper import words
from ...basis.quantity import Prose, Word
from ...basis.question import Request, refuse
from ...basis.sentences import say
from .kind import ENGINEER, INSPECTOR, LOOKING, MANAGER, Kind
from .values import Zone

Waivable = Literal[
    "spark", "salts", "dust", "surface_profile", "heat_log", "bond", "visual", "witness_plate", "appearance",
]
# What nobody waives here → who stands above it.
NEVER = {
    **dict.fromkeys(("gas", "vapour_reading", "permit", "fire_watch"), "site safety"),
    **dict.fromkeys(("decontamination", "service"), "the owner"),
    **dict.fromkeys(("polymer", "identity"), "the laboratory"),
    **dict.fromkeys(("disposition", "as_prepared", "outline", "tag", "film", "cooling", "gauge_check_before",
                     "gauge_check_after", "own_work"), "the procedure"),
}


class FactWaived(Request):
    """A fact that was not measured, because of ``reason``, accepted by people who may: it stays not measured and is printed.

    The engineer writes it; ``accepted_by`` names whoever else accepted it and ``role`` in which role, ``basis`` the clause,
    or the letter with number and date.
    """

    fact: Waivable
    repair: Word | None = None
    zone: Zone | None = None
    reason: Prose
    accepted_by: list[Word] = []
    basis: Prose
    replaced_by: Prose | None = None
    role: Literal["engineer", "owner", "inspector"] | None = None

    @field_validator("fact", mode="before")
    @classmethod
    def _ever_waived(cls, value: object) -> object:
        if isinstance(value, str) and value in NEVER:
            raise refuse("contradiction", say("job.never_waived", fact=words(value), above=NEVER[value]))
        return value


class RepairMerged(Request):
    """One repair took others in: their outlines stay under their own letters, and count as part of it from now on."""

    into: Word
    took: list[Word]
    because: Prose


class RepairSplit(Request):
    """One repair turned out to be several: each goes on under a letter of its own, with its own outline, before any layer."""

    of: Word
    into: list[Word]
    because: Prose


class BreachClosed(Request):
    """What was done against the rules and cannot be undone, answered in writing by whoever may; the report's number."""

    of: Word
    report: Word
    because: Prose
    closed_by: Word


def _waived(body: FactWaived) -> str:
    where = " ".join(part for part in (body.zone, f"of repair {body.repair}" if body.repair else "") if part)
    return (f"{words(body.fact)}{', ' + where if where else ''}: not done, because {body.reason.rstrip('.')}; "
            f"{body.basis}" + (f", accepted by {', '.join(body.accepted_by)}" if body.accepted_by else ""))


KINDS = (
    Kind("fact.waived", FactWaived, "Not done, and accepted", _waived,
         section="waived", step="hold_points", roles=frozenset({ENGINEER, INSPECTOR}), box="7o"),
    Kind("repair.merged", RepairMerged, "One repair took in another",
         lambda b: f"{b.into} took in {', '.join(b.took)}: {b.because}",
         section="took_in", step="disposition", roles=LOOKING, covered_by="disposition", box="7p"),
    Kind("repair.split", RepairSplit, "One repair split", lambda b: f"{b.of} split into {', '.join(b.into)}: {b.because}",
         section="split", step="disposition", roles=LOOKING | {ENGINEER}, covered_by="disposition", box="7t"),
    Kind("breach.closed", BreachClosed, "Breach closed", lambda b: f"{b.of}: {b.report}, by {b.closed_by}: {b.because}",
         section="breach", step="hold_points", roles=frozenset({ENGINEER, MANAGER}), after_release=True, box="7q"),
)
