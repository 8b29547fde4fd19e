"""Solvent was wiped here: what is asked, and what is answered?"""

from __future__ import annotations

from typing import Annotated

from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.procedure import LEL_PCT_MAX, LIMITS
from ..basis.quantity import Prose, Quantity, Word
from ..basis.question import Answer, Request
from ..basis.sources import cite
from .cautions import METER_DECIDES, estimate
from .solvents import Solvent, solvent
from .vapour import heavier_than_air, lel_pct, minutes_to, saturation_ppm, vapour_ppm

AirC = Annotated[float, Quantity("Air temperature", "°C", at_least=-45, at_most=60)]
GunC = Annotated[float, Quantity("Gun air temperature", "°C", at_least=0, at_most=1000)]


class VapourRequest(Request):
    """Solvent wiped or spilt in a space."""

    solvent: Word
    ml: Annotated[float, Quantity("Solvent", "ml", at_least=0, at_most=100000, next_move="Give millilitres.")]
    space_l: Annotated[float, Quantity("Space", "l", above=0, at_most=1e7, next_move="Give litres: 1 m³ is 1000 l.")]
    air_c: AirC = 20.0
    air_kpa: Annotated[float, Quantity("Air pressure", "kPa", at_least=50, at_most=110)] = 101.325
    air_changes_per_h: Annotated[float, Quantity("Air changes", "1/h", at_least=0, at_most=1000)] = 0.0
    mixing_factor: Annotated[float, Quantity("Mixing factor", "", at_least=1, at_most=20,
                                             next_move="1 is perfect mixing; 3 to 10 is usual.")] = 3.0
    evaporated_fraction: Annotated[float, Quantity("Evaporated share", "", at_least=0, at_most=1)] = 1.0
    lel_limit_pct: Annotated[float, LIMITS["lel_pct_max"]] = LEL_PCT_MAX
    limit_source: Prose | None = None
    gun_air_c: GunC | None = None


class VapourAnswer(Answer):
    """Vapour when all is mixed [ppm, % of the lower explosive limit], where it is richest, and the airing time [min]."""

    solvent: str
    ppm: float
    lel_pct: float
    lel_limit_pct: float
    minutes_until_limit: float | None
    verdict: Verdict
    richest_ppm: float
    richest_lel_pct: float
    saturation_ppm: float
    liquid_remains: bool
    flammable_when_mixed: bool
    heavier_than_air: float
    flash_c: float
    autoignition_c: float
    lel_volume_pct: float
    exposure_twa_ppm: float
    minutes_until_exposure_limit: float | None
    cautions: list[str] = []
    notes: list[str] = []
    sources: list[str] = []


def vapour(request: VapourRequest) -> VapourAnswer:
    """Vapour against a share of its lower explosive limit; the verdict is on the mixed value, an estimate.

    Raises
    ------
    Unknown
        A solvent that is not held.
    """
    r, s = request, solvent(request.solvent)
    ppm = vapour_ppm(s, ml=r.ml, space_l=r.space_l, air_c=r.air_c, air_kpa=r.air_kpa, evaporated_fraction=r.evaporated_fraction)
    full = saturation_ppm(s, r.air_c, r.air_kpa)
    richest = max(ppm, min(ppm * r.mixing_factor, full))
    share, limit = lel_pct(s, ppm), r.lel_limit_pct
    airing = {"air_changes_per_h": r.air_changes_per_h, "mixing_factor": r.mixing_factor}
    twa = s.value("exposure_twa_ppm")
    answer = VapourAnswer(
        solvent=s.key, ppm=ppm, lel_pct=share, lel_limit_pct=limit,
        minutes_until_limit=minutes_to(ppm, limit / 100 * s.value("lel_pct") * 1e4, **airing),
        verdict="indeterminate", richest_ppm=richest, richest_lel_pct=lel_pct(s, richest), saturation_ppm=full,
        liquid_remains=ppm > full or r.evaporated_fraction < 1, flammable_when_mixed=(
            s.value("lel_pct") <= ppm / 1e4 <= s.value("uel_pct")),
        heavier_than_air=heavier_than_air(s), flash_c=s.value("flash_c"), autoignition_c=s.value("autoignition_c"),
        lel_volume_pct=s.value("lel_pct"), exposure_twa_ppm=twa,
        minutes_until_exposure_limit=minutes_to(ppm, twa, **airing),
        cautions=_vapour_cautions(r, s, ppm, richest, full), notes=_vapour_notes(r, s, ppm, full),
        sources=[f"{what}: {_cited(s, what)}" for what in s.values],
    )
    answer.findings = _vapour_findings(r, s, share, answer.minutes_until_limit)
    answer.verdict = worst(f.verdict for f in answer.findings)
    return answer


