"""The time axis of a job: everything at its moment, idle hours folded, the date at midnight, the shop's own clock, now."""

import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from functools import cache
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.report.strip_axis import IDLE, axis_of
from soundedge.report.strip_marks import LANES, Item, ending_next, items_of
from soundedge.report.time_strip import Look, ends_next, next_svg, strip_svg, time_strip, told

from ..job.sheets import sheet
from ..tries import tries

SVG = "{http://www.w3.org/2000/svg}"
DAY = datetime(2036, 5, 14, tzinfo=UTC)


def at(clock, days=0):
    hour, minute = map(int, clock.split(":"))
    return DAY.replace(hour=hour, minute=minute) + timedelta(days=days)


@cache
def cover():
    return judge_job(events_of(sheet()), estimates=False)


def texts(drawn, name=""):
    return [one.text for one in ET.fromstring(drawn).iter(f"{SVG}text") if not name or name in one.get("class").split()]


def with_class(drawn, name):
    return [one for one in ET.fromstring(drawn).iter() if name in (one.get("class") or "").split()]


# ------------------------------------------------------------------ what is on it


def test_the_whole_job_is_on_it_each_entry_once():
    job, items = cover().job, items_of(cover())
    told_of = {one.entry for one in items if one.entry}
    for kind in ("air.read", "surface.prepared", "solvent.used", "layer.fused", "heat.logged", "permit.issued", "vapour.read",
                 "film.measured", "holiday.tested", "hold_point.signed", "release.signed", "hot_work.ended", "damage.outlined"):
        assert {event.id for event in job.of(kind)} <= told_of, kind
    points = [one.entry for one in items if one.until is None and one.entry]
    assert len(points) == len(set(points))
    assert [LANES.index(one.lane) for one in items] == sorted(LANES.index(one.lane) for one in items)


def test_the_dew_margin_of_every_reading_stands_on_the_air_lane():
    air = [one for one in items_of(cover()) if one.lane == "air" and one.said]
    assert [str(one.said) for one in air] == ["8.9 K", "9.3 K", "9.9 K"] and {one.sort for one in air} == {"dot"}


def test_a_margin_below_the_limit_is_a_cross_and_a_hole_is_one():
    typed = sheet()
    typed["air"][0] |= {"steel_c": 10.0}
    typed["holiday"][0]["holidays"] = [{"x": -60, "y": 35}]
    items = items_of(judge_job(events_of(typed), estimates=False))
    bad = [one for one in items if one.sort == "bad"]
    assert {one.lane for one in bad} == {"air", "readings"}
    assert len(with_class(strip_svg(items, Look()), "ts-bad")) == len(bad) == 2


def test_heat_runs_from_the_first_layer_to_the_end_of_hot_work_and_the_watch_from_there():
    work = [one for one in items_of(cover()) if one.lane == "work" and one.runs]
    ended, layers = cover().job.last("hot_work.ended"), cover().job.of("layer.fused")
    assert [(one.at, one.until) for one in work] == [(layers[0].at, ended.at), (ended.at, ended.body.fire_watch_until)]


def test_what_ends_next_comes_first_and_there_are_three_at_most():
    bars = [Item("heat", at("07:00"), f"b{n}", at(f"{10 + n}:00"), "frame") for n in (3, 1, 2, 0)]
    past = Item("work", at("07:00"), "past", at("08:00"), "done")
    assert [one.said for one in ending_next([*bars, past], at("09:00"))] == ["b0", "b1", "b2"]
    drawn = next_svg([*bars, past], Look(wide_px=358, now=at("09:00")))
    assert texts(drawn) == ["b0 until 10:00", "b1 until 11:00", "b2 until 12:00"]
    wide = [float(one.get("width")) for one in with_class(drawn, "ts-holds")]
    assert wide == sorted(wide) and wide[-1] == pytest.approx(357)
    assert next_svg(bars, Look(now=at("16:00"))) == "" == next_svg(bars, Look()) == ends_next(cover(), Look())


# ------------------------------------------------------------------ where it is


moments = st.lists(st.integers(0, 5 * 24 * 60), min_size=1, max_size=25).map(
    lambda minutes: [DAY + timedelta(minutes=m) for m in minutes])


@tries(200)
@given(moments)
def test_later_is_never_further_left_and_every_long_pause_is_folded(found):
    axis = axis_of([(one, one) for one in found], west=100, east=900, fold=60)
    ordered = sorted(found)
    places = [axis.x(one) for one in ordered]
    assert places == sorted(places) and 100 <= places[0] and places[-1] <= 900 + 1e-6
    long = sum(b - a > IDLE for a, b in pairwise(ordered))
    assert len(axis.folds) == long
    assert axis.stretches[-1].east == pytest.approx(900)


def test_exactly_ninety_minutes_are_not_folded_and_a_minute_more_is():
    assert not axis_of([(at("07:00"), at("07:00")), (at("08:30"), at("08:30"))], west=0, east=500, fold=80).folds
    (fold,) = axis_of([(at("07:00"), at("07:00")), (at("08:31"), at("08:31"))], west=0, east=500, fold=80).folds
    assert fold.east - fold.west == 80


def test_hours_to_scale_outside_a_fold():
    axis = axis_of([(at("07:00"), at("09:00")), (at("15:00"), at("16:00"))], west=0, east=380, fold=80)
    assert axis.x(at("08:00")) - axis.x(at("07:00")) == axis.x(at("16:00")) - axis.x(at("15:00")) == pytest.approx(100)


