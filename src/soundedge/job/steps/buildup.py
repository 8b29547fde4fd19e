"""Build-up: how many layers and how much powder, from the right lot, and were they laid?"""

from __future__ import annotations

from typing import Any

from ...basis.sentences import say
from ...buildup.ask import FORMS
from ..case import Case, clock
from ..rules.dwell import overlapping
from ..rules.repairs import asked_about
from ..step import Step

LOST_MOST = 0.5  # own judgement: more than half of the powder does not fall beside the spot unseen


def buildup(case: Case, disposition: Step) -> Step:
    """Plan of the layers for every repair of the disposition, and the layers as recorded."""
    step = Step("buildup")
    job = case.job
    repairs = asked_about(case, disposition)
    layers = job.of("layer.fused")
    if not repairs:
        step.because = "There is no repair to build."
        if layers:
            step.hold("repair_known", "Layers were fused, but no damage is outlined.", "Outline the damage.", case.rule_book)
        return step
    lacking = [key for key in ("layer_um_max", "feather_mm") if key not in case.procedure.limits]
    if lacking:
        step.because = f"Procedure {case.procedure.id} sets no {' and no '.join(lacking)}; the build cannot be planned."
        step.hold("procedure_complete", step.because, "Add it to the procedure, with its source.", case.rule_book)
        return step
    for repair in repairs:
        request = question(case, repair["outline_mm"])
        step.asked.append(request)
        step.answers.append(case.ask(FORMS, request).model_dump(mode="json"))
    planned = max(a["layers"] for a in step.answers)
    if not layers:
        step.lacks("layers", True, f"No layer is recorded; the plan needs {planned}.",
                   "Fuse the layers and record each.", case.rule_book)
        return step
    step.verdict = "conforms"
    step.because = f"{len(layers)} {'layer' if len(layers) == 1 else 'layers'} fused; the plan needs {planned}."
    if len(layers) < planned:
        step.verdict = "does_not_conform"
        step.hold("layers", step.because, "Build and record the missing layers.", case.rule_book,
                  value=len(layers), limit=planned)
    numbers = [event.body.number for event in layers]
    if numbers != list(range(1, len(numbers) + 1)):
        step.hold("layer_order", f"The layers are numbered {numbers}; they must run 1, 2, 3 in the order of time.",
                  "Correct the numbers, with the reason.", case.rule_book)
    _too_much_powder(case, step, layers)
    lots(case, step, layers)
    fuser(case, step, layers)
    if step.blocks:
        step.verdict = "does_not_conform"
    return step


def _too_much_powder(case: Case, step: Step, layers: list[Any]) -> None:
    """A layer thicker than the procedure allows, by its weighed powder: it holds where even with half of it lost it is so."""
    limit = case.procedure.value("layer_um_max")
    if limit is None or len(step.answers) != 1:
        return
    for layer in layers:
        if layer.body.powder_g is None:
            continue
        least, likely = layer_um(step.answers[0], layer.body.powder_g, case)
        if least > limit:
            step.hold("layer_thickness", say("acts.layer_powder", number=layer.body.number, powder=layer.body.powder_g,
                                             likely=likely, least=least, limit=limit), say("acts.layer_powder_then"),
                      case.procedure.cite("layer_um_max"), value=round(least), limit=limit, unit="um")
        elif likely > limit:
            step.cautions.append(say("acts.layer_powder", number=layer.body.number, powder=layer.body.powder_g, likely=likely,
                                     least=least, limit=limit))


def layer_um(plan: dict[str, Any], powder_g: float, case: Case) -> tuple[float, float]:
    """How thick a layer of this plan becomes by its powder: if half of it is lost, and as planned. [um]"""
    planned = sum(one["powder_g"] for one in plan["layer_plan"]) / len(plan["layer_plan"])
    likely = plan["layer_um"] * powder_g / planned
    lost = case.procedure.choices.get("powder", {}).get("loss_fraction")
    kept = 1.0 if lost is None else 1.0 - float(lost)
    return likely * min(1.0, (1.0 - LOST_MOST) / kept), likely


