"""What is the state of a job? The fold of its events, corrections and voids included.

The events stay as they were written. A correction gives the old value, the new one and the reason; from
then on the new one counts. A voided entry no longer counts but stays in the record.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Any

from ..basis.errors import Contradiction, NotEnough, Unknown
from ..basis.sentences import say
from .kinds import BENCH_KINDS, KINDS, WRITTEN_BY_THE_BENCH, Event, body_of
from .split import split_up


@dataclass(frozen=True)
class Job:
    """The current state of a job: what counts (``events``), what was corrected, voided, or replaced by a split."""

    events: tuple[Event, ...]
    corrections: tuple[Event, ...] = ()
    voids: tuple[Event, ...] = ()
    voided: tuple[Event, ...] = ()
    replaced: tuple[Event, ...] = ()
    people: dict[str, Any] = field(default_factory=dict)
    instruments: dict[str, Any] = field(default_factory=dict)
    lots: dict[str, Any] = field(default_factory=dict)
    judged: tuple[Event, ...] = ()

    def of(self, *kinds: str) -> list[Event]:
        """All counting events of these kinds, in order of time."""
        if len(kinds) == 1:
            return list(self._by_kind.get(kinds[0], ()))
        return [event for event in self.events if event.kind in kinds] if any(kind in self._by_kind for kind in kinds) else []

    def last(self, kind: str) -> Event | None:
        """The latest counting event of a kind, or None."""
        found = self._by_kind.get(kind)
        return found[-1] if found else None

    @cached_property
    def _by_kind(self) -> dict[str, list[Event]]:
        """What ``of`` is asked some hundred times in one judgement, sorted once."""
        held: dict[str, list[Event]] = {}
        for event in self.events:
            held.setdefault(event.kind, []).append(event)
        return held

    def the(self, kind: str) -> Any:
        """The body of the one event of a kind that every job has; NotEnough when it is missing."""
        found = self.last(kind)
        if found is None:
            section = KINDS[kind].section
            raise NotEnough(section, say("job.job_part_missing", part=f"[{section}]"))
        return found.body

    def changed_at(self, event: Event) -> datetime:
        """When what this entry says last changed: its own time, or that of its latest correction."""
        return max([event.at, *(c.at for c in self.corrections if c.body.entry == event.id)])

    def name_of(self, person: str) -> str:
        """The person's full name."""
        return self.people[person].name if person in self.people else person

    def first_layer_at(self) -> datetime | None:
        """When the first layer that counts was fused."""
        layers = self.of("layer.fused")
        return layers[0].at if layers else None


def fold(events: Iterable[Event]) -> Job:
    """The state of a job from its events.

    Raises
    ------
    Unknown
        A correction or void of an entry that is not there.
    Contradiction
        A correction whose old value is not the current one; a second [part]; a list with the same id twice.
    """
    given = list(events)
    written = [event for event in given if event.kind not in BENCH_KINDS]
    standing: dict[str, Event] = {}
    corrections, voids, voided = [], [], []
    for event in written:
        if event.kind == "entry.corrected":
            standing[event.body.entry] = _corrected(standing, event)
            corrections.append(event)
        elif event.kind == "entry.voided":
            if event.body.entry not in standing:
                raise Unknown(f"{event.id}.entry", say("job.voided_entry_missing", id=event.id, entry=event.body.entry))
            voided.append(standing.pop(event.body.entry))
            voids.append(event)
        else:
            if event.id in standing:
                raise Contradiction(event.id, say("job.entry_twice", id=event.id))
            standing[event.id] = event
    place = {event.id: number for number, event in enumerate(written)}
    ordered = tuple(sorted(standing.values(), key=lambda event: (event.at, place[event.id])))
    gone = split_up(ordered)
    counting = tuple(event for event in ordered if event.id not in gone)
    return Job(
        events=counting,
        replaced=tuple(event for event in ordered if event.id in gone),
        corrections=tuple(corrections),
        voids=tuple(voids),
        voided=tuple(voided),
        people=_by_id(counting, "person.named"),
        instruments=_by_id(counting, "instrument.listed"),
        lots=_by_id(counting, "lot.received"),
        judged=tuple(event for event in given if event.kind == "job.judged"),
    )


def _by_id(events: tuple[Event, ...], kind: str) -> dict[str, Any]:
    held: dict[str, Any] = {}
    for event in events:
        if event.kind == kind:
            if event.body.id in held:
                raise Contradiction(event.id, say("job.id_twice", id=event.body.id, kind=kind))
            held[event.body.id] = event.body
    return held


def _corrected(standing: dict[str, Event], event: Event) -> Event:
    """The corrected entry: the stated old value must be the field's current one."""
    change = event.body
    if change.entry not in standing:
        raise Unknown(f"{event.id}.entry", say("job.corrected_entry_missing", id=event.id, entry=change.entry))
    target = standing[change.entry]
    if change.field.split(".")[0] in WRITTEN_BY_THE_BENCH:
        raise Contradiction(f"{event.id}.field", say("job.written_by_the_bench", spot=change.entry, key=change.field))
    raw = target.body.model_dump(mode="json", exclude_unset=True)
    spot: Any = raw
    path = change.field.split(".")
    for step in path[:-1]:
        spot = _into(spot, step, event, change)
    last: Any = path[-1]
    unsaid = spot is raw and last not in raw and last in type(target.body).model_fields
    old = None if unsaid else _into(spot, last, event, change)
    if not _alike(old, change.old):
        raise Contradiction(
            f"{event.id}.old",
            say("job.corrected_value_differs", id=event.id, entry=change.entry, field=change.field, said=change.old,
                stands=old),
        )
    if isinstance(spot, list):
        spot[int(last)] = change.new
    else:
        spot[last] = change.new
    raw.pop("estimate", None)  # it was of what was corrected
    if change.field != "confirmed" and not _alike(change.old, change.new):
        raw.pop("confirmed", None)  # so was the answer to what was odd about it
    return replace(target, body=body_of(target.kind, raw, where=change.entry, from_record=True))


def _into(spot: Any, step: str, event: Event, change: Any) -> Any:
    try:
        return spot[int(step)] if isinstance(spot, list) else spot[step]
    except (KeyError, IndexError, ValueError, TypeError):
        raise Unknown(
            f"{event.id}.field", say("job.corrected_field_missing", id=event.id, entry=change.entry, field=change.field)
        ) from None


def _alike(a: Any, b: Any) -> bool:
    """Equal as values: 620, 620.0 and, from a record, "620"."""
    if isinstance(a, bool) or isinstance(b, bool):
        return a is b
    try:
        return float(a) == float(b)
    except (TypeError, ValueError):
        return bool(a == b)
