"""Which damage did another take in, and does what was proved before still stand?

    B lies 4 mm from A, ground into one spot, A outlined again round both   → one repair, A; B's letter is not used again
    A outlined again beside B                                               → B is still to be outlined as prepared
    B taken in after layer 2                                                → the engineer: which layers stand?
    C taken in, and no C was ever outlined                                  → void it

Geometry may join damage as well (disposition/merge.py); here a person said so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from ...basis.sentences import Sentence, say
from ...disposition.bore import beside
from ...disposition.place import shifted
from ..case import Case, clock
from ..fold import Job
from ..step import BlockKind
from .instruction import instructions
from .places import Points, laid_on, outline_on

COVER_MM = 0.5  # an outline drawn round another may cut it by so much; own judgement


@dataclass(frozen=True)
class Fault:
    """What is wrong with an entry that says that one damage took others in."""

    because: Sentence
    what: Sentence
    kind: BlockKind


def taken_in(job: Job) -> list[tuple[str, str]]:
    """Which damage took which one in, as (into, took), in order; entries that name no such damage say nothing."""
    known = {event.body.id for event in job.of("damage.outlined")}
    lead: dict[str, str] = {}
    for event in job.of("repair.merged"):
        into = event.body.into
        while into in lead:
            into = lead[into]
        for took in event.body.took:
            if {into, took} <= known and took != into and took not in lead:
                lead[took] = into
    return [(into, took) for took, into in lead.items()]


def as_prepared_in_another(job: Job) -> set[str]:
    """The damage whose prepared outline is that of the damage that took it in, because that one lies round it."""
    return {took for into, took in taken_in(job) if _lies_in(job, took, into)}


def faults(case: Case) -> Iterator[Fault]:
    """Entries that name damage nobody outlined, and damage taken in after a layer that the engineer has not answered."""
    job = case.part_job
    known = {event.body.id for event in job.of("damage.outlined")}
    for event in job.of("repair.merged"):
        strange = [letter for letter in (event.body.into, *event.body.took) if letter not in known]
        if strange or event.body.into in event.body.took:
            yield Fault(say("job.merged_unknown", entry=event.id, letters=strange or [event.body.into]),
                        say("job.merged_void"), "held")
            continue
        layers = [one for one in job.of("layer.fused") if one.at <= event.at
                  and one.body.repair in (None, event.body.into, *event.body.took)]
        if layers and not any(one.at >= event.at for one in instructions(job)):
            yield Fault(say("job.merged_after_layer", into=event.body.into, took=event.body.took, at=clock(event.at),
                            number=layers[-1].body.number), say("job.merged_after_layer_ask"), "engineering_review")


def grown(case: Case) -> Iterator[Fault]:
    """Damage outlined larger as prepared after a layer was laid on it, that the engineer has not answered since."""
    job = case.part_job
    on = laid_on(job)
    for letter in dict.fromkeys(event.body.id for event in job.of("damage.outlined")):
        mine = [event for event in job.of("damage.outlined") if event.body.id == letter and event.body.stage == "as_prepared"]
        for before, after in pairwise(mine):
            layers = [one for one in job.of("layer.fused") if one.at <= after.at and one.body.repair in (None, letter)]
            if layers and not _inside(outline_on(after.body, on), outline_on(before.body, on), on.around_mm) \
                    and not any(one.at >= after.at for one in instructions(job)):
                yield Fault(say("job.grown_after_layer", damage=letter, at=clock(after.at), number=layers[-1].body.number),
                            say("job.merged_after_layer_ask"), "engineering_review")


def _lies_in(job: Job, took: str, into: str) -> bool:
    """Whether the latest outline of one lies inside the prepared outline of another."""
    inner = [event for event in job.of("damage.outlined") if event.body.id == took]
    outer = [event for event in job.of("damage.outlined") if event.body.id == into and event.body.stage == "as_prepared"]
    if not inner or not outer:
        return False
    on = laid_on(job)
    return _inside(outline_on(inner[-1].body, on), outline_on(outer[-1].body, on), on.around_mm)


def _inside(inner: Points | None, outer: Points | None, around_mm: float | None) -> bool:
    """Whether one outline lies in another, in a bore on whichever side of the seam; one that lies nowhere does not."""
    from shapely.geometry import Polygon

    if inner and outer:
        was, to = (sum(y for _, y in one) / len(one) for one in (inner, outer))
        inner = shifted(inner, (0.0, beside(was, to, around_mm) - was))
    return bool(inner and outer and Polygon(outer).buffer(COVER_MM).contains(Polygon(inner).buffer(0)))
