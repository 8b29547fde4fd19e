"""What is known at one moment: the entries up to then, the procedure, and what the steps say of them.

    layer fused 09:05, film read 11:30, asked 10:00   → the film was not read yet

A fact counts from its own time, not from when it was typed. Asked for one of several repairs, only the entries are known that
speak for it (rules/repairs.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Any

from ..asked import Asked
from ..case import Case, case_of
from ..fold import Job, fold
from ..kinds import KINDS, Event
from ..rules.hot import last_heat
from ..rules.repairs import of_repair, repairs_of
from ..step import Step


@dataclass(frozen=True)
class Moment:
    """A job at one moment, asked for one repair. ``given`` is what the act's own entry would say, ``by`` who would do it."""

    case: Case
    at: datetime
    repair: str | None = None
    given: Mapping[str, Any] = field(default_factory=dict)
    by: str = ""
    asked_before: Asked | None = None

    @property
    def job(self) -> Job:
        """The entries that count at this moment."""
        return self.case.job

    @cached_property
    def asked(self) -> Asked:
        """The steps, asked when they are wanted."""
        return self.asked_before or Asked(self.case)

    def step(self, name: str) -> Step:
        """What one step says."""
        return self.asked.step(name)

    def of(self, *kinds: str) -> list[Event]:
        """The entries of these kinds that speak for this repair."""
        return self.job.of(*kinds)

    def last(self, *kinds: str) -> Event | None:
        """The latest of them."""
        found = self.of(*kinds)
        return found[-1] if found else None

    def limit(self, key: str) -> tuple[float | None, str]:
        """A limit of the procedure, and where it stands."""
        return self.case.procedure.value(key), self.case.procedure.cite(key)

    @cached_property
    def layers(self) -> list[Event]:
        """The layers of this repair."""
        return self.of("layer.fused")

    @cached_property
    def prepared(self) -> Event | None:
        """The last preparation before the first layer."""
        first = self.layers[0].at if self.layers else None
        found = [event for event in self.of("surface.prepared") if first is None or event.at <= first]
        return found[-1] if found else None

    @cached_property
    def last_heat(self) -> datetime | None:
        """When this repair was last heated, as far as the entries say."""
        return last_heat(self.case)

    @cached_property
    def film(self) -> Event | None:
        """The last readings that are of the film as it is now: after the last layer."""
        film, changed = self.last("film.measured"), self.last("layer.fused")
        return None if film is None or (changed is not None and film.at < changed.at) else film

    @cached_property
    def planned_layers(self) -> int | None:
        """How many layers the plan of this repair has; None without a plan."""
        return max((answer["layers"] for answer in self.step("buildup").answers), default=None)


def moment(events: Iterable[Event], at: datetime, *, repair: str | None = None, given: Mapping[str, Any] | None = None,
           by: str = "", before: str = "", from_record: bool = False,
           answers: dict[tuple[int, str], Any] | None = None) -> Moment:
    """The job as it was known at ``at``, with the people, instruments and lots listed for it whenever that was.

    ``before`` names an entry that is not looked at. ``answers`` are what the rooms have said at other moments of this job.
    """
    known: list[Event] = []
    seen: set[str] = set()
    for event in events:
        if event.id == before or (event.at > at and KINDS[event.kind].acted):
            continue
        if event.kind in ("entry.corrected", "entry.voided") and event.body.entry not in seen:
            continue
        seen.add(event.id)
        known.append(event)
    case = case_of(fold(known), from_record=from_record, estimates=False, answers=answers)
    return Moment(_of(case, repair), at, repair, given or {}, by)


def as_judged(case: Case, steps: Mapping[str, Step], at: datetime) -> Moment:
    """A job that was judged already with all its entries, the last of them at ``at``: its steps are asked no second time."""
    return Moment(case, at, asked_before=Asked(case, steps))


def of_letter(whole: Moment, letter: str | None) -> Moment:
    """The same moment, asked for one of several repairs."""
    return replace(whole, case=_of(whole.case, letter, whole.asked), repair=letter, asked_before=None)


def _of(case: Case, letter: str | None, asked: Asked | None = None) -> Case:
    """The case asked about the repair of that letter, where there are several."""
    repairs = repairs_of(case, (asked or Asked(case)).step("disposition")) if letter is not None else []
    own = next((one for one in repairs if letter in one.members), None)
    if own is None or len(repairs) < 2 or not any(one.made for one in repairs):
        return case
    return of_repair(case, repairs, own)
