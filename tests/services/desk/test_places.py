"""At the desk a place that does not fit the part is refused before it is written: what is in a record stays there."""

import pytest

from soundedge.basis.errors import Contradiction
from soundedge.record.replay import replay
from soundedge.record.verify import verify
from soundedge.services.desk import enter, jobs
from soundedge.services.evidence.ledger_place import open_ledger

from . import bench
from .bench import AMARA, INES, NUMBER, ODILE, at, standing

BORE = {"bore_d_mm": 300, "datum": "0° at the arrow, length 0 at the flange face"}


@pytest.fixture
def shop(tmp_path, monkeypatch):
    return bench.a_shop(tmp_path, monkeypatch)


def opened(data, **part):
    given = bench.opening(part=bench.opening()["part"] | {"keep_out": []} | part)
    jobs.open_job(data, ODILE, given, id="open-1", now=at("06:40"))
    return data


def chip(place, number=1, letter="A"):
    return {"id": f"d1-a1b2c3-{number}", "kind": "damage.outlined", "at": at("07:00").isoformat(),
            "body": {"id": letter, "stage": "as_found", "circle_mm": {"d": 12}, "place": place}}


def send(data, *entries):
    return enter.enter(data, INES, NUMBER, list(entries), now=at("08:00"))


def correct(data, actor, entry, field, old, new):
    return enter.correct(data, actor, NUMBER, {"entry": entry, "field": field, "old": old, "new": new,
                                               "because": "read from the wrong line"},
                         id="c-1", at=at("09:00"), on_head=jobs.head(data, NUMBER), now=at("09:00"))


def entry_of(data, kind):
    return next(e.id for e in standing(data).outcome.job.events if e.kind == kind)


def test_damages_across_the_seam_of_a_bore_are_taken_and_are_one_repair(shop):
    data = opened(shop, **BORE)
    answers = send(data, chip({"along_mm": 60, "angle_deg": 359}), chip({"along_mm": 60, "angle_deg": 1}, 2, "B"))
    (repair,) = standing(data).outcome.steps["disposition"].answers[0]["repairs"]

    assert [a["outcome"] for a in answers] == ["stored", "stored"]
    assert repair["members"] == ["A", "B"]


@pytest.mark.parametrize("place, part", [
    ({"along_mm": 60, "clock": "3"}, {}), ({"radius_mm": 60, "clock": "3"}, BORE),
    ({"radius_mm": 60, "clock": "3"}, {"ring_inner_r_mm": 100}), ({"radius_mm": 60, "clock": "3"}, {"ring_outer_r_mm": 50})])
def test_a_place_that_does_not_fit_is_refused_and_the_job_stays_as_it_was(shop, place, part):
    data = opened(shop, **part)
    before = jobs.head(data, NUMBER)
    (answer,) = send(data, chip(place))

    assert answer["outcome"] == "refused" and answer["error"]["field"] == "body.place"
    assert jobs.head(data, NUMBER) == before and standing(data).outcome.verdict


def test_a_correction_of_the_part_that_leaves_a_damage_nowhere_is_refused(shop):
    data = opened(shop, ring_inner_r_mm=50, ring_outer_r_mm=150)
    send(data, chip({"radius_mm": 60, "clock": "3"}))
    before = jobs.head(data, NUMBER)

    with pytest.raises(Contradiction, match="inside the ring"):
        correct(data, AMARA, entry_of(data, "part.identified"), "ring_inner_r_mm", 50, 80)
    assert jobs.head(data, NUMBER) == before
    assert correct(data, AMARA, entry_of(data, "part.identified"), "ring_inner_r_mm", 50, 55)["outcome"] == "stored"


def test_a_correction_of_the_place_is_held_to_the_part(shop):
    data = opened(shop, ring_inner_r_mm=50, ring_outer_r_mm=150)
    send(data, chip({"radius_mm": 60, "clock": "3"}))

    with pytest.raises(Contradiction, match="outside the ring"):
        correct(data, INES, "d1-a1b2c3-1", "place.radius_mm", 60, 600)
    assert correct(data, INES, "d1-a1b2c3-1", "place.radius_mm", 60, 66)["outcome"] == "stored"
    (event,) = standing(data).outcome.job.of("damage.outlined")
    assert event.body.place.radius_mm == 66


@pytest.mark.parametrize("field, new", [("place.clock", "25:00"), ("place.radius_mm", -1), ("place", None)])
def test_a_correction_to_no_place_is_refused_or_leaves_a_job_that_can_be_read(shop, field, new):
    data = opened(shop)
    send(data, chip({"radius_mm": 60, "clock": "3"}))
    old = {"place.clock": "3", "place.radius_mm": 60, "place": {"radius_mm": 60, "clock": "3"}}[field]
    try:
        correct(data, INES, "d1-a1b2c3-1", field, old, new)
    except Exception as refused:  # whatever is said, the record is as it was
        assert getattr(refused, "kind", None) in ("unreadable", "out_of_range", "contradiction")

    assert standing(data).outcome.steps["disposition"].answers


def test_a_pit_corrected_to_not_measured_and_back_leaves_a_record_that_can_be_read(shop):
    """What is corrected from or to *not measured* is written as that, not left out: the record could not be read again."""
    data = opened(shop)
    first = chip({"radius_mm": 60, "clock": "3"})
    first["body"]["pit_depth_mm"] = 0.2
    send(data, first)
    correct(data, INES, "d1-a1b2c3-1", "pit_depth_mm", 0.2, None)

    (event,) = standing(data).outcome.job.of("damage.outlined")
    assert event.body.pit_depth_mm is None

    enter.correct(data, AMARA, NUMBER, {"entry": "d1-a1b2c3-1", "field": "pit_depth_mm", "old": None, "new": 0.3,
                                       "because": "measured it now"},
                  id="c-2", at=at("09:30"), on_head=jobs.head(data, NUMBER), now=at("09:30"))
    (event,) = standing(data).outcome.job.of("damage.outlined")
    assert event.body.pit_depth_mm == 0.3
    with open_ledger(data, make=False) as ledger:
        rules = {rule.name: rule.answer for rule in replay(verify(ledger.record(NUMBER).raw)).rules}
    assert rules["R7"] == "kept"


def test_an_outline_from_a_photo_is_laid_at_its_place_and_refused_where_that_does_not_fit(shop):
    """The photo counts from its own middle; its place says where that lies on the wall."""
    data = opened(shop, **BORE)
    outline, card = bench.taps()
    asked = {"at": at("07:00").isoformat(), "damage": "A", "stage": "as_found", "photo_sha256": bench.photo(data),
             "outline": outline, "card": card}

    refused = enter.damage(data, INES, NUMBER, asked | {"id": "d1-a1b2c3-1", "place": {"clock": "6", "radius_mm": 60}},
                           now=at("08:00"))
    taken = enter.damage(data, INES, NUMBER, asked | {"id": "d1-a1b2c3-2", "place": {"angle_deg": 180, "along_mm": 60}},
                         now=at("08:00"))
    (repair,) = standing(data).outcome.steps["disposition"].answers[0]["repairs"]

    assert (refused["outcome"], refused["error"]["field"], taken["outcome"]) == ("refused", "body.place", "stored")
    assert repair["centroid_mm"] == pytest.approx([60, 3.14159265 * 150], abs=3)
