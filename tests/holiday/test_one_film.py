"""The question about one film, as it comes through the door."""

import copy
import json
import math

import pytest

from soundedge.basis.errors import BenchError, Contradiction, OutOfRange, Unknown
from soundedge.basis.question import answer, schemas
from soundedge.holiday.ask import FORMS
from soundedge.holiday.rules import rules

COVER = {
    "film_um": {"min": 620, "max": 880},
    "polymer": "ectfe",
    "strength": [{"kv_mm": 20, "at_um": 750}],
    "strength_fraction": 0.5,
    "electrode": "wire_brush",
    "air": {"c": 20, "kpa": 101.325},
    "stated_voltage_v": 4000,
    "state": {"immersed": False, "conductive_filler": False, "wet": False},
}


def ask(**changes):
    request = copy.deepcopy(COVER) | changes
    return answer(FORMS, {key: value for key, value in request.items() if value is not ...})


def names(found):
    return {note.name for note in found.notes}


def failing(found):
    return {finding.rule for finding in found.findings if finding.verdict != "conforms"}


def test_the_window_runs_from_the_thickest_air_gap_to_half_the_strength_of_the_thinnest_film():
    found = ask()

    d_cm = 0.088
    assert found.air_gap_v == pytest.approx(1000 * (24.22 * d_cm + 6.08 * d_cm**0.5), rel=1e-12)
    assert found.low_v == found.air_gap_v
    assert found.high_v == pytest.approx(0.5 * 20 * 620)
    assert found.window_empty is False
    assert found.stated.position == "inside"
    assert found.stated.of_air_gap_pct == pytest.approx(100 * 4000 / found.air_gap_v)
    assert found.stated.stress_kv_mm == pytest.approx(4000 / 620)
    assert (found.method, found.verdict) == ("high_voltage", "conforms")


def test_only_the_film_needs_to_be_given():
    found = answer(FORMS, {"film_um": {"min": 620, "max": 880}})

    assert found.high_v is None and found.window_empty is None and found.stated is None
    assert found.verdict == "indeterminate"
    assert "maker's dielectric strength" in found.findings[0].next_move


def test_a_polymer_of_null_with_a_strength_works():
    assert ask(polymer=None).high_v == pytest.approx(6200)


def test_a_known_polymer_without_strength_takes_the_table_and_says_so():
    found = ask(strength=[])

    # 80 kV/mm at 1 mil and 14.5 kV/mm at 3 mm: a straight line on double logarithmic paper
    slope = (math.log10(14.5) - math.log10(80)) / (math.log10(3000) - math.log10(25.4))
    assert found.strength.kind == "held"
    assert found.strength.kv_mm == pytest.approx(10 ** (math.log10(80) + slope * math.log10(620 / 25.4)))
    assert "strength_from_table" in names(found)
    assert "second hand" in found.strength.source


def test_neither_polymer_nor_strength_is_never_a_pass():
    for stated in (None, 4000, 50_000):
        found = ask(polymer=None, strength=[], stated_voltage_v=stated)
        assert found.high_v is None
        assert found.verdict == "indeterminate"
        assert found.stated is None or found.stated.position is None
    assert ask(polymer=None, strength=[], stated_voltage_v=2000).verdict == "does_not_conform"


def test_too_low_inside_and_too_high_are_told_apart():
    assert [ask(stated_voltage_v=v).stated.position for v in (3934, 3935, 6200, 6201)] == [
        "too_low", "inside", "inside", "too_high"
    ]
    assert [ask(stated_voltage_v=v).verdict for v in (3934, 3935, 6200, 6201)] == [
        "does_not_conform", "conforms", "conforms", "does_not_conform"
    ]


def test_a_low_voltage_is_called_void_and_not_passed():
    found = ask(stated_voltage_v=3000)

    low = next(f for f in found.findings if f.rule == "test_voltage_low")
    assert "void, not passed" in low.because
    assert "616 µm" in low.because            # what 3 kV bridges at 20 °C, 24.22/6.08
    assert low.next_move.startswith("Set 4550 V")


def test_no_stated_voltage_is_not_measured_and_not_passed():
    assert ask(stated_voltage_v=None).verdict == "not_measured"


def test_a_thin_parent_film_that_empties_the_window_is_told_to_split_the_zones():
    found = ask(film_um={"min": 508, "max": 1270})

    assert found.window_empty is True
    assert found.verdict == "does_not_conform"
    window = next(f for f in found.findings if f.rule == "window")
    assert window.next_move.startswith("Split the zones")
    assert found.split[0].from_um == 508 and found.split[-1].to_um == 1270
    assert all(piece.low_v <= piece.high_v for piece in found.split)
    assert [a.to_um for a in found.split[:-1]] == [b.from_um for b in found.split[1:]]


def test_a_film_that_has_no_window_at_all_is_told_to_change_the_method():
    found = ask(strength=[{"kv_mm": 5, "at_um": 750}])

    assert found.window_empty and found.split == []
    assert "Change the method" in next(f for f in found.findings if f.rule == "window").next_move


