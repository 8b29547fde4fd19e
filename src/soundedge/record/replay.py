"""Were the rules kept? Checked again from the record alone, by somebody who was not there.

The bench holds people to these rules while they work. Here they are replayed from the verified entries,
without the trade rooms and without the program that let the work go on:

    R1  what is judged released was released by somebody, who did no repair step and answered no engineering review; steps they
        voided count too
    R2  every hold point of the procedure is signed, after what it covers and before what follows, by an
        inspector qualified that day, and never for their own work; what it says it covers is what stood there
    R3  every instrument used was in calibration when it was used
    R4  no engineering review is open, none says scrap or strip
    R5  every hole found by the high-voltage test was followed by repair and a test that found none
    R6  where events are signed with a key, each signature was checked (in ``verify``)
    R7  no correction or void without a reason, none of an entry that does not exist; nothing that affects the
        release was written after it
    R8  every file that is named was there and had its digest (only when files are given)

With several repairs R2 and R5 are asked of each, from the entries that name it and those that name none.
Whether a film is thick enough is not asked here: that needs the rooms, and the judgement in the record
(``job.judged``) states it. A rule that cannot be checked says so; it is never assumed kept.

Kinds of events: as in the job room. Besides those, ``certificate.issued`` {certificate, pdf_sha256,
record_sha256}, ``escalation.raised`` {because}, and the key events of rotation.py are known here.
"""

from __future__ import annotations

import copy
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from ..basis.errors import RecordBroken
from ..basis.sentences import say
from .covered import COVERS, covered, fingerprint
from .entry import HEX64, Entry
from .verify import Verified

REPAIR_STEPS = ("surface.prepared", "layer.fused", "heat.logged", "hot_work.ended")
HOLD_POINTS = ("disposition", "surface", "film", "holiday")
_AFTER_RELEASE = ("release.signed", "job.judged", "certificate.issued", "picture.taken", "entry.corrected", "entry.voided",
                  "visual.looked", "service.returned", "breach.closed", "service.limited")
LATE_AFTER = timedelta(minutes=15)
KEPT, BROKEN, NOT_ASKED = "kept", "broken", "not asked"


@dataclass(frozen=True)
class Rule:
    """One rule: ``answer`` is "kept", "broken" or "not asked"; ``entry`` the event that breaks it."""

    name: str
    answer: str
    because: str
    entry: str = ""


@dataclass(frozen=True)
class Replay:
    """All rules. ``released`` says whether the record claims a release at all."""

    released: bool
    rules: tuple[Rule, ...]
    corrections: int
    late_entries: tuple[str, ...]

    @property
    def broken(self) -> list[Rule]:
        """The rules that were not kept."""
        return [rule for rule in self.rules if rule.answer == BROKEN]

    @property
    def sentence(self) -> str:
        """One plain sentence."""
        if not self.released:
            return "The record claims no release; the rules of a release were not asked."
        asked = [rule.name for rule in self.rules if rule.answer == KEPT]
        if self.broken:
            return f"Rule {self.broken[0].name} was not kept: {self.broken[0].because}"
        skipped = [rule.name for rule in self.rules if rule.answer == NOT_ASKED]
        return (f"Rules {', '.join(asked)} were kept" + (f"; not asked: {', '.join(skipped)}" if skipped else "")
                + f". {self.corrections} corrections, {len(self.late_entries)} entries written down late.")


def replay(held: Verified, *, files: Collection[str] | None = None) -> Replay:
    """Replay the rules over a verified record.

    Parameters
    ----------
    held : Verified
        What ``verify`` gave.
    files : collection of str, optional
        Digests of the files that are there and were checked.

    Returns
    -------
    Replay

    Raises
    ------
    RecordBroken
        A body is not what its kind must hold, so that the rules cannot be asked.
    """
    entries = list(held.entries())
    try:
        standing, voided, faults, corrections = _fold(entries)
        job = _Job(standing, voided)
        judged = [entry for entry in entries if entry.kind == "job.judged"]
        released = bool(judged) and judged[-1].body.get("verdict") == "released"
        rules = (
            _r1(job, released), _r2(job, entries), _r3(job), _r4(job), _r5(job), _r6(held), _r7(entries, job, faults),
            _r8(standing, files),
        )
        late = tuple(_late(entries))
    except (TypeError, ValueError, AttributeError, KeyError, OverflowError) as fault:
        raise RecordBroken("rules", say("record.rules_not_asked", job=held.job[:60], why=str(fault)[:80])) from None
    return Replay(released, rules, corrections, late)


