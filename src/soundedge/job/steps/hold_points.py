"""Hold points and release: who signed what, in which order, and may this person?"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from ...basis.sentences import say
from ..case import Case, clock
from ..fold import Job
from ..kinds import KINDS, REPAIR_STEPS, Event, covers, follow
from ..rules.instruction import instructions
from ..rules.limited import limits_of
from ..rules.repairs import own_outlines
from ..rules.waived import OTHER, evidence, lacking, waived
from ..step import Step

# Of the part and its lining, what the disposition is decided on.
_DECIDES = {"part.identified": ("material", "plate_mm", "lined_area_mm2", "keep_out", "service", "last_service", "last_contact",
                                "decontamination", "bore_d_mm", "ring_inner_r_mm", "ring_outer_r_mm"),
            "lining.identified": ("polymer", "thickness_um", "melt_class", "conductive_filler", "immersed")}
# What proves → the limits it is held against; a letter that replaces one changes what was signed.
_PROVED_BY = {"film.measured": ("film_um_min", "film_um_max", "film_um_nominal", "cool_c_max", "gauge_tol_pct"),
              "holiday.tested": ("strength_fraction", "holiday_v_min", "old_film_v_max", "travel_m_s_max", "repeats_max")}
_CALLED = {"disposition": "disposition", "surface": "prepared surface", "film": "film thickness", "holiday": "holiday test"}


def hold_points(case: Case, *, repaired: bool) -> Step:
    """Every hold point of the procedure: signed by a qualified inspector, after what it covers, before what follows."""
    step = Step("hold_points")
    wanted = [p for p in case.hold_points if repaired or p in ("disposition", "film", "holiday")]
    for point in wanted:
        _one(case, step, point)
    _waivers(case, step)
    step.verdict = "not_measured" if step.missing else ("does_not_conform" if step.blocks else "conforms")
    step.because = step.blocks[0].because if step.blocks else f"{len(wanted)} hold points are signed in order."
    return step


def _waivers(case: Case, step: Step) -> None:
    """Waivers whose fact no other step asks for: those that count are printed, those that do not hold the job."""
    for event in case.job.of("fact.waived"):
        body = event.body
        if body.fact == "spark":
            continue  # the holiday test says which of its zones may go without
        why = lacking(case, event)
        if why is not None:
            step.hold("waiver", why, say("acts.waived_move"), case.rule_book)
        elif body.fact in OTHER:
            step.waive(waived(case, body.fact, zone=body.zone, repair=body.repair))


def _one(case: Case, step: Step, point: str) -> None:
    job = case.job
    stands = own_outlines(case, evidence(job, point))
    after = job.of(*follow(point))
    signed = [e for e in job.of("hold_point.signed") if e.body.hold_point == point]
    if not signed:
        step.lacks(f"hold_point_{point}", True, f"The hold point for the {_CALLED[point]} is not signed.",
                   "Let a qualified inspector look and sign.", case.rule_book)
        return
    last = signed[-1]
    changed = max(_touched(case, covers(point), stands), default=None)
    if not stands:
        step.hold(f"hold_point_{point}", f"The {_CALLED[point]} was signed, but there is nothing recorded to sign.",
                  "Record it, then sign.", case.rule_book)
    elif changed is not None and last.at < changed:
        step.hold(
            f"hold_point_{point}",
            f"The {_CALLED[point]} was signed at {clock(last.at)}, before the latest entry or correction it covers at "
            f"{clock(changed)}.", "Look at what has changed and sign again.", case.rule_book,
        )
    if after and not any(e.at <= after[0].at for e in signed):
        step.hold(
            f"hold_point_{point}",
            f"Work went past the hold point for the {_CALLED[point]}: {KINDS[after[0].kind].label.lower()} at "
            f"{clock(after[0].at)}, the signature at {clock(signed[0].at)}.",
            "Let the lining engineer decide what must be done again.", case.rule_book,
        )
    _may(case, step, last, point)


def _repair_work(case: Case, person: str) -> list[Any]:
    """The repair steps a person entered as their own; voiding an entry does not change whose work it was."""
    job = case.part_job
    return [e for e in (*job.of(*REPAIR_STEPS), *job.voided) if e.kind in REPAIR_STEPS and e.by == person]


def _touched(case: Case, kinds: tuple[str, ...], stands: list[Any]) -> list[datetime]:
    """The moments at which the evidence of a hold point was entered, corrected or voided; that of the disposition is the part
    and its lining as well."""
    job = case.job
    on_part = [change.at for change in case.part_job.corrections
               if "damage.outlined" in kinds and _decides(case.part_job, change)]
    gone = {event.id for event in own_outlines(case, job.voided) if event.kind in kinds}
    keys = next((_PROVED_BY[kind] for kind in kinds if kind in _PROVED_BY), ())
    letters = [event.at for event in instructions(case.part_job) if set(event.body.limits or {}) & set(keys)]
    return [*on_part, *letters, *(job.changed_at(event) for event in stands),
            *(void.at for void in job.voids if void.body.entry in gone)]


def _decides(job: Job, change: Event) -> bool:
    """Whether a correction changes what the disposition was decided on."""
    fields = next((_DECIDES[event.kind] for event in job.events
                   if event.id == change.body.entry and event.kind in _DECIDES), ())
    return change.body.field.split(".")[0] in fields and change.body.old != change.body.new


def _may(case: Case, step: Step, event: Any, point: str) -> None:
    job = case.job
    person = job.people.get(event.by)
    polymer = job.the("lining.identified").polymer
    if person is None or person.role != "inspector":
        role = person.role if person else "nobody on the sheet"
        step.hold(f"hold_point_{point}", f"{job.name_of(event.by)} signed the {_CALLED[point]} as {role}.",
                  "Let an inspector sign.", case.rule_book)
        return
    if person.qualified_until is None or person.qualified_until < event.at or polymer not in person.qualified_for:
        step.hold(f"hold_point_{point}", f"{person.name} is not qualified for {polymer} on {event.at:%d %B %Y}.",
                  "Let a qualified inspector sign.", case.rule_book)
    done = _repair_work(case, event.by)
    if done:
        step.hold(f"hold_point_{point}", f"{person.name} signed the {_CALLED[point]} of their own work ({done[0].id}).",
                  "Let another inspector look and sign.", "common practice, no source")


def release(case: Case) -> Step:
    """Who asks for release: an inspector (or manager) who did no repair step and decided no escalation."""
    step = Step("release")
    job = case.job
    asked = job.last("release.signed")
    if asked is None:
        step.because = "Nobody has signed the release."
        step.lacks("release_signed", True, step.because,
                   "When nothing else holds the job, let an inspector release it.", case.rule_book)
        return step
    person = job.people.get(asked.by)
    name = job.name_of(asked.by)
    step.verdict = "conforms"
    step.because = f"{name} signed the release at {clock(asked.at)}."
    if person is None or person.role not in ("inspector", "manager"):
        step.hold("release_by_inspector", f"{name} signed the release as {person.role if person else 'nobody'}.",
                  "Let an inspector release.", case.rule_book)
    done = _repair_work(case, asked.by)
    if done:
        step.hold(
            "nobody_releases_his_own_work",
            f"{name} did repair work on this job ({', '.join(e.id for e in done[:4])}) and signed its release.",
            "Let an inspector who did no repair step look and release.", "common practice, no source",
        )
    own_voids = {void.body.entry for void in job.voids if void.by == asked.by}  # voiding your own decision does not undo it
    decided = [e for e in (*job.of("escalation.decided"), *job.voided)
               if e.kind == "escalation.decided" and e.by == asked.by and (e not in job.voided or e.id in own_voids)]
    if decided:
        step.hold("nobody_releases_his_own_decision", f"{name} answered the engineering review and signed the release.",
                  "Let another person release.", "common practice, no source")
    if any(e.by == asked.by for e in (*job.of("fact.waived"), *job.voided) if e.kind == "fact.waived"):
        step.hold("nobody_releases_what_he_waived", f"{name} accepted that something was not measured and signed the release.",
                  "Let another person release.", "common practice, no source")
    if person is not None and person.role == "inspector":
        polymer = job.the("lining.identified").polymer
        if person.qualified_until is None or person.qualified_until < asked.at or polymer not in person.qualified_for:
            step.hold(
                "release_by_qualified",
                f"{name} is not qualified for {polymer} on {asked.at:%d %B %Y}.",
                "Let a qualified inspector release.", case.rule_book,
            )
    written = (*job.events, *job.corrections, *job.voids)
    late = [e for e in written if e.at > asked.at and e.kind != "release.signed" and not KINDS[e.kind].after_release]
    watched = [e for e in job.of("hot_work.ended") if e.body.fire_watch_until > asked.at]
    if watched:
        step.hold("release_after_fire_watch", f"The release was signed at {clock(asked.at)}; the fire watch ran until "
                  f"{clock(watched[-1].body.fire_watch_until)}.", "Wait for its end and sign the release again.",
                  case.rule_book)
    if late:
        late.sort(key=lambda event: event.at)
        step.hold("release_comes_last", f"{late[0].id} at {clock(late[0].at)} came after the release was signed.",
                  "Review it and sign the release again.", case.rule_book)
    _limited(case, step, asked.at)
    if step.blocks:
        step.verdict = "does_not_conform"
    return step


def _limited(case: Case, step: Step, at: datetime) -> None:
    """A temporary repair lasts as long as the procedure allows; only the engineer sets its end."""
    for event in case.job.of("service.limited"):
        person = case.job.people.get(event.by)
        if event.at <= at and (person is None or person.role != "engineer"):
            step.hold("limits_by_engineer", f"{case.job.name_of(event.by)} set the limits of its service but is no engineer.",
                      "Let the lining engineer set them.", case.rule_book)
    limits = limits_of(case)
    if limits is None or limits.body.expires is None:
        return
    most = case.procedure.value("temporary_days_max")
    days = (limits.body.expires - at).total_seconds() / 86400
    if days <= 0:
        step.hold("expired_at_release", f"Its service ends on {clock(limits.body.expires)}, before the release.",
                  "Let the engineer set another end, or reline.", case.rule_book)
    elif most is not None and limits.body.service_class == "temporary" and days > most:
        step.hold("temporary_too_long", f"The repair is temporary for {days:.0f} d; the procedure allows {most:g} d.",
                  "Let the engineer set an earlier end.", case.procedure.cite("temporary_days_max"), value=round(days, 1),
                  limit=most, unit="d")
