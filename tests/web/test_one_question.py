"""Is the same job asked the same questions by its folder, at the desk, on its pages and through the API, byte for byte?

The example of the thin edge stands as a job folder, and is entered through the desk by the people of a shop.
"""

import html
import json
import os
import re
from datetime import timedelta

import pytest

from soundedge.job.acts.door import may_at
from soundedge.job.judge import judge_job, with_estimate
from soundedge.job.kinds import Event, body_of
from soundedge.record.canonical import canonical, plain
from soundedge.services.desk import enter, heat_plan
from soundedge.services.desk.may import may_now, may_on
from soundedge.services.desk.state import state

from . import thin_edge
from .installation import new_shop

AT_VOLTAGE = "stated_voltage_v"


@pytest.fixture(scope="module")
def doors(installation):
    """The shop, the job's number, and the job judged from the folder and from the desk's entries."""
    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    shop = new_shop()
    with pytest.MonkeyPatch.context() as patient:  # however slow the machine, the plan gets its estimate
        patient.setattr(heat_plan, "ESTIMATE_WAIT_S", 120)
        number = thin_edge.opened(shop, until="nothing")
    events = thin_edge.on_paper().job.events
    film = next(event for event in reversed(events) if event.kind == "film.measured")
    detector = next(event.body.id for event in events
                    if event.kind == "instrument.listed" and event.body.kind == "holiday_detector")
    body = {"instrument": detector, "voltage_v": 6000, "verified_v": 5950, "grounded": True, "wet": False, "kpa": 99.5,
            "coupon_um": 1200, "coupon_hole_found": True, "travel_m_s": 0.2, "passes": 2}
    at = film.at + timedelta(minutes=4)
    took = enter.enter(shop.data, shop.actor("inspector"), number, [
        {"id": "d2-a1b2c3-900", "kind": "holiday.tested", "at": at.isoformat(), "body": body}], now=at)
    assert took[0]["outcome"] == "stored", took
    tested = Event("holiday-1", "holiday.tested", film.by, at, body_of("holiday.tested", body))
    _, folder = with_estimate([*events, tested], judge_job([*events, tested]))
    return shop, number, folder, state(shop.data, number, estimates=True).outcome


def same(request):
    """The bytes of a request; ids of entries are those of their door."""
    return canonical(plain({key: value for key, value in request.items() if key != "session"}))


def on_page(shop, number, step, attribute, after=""):
    """What a page carries under an attribute, as the browser reads it: the first one after a mark."""
    text = shop.client("inspector").get(f"/jobs/{number}/{step}/").content.decode()
    text = text[text.index(after):] if after else text
    return json.loads(html.unescape(re.search(f' {attribute}="([^"]*)"', text)[1]))


def answered(shop, room, request):
    answer = shop.client("inspector").post(f"/api/v1/ask/{room}", json.dumps(request), content_type="application/json")
    assert answer.status_code == 200, answer.content
    return answer.json()


@pytest.mark.parametrize("step", ["disposition", "hazards", "conditions", "buildup", "heat", "thickness", "holiday"])
def test_folder_and_desk_ask_a_room_the_same(doors, in_installation, step):
    _, _, folder, desk = doors
    asked, here = folder.steps[step].asked, desk.steps[step].asked

    assert asked and [same(one) for one in asked] == [same(one) for one in here]


@pytest.mark.parametrize("step", ["disposition", "hazards", "conditions", "buildup", "heat", "thickness", "holiday"])
def test_the_api_answers_that_question_as_the_record_has_it(doors, in_installation, step):
    """Also where the question comes from a record, whose numbers are texts there."""
    shop, _, _, desk = doors
    for asked, answer in zip(desk.steps[step].asked, desk.steps[step].answers, strict=True):
        if "model" in answer:
            continue  # kept with its entry, not asked again
        assert answered(shop, step, plain_numbers(asked)) == json.loads(json.dumps(answer))


def plain_numbers(request):
    return json.loads(json.dumps(request))


def test_the_page_of_the_film_asks_beside_the_readings_what_the_record_asks(doors, in_installation):
    shop, number, folder, _ = doors
    beside = on_page(shop, number, "thickness", "data-question")["ask"]

    whole = folder.steps["thickness"].asked[0]

    readings = {key: whole[key] for key in ("spots", "correction", "gauge")}
    assert same(beside | readings) == same(whole)


