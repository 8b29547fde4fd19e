"""What holds for every zone of one part: the air, what the film withstands, and the rule that governs?

A request becomes one ``Setting`` of plain values, and everything else in the room works on that.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..basis.materials import material
from ..basis.quantity import shown
from ..basis.sources import cite
from .air import STANDARD_KPA, WEATHER_SHARE, air_density, moist_factor, pressure_at_kpa
from .gap import AirGap
from .given import Ground, OwnRule
from .rules import Branch, Rule, rule
from .strength import Strength, film_cap, lining_points

FRACTION = 0.5


@dataclass(frozen=True)
class Setting:
    """``strength_kind``: given (a maker's value), procedure, held (our table) or none."""

    air_kpa: float
    air: AirGap
    strength: Strength | None
    strength_kind: str
    strength_source: str
    fraction: float
    fraction_source: str
    governing: Rule | None
    fixed_v: float | None
    fixed_source: str
    permittivity: float | None

    @property
    def density(self) -> float:
        """Relative density of the air as stated."""
        return self.air.density

    def source_at(self, film_um: float) -> str:
        """Where the strength at a thickness comes from: the points, and the law where they do not carry it."""
        if self.strength is None or not self.strength.by_law(film_um):
            return self.strength_source
        return f"{self.strength_source}; {cite('strength_exponents')}"

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
    density = air_density(given.air.c, kpa)
    by_height = given.air.kpa is None and given.air.altitude_m is not None
    strength, kind, source = _strength(given)
    procedure = given.procedure
    fraction, fraction_source = FRACTION, cite("own_judgement", "0.5 of the strength")
    if given.strength_fraction is not None:
        fraction, fraction_source = given.strength_fraction, "the request"
    elif procedure and "strength_fraction" in procedure.limits:
        fraction, fraction_source = procedure.need("strength_fraction"), procedure.cite("strength_fraction")
    held = material(given.polymer).values if given.polymer else {}
    return Setting(
        air_kpa=kpa,
        air=AirGap(
            density=density,
            densest=density * (1.0 + WEATHER_SHARE if by_height else 1.0),
            moist=moist_factor(given.air.c, given.air.rh_pct, density),
        ),
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
    held, cited = _held(given)
    chosen = given.procedure.choices.get("strength") if given.procedure else None
    if isinstance(chosen, dict):
        chosen = chosen.get(given.polymer) if given.polymer is not None else None
    if given.strength:
        points, kind, source = [(p.at_um, p.kv_mm) for p in given.strength], "given", "the request (maker's value)"
    elif chosen:
        assert given.procedure is not None
        points, kind, source = [(p.at_um, p.kv_mm) for p in chosen], "procedure", given.procedure.id
    else:
        points, kind, source = held, "held", "; ".join(cited)
    if not points:
        return None, "none", "no strength was given and none is held for this polymer"
    if not (lining := lining_points(points)):
        return None, "none", (f"the strength was given for film of {shown(max(at for at, _ in points))} µm only, and "
                              "what so thin a film bears is carried to no lining")
    return Strength.of(lining, film_cap(held)), kind, source


def _held(given: Ground) -> tuple[list[tuple[float, float]], list[str]]:
    values = material(given.polymer).values if given.polymer else {}
    points, cited = [], []
    for key in ("dielectric_strength_kv_mm", "dielectric_strength_thin_kv_mm"):
        if key in values:
            points.append((float(values[key].at.split()[0]), values[key].value))
            cited.append(values[key].cited(f"at {values[key].at.replace('um', 'µm')}"))
    return points, cited


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
