"""What may be done now, on every repair of this job, and which act comes next? One true sentence first.

    after the last layer, film still warm    → "Not yet: measure the film on repair A. The film was at 62 °C …"

``done`` are the recorded acts, each judged at its own time with what was known then.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from ...basis.errors import Unknown
from ...basis.sentences import Sentence, say
from ..case import clock_time
from ..kinds import HOLD_POINTS, KINDS, Event
from ..rules.limited import limits_of
from ..rules.pause import paused
from ..rules.repairs import found_in, repairs_of
from ..rules.service import service_of
from .before import answered
from .moment import Moment, moment, of_letter
from .point import Act
from .signing import open_points
from .sparking import ZONES, passed, untested

CALLED = {
    "open_part": "open the part", "wipe": "wipe with solvent", "grind": "grind", "heat_on": "switch on the heat",
    "first_layer": "lay the first layer", "next_layer": "lay the next layer", "restart": "heat again after the pause",
    "sand": "sand the film", "check_gauge": "check the gauge", "measure_film": "measure the film",
    "release": "sign the release", "return_to_service": "return it to service",
    "disposition": "sign the disposition", "surface": "sign the prepared surface", "film": "sign the film",
    "holiday": "sign the holiday test",
    "repair": "test the repair for holidays", "overlap": "test the overlap for holidays",
    "parent": "test the film around it for holidays",
}
NOT_ASKED = say("acts.not_asked")
_LEAD = {"stop": "Stop", "ask_engineer": "Ask the engineer first", "ask_owner": "Ask the owner first"}


@dataclass(frozen=True)
class May:
    """The answers of one job at one moment. ``say`` is the one sentence of the act that comes next."""

    job: str
    at: datetime
    next: Act | None
    say: Sentence
    acts: tuple[Act, ...]
    done: tuple[Act, ...] = ()
    not_asked: Sentence = NOT_ASKED

    @property
    def each(self) -> list[tuple[Act, Sentence]]:
        """Every act still to come with its one sentence."""
        several = len({act.repair for act in self.acts if act.repair}) > 1
        return [(act, said(act, self.at, several=several)) for act in self.acts]

    def as_plain(self) -> dict[str, Any]:
        """What ``job may`` prints with ``--json``, and what the API answers."""
        first = self.next.first if self.next is not None else None
        return {
            "job": self.job, "at": self.at.isoformat(),
            "next": {"act": self.next.act if self.next else None, "repair": self.next.repair if self.next else None,
                     "answer": self.next.answer if self.next else None,
                     "by": first.by if first else "technician", "say": self.say},
            "acts": [act.as_plain() for act in self.acts], "done": [act.as_plain() for act in self.done],
            "not_asked": self.not_asked,
        }


def may(events: Sequence[Event], at: datetime | None = None, *, repair: str | None = None, act: str | None = None,
        given: Mapping[str, Any] | None = None, done: bool = True, from_record: bool = False,
        heard: dict[tuple[int, str], Any] | None = None, standing: Moment | None = None) -> May:
    """Every act that is still to come, on every repair, and the one that is next.

    Parameters
    ----------
    at : datetime, optional
        The moment; that of the last entry if left out.
    repair, act : str, optional
        Only this repair, only this act; an act that is named is answered even when it is not its turn.
    given : mapping, optional
        What the act's own entry would say.
    done : bool
        Judge what was done as well.
    heard : dict, optional
        What the rooms have said of this job already (``Case.answers``).
    standing : Moment, optional
        The whole job with the last of these entries: it is asked no second time at a later moment.

    Raises
    ------
    Unknown
        The job has no such repair at that moment.
    """
    acted = [event.at for event in events if KINDS[event.kind].acted
             and (KINDS[event.kind].act or event.by not in ("sheet", "bench"))]
    at = at or max(acted, default=max(event.at for event in events))
    heard = {} if heard is None else heard
    if standing is not None and at >= standing.at:
        whole = replace(standing, at=at, given=given or {}, asked_before=standing.asked)
    else:
        whole = moment(events, at, given=given, from_record=from_record, answers=heard)
    found = [one["members"] for one in found_in(whole.step("disposition"))]
    if repair is not None and not any(repair in members for members in found):
        raise Unknown("repair", say("acts.repair_unknown", repair=repair[:40],
                                    known=", ".join(members[0] for members in found) or "—"))
    letters: list[str | None] = [members[0] for members in found]
    if not any(one.made for one in repairs_of(whole.case, whole.step("disposition"))):
        letters = letters[:1] or [None]  # nothing is built: what is left is asked about together
    elif repair is not None:
        repair = next(members[0] for members in found if repair in members)
    if act in _OF_THE_PART:
        letters = [repair]
    due: list[Act] = []
    acts: list[Act] = []
    for letter in letters:
        if repair is not None and letter != repair and len(letters) > 1:
            continue
        now = replace(whole, repair=letter, asked_before=whole.asked) if len(letters) == 1 else of_letter(whole, letter)
        steps = list(_to_come(now))
        wanted = steps if act is None else [step for step in steps if step[0] == act] or _named(act)
        answers = {step: answered(now, *step) for step in wanted}
        acts += answers.values()
        if steps and act is None:
            due.append(answers[steps[0]])
    if act is None or not due:
        final = answered(whole, "release")
        if act is None and (final.answer == "no" or whole.step("release").blocks):
            due.append(final)
            acts.append(final)
    if act is None and not due and limits_of(whole.case, whole.at) is not None:
        back = answered(whole, "return_to_service")
        if back.answer == "no":
            due.append(back)
            acts.append(back)
    first = min(due if act is None else acts, key=lambda one: _ORDER.index(one.act), default=None)
    number = whole.job.the("job.opened").number
    past = tuple(judged_done(events, from_record, heard)) if done else ()
    return May(number, at, first, said(first, at, several=len(letters) > 1), tuple(acts), past)


def _named(act: str) -> list[tuple[str, str | None, str | None]]:
    """An act that is asked for by name, though it is not the turn of it."""
    if act == "spark_on":
        return [(act, zone, None) for zone in ZONES]
    return [(act, None, point) for point in (HOLD_POINTS if act == "sign" else (None,))]


_OF_THE_PART = ("open_part", "return_to_service")
_ORDER = ("open_part", "grind", "wipe", "heat_on", "first_layer", "restart", "next_layer", "check_gauge", "measure_film",
          "sand", "sign", "spark_on", "release", "return_to_service")


def _to_come(now: Moment) -> Iterator[tuple[str, str | None, str | None]]:
    """The acts still to come on one repair, in the order of the trade: act, zone, hold point."""
    unsigned = open_points(now) if now.asked.repaired or now.case.repair is None else []
    tested = (passed(now) | untested(now)) if now.film is not None else set()
    if not now.job.of("damage.outlined", "part.opened") and service_of(now.case) in ("in_contact", "immersed", "unknown"):
        yield "open_part", None, None
    if now.asked.repaired:
        if not now.layers:
            if now.prepared is None:
                yield "grind", None, None
            yield from (("sign", None, point) for point in ("disposition", "surface") if point in unsigned)
            yield "heat_on", None, None
            yield "first_layer", None, None
        planned = now.planned_layers
        if len(now.layers) < planned if planned is not None else now.film is None:
            if now.layers and paused(now.case, now.at) is not None:
                yield "restart", None, None
            yield "next_layer", None, None
    elif "disposition" in unsigned:
        yield "sign", None, "disposition"
    if now.film is None and (now.asked.repaired or now.case.repair is None or now.step("thickness").blocks):
        yield "measure_film", None, None
    if "film" in unsigned:
        yield "sign", None, "film"
    never = set() if now.case.repair is not None and not now.asked.repaired else set(ZONES)
    read = {spot.where for spot in now.film.body.spots if spot.readings_um} if now.film is not None else never
    yield from (("spark_on", zone, None) for zone in ZONES if zone in read and zone not in tested)
    if "holiday" in unsigned:
        yield "sign", None, "holiday"


def judged_done(events: Sequence[Event], from_record: bool = False,
                heard: dict[tuple[int, str], Any] | None = None) -> Iterator[Act]:
    """Each recorded act with the answer it would have had at its own time, its own entry left out."""
    first: set[str | None] = set()
    for event in events:
        act = KINDS[event.kind].act
        if not act:
            continue
        letter = getattr(event.body, "repair", None)
        if act == "layer":
            act = "next_layer" if letter in first else "first_layer"
            first.add(letter)
        given = event.body.model_dump(exclude_none=True)
        now = moment(events, event.at, repair=letter, given=given, by=event.by, before=event.id, from_record=from_record,
                     answers=heard)
        point = getattr(event.body, "hold_point", None)
        for zone in (event.body.zones or ["repair"]) if act == "spark_on" else [None]:
            yield answered(now, act, zone, point, entry=event.id)


def said(act: Act | None, at: datetime, *, several: bool = False) -> Sentence:
    """The one sentence of an act at a moment: what is open and the one move, or that it may be done and until when."""
    if act is None:
        return say("acts.next_nothing")
    if act.repair and several:
        return say("acts.of_repair", repair=act.repair, said=said(act, at))
    called = label(act)
    first = act.first
    if act.answer == "no" and first is not None:
        if first.verb in _LEAD:
            return say("acts.next_stop", lead=_LEAD[first.verb], because=_shortly(first.because), what=first.what)
        return say("acts.next_no", act=called, because=_shortly(first.because), what=first.what)
    if first is not None:
        return say("acts.next_warned", act=called, because=_shortly(first.because), what=first.what)
    if act.until is not None:
        return say("acts.next_until", act=called, until=clock_time(act.until.at, at), because=act.until.because)
    return say("acts.next_go", act=called)


def _shortly(because: str) -> str:
    """A reason without its statistics: those stand in the list of points, for whoever reads on."""
    if isinstance(because, Sentence):
        return because
    for tail in (" With standard uncertainty ", " Probability of conforming: "):
        because = because.partition(tail)[0]
    return because


def label(act: Act) -> str:
    """What an act is called in English: *switch the heat on*, *sign the film*."""
    return CALLED[act.hold_point or act.zone or act.act]
