"""Disposition: may this be spot-repaired, as found and again as prepared, and who decided otherwise?"""

from __future__ import annotations

from typing import Any

from ...basis.procedure import LIMITS
from ...basis.sentences import say
from ...disposition.ask import CHORD, FORMS
from ...disposition.place import laid_of
from ..case import Case, asked, clock, digits
from ..fold import Job
from ..kinds import Event
from ..kinds.damage import DamageOutlined
from ..rules import instruction, prohibited
from ..rules.film_left import u_beside_um
from ..rules.merged import faults, grown, taken_in
from ..rules.service import product_open, service_open
from ..rules.split import split_faults
from ..step import BlockKind, Step

ALLOWED = ("repair_by_procedure", "use_as_is", "dress_only")


def disposition(case: Case) -> Step:
    """The room's verdict on all damage; the engineer's written instruction lifts what it names, a prohibition nobody."""
    step = Step("disposition")
    _as_opened(case, step)
    _covered(case, step)
    _service(case, step)
    for fault in (*faults(case), *grown(case)):
        step.hold("taken_in", fault.because, fault.what, case.rule_book, fault.kind)
    for fault in split_faults(case):
        step.hold("split", fault.because, fault.what, case.rule_book, fault.kind)
    if not case.job.of("damage.outlined"):
        _prohibited(case, step, [])
        step.because = "There is no outline to decide on."
        return step
    request = question(case)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.verdict = plain["verdict"]
    step.cautions = [caution for caution in plain["cautions"] if caution.startswith(CHORD)]
    step.findings = list(found.findings)
    against = [finding for finding in found.findings if finding.verdict != "conforms"]
    step.because = plain.get("because") or (against[0].because if against else "Every limit of the procedure is met.")
    _prohibited(case, step, plain["repairs"])
    _hold(case, step, against)
    return step


def _as_opened(case: Case, step: Step) -> None:
    """The procedure stays the one that the job was opened under; only a written instruction replaces a limit of it, and nobody
    here replaces one of fire and gas."""
    changed: dict[str, tuple[str, Any, Any]] = {}
    for event in case.part_job.corrections:
        body = event.body
        if body.entry == case.part_job.of("job.opened")[0].id and body.field.split(".")[0] == "procedure":
            changed[body.field] = (event.id, changed.get(body.field, ("", body.old, None))[1], body.new)
    for field, (name, old, new) in changed.items():
        if old != new:
            step.hold("procedure_as_opened", say("acts.procedure_corrected", entry=name, field=field, old=old, new=new),
                      say("acts.procedure_corrected_back"), case.rule_book)
    for event, key, value in instruction.beyond(case.printed, case.part_job):
        step.hold("limit_of_site_safety", say("acts.limit_of_site", number=event.body.number, limit=LIMITS[key].name, key=key,
                                              value=value),
                  say("acts.limit_of_site_move"), instruction.cited(case.part_job, event))


def _covered(case: Case, step: Step) -> None:
    """The procedure names its polymers; it does not cover any other."""
    polymers = case.procedure.choices.get("polymers")
    lining = case.job.the("lining.identified").polymer
    if polymers and lining not in polymers:
        step.hold("procedure_covers_polymer", f"Procedure {case.procedure.id} is for {', '.join(polymers)}; the lining is "
                  f"{lining}.", "Work under a procedure for this polymer, or ask the lining engineer.", case.rule_book,
                  "engineering_review")


def _service(case: Case, step: Step) -> None:
    """What was in the part, and whether it is clean of it; and whether it was when it was heated."""
    found = service_open(case)
    for one in found:
        if not one.holds:
            step.missing.append(one.fact)
        elif one.state == "missing":
            step.lacks(one.fact, True, one.because, one.what, one.source)
        else:
            kind: BlockKind = "engineering_review" if one.verb == "ask_engineer" else "held"
            step.hold(one.fact, one.because, one.what, one.source, kind, value=one.value, limit=one.limit)
    for event in case.job.of("heat.started", "layer.fused"):
        bad = [one for one in product_open(case, event.at) if one.state == "failing"]
        if bad and not any(one.fact == bad[0].fact for one in found):
            step.hold("product_at_heat", say("acts.product_at_heat", at=digits(event.at), because=bad[0].because),
                      say("acts.product_at_heat_ask"), bad[0].source, "engineering_review")
            return


