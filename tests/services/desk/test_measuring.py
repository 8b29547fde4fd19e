"""Is the question of a page the question of the step, and does a recall find what stands on a gauge?"""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from soundedge.job.judge import judge_job
from soundedge.services.ask import ask
from soundedge.services.desk import measuring, paper
from soundedge.services.desk.entry_fields import fields_of
from tests.web.thin_edge import on_paper


@pytest.fixture(scope="module")
def outcome():
    return on_paper()


def test_the_film_question_with_the_readings_is_the_answer_of_the_step(outcome):
    """As it stood while the film was read: the gauge's check after it did not exist yet."""
    read = outcome.job.last("film.measured")
    as_read = judge_job([one for one in outcome.job.events if one.at <= read.at])
    question, film = measuring.film_question(as_read), read.body
    answer = ask(
        "thickness",
        question["ask"]
        | {
            "spots": [spot.model_dump(exclude_none=True) for spot in film.spots],
            "correction": film.correction.model_dump(),
            "gauge": question["gauges"]["G7"],
        },
    )
    assert answer == outcome.steps["thickness"].answers[0]
    assert (question["min_um"], question["max_um"], question["per_spot"]) == (1000, 1800, 3)


def test_the_zones_of_a_test_are_the_thinnest_and_thickest_corrected_readings(outcome):
    question = measuring.test_question(outcome)
    assert [(z["id"], z["film_um"]) for z in question["zones"]] == [
        ("repair", {"min": 872, "max": 1333}),
        ("overlap", {"min": 1325, "max": 1375}),
        ("parent", {"min": 1205, "max": 1259}),
    ]
    free, stated = measuring.windows(question), measuring.windows(question, 3000)
    assert free["verdict"] == "not_measured" and stated["zones"][0]["stated"]["position"] == "too_low"
    assert [z["low_v"] for z in free["zones"]] == [z["low_v"] for z in stated["zones"]]
    assert len(measuring.whole_film(question)["rules"]) > 10


def test_no_map_smooths_over_a_low_reading(outcome):
    assert outcome.steps["thickness"].verdict == "does_not_conform" and measuring.map_of(outcome) is None


def test_drawings_are_the_same_bytes_twice_and_run_nothing(outcome):
    question = measuring.test_question(outcome)
    for draw in (lambda: measuring.readings_svg(outcome), lambda: measuring.window_svg(question, 6300)):
        one = draw()
        assert one == draw() and b"<script" not in one and one.startswith(b"<svg")


def test_the_small_map_holds_every_repair_with_a_margin(outcome):
    plan = measuring.ground_plan(outcome)
    left, bottom, width, height = plan["box"]
    for shape in plan["shapes"]:
        assert all(left < x < left + width and bottom < y < bottom + height for x, y in shape["footprint"])


def test_every_place_read_before_is_to_be_read_again(outcome):
    spots = outcome.job.last("film.measured").body.spots
    assert [one["id"] for one in measuring.places_read(outcome)] == [spot.id for spot in spots]


def test_the_card_carries_the_number_and_the_limits_of_the_procedure(outcome):
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.card_pdf(outcome))).pages)
    assert "KBW-2026-027" in text and "at least 1000 µm" in text and "at most 40" in text
    bare = "".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.card_pdf(None))).pages)
    assert "KBW-2026-027" not in bare and "1000" not in bare


def test_the_card_asks_every_kind_that_only_adds_but_a_photo():
    from soundedge.services.desk.roles import ADDING

    asked = {kind for section in paper.SECTIONS for kind in section.kinds}
    assert asked == set(ADDING) - {"picture.taken"} and all(fields_of(kind) for kind in asked)
