"""Does every number of the tables have a source, and does the fence catch a slip?"""

import pytest

from soundedge.basis.errors import OutOfRange, Unknown
from soundedge.basis.materials import load_materials, material, materials, shown_name
from soundedge.basis.sources import MARKS, cite, load_sources, sources

CELLS = [(m.key, what) for m in materials().values() for what in m.values]
STEEL = '[slip]\nkind = "metal"\nconductivity_w_mk = {{ value = {value}, source = "common_practice" }}'


def test_the_tables_are_not_empty():
    assert len(CELLS) > 10 and len(sources()) > 3


@pytest.mark.parametrize("key, what", CELLS)
def test_every_value_is_cited(key, what):
    value = material(key).held(what)

    assert value.source in sources()
    assert value.read in MARKS


def test_nothing_but_metal_conducts_like_metal():
    wrong = [m.key for m in materials().values()
             if m.kind == "polymer" and "conductivity_w_mk" in m.values and m.value("conductivity_w_mk") > 0.7]

    assert wrong == []


def test_a_slipped_decimal_is_caught():
    with pytest.raises(OutOfRange, match="slipped decimal"):
        load_materials(STEEL.format(value=4.8))


def test_a_value_without_a_source_does_not_load():
    with pytest.raises(Unknown, match="no source"):
        load_materials('[x]\nkind = "metal"\ndensity_kg_m3 = { value = 7850 }')


def test_a_value_of_a_source_we_do_not_hold_does_not_load():
    with pytest.raises(Unknown, match="does not hold"):
        load_materials('[x]\nkind = "metal"\ndensity_kg_m3 = { value = 7850, source = "hearsay" }')


def test_a_source_without_its_mark_does_not_load():
    with pytest.raises(Unknown, match="must be one of"):
        load_sources('[x]\ntitle = "A book"')


def test_an_unknown_material_is_refused_with_what_we_hold():
    with pytest.raises(Unknown, match="carbon_steel"):
        material("steel_carbn")


def test_a_citation_says_when_the_print_was_not_at_hand():
    assert cite("jcgm_106_2012", "7.3.2").endswith("(memory), 7.3.2")


def test_a_material_is_called_in_the_readers_language():
    assert [shown_name("carbon_steel", language) for language in ("en", "de", "fr")] == [
        "carbon steel", "unlegierter Stahl", "carbon steel"]
    assert shown_name("ectfe", "de") == "ECTFE" and shown_name("unobtainium") is None


def test_a_material_without_an_english_name_does_not_load():
    with pytest.raises(Unknown, match="no English name"):
        load_materials('[x]\nname = "x"\nkind = "polymer"\nshown = { de = "X" }')


def test_a_value_is_cited_with_its_own_mark_and_not_with_its_sources():
    """FEP's fume is PTFE's by likeness: the guide was read, that it holds for FEP was judged."""
    assert material("fep").held("fume_c").cited().endswith("(own judgement)")
    assert "(" not in material("pvdf").held("surface_limit_c").cited().removesuffix(sources()["inrs_plastics"].title)
    assert "(" not in cite("own_judgement") and cite("common_practice") == "common practice, no source"


def test_a_bond_without_a_figure_of_flow_must_at_least_be_molten_through():
    """Copolymer, polyamide and polyethylene: end of melting and 10 K, said to be so; the others have a figure that was read."""
    derived = {one.key for one in materials().values() if one.kind == "polymer" and one.held("fusion_c").derived}

    assert derived == {"pvdf_copolymer", "pa11", "pe"}
    for key in derived:
        one = material(key)
        assert one.value("fusion_c") == one.value("melt_to_c") + 10.0 == one.melted_c
        assert one.held("fusion_c").read == "own judgement" and "no figure" in one.held("fusion_c").note


# INRS, Plastiques, risque et analyse thermique (first hand): compression moulding and drawing of PVDF, start of degradation.
@pytest.mark.parametrize("key, what, low, high", [
    ("pvdf", "fusion_c", 185, 200), ("pvdf", "surface_limit_c", 260, 275), ("pe", "fume_c", 274, 274),
    ("pa11", "fume_c", 200, 200), ("pa11", "toxic_fume_c", 290, 400),
])
def test_what_the_institute_printed_of_plastics_holds(key, what, low, high):
    assert low <= material(key).value(what) <= high


@pytest.mark.parametrize("key", ["pvdf", "pvdf_copolymer", "ectfe", "etfe", "fep", "pfa", "pa11", "pe"])
def test_no_ceiling_lies_above_what_the_polymer_is_processed_at_and_no_fume_starts_above_its_loss_of_mass(key):
    """Mass is lost from 408 °C (PVDF), 274 °C (PE), polyamides 250 to 320 °C; PTFE's fume is hazardous from 330 °C."""
    lost = {"pvdf": 408, "pvdf_copolymer": 408, "pe": 274, "pa11": 320}.get(key, 330)
    one = material(key)

    assert one.value("fume_c") <= lost
    assert one.value("fusion_c") < one.value("surface_limit_c")
    assert one.value("fume_c") < one.value("toxic_fume_c")