def insist(held: Verified, *, files: Collection[str] | None = None) -> Replay:
    """As ``replay``; a release under which a rule was broken does not hold.

    Raises
    ------
    RecordBroken
        Names the rule and the event.
    """
    found = replay(held, files=files)
    if found.released and found.broken:
        rule = found.broken[0]
        raise RecordBroken(rule.entry or "release", say("record.release_broken", why=found.sentence))
    return found


def rules_edition(entries: Iterable[Entry]) -> int:
    """The edition of the rules by which the record was last judged; 1 where none is named.

    Raises
    ------
    RecordBroken
        An unknown edition, or a judgement by an earlier edition than the one before it.
    """
    so_far = 1
    for entry in entries:
        if entry.kind in ("job.opened", "job.judged"):
            named = entry.body.get("rules", 1)
            if type(named) is not int or named < so_far:
                raise RecordBroken(f"event {entry.no}", say("record.edition_falls", no=entry.no, named=str(named)[:20],
                                                            so_far=so_far))
            so_far = named
    return so_far


@dataclass(frozen=True)
class _Event:
    no: int
    id: str
    kind: str
    by: str
    at: datetime
    body: dict[str, Any]

    @property
    def name(self) -> str:
        return f"event {self.no}"


def _names(event: _Event) -> set[Any]:
    """The letters of the repairs an entry is of; None where it names none."""
    body = event.body
    if event.kind == "damage.outlined":
        return {body.get("id")}
    if event.kind == "film.measured":
        return {spot.get("repair") or body.get("repair") for spot in body.get("spots") or []}
    return {body.get("repair")}


class _Job:
    """The counting events in order of time, with people and instruments by id; and what was voided, by whom."""

    def __init__(self, events: list[_Event], voided: list[tuple[_Event, str]]) -> None:
        self.events = sorted(events, key=lambda event: (event.at, event.no))
        self.voided = voided
        self.people = {e.body.get("id"): e.body for e in self.of("person.named")}
        self.instruments = {e.body.get("id"): e.body for e in self.of("instrument.listed")}

    def of(self, *kinds: str) -> list[_Event]:
        return [event for event in self.events if event.kind in kinds]

    def repairs(self) -> list[str | None]:
        """The letters that layers name; no letter where they name fewer than two."""
        named = sorted({str(event.body["repair"]) for event in self.of("layer.fused") if event.body.get("repair")})
        return [*named] if len(named) > 1 else [None]

    def own(self, letter: str | None, *kinds: str) -> list[_Event]:
        """What speaks for one repair."""
        return [event for event in self.of(*kinds) if letter is None or not _names(event).isdisjoint({letter, None})]

    def last(self, kind: str) -> _Event | None:
        return next(iter(self.of(kind)[::-1]), None)

    def name(self, person: str) -> str:
        return str(self.people.get(person, {}).get("name", person))

    def qualified(self, person: str, at: datetime) -> bool:
        held = self.people.get(person, {})
        lining = self.last("lining.identified")
        polymer = lining.body.get("polymer") if lining else None
        until = held.get("qualified_until")
        return until is not None and _time(until) >= at and polymer in held.get("qualified_for", [])


def _fold(entries: Iterable[Entry]) -> tuple[list[_Event], list[tuple[_Event, str]], list[Rule], int]:
    """Corrections and voids applied; what was voided and by whom; what was wrong with them."""
    standing: dict[str, _Event] = {}
    voided: list[tuple[_Event, str]] = []
    faults: list[Rule] = []
    corrections = 0
    for entry in entries:
        event = _Event(entry.no, entry.id, entry.kind, entry.by, _time(entry.at), copy.deepcopy(entry.body))
        if entry.kind not in ("entry.corrected", "entry.voided"):
            standing[entry.id] = event
            continue
        corrections += 1
        target = standing.get(str(entry.body.get("entry")))
        if not str(entry.body.get("because", "")).strip():
            faults.append(Rule("R7", BROKEN, f"{entry.kind} in entry {entry.no} gives no reason.", f"event {entry.no}"))
        if target is None:
            faults.append(Rule("R7", BROKEN, f"Entry {entry.no} ({entry.kind}) speaks of '{entry.body.get('entry')}', which is "
                                             "not there before it.", f"event {entry.no}"))
        elif entry.kind == "entry.voided":
            del standing[target.id]
            voided.append((target, entry.by))
        elif not _put(target.body, str(entry.body.get("field")), entry.body.get("old"), entry.body.get("new")):
            faults.append(Rule("R7", BROKEN, f"Entry {entry.no} corrects {target.id}, but its old value is not what stood "
                                             "there.", f"event {entry.no}"))
    return list(standing.values()), voided, faults, corrections