def test_a_watch_that_runs_is_not_idle_though_nobody_writes():
    items = [Item("work", at("07:00"), "fire watch", at("10:00"), "done", runs=True), Item("readings", at("10:05"), "film")]
    assert "idle" not in strip_svg(items, Look())
    frame = [Item("heat", at("07:00"), "permit", at("18:00"), "frame"), Item("readings", at("17:00"), "film")]
    assert "9 h 56 min idle" in strip_svg(frame, Look())


def test_a_pause_says_its_length_in_words_in_the_readers_language():
    items = [Item("work", at("07:00"), "a"), Item("work", at("09:30"), "b"), Item("work", at("09:30", 3), "c")]
    assert texts(strip_svg(items, Look()), "ts-idle") == ["2 h 26 min idle", "2 days 23 h idle"]
    german = texts(strip_svg(items, Look(said=lambda one: getattr(one, "text", lambda _: one)("de"))), "ts-idle")
    assert german == ["2 h 26 min Ruhe", "2 Tage 23 h Ruhe"]


def test_the_date_stands_at_the_left_and_at_every_midnight_that_is_not_within_a_weekend():
    night = [Item("work", at("21:00"), "heat", at("02:00", 1), "done", runs=True), Item("work", at("06:00", 4), "film")]
    drawn = strip_svg(night, Look())
    assert texts(drawn, "ts-date") == ["14 May 2036", "15 May", "18 May"]
    assert len(with_class(drawn, "ts-midnight")) == 4


def test_the_clock_is_the_shops_and_its_zone_is_named_once():
    items = [Item("work", at("22:30"), "a"), Item("work", at("23:00"), "b")]
    drawn = strip_svg(items, Look(zone=ZoneInfo("Europe/Berlin"), zone_name="Europe/Berlin"))
    assert texts(drawn, "ts-zone") == ["Europe/Berlin"] and "00:30" in texts(drawn, "ts-hour")
    assert texts(drawn, "ts-date") == ["15 May 2036"]
    assert "00:30 a." in [str(one) for one in told(items, Look(zone=ZoneInfo("Europe/Berlin")))]


def test_the_night_the_clocks_go_back_keeps_its_hours_to_scale():
    zone = ZoneInfo("Europe/Berlin")
    night = datetime(2036, 10, 25, 22, tzinfo=UTC)
    axis = axis_of([(night, night + timedelta(hours=6))], west=0, east=600, fold=0)
    assert axis.x(night + timedelta(hours=3)) == pytest.approx(300)
    assert [one.astimezone(UTC) for one in axis.midnights(zone)] == []
    assert axis_of([(night - timedelta(hours=1), night)], west=0, east=1, fold=0).midnights(zone) == [night.astimezone(zone)]


# ------------------------------------------------------------------ now


def test_the_line_for_now_lies_where_the_script_would_put_it():
    items = [Item("work", at("07:00"), "a"), Item("work", at("08:00"), "b")]
    drawn = strip_svg(items, Look(now=at("08:30")))
    root = ET.fromstring(drawn)
    (line,) = with_class(drawn, "ts-now")
    x = float(re.search(r"translate\(([\d.]+)", line.get("transform"))[1])
    spans = [tuple(map(float, one.split(","))) for one in root.get("data-axis").split(";")]
    now = at("08:30").timestamp()
    start, west, end, east = next(one for one in spans if one[0] <= now <= one[2])
    assert x == pytest.approx(west + (now - start) / (end - start) * (east - west), abs=0.2)
    assert "08:30" in texts(drawn)
    assert with_class(strip_svg(items, Look()), "ts-now") == []


# ------------------------------------------------------------------ for everybody


def test_it_has_a_name_and_says_everything_in_words():
    root = ET.fromstring(time_strip(cover(), Look(name="job")))
    assert root.get("role") == "img" and root.get("aria-labelledby") == "job-title job-desc"
    desc = root.find(f"{SVG}desc").text
    assert "09:50 to 10:55 fire watch." in desc and "12:30 released: Tobias Renn." in desc


def test_every_sort_is_told_apart_without_colour():
    drawn = strip_svg([Item("work", at("07:00"), "x", at("08:00") if sort in ("holds", "done", "frame") else None, sort)
                       for sort in ("dot", "tick", "signed", "bad", "holds", "done", "frame")], Look())
    shapes = {}
    for sort in ("dot", "tick", "signed", "bad", "holds", "done", "frame"):
        (one,) = with_class(drawn, f"ts-{sort}")
        parts = [(part.tag, part.get("stroke-dasharray"), part.get("height"), part.get("r")) for part in one.iter()]
        shapes.setdefault(tuple(parts), []).append(sort)
    assert all(len(sorts) == 1 for sorts in shapes.values()), shapes


def test_texts_of_a_lane_do_not_lie_on_each_other():
    items = [Item("readings", at(f"07:{n:02d}"), f"reading {n}") for n in (0, 9, 11, 20, 34, 36, 59)]
    drawn = strip_svg(items, Look())
    said = sorted((float(one.get("x")), len(one.text)) for one in with_class(drawn, "ts-said"))
    assert said and all(x + n * 5 < later for (x, n), (later, _) in pairwise(said))


def test_150_entries_stay_small_and_hostile_names_stay_names():
    items = [Item(LANES[n % 6], at("07:00") + timedelta(minutes=7 * n), "</text><script>x", entry=f"e-{n}") for n in range(150)]
    drawn = strip_svg(items, Look(now=at("09:00", 1)))
    assert len(drawn.encode()) <= 60_000 and "<script" not in drawn and "style=" not in drawn
    assert strip_svg([], Look()) == ""