def _vapour_findings(r: VapourRequest, s: Solvent, share: float, minutes: float | None) -> list[Finding]:
    move = "Take solvent and rags out, air the space, and measure at its lowest point before any heat."
    if minutes is not None:
        move = f"Air it for at least {minutes:.0f} min (estimate). {move}"
    source = r.limit_source or cite("osha_1910_146")
    lel = judge("lel_share", share, limit=r.lel_limit_pct, sense="at_most", unit="% of the lower explosive limit",
                next_move=move, source=source, name=f"{s.name[:1].upper()}{s.name[1:]} vapour, if all mixes,")
    found = [estimate(lel, "Measure at the lowest point before any heat: the meter decides.")]
    if r.gun_air_c is not None:
        hot = judge(
            "autoignition", r.gun_air_c, limit=s.value("autoignition_c"), sense="at_most", strict=True, unit="°C",
            name="Gun air", source=_cited(s, "autoignition_c"),
            next_move=f"Gun air this hot lights {s.name} vapour by itself. No heat until the meter shows that none is left.",
        )
        found.append(estimate(hot, "Below it the glowing element still lights vapour: heat only when the meter shows none."))
    return found


def _vapour_cautions(r: VapourRequest, s: Solvent, ppm: float, richest: float, full: float) -> list[str]:
    lel, uel = s.value("lel_pct"), s.value("uel_pct")
    said = [METER_DECIDES, "A heat gun is hot work: its air and its element light vapour."]
    if lel <= ppm / 1e4 <= uel:
        said.append(f"Mixed, this is {ppm / 1e4:.2g} % by volume: inside the flammable range of {lel:g} to {uel:g} %.")
    elif ppm / 1e4 > uel:
        said.append(f"Mixed, this is richer than the upper limit of {uel:g} %: while it is aired it passes through the "
                    "whole flammable range.")
    elif richest / 1e4 >= lel:
        said.append(f"Where it is richest, with mixing factor {r.mixing_factor:g}, it may burn: "
                    f"{richest / 1e4:.2g} % by volume.")
    elif lel_pct(s, richest) > r.lel_limit_pct >= lel_pct(s, ppm):
        said.append(f"Mixed it meets the limit, but where it is richest it may be {lel_pct(s, richest):.0f} % of the lower "
                    "explosive limit. Measure there.")
    said.append(f"The vapour is {heavier_than_air(s):.1f} times as heavy as air: it lies in the bottom of a cavity and runs "
                "into pits, sleeves and the next vessel.")
    if r.air_c >= s.value("flash_c"):
        said.append(f"The air is above the flash point, {s.value('flash_c'):g} °C: over wet cloth and liquid there is always "
                    "a mixture that burns.")
    else:
        said.append(f"The air is below the flash point, {s.value('flash_c'):g} °C, but a warm part or a mist brings it above.")
    if "idlh_ppm" in s.values and ppm >= s.value("idlh_ppm"):
        said.append(f"At or above {s.value('idlh_ppm'):g} ppm it is immediately dangerous to life and health: nobody goes in.")
    if ppm > s.value("exposure_twa_ppm"):
        said.append(f"Above the exposure limit of {s.value('exposure_twa_ppm'):g} ppm for a shift: air supply or stay out, "
                    "however far it is from burning.")
    return said


def _vapour_notes(r: VapourRequest, s: Solvent, ppm: float, full: float) -> list[str]:
    said = []
    if ppm > full:
        said.append(f"Air at {r.air_c:g} °C holds at most about {full:.0f} ppm of it; the rest stays liquid and feeds on, "
                    "so any airing time counts only once it is gone.")
    if r.evaporated_fraction < 1:
        said.append(f"Only {100 * r.evaporated_fraction:g} % is counted as evaporated; the rest is still in cloth, pits and "
                    "gaps and will follow, sooner when the steel is warmed.")
    if lel_pct(s, ppm) > r.lel_limit_pct and r.air_changes_per_h == 0:
        said.append("No air is changed: it does not go away by itself. Give air_changes_per_h for an airing time.")
    elif r.air_changes_per_h > 0:
        said.append(f"Airing: t = (K/n) ln(C0/C) with n = {r.air_changes_per_h:g} air changes an hour and K = "
                    f"{r.mixing_factor:g} ({cite('purge_decay')}).")
    return said


def _cited(s: Solvent, what: str) -> str:
    held = s.held(what)
    return cite(held.source) if not held.note else f"{cite(held.source)} ({held.note})"