def _put(body: Any, field: str, old: Any, new: Any) -> bool:
    *path, last = field.split(".")
    try:
        spot = body
        for step in path:
            spot = spot[int(step)] if isinstance(spot, list) else spot[step]
        key: Any = int(last) if isinstance(spot, list) else last
        if _number(spot.get(key) if spot is body else spot[key]) != _number(old):  # what was not said had no value
            return False
        spot[key] = new
    except (KeyError, IndexError, ValueError, TypeError):
        return False
    return True


def _number(value: Any) -> Any:
    try:
        return value if isinstance(value, bool) else float(value)
    except (TypeError, ValueError):
        return value


def _time(text: Any) -> datetime:
    return datetime.fromisoformat(str(text).replace("Z", "+00:00"))


def _late(entries: list[Entry]) -> Iterable[str]:
    for entry in entries:
        if _time(entry.recorded_at) - _time(entry.at) > LATE_AFTER:
            yield entry.id


def _broken(rule: str, event: _Event | None, because: str) -> Rule:
    return Rule(rule, BROKEN, because, event.name if event else "")


def _r1(job: _Job, released: bool) -> Rule:
    release = job.last("release.signed")
    if release is None and released:
        return _broken("R1", None, say("record.release_not_signed"))
    if release is None:
        return Rule("R1", NOT_ASKED, "Nobody has signed a release.")
    who = job.name(release.by)
    for done in job.of(*REPAIR_STEPS):
        if done.by == release.by:
            return _broken("R1", release, say("record.release_by_repairer", who=who, entry=done.id))
    for done, voider in job.voided:
        if done.kind in (*REPAIR_STEPS, "escalation.decided") and done.by == release.by == voider:
            return _broken("R1", release, say("record.release_by_voider", who=who, entry=done.id, kind=done.kind))
    for decided in job.of("escalation.decided"):
        if decided.by == release.by:
            return _broken("R1", release, say("record.release_by_reviewer", who=who, entry=decided.id))
    return Rule("R1", KEPT, f"{who} released and did no repair step.")


def _r2(job: _Job, entries: list[Entry]) -> Rule:
    opened = job.last("job.opened")
    if opened is None:
        return Rule("R2", NOT_ASKED, "The record holds no procedure.")
    procedure = opened.body.get("procedure") or {}
    wanted = [point for point in HOLD_POINTS if point in procedure.get("hold_points", HOLD_POINTS)]
    if not job.of("layer.fused"):
        wanted = [point for point in wanted if point != "surface"]
    for point in wanted:
        for letter in job.repairs():
            if (wrong := _hold_point(job, point, letter)) is not None:
                return wrong
    for event in job.of("hold_point.signed"):
        if "covers" in event.body and event.body["covers"] != _fingerprint(entries, event):
            return _broken("R2", event, say("record.hold_point_covers_other", point=str(event.body.get("hold_point"))[:40]))
    release = job.last("release.signed")
    if release is not None:
        role = job.people.get(release.by, {}).get("role")
        if role not in ("inspector", "manager") or (role == "inspector" and not job.qualified(release.by, release.at)):
            return _broken("R2", release, say("record.release_not_qualified", by=job.name(release.by)))
    return Rule("R2", KEPT, f"{len(wanted)} hold points are signed in order by qualified inspectors.")


def _fingerprint(entries: list[Entry], event: _Event) -> str:
    """What a signature covered, as its signer was shown it: of what stands before it in the record."""
    point, before = event.body.get("hold_point"), [entry for entry in entries if entry.no < event.no]
    return fingerprint(covered(before, point, event.body.get("repair"))) if point in COVERS else ""


def _hold_point(job: _Job, point: str, letter: str | None) -> Rule | None:
    """What is wrong with the signature of one hold point for one repair; None when nothing is."""
    signed = [e for e in job.own(letter, "hold_point.signed") if e.body.get("hold_point") == point]
    covers, follows = COVERS[point]
    evidence, after = job.own(letter, *covers), job.own(letter, *follows)
    if point == "holiday" and not evidence:  # film of which voltage says nothing: what stands is that it was accepted so
        evidence = [e for e in job.own(letter, "fact.waived") if e.body.get("fact") == "spark"]
    called = point if letter is None else say("record.point_of_repair", point=point, repair=letter)
    if not signed:
        return _broken("R2", None, say("record.hold_point_unsigned", point=called))
    last = signed[-1]
    if not evidence or last.at < evidence[-1].at:
        return _broken("R2", last, say("record.hold_point_signed_too_early", point=called))
    if after and not any(e.at <= after[0].at for e in signed):
        return _broken("R2", signed[0], say("record.work_past_hold_point", point=called, entry=after[0].id))
    if job.people.get(last.by, {}).get("role") != "inspector" or not job.qualified(last.by, last.at):
        return _broken("R2", last, say("record.hold_point_not_qualified", by=job.name(last.by), point=called))
    own = [e for e in job.of(*REPAIR_STEPS) if e.by == last.by]
    if own:
        return _broken("R2", last, say("record.hold_point_of_own_work", by=job.name(last.by), point=called, entry=own[0].id))
    return None


