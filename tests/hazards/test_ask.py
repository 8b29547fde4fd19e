"""The four questions of the room: verdicts, cautions, and bad input by name."""

import json
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.materials import materials
from soundedge.basis.question import answer, schemas
from soundedge.hazards.ask import FORMS
from soundedge.hazards.cautions import LESSONS

from ..tries import tries

VAPOUR = {"solvent": "acetone", "ml": 6, "space_l": 80, "air_c": 20, "air_changes_per_h": 0, "mixing_factor": 3}
TOUCH = {"surface": "bare_metal", "temperature_c": 58, "contact_s": 1}
FUME = {"polymer": "pvdf", "gun_air_c": 280, "surface_c": 220}
CLOCK = {"permit": {"start": "2031-05-04T08:00:00Z", "end": "2031-05-04T16:00:00Z"}, "now": "2031-05-04T14:40:00Z",
         "hot_work_ended_at": "2031-05-04T14:10:00Z"}
ALL = (VAPOUR, TOUCH, FUME, CLOCK)


def ask(request):
    return answer(FORMS, request)


def finding(found, rule):
    return next(f for f in found.findings if f.rule == rule)


def test_the_worked_wipe_is_98_percent_of_the_lower_limit():
    found = ask(VAPOUR)

    assert found.ppm == pytest.approx(24570, rel=1e-3)
    assert found.lel_pct == pytest.approx(98.3, abs=0.1)
    assert found.lel_limit_pct == 10 and found.minutes_until_limit is None
    assert found.verdict == "does_not_conform"
    assert any("No air is changed" in note for note in found.notes)


def test_with_air_changes_there_is_a_time_and_it_is_in_the_next_move():
    found = ask(VAPOUR | {"air_changes_per_h": 6})

    assert found.minutes_until_limit == pytest.approx(68.6, abs=0.1)
    assert "69 min" in finding(found, "lel_share").next_move
    assert found.minutes_until_exposure_limit > found.minutes_until_limit


def test_a_small_wipe_meets_the_limit_and_still_sends_for_the_meter():
    found = ask(VAPOUR | {"ml": 0.2})

    assert (found.verdict, found.minutes_until_limit) == ("conforms", None)
    assert "Measure" in finding(found, "lel_share").next_move
    assert finding(found, "lel_share").because.startswith("Estimate")


def test_where_it_is_richest_is_cautioned_when_only_there_the_limit_is_passed():
    found = ask(VAPOUR | {"ml": 0.4})

    assert found.lel_pct < 10 < found.richest_lel_pct
    assert any("richest" in caution for caution in found.cautions)


def test_more_than_the_air_can_hold_is_said():
    found = ask(VAPOUR | {"solvent": "xylene", "ml": 60})

    assert found.liquid_remains and found.ppm > found.saturation_ppm
    assert any("stays liquid" in note for note in found.notes)


def test_part_evaporated_counts_its_part_and_says_what_follows():
    found = ask(VAPOUR | {"evaporated_fraction": 0.25})

    assert found.lel_pct == pytest.approx(98.3 / 4, abs=0.1)
    assert found.liquid_remains and any("follow" in note for note in found.notes)


def test_gun_air_above_autoignition_does_not_conform_and_below_is_no_leave_to_heat():
    hot = ask(VAPOUR | {"ml": 0.1, "gun_air_c": 500})
    cool = ask(VAPOUR | {"ml": 0.1, "gun_air_c": 300})

    assert hot.verdict == "does_not_conform" and finding(hot, "autoignition").limit == 465
    assert cool.verdict == "conforms" and "element" in finding(cool, "autoignition").next_move
    assert ask(VAPOUR | {"ml": 0.01, "solvent": "n_heptane", "gun_air_c": 300}).verdict == "does_not_conform"


def test_too_rich_to_burn_is_not_comfort():
    found = ask(VAPOUR | {"ml": 50})

    assert not found.flammable_when_mixed
    assert any("passes through" in caution for caution in found.cautions)


@given(st.floats(0, 1000), st.floats(1, 1e5), st.sampled_from(["acetone", "mek", "toluene", "n_heptane"]))
def test_the_verdict_is_that_of_the_share_against_its_limit(ml, space_l, key):
    found = ask({"solvent": key, "ml": ml, "space_l": space_l})

    assert found.verdict == ("conforms" if found.lel_pct <= 10 else "does_not_conform")
    assert found.richest_ppm >= found.ppm


