"""The question about one film, as it comes through the door."""

import copy
import json

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
    "stated_voltage_v": 4900,
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

    pd = 1.01325 * 0.88   # bar·mm
    streamer = 1000 * pd * (2.165 + (0.2873 + 9.15 / (1.6053 * pd)) ** 0.5)
    # 3 % for the tables' class, saturated air of 20 °C (17.3 g/m³) for the humidity that nobody read
    assert found.air_gap_v == pytest.approx(streamer * 1.03 * 1.0176, rel=3e-4)
    assert [round(one.voltage_v) for one in found.models] == [3935, 4179, 4235]
    assert found.proven_from_v == pytest.approx(1000 * (24.22 * 0.088 + 6.08 * 0.088**0.5), rel=1e-12)
    assert found.low_v == found.air_gap_v
    assert found.high_v == pytest.approx(0.5 * 20 * 620)
    assert found.window_empty is False
    assert found.stated.position == "inside"
    assert found.stated.of_air_gap_pct == pytest.approx(100 * 4900 / found.air_gap_v)
    assert found.stated.stress_kv_mm == pytest.approx(4900 / 620)
    assert (found.method, found.verdict) == ("high_voltage", "conforms")


def test_no_finding_of_a_film_claims_a_probability():
    """Nobody states an uncertainty of a test voltage: unknown is unknown, and the plain verdict says so."""
    for found in (ask(lel_pct=4), ask(stated_voltage_v=7000, lel_pct=40), ask(film_um={"min": 300, "max": 400},
                                                                         stated_voltage_v=67.5)):
        assert all(one.u is None and one.p_conforms is None for one in found.findings)
    low = next(one for one in ask().findings if one.rule == "test_voltage_low")
    assert low.because.endswith("Its uncertainty is not known: the plain value decides.")
    assert all(one.because.count("uncertainty") <= 1 for one in found.findings)


@pytest.mark.parametrize("film_um, polymer, volts", [
    (635, "pvdf", 3080), (635, None, 3080), (880, "ectfe", 4000), (1270, "pfa", 5500),
])
def test_between_the_lowest_and_the_highest_model_a_coupon_must_tell(film_um, polymer, volts):
    """3080 V over 635 µm and 4000 V over 880 µm lie over 24.22·δd + 6.08·√δd and 4 to 7 % under the IEC 60052 spheres."""
    found = ask(film_um={"min": film_um, "max": film_um}, polymer=polymer, strength=[], stated_voltage_v=volts)

    low = next(one for one in found.findings if one.rule == "test_voltage_low")
    assert (found.verdict, low.verdict, found.stated.position) == ("indeterminate", "indeterminate", "between_models")
    assert found.proven_from_v <= volts < found.low_v
    assert "pinhole" in low.next_move and f"{film_um} µm" in low.next_move


USUAL = [(polymer, film) for polymer in ("pvdf", "ectfe", "etfe", "fep", "pfa", "pe") for film in (600, 635, 760, 1000, 2000)]


@pytest.mark.parametrize("polymer, film_um", USUAL)
def test_usual_film_within_15_percent_gets_one_setting_of_a_detector(polymer, film_um):
    """25 to 80 mil of the usual linings: steps of 50 V and a window at least 5 % wide (common practice, no source)."""
    found = ask(film_um={"min": 0.85 * film_um, "max": 1.15 * film_um}, polymer=polymer, strength=[], stated_voltage_v=None)

    assert found.window_empty is False and found.split == []
    assert found.high_v >= 1.05 * found.low_v
    assert found.suggested_v % 50 == 0 and found.low_v <= found.suggested_v <= found.high_v


def test_pvdf_of_560_to_760_um_has_one_window_from_its_film_and_from_its_plate():
    film = {"min": 560, "max": 760}
    by_film = ask(film_um=film, polymer="pvdf", strength=[])
    by_plate = ask(film_um=film, polymer=None, strength=[{"kv_mm": 10.2, "at_um": 3175}])

    assert by_film.high_v == pytest.approx(0.5 * 20 * 560)              # maker's sheet, 20 kV/mm at 1 mm
    assert by_plate.high_v == pytest.approx(0.5 * 10.2 * 560 * (3175 / 560) ** 0.36)
    for found in (by_film, by_plate):
        assert found.window_empty is False and found.split == [] and found.suggested_v == 4400
        # IEC 60052, 2 cm spheres (from memory): 0.5 mm 2.8 kV, 1 mm 4.7 kV; 3.79 at 0.76 mm between them
        assert found.low_v > 3790
    assert by_plate.strength.estimate and "strength_by_law" in names(by_plate)
    assert "exponents of strength" in by_plate.strength.source