def test_the_page_of_the_test_voltage_asks_what_the_record_asks(doors, in_installation):
    shop, number, folder, _ = doors
    question = on_page(shop, number, "holiday", "data-question")
    session, whole_film = folder.steps["holiday"].asked

    zones = question["ground"] | {"zones": question["zones"]}
    films = [zone["film_um"] for zone in question["zones"]]
    film = {"min": min(one["min"] for one in films), "max": max(one["max"] for one in films)}

    assert same(zones) == same({key: session[key] for key in zones})
    assert same(question["ground"] | {"film_um": film, AT_VOLTAGE: whole_film[AT_VOLTAGE]}) == same(whole_film)


def test_the_page_of_the_heat_asks_what_the_record_asks(doors, in_installation):
    shop, number, folder, _ = doors
    log = next(asked for asked in folder.steps["heat"].asked if "log" in asked)
    plan = folder_plan(folder)

    text = shop.client("technician").get(f"/jobs/{number}/heat/").content.decode()
    carried = {name: json.loads(html.unescape(re.search(f' data-{name}="([^"]*)"', text)[1])) for name in ("log", "plan")}

    assert same(carried["log"] | {"log": log["log"]}) == same(log)
    assert same(carried["plan"]) == same(plan)


def folder_plan(folder):
    from soundedge.job.steps.heat import question

    return question(folder.case, folder.job.last("heat.planned").body, folder.steps["disposition"])


def test_what_is_typed_of_the_air_is_judged_by_the_limits_of_the_record(doors, in_installation):
    shop, number, folder, _ = doors
    asked = folder.steps["conditions"].asked[0]

    beside = on_page(shop, number, "conditions", "data-ask", after='data-kind="air.read"')

    assert beside["limits"] and same(beside["decision"]) == same(asked["decision"])
    for part in ("limits", "limit_sources"):
        assert beside[part] == {key: asked[part][key] for key in beside[part]}


def test_what_is_typed_of_a_solvent_is_judged_as_the_record_does(doors, in_installation):
    shop, number, folder, _ = doors
    used = folder.job.last("solvent.used").body.model_dump(exclude_none=True)

    text = shop.client("technician").get(f"/jobs/{number}/hazards/").content.decode()
    text = text[text.index('data-kind="solvent.used"'):]
    beside = json.loads(html.unescape(re.search(' data-ask="([^"]*)"', text)[1]))

    assert "lel_limit_pct" in beside and same(beside | used) == same(folder.steps["hazards"].asked[-1])


@pytest.mark.parametrize("clock", ["08:47", "11:28", None])
def test_folder_desk_and_api_give_one_answer_before_the_act(doors, in_installation, clock):
    shop, number, folder, _ = doors
    at = None if clock is None else f"{folder.job.events[0].at:%Y-%m-%d}T{clock}:00+00:00"
    query = {} if at is None else {"at": at}
    answer = shop.client("auditor").get(f"/api/v1/jobs/{number}/may", query)
    assert answer.status_code == 200, answer.content
    unsigned = [event for event in folder.job.events if event.kind != "hold_point.signed"]  # as it was entered at the desk
    asked, desk = may_at(unsigned, at).as_plain(), json.loads(json.dumps(may_on(shop.data, number, at=at).as_plain()))

    assert answer.json() == desk
    assert asked["acts"] and (asked["next"], asked["acts"]) == (desk["next"], desk["acts"])


@pytest.mark.parametrize(("key", "value"), [("act", "paint"), ("repair", "Q"), ("at", "soon"),
                                            ("at", "1999-01-01T00:00:00Z")])
def test_what_is_not_known_before_an_act_is_refused_and_never_let_through(doors, in_installation, key, value):
    shop, number, _, _ = doors
    answer = shop.client("technician").get(f"/api/v1/jobs/{number}/may", {key: value})

    assert answer.status_code == 422 and answer.json()["field"] == key


def test_the_page_of_a_job_opens_with_the_answer_before_the_next_act(doors, in_installation):
    shop, number, _, _ = doors
    answer = may_now(shop.data, number)
    text = html.unescape(shop.client("technician").get(f"/jobs/{number}/").content.decode())

    assert answer.acts and str(answer.say) in text
    assert all(str(sentence) in text for _, sentence in answer.each)
    assert answer.say.text("de") != str(answer.say)
