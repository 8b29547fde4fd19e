"""What the desk lines up for the pages of repair work, on the mixer cover of the examples."""

import threading
from datetime import timedelta
from pathlib import Path

import pytest

from soundedge.basis.errors import NotEnough, OutOfRange, Unknown
from soundedge.basis.sentences import Sentence
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.services.ask import ask
from soundedge.services.desk import dangers, drawings, heat_plan, laying
from soundedge.services.folder.contents import read_folder

COVER = Path(__file__).parents[3] / "examples" / "mixer-cover"


@pytest.fixture(scope="module")
def outcome():
    return judge_job(events_of(read_folder(COVER, tell=lambda line: None).sheet), estimates=False)


def without(outcome, *kinds):
    return judge_job([event for event in outcome.job.events if event.kind not in kinds], estimates=False)


def test_every_reading_stands_in_the_log_with_the_margin_the_room_gives_for_it(outcome):
    rows = drawings.air_rows(outcome)

    assert [row.air_c for row in rows] == [19.8, 20.4, 21.0]
    for row in rows:
        said = ask("conditions", {"air_c": row.air_c, "rh_pct": row.rh_pct, "steel_c": row.steel_c})
        assert row.margin_k == pytest.approx(said["dew_margin_k"])
        assert row.margin_worst_k == pytest.approx(said["dew_margin_worst_k"])
    assert [row.state for row in rows] == ["", "good", "good"]


def test_the_question_while_typing_is_judged_by_the_limits_of_the_procedure(outcome):
    said = ask("conditions", drawings.asking_air(outcome) | {"air_c": 21.4, "rh_pct": 63, "steel_c": 16})

    assert said["verdict"] == "does_not_conform"
    assert said["findings"][0]["source"] == "KBW-LP-04, clause 6.1"
    assert drawings.asking_air(outcome)["decision"]["rule"] == outcome.case.procedure.decision.rule


def test_the_surface_alone_is_judged_without_air(outcome):
    measured = {"profile_um": [74], "salts": {"rise_us_cm": 6, "volume_ml": 15}}
    said = ask("conditions", drawings.asking_surface(outcome) | measured)

    assert {finding["rule"] for finding in said["findings"]} == {
        "soluble_salts",
        "profile_min",
        "profile_max",
        "dust_rating",
        "dust_size",
    }
    assert said["salts_mg_m2"] == pytest.approx(36.0)
    assert said["verdict"] == "does_not_conform"


def test_the_clock_of_the_preparation_ends_with_the_first_layer(outcome):
    told = drawings.prepared(outcome)

    assert told["minutes"] == 75.0 and told["limit_min"] == 240.0
    assert drawings.prepared(without(outcome, "surface.prepared")) == {}
    assert drawings.prepared(without(outcome, "layer.fused"))["first_layer_at"] is None


def test_there_is_no_air_chart_without_air(outcome):
    assert drawings.air_chart(outcome)[:4] == b"<svg"
    with pytest.raises(Unknown):
        drawings.air_chart(without(outcome, "air.read"))


def test_the_watch_lasts_as_long_as_the_procedure_asks_even_when_less_was_written(outcome):
    ended = outcome.job.last("hot_work.ended")
    short = [event for event in outcome.job.events if event is not ended]
    from dataclasses import replace

    hasty = replace(ended, body=ended.body.model_copy(update={"fire_watch_until": ended.at + timedelta(minutes=10)}))
    told = dangers.clocks(judge_job([*short, hasty], estimates=False))

    assert told["ended"]["watch_until"] == ended.at + timedelta(minutes=60)
    assert dangers.clocks(outcome)["ended"]["watch_until"] == ended.body.fire_watch_until


def test_an_end_of_heat_before_the_last_layer_starts_no_watch(outcome):
    from dataclasses import replace

    ended = outcome.job.last("hot_work.ended")
    early = replace(ended, at=outcome.job.first_layer_at() - timedelta(minutes=1))
    events = [event for event in outcome.job.events if event is not ended]

    assert dangers.clocks(judge_job([*events, early], estimates=False))["ended"] is None


def test_every_caution_of_the_room_is_handed_on_whole():
    from soundedge.hazards import cautions

    words = {value for name, value in vars(cautions).items() if name.isupper() and isinstance(value, str)}
    assert words == set(dangers.cautions())
    assert dangers.lessons() == cautions.LESSONS


