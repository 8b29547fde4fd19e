"""Patch, overlap and thin parent film: which voltage for which zone, and which zones may share one?

Each zone has its own window. One voltage for all is right only where all windows overlap; else the zones are
tested apart, with an electrode that stays inside its zone.
"""

from __future__ import annotations

from ..basis.finding import Finding, worst
from ..basis.quantity import shown
from . import cautions as care
from .answers import FilmAnswer, Note, OneVoltage, ZonesAnswer
from .given import FilmRequest, Ground
from .one_film import one_film
from .session_given import Zone, ZonesRequest
from .sheet import zones_sheet
from .window import suggested_v


def all_zones(request: ZonesRequest) -> ZonesAnswer:
    """Answer for several zones. The verdict is the worst of theirs."""
    found = [zone_answer(request, zone, zone.stated_voltage_v or request.stated_voltage_v) for zone in request.zones]
    low_v = max(one.low_v for one in found)
    highs = [one.high_v for one in found]
    high_v = min((high for high in highs if high is not None), default=None) if None not in highs else None
    settings, without = fewest_settings(found)
    answer = ZonesAnswer(
        cautions=care.usual_cautions(request.lel_pct),
        verdict=worst([one.verdict for one in found]),
        findings=[_named(one.zone, finding) for one in found for finding in one.findings],
        zones=found,
        low_v=low_v,
        high_v=high_v,
        one_voltage_serves_all=None if high_v is None else suggested_v(low_v, high_v) is not None,
        settings=settings,
        without_setting=without,
        notes=_notes(request, found, low_v, high_v, settings),
        sheet={},
    )
    answer.sheet = zones_sheet(answer)
    return answer


def zone_answer(ground: Ground, zone: Zone, stated_voltage_v: float | None) -> FilmAnswer:
    """One zone's answer on the shared ground of its part."""
    shared = {name: getattr(ground, name) for name in Ground.model_fields}
    if zone.state is not None:
        shared["state"] = zone.state
    return one_film(FilmRequest.model_construct(
        **shared, film_um=zone.film_um, stated_voltage_v=stated_voltage_v, area_m2=zone.area_m2, zone=zone.id
    ))


def fewest_settings(found: list[FilmAnswer]) -> tuple[list[OneVoltage], list[str]]:
    """The fewest voltages that serve every zone with a window, and the zones no voltage serves.

    Windows are taken by their upper end; each group is as large as a detector can still be set for all of it.
    """
    open_zones = [one for one in found if one.suggested_v is not None]
    without = [str(one.zone) for one in found if one not in open_zones]
    groups: list[list[FilmAnswer]] = []
    for one in sorted(open_zones, key=lambda zone: zone.high_v or 0.0):
        fits = next((group for group in groups if _shared(*group, one)[2] is not None), None)
        if fits is None:
            groups.append([one])
        else:
            fits.append(one)
    out = []
    for group in groups:
        low, high, volts = _shared(*group)
        assert volts is not None
        out.append(OneVoltage(voltage_v=volts, low_v=low, high_v=high, zones=[str(z.zone) for z in group]))
    return out, without


def _shared(*zones: FilmAnswer) -> tuple[float, float, float | None]:
    """The window that all of these zones share, and its setting."""
    low, high = max(zone.low_v for zone in zones), min(zone.high_v or 0.0 for zone in zones)
    return low, high, suggested_v(low, high)


def _named(zone: str | None, finding: Finding) -> Finding:
    return finding.model_copy(update={"because": f"Zone {zone}: {finding.because}"})


def _notes(
    request: ZonesRequest, found: list[FilmAnswer], low_v: float, high_v: float | None, settings: list[OneVoltage]
) -> list[Note]:
    out = []
    if high_v is not None and suggested_v(low_v, high_v) is None:
        plan = "; ".join(f"{', '.join(one.zones)} at {one.voltage_v:.0f} V" for one in settings)
        out.append(Note(
            name="zones_apart",
            because=f"No one voltage serves all zones: one needs {low_v:.0f} V and one may bear {high_v:.0f} V only.",
            next_move=(f"Split the zones: {plan}. Keep the electrode inside its zone." if plan else
                       "No zone has a setting of its own: see what each zone asks for."),
        ))
    thin = min(found, key=lambda one: one.film_um["min"])
    for one in found:
        volts = one.stated.voltage_v if one.stated else None
        if volts and one is not thin and thin.high_v is not None and volts > thin.high_v:
            out.append(Note(
                name="electrode_must_stay_inside",
                because=f"{shown(volts)} V, stated for zone {one.zone}, is {volts / thin.film_um['min']:.3g} kV/mm over the "
                        f"{shown(thin.film_um['min'])} µm of zone {thin.zone}, which may bear {thin.high_v:.0f} V.",
                next_move="Use an electrode narrower than the zone, and mark its edge with chalk.",
            ))
    return out
