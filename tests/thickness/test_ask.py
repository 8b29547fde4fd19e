"""The film question as the contract has it, and every way to ask it wrong."""

import copy
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer, read
from soundedge.basis.sources import MARKS
from soundedge.thickness.ask import FORMS
from soundedge.thickness.chances import tolerance_factor
from soundedge.thickness.given import FilmRequest
from soundedge.thickness.moments import mean, sd

from ..tries import tries

# A mixer cover of Kelderbeck Basin Works: the mean is good, one reading is not.
COVER = {
    "spots": [
        {"id": "1", "readings_um": [1210, 1190, 1240], "where": "repair"},
        {"id": "2", "readings_um": [1180, 1205, 1260], "where": "overlap"},
        {"id": "3", "readings_um": [1350, 1310, 905], "where": "repair"},
        {"id": "4", "readings_um": [1290, 1300, 1275], "where": "repair"},
        {"id": "5", "readings_um": [1220, 1230, 1215], "where": "parent"},
    ],
    "correction": {"kind": "none", "value_um": 0, "u_um": 0},
    "gauge": {"tol_pct": 3, "tol_um": 0},
    "limits": {"min_um": 1000, "max_um": 1800, "nominal_um": 1100},
    "rules": ["every_reading", "sspc_pa_2", "iso_19840", "ninety_ten"],
    "restriction_level": 3,
    "decision": {"rule": "simple", "probability": 0.95},
}
VALUES = [v for spot in COVER["spots"] for v in spot["readings_um"]]


def ask(**changes):
    return answer(FORMS, {**copy.deepcopy(COVER), **changes})


def test_the_four_rules_disagree_and_one_governs_with_a_reason():
    found = ask()

    assert {name: one.verdict for name, one in found.by_rule.items()} == {
        "every_reading": "does_not_conform", "sspc_pa_2": "conforms", "iso_19840": "conforms",
        "ninety_ten": "does_not_conform"}
    assert found.rules_disagree and found.governing == "every_reading" and found.verdict == "does_not_conform"
    assert "one thin place" in found.governing_because and "905" in found.by_rule["every_reading"].because
    assert found.remeasure == ["3"]


def test_the_contract_may_name_another_rule():
    found = ask(governing="sspc_pa_2")

    assert (found.governing, found.verdict) == ("sspc_pa_2", "conforms") and "names it" in found.governing_because


def test_a_governing_rule_that_was_not_listed_is_judged_too():
    found = ask(rules=["sspc_pa_2"], governing="ninety_ten")

    assert set(found.by_rule) == {"sspc_pa_2", "ninety_ten"} and found.verdict == "does_not_conform"


def test_the_figures_are_the_plain_ones():
    found = ask()

    assert found.n == 15 and found.mean_um == mean(VALUES) and found.sd_um == sd(VALUES) and found.min_um == 905
    assert found.thin_readings == 1
    # P(at most one of fifteen | p) = 5 %; that the gauge's error hides a second is thinkable, but at 5 u
    p = found.thin_fraction_upper_95
    assert (1 - p) ** 15 + 15 * p * (1 - p) ** 14 == pytest.approx(0.05, rel=1e-7)
    # spots that do not differ, and a gauge of 3 %: below what fifteen independent readings without any gauge error would show
    assert found.lower_tolerance_95_95_um < mean(VALUES) - tolerance_factor(15) * sd(VALUES)


def test_the_uncertainty_of_the_mean_is_spots_and_gauge():
    found = ask()
    means = [mean(spot["readings_um"]) for spot in COVER["spots"]]

    by_hand = math.hypot(sd(means) / math.sqrt(5), 0.03 * found.mean_um / math.sqrt(3))
    assert found.u_mean_um == pytest.approx(by_hand, rel=1e-12)
    assert sum(line.share_pct for line in found.budget) == pytest.approx(100)


def test_ten_good_readings_leave_a_quarter_unproven():
    found = answer(FORMS, {"spots": [{"id": str(i), "readings_um": [1200 + i]} for i in range(10)],
                           "limits": {"min_um": 1000}})

    assert found.thin_fraction_upper_95 == pytest.approx(0.258866, abs=1e-6)
    assert any("25.9 %" in line for line in found.proves)
    assert found.more_readings["to_show_thin_share_below_0.05"] == 49


def test_a_correction_is_subtracted_before_anything_else():
    plain, corrected = ask(), ask(correction={"kind": "profile", "value_um": 25, "u_um": 5})

    assert corrected.mean_um == pytest.approx(plain.mean_um - 25) and corrected.min_um == 880
    # 880 is exactly 80 % of 1100 and still allowed
    assert corrected.by_rule["iso_19840"].verdict == "conforms"
    assert [line.name for line in corrected.budget if line.shared] == ["gauge tolerance", "profile"]