@pytest.mark.parametrize("temperature_c, verdict", [(58, "conforms"), (64.9, "conforms"), (65, "indeterminate"),
                                                    (69, "indeterminate"), (70, "does_not_conform"),
                                                    (200, "does_not_conform")])
def test_touching_bare_metal_for_a_second(temperature_c, verdict):
    found = ask(TOUCH | {"temperature_c": temperature_c})

    assert (found.burn_threshold_c, found.verdict) == (65, verdict)


def test_a_longer_touch_of_the_same_metal_does_not_conform():
    assert ask(TOUCH | {"contact_s": 60}).verdict == "does_not_conform"


def test_the_thermometers_tolerance_can_take_the_verdict_away():
    assert ask(TOUCH | {"temperature_c": 63, "tol_temperature_k": 3}).verdict == "indeterminate"
    assert ask(TOUCH | {"temperature_c": 61, "tol_temperature_k": 3}).verdict == "conforms"


def test_a_cooling_plate_says_not_before():
    found = ask(TOUCH | {"temperature_c": 250, "contact_s": 28800, "at": "2031-05-04T14:00:00Z",
                         "cooling": {"plate_mm": 10, "air_c": 20}})

    assert found.minutes_until_touch == pytest.approx(74, abs=1)
    assert found.not_before.strftime("%H:%M") == "15:13"
    assert ask(TOUCH | {"contact_s": 28800, "cooling": {"plate_mm": 10, "air_c": 50}}).minutes_until_touch is None


@pytest.mark.parametrize("key", sorted(k for k, m in materials().items() if m.kind == "polymer"))
def test_every_polymer_has_a_fume_threshold_and_a_surface_above_it_does_not_conform(key):
    threshold = ask({"polymer": key, "surface_c": 100}).fume_c

    assert ask({"polymer": key, "surface_c": 100}).verdict == "conforms"
    assert ask({"polymer": key, "surface_c": threshold}).verdict == "does_not_conform"
    assert ask({"polymer": key, "gun_air_c": threshold + 50}).verdict == "indeterminate"


def test_hot_gun_air_over_a_measured_cool_surface_is_a_caution():
    found = ask(FUME | {"gun_air_c": 500})

    assert found.verdict == "conforms"
    assert any("500 °C" in caution for caution in found.cautions)


def test_a_surface_within_the_thermometers_tolerance_of_fume_is_indeterminate():
    assert ask(FUME | {"surface_c": 290, "tol_surface_k": 15}).verdict == "indeterminate"


def test_fast_breakdown_clears_the_place():
    assert any("clear the place" in c for c in ask(FUME | {"surface_c": 400}).cautions)


def test_the_fire_watch_stays_for_an_hour_by_default():
    found = ask(CLOCK)

    assert found.verdict == "does_not_conform"
    assert found.fire_watch_until.strftime("%H:%M") == "15:10" and found.fire_watch_minutes_left == 30
    assert "15:10" in finding(found, "fire_watch").next_move
    assert ask(CLOCK | {"now": "2031-05-04T15:10:00Z"}).verdict == "conforms"
    assert ask(CLOCK | {"limits": {"fire_watch_min": 30}}).verdict == "conforms"


def test_hot_work_after_the_permit_ended_does_not_conform_however_long_it_was_watched():
    late = CLOCK | {"hot_work_ended_at": "2031-05-04T16:05:00Z", "now": "2031-05-04T18:00:00Z"}

    assert finding(ask(late), "hot_work_inside_permit").value == 5
    assert ask(late).verdict == "does_not_conform"


@pytest.mark.parametrize("now, verdict", [("07:59", "does_not_conform"), ("08:00", "conforms"), ("15:59", "conforms"),
                                          ("16:00", "conforms"), ("16:01", "does_not_conform")])
def test_a_permit_is_in_force_between_its_ends(now, verdict):
    found = ask({"permit": CLOCK["permit"], "now": f"2031-05-04T{now}:00Z"})

    assert found.verdict == verdict


def test_an_old_gas_test_and_none_at_all():
    asked = {"permit": CLOCK["permit"], "now": "2031-05-04T14:00:00Z", "limits": {"gas_retest_min_max": 60}}

    assert ask(asked).verdict == "not_measured"
    assert ask(asked | {"gas_tested_at": "2031-05-04T12:30:00Z"}).verdict == "does_not_conform"
    fresh = ask(asked | {"gas_tested_at": "2031-05-04T13:30:00Z"})
    assert fresh.verdict == "conforms" and fresh.gas_test_due_at.strftime("%H:%M") == "14:30"