def one_at_a_time(case: Case, step: Step) -> None:
    """Hold two layers that were fused at once by one pair of hands, or on one repair."""
    found = overlapping(case.job.of("layer.fused"))
    if found is not None:
        earlier, later = found
        step.hold("layers_apart", f"{later.id} was begun at {clock(later.body.started_at)}, before {earlier.id} had fused at "
                  f"{clock(earlier.at)}.", "Correct the times, with the reason; ask the engineer about layers fused at once.",
                  case.rule_book)


def question(case: Case, outline: list[Any]) -> dict[str, Any]:
    """The request to the build-up room for one repair."""
    procedure = case.procedure
    lining = case.job.the("lining.identified")
    powder = {
        key: value for key, value in procedure.choices.get("powder", {}).items()
        if key in ("density_kg_m3", "packing", "loss_fraction")
    }
    request: dict[str, Any] = {
        "outline_mm": outline,
        "depth_um": lining.thickness_um,
        "powder": {"polymer": lining.polymer} | powder,
    }
    for key in ("feather_mm", "target_um", "overbuild_um"):
        if procedure.value(key) is not None:
            request[key] = procedure.value(key)
    if procedure.value("layer_um_max") is not None:
        request["layer_max_um"] = procedure.value("layer_um_max")
    for key in ("placement_d_mm", "overlap_fraction"):
        if key in procedure.choices.get("powder", {}):
            request[key] = procedure.choices["powder"][key]
    return request


def lots(case: Case, step: Step, layers: list[Any]) -> None:
    """Hold what was, or would be, made of a lot that is unknown, of another polymer or out of date."""
    lining = case.job.the("lining.identified")
    held: set[str] = set()
    for layer in layers:
        name = layer.body.lot
        if name in held:
            continue
        before = len(step.blocks)
        lot = case.job.lots.get(name)
        if lot is None:
            step.hold("lot_known", f"Layer {layer.body.number} was made from lot '{name}', which is not on the sheet.",
                      "Enter the lot with its polymer and date.", case.rule_book)
        elif lot.kind != "powder" or lot.polymer != lining.polymer:
            step.hold(
                "lot_matches",
                f"Lot {name} is {lot.polymer or 'no named polymer'} {lot.kind}; the lining is {lining.polymer}. "
                "A wrong match looks right and peels.",
                "Remove it and repair with powder of the lining's own polymer.", "common practice, no source",
            )
        elif lot.expires < layer.at:
            step.hold("lot_in_date", f"Lot {name} expired on {lot.expires:%d %B %Y}, before layer {layer.body.number}.",
                      "Hold the part; let the maker retest the lot.", case.rule_book)
        elif lot.opened_on is not None and lot.opened_on.date() > layer.at.date():
            step.hold("lot_opened", say("buildup.lot_opened_later", lot=name, opened=f"{lot.opened_on:%Y-%m-%d}",
                                        number=layer.body.number, at=clock(layer.at)),
                      say("buildup.lot_opened_correct"), case.rule_book)
        if len(step.blocks) > before:
            held.add(name)


def fuser(case: Case, step: Step, layers: list[Any]) -> None:
    """Hold what was, or would be, fused by somebody who is not qualified for it."""
    lining = case.job.the("lining.identified")
    told: set[str] = set()
    for layer in layers:
        person = case.job.people.get(layer.by)
        if person is None or layer.by in told:
            continue
        before = len(step.blocks)
        if person.role != "technician":
            step.hold("fused_by_technician", f"{person.name} fused layer {layer.body.number} as {person.role}.",
                      "Let a qualified technician do repair work.", case.rule_book)
        if lining.polymer not in person.qualified_for or person.qualified_until is None:
            step.hold("qualified", f"{person.name} is not qualified for {lining.polymer}.",
                      "Let a qualified person do it, or enter this person's qualification.", case.rule_book)
        elif person.qualified_until < layer.at:
            step.hold(
                "qualified",
                f"{person.name}'s qualification ended on {person.qualified_until:%d %B %Y}, before {clock(layer.at)}.",
                "Have this person qualified again; hold the part.", case.rule_book,
            )
        plate_mm = case.job.the("part.identified").plate_mm
        if not person.fuses_on(plate_mm):
            step.hold("qualified_plate",
                      f"{person.name} is qualified for plates {person.plates}; this one has {plate_mm:g} mm.",
                      "Let a person do it whose qualification covers the plate.", "common practice, no source")
        if len(step.blocks) > before:
            told.add(layer.by)
