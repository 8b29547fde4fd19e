"""What are the figures for this steel or this polymer, and who says so?

Values stand in ``materials.toml``, each with unit, source and read-mark. A value without a source
does not load, and a fence catches a slipped decimal.

>>> value = material("carbon_steel").value("density_kg_m3")
>>> 7000 < value < 8500
True
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Annotated, Any, NamedTuple

from .errors import OutOfRange, Unknown
from .named import OneOf, Said, in_language
from .sentences import say
from .sources import cite, sources

_FILE = Path(__file__).with_name("materials.toml")
MELTED_ABOVE_K = 10.0
"""Above the end of melting, for the last crystals and the probe's error (own judgement)."""
MELT_CONDUCTS = 0.85
"""Conductivity of a polymer's melt beside that of the solid (own estimate, 0.73 to 0.95). Its heat capacity is taken as the
solid's: it moves no temperature by more than 0.3 K."""


class Property(NamedTuple):
    """What a maker is asked for, and the widest range any solid on a lined part can have: not a tolerance but a fence
    against a slipped decimal."""

    called: str
    low: float
    high: float


PROPERTIES: dict[str, Property] = {
    "density_kg_m3": Property("density", 800.0, 9000.0),
    "conductivity_w_mk": Property("heat conductivity", 0.05, 450.0),
    "heat_capacity_j_kgk": Property("heat capacity", 300.0, 3500.0),
    "emissivity": Property("emissivity", 0.02, 1.0),
    "melt_c": Property("melting point", 80.0, 1600.0),
    "melt_from_c": Property("where melting begins", 60.0, 1600.0),
    "melt_to_c": Property("where melting ends", 80.0, 1700.0),
    "latent_heat_j_kg": Property("heat of fusion", 1.0e3, 4.0e5),
    "fusion_c": Property("coldest bond at which it flows and wets steel", 90.0, 450.0),
    "surface_limit_c": Property("hottest surface it may have", 90.0, 500.0),
    "fume_c": Property("temperature from which it fumes", 150.0, 600.0),
    "toxic_fume_c": Property("temperature from which the fume is toxic", 150.0, 700.0),
    "dielectric_strength_kv_mm": Property("dielectric strength", 1.0, 300.0),
    "dielectric_strength_thin_kv_mm": Property("dielectric strength of film", 1.0, 400.0),
    "relative_permittivity": Property("relative permittivity", 1.5, 15.0),
    "degradation_energy_j_mol": Property("activation energy of degradation", 5.0e4, 6.0e5),
}
# Inside those, what a kind of solid may be: metals conduct, polymers do not.
KIND_FENCES: dict[tuple[str, str], tuple[float, float]] = {
    ("metal", "conductivity_w_mk"): (8.0, 450.0),
    ("metal", "density_kg_m3"): (2500.0, 9000.0),
    ("polymer", "conductivity_w_mk"): (0.05, 0.7),
    ("polymer", "density_kg_m3"): (850.0, 2300.0),
    ("polymer", "melt_c"): (80.0, 350.0),
    ("polymer", "heat_capacity_j_kgk"): (700.0, 3500.0),
}


@dataclass(frozen=True)
class Value:
    """One value of one material with where it comes from; ``derived`` when it was made of another one."""

    value: float
    source: str
    read: str
    where: str = ""
    at: str = ""
    note: str = ""
    low: float | None = None
    high: float | None = None
    derived: bool = False

    def cited(self, where: str = "") -> str:
        """Its source as one line, with the mark of this value."""
        return cite(self.source, where, self.read)


@dataclass(frozen=True)
class Material:
    """A material by key: ``kind`` is metal or polymer, ``shown`` what pages and paper call it, ``values`` by property name
    with unit in the name. Where grades melt apart, ``melt_class`` names the higher-melting class, whose the values are, and
    ``other_classes`` holds what differs in the others."""

    key: str
    name: str
    kind: str
    shown: Said
    values: dict[str, Value]
    melt_class: str | None = None
    other_classes: dict[str, dict[str, Value]] = field(default_factory=dict)

    def of_class(self, melt_class: str | None) -> Material:
        """The same with the values of one melting class; of the higher-melting one when it is not said.

        >>> [material("ectfe").of_class(name).value("melt_c") for name in (None, "standard", "low_melt")]
        [242.0, 242.0, 224.0]
        """
        if melt_class is None or melt_class == self.melt_class:
            return self
        if melt_class not in self.other_classes:
            known = [name for name in (self.melt_class, *self.other_classes) if name]
            raise Unknown("melt_class", say("basis.melt_class_unknown", material=self.name, given=melt_class, known=known))
        return replace(self, values=self.values | self.other_classes[melt_class], melt_class=melt_class,
                       other_classes={})

    def melts(self, melt_class: str | None) -> tuple[Value | None, Value | None]:
        """From where to where it may melt: of one class, or of all when it is not said which it is.

        >>> [[limit.value for limit in material("ectfe").melts(name)] for name in (None, "low_melt")]
        [[215.0, 248.0], [215.0, 230.0]]
        """
        classes = [self.of_class(name) for name in ((melt_class,) if melt_class else (None, *self.other_classes))]
        begins = [one.values["melt_from_c"] for one in classes if "melt_from_c" in one.values]
        ends = [one.values["melt_to_c"] for one in classes if "melt_to_c" in one.values]
        return (min(begins, key=lambda one: one.value, default=None), max(ends, key=lambda one: one.value, default=None))

    @property
    def melt_conductivity_w_mk(self) -> float:
        """What the melt conducts: ``MELT_CONDUCTS`` of the solid."""
        return MELT_CONDUCTS * self.value("conductivity_w_mk")

    @property
    def melted_c(self) -> float:
        """Where it is molten through: the end of melting and ``MELTED_ABOVE_K``. Flow and wetting ask for ``fusion_c``."""
        return self.value("melt_to_c") + MELTED_ABOVE_K

    def value(self, what: str) -> float:
        """The number alone; Unknown when this material does not hold it."""
        return self.held(what).value

    def held(self, what: str) -> Value:
        """The value with its source; Unknown when this material does not hold it."""
        self.need(what)
        return self.values[what]

    def need(self, *asked: str) -> None:
        """Unknown when one or more of these properties are not held: which, and what to ask the maker."""
        lacking = [what for what in asked if what not in self.values]
        if lacking:
            raise Unknown(lacking[0], say(
                "basis.material_property_unknown", kind=self.kind, material=self.name, keys=lacking,
                lacking=[PROPERTIES[what].called if what in PROPERTIES else what for what in lacking]))


