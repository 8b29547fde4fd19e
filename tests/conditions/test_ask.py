"""The question and the answer of the room: verdicts, what was not measured, and bad input by name."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.quantity import SMALLEST
from soundedge.basis.question import answer, read, schemas
from soundedge.conditions.ask import FORMS, ConditionsRequest
from soundedge.conditions.charts import log_chart
from soundedge.conditions.dew_point import dew_point_c, margin_worst_k

from ..tries import tries

PLAIN = {"air_c": 21.4, "rh_pct": 63, "steel_c": 18.9, "tol_air_k": 0.5, "tol_rh_pct": 2, "tol_steel_k": 0.5,
         "limits": {"dew_margin_k": 3.0, "rh_pct_max": 85}}


def ask(**keys):
    return answer(FORMS, keys)


def finding(found, rule):
    return next(f for f in found.findings if f.rule == rule)


def test_the_worked_example():
    found = ask(**PLAIN)

    assert found.dew_point_c == pytest.approx(14.06, abs=0.01)
    assert found.dew_margin_k == pytest.approx(4.84, abs=0.01)
    assert found.dew_margin_worst_k == pytest.approx(3.38, abs=0.01)
    assert found.verdict == "conforms"


@given(st.floats(5, 35), st.floats(20, 84), st.floats(-2, 10))
def test_the_dew_rule_follows_plain_and_worst_margin(air_c, rh_pct, margin):
    steel_c = dew_point_c(air_c, rh_pct) + margin
    found = ask(**PLAIN | {"air_c": air_c, "rh_pct": rh_pct, "steel_c": steel_c})
    at_worst = margin_worst_k(air_c, rh_pct, steel_c, tol_air_k=0.5, tol_rh_pct=2, tol_steel_k=0.5)
    expected = "conforms" if at_worst >= 3 else "indeterminate" if found.dew_margin_k >= 3 else "does_not_conform"

    assert finding(found, "dew_margin").verdict == expected
    assert found.verdict == expected
    assert found.dew_margin_worst_k == pytest.approx(at_worst)


def test_an_indeterminate_margin_says_what_would_change_it():
    found = ask(**PLAIN | {"steel_c": 17.6})
    dew = finding(found, "dew_margin")

    assert (dew.as_written, dew.verdict) == ("conforms", "indeterminate")
    assert "At worst" in dew.because and "Warm the steel" in dew.next_move


@pytest.mark.parametrize("values, limits, rule", [
    # half-widths of 2 % and 0.5 K: by hand, 84 + 2 > 85; 10.2 - 0.5 < 10; 39.8 + 0.5 > 40
    ({"rh_pct": 84, "steel_c": 30}, {"rh_pct_max": 85}, "relative_humidity"),
    ({"rh_pct": 83.05, "steel_c": 30}, {"rh_pct_max": 85}, "relative_humidity"),
    ({"air_c": 10, "rh_pct": 30, "steel_c": 10.2}, {"steel_c_min": 10}, "steel_temperature_min"),
    ({"steel_c": 39.8}, {"steel_c_max": 40}, "steel_temperature_max"),
])
def test_guarded_every_limit_on_air_and_steel_is_decided_by_the_worst_case(values, limits, rule):
    asked = PLAIN | values | {"limits": {"dew_margin_k": 3.0} | limits}
    guarded = ask(**asked, decision={"rule": "guarded", "probability": 0.95})

    assert finding(guarded, rule).verdict == guarded.verdict == "indeterminate"
    assert "At worst" in finding(guarded, rule).because and "better ones" in finding(guarded, rule).next_move
    assert finding(ask(**asked), rule).verdict == "conforms"  # no guard band is added unasked


@given(st.floats(60, 95), st.floats(0, 5))
def test_guarded_humidity_follows_plain_and_worst_value(rh_pct, tol):
    found = ask(**PLAIN | {"rh_pct": rh_pct, "steel_c": 30, "tol_rh_pct": tol},
                decision={"rule": "guarded", "probability": 0.95})
    expected = "does_not_conform" if rh_pct > 85 else "indeterminate" if rh_pct + tol > 85 else "conforms"

    assert finding(found, "relative_humidity").verdict == expected


def test_guarded_humidity_at_its_tolerance_leaves_an_interval_unknown():
    log = series(("08:00", 20, 84, 28), ("09:00", 20, 84, 28))
    asked = {"series": log, "limits": {"dew_margin_k": 3.0, "rh_pct_max": 85}}

    assert ask(**asked, decision={"rule": "guarded", "probability": 0.95}).intervals[0].state == "unknown"
    assert ask(**asked).intervals[0].state == "good"


def test_steel_below_the_dew_point_is_said_to_be_wet():
    found = ask(**PLAIN | {"steel_c": 13.0})

    assert found.below_dew_point is True
    assert "wet" in finding(found, "dew_margin").because


def test_wet_air_worsens_a_good_margin():
    found = ask(air_c=20, rh_pct=86, steel_c=30, limits={"dew_margin_k": 3, "rh_pct_max": 85})

    assert finding(found, "dew_margin").verdict == "conforms"
    assert found.verdict == "does_not_conform"


def test_without_limits_the_defaults_are_named_as_such():
    found = ask(air_c=21.4, rh_pct=63, steel_c=18.9)

    assert {f.rule: f.limit for f in found.findings} == {"dew_margin": 3.0, "relative_humidity": 85.0}
    assert all("default" in f.source and "second hand" in f.source for f in found.findings)


@pytest.mark.parametrize("limits", [{}, {"dew_margin_k": 3.0}, {"salts_mg_m2_max": None}])
def test_a_limit_that_is_left_out_has_its_default_named_as_such(limits):
    found = ask(air_c=20, rh_pct=95, steel_c=30, limits=limits)

    assert finding(found, "relative_humidity").limit == 85.0
    assert "default" in finding(found, "relative_humidity").source
    assert finding(found, "dew_margin").limit == 3.0
    assert found.verdict == "does_not_conform"


def test_an_explicit_null_is_not_judged_and_said():
    found = ask(air_c=20, rh_pct=95, steel_c=30, limits={"rh_pct_max": None})

    assert [f.rule for f in found.findings] == ["dew_margin"]
    assert any("humidity is null" in note for note in found.notes)

    log = series(("08:00", 20, 60, 12.5), ("09:00", 20, 60, 12.4))
    found = ask(series=log, limits={"dew_margin_k": None},
                operations=[{"name": "wipe", "start": log[0]["at"], "end": log[1]["at"]}])
    assert "dew_margin" not in {f.rule for f in found.findings}
    assert found.intervals[0].state == "good" and found.trend_because is None
    assert found.dew_margin_k == pytest.approx(12.4 - dew_point_c(20, 60))
    assert any("dew point is null" in note for note in found.notes)


def test_the_source_of_a_limit_is_carried_through():
    found = ask(**PLAIN | {"limit_sources": {"dew_margin_k": "KBW-LP-04, clause 4.1"}})

    assert finding(found, "dew_margin").source == "KBW-LP-04, clause 4.1"


def test_a_difference_of_5_f_is_2_78_k():
    found = ask(**PLAIN | {"limits": {"dew_margin_k": 25 / 9}})

    assert finding(found, "dew_margin").limit == pytest.approx(2.7778, abs=1e-4)


def test_cold_steel_brings_a_frost_caution():
    found = ask(air_c=2, rh_pct=70, steel_c=-4.0)

    assert found.frost_point_c > found.dew_point_c
    assert any("Frost settles" in c for c in found.cautions)


def test_hot_steel_is_noted_not_excused():
    found = ask(air_c=20, rh_pct=60, steel_c=240)

    assert any("100 °C" in note and "restart" in note for note in found.notes)


def test_a_limit_that_is_set_and_not_measured_is_not_measured():
    found = ask(**PLAIN | {"limits": {"salts_mg_m2_max": 20, "profile_um_min": 40, "dust_rating_max": 2,
                                      "prep_to_layer_min_max": 240}})

    assert {f.rule for f in found.findings if f.verdict == "not_measured"} == {
        "soluble_salts", "profile_min", "dust_rating", "prep_to_first_layer"}
    assert found.verdict == "not_measured"


def test_the_surface_alone_can_be_asked_and_the_air_is_then_not_measured():
    found = ask(profile_um=[42, 55, 61], limits={"profile_um_min": 40, "profile_um_max": 100})

    assert found.dew_point_c is None and found.profile_mean_um == pytest.approx(52.667, abs=1e-3)
    assert finding(found, "profile_min").verdict == "conforms"
    assert found.verdict == "not_measured"


def test_salts_in_3_ml_stated_as_if_in_15_are_caught():
    test = {"rise_us_cm": 10, "volume_ml": 15, "stated_mg_m2": 12}
    found = ask(**PLAIN | {"salts": test, "limits": {"salts_mg_m2_max": 100}})

    assert found.salts_mg_m2 == pytest.approx(60)
    assert finding(found, "soluble_salts").verdict == "indeterminate"
    assert "five times too low" in finding(found, "soluble_salts").because


def test_salts_above_the_limit_do_not_conform_whatever_was_stated():
    test = {"reading_us_cm": 12, "blank_us_cm": 2, "volume_ml": 15, "stated_mg_m2": 12}
    found = ask(**PLAIN | {"salts": test, "limits": {"salts_mg_m2_max": 20}})

    assert finding(found, "soluble_salts").verdict == "does_not_conform"


@pytest.mark.parametrize("stated, verdict", [(3, "conforms"), (4, "conforms"), (5, "indeterminate"),
                                             (20, "indeterminate"), (21, "does_not_conform")])
def test_a_result_alone_conforms_only_if_it_would_five_times_over(stated, verdict):
    found = ask(**PLAIN | {"salts": {"stated_mg_m2": stated}, "limits": {"salts_mg_m2_max": 20}})

    assert finding(found, "soluble_salts").verdict == verdict


def test_the_preparation_clock_runs_out():
    times = {"prepared_at": "2031-05-04T08:00:00Z", "first_layer_at": "2031-05-04T12:30:00Z"}
    found = ask(**PLAIN | times | {"limits": {"prep_to_layer_min_max": 240}})

    assert found.prep_minutes == 270 and found.prep_minutes_left == -30
    assert finding(found, "prep_to_first_layer").verdict == "does_not_conform"


def series(*rows):
    return [{"at": f"2031-05-04T{hour}:00Z", "air_c": a, "rh_pct": rh, "steel_c": s} for hour, a, rh, s in rows]


def test_a_series_gives_intervals_a_trend_and_the_last_reading_as_now():
    rows = series(("08:00", 18, 60, 17), ("09:00", 19, 62, 17), ("10:00", 20, 64, 17.2))
    found = ask(series=rows[::-1], operations=[
        {"name": "wipe", "start": "2031-05-04T08:10:00Z", "end": "2031-05-04T08:20:00Z"}])

    assert [i.state for i in found.intervals] == ["good", "unknown"]
    assert found.dew_margin_k == pytest.approx(17.2 - dew_point_c(20, 64))
    assert 0 < found.minutes_to_limit < 60
    assert found.trend_k_per_h < 0 and "Straight line" in found.trend_because
    assert found.operations[0].state == "good"


def test_work_done_in_bad_air_does_not_conform_even_when_the_air_is_good_again():
    rows = series(("08:00", 18, 60, 17), ("09:00", 19, 80, 16), ("10:00", 18, 50, 17))
    found = ask(series=rows, operations=[
        {"name": "first layer", "start": "2031-05-04T09:10:00Z", "end": "2031-05-04T09:20:00Z"}])

    assert finding(found, "dew_margin").verdict == "conforms"
    assert found.verdict == "does_not_conform"


def test_an_old_last_reading_does_not_conform():
    found = ask(series=series(("08:00", 18, 60, 17)), now="2031-05-04T11:00:00Z")

    assert finding(found, "reading_age").verdict == "does_not_conform"


@pytest.mark.parametrize("change, kind, field", [
    ({"rh_pct": 106}, "out_of_range", "rh_pct"),
    ({"rh_pct": 0}, "out_of_range", "rh_pct"),
    ({"air_c": 70}, "out_of_range", "air_c"),
    ({"air_c": float("nan")}, "out_of_range", "air_c"),
    ({"air_c": "21"}, "unreadable", "air_c"),
    ({"steel_c": True}, "unreadable", "steel_c"),
    ({"tol_air_k": -0.5}, "out_of_range", "tol_air_k"),
    ({"steel_c": None}, "missing", "steel_c"),
    ({"steel_f": 66}, "unknown", "steel_f"),
    ({"limits": {"dew_margin": 3}}, "unknown", "limits.dew_margin"),
    ({"limits": {"dew_margin_k": "3"}}, "unreadable", "limits.dew_margin_k"),
    ({"limits": {"rh_pct_max": 140}}, "out_of_range", "limits.rh_pct_max"),
    ({"series": []}, "missing", "series"),
    ({"series": series(("08:00", 18, 60, 17), ("08:00", 18, 60, 17))}, "contradiction", "series"),
    ({"operations": [{"name": "a", "start": "2031-05-04T09:00:00Z", "end": "2031-05-04T10:00:00Z"}]}, "missing", "series"),
    ({"prepared_at": "2031-05-04T09:00:00Z"}, "missing", "now"),
    ({"first_layer_at": "2031-05-04T09:00:00Z"}, "missing", "prepared_at"),
    ({"prepared_at": "2031-05-04T09:00:00Z", "now": "2031-05-04T08:00:00Z"}, "contradiction", "now"),
    ({"salts": {"volume_ml": 15}}, "missing", "salts"),
    ({"salts": {"rise_us_cm": 6}}, "missing", "salts"),
    ({"salts": {"reading_us_cm": 6, "volume_ml": 15}}, "missing", "salts"),
    ({"salts": {"reading_us_cm": 6, "blank_us_cm": 9, "volume_ml": 15}}, "contradiction", "salts"),
    ({"salts": {"volume_ml": 15, "rise_us_cm": 3, "area_mm2": 12.5}}, "out_of_range", "salts.area_mm2"),
    ({"dust": {"rating": 2.5}}, "out_of_range", "dust.rating"),
    ({"profile_um": []}, "missing", "profile_um"),
    ({"limit_sources": {"film_um_min": "x"}}, "contradiction", "limit_sources.film_um_min"),
    ({"limits": {"profile_um_min": 100, "profile_um_max": 50}}, "contradiction", "limits"),
    ({"prepared_at": "2031-05-04T08:00:00Z", "now": "2031-05-04T09:00:00Z",
      "first_layer_at": "2031-05-05T08:00:00Z"}, "contradiction", "first_layer_at"),
    ({"profile_um": [2.5, 3.0, 2.8], "limits": {"profile_um_min": 50}}, "out_of_range", "profile_um"),
    ({"profile_um": [2.5, 3.0, 2.8], "limits": {"profile_um_max": 100}}, "out_of_range", "profile_um"),
    ({"profile_um": [50] * 501}, "out_of_range", "profile_um"),
    ({"operations": [{"name": "a", "start": "2031-05-04T09:00:00Z", "end": "2031-05-04T10:00:00Z"}] * 501},
     "out_of_range", "operations"),
    ({"limits": {"steel_c_min": 60, "steel_c_max": 10}}, "contradiction", "limits"),
])
def test_bad_input_is_refused_by_name(change, kind, field):
    with pytest.raises(BenchError) as refused:
        ask(**PLAIN | change)

    assert (refused.value.kind, refused.value.field) == (kind, field)
    assert refused.value.message.endswith((".", "…"))


def test_bad_air_before_a_good_last_reading_is_said():
    rows = series(("08:00", 20, 60, 5), ("09:00", 20, 60, 5), ("10:00", 20, 60, 20))
    found = ask(series=rows)

    assert found.verdict == "conforms"
    assert any("2 of 2 intervals of the log are bad" in note for note in found.notes)
    named = ask(series=rows, operations=[{"name": "wipe", "start": rows[0]["at"], "end": rows[1]["at"]}])
    assert named.verdict == "does_not_conform" and not any("intervals of the log" in n for n in named.notes)


def test_a_reading_beside_a_series_that_ends_otherwise_is_said():
    rows = series(("08:00", 20, 60, 19), ("09:00", 20, 60, 18))

    def said(**keys):
        return [note for note in ask(series=rows, **keys).notes if "given by itself" in note]

    assert len(said(air_c=20, rh_pct=50, steel_c=19)) == 1
    assert not said(air_c=20, rh_pct=60, steel_c=18) and not said()
    assert not said(air_c=20, rh_pct=50, steel_c=19, now="2031-05-04T09:10:00Z")


def test_a_dew_point_beyond_the_formula_is_said():
    found = ask(air_c=20, rh_pct=1e-29, steel_c=20)

    assert found.verdict == "indeterminate"
    assert any("outside the formula's range" in note for note in found.notes)
    assert any("near the end" in note for note in ask(air_c=20, rh_pct=0.8, steel_c=20).notes)
    assert not any("formula" in note for note in ask(air_c=20, rh_pct=40, steel_c=20).notes)


def test_a_smooth_surface_without_a_unit_slip_is_judged():
    assert finding(ask(profile_um=[0, 2, 3], limits={"profile_um_min": 50}), "profile_min").verdict == "does_not_conform"
    assert finding(ask(profile_um=[9, 10], limits={"profile_um_min": 50}), "profile_min").verdict == "does_not_conform"


ZONED, NAIVE = "2031-05-04T09:30:00+02:00", "2031-05-04T10:00:00"


@pytest.mark.parametrize("change", [
    {"series": [{"at": NAIVE, "air_c": 20, "rh_pct": 60, "steel_c": 19},
                {"at": ZONED, "air_c": 20, "rh_pct": 60, "steel_c": 18.5}]},
    {"series": [{"at": ZONED, "air_c": 20, "rh_pct": 60, "steel_c": 19}], "now": NAIVE},
    {"prepared_at": ZONED, "first_layer_at": NAIVE},
    {"series": series(("08:00", 20, 60, 19), ("09:00", 20, 60, 19)),
     "operations": [{"name": "wipe", "start": "2031-05-04T08:10:00", "end": "2031-05-04T08:20:00Z"}]},
])
def test_times_with_and_without_zone_in_one_request_are_refused(change):
    with pytest.raises(BenchError, match="zone") as refused:
        ask(**PLAIN | change)

    assert refused.value.kind == "contradiction"


def test_times_written_one_way_are_read():
    rows = [{"at": f"2031-05-04T{hour}:00", "air_c": 20, "rh_pct": 60, "steel_c": 19} for hour in ("08:00", "09:00")]

    assert ask(series=rows).intervals[0].minutes == 60
    assert ask(series=[row | {"at": row["at"] + "+02:00"} for row in rows], now="2031-05-04T07:10:00Z").verdict


def test_an_empty_request_says_what_to_give():
    with pytest.raises(BenchError, match="air_c"):
        ask()


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
    | st.sampled_from([5e-324, 1e-12, 0.63, 100, -45, 60, "2031-05-04T09:00:00Z", "0001-01-01T00:00:00+14:00"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


@tries(300)
@given(st.sampled_from(sorted(ConditionsRequest.model_fields)), JUNK)
def test_anything_in_any_field_is_answered_or_refused_never_a_traceback(field, junk):
    try:
        found = answer(FORMS, PLAIN | {field: junk})
    except BenchError as refused:
        assert refused.message
    else:
        json.dumps(found.model_dump(mode="json"), allow_nan=False)


@tries()
@given(st.floats(-45, 60), st.floats(SMALLEST, 100), st.floats(-60, 450))
def test_every_honest_reading_is_answered(air_c, rh_pct, steel_c):
    found = answer(FORMS, {"air_c": air_c, "rh_pct": rh_pct, "steel_c": steel_c})

    assert found.dew_margin_worst_k <= found.dew_margin_k + 1e-9
    json.dumps(found.model_dump(mode="json"), allow_nan=False)


def test_a_record_with_decimal_strings_reads_the_same():
    from_record = read(ConditionsRequest, {"air_c": "21.4", "rh_pct": "63", "steel_c": "18.9"}, from_record=True)

    assert from_record == read(ConditionsRequest, {"air_c": 21.4, "rh_pct": 63, "steel_c": 18.9})


def test_the_schemas_are_valid_and_the_answer_fits_its_own():
    import jsonschema

    drawn = schemas(FORMS)
    jsonschema.Draft202012Validator.check_schema(drawn["request"])
    jsonschema.validate(answer(FORMS, PLAIN).model_dump(mode="json"), drawn["answer"])
    jsonschema.validate(PLAIN, drawn["request"])


def test_no_answer_uses_the_word_safe():
    for steel_c in (5, 17.6, 25):
        assert "safe" not in answer(FORMS, PLAIN | {"steel_c": steel_c}).model_dump_json().lower()


def test_the_chart_tells_its_lines_apart_without_colour():
    spec = log_chart([{"at": "2031-05-04T08:00:00Z", "steel_c": 16.0, "dew_point_c": 10.0}], dew_margin_k=3.0)

    assert [v["c"] for v in spec["data"]["values"]] == [16.0, 10.0, 13.0]
    assert "color" not in spec["encoding"] and "strokeDash" in spec["encoding"]


def test_asking_wakes_no_array_library():
    """The ask door of this room stays quick: a fresh process holds neither numpy nor scipy afterwards."""
    import subprocess
    import sys

    code = "import soundedge.conditions.ask, sys; print(sorted({'numpy', 'scipy', 'pandas'} & set(sys.modules)))"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout

    assert out.strip() == "[]"


def test_every_text_that_moved_the_answer_is_named():
    """The limits' texts, the vapour formula, the salts' constant with its patch, and what a profile does not say."""
    found = ask(air_c=21.4, rh_pct=63, steel_c=18.9, salts={"rise_us_cm": 2, "volume_ml": 15}, profile_um=[60, 65, 70],
                dust={"rating": 2, "size": 2})
    said = "\n".join(found.sources)

    assert all(name in said for name in ("WMO-No. 8", "ISO 8502-9", "ISO 8502-6", "ISO 8501-1", "ASTM D4417", "ISO 8502-3"))
    assert all(any(one.source in line for line in found.sources) for one in found.findings)
    assert len(set(found.sources)) == len(found.sources)
    assert not any("WMO" in line for line in ask(dust={"rating": 2, "size": 2}).sources)


def test_salts_typed_without_their_water_have_no_probability():
    """49.8 of 50 mg/m² was printed as p = 1: nobody said how well it is known, so no number does."""
    found = finding(ask(salts={"stated_mg_m2": 49.8}, limits={"salts_mg_m2_max": 50}), "soluble_salts")

    assert (found.u, found.p_conforms, found.verdict) == (None, None, "indeterminate")