def question(case: Case) -> dict[str, Any]:
    """The request to the disposition room."""
    job = case.job
    part = job.the("part.identified")
    defects = []
    latest = {(event.body.id, event.body.stage): event.body for event in job.of("damage.outlined")}  # it may grow
    for body in latest.values():
        shape = {
            name: getattr(body, name).model_dump() if name != "outline_mm" else [list(p) for p in body.outline_mm]
            for name in ("outline_mm", "circle_mm", "ellipse_mm")
            if getattr(body, name) is not None
        }
        defects.append(
            {"id": body.id, "stage": body.stage, "kind": body.kind, "through": body.through,
             "pit_depth_mm": body.pit_depth_mm, "u_area_mm2": body.u_area_mm2, **shape, **_left(job, body)}
             | ({} if body.place is None else {"place": body.place.model_dump(exclude_none=True)})
        )
    return {
        "procedure": case.asked_procedure,
        "part": {
            "lined_area_mm2": part.lined_area_mm2,
            "plate_mm": part.plate_mm,
            "keep_out": [k.model_dump(mode="json", exclude_defaults=True) for k in part.keep_out],
        } | {name: value for name, value in laid_of(part)._asdict().items() if value is not None},
        "defects": defects,
        "history": [event.body.model_dump() for event in job.of("repair.recalled")],
    } | ({"taken_in": [{"into": into, "took": [took]} for into, took in merged]} if (merged := taken_in(job)) else {})


def _left(job: Job, body: DamageOutlined) -> dict[str, Any]:
    """What was read of the film left there, and whether it is smooth."""
    said = {key: getattr(body, key) for key in ("film_left_um", "u_film_um", "beside_um", "depth_mm", "u_depth_mm", "smooth")}
    if body.beside_um and body.u_film_um is None:
        said["u_film_um"] = u_beside_um(job, body.beside_um)
    return {key: value for key, value in said.items() if value not in (None, [])}


def _prohibited(case: Case, step: Step, repairs: list[dict[str, Any]]) -> None:
    """What the procedure forbids: for good, or until the engineer, or engineer and owner, say otherwise in writing."""
    written = instruction.instructions(case.job)
    for clause in prohibited.forbidden(case.job, case.procedure, repairs):
        lifted = bool(written) and (clause.override == "engineer" or (
            clause.override == "engineer_and_owner" and any(event.body.accepted_by for event in written)))
        if lifted:
            continue
        said = f"The procedure forbids it: {clause.what.rstrip('.')}."
        if not clause.sure:
            step.hold("prohibited_service", f"{said[:-1]}, in a service that this part may have been in: nobody stated what it "
                      "was in.", "Ask the owner what the part was in, and write it down.", clause.source, absent=True)
        elif clause.override == "none":
            step.hold("prohibited", f"{said} Nobody may lift that here.",
                      "Stop. The engineer decides: strip and reline, scrap, or back to the owner.", clause.source, "rejected")
        else:
            who = "the engineer" if clause.override == "engineer" else "the engineer and the owner"
            step.hold("prohibited", f"{said} Only {who} may allow it, in writing.",
                      instruction.ASK + (" With the owner's letter." if clause.override == "engineer_and_owner" else ""),
                      clause.source, "engineering_review")


def _hold(case: Case, step: Step, against: list[Any]) -> None:
    allowed, decided = step.verdict in ALLOWED, case.job.last("escalation.decided")
    if decided is not None and _answered(case, step, against, decided, allowed):
        return
    if allowed:
        return
    kinds: dict[str, BlockKind] = {"strip_and_reline": "rejected", "engineering_review": "engineering_review"}
    kind = kinds.get(step.verdict, "held")
    if not against:
        step.hold("disposition", step.because, "Ask the lining engineer.", case.rule_book, kind)
    for finding in against:
        step.hold(finding.rule, finding.because, finding.next_move, finding.source, kind, value=finding.value,
                  limit=finding.limit, unit=finding.unit)


