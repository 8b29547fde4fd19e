"""Heat: was there a plan before the first layer, and does the log say the bond line fused?

A missing log is not measured, never good.
"""

from __future__ import annotations

from typing import Any

from ..case import Case
from ..step import Step


def heat(case: Case, buildup: Step, disposition: Step) -> Step:
    """Plan and log of the heat."""
    step = Step("heat")
    job = case.job
    layers = job.of("layer.fused")
    plans, logs = job.of("heat.planned"), job.of("heat.logged")
    if not plans:
        step.lacks("heat_plan", case.requires("heat_plan"), "There is no heat plan.",
                   "Plan preheat, gun and times before the first layer.", case.rule_book)
    elif layers and plans[0].at > layers[0].at:
        step.hold("heat_planned_first", "The heat plan was made after the first layer.", "Let the engineer look at it.",
                  case.rule_book)
    if layers and not logs:
        step.lacks("heat_log", case.requires("heat_log"), "There is no heat log: that the bond line fused was not measured.",
                   "Log the readings while fusing; ask the engineer what stands in for the missing log.", case.rule_book)
    if not logs:
        step.because = "The heat was not logged."
        return step
    _judge(case, step, plans, logs)
    return step


def _judge(case: Case, step: Step, plans: list[Any], logs: list[Any]) -> None:
    step.verdict = "indeterminate"
    step.because = f"{sum(len(e.body.readings) for e in logs)} readings were logged; no model has judged them."