def test_four_rules_are_always_listed_by_their_names_each_with_a_source():
    found = ask()

    by_name = {one.rule: one for one in found.rules}
    for name in ("525√mil (≤1 mm) / 1250√mil", "1250√mil", "100 V/mil", "4 kV/mm"):
        assert by_name[name].voltage_v > 0
        assert by_name[name].film_um_used == 880
    assert all(one.source and one.edition for one in found.rules)
    assert by_name["525√mil (≤1 mm) / 1250√mil"].voltage_v == pytest.approx(525 * (880 / 25.4) ** 0.5)
    assert by_name["1250√mil"].voltage_v == pytest.approx(1250 * (880 / 25.4) ** 0.5)
    assert by_name["100 V/mil"].voltage_v == pytest.approx(100 * 880 / 25.4)
    assert by_name["4 kV/mm"].voltage_v == pytest.approx(3520)


def test_film_of_500_um_and_less_belongs_to_the_wet_sponge():
    assert ask(film_um={"min": 300, "max": 500}).method == "wet_sponge"
    assert ask(film_um={"min": 300, "max": 500.5}).method == "high_voltage"
    assert ask(film_um={"min": 300, "max": 450}, stated_voltage_v=2500).verdict == "indeterminate"
    assert ask(film_um={"min": 300, "max": 450}, stated_voltage_v=67.5).verdict == "conforms"
    assert ask(film_um={"min": 300, "max": 450}, stated_voltage_v=67.5).stated.position is None


@pytest.mark.parametrize("state", ["conductive_filler", "carbon_black", "antistatic_grade", "wet", "solvent", "immersed"])
def test_a_film_that_cannot_be_tested_is_refused_by_name(state):
    found = ask(state={state: True})

    assert found.method == "not_applicable"
    assert found.verdict == "does_not_conform"
    assert f"state_{state}" in failing(found)
    assert found.suggested_v is None


@pytest.mark.parametrize("state", ["conductive_primer", "fabric_backed"])
def test_a_doubtful_film_is_warned_of_by_name(state):
    found = ask(state={state: True})

    assert found.method == "high_voltage"
    assert found.verdict == "indeterminate"
    assert failing(found) == {f"state_{state}"}


def test_thin_film_once_immersed_keeps_the_sponge_and_its_warning():
    found = ask(state={"immersed": True}, film_um={"min": 300, "max": 450}, stated_voltage_v=67.5)

    assert found.method == "wet_sponge"
    assert "state_immersed" in failing(found)


def test_the_jump_at_1_mm_is_pointed_out_when_the_film_straddles_it():
    assert "straddles_1_mm" in names(ask(film_um={"min": 900, "max": 1100}))
    assert "straddles_1_mm" not in names(ask(film_um={"min": 900, "max": 1000}))
    assert "straddles_1_mm" not in names(ask(film_um={"min": 1001, "max": 1100}))


def test_metric_and_inch_prints_differ_between_1000_and_1016_um():
    assert "metric_and_inch_differ" in names(ask(film_um={"min": 900, "max": 1010}))
    assert "metric_and_inch_differ" not in names(ask(film_um={"min": 900, "max": 1017}))


def test_the_procedures_own_rule_raises_the_lowest_voltage():
    assert ask(procedure={"holiday_v_min": 5000}).low_v == 5000
    assert ask(procedure={"holiday_v_min": 2000}).low_v == pytest.approx(3935, abs=1)
    assert ask(rule="1250√mil").low_v == pytest.approx(7357.57, abs=0.01)
    assert ask(rule="sp0274").window_empty is True
    assert ask(procedure={"holiday_rule": "sp0274"}).low_v == ask(rule="sp0274").low_v
    assert ask(rule="1250√mil").rules[1].governs


def test_a_licensed_table_entered_by_the_shop_governs():
    own = {"rule": "KBW table 3", "edition": "2", "source": "KBW-LP-04, table 3",
           "rows": [{"from_um": 500, "to_um": 800, "voltage_v": 3500}, {"from_um": 800, "to_um": 1000, "voltage_v": 4600}]}
    found = ask(own_rule=own, stated_voltage_v=4200)

    assert found.low_v == 4600
    assert found.rules[0].governs and found.rules[0].voltage_v == 4600
    assert found.stated.position == "too_low"
    assert "KBW table 3" in found.low_from
    silent = ask(own_rule=own, film_um={"min": 620, "max": 1100}, stated_voltage_v=5500)
    assert "governing_rule" in failing(silent) and silent.verdict == "indeterminate"


def test_the_procedures_strength_is_used_and_the_makers_in_the_request_stands_above_it():
    held = {"limits": {"strength_fraction": 0.4}, "strength": {"ectfe": [{"kv_mm": 18, "at_um": 800}]}}

    found = ask(strength=[], strength_fraction=None, procedure=held)
    assert (found.strength.kind, found.high_v) == ("procedure", pytest.approx(0.4 * 18 * 620))
    assert ask(strength_fraction=None, procedure=held).high_v == pytest.approx(0.4 * 20 * 620)
    with pytest.raises(Contradiction):
        ask(procedure=held)


