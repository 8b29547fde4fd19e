"""Is it known what was in the part, and is it clean of it? Asked before anything is cut, heated or released.

    last service not stated                                          → ask its owner; nobody here knows
    hypochlorite until 3 April, statement of 28 March                → a new statement; keep the part apart
    acid seen to weep at the edge                                    → no heat; the lining engineer
    edge pH 3.1, the procedure asks for 6 to 8                       → rinse and neutralise, dry, read again

A part that its owner states was *never in service* needs neither. What a job of the first edition could not say holds nothing;
any text about decontamination counts. A reading or a look that was bad holds, whatever the procedure asks for.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Literal

from ...basis.sentences import Sentence, say
from ..case import Case, digits
from ..kinds import Event
from ..kinds.looking import DecontaminationStated
from .instruction import instructions
from .stated import stated_service

OWNERS = ("service", "decontamination")  # what only the owner can answer
FACTS = (*OWNERS, "residual_hazard", "weeping", "weep_test", "edge_ph", "product_at_heat")
CLEAN_ROUNDS = 2  # after weeping; own judgement
FALLING_ROUNDS = 3  # pH lower each time: the film or the steel holds product; own judgement
_NONE = frozenset("none nil never new no not yet unused used spare part parts in service media hazard hazards".split())
SOURCE = "common practice, no source"
JUDGED = "own judgement"


@dataclass(frozen=True)
class Open:
    """One open point: a fact, its state, the reason and the one move. ``holds`` is false for what only informs."""

    fact: str
    state: Literal["missing", "dead", "failing"]
    verb: Literal["ask_owner", "ask_engineer", "ask", "measure", "correct", "read_again"]
    because: Sentence
    what: Sentence
    holds: bool = True
    value: float | None = None
    limit: float | None = None
    source: str = SOURCE

    @property
    def by(self) -> str:
        """Who can answer it."""
        return {"ask_owner": "owner", "ask_engineer": "engineer", "ask": "site_safety"}.get(self.verb, "technician")


def service_open(case: Case) -> list[Open]:
    """What is open about service, decontamination, weeping and pH, by the entries of the case."""
    return [*_history(case), *product_open(case)]


def product_open(case: Case, at: datetime | None = None) -> list[Open]:
    """What is open about product at the edge of each repair; ``at``: as it was known then."""
    read = [event for event in case.job.of("ph.read") if at is None or event.at <= at]
    found: list[Open] = []
    for letter in dict.fromkeys(_letter(case, event) for event in read):
        mine = [event for event in read if _letter(case, event) == letter]
        found += _weeping(case, mine, at)
        found += _ph(case, [event for event in mine if event.body.edge_ph is not None])
    if service_of(case) != "never":
        found += _required(case, read)
    return found


def service_of(case: Case) -> str | None:
    """The service of the part as its owner stated it, on a paper for this part or at the opening; None: nobody said."""
    return stated_service(case.job)


def _letter(case: Case, event: Event) -> str | None:
    """The repair a reading belongs to; one without a letter is of the only repair."""
    letters = {one.body.id for one in case.part_job.of("damage.outlined")}
    return event.body.repair or (next(iter(letters)) if len(letters) == 1 else None)


def _history(case: Case) -> Iterator[Open]:
    job, part, service = case.job, case.job.the("part.identified"), service_of(case)
    stated, rules = job.of("decontamination.stated"), job.the("job.opened").rules or 1
    if service == "never":
        was = part.last_service if not _says_none(part.last_service) else next((one.body.media for one in stated
                                                                                if not _says_none(one.body.media)), None)
        if part.last_contact is not None:
            yield _ask_owner("service", "failing", say("acts.service_never_contact", contact=f"{part.last_contact:%Y-%m-%d}"),
                             say("acts.service_ask"))
        elif was is not None:
            yield _ask_owner("service", "failing", say("acts.service_never_but", was=was.rstrip(".")), say("acts.service_ask"))
        elif part.service_stated_by is None and not any(one.body.service == "never" for one in stated) and rules >= 3:
            yield _ask_owner("service", "missing", say("acts.service_never_by"), say("acts.service_never_by_ask"))
        return
    holds = rules >= 2 or service is not None
    named = part.last_service is not None or any(one.body.media for one in stated)
    asked = False
    if service == "unknown" and not named:
        asked = _written_since(case, job.of("part.identified")[-1].at) is None
        if asked:
            yield Open("service", "failing", "ask_engineer", say("acts.service_unknown"), say("acts.service_unknown_ask"))
    elif service is None and not named:
        asked = True
        yield _ask_owner("service", "missing", say("acts.service_missing"), say("acts.service_ask"), holds)
    if stated:
        yield from _statement(case, stated)
    elif part.decontamination is None and not asked:
        yield _ask_owner("decontamination", "missing", say("acts.decontamination_missing"), say("acts.decontamination_ask"),
                         holds)


def _says_none(text: str | None) -> bool:
    """Whether a text says nothing but that there was none: "none", "never in service", "new part". "Not known" says more."""
    return text is None or set(re.findall(r"[^\W_]+", text.lower().replace("n/a", ""))) <= _NONE


def _residual(case: Case, body: DecontaminationStated, since: datetime) -> Iterator[Open]:
    """A hazard that the statement leaves: site safety answers it on a later permit, or the engineer in writing."""
    hazard = body.residual_hazard
    answered = any(event.body.residual_hazard for event in case.part_job.of("permit.issued") if event.at >= since)
    if not _says_none(hazard) and not answered and _written_since(case, since) is None:
        yield Open("residual_hazard", "failing", "ask", say("acts.residual_hazard", number=body.number, hazard=hazard),
                   say("acts.residual_hazard_then"))


def _statement(case: Case, stated: list[Event]) -> Iterator[Open]:
    """The newest statement for this part, by tag, by the last contact and by the first cut or heat."""
    part = case.job.the("part.identified")
    mine = sorted((one for one in stated if one.body.tag == part.tag), key=lambda one: one.body.stated_on)
    if not mine:
        last = stated[-1].body
        yield _ask_owner("decontamination", "failing",
                         say("acts.decontamination_other_tag", number=last.number, stated=last.tag, tag=part.tag),
                         say("acts.decontamination_ask"))
        return
    body = mine[-1].body
    yield from _residual(case, body, mine[-1].at)
    if part.last_contact is not None and body.stated_on < part.last_contact:
        yield _ask_owner("decontamination", "dead",
                         say("acts.decontamination_before_contact", number=body.number, stated=f"{body.stated_on:%Y-%m-%d}",
                             contact=f"{part.last_contact:%Y-%m-%d}"), say("acts.decontamination_ask"))
        return
    work = case.job.of("surface.prepared", "heat.started", "layer.fused")
    valid = [one for one in mine if part.last_contact is None or one.body.stated_on >= part.last_contact]
    if work and part.decontamination is None and valid[0].body.stated_on > work[0].at:
        yield Open("decontamination", "dead", "ask_engineer",
                   say("acts.decontamination_after_work", number=valid[0].body.number, stated=digits(valid[0].body.stated_on),
                       work=digits(work[0].at)), say("acts.decontamination_after_work_ask"))


def _weeping(case: Case, readings: list[Event], at: datetime | None) -> Iterator[Open]:
    """Product seen at the edge: the engineer, until two rounds were clean, or one after his written answer."""
    seen = [event for event in readings if event.body.weeping == "seen"]
    if not seen:
        return
    last = seen[-1]
    clean = [event for event in readings if event.at > last.at and event.body.weeping == "none_seen"]
    if not clean:
        yield Open("weeping", "failing", "ask_engineer", say("acts.weeping_seen", at=digits(last.at)), say("acts.weeping_ask"))
    elif len(clean) < CLEAN_ROUNDS and _written_since(case, last.at, at) is None:
        yield Open("weeping", "failing", "read_again", say("acts.weeping_once_clean", at=digits(last.at), n=len(clean)),
                   say("acts.weeping_again"), source=JUDGED)


def _ph(case: Case, readings: list[Event]) -> Iterator[Open]:
    """The last pH at the edge against the procedure, and against the rinse water read with it."""
    if not readings:
        return
    last, procedure = readings[-1], case.procedure
    value, rinse = last.body.edge_ph, last.body.rinse_ph
    least, most, apart = (procedure.value(key) for key in ("edge_ph_min", "edge_ph_max", "edge_ph_from_rinse_max"))
    low = least is not None and value < least
    high = most is not None and value > most
    far = apart is not None and rinse is not None and round(abs(value - rinse), 9) > apart
    if not (low or high or far):
        return
    key = "edge_ph_min" if low else "edge_ph_max" if high else "edge_ph_from_rinse_max"
    because = (say("acts.ph_outside", at=digits(last.at), ph=value, low="—" if least is None else f"{least:g}",
                   high="—" if most is None else f"{most:g}") if low or high else
               say("acts.ph_from_rinse", at=digits(last.at), ph=value, rinse=rinse, apart=apart))
    tried = [event.body.edge_ph for event in readings[-FALLING_ROUNDS:]]
    falls = low and len(tried) == FALLING_ROUNDS and all(b < a for a, b in pairwise(tried))
    yield Open("edge_ph", "failing", "ask_engineer" if falls else "correct", because,
               say("acts.ph_falling_ask", rounds=FALLING_ROUNDS) if falls else say("acts.ph_rinse"), value=value,
               limit=procedure.value(key), source=procedure.cite(key))


def _required(case: Case, readings: list[Event]) -> Iterator[Open]:
    """What the procedure asks of a part from service and nobody read."""
    for fact, key, because, what in (
        ("edge_ph", "edge_ph", say("acts.ph_missing"), say("acts.ph_measure")),
        ("weep_test", "weeping", say("acts.weep_missing"), say("acts.weep_look")),
    ):
        if case.requires(fact) and not any(getattr(event.body, key) is not None for event in readings):
            yield Open(fact, "missing", "measure", because, what, source=case.rule_book)


def _written_since(case: Case, moment: datetime, until: datetime | None = None) -> Event | None:
    """The engineer's numbered instruction to repair, given after a moment."""
    return next((event for event in reversed(instructions(case.part_job))
                 if event.at >= moment and (until is None or event.at <= until)), None)


def _ask_owner(fact: str, state: Literal["missing", "dead", "failing"], because: Sentence, what: Sentence,
               holds: bool = True) -> Open:
    return Open(fact, state, "ask_owner", because, what, holds)
