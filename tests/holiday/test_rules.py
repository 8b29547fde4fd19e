"""The published rules, their worked examples, and the shop's own table."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import Unknown
from soundedge.holiday.rules import Rule, load_rules, rule, rules, straddles_jump

# rule, film µm, V, tolerance V. Examples printed in the source or worked apart from its formula.
EXAMPLES = [
    ("two_step_si", 500, 2329, 1),          # GOST 34395-2018: formula and thickness of its example
    ("two_step_si", 1500, 9606, 1),
    ("two_step_si", 1000, 3294, 0.5),
    ("two_step_si", 1001, 7847, 1),
    ("two_step", 500, 2329, 1),
    ("two_step", 1500, 9606, 1),
    ("sp0274", 635, 6250, 0.01),            # 25 mil
    ("sp0274_um", 635, 6300, 0.5),
    ("sp0490", 635, 2625, 0.01),            # 25, 16 and 40 mil
    ("sp0490", 406.4, 2100, 0.01),
    ("sp0490", 1016, 3320, 0.5),
    ("phmsa_high", 406.4, 2400, 0.01),      # printed in the FAQ: 150 V/mil × 16 mil, 125 × 20
    ("phmsa_low", 508, 2500, 0.01),
    ("rubber", 4000, 20_000, 0.01),         # printed in a liner's procedure: 4 mm rubber
    ("rubber_carbon", 4000, 6000, 0.01),
    ("glass_flake", 1500, 2700, 0.01),
    ("manual_high", 635, 2540, 0.01),
    ("manual_low", 635, 825.5, 0.01),
    ("volts_per_mil", 635, 2500, 0.01),
    ("iso_21809", 3000, 25_000, 0.01),      # capped
    ("en_10289", 3000, 20_000, 0.01),
    ("two_step", 1270, 8839, 1),            # a patch of 50 mil
]


@pytest.mark.parametrize("key, film_um, volts, within", EXAMPLES)
def test_worked_examples(key, film_um, volts, within):
    assert rule(key).voltage_v(film_um) == pytest.approx(volts, abs=within)


@given(st.floats(100, 5000))
def test_mil_and_mm_forms_agree_to_one_in_ten_thousand(film_um):
    inch, metric = rule("two_step").voltage_v(film_um), rule("two_step_si").voltage_v(film_um)

    assert metric == pytest.approx(inch, rel=1e-4)


def test_the_micrometre_form_of_sp0274_reads_0_8_percent_above_the_mil_form():
    for film_um in (600, 1000, 3000):
        assert rule("sp0274_um").voltage_v(film_um) / rule("sp0274").voltage_v(film_um) == pytest.approx(1.008, abs=2e-4)


def test_the_jump_at_1_mm_is_2_38():
    two = rule("two_step")

    assert two.voltage_v(1000.0001) / two.voltage_v(1000) == pytest.approx(2.381, abs=0.001)
    assert straddles_jump(999, 1001) and not straddles_jump(900, 1000) and not straddles_jump(1001, 1200)


@given(st.floats(100, 10_000), st.floats(0.001, 0.5))
def test_no_rule_falls_as_film_gets_thicker(film_um, more):
    for one in rules():
        here, there = one.voltage_v(film_um), one.voltage_v(film_um * (1 + more))
        assert here is None or there >= here


def test_every_rule_has_edition_source_and_a_read_mark():
    for one in rules():
        assert one.edition and one.source and one.made_for
        assert "(memory)" in one.source or "(second hand)" in one.source


def test_a_rule_that_was_not_read_gives_no_number():
    assert rule("sp0188").voltage_v(800) is None
    assert rule("coupon").voltage_v(800) is None
    assert rule("g62").range_v == (3400, 35_000)


def test_a_rule_knows_the_film_it_was_made_for():
    assert rule("sp0490").made_for_film(635) and not rule("sp0490").made_for_film(1016)
    assert rule("g62").made_for_film(400)


def test_which_thickness_a_rule_takes():
    assert rule("two_step").film_used_um(620, 880, 750) == 880
    assert rule("sp0274").film_used_um(620, 880, 750) == 750
    assert rule("sp0274").film_used_um(620, 880) == 880
    assert rule("iso_21809").film_used_um(620, 880, 750) == 620


def test_a_shops_table_gives_its_rows_and_nothing_between_them():
    own = Rule.own("T", source="s", rows=[(500, 800, 3000), (900, 1000, 4000)])

    assert [own.voltage_v(t) for t in (499, 500, 800, 850, 900, 1001)] == [None, 3000, 3000, None, 4000, None]


@pytest.mark.parametrize("text, word", [
    ('[x]\nrule="a"\nedition="1"\nsource="nowhere"\ntakes="max"', "nowhere"),
    ('[x]\nrule="a"\nsource="common_practice"\ntakes="max"', "edition"),
    ('[x]\nrule="a"\nedition="1"\nsource="common_practice"\ntakes="most"', "max, nominal or min"),
    ('[x]\nrule="a"\nedition="1"\nsource="common_practice"\ntakes="max"\nvolts=3', "volts"),
    ('[x]\nrule="a"\nedition="1"\nsource="common_practice"\ntakes="max"\nbranch=[{factor=1,power=1,unit="ft"}]', "um, mm"),
])
def test_a_faulty_rule_file_does_not_load(text, word):
    with pytest.raises(Unknown, match=word):
        load_rules(text)
