"""Was a fact not done, because of something, and accepted by people who may? It stays not measured, and is printed so.

    old film in acid service not sparked, accepted by engineer and owner, letter KBW-26-41     → released with waivers
    a conductive lining not sparked, accepted by both                                          → conditional
    the gas meter, the permit, the film on the repair                                          → never waived here

A waiver counts when the engineer of the sheet wrote it, its basis names a clause or a letter by number, and, for the test of
film in service or of a conductive lining, it says that the owner accepted it (``role = "owner"``). Several entries on one fact
count together.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from ...basis.on_paper import words
from ...basis.sentences import Sentence, say
from ..case import Case
from ..fold import Job
from ..kinds import Event, covers
from .service import service_of

Ground = Literal["in_service", "conductive", "no_window"]
CONDITIONAL = ("conductive", "no_window")  # continuity is then not proved electrically
SURFACE = ("salts", "dust", "surface_profile")
OTHER = ("bond", "witness_plate", "appearance")  # no step asks for them; they are printed
_POINTS = {"spark": "holiday"} | dict.fromkeys(SURFACE, "surface")
_SPARK = {"in_service": say("acts.not_tested_in_service"), "conductive": say("acts.not_testable"),
          "no_window": say("acts.no_voltage_serves")}


@dataclass(frozen=True)
class NotDone:
    """A fact that was not measured, and why that was accepted."""

    fact: str
    zone: str | None
    repair: str | None
    entry: str
    said: Sentence
    conditional: bool = False


def waived(case: Case, fact: str, *, zone: str | None = None, repair: str | None = None,
           ground: Ground | None = None) -> NotDone | None:
    """The waiver of a fact that counts for a zone and a repair; None when there is none, or none that counts."""
    for event in reversed(asked_for(case.job, fact, zone=zone, repair=repair)):
        if lacking(case, event, ground) is None:
            return _not_done(case, event, zone, ground)
    return None


def asked_for(job: Job, fact: str, *, zone: str | None = None, repair: str | None = None) -> list[Event]:
    """The entries that waive a fact here. One without a zone is of overlap and parent film, or of the whole part's lining."""
    return [event for event in job.of("fact.waived") if event.body.fact == fact
            and (zone is None or event.body.zone in (None, zone)) and (repair is None or event.body.repair in (None, repair))]


def lacking(case: Case, event: Event, ground: Ground | None = None) -> Sentence | None:
    """What an entry lacks to count, as a sentence; None when it counts."""
    body = event.body
    person = case.job.people.get(event.by)
    if body.fact == "visual":
        return say("acts.never_waived_visual", entry=event.id)
    if person is None or person.role not in (("engineer", "inspector") if body.fact == "appearance" else ("engineer",)):
        return say("acts.waived_by_no_engineer", entry=event.id, name=case.job.name_of(event.by))
    if not any(sign.isdigit() for sign in body.basis):
        return say("acts.waived_without_basis", entry=event.id)
    if body.fact == "spark" and ground in ("in_service", "conductive") and not _owner_accepts(case, body):
        return say("acts.waived_without_owner", entry=event.id)
    if body.fact in SURFACE and service_of(case) != "never":
        return say("acts.waived_in_contact", entry=event.id, fact=words(body.fact))
    return None


def _owner_accepts(case: Case, body: object) -> bool:
    mine = asked_for(case.job, body.fact, zone=body.zone, repair=body.repair)  # type: ignore[attr-defined]
    return any(event.body.role == "owner" and event.body.accepted_by for event in mine)


def _not_done(case: Case, event: Event, zone: str | None, ground: Ground | None) -> NotDone:
    body = event.body
    mine = asked_for(case.job, body.fact, zone=zone or body.zone, repair=body.repair)
    names: list[str] = [case.job.name_of(event.by)]
    names += [say("acts.not_done_by", name=name, role=one.body.role) if one.body.role else name
              for one in mine for name in one.body.accepted_by]
    what = _SPARK[ground] if ground is not None else say("acts.not_measured_fact", fact=words(body.fact))
    where = zone or body.zone
    return NotDone(body.fact, where, body.repair, event.id, say(
        "acts.not_done", what=what, where=say("acts.not_done_where", zone=where) if where else "",
        reason=body.reason.rstrip("."),
        instead=say("acts.not_done_instead", replaced=body.replaced_by.rstrip(".")) if body.replaced_by else "",
        names=list(dict.fromkeys(names)), basis=body.basis.rstrip(".")), ground in CONDITIONAL)


def lines(not_done: Iterable[NotDone]) -> list[Sentence]:
    """As it is printed: one sentence for each entry, with all the zones it is of."""
    return [one["said"] for one in printed(not_done)]


def printed(not_done: Iterable[NotDone]) -> list[dict[str, Any]]:
    """Plain values for ``job.json``, one for each entry."""
    by_entry: dict[str, list[NotDone]] = {}
    for one in not_done:
        by_entry.setdefault(one.entry, []).append(one)
    found = []
    for entry, mine in by_entry.items():
        zones = list(dict.fromkeys(one.zone for one in mine if one.zone))
        where = say("acts.not_done_where", zone=zones) if zones else ""
        found.append({"entry": entry, "fact": mine[0].fact, "repair": mine[0].repair, "zones": zones,
                      "conditional": any(one.conditional for one in mine),
                      "said": say("acts.not_done", **(mine[0].said.params | {"where": where}))})
    return found


def evidence(job: Job, point: str) -> list[Event]:
    """What a hold point's signature covers: its entries, and what was waived of them."""
    stands = [event for event in job.of("fact.waived") if _POINTS.get(event.body.fact) == point]
    return sorted([*job.of(*covers(point)), *stands], key=lambda event: event.at)
