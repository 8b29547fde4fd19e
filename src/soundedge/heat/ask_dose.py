"""How much did a surface history age the film?"""

from __future__ import annotations

from ..basis.materials import material
from ..basis.question import Answer
from .given import DoseRequest
from .melt import dose_factor, dose_s


class DoseAnswer(Answer):
    """Equivalent seconds at ``reference_c``, the hottest surface the polymer may have; fume flags where the surface passed
    its thresholds."""

    dose_s: float
    reference_c: float
    energy_kj_mol: float
    hottest_c: float
    factor_at_hottest: float
    above_fume_s: float | None
    fume_c: float | None
    toxic_fume_c: float | None
    share_of_seen_change: float | None
    because: str
    cautions: list[str]


def dose_work(asked: DoseRequest) -> DoseAnswer:
    """Thermal dose of a surface history."""
    from .log import time_above

    d = asked.dose
    film = material(d.polymer, kind="polymer")
    energy, reference = film.value("degradation_energy_j_mol"), film.value("surface_limit_c")
    dose = dose_s(d.times_s, d.temperatures_c, energy_j_mol=energy, reference_c=reference)
    hottest = max(d.temperatures_c)
    fume, toxic = (film.values[what].value if what in film.values else None for what in ("fume_c", "toxic_fume_c"))
    track = list(zip(d.times_s, d.temperatures_c))
    notes = ["Relative only: it says which of two histories aged the film more. It becomes a limit when a colour change "
             "has been seen and marked at one of them."]
    if fume is None:
        notes.insert(0, f"From which temperature {film.name} fumes is not held for this polymer: ask its maker.")
    elif hottest >= fume:
        poison = f"toxic from about {toxic:g} °C; " if toxic is not None else ""
        notes.insert(0, f"{hottest:g} °C is at or above {fume:g} °C, where {film.name} fumes ({poison}"
                        f"{film.held('fume_c').cited()}). Extract, leave the place, no tobacco.")
    return DoseAnswer(
        dose_s=dose, reference_c=reference, energy_kj_mol=energy / 1000.0, hottest_c=hottest,
        factor_at_hottest=dose_factor(hottest, energy_j_mol=energy, reference_c=reference),
        above_fume_s=None if fume is None else time_above(track, fume), fume_c=fume, toxic_fume_c=toxic,
        share_of_seen_change=None if d.seen_change_dose_s is None else dose / d.seen_change_dose_s,
        because=f"The history aged {film.name} as {dose:.0f} s at {reference:g} °C would (activation energy "
                f"{energy / 1000:.0f} kJ/mol).",
        cautions=notes)