def test_height_above_the_sea_lowers_the_lowest_voltage_and_leaves_the_highest():
    high_up = ask(air={"c": 20, "altitude_m": 1500})

    assert high_up.air.density == pytest.approx(0.8345, abs=0.0005)
    assert high_up.low_v < ask().low_v
    assert high_up.high_v == ask().high_v
    assert "air_density" in names(high_up)


def test_cautions_come_before_every_voltage_and_the_vapour_value_counts():
    text = json.dumps(ask().model_dump(mode="json"))
    keys = list(ask().model_dump())

    assert keys.index("cautions") < min(keys.index(k) for k in ("low_v", "high_v", "suggested_v", "stated"))
    for word in ("pacemaker", "vapour", "charged", "shock"):
        assert word in text
    assert ask(lel_pct=4).verdict == "conforms"
    assert ask(lel_pct=12).verdict == "does_not_conform"
    assert "flammable_vapour" in failing(ask(lel_pct=12))


def test_the_sheet_carries_cautions_window_every_rule_and_the_lines_to_fill_in():
    found = ask()
    rows = {label: text for part in found.sheet["sections"] for label, text in part["rows"]}

    assert found.sheet["cautions"] == found.cautions
    assert rows["Lowest that finds holes"].startswith("3935 V")
    assert rows["Highest that leaves sound film alone"].startswith("6200 V")
    assert sum(one.rule in label for one in found.rules for label in rows) >= len(rules())
    assert rows["Voltage measured at the electrode (V)"] == ""
    json.dumps(found.sheet, allow_nan=False)


def test_what_lengthens_the_path_is_an_estimate_beside_and_moves_nothing():
    plain, longer = ask(), ask(path={"lift_off_um": 100, "slant_deg": 30, "roughness_um": 50})

    assert longer.low_v == plain.low_v
    assert longer.estimate.path_um == pytest.approx(880 / 0.8660254 + 150, rel=1e-6)
    assert longer.estimate.path_v > plain.estimate.path_v
    assert plain.estimate.tip_v < plain.low_v
    assert ask(electrode="conductive_rubber").estimate.tip_v is None
    assert {"longer_path", "brush_tips"} <= names(longer)


def test_a_swept_area_weakens_the_estimate_of_the_highest_voltage():
    found = ask(area_m2=1.0)

    assert found.estimate.area_factor == pytest.approx(0.54, abs=0.005)
    assert found.high_v == ask().high_v
    assert ask(area_m2=0.0001).estimate.area_factor == 1.0


BAD = [
    ({"film_um": {"min": 25, "max": 35}}, OutOfRange, "25 mil is 635"),
    ({"film_um": {"min": 880, "max": 620}}, Contradiction, "Swap"),
    ({"film_um": {"min": float("nan"), "max": 620}}, OutOfRange, "finite"),
    ({"film_um": {"min": "620", "max": 880}}, BenchError, "number"),
    ({"film_um": [620, 880]}, BenchError, "film_um"),
    ({"stated_voltage_v": 4}, OutOfRange, "4 kV is 4000 V"),
    ({"polymer": "unobtainium"}, Unknown, "Known"),
    ({"electrode": "comb"}, Unknown, "electrode"),
    ({"air": {"c": 20, "kpa": 1013}}, OutOfRange, "1013 hPa"),
    ({"air": {"kpa": 100, "altitude_m": 100}}, Contradiction, "barometer"),
    ({"strength": [{"kv_mm": 20, "at_um": 750}, {"kv_mm": 19, "at_um": 750}]}, Contradiction, "twice"),
    ({"strength": [{"kv_mm": 80, "at_um": 100}, {"kv_mm": 10, "at_um": 200}]}, Contradiction, "thicker"),
    ({"rule": "no such"}, Unknown, "Known"),
    ({"rule": "sp0274", "own_rule": {"rule": "x", "source": "y", "pieces": [{"factor": 500}]}}, Contradiction, "Keep one"),
    ({"own_rule": {"rule": "x", "source": "y"}}, BenchError, "rows"),
    ({"procedure": {"limits": {"holiday_v_min": -3}}}, OutOfRange, "holiday_v_min"),
    ({"procedure": {"strength": {"ectfe": "much"}}, "strength": []}, BenchError, "strength"),
    ({"procedure": {"holiday_rule": {"rule": "x"}}}, BenchError, "needed"),
    ({"state": {"rusty": True}}, Unknown, "rusty"),
    ({"state": {"wet": "yes"}}, BenchError, "wet"),
    ({"surprise": 1}, Unknown, "surprise"),
]


@pytest.mark.parametrize("change, kind, word", BAD)
def test_bad_input_is_refused_by_name(change, kind, word):
    with pytest.raises(kind) as refused:
        ask(**change)
    assert word in refused.value.message + refused.value.field


def test_both_schemas_can_be_drawn():
    drawn = schemas(FORMS)

    assert "film_um" in json.dumps(drawn["request"])
    assert "window_empty" in json.dumps(drawn["answer"])
