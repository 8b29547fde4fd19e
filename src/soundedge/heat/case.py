"""Which numbers belong to this part, this lining and this gun?

A ``Case`` is the bench's own words; ``values`` turns it into what the model marches with, for one member or for
many that differ by the factors of ``Doubt``.

>>> case = Case(material="carbon_steel", plate_mm=12, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=500)
>>> round(case.polymer_value("fusion_c")), round(case.blow().h0_w_m2k)
(185, 62)
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from ..basis.materials import Material, material
from .jet import SPREAD, Jet, jet

if TYPE_CHECKING:  # numpy is woken only when something is marched
    import numpy as np

    from .march import Values
    from .section import Section

# How the plate loses heat when nobody helps it: natural convection on a 0.3 m plate at 100 °C gives 3 to 10 W/m²K
# by the usual correlations (memory); painted or oxidised backs radiate with 0.8.
H_IDLE_W_M2K = 6.0
H_BACK_W_M2K = 6.0
H_RIM_W_M2K = 10.0
E_BACK = 0.8
# Unfused powder, reckoned with the mass it will have as film: half as dense, 0.1 W/mK in bulk (memory).
K_POWDER_W_MK = 0.05


# How well a factor is known that somebody gives without its doubt (own estimate).
TRIED_DOUBT = 0.12

# What the model must know of a metal, and of a polymer.
STEEL_NEEDED = ("density_kg_m3", "conductivity_w_mk", "heat_capacity_j_kgk", "emissivity")
NEEDED = (
    "density_kg_m3", "conductivity_w_mk", "heat_capacity_j_kgk", "latent_heat_j_kg", "melt_from_c", "melt_to_c", "emissivity",
    "fusion_c", "surface_limit_c",
)


@dataclass(frozen=True)
class Case:
    """One part under one gun. Millimetres, °C, watts; ``None`` takes the material's own value.

    ``h_factor`` is what a trial of this gun gave against the model's jet, ``h_doubt`` the width of its logarithm (None: as
    wide as the jet's own, or ``TRIED_DOUBT`` where a factor was given); ``radius_doubt`` that of the part's radius.
    """

    material: str
    plate_mm: float
    polymer: str
    film_mm: float
    power_w: float
    gun_c: float
    radius_mm: float = 150.0
    outlet_mm: float = 34.0
    distance_mm: float = 60.0
    flow_l_min: float | None = None
    flow_at: str | None = None
    ambient_c: float = 20.0
    start_c: float = 20.0
    back: str = "free"
    spot_d_mm: float = 30.0
    feather_mm: float = 10.0
    fusion_c: float | None = None
    surface_limit_c: float | None = None
    melt_class: str | None = None
    h_factor: float = 1.0
    h_doubt: float | None = None
    radius_doubt: float = 0.2

    @cached_property
    def steel(self) -> Material:
        """The metal, as held."""
        return material(self.material, kind="metal")

    @cached_property
    def film(self) -> Material:
        """The polymer, as held, of its melting class; of the higher-melting one when that is not said."""
        return material(self.polymer, kind="polymer").of_class(self.melt_class)

    def checked(self) -> Case:
        """The same case, after every name in it has been looked up and the gun's label has been balanced."""
        assert self.steel and self.blow()
        own = {"fusion_c": self.fusion_c, "surface_limit_c": self.surface_limit_c}
        self.film.need(*(what for what in NEEDED if own.get(what) is None))
        return self

    def polymer_value(self, what: str) -> float:
        """A property of the polymer, with the case's own fusion and surface limit before the held ones."""
        own = {"fusion_c": self.fusion_c, "surface_limit_c": self.surface_limit_c}.get(what)
        return self.film.value(what) if own is None else own

    def blow(self, spread: float = SPREAD) -> Jet:
        """The gun's jet on the plate."""
        return jet(power_w=self.power_w, air_c=self.gun_c, outlet_mm=self.outlet_mm, distance_mm=self.distance_mm,
                   ambient_c=self.ambient_c, flow_l_min=self.flow_l_min, flow_at=self.flow_at, spread=spread)

    @property
    def tried(self) -> bool:
        """Whether this gun was tried on plates."""
        return self.h_factor != 1.0 or self.h_doubt is not None

    @property
    def h_width(self) -> float:
        """Width of the logarithm of h: of the trial, else of the jet."""
        if self.h_doubt is not None:
            return self.h_doubt
        return TRIED_DOUBT if self.tried else self.blow().doubt

    def section(self, *, dish: bool, layers: int = 0, rings: int = 16, slices: int = 4, old_cells: int = 3) -> Section:
        """The cells of this part, with a bare dish or with the film whole."""
        from .section import cut

        return cut(plate_mm=self.plate_mm, radius_mm=self.radius_mm, spot_d_mm=self.spot_d_mm, film_mm=self.film_mm,
                   dish=dish, feather_mm=self.feather_mm, layers=layers, rings=rings, slices=slices, old_cells=old_cells)

    def but(self, **changed: object) -> Case:
        """The same case with something changed."""
        return replace(self, **changed)  # type: ignore[arg-type]


