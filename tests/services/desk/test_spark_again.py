"""The spark test at the desk: a void one made again as the next move says, and thin film by wet sponge beside thick film."""

from datetime import timedelta

import pytest

from soundedge.services.desk import enter, jobs, sign
from soundedge.services.desk import register as reg
from soundedge.services.desk.may import may_on

from .bench import AMARA, DAY, NUMBER, ODILE, PROCEDURE, TOBIAS, WORDS, a_shop, at, opened, play, standing, steps

BEFORE_THE_TEST = next(place for place, step in enumerate(steps()) if step[2] == "holiday.tested")
TEST = steps()[BEFORE_THE_TEST][3]


def made(data, when, number, **values):
    """A test as on the cover's sheet with other values; its answer."""
    said = {"id": f"d2-b2c3d4-{number}", "kind": "holiday.tested", "at": at(when).isoformat(), "body": TEST | values}
    return enter.enter(data, TOBIAS, NUMBER, [said], now=at(when) + timedelta(seconds=20))[0]


def open_rules(data):
    return {block.rule for block in standing(data).outcome.blocked_by}


@pytest.fixture
def shop(tmp_path, monkeypatch):
    return a_shop(tmp_path, monkeypatch)


def test_a_test_below_its_window_made_again_as_the_next_move_says_is_released(shop):
    opened(shop)
    play(shop, upto=BEFORE_THE_TEST)
    made(shop, "12:05", 1, voltage_v=3000, verified_v=3000)
    assert "holiday_void" in open_rules(shop)

    for number, zone in enumerate(("repair", "overlap", "parent"), 2):
        told = next(act for act in may_on(shop, NUMBER, act="spark_on").acts if act.zone == zone)
        volts = float(str(told.first.what).split("Set ")[1].split(" V")[0])
        made(shop, f"12:{10 + number}", number, zones=[zone], voltage_v=volts, verified_v=volts)

    assert open_rules(shop) == {"hold_point_holiday", "release_signed"}
    for what, when in (("holiday", "12:25"), ("release", "12:30")):
        sign.sign(shop, TOBIAS, NUMBER, what=what, meaning="I looked.", passphrase=WORDS["tobias"],
                  on_head=jobs.head(shop, NUMBER), id=f"d2-b2c3d4-{what}", now=at(when))
    assert standing(shop).outcome.verdict == "released"


def test_thin_overlap_by_wet_sponge_is_held_against_its_own_film_and_not_that_of_the_repair(shop):
    thin = PROCEDURE.replace("[limits.film_um_min]\nvalue = 1000", "[limits.film_um_min]\nvalue = 300")
    assert thin != PROCEDURE
    name = reg.propose_procedure(shop, AMARA, thin.replace('edition = "3', 'edition = "4'), because="thin overlap", id="thin-1",
                                 now=DAY)
    reg.approve_procedure(shop, ODILE, name, now=DAY)
    opened(shop)
    play(shop, upto=BEFORE_THE_TEST, skip=lambda kind, body: kind == "film.measured" or body.get("hold_point") == "film")
    film = next(body for _, _, kind, body in steps() if kind == "film.measured")
    spots = [spot | ({"readings_um": [412, 413, 414]} if spot["where"] == "overlap" else {}) for spot in film["spots"]]
    said = {"id": "d2-b2c3d4-f", "kind": "film.measured", "at": at("11:30").isoformat(), "body": film | {"spots": spots}}
    enter.enter(shop, TOBIAS, NUMBER, [said], now=at("11:51"))
    sponge = {"electrode": "wet_sponge", "voltage_v": 67.5, "verified_v": 67.5, "coupon_um": 450}
    made(shop, "12:05", 1, zones=["repair", "parent"])
    made(shop, "12:10", 2, zones=["overlap"], **sponge)

    assert not {"wet_sponge", "holiday_void", "split_zones"} & open_rules(shop)
    overlap = next(act for act in may_on(shop, NUMBER).done if act.act == "spark_on" and act.zone == "overlap")
    assert not {"window", "voltage"} & {point.fact for point in overlap.points}  # of its film signed it speaks elsewhere

    made(shop, "12:15", 3, zones=["repair"], **sponge)
    assert "wet_sponge" in open_rules(shop)
