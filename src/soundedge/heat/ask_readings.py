"""What do readings taken while working leave of the doubt?"""

from __future__ import annotations

from typing import Literal

from ..basis.question import Answer
from .answers import cautions, minutes, p10_p50_p90
from .given import LearnRequest


class LearnAnswer(Answer):
    """What the readings leave of the doubt, and the advice: hold, next_layer, back_off or steel_is_cold."""

    advice: Literal["hold", "next_layer", "back_off", "steel_is_cold"]
    because: str
    bond_now_c: dict[str, float | None]
    bond_before_readings_c: dict[str, float | None]
    bond_later_c: dict[str, float | None]
    later_s: float
    neighbour_now_c: dict[str, float | None]
    first_layer_ready_s: dict[str, float | None] | None
    p_first_layer_ready: float
    flux_factor: dict[str, float | None]
    calibration_factor: float
    effective_members: float
    members: int
    readings_used: int
    ignored: list[str]
    contradictions: list[str]
    says: str
    cautions: list[str]


def learn_work(asked: LearnRequest) -> LearnAnswer:
    """Narrow the priors by the readings and advise."""
    from .learn import Seen, learn
    from .plan import Window

    case = asked.case()
    seen = [Seen(r.time_s, r.reading_c, r.aimed_at, r.emissivity_set, r.r_mm, r.gun_on) for r in asked.readings]
    known = learn(case, Window.of(case, dwell_s=max(asked.dwell_s, 1.0)), seen, later_s=asked.look_ahead_s,
                  layers_laid_s=asked.layers_laid_s)
    p_ready = known.p_ready
    return LearnAnswer(
        advice=known.advice, because=known.because, bond_now_c=p10_p50_p90(known.bond_now_c),
        bond_before_readings_c=p10_p50_p90(known.bond_prior_now_c), bond_later_c=p10_p50_p90(known.bond_later_c),
        later_s=known.later_s, neighbour_now_c=p10_p50_p90(known.neighbour_now_c),
        first_layer_ready_s=None if known.ready_s is None else p10_p50_p90(known.ready_s), p_first_layer_ready=p_ready,
        flux_factor=p10_p50_p90(known.flux_factor), calibration_factor=known.flux_factor[1],
        effective_members=known.effective, members=known.members, readings_used=known.used,
        ignored=[f"Reading {number + 1}: {why}." for number, why in known.ignored],
        contradictions=list(known.contradictions),
        says=f"Model-inferred, calibrated with {known.used} readings, P(ready for powder by {minutes(known.later_s)}) = "
             f"{p_ready:.2f}. The contact probe on the back decides.",
        cautions=cautions(case))
