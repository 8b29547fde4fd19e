"""What did the lining engineer put in writing, and what does it lift? A spoken *ok* is kept, and lifts nothing.

    "ok, go ahead" for 565 cm² against 60                                  → which number and which step?
    KBW-26-41: "grind, two stages, cool between", bare area up to 60 000 mm²   → 60 000 mm² governs from then on

The limits that an instruction replaces stand in every later comparison, with the instruction as their source. A limit that it
does not name stays as the procedure sets it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from ...basis.procedure import LEL_PCT_MAX, LIMITS, Limit, Procedure
from ..fold import Job
from ..kinds import REPAIR_STEPS, Event
from ..kinds.signatures import EscalationDecided

REPAIR = "repair_as_instructed"
# Rule of a finding → the limit of the procedure that it was held against.
LIMIT_OF = {
    "bare_area": "bare_area_mm2_max", "footprint_area": "footprint_area_mm2_max", "keep_out": "keep_out_mm",
    "pit_depth": "pit_depth_mm_max", "same_spot_repairs": "same_spot_repairs_max",
    "repairs_per_part": "repairs_per_part_max", "repaired_share": "repaired_share_pct_max", "plate": "plate_mm_max",
    "film_left": "film_um_min", "rebake": "part_start_c_max", "plan_plate": "plate_mm_max",
}
# Limits of fire and gas are those of law and site safety: a letter may only tighten them. Key → which way is looser.
OF_SITE = {"lel_pct_max": 1, "spark_lel_pct_max": 1, "bump_tol_pct": 1, "gas_age_min_max": 1, "wipe_steel_c_max": 1,
           "permit_min_max": 1, "fire_watch_min": -1}
ASK = "Which number and which step? Ask the engineer for the written instruction, with its number and the limits it replaces."


def lacks(body: EscalationDecided) -> list[str]:
    """What a decision to repair lacks as a written instruction: a number has a digit in it, a step more than one word.

    >>> lacks(EscalationDecided(decision="repair_as_instructed", because="Fine.", instruction="ok"))
    ['number', 'step']
    """
    number, text = body.number or "", body.instruction or ""
    return ["number"] * (not re.search(r"\d", number)) + ["step"] * (len(text.split()) < 2)


def instructions(job: Job) -> list[Event]:
    """The engineer's written instructions that count, in order of time."""
    return [event for event in job.of("escalation.decided")
            if event.body.decision == REPAIR and by_engineer(job, event) and not lacks(event.body)]


def by_engineer(job: Job, event: Event) -> bool:
    """Whether an engineer wrote it."""
    person = job.people.get(event.by)
    return person is not None and person.role == "engineer"


def unwritten(job: Job) -> Event | None:
    """The last decision, when it lets the part be repaired and is no written instruction."""
    last = job.last("escalation.decided")
    return last if last is not None and last.body.decision == REPAIR and lacks(last.body) else None


def governed(procedure: Procedure, job: Job) -> Procedure:
    """The procedure with the limits that instructions replaced, each with its instruction as the source."""
    limits = dict(procedure.limits)
    for event in instructions(job):
        for key, value in (event.body.limits or {}).items():
            if not _looser(procedure, key, value):
                limits[key] = Limit(value, cited(job, event))
    return procedure if limits == procedure.limits else replace(procedure, limits=limits)


def beyond(procedure: Procedure, job: Job) -> list[tuple[Event, str, float]]:
    """The limits of fire and gas that a letter sets looser than the procedure; they do not count."""
    return [(event, key, value) for event in instructions(job) for key, value in (event.body.limits or {}).items()
            if _looser(procedure, key, value)]


def _looser(procedure: Procedure, key: str, value: float) -> bool:
    held = procedure.value(key, LEL_PCT_MAX if key == "lel_pct_max" else None)
    return key in OF_SITE and held is not None and OF_SITE[key] * (value - held) > 0


def cited(job: Job, event: Event) -> str:
    """An instruction as a source: its number, who wrote it and when."""
    return f"instruction {event.body.number}, {job.name_of(event.by)}, {event.at:%Y-%m-%d}"


def since(job: Job, keys: Iterable[str]) -> datetime | None:
    """When the last of these limits was first replaced; without a key, when the last instruction was written."""
    held = instructions(job)
    firsts = [min((e.at for e in held if key in (e.body.limits or {})), default=None) for key in keys]
    moments = [at for at in firsts if at is not None] or [e.at for e in held[-1:]]
    return max(moments, default=None)


def expired(job: Job, keys: Iterable[str], at: datetime | None = None) -> Event | None:
    """The instruction that had ended when it was last worked on the repair, or at the moment asked about.

    Before any layer the question is whether work may begin, so the latest entry counts; afterwards what was done by it stands.
    """
    work = [e.at for e in job.of(*REPAIR_STEPS)]
    moment = at or (max(work) if job.of("layer.fused") else max(e.at for e in job.events))
    wanted = set(keys)
    for event in reversed(instructions(job)):
        if not wanted or wanted & set(event.body.limits or {}):
            return event if event.body.expires is not None and event.body.expires < moment else None
    return None


def not_replaced(keys: Iterable[str], held: Iterable[Event]) -> list[str]:
    """The limits among these that no instruction names, each with its name in words."""
    named = {key for event in held for key in event.body.limits or {}}
    return [f"{key} ({LIMITS[key].name.lower()})" for key in dict.fromkeys(keys) if key not in named]