def _answered(case: Case, step: Step, against: list[Any], decided: Event, allowed: bool) -> bool:
    """Whether the engineer's answer takes the place of the procedure's: all of it, or what an instruction leaves open."""
    job, repair = case.job, decided.body.decision == instruction.REPAIR
    last_outline = job.of("damage.outlined")[-1].at
    if allowed and repair:
        _in_order(case, step)
        return True
    name = job.name_of(decided.by)
    if not instruction.by_engineer(job, decided):
        if allowed or decided.at >= last_outline:
            step.hold("engineer_decides", f"{name} answered the engineering review but is no engineer.",
                      "Let the lining engineer decide.", case.rule_book)
        return False
    if not repair:
        if not allowed and decided.at < last_outline:
            return False
        step.hold("engineer_decided", f"{name} decided: {decided.body.decision.replace('_', ' ')}. {decided.body.because}",
                  "Follow the engineer's decision.", case.rule_book, "rejected")
        return True
    written = instruction.instructions(job)
    if instruction.unwritten(job) is not None:
        step.hold("engineer_instructs", f"{name} said that it may be repaired; a written instruction with number and step is "
                  "missing.", instruction.ASK, case.rule_book, "engineering_review")
    over = [f for f in against if f.verdict == "does_not_conform" and f.rule in instruction.LIMIT_OF]
    if not written or step.verdict not in ("engineering_review", "strip_and_reline"):
        return False
    if over:
        left = instruction.not_replaced((instruction.LIMIT_OF[f.rule] for f in over), written)
        number = written[-1].body.number
        step.hold("engineer_instructs", f"Instruction {number} does not replace {' and '.join(left)}. {over[0].because}" if left
                  else f"It is beyond what instruction {number} allows. {over[0].because}",
                  "Ask the engineer for a written instruction that sets this limit, or decide otherwise.", over[0].source,
                  "engineering_review", value=over[0].value, limit=over[0].limit, unit=over[0].unit)
        return False
    if written[-1].at < last_outline:
        return False
    _in_order(case, step)
    for finding in against:
        step.hold(finding.rule, finding.because, finding.next_move, finding.source, value=finding.value, limit=finding.limit,
                  unit=finding.unit)
    return True


def _in_order(case: Case, step: Step) -> None:
    """An instruction that was needed came before the first layer, and had not ended when the work was done."""
    keys, job = needed(case), case.job
    given = None if keys is None else instruction.since(job, keys)
    if keys is None or given is None:
        return
    written = instruction.instructions(job)[-1]
    name, first = job.name_of(written.by), job.first_layer_at()
    if first is not None and first < given:
        step.hold("engineer_decides_first", f"{name} decided at {clock(given)}; the first layer was fused at {clock(first)}.",
                  "Let the engineer look at what was done before the decision.", case.rule_book, "engineering_review")
    ended = instruction.expired(job, keys)
    if ended is not None:
        step.hold("instruction_expired", f"Instruction {ended.body.number} ended at {clock(ended.body.expires)}.",
                  "Ask the engineer for a new one before anything more is done.", case.rule_book, "engineering_review")
    step.because += f" {name} decided: repair as instructed, {written.body.number}. {written.body.because}"


def needed(case: Case) -> list[str] | None:
    """The limits of the procedure as printed that this repair does not keep; None where it needs no instruction."""
    if not instruction.instructions(case.job) or not case.job.of("damage.outlined"):
        return None
    printed = case.ask(FORMS, question(case) | {"procedure": asked(case.printed)})
    if printed.verdict in ALLOWED:
        return None
    return [instruction.LIMIT_OF[f.rule] for f in printed.findings
            if f.verdict != "conforms" and f.rule in instruction.LIMIT_OF]
