"""Which repair does an entry belong to? To the one whose letter it names; without a letter, to the only one there was.

    layer of B            → proves B and never A
    layer, no letter      → the only repair outlined by then; with several it is asked: "A or B"

A repair has the letter of its first damage, and answers to that of every damage in it. What is left as it is needs no powder;
its film and its test are asked for all the same.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from ...basis.errors import BenchError, Missing, Unknown
from ...basis.sentences import say
from ..case import Case
from ..edition import judged_by
from ..fold import Job
from ..kinds import KINDS, Event
from ..step import Step
from .places import laid_on, within

ASKED_SINCE = 3  # edition of the rules; jobs opened before it were not asked
WHOLE_PART = "part"  # the letter of a picture that shows all of it


@dataclass(frozen=True)
class Repair:
    """One repair of the disposition; ``made``: with powder and heat, and not left as it is."""

    members: tuple[str, ...]
    outline: tuple[tuple[float, float], ...]
    made: bool
    around_mm: float | None = None  # once round the bore it lies in

    @property
    def letter(self) -> str:
        """What it is called."""
        return self.members[0]

    def around(self, x: float, y: float, reach_mm: float) -> bool:
        """Whether a place lies on it or at most so far beside it."""
        return within(x, y, self.outline, self.around_mm, reach_mm)


def found_in(disposition: Step) -> list[dict[str, Any]]:
    """The repairs as the disposition room found them."""
    return [repair for answer in disposition.answers for repair in answer.get("repairs", [])]


def repairs_of(case: Case, disposition: Step) -> list[Repair]:
    """The repairs that the disposition found; one that layers name was made, whatever was decided."""
    layered = {event.body.repair for event in case.part_job.of("layer.fused")}
    around_mm = laid_on(case.part_job).around_mm
    return [Repair(tuple(one["members"]), tuple(one["outline_mm"]), one["to_make"] or not layered.isdisjoint(one["members"]),
                   around_mm)
            for one in found_in(disposition) if one.get("outline_mm")]


def several(repairs: Sequence[Repair]) -> bool:
    """Whether work of one repair could be taken for that of another."""
    return sum(repair.made for repair in repairs) > 1


def asked_about(case: Case, disposition: Step) -> list[dict[str, Any]]:
    """The repairs that a case is asked about: its own, or all."""
    return [one for one in found_in(disposition)
            if one.get("outline_mm") and (case.repair is None or case.repair in one["members"])]


def own_outlines(case: Case, events: Sequence[Event]) -> list[Event]:
    """The entries without the outlines of other repairs."""
    return [event for event in events
            if event.kind != "damage.outlined" or not case.members or event.body.id in case.members]


def of_repair(case: Case, repairs: Sequence[Repair], repair: Repair) -> Case:
    """The case with the entries that speak for one repair; it is then asked about that one alone."""
    given, mine = Owners(case, repairs), {}
    for event in (*case.job.events, *case.job.voided):
        own = given.part_of(event, repair)
        if own is not None:
            mine[event.id] = own
    job = case.job
    kept = tuple(void for void in job.voids if void.body.entry in mine)
    narrowed = replace(
        job, events=tuple(mine[e.id] for e in job.events if e.id in mine), voids=kept,
        voided=tuple(mine[e.id] for e in job.voided if e.id in mine),
        corrections=tuple(c for c in job.corrections if c.body.entry in mine))
    left = tuple(letter for one in repairs if not one.made for letter in one.members)
    return replace(case, job=narrowed, repair=repair.letter, members=repair.members, left=left, whole=case.part_job)


def each_made(case: Case, disposition: Step) -> list[tuple[str, Case]]:
    """The letter and the case of each repair that is built; the case as it is, without a letter, where there is only one."""
    repairs = repairs_of(case, disposition)
    if len(repairs) < 2 or not any(repair.made for repair in repairs):
        return [("", case)]
    return [(repair.letter, of_repair(case, repairs, repair)) for repair in repairs if repair.made]


class Owners:
    """Whose is an entry, among these repairs?"""

    def __init__(self, case: Case, repairs: Sequence[Repair]) -> None:
        self.repairs = repairs
        self.reach_mm = case.procedure.value("feather_mm") or 0.0
        outlined: dict[str, datetime] = {}
        for event in case.part_job.of("damage.outlined"):
            outlined.setdefault(event.body.id, event.at)
        self.begun = {repair.letter: min((outlined[m] for m in repair.members if m in outlined), default=None)
                      for repair in repairs}

    def there(self, at: datetime) -> list[Repair]:
        """The repairs with powder whose damage was outlined by then."""
        return [repair for repair in self.repairs if repair.made
                and (begun := self.begun[repair.letter]) is not None and begun <= at]

    def part_of(self, event: Event, repair: Repair) -> Event | None:
        """What of an entry speaks for this repair; None when nothing does."""
        if KINDS[event.kind].part_wide or (event.kind == "fact.waived" and event.body.repair is None):
            return event
        if event.kind == "film.measured":
            spots = [spot for spot in event.body.spots if self._speaks(self.letter_of(event, spot), event.at, repair)]
            return replace(event, body=event.body.model_copy(update={"spots": spots})) if spots else None
        return event if self._speaks(getattr(event.body, "repair", None), event.at, repair) else None

    def _speaks(self, letter: str | None, at: datetime, repair: Repair) -> bool:
        if letter is not None:
            return letter in repair.members
        there = self.there(at)
        return len(there) != 1 or there[0] == repair

    def letter_of(self, event: Event, spot: Any) -> str | None:
        """The letter of the repair a reading is of: as said with it, with its entry, or by its place where nobody was asked."""
        said = spot.repair or event.body.repair
        if said is not None or spot.x is None or spot.y is None:
            return said  # type: ignore[no-any-return]
        on = [repair for repair in self.repairs if repair.around(spot.x, spot.y, self.reach_mm)]
        return on[0].letter if len(on) == 1 else None

    def nobodys(self, event: Event) -> list[str]:
        """The letters to choose from where an entry names no repair and could be of several; none when it is clear."""
        if not KINDS[event.kind].names_repair:
            return []
        if event.kind == "film.measured":
            said = [spot.repair or event.body.repair for spot in event.body.spots if spot.readings_um]
        else:
            said = [event.body.repair]
        there = [repair.letter for repair in self.there(event.at)]
        return there if None in said and len(there) > 1 else []

    def unknown(self, event: Event, known: Sequence[str]) -> str | None:
        """A letter that is no damage of this part; None when there is no such letter in the entry."""
        body = event.body
        said = [getattr(body, "repair", None), *(spot.repair for spot in getattr(body, "spots", ()))]
        extra = (WHOLE_PART,) if event.kind == "picture.taken" else ()
        return next((letter for letter in said if letter is not None and letter not in (*known, *extra)), None)


def unclear(case: Case, repairs: Sequence[Repair], events: Sequence[Event], where: str = "{id}.repair") -> Iterator[BenchError]:
    """For each entry that must name its repair and does not, or names none of this part: what is said at the door."""
    if judged_by(case.job.the("job.opened").model_dump(include={"rules"})) < ASKED_SINCE:
        return
    owners, known = Owners(case, repairs), letters_known(case.part_job)
    for event in events:
        field = where.format(id=event.id)
        if event.kind == "layer.fused" and event.body.repair in known:  # its layers are those of one plan
            known_here = [repair.letter for repair in repairs if repair.made] or known
        else:
            known_here = known
        if (letter := owners.unknown(event, known_here)) is not None:
            yield Unknown(field, say("job.repair_unknown", entry=event.id, repair=letter[:40],
                                     known=", ".join(known_here) or "—"))
        elif choice := owners.nobodys(event):
            also = [WHOLE_PART] if event.kind == "picture.taken" else []
            yield Missing(field, say("job.which_repair", entry=event.id, letters=", ".join([*choice, *also])))


def letters_known(job: Job) -> list[str]:
    """The letters of all damage outlined on this part, and of what was split into others."""
    return list(dict.fromkeys(event.body.id for event in (*job.of("damage.outlined"), *job.replaced)))