def test_fume_is_said_of_this_polymer_with_and_without_a_plan(outcome):
    assert dangers.fume(outcome)["fume_c"] == 330.0
    assert dangers.fume(outcome)["verdict"] == "indeterminate"
    assert dangers.fume(without(outcome, "heat.planned"))["verdict"] == "not_measured"


def test_placements_are_said_from_the_middle_of_the_bare_spot(outcome):
    (repair,) = laying.repairs(outcome)

    assert repair.centre == pytest.approx((-60, 35), abs=0.01)
    assert [place.order for place in repair.places] == list(range(1, len(repair.places) + 1))
    assert [place.ring for place in repair.places] == sorted(place.ring for place in repair.places)
    for place, said in zip(repair.places, repair.answer["placements"], strict=True):
        assert (place.right_mm - 60, place.up_mm + 35) == pytest.approx((said["x"], said["y"]), abs=0.01)


def test_another_outline_is_another_plan(outcome):
    from dataclasses import replace

    (repair,) = laying.repairs(outcome)
    moved = replace(repair, places=(replace(repair.places[0], x=repair.places[0].x + 1), *repair.places[1:]))

    assert repair.name == laying.repairs(outcome)[0].name != moved.name


def test_drawings_are_there_for_each_repair_and_no_other(outcome):
    assert laying.drawing(outcome, 1, "plan").startswith(b"<svg") and laying.drawing(outcome, 1, "section").startswith(b"<svg")
    for number, which in ((0, "plan"), (2, "plan"), (1, "photo")):
        with pytest.raises(Unknown):
            laying.drawing(outcome, number, which)


def test_the_planner_is_asked_for_the_layers_of_the_buildup(outcome):
    request = heat_plan.plan_request(outcome)

    assert request["plan"] == {"layers": 5}
    assert request["gun"]["air_c"] == 520 and request["part_start_c"] == 180 and request["spot_d_mm"] == 35
    assert ask("heat", {key: value for key, value in request.items() if key != "plan"})["fusion_c"] == 245


def waited(planner, asked):
    planner._pool.shutdown(wait=True)
    return asked


def test_a_plan_is_worked_out_once_and_found_by_its_name_in_its_shop_and_job_only(tmp_path):
    done = []
    planner = heat_plan.Planner(lambda request: done.append(request) or {"because": "it passes"})
    asked = planner.start(tmp_path, "J-1", {"gun": {}})
    assert planner.start(tmp_path, "J-1", {"gun": {}}) is asked
    waited(planner, asked)

    assert (asked.state, asked.answer, len(done)) == ("done", {"because": "it passes"}, 1)
    assert planner.look(tmp_path, "J-1", asked.id) is asked
    for data, job in ((tmp_path / "other", "J-1"), (tmp_path, "J-2")):
        with pytest.raises(Unknown):
            planner.look(data, job, asked.id)


def test_a_plan_that_is_refused_says_why_and_can_be_asked_again(tmp_path):
    def refuse(request):
        raise OutOfRange("gun", Sentence("test.gun", "The gun is no gun.", {}))

    planner = heat_plan.Planner(refuse)
    asked = waited(planner, planner.start(tmp_path, "J-1", {"gun": {}}))
    assert (asked.state, asked.why) == ("failed", "The gun is no gun.")

    planner._pool = None
    assert planner.start(tmp_path, "J-1", {"gun": {}}) is not asked
    planner._pool.shutdown(wait=True)


def test_only_so_many_plans_wait_and_one_is_worked_out_at_a_time(tmp_path):
    go, running, most = threading.Event(), [], []

    def slow(request):
        running.append(1)
        most.append(len(running))
        go.wait(10)
        running.pop()
        return {}

    planner = heat_plan.Planner(slow)
    for number in range(heat_plan.WAITING_MAX):
        planner.start(tmp_path, "J", {"gun": {"n": number}})
    with pytest.raises(NotEnough, match="Try again"):
        planner.start(tmp_path, "J", {"gun": {"n": "one more"}})
    go.set()
    planner._pool.shutdown(wait=True)
    assert max(most) == heat_plan.WORKERS


def test_without_a_recorded_gun_there_is_nothing_to_plan(outcome, tmp_path):
    with pytest.raises(NotEnough, match="Record the heat plan"):
        heat_plan.Planner().start(tmp_path, "J", heat_plan.plan_request(without(outcome, "heat.planned")))
