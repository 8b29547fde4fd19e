"""Does this polymer fume under this gun: what is asked, and what is answered?"""

from __future__ import annotations

from typing import Annotated

from pydantic import model_validator

from ..basis.finding import Finding, Verdict, judge, worst
from ..basis.materials import Polymer, material
from ..basis.quantity import Quantity
from ..basis.question import Answer, Request, refuse
from ..basis.sentences import say
from ..basis.sources import cite
from .cautions import FUME_METER_DECIDES, NO_TOBACCO, estimate

HotC = Annotated[float, Quantity("Surface temperature", "°C", at_least=-60, at_most=1000)]
GunC = Annotated[float, Quantity("Gun air temperature", "°C", at_least=0, at_most=1000)]
TolK = Annotated[float, Quantity("Tolerance of the thermometer", "K", at_least=0, at_most=100,
                                 next_move="It is a half-width and a difference.")]


class FumeRequest(Request):
    """A polymer under the gun: the air that meets its surface, and the surface itself where it was measured."""

    polymer: Polymer
    gun_air_c: GunC | None = None
    surface_c: HotC | None = None
    tol_surface_k: TolK = 0.0

    @model_validator(mode="after")
    def _one_temperature(self) -> FumeRequest:
        if self.gun_air_c is None and self.surface_c is None:
            raise refuse("missing", say("hazards.fume_temperature_missing"))
        return self


class FumeAnswer(Answer):
    """The temperature from which the polymer gives off hazardous fume, and rapidly toxic fume [°C]; the verdict. None where
    it is not held for this polymer."""

    polymer: str
    fume_c: float | None
    toxic_fume_c: float | None
    verdict: Verdict
    cautions: list[str] = []
    notes: list[str] = []


def fume(request: FumeRequest) -> FumeAnswer:
    """Gun air and surface against the fume threshold of the polymer.

    A surface above the threshold does not conform. Gun air above it is ``indeterminate`` while the surface was not
    measured, for the surface sees the air and follows it when the gun stands still; with a measured surface it is
    a caution.
    """
    r = request
    polymer = material(r.polymer, kind="polymer")
    toxic = polymer.value("toxic_fume_c") if "toxic_fume_c" in polymer.values else None
    if "fume_c" not in polymer.values:
        return _not_held(r, polymer.name, toxic)
    held = polymer.held("fume_c")
    source = f"{held.cited()}{f' ({held.note})' if held.note else ''}"
    found, cautions = [], [FUME_METER_DECIDES, NO_TOBACCO]
    if r.surface_c is not None:
        hot = judge("surface_fume", r.surface_c, limit=held.value, sense="at_most", strict=True, unit="°C",
                    u=r.tol_surface_k / 3**0.5 or None, name=f"{polymer.name} surface", source=source,
                    next_move="Take the heat away, leave the fume, and go back with exhaust at the spot and less heat.")
        verdict: Verdict = hot.as_written
        if verdict == "conforms" and r.surface_c + r.tol_surface_k >= held.value:
            verdict = "indeterminate"
            hot = hot.model_copy(update={
                "because": f"{hot.because} With the thermometer's tolerance it may reach it.",
                "next_move": "Less heat, or a better thermometer."})
        found.append(estimate(hot.model_copy(update={"verdict": verdict}),
                               "Exhaust at the spot all the same: ultrafine particles come from every hot-air job."))
    if r.gun_air_c is not None:
        found += _gun_air(r, held.value, polymer.name, source, cautions)
    if toxic is not None and max(r.surface_c or 0.0, 0.0) >= toxic:
        cautions.append(f"At {r.surface_c:g} °C the polymer breaks down fast (from about {toxic:g} °C): clear the place.")
    return FumeAnswer(
        polymer=r.polymer, fume_c=held.value, toxic_fume_c=toxic, verdict=worst(f.verdict for f in found), findings=found,
        cautions=cautions, notes=_notes(),
    )


def _not_held(r: FumeRequest, name: str, toxic: float | None) -> FumeAnswer:
    """We hold no fume temperature for this polymer: say so, and compare nothing."""
    hottest = max(value for value in (r.surface_c, r.gun_air_c) if value is not None)
    unknown = Finding(
        rule="fume_threshold", value=hottest, limit=None, sense="at_most", unit="°C", as_written="not_measured",
        verdict="not_measured", because=f"From which temperature {name} gives off hazardous fume is not held for this polymer.",
        next_move="Ask its maker for it and for the fume it gives off. Until then take it that it fumes: exhaust at the spot.",
        source="none held")
    return FumeAnswer(polymer=r.polymer, fume_c=None, toxic_fume_c=toxic, verdict=unknown.verdict, findings=[unknown],
                      cautions=[FUME_METER_DECIDES, NO_TOBACCO], notes=_notes())


def _notes() -> list[str]:
    return [
        "Fluoropolymers give off hydrogen fluoride and carbonyl fluoride, those with chlorine hydrogen chloride too. Have "
        "the first-aid gel for hydrogen fluoride at the place.",
        "Fume fever feels like influenza and starts two or more hours later: send the person to a doctor and name the polymer "
        f"({cite('fluoropolymer_handling_guide')}).",
        f"Lowest temperature that fuses, and local exhaust ({cite('hse_rr539')}).",
    ]


def _gun_air(r: FumeRequest, limit: float, name: str, source: str, cautions: list[str]) -> list[Finding]:
    assert r.gun_air_c is not None
    if r.gun_air_c < limit:
        under = judge("gun_air_fume", r.gun_air_c, limit=limit, sense="at_most", strict=True, unit="°C", name="Gun air",
                      next_move="", source=source)
        return [estimate(under, "Keep the gun moving and exhaust at the spot.")]
    line = (
        f"Gun air of {r.gun_air_c:g} °C is above {limit:g} °C, where {name} begins to give off hazardous fume: the surface "
        "sees the air and follows it when the gun stands still or too near."
    )
    if r.surface_c is not None:
        cautions.append(line)
        return []
    return [Finding(
        rule="gun_air_fume", value=r.gun_air_c, limit=limit, sense="at_most", unit="°C", as_written="does_not_conform",
        verdict="indeterminate", because=f"Estimate: {line}", source=source,
        next_move="Measure the surface, keep the gun moving, or turn the air down; exhaust at the spot.",
    )]