def test_the_correction_does_not_average_down():
    many = answer(FORMS, {"spots": [{"id": str(i), "readings_um": [1200, 1201, 1199]} for i in range(300)],
                          "limits": {"min_um": 1000}, "gauge": {"tol_pct": 0, "tol_um": 0},
                          "correction": {"kind": "base_metal_reading", "value_um": 12, "u_um": 4}})

    assert many.u_mean_um >= 4


def test_a_guarded_decision_is_asked_for_never_added():
    spots = [{"id": "1", "readings_um": [1020, 1200, 1210]}]
    simple = ask(spots=spots)
    guarded = ask(spots=spots, decision={"rule": "guarded", "probability": 0.95})

    assert simple.verdict == "conforms" and simple.by_rule["every_reading"].guarded == "indeterminate"
    assert guarded.verdict == "indeterminate" and guarded.by_rule["every_reading"].simple == "conforms"


def test_a_spot_that_was_not_read_is_not_zero():
    spots = [{"id": "1", "readings_um": [1200, 1210, 1190]}, {"id": "2", "readings_um": []}]

    found = ask(spots=spots)

    assert found.verdict == "not_measured" and found.remeasure == ["2"] and found.n == 3


def test_superseded_readings_stand_beside_the_new_ones_with_a_reason():
    spots = [{"id": "1", "readings_um": [1200, 1210, 1190, 1205, 1203], "superseded_um": [240],
              "superseded_because": "Probe lifted off the edge; measured again."}]
    found = ask(spots=spots)
    assert found.superseded == 1 and any("1 readings were repeated" in n for n in found.by_rule["iso_19840"].notes)
    del spots[0]["superseded_because"]
    with pytest.raises(BenchError, match="no reason"):
        ask(spots=spots)


def test_readings_alike_within_a_spot_are_worth_less():
    apart = answer(FORMS, {"spots": [{"id": str(i), "readings_um": [1000 + 50 * i, 1001 + 50 * i, 1002 + 50 * i]}
                                     for i in range(6)], "limits": {"min_um": 900}})

    assert apart.readings_worth == pytest.approx(6, abs=0.1)
    assert any("worth about 6.0 at different places" in line for line in apart.proves)
    # six spots of one reading each would say as much, up to the little that differs within a spot
    single = answer(FORMS, {"spots": [{"id": str(i), "readings_um": [1001 + 50 * i]} for i in range(6)],
                            "limits": {"min_um": 900}})
    assert apart.thin_fraction_upper_95 == pytest.approx(single.thin_fraction_upper_95, abs=0.005)
    assert apart.lower_tolerance_95_95_um == pytest.approx(single.lower_tolerance_95_95_um, abs=2)
    assert apart.more_readings["to_show_thin_share_below_0.05"] == pytest.approx(
        single.more_readings["to_show_thin_share_below_0.05"], abs=1)


def test_limits_by_the_wrong_unit_are_refused_both_ways():
    with pytest.raises(BenchError, match="look like mil") as bad:
        ask(spots=[{"id": "1", "readings_um": [43.3, 44.0, 47.1]}])
    assert bad.value.kind == "out_of_range"
    with pytest.raises(BenchError, match="look like mm"):
        ask(spots=[{"id": "1", "readings_um": [1.2, 1.1, 1.25]}])
    with pytest.raises(BenchError, match="limits"):
        ask(limits={"min_um": 52, "max_um": 70})
    with pytest.raises(BenchError, match="check the unit"):
        ask(limits={"min_um": 40})


def test_one_reading_in_mil_among_micrometres_is_measured_again_not_dropped():
    found = ask(spots=[{"id": "1", "readings_um": [1200, 1210, 47.6, 1190, 1200]}])

    assert found.n == 5 and found.min_um == 47.6 and found.remeasure == ["1"]
    assert "unit" in {note.check for note in found.sanity}


