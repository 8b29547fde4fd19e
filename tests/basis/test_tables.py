"""Does every number of the tables have a source, and does the fence catch a slip?"""

import pytest

from soundedge.basis.errors import OutOfRange, Unknown
from soundedge.basis.materials import load_materials, material, materials, shown_name
from soundedge.basis.sources import cite, load_sources, sources

CELLS = [(m.key, what) for m in materials().values() for what in m.values]
STEEL = '[slip]\nkind = "metal"\nconductivity_w_mk = {{ value = {value}, source = "common_practice" }}'


def test_the_tables_are_not_empty():
    assert len(CELLS) > 10 and len(sources()) > 3


@pytest.mark.parametrize("key, what", CELLS)
def test_every_value_is_cited(key, what):
    value = material(key).held(what)

    assert value.source in sources()
    assert value.read in ("first hand", "second hand", "memory")


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