@pytest.mark.parametrize("strength", [[], [{"kv_mm": 260, "at_um": 25.4}], [{"kv_mm": 79, "at_um": 254}],
                                      [{"kv_mm": 260, "at_um": 25.4}, {"kv_mm": 21, "at_um": 3180}]])
def test_14_kv_over_635_um_fep_never_conforms(strength):
    """260 kV/mm of 25 µm film (a maker's bulletin) is no strength of a lining, alone or as the end of a line."""
    found = ask(film_um={"min": 635, "max": 635}, polymer="fep", strength=strength, stated_voltage_v=14_000)
    assert found.verdict != "conforms" and found.stated.position in ("too_high", None)
    thin = ask(polymer=None, strength=[{"kv_mm": 260, "at_um": 25.4}])
    assert thin.high_v is None and thin.verdict == "indeterminate" and "25.4 µm only" in thin.strength.source


def test_a_window_too_narrow_to_set_asks_for_the_lower_end_with_a_coupon_or_the_maker():
    """11.83 kV/mm over 700 to 760 µm: 3.99 to 4.14 kV, 4 % wide; zones 2 V apart are no advice."""
    found = ask(film_um={"min": 700, "max": 760}, polymer=None, strength=[{"kv_mm": 11.83, "at_um": 700}],
                stated_voltage_v=4100)

    assert found.window_empty is False and found.high_v < 1.05 * found.low_v
    assert found.suggested_v is None and found.split == [] and found.verdict == "indeterminate"
    move = next(one.next_move for one in found.findings if one.rule == "window")
    assert move.startswith("Lower end of the window with coupon proof") and "ask the maker" in move


def test_only_the_film_needs_to_be_given():
    found = answer(FORMS, {"film_um": {"min": 620, "max": 880}})

    assert found.high_v is None and found.window_empty is None and found.stated is None
    assert found.verdict == "indeterminate"
    assert "maker's dielectric strength" in found.findings[0].next_move


def test_a_polymer_of_null_with_a_strength_works():
    assert ask(polymer=None).high_v == pytest.approx(6200)


def test_a_known_polymer_without_strength_takes_the_table_and_says_so():
    found = ask(strength=[])

    # 14.5 kV/mm at 3 mm, up with the careful exponent 0.36; 80 kV/mm of 1 mil film says nothing about a lining
    assert found.strength.kind == "held" and found.strength.estimate
    assert found.strength.kv_mm == pytest.approx(14.5 * (3000 / 620) ** 0.36)
    assert "strength_from_table" in names(found)
    assert "second hand" in found.strength.source


def test_neither_polymer_nor_strength_is_never_a_pass():
    for stated in (None, 4900, 50_000):
        found = ask(polymer=None, strength=[], stated_voltage_v=stated)
        assert found.high_v is None
        assert found.verdict == "indeterminate"
        assert found.stated is None or found.stated.position is None
    assert ask(polymer=None, strength=[], stated_voltage_v=2000).verdict == "does_not_conform"


def test_too_low_inside_and_too_high_are_told_apart():
    asked = (3934, 3935, 4437, 4439, 6200, 6201)
    assert [ask(stated_voltage_v=v).stated.position for v in asked] == [
        "too_low", "between_models", "between_models", "inside", "inside", "too_high"
    ]
    assert [ask(stated_voltage_v=v).verdict for v in asked] == [
        "does_not_conform", "indeterminate", "indeterminate", "conforms", "conforms", "does_not_conform"
    ]


def test_a_low_voltage_is_called_void_and_not_passed():
    found = ask(stated_voltage_v=3000)

    low = next(f for f in found.findings if f.rule == "test_voltage_low")
    assert "void, not passed" in low.because
    assert "511 µm" in low.because            # what 3 kV surely bridges at 20 °C, streamer form with 3 % and moist air
    assert low.next_move.startswith("Set 4900 V")


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
    assert ask(procedure={"holiday_v_min": 2000}).low_v == pytest.approx(4438, abs=1)
    assert ask(procedure={"holiday_v_min": 5000}, stated_voltage_v=4900).stated.position == "too_low"
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
    assert rows["Lowest that finds holes"].startswith("4438 V")
    assert rows["Only with a coupon's proof"].startswith("3935 to 4438 V")
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
