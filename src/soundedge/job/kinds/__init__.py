"""What can happen in a job, in the past tense: one row for each kind of entry, and everything that follows from it.

A job is the list of its events and nothing else. Each kind has one body; the words are those of the
record and do not change their meaning. Who did it (``by``), when they say it happened (``at``) and the
event's own id stand beside the body.

    air.read        {"air_c": 21.4, "rh_pct": 63, "steel_c": 18.9, "instrument": "H2"}
    layer.fused     {"number": 1, "lot": "P-311"}
    repair.released {"certificate": "KBW-2031-014"}

A later version may add kinds and keys; it never gives an old word a new meaning. A new kind is a row in the file of its
trade step; job sheet, desk, pages, certificate and tablets read it there.

>>> KINDS["air.read"].label, KINDS["air.read"].step, SECTIONS["air"].name
('Air and steel read', 'conditions', 'air.read')
"""

from __future__ import annotations

from typing import Any

from ...basis.errors import BenchError, Unknown
from ...basis.question import read
from ...basis.sentences import say
from . import acts, answers, bench, damage, film, fire, heat, holiday, looking, opening, signatures, surface
from .kind import ELSEWHERE, WRITTEN_BY_THE_BENCH, Event, Kind
from .values import HOLD_POINTS

__all__ = [
    "BENCH_KINDS", "ELSEWHERE", "HOLD_POINTS", "KINDS", "REPAIR_STEPS", "SECTIONS", "SIGNED", "STEPS", "WHOLE_JOB",
    "WRITTEN_BY_THE_BENCH", "Event",
    "Kind", "body_of", "covers", "follow",
]

# In the order in which events of the same moment follow each other.
KINDS: dict[str, Kind] = {
    kind.name: kind
    for group in (opening, damage, looking, surface, fire, acts, heat, film, holiday, answers, signatures, bench)
    for kind in group.KINDS
}
# The job sheet: section → kind.
SECTIONS: dict[str, Kind] = {kind.section: kind for kind in KINDS.values() if kind.section}
# The steps of the path, in the order of the trade; each has a page of that address.
STEPS = ("survey", "disposition", "hazards", "conditions", "buildup", "heat", "thickness", "instruments", "holiday",
         "hold_points", "release")
# What the bench itself writes down; it changes nothing of the job.
BENCH_KINDS = tuple(kind.name for kind in KINDS.values() if not kind.section)
# What every job has, once.
WHOLE_JOB = tuple(kind.name for kind in SECTIONS.values() if not kind.many and not kind.acted)
# Steps that are repair work: whoever does one of them does not release the job.
REPAIR_STEPS = tuple(kind.name for kind in KINDS.values() if kind.repair)
# Signatures and decisions: they stand for what was reviewed.
SIGNED = tuple(kind.name for kind in KINDS.values() if kind.signature)


def covers(hold_point: str) -> tuple[str, ...]:
    """The kinds that the signature of a hold point covers."""
    return tuple(kind.name for kind in KINDS.values() if kind.covered_by == hold_point)


def follow(hold_point: str) -> tuple[str, ...]:
    """The kinds that must not come before a hold point is signed."""
    return tuple(kind.name for kind in KINDS.values() if hold_point in kind.follows)


def body_of(kind: str, raw: Any, *, where: str = "", from_record: bool = False) -> Any:
    """Read the body of one kind strictly.

    Raises
    ------
    BenchError
        With ``where`` in front of the field, so that people can find the line they typed.
    """
    if kind not in KINDS:
        raise Unknown(where or "kind", say("job.kind_unknown", kind=str(kind)[:60], known=', '.join(KINDS)))
    try:
        return read(KINDS[kind].body, raw, from_record=from_record)
    except BenchError as fault:
        fault.field = ".".join(part for part in (where, fault.field) if part)
        raise
