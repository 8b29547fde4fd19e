"""What a page is given of a part and of a job's time: drawings in the reader's words, and the same as a list."""

import xml.etree.ElementTree as ET
from datetime import UTC, datetime
from functools import cache

from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.services.desk.part_picture import Reader, part_picture
from soundedge.services.desk.time_axis import time_axis

from ...job.sheets import sheet

GERMAN = Reader("de", "us")


@cache
def cover(**part):
    typed = sheet()
    typed["part"] |= part
    return judge_job(events_of(typed), estimates=False)


def test_the_whole_part_and_closer_where_damage_is_small_on_it():
    picture = part_picture(cover(), Reader())
    assert len(picture.shown) == 2
    assert len(part_picture(cover(radius_mm=45), Reader()).shown) == 2  # the sealing face lies far from it
    typed = sheet()
    typed["part"] |= {"radius_mm": 90, "keep_out": []}
    assert len(part_picture(judge_job(events_of(typed), estimates=False), Reader()).shown) == 1


def test_the_list_says_what_lies_where_in_the_readers_language_and_units():
    english, german = part_picture(cover(), Reader()), part_picture(cover(), GERMAN)
    assert "Damage A, bare steel: 10:01, 69 mm from the middle, 687 mm²." in english.lines
    assert any(line.startswith("Schaden A, blanker Stahl: 10:01 Uhr, 2,73 in von der Mitte") for line in german.lines)
    assert len(english.lines) == len(german.lines)


def test_the_key_names_each_sort_that_is_on_it_and_no_other():
    named = [what for _, what in part_picture(cover(), Reader()).key]
    assert named == ["damage as found", "bare steel, as prepared", "footprint with the feather", "no repair here", "film read",
                     "thinnest film", "spark-tested"]


def test_an_earlier_repair_is_called_what_the_page_calls_it():
    with_it = part_picture(cover(), Reader(), earlier=[("1", 50.0, 60.0, 30.0)])
    assert "Earlier repair 1: 1:20, 78 mm from the middle." in with_it.lines and "earlier repair" in [w for _, w in with_it.key]


def test_every_drawing_on_a_page_has_ids_of_its_own():
    picture = part_picture(cover(), Reader(), name="plan")
    seen = [one.get("id") for svg in (*picture.shown, *(svg for svg, _ in picture.key)) for one in ET.fromstring(svg).iter()
            if one.get("id")]
    assert seen and len(seen) == len(set(seen))


def test_a_released_job_has_no_now_and_nothing_that_ends():
    axis = time_axis(cover(), GERMAN, datetime(2026, 5, 4, 9, 15, tzinfo=UTC))
    assert "ts-now" not in axis.whole and "Brandwache" in axis.whole and axis.next == ""


def test_a_job_at_work_has_both():
    typed = sheet()
    del typed["release"]
    axis = time_axis(judge_job(events_of(typed), estimates=False), Reader(), datetime(2026, 5, 4, 10, 15, tzinfo=UTC))
    assert "ts-now" in axis.whole and "fire watch until 10:55" in axis.next
