"""The solvent table: strictness, formula weights, and an equation of state from outside."""

import re

import pytest

from soundedge.basis.errors import BenchError
from soundedge.basis.sources import MARKS, sources
from soundedge.hazards.solvents import FENCES, NEEDED, load_solvents, solvent, solvents

ALL = sorted(solvents())
# IUPAC standard atomic weights, abridged, from memory.
WEIGHTS = {"C": 12.011, "H": 1.008, "O": 15.999}
# Names under which CoolProp 7 holds them (Helmholtz equations of state; m-xylene stands for mixed xylene).
COOLPROP = {"acetone": "Acetone", "ethanol": "Ethanol", "toluene": "Toluene", "xylene": "m-Xylene", "n_heptane": "n-Heptane"}
# Perry's handbook, 8th edition, table 2-8, ln p[Pa] = C1 + C2/T + C3 ln T + C4 T^C5: p at 20 °C [kPa], worked with the
# coefficients of an open chemical property library.
PERRY_20_KPA = {"acetone": 24.711, "mek": 9.687, "isopropanol": 4.387, "ethanol": 5.899, "toluene": 2.926,
                "xylene": 0.834, "n_heptane": 4.703, "ethyl_acetate": 9.686}


# NIOSH, the issuer's own pages (first hand): documentation of IDLH values, May 1994, and pocket guide.
NIOSH_PPM = {("n_heptane", "exposure_twa_ppm"): 85, ("n_heptane", "idlh_ppm"): 750, ("ethanol", "exposure_twa_ppm"): 1000,
             ("ethanol", "idlh_ppm"): 3300, ("isopropanol", "idlh_ppm"): 2000, ("ethyl_acetate", "idlh_ppm"): 2000,
             ("toluene", "idlh_ppm"): 500}


@pytest.mark.parametrize("key, what", NIOSH_PPM)
def test_what_the_institute_prints_is_what_stands_here(key, what):
    held = solvent(key).held(what)

    assert held.read == "first hand"
    assert held.value == NIOSH_PPM[key, what]


@pytest.mark.parametrize("key", ["isopropanol", "ethyl_acetate", "acetone"])
def test_where_it_is_set_by_the_explosive_limit_it_is_a_tenth_of_it(key):
    """10 % of 2.0, 2.0 and 2.5 %: catches a slipped unit. Ethanol's 3300 is a tenth of 3.3 %; 3.1 % is held, the unkind one."""
    one = solvent(key)

    assert one.value("idlh_ppm") == pytest.approx(one.value("lel_pct") * 1e3)


@pytest.mark.parametrize("key", ALL)
def test_the_molar_mass_is_the_sum_of_its_formula(key):
    atoms = re.findall(r"([A-Z])(\d*)", solvent(key).formula)
    total = sum(WEIGHTS[a] * int(n or 1) for a, n in atoms)

    assert solvent(key).value("molar_mass_g_mol") == pytest.approx(total, abs=0.02)


@pytest.mark.parametrize("key, name", COOLPROP.items())
def test_density_and_vapour_pressure_agree_with_equations_of_state(key, name):
    """Density at 20 °C within 0.3 %; vapour pressure at 0, 20 and 40 °C within 2 %."""
    from CoolProp.CoolProp import PropsSI

    one = solvent(key)
    assert one.value("density_kg_m3") == pytest.approx(PropsSI("D", "T", 293.15, "P", 101325, name), rel=0.003)
    for c in (0, 20, 40):
        theirs = PropsSI("P", "T", c + 273.15, "Q", 0, name) / 1000
        assert one.vapour_pressure_kpa(c) == pytest.approx(theirs, rel=0.02)


@pytest.mark.parametrize("key, name", COOLPROP.items())
def test_vapour_pressure_outside_the_two_points_stays_within_4_percent(key, name):
    from CoolProp.CoolProp import PropsSI

    for c in (-10, 50):
        assert solvent(key).vapour_pressure_kpa(c) == pytest.approx(
            PropsSI("P", "T", c + 273.15, "Q", 0, name) / 1000, rel=0.04)