@dataclass(frozen=True)
class Doubt:
    """How members differ from the case: arrays of (members,), factors unless a unit is named.

    The widths of the priors stand in ``doubt.PRIORS``.
    """

    h: np.ndarray
    air_k: np.ndarray
    spread: np.ndarray
    k_film: np.ndarray
    film: np.ndarray
    plate: np.ndarray
    rc_steel: np.ndarray
    back: np.ndarray
    e_film: np.ndarray

    @staticmethod
    def none(members: int = 1) -> Doubt:
        """No doubt at all: every member is the case itself."""
        import numpy as np

        one, zero = np.ones(members), np.zeros(members)
        return Doubt(one, zero, np.full(members, SPREAD), one, one, one, one, one, zero)


def values(case: Case, section: Section, doubt: Doubt | None = None, *, start_c: np.ndarray | None = None) -> Values:
    """The numbers a march needs.

    Parameters
    ----------
    case, section
        The section must be cut from the same case.
    doubt : Doubt, optional
        One member when left out.
    start_c : (members,) array, optional
        Part temperature at the start, °C, in place of the case's own.
    """
    import numpy as np

    from .march import Values

    members = len(start_c) if doubt is None and start_c is not None else 1 if doubt is None else len(doubt.h)
    doubt = doubt or Doubt.none(members)
    steel, film, blow = case.steel, case.film, case.blow()
    ones = np.ones(members)
    r_mm = section.middles_mm
    h_line = np.array([blow.h_w_m2k(r) for r in r_mm]) * case.h_factor
    h_gun = doubt.h[:, None] * h_line[None, :]
    axis = blow.axis_c + doubt.air_k - case.ambient_c
    air_gun = case.ambient_c + axis[:, None] / (1.0 + (r_mm[None, :] * 1e-3 / (doubt.spread[:, None] * blow.outlet_m)) ** 2)
    h_back = np.full_like(h_gun, H_BACK_W_M2K) * doubt.back[:, None]
    air_back, e_back = np.full_like(h_gun, case.ambient_c), E_BACK
    if case.back == "insulated":
        h_back, e_back = np.zeros_like(h_gun), 0.0
    elif case.back == "second_gun":
        h_back, air_back = h_gun, air_gun
    rho = film.value("density_kg_m3")
    return Values(
        start_c=ones * case.start_c if start_c is None else np.asarray(start_c, dtype=float),
        ambient_c=ones * case.ambient_c,
        k_steel=ones * steel.value("conductivity_w_mk"),
        rc_steel=doubt.rc_steel * steel.value("density_kg_m3") * steel.value("heat_capacity_j_kgk"),
        plate_scale=doubt.plate, film_scale=doubt.film,
        k_solid=doubt.k_film * film.value("conductivity_w_mk"),
        k_melt=doubt.k_film * film.melt_conductivity_w_mk,
        rc_solid=ones * rho * film.value("heat_capacity_j_kgk"),
        rc_melt=ones * rho * film.value("heat_capacity_j_kgk"),
        latent=ones * rho * film.value("latent_heat_j_kg"),
        melt_from_c=ones * film.value("melt_from_c"), melt_to_c=ones * film.value("melt_to_c"),
        k_powder=ones * K_POWDER_W_MK,
        e_film=np.clip(film.value("emissivity") + doubt.e_film, 0.5, 0.99),
        e_bare=ones * steel.value("emissivity"), e_back=ones * e_back,
        h_idle=ones * H_IDLE_W_M2K, h_rim=ones * H_RIM_W_M2K,
        h_gun=h_gun, air_gun=air_gun, h_back=h_back, air_back=air_back,
        h_back_off=ones * (0.0 if case.back == "insulated" else H_BACK_W_M2K),
    )