@pytest.mark.parametrize("change, kind", [
    ({"spots": []}, "not_enough"),
    ({"spots": [{"id": "1", "readings_um": []}]}, "not_enough"),
    ({"spots": [{"id": "1", "readings_um": [-3]}]}, "out_of_range"),
    ({"spots": [{"id": "1", "readings_um": [float("nan")]}]}, "out_of_range"),
    ({"spots": [{"id": "1", "readings_um": [float("inf")]}]}, "out_of_range"),
    ({"spots": [{"id": "1", "readings_um": ["1200"]}]}, "unreadable"),
    ({"spots": [{"id": "1", "readings_um": [True]}]}, "unreadable"),
    ({"spots": [{"id": "1", "readings_um": [1200]}, {"id": "1", "readings_um": [1200]}]}, "contradiction"),
    ({"spots": [{"id": "1", "readings_um": [1200], "where": "roof"}]}, "unknown"),
    ({"spots": [{"id": "1", "readings_um": [1200], "colour": "red"}]}, "unknown"),
    ({"spots": {"id": "1"}}, "unreadable"),
    ({"limits": {}}, "missing"),
    ({"limits": {"min_um": 1900, "max_um": 1800}}, "contradiction"),
    ({"correction": {"kind": "none", "value_um": 12}}, "contradiction"),
    ({"correction": {"kind": "both", "value_um": 12}}, "unknown"),
    ({"rules": []}, "missing"),
    ({"restriction_level": 6}, "out_of_range"),
    ({"restriction_level": 2.5}, "out_of_range"),
    ({"decision": {"rule": "guarded", "probability": 1.0}}, "out_of_range"),
    ({"gauge": {"tol_pct": -1}}, "out_of_range"),
])
def test_a_bad_request_is_refused_by_name(change, kind):
    with pytest.raises(BenchError) as bad:
        ask(**change)

    assert bad.value.kind == kind and bad.value.message.endswith((".", "?"))


def test_from_a_record_numbers_are_decimal_strings():
    raw = json.loads(json.dumps(COVER), parse_int=str, parse_float=str)

    found = answer(FORMS, raw, from_record=True)

    assert found.mean_um == ask().mean_um


junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3), max_leaves=6)


@tries(250)
@given(st.sampled_from(sorted(FilmRequest.model_fields)), junk)
def test_no_bad_field_ends_in_a_traceback(field, value):
    try:
        answer(FORMS, {**copy.deepcopy(COVER), field: value})
    except BenchError as bad:
        assert bad.message


@tries(120)
@given(st.sampled_from(["map", "thin_spot_d_mm", "counts_for_m2", "risk", "block_minima_um", "table"]),
       st.dictionaries(st.sampled_from(["outline_mm", "repair", "step_mm", "min_um", "mean_um", "sd_um", "u_um", "unit",
                                        "columns", "blocks_in_all", "range_mm", "miss", "typed"]), junk, max_size=4), junk)
def test_no_bad_request_of_any_form_ends_in_a_traceback(mark, rest, value):
    try:
        answer(FORMS, {mark: value, **rest})
    except BenchError as bad:
        assert bad.message


@tries(60)
@given(st.lists(st.lists(st.floats(0, 20_000), min_size=1, max_size=4), min_size=1, max_size=4),
       st.sampled_from(["simple", "guarded"]))
def test_any_readings_give_an_answer_that_json_can_hold(spots, rule):
    raw = {"spots": [{"id": str(i), "readings_um": s} for i, s in enumerate(spots)],
           "limits": {"min_um": 1000, "nominal_um": 1100, "max_um": 1800}, "decision": {"rule": rule}}
    try:
        found = answer(FORMS, raw)
    except BenchError:
        return
    text = json.dumps(found.model_dump(mode="json"), allow_nan=False)
    assert found.u_mean_um >= 0 and 0 <= found.thin_fraction_upper_95 <= 1 and "safe" not in text


def test_the_answer_names_each_rules_edition_and_how_it_was_come_by():
    for one in ask().by_rule.values():
        assert one.edition and one.source and one.read in MARKS


def test_a_request_is_read_strictly():
    with pytest.raises(BenchError, match="not a key"):
        read(FilmRequest, {**COVER, "verdict": "conforms"})


def test_a_bad_spot_of_known_place_is_searched_about():
    spots = [{"id": "1", "readings_um": [700, 710, 690], "x": 100, "y": 50}, {"id": "2", "readings_um": [1200, 1210, 1190]}]

    found = ask(spots=spots)

    assert {s.about for s in found.search} == {"1"} and len(found.search) == 8
    assert (found.search[0].x, found.search[0].y) == (1600, 50)
    assert ask().search == []


def one_rule(readings, **changes):
    return ask(spots=[{"id": "1", "readings_um": readings}], limits={"min_um": 1000}, rules=["every_reading"], **changes)


@pytest.mark.parametrize("readings, gauge, verdict", [
    ([1100, 1120], {"range_max_um": 1000}, "indeterminate"),
    ([1100, 1120], {"range_max_um": 1110}, "indeterminate"),
    ([1100, 1120], {"range_max_um": 1120}, "conforms"),
    ([1100, 1120], {"range_min_um": 1110, "range_max_um": 2000}, "indeterminate"),
    ([1100, 900], {"range_max_um": 1000}, "does_not_conform"),
])
def test_a_reading_the_gauge_cannot_take_is_no_measurement(readings, gauge, verdict):
    found = one_rule(readings, gauge=gauge)

    assert found.verdict == verdict
    assert (verdict == "indeterminate") == ("gauge's own range" in found.by_rule["every_reading"].because)


