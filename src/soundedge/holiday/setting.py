"""What holds for every zone of one part: the air, what the film withstands, and the rule that governs?

A request becomes one ``Setting`` of plain values, and everything else in the room works on that.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..basis.materials import material
from ..basis.sources import cite
from .air import STANDARD_KPA, air_density, pressure_at_kpa
from .given import Ground, OwnRule
from .rules import Branch, Rule, rule
from .strength import Strength

FRACTION = 0.5


@dataclass(frozen=True)
class Setting:
    """``strength_kind``: given (a maker's value), procedure, held (our table) or none."""

    air_kpa: float
    density: float
    strength: Strength | None
    strength_kind: str
    strength_source: str
    fraction: float
    fraction_source: str
    governing: Rule | None
    fixed_v: float | None
    fixed_source: str
    permittivity: float | None

    def demand(self, least_um: float, most_um: float, nominal_um: float | None = None) -> float:
        """Voltage the procedure's own rule asks for in a zone, V; 0 when it asks for none."""
        by_rule = None
        if self.governing:
            by_rule = self.governing.voltage_v(self.governing.film_used_um(least_um, most_um, nominal_um))
        return max(self.fixed_v or 0.0, by_rule or 0.0)


def setting(given: Ground) -> Setting:
    """Read the shared part of a request.

    Raises
    ------
    Unknown
        A rule or polymer that is not held.
    """
    kpa = given.air.kpa if given.air.kpa is not None else (
        STANDARD_KPA if given.air.altitude_m is None else pressure_at_kpa(given.air.altitude_m)
    )
    strength, kind, source = _strength(given)
    procedure = given.procedure
    fraction, fraction_source = FRACTION, cite("own_estimate", "0.5 of the strength")
    if given.strength_fraction is not None:
        fraction, fraction_source = given.strength_fraction, "the request"
    elif procedure and "strength_fraction" in procedure.limits:
        fraction, fraction_source = procedure.need("strength_fraction"), procedure.cite("strength_fraction")
    held = material(given.polymer).values if given.polymer else {}
    return Setting(
        air_kpa=kpa,
        density=air_density(given.air.c, kpa),
        strength=strength,
        strength_kind=kind,
        strength_source=source,
        fraction=fraction,
        fraction_source=fraction_source,
        governing=_governing(given),
        fixed_v=procedure.value("holiday_v_min") if procedure else None,
        fixed_source=procedure.cite("holiday_v_min") if procedure else "",
        permittivity=held["relative_permittivity"].value if "relative_permittivity" in held else None,
    )


def _strength(given: Ground) -> tuple[Strength | None, str, str]:
    if given.strength:
        return Strength.of((p.at_um, p.kv_mm) for p in given.strength), "given", "the request (maker's value)"
    chosen = given.procedure.choices.get("strength") if given.procedure else None
    if isinstance(chosen, dict) and given.polymer is not None:
        chosen = chosen.get(given.polymer)
    elif isinstance(chosen, dict):
        chosen = None
    if chosen:
        assert given.procedure is not None
        return Strength.of((p.at_um, p.kv_mm) for p in chosen), "procedure", given.procedure.id
    if given.polymer:
        held = material(given.polymer).values
        points, cited = [], []
        for key in ("dielectric_strength_kv_mm", "dielectric_strength_thin_kv_mm"):
            if key in held:
                points.append((float(held[key].at.split()[0]), held[key].value))
                cited.append(cite(held[key].source, f"at {held[key].at.replace('um', 'µm')}"))
        if points:
            return Strength.of(points), "held", "; ".join(cited)
    return None, "none", "no strength was given and none is held for this polymer"


def _governing(given: Ground) -> Rule | None:
    if given.own_rule is not None:
        return _own(given.own_rule)
    if given.rule is not None:
        return rule(given.rule)
    chosen = given.procedure.choices.get("holiday_rule") if given.procedure else None
    if chosen is None:
        return None
    return rule(chosen) if isinstance(chosen, str) else _own(chosen)


def _own(given: OwnRule) -> Rule:
    return Rule.own(
        given.rule, edition=given.edition or "", source=given.source, takes=given.takes,
        rows=[(row.from_um, row.to_um, row.voltage_v) for row in given.rows],
        branches=[Branch(piece.factor, piece.power, piece.unit, piece.up_to_um) for piece in given.pieces],
        voltage_max_v=given.voltage_max_v,
    )
