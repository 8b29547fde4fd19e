"""What can hurt somebody at this job, and the clocks running: the room's cautions, the fume of this polymer, permit and watch.

Estimates; an instrument decides. Local codes and the material's maker stand above them.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from ...basis.procedure import LEL_PCT_MAX
from ...hazards import cautions as said
from ...hazards.solvents import solvents
from ...job.judge import Outcome
from ...job.steps.hazards import question

FIRE_WATCH_MIN = 60.0  # as the hazards room takes it when the procedure sets none


def cautions() -> tuple[str, ...]:
    """Every caution of the hazards room, as it stands there."""
    return (said.NO_TOBACCO, said.METER_DECIDES, said.PYROMETER_DECIDES, said.FUME_METER_DECIDES, said.WATCH_DECIDES)


def lessons() -> tuple[str, ...]:
    """The accidents everybody at this bench should know."""
    return said.LESSONS


def solvent_keys() -> tuple[str, ...]:
    """The solvents the room holds, in order of their names."""
    return tuple(sorted(solvents()))


def lel_limit_pct(outcome: Outcome) -> float:
    """The share of the lower explosive limit at which heat is allowed. [%]"""
    return float(outcome.case.procedure.value("lel_pct_max") or LEL_PCT_MAX)


def asking_vapour(outcome: Outcome) -> dict[str, Any]:
    """What the hazards room is asked beside the typed solvent."""
    return question(outcome.case)


def fume(outcome: Outcome) -> dict[str, Any]:
    """Where this polymer begins to fume, judged on the planned gun's air; on none when there is no plan."""
    from ..ask import ask

    polymer, plan = outcome.job.the("lining.identified").polymer, outcome.job.last("heat.planned")
    if plan is not None:
        return ask("hazards", {"polymer": polymer, "gun_air_c": plan.body.gun.air_c}) | {"gun_air_c": plan.body.gun.air_c}
    found = ask("hazards", {"polymer": polymer, "surface_c": 20})
    return found if found["fume_c"] is None else found | {"findings": [], "verdict": "not_measured"}


def asking_touch(outcome: Outcome) -> dict[str, Any]:
    """What the room is asked beside a typed temperature: bare metal of this plate, cooling in still air."""
    part, air = outcome.job.the("part.identified"), outcome.job.last("air.read")
    return {
        "surface": "bare_metal",
        "cooling": {"plate_mm": part.plate_mm, "material": part.material, "air_c": air.body.air_c if air is not None else 20.0},
    }


def clocks(outcome: Outcome) -> dict[str, Any]:
    """The permit in force last, the end of the last heat and its watch; empty keys where nothing is recorded.

    ``watch_until`` is the later of what the watcher wrote and what the procedure asks for. Entries of before the last
    layer do not count as the end of its heat.
    """
    job = outcome.job
    permit, ended, layers = job.last("permit.issued"), job.last("hot_work.ended"), job.of("layer.fused")
    minutes = outcome.case.procedure.value("fire_watch_min")
    needed = FIRE_WATCH_MIN if minutes is None else float(minutes)
    out: dict[str, Any] = {"fire_watch_min": needed, "permit": None, "ended": None}
    if permit is not None:
        out["permit"] = {"number": permit.body.number, "at": permit.at, "until": permit.body.until}
    if ended is not None and (not layers or ended.at >= layers[-1].at):
        out["ended"] = {
            "at": ended.at,
            "by": ended.body.watched_by,
            "watch_until": max(ended.body.fire_watch_until, ended.at + timedelta(minutes=needed)),
        }
    return out
