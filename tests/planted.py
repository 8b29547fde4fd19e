"""An entry planted in a file of data, as a person would add it: what was read of the file before is forgotten."""

from pathlib import Path

from soundedge.basis import materials, remembered
from soundedge.services import ask
from soundedge.services.desk import entry_fields
from soundedge.thickness import rule_book

# A polymer with every value, and one of which nobody knows anything.
WHOLE_POLYMER = """
[kelvane]
name = "kelvane (invented)"
shown = { en = "Kelvane", de = "Kelvan" }
kind = "polymer"
density_kg_m3 = { value = 1500, source = "own_estimate" }
melt_from_c = { value = 195, source = "own_estimate" }
melt_c = { value = 205, source = "own_estimate" }
melt_to_c = { value = 212, source = "own_estimate" }
latent_heat_j_kg = { value = 40000, source = "own_estimate" }
heat_capacity_j_kgk = { value = 1300, source = "own_estimate" }
conductivity_w_mk = { value = 0.2, source = "own_estimate" }
fusion_c = { value = 222, source = "own_estimate" }
surface_limit_c = { value = 280, source = "own_estimate" }
fume_c = { value = 310, source = "own_estimate" }
toxic_fume_c = { value = 330, source = "own_estimate" }
emissivity = { value = 0.9, source = "own_estimate" }
degradation_energy_j_mol = { value = 170000, source = "own_estimate" }
dielectric_strength_kv_mm = { value = 12, source = "own_estimate", at = "3000 um" }
relative_permittivity = { value = 3, source = "own_estimate" }
"""
BARE_POLYMER = """
[nobodyknows]
name = "nobody-knows (invented)"
kind = "polymer"
"""
# At most two readings may lie below the nominal film, and none below 85 % of it.
RULE = """
[two_may]
title = { en = "Two readings may be thin", de = "Zwei Messwerte dürfen dünn sein" }
edition = "invented"
source = "own_estimate"
read = "memory"
below = [{ of = "nominal", pct = 85 }, { of = "nominal", count = 2 }]
"""


def plant(monkeypatch, folder: Path, *, polymers: str = "", rules: str = "") -> None:
    """Put entries into copies of the files; the files themselves stay."""
    for module, entries, read in ((materials, polymers, materials.materials), (rule_book, rules, rule_book.rules)):
        if entries:
            file = folder / module._FILE.name
            file.write_text(module._FILE.read_text(encoding="utf-8") + entries, encoding="utf-8")
            monkeypatch.setattr(module, "_FILE", file)
            read.cache_clear()
    entry_fields.fields_of.cache_clear()
    ask.schema.cache_clear()
    remembered.forget()


def forget() -> None:
    """The files as they are, after the test."""
    materials.materials.cache_clear()
    rule_book.rules.cache_clear()
    entry_fields.fields_of.cache_clear()
    ask.schema.cache_clear()
    remembered.forget()