def test_the_range_of_a_gauge_is_of_what_it_shows():
    profile = {"kind": "profile", "value_um": 25, "u_um": 5}

    beyond = one_rule([1110, 1120], correction=profile, gauge={"range_max_um": 1100})
    assert beyond.verdict == "indeterminate"
    assert any(note.check == "gauge_range" and "1110 " in note.because for note in beyond.sanity)
    within = one_rule([1110, 1120], correction=profile, gauge={"range_min_um": 1100})
    assert within.verdict == "conforms" and not any(note.check == "gauge_range" for note in within.sanity)


def test_a_parent_reading_beyond_the_gauge_leaves_the_rule_for_the_repair_alone():
    spots = [{"id": "r", "readings_um": [1100] * 2 + [1120] * 3}, {"id": "o", "readings_um": [1110] * 4, "where": "overlap"},
             {"id": "p", "readings_um": [1600] * 4, "where": "parent"}]
    found = ask(spots=spots, limits={"min_um": 1000}, rules=["every_reading", "small_repair"], gauge={"range_max_um": 1500})

    assert found.by_rule["every_reading"].verdict == "indeterminate"
    assert found.by_rule["small_repair"].verdict == "conforms"


def test_parent_readings_alone_prove_nothing_of_the_repair_and_say_so():
    found = ask(spots=[{"id": "1", "readings_um": [1100, 1150, 1120], "where": "parent"}], limits={"min_um": 1000},
                rules=["every_reading"])

    assert found.verdict == "conforms"
    assert any("nobody read the repair" in caution for caution in found.cautions)
    assert any(said.startswith("Nothing about the repair") for said in found.proves)
    assert not any("parent" in text for text in ask().cautions + ask().proves)


def test_a_thin_parent_ring_beside_a_sound_repair_is_told_apart():
    found = ask(spots=[{"id": "1", "readings_um": [1100, 1150]}, {"id": "2", "readings_um": [700], "where": "parent"}],
                limits={"min_um": 1000}, rules=["every_reading"])

    assert found.verdict == "does_not_conform"
    assert any("Only the parent lining reads below 1000" in caution for caution in found.cautions)


SPOT = {"id": "1", "readings_um": [1100, 1120]}


@pytest.mark.parametrize("changes, kind, field, words", [
    ({"spots": [{"id": str(i), "readings_um": []} for i in range(20_001)]}, "out_of_range", "spots", "20001 spots"),
    ({"uncertainty": [{"name": str(i), "u_um": 1} for i in range(101)]}, "out_of_range", "uncertainty", "101 terms"),
    ({"spots": [SPOT | {"superseded_um": [900] * 199_999, "superseded_because": "slipped"}]}, "out_of_range", "spots",
     "200001 readings"),
    ({"spots": [{"id": "1", "readings_um": [500, 520, 510]}], "limits": {"min_um": 400},
      "correction": {"kind": "profile", "value_um": 600}}, "contradiction", "correction.value_um", "no film"),
    ({"gauge": {"range_min_um": 5000, "range_max_um": 100}}, "contradiction", "gauge", "holds no film"),
    ({"gauge": {"range_max_um": 0}}, "contradiction", "gauge", "holds no film"),
    ({"spots": [{"id": "1", "readings_um": [1100, 43.3, 45]}], "limits": {"min_um": 1000}}, "out_of_range", "spots",
     "their median is 45)"),
    ({"spots": [SPOT | {"x": 5}]}, "contradiction", "spots[0]", "has x and no y"),
    ({"spots": [SPOT | {"y": 5}]}, "contradiction", "spots[0]", "has y and no x"),
    ({"uncertainty": [{"name": "a", "u_um": 10}, {"name": "a ", "u_um": 10}]}, "contradiction", "", "added twice"),
])
def test_what_contradicts_itself_or_has_no_end_is_refused(changes, kind, field, words):
    with pytest.raises(BenchError) as refused:
        ask(**changes)

    assert (refused.value.kind, refused.value.field) == (kind, field)
    assert words in refused.value.message


def test_two_spots_at_one_place_are_noted():
    spots = [SPOT | {"x": 5, "y": 6}, SPOT | {"id": "2", "x": 5, "y": 6}, SPOT | {"id": "3", "x": 5, "y": 7}]
    found = ask(spots=spots)

    assert [note.spots for note in found.sanity if note.check == "same_place"] == [["1", "2"]]


def test_a_spot_read_until_it_fits_is_a_caution():
    def said(n):
        spot = SPOT | {"superseded_um": [900] * n, "superseded_because": "slipped"}
        return [caution for caution in ask(spots=[spot]).cautions if "read until it fits" in caution]

    assert not said(2)  # read again once, as after building up
    assert "3 readings were replaced by 2" in said(3)[0]