@cache
def materials() -> dict[str, Material]:
    """All materials by key."""
    return load_materials(_FILE.read_text(encoding="utf-8"))


def material(key: str, *, kind: str | None = None) -> Material:
    """One material by key. An unknown name is refused with a list of the known ones; no nearest guess."""
    held = {k: m for k, m in materials().items() if kind is None or m.kind == kind}
    if key not in held:
        noun = kind or "material"
        raise Unknown(noun, say("basis.material_unknown", kind=noun, key=str(key)[:40], known=', '.join(sorted(held))))
    return held[key]


def names(kind: str) -> list[str]:
    """The keys of all metals, or of all polymers, in the order of the file."""
    return [key for key, one in materials().items() if one.kind == kind]


def shown_name(key: str, language: str = "en") -> str | None:
    """What pages and paper call a material: ECTFE, carbon steel, unlegierter Stahl; None for a key that is none."""
    held = materials().get(key)
    return None if held is None else in_language(held.shown, language)


Polymer = Annotated[str, OneOf("polymer", lambda: names("polymer"))]
Metal = Annotated[str, OneOf("metal", lambda: names("metal"))]


def load_materials(text: str) -> dict[str, Material]:
    """Read a materials file.

    Raises
    ------
    Unknown
        A value without source, or a source that sources.toml does not hold, or an unknown property.
    OutOfRange
        A value outside the fence of its property.
    """
    held: dict[str, Material] = {}
    for key, entry in tomllib.loads(text).items():
        if entry.get("kind") not in ("metal", "polymer"):
            raise Unknown(key, say("basis.material_kind_unknown", key=key, kind=entry.get("kind")))
        name = entry.get("name", key)
        said = entry.get("shown", name)
        if not isinstance(said, str) and not (isinstance(said, dict) and isinstance(said.get("en"), str)):
            raise Unknown(key, say("basis.material_name_missing", key=key))
        values = {
            what: _value(key, entry["kind"], what, given)
            for what, given in entry.items()
            if what not in ("name", "kind", "shown", "melt_class", "other_classes")
        }
        others = {
            each: {what: _value(f"{key}.{each}", entry["kind"], what, given) for what, given in those.items()}
            for each, those in entry.get("other_classes", {}).items()
        }
        if "melt_to_c" in values and "fusion_c" not in values:
            values["fusion_c"] = _molten(values["melt_to_c"])
        held[key] = Material(key, name, entry["kind"], said, values, entry.get("melt_class"), others)
    return held


def _molten(end: Value) -> Value:
    """Where no figure of flow and wetting is held, the bond must at least be molten through: end of melting and margin."""
    return Value(end.value + MELTED_ABOVE_K, "own_judgement", sources()["own_judgement"].read, high=end.high, low=end.low,
                 note="no figure of flow and wetting was read: end of melting plus 10 K, molten and no more", derived=True)


def _value(key: str, kind: str, what: str, given: dict[str, Any]) -> Value:
    spot = f"{key}.{what}"
    if what not in PROPERTIES:
        raise Unknown(spot, say("basis.property_not_known", spot=spot, property=what))
    if not isinstance(given, dict) or "value" not in given:
        raise Unknown(spot, say("basis.property_value_missing", spot=spot))
    if not given.get("source"):
        raise Unknown(spot, say("basis.value_without_source", spot=spot))
    if given["source"] not in sources():
        raise Unknown(spot, say("basis.source_not_in_file", spot=spot, source=given['source']))
    unknown = sorted(set(given) - {"value", "source", "where", "at", "note", "low", "high", "read"})
    if unknown:
        raise Unknown(spot, say("basis.keys_unknown", spot=spot, unknown=', '.join(unknown)))
    for part in ("value", "low", "high"):
        if part in given:
            _inside(spot, kind, what, given[part])
    read = given.get("read", sources()[given["source"]].read)
    return Value(
        float(given["value"]), given["source"], read, given.get("where", ""), given.get("at", ""),
        given.get("note", ""), given.get("low"), given.get("high"),
    )


def _inside(spot: str, kind: str, what: str, number: Any) -> None:
    low, high = KIND_FENCES.get((kind, what), PROPERTIES[what][1:])
    if isinstance(number, bool) or not isinstance(number, (int, float)) or not low <= number <= high:
        raise OutOfRange(spot, say("basis.property_out_of_range", spot=spot, number=number, kind=kind, low=low, high=high))