@pytest.mark.parametrize("request_, kind, field", [
    (VAPOUR | {"solvent": "thinner"}, "unknown", "solvent"),
    (VAPOUR | {"ml": -1}, "out_of_range", "ml"),
    (VAPOUR | {"space_l": 0}, "out_of_range", "space_l"),
    (VAPOUR | {"mixing_factor": 0.5}, "out_of_range", "mixing_factor"),
    (VAPOUR | {"air_changes_per_h": float("inf")}, "out_of_range", "air_changes_per_h"),
    (VAPOUR | {"surface": "bare_metal"}, "unknown", "surface"),
    ({k: v for k, v in VAPOUR.items() if k != "space_l"}, "missing", "space_l"),
    (TOUCH | {"surface": "gold leaf"}, "unknown", "surface"),
    (TOUCH | {"contact_s": 0.2}, "out_of_range", "contact_s"),
    (TOUCH | {"temperature_c": "58"}, "unreadable", "temperature_c"),
    (TOUCH | {"cooling": {"plate_mm": 10, "material": "wood"}}, "unknown", "cooling.material"),
    ({"polymer": "ectfe"}, "missing", ""),
    (FUME | {"polymer": "teflon"}, "unknown", "polymer"),
    (CLOCK | {"hot_work_ended_at": "2031-05-04T15:00:00Z"}, "contradiction", "hot_work_ended_at"),
    (CLOCK | {"permit": {"start": "2031-05-04T16:00:00Z", "end": "2031-05-04T08:00:00Z"}}, "contradiction", "permit"),
    (CLOCK | {"now": "yesterday"}, "unreadable", "now"),
    ({"permit": None, "now": "2031-05-04T15:00:00Z"}, "missing", "permit"),
    ({}, "missing", ""),
    ([], "unreadable", ""),
])
def test_bad_input_is_refused_by_name(request_, kind, field):
    with pytest.raises(BenchError) as refused:
        ask(request_)

    assert (refused.value.kind, refused.value.field) == (kind, field)
    assert refused.value.message


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
    | st.sampled_from([5e-324, 1e-9, 1e7, "9999-12-31T23:59:59Z", "0001-01-01T00:00:00+14:00", "carbon_steel"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@tries(400)
@given(st.data(), st.sampled_from(range(4)), JUNK)
def test_anything_in_any_field_is_answered_or_refused_never_a_traceback(data, which, junk):
    field = data.draw(st.sampled_from(sorted(FORMS[which].request.model_fields)))
    try:
        found = ask(ALL[which] | {field: junk})
    except BenchError as refused:
        assert refused.message
    else:
        json.dumps(found.model_dump(mode="json"), allow_nan=False)


@pytest.mark.parametrize("request_", ALL)
def test_every_answer_is_called_an_estimate_and_names_what_decides(request_):
    found = ask(request_)

    assert found.cautions[0].startswith("Estimate") and "decide" in found.cautions[0]
    assert found.findings and all(f.because and f.next_move and f.source for f in found.findings)


@pytest.mark.parametrize("request_", [*ALL, VAPOUR | {"ml": 0.01}, VAPOUR | {"ml": 500}, TOUCH | {"temperature_c": 20}])
def test_no_answer_uses_the_word_safe(request_):
    assert not re.search(r"\bsafe(ly)?\b", ask(request_).model_dump_json().lower())


def test_the_lessons_name_year_and_dead_and_what_to_do():
    text = " ".join(LESSONS)

    assert "2020" in text and "2007" in text and "heat gun is hot work" in text


def test_the_schemas_are_valid_and_the_answers_fit():
    import jsonschema

    drawn = schemas(FORMS)
    jsonschema.Draft202012Validator.check_schema(drawn["answer"])
    for request_ in ALL:
        jsonschema.validate(request_, drawn["request"])
        jsonschema.validate(ask(request_).model_dump(mode="json"), drawn["answer"])


@pytest.mark.parametrize("ml", [0.1, 6])
def test_a_reckoned_share_of_the_explosive_limit_claims_no_probability(ml):
    found = ask({"solvent": "acetone", "ml": ml, "space_l": 80, "air_c": 20})

    assert [(one.u, one.p_conforms) for one in found.findings if one.rule == "lel_share"] == [(None, None)]
