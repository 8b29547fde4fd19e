"""Disposition: may this be spot-repaired, as found and again as prepared, and who decided otherwise?"""

from __future__ import annotations

from typing import Any

from ...basis.sentences import say
from ...disposition.ask import FORMS
from ..case import Case, clock
from ..rules.service import product_open, service_open
from ..step import BlockKind, Step

REPAIR = ("repair_by_procedure",)


def disposition(case: Case) -> Step:
    """The room's verdict on all damage; an engineer's later answer lifts an engineering review."""
    step = Step("disposition")
    _covered(case, step)
    _service(case, step)
    if not case.job.of("damage.outlined"):
        step.because = "There is no outline to decide on."
        return step
    request = question(case)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.verdict = plain["verdict"]
    step.findings = list(found.findings)
    against = [finding for finding in found.findings if finding.verdict != "conforms"]
    step.because = plain.get("because") or (against[0].because if against else "Every limit of the procedure is met.")
    _hold(case, step, against)
    return step


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
            step.hold("product_at_heat", say("acts.product_at_heat", at=f"{event.at:%Y-%m-%d %H:%M}", because=bad[0].because),
                      say("acts.product_at_heat_ask"), bad[0].source, "engineering_review")
            return


def question(case: Case) -> dict[str, Any]:
    """The request to the disposition room."""
    job = case.job
    part = job.the("part.identified")
    defects = []
    for event in job.of("damage.outlined"):
        body = event.body
        shape = {
            name: getattr(body, name).model_dump() if name != "outline_mm" else [list(p) for p in body.outline_mm]
            for name in ("outline_mm", "circle_mm", "ellipse_mm")
            if getattr(body, name) is not None
        }
        defects.append(
            {"id": body.id, "stage": body.stage, "kind": body.kind, "through": body.through,
             "pit_depth_mm": body.pit_depth_mm, "u_area_mm2": body.u_area_mm2, **shape}
        )
    return {
        "procedure": case.asked_procedure,
        "part": {
            "lined_area_mm2": part.lined_area_mm2,
            "plate_mm": part.plate_mm,
            "keep_out": [k.model_dump(mode="json", exclude_defaults=True) for k in part.keep_out],
        },
        "defects": defects,
        "history": [event.body.model_dump() for event in job.of("repair.recalled")],
    }


def _hold(case: Case, step: Step, against: list[Any]) -> None:
    decided = case.job.last("escalation.decided")
    allowed = step.verdict in (*REPAIR, "use_as_is", "dress_only")
    if allowed and (decided is None or decided.body.decision == "repair_as_instructed"):
        return
    last_outline = case.job.of("damage.outlined")[-1].at
    if decided is not None and (allowed or decided.at >= last_outline):
        person = case.job.people.get(decided.by)
        if person is None or person.role != "engineer":
            step.hold(
                "engineer_decides",
                f"{case.job.name_of(decided.by)} answered the engineering review but is no engineer.",
                "Let the lining engineer decide.", case.rule_book,
            )
        elif decided.body.decision == "repair_as_instructed":
            first = case.job.first_layer_at()
            if first is not None and first < decided.at:
                step.hold(
                    "engineer_decides_first",
                    f"{person.name} decided at {clock(decided.at)}; the first layer was fused at {clock(first)}.",
                    "Let the engineer look at what was done before the decision.", case.rule_book, "engineering_review",
                )
            step.because += f" {person.name} decided: repair as instructed. {decided.body.because}"
            return
        else:
            step.hold("engineer_decided", f"{person.name} decided: {decided.body.decision.replace('_', ' ')}. "
                      f"{decided.body.because}", "Follow the engineer's decision.", case.rule_book, "rejected")
            return
    kinds: dict[str, BlockKind] = {"strip_and_reline": "rejected", "engineering_review": "engineering_review"}
    kind = kinds.get(step.verdict, "held")
    if not against:
        step.hold("disposition", step.because, "Ask the lining engineer.", case.rule_book, kind)
    for finding in against:
        step.hold(finding.rule, finding.because, finding.next_move, finding.source, kind, value=finding.value,
                  limit=finding.limit, unit=finding.unit)
