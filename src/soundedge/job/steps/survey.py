"""Survey: is the damage outlined, as found and as prepared?"""

from __future__ import annotations

from ..case import Case
from ..rules.merged import as_prepared_in_another
from ..step import Step


def survey(case: Case) -> Step:
    """Which damage is known, at which stage, and which photo was refused."""
    job = case.job
    step = Step("survey")
    outlined = job.of("damage.outlined")
    stages = {(event.body.id, event.body.stage) for event in outlined}
    for refused in job.of("survey.refused"):
        if (refused.body.id, refused.body.stage) in stages:
            continue
        for reason in refused.body.refused:
            step.hold(
                str(reason.get("check", "photo")),
                f"Photo '{refused.body.photo}' of damage {refused.body.id}: {reason.get('because', '')}",
                str(reason.get("next_move", "Take the photo again.")), "survey of the photo",
            )
    if not outlined:
        if not step.blocks:
            step.lacks("damage_outlined", True, "No damage is outlined.",
                       "Outline it: photo with the card, or millimetres.", case.rule_book)
        return step
    step.verdict = "conforms"
    found = {name for name, stage in stages if stage == "as_found"}
    prepared = {name for name, stage in stages if stage == "as_prepared"}
    for name in sorted(found - prepared - as_prepared_in_another(job)):
        if case.requires("as_prepared") and job.of("surface.prepared", "layer.fused", "film.measured"):
            step.verdict = "not_measured"
            step.lacks(
                "as_prepared", True,
                f"Damage {name} was outlined as found but not as prepared; grinding may have made it larger.",
                "Outline it again at the sound edge and decide again.", case.rule_book,
            )
        elif name not in prepared:
            step.missing.append("as_prepared")
    by_photo = sum(event.body.measured == "photo" for event in outlined)
    step.because = (
        f"{len(found | prepared)} damaged place{'s' * (len(found | prepared) != 1)} outlined, "
        f"{by_photo} of {len(outlined)} outlines measured from a photo."
    )
    step.answers = [event.body.survey for event in outlined if event.body.survey]
    if step.blocks:
        step.verdict = "not_measured"
    return step
