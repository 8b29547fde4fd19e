"""Was one repair split into others honestly, and is everything since then said of one of those?

    A split after layer 1                                        → no: name the zones of the map inside A
    A split into C and D, and nobody outlined D                  → outline it first
    A's bare steel reaches 12 mm beyond C and D                  → outline there what is left of it
    air read for A after the split                               → C or D?

A split that lifts what held the job is the engineer's, as a correction is (rules/changed.py).
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import Sentence, say
from ..case import Case, clock
from ..kinds import Event
from ..split import split_up, why_not
from .merged import COVER_MM, Fault
from .places import laid_on, outline_on


def split_faults(case: Case) -> Iterator[Fault]:
    """What is wrong with each split, and with what was entered since under the letter that is used no more."""
    job = case.part_job
    every = sorted((*job.events, *job.replaced), key=lambda event: event.at)
    for event in job.of("repair.split"):
        of, into = event.body.of, event.body.into
        why = why_not(every, event)
        if why is not None:
            yield Fault(*_refused(event, why), "held")
            continue
        gone = [one for one in job.replaced if split_up(every)[one.id].id == event.id]
        if _beyond(case, gone, into):
            yield Fault(say("job.split_beyond", of=of, into=into), say("job.split_beyond_then", of=of), "held")
        for one in job.events:
            if one.at > event.at and one.kind != "damage.outlined" and getattr(one.body, "repair", None) == of:
                yield Fault(say("job.split_named_after", entry=one.id, of=of, at=clock(event.at), into=into),
                            say("job.split_named_then", entry=one.id, into=into), "held")


def _refused(event: Event, why: str) -> tuple[Sentence, Sentence]:
    of, into = event.body.of, event.body.into
    if why == "layer":
        return say("job.split_after_layer", of=of, at=clock(event.at)), say("job.split_after_layer_then", of=of)
    return say("job.split_unknown", entry=event.id, of=of, into=into), say("job.split_void")


def _beyond(case: Case, gone: list[Event], into: list[str]) -> bool:
    """Whether steel that was outlined as prepared lies in none of the outlines it was split into."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    prepared = [one for one in gone if one.body.stage == "as_prepared"]
    if not prepared:
        return False
    on = laid_on(case.part_job)
    latest = {one.body.id: one for one in case.part_job.of("damage.outlined") if one.body.id in into}
    outer = [Polygon(points) for one in latest.values() if (points := outline_on(one.body, on))]
    inner = outline_on(prepared[-1].body, on)
    return bool(inner) and not unary_union(outer).buffer(COVER_MM).contains(Polygon(inner).buffer(0))