@pytest.mark.parametrize("key, kpa", PERRY_20_KPA.items())
def test_vapour_pressure_between_the_two_points_agrees_with_the_handbook(key, kpa):
    assert solvent(key).vapour_pressure_kpa(20) == pytest.approx(kpa, rel=0.025)


def test_acetone_has_180_mmhg_at_20_c():
    """National Toxicology Program record, second hand: 180 mmHg at 20 °C, two figures."""
    assert solvent("acetone").vapour_pressure_kpa(20) / 0.133322 == pytest.approx(180, rel=0.03)


@pytest.mark.parametrize("key", ALL)
def test_at_the_flash_point_the_saturated_vapour_is_near_the_lower_limit(key):
    """Physics ties three columns together: a closed-cup flash point is where the vapour over the liquid first burns, so
    saturation there is of the order of the lower limit (between half and twice and a half)."""
    one = solvent(key)
    at_flash_pct = 100 * one.vapour_pressure_kpa(one.value("flash_c")) / 101.325

    assert 0.5 < at_flash_pct / one.value("lel_pct") < 2.5


@pytest.mark.parametrize("key", ALL)
def test_the_unkind_end_of_every_range_stands_as_the_value(key):
    for what in ("lel_pct", "flash_c", "autoignition_c"):
        held = solvent(key).held(what)
        assert held.low is None or held.value == held.low


@pytest.mark.parametrize("key", ALL)
def test_every_value_has_a_source_a_mark_and_lies_in_its_fence(key):
    one = solvent(key)
    assert set(NEEDED) <= set(one.values)
    for what, held in one.values.items():
        low, high = FENCES[what]
        assert held.source in sources() and held.read in MARKS
        assert low <= held.value <= high
    assert one.value("flash_c") < one.value("autoignition_c")


GOOD = """[x]
formula = "C3H6O"
molar_mass_g_mol = { value = 58.08, source = "iupac_atomic_weights" }
density_kg_m3 = { value = 791, source = "perry_8" }
lel_pct = { value = 2.5, source = "nfpa_497" }
uel_pct = { value = 12.8, source = "nfpa_497" }
flash_c = { value = -20, source = "nfpa_497" }
autoignition_c = { value = 465, source = "nfpa_497" }
vapour_pressure_0_kpa = { value = 9.3, source = "perry_8" }
vapour_pressure_40_kpa = { value = 56, source = "perry_8" }
exposure_twa_ppm = { value = 250, source = "osha_acetone" }
"""


@pytest.mark.parametrize("old, new, words", [
    (', source = "osha_acetone"', "", "no source"),
    ("osha_acetone", "nobody", "does not hold"),
    ("value = 2.5", "value = 25", "slipped decimal"),
    ("value = 791", "value = 0.791", "slipped decimal"),
    ("value = 791", "value = nan", "slipped decimal"),
    ("value = 12.8", "value = 4.0\nlow = 1", None),
    ("lel_pct", "lel_vol", "not a property"),
    ("uel_pct = { value = 12.8", "uel_pct = { value = 12.8, low = 1.0", "slipped decimal"),
    ("flash_c = { value = -20, source = \"nfpa_497\" }\n", "", "has no flash_c"),
    ("value = 250,", "value = 250, colour = 1,", "unknown keys"),
])
def test_a_planted_fault_in_the_table_does_not_load(old, new, words):
    assert load_solvents(GOOD)["x"].value("lel_pct") == 2.5
    assert old in GOOD
    with pytest.raises((BenchError, ValueError)) as refused:
        load_solvents(GOOD.replace(old, new, 1))
    if words:
        assert words in str(refused.value)


def test_other_names_find_the_same_solvent_and_unknown_ones_are_refused():
    assert solvent("2-butanone") is solvent("MEK") is solvent("methyl ethyl ketone")
    with pytest.raises(BenchError, match="safety data sheet"):
        solvent("aceton")


def test_no_name_stands_for_two_solvents():
    names = [n for one in solvents().values() for n in (one.key, *(a for a in one.also if a != one.key))]

    assert len(names) == len(set(names))