def _r3(job: _Job) -> Rule:
    used = [e for e in job.events if isinstance(e.body.get("instrument"), str)]
    for event in used:
        tool = job.instruments.get(event.body["instrument"])
        if tool is None:
            return _broken("R3", event, say("record.instrument_not_listed", entry=event.id,
                                            instrument=event.body['instrument']))
        if not _time(tool.get("calibrated_on")) <= event.at <= _time(tool.get("calibration_due")):
            return _broken("R3", event, say("record.instrument_out_of_calibration", instrument=event.body['instrument'],
                                            entry=event.id))
    return Rule("R3", KEPT if used else NOT_ASKED, f"{len(used)} entries name an instrument; each was in calibration.")


def _r4(job: _Job) -> Rule:
    release = job.last("release.signed")
    decided = job.of("escalation.decided")
    for raised in job.of("escalation.raised"):
        if not any(e.at >= raised.at for e in decided):
            return _broken("R4", raised, say("record.review_unanswered", entry=raised.id))
    if decided and decided[-1].body.get("decision") in ("scrap", "strip_and_reline", "return_to_owner") and release is not None:
        return _broken("R4", decided[-1], say("record.released_against_engineer", decision=decided[-1].body['decision']))
    for event in decided:
        if job.people.get(event.by, {}).get("role") != "engineer":
            return _broken("R4", event, say("record.review_by_no_engineer", by=job.name(event.by)))
    return Rule("R4", KEPT, "No engineering review is open.")


def _r5(job: _Job) -> Rule:
    for letter in job.repairs():
        tests = job.own(letter, "holiday.tested")
        for test in tests:
            if test.body.get("holidays") or test.body.get("coupon_hole_found") is False:
                good = [t for t in tests if t.at > test.at and not t.body.get("holidays")
                        and t.body.get("coupon_hole_found") is not False]
                if not good:
                    return _broken("R5", test, say("record.failed_test_last", entry=test.id))
                if test.body.get("holidays") and not any(test.at <= e.at <= good[0].at for e in job.own(letter, *REPAIR_STEPS)):
                    return _broken("R5", test, say("record.hole_not_repaired", entry=test.id, good=good[0].id))
    return Rule("R5", KEPT if job.of("holiday.tested") else NOT_ASKED, "Every failed high-voltage test was answered.")


def _r6(held: Verified) -> Rule:
    if not held.signed:
        return Rule("R6", NOT_ASKED, "No entry is signed with a key.")
    if held.signatures_checked < held.signed:
        return Rule("R6", NOT_ASKED, f"{held.signed - held.signatures_checked} signatures are by keys not given here.")
    return Rule("R6", KEPT, f"{held.signed} signatures stand over the state they were given for.")


def _r7(entries: list[Entry], job: _Job, faults: list[Rule]) -> Rule:
    if faults:
        return faults[0]
    release = job.last("release.signed")
    if release is not None:
        after = [e for e in job.events if e.at > release.at and e.kind not in _AFTER_RELEASE]
        if after:
            return _broken("R7", after[0], say("record.entry_after_release", entry=after[0].id))
        later = [e for e in entries if e.no > release.no and e.kind in ("entry.corrected", "entry.voided")]
        if later:
            return Rule("R7", BROKEN, f"{later[0].id} corrects the job after the release was signed; it must be signed again.",
                        f"event {later[0].no}")
    return Rule("R7", KEPT, "Numbers without a gap, times in order, corrections with their reasons.")


def _r8(events: list[_Event], files: Collection[str] | None) -> Rule:
    named = [(event, digest) for event in events for digest in file_digests(event.body)]
    if files is None:
        return Rule("R8", NOT_ASKED, f"{len(named)} files are named; none was given to be checked.")
    for event, digest in named:
        if digest not in files:
            return _broken("R8", event, say("record.attached_file_changed", digest=digest[:16], entry=event.id))
    return Rule("R8", KEPT, f"{len(named)} files are there as they were.")


def file_digests(body: Any) -> list[str]:
    """The digests of files that a body names: its keys ``sha256`` and ``…photo_sha256``."""
    found = []
    if isinstance(body, dict):
        for key, item in body.items():
            if key in ("sha256", "photo_sha256", "file_sha256") and isinstance(item, str) and HEX64.match(item):
                found.append(item)
            else:
                found += file_digests(item)
    elif isinstance(body, list):
        for item in body:
            found += file_digests(item)
    return found
