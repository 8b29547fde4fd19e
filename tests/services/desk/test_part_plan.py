"""The plan of the part: in the part's own millimetres, readable without colour and without sight."""

import xml.etree.ElementTree as ET

import pytest

from soundedge.services.desk import part_plan
from soundedge.services.desk.part_plan import Mark

SQUARE = [(0.0, 0.0), (40.0, 0.0), (40.0, 40.0), (0.0, 40.0)]
SVG = "{http://www.w3.org/2000/svg}"


def drawn(marks, **more):
    return ET.fromstring(part_plan.svg(marks, name="p", title="The part", desc="Damage A in the middle.", **more))


def test_it_says_in_words_what_it_shows():
    tree = drawn([Mark("found", "A", [SQUARE])])
    assert tree.find(f"{SVG}title").text == "The part" and tree.find(f"{SVG}desc").text.startswith("Damage A")
    assert tree.get("aria-labelledby").split() == [tree.find(f"{SVG}title").get("id"), tree.find(f"{SVG}desc").get("id")]


def test_a_name_with_marks_of_the_page_stays_a_name():
    assert "<script>x" in [one.text for one in drawn([Mark("found", "<script>x", [SQUARE])]).iter(f"{SVG}text")]


def test_up_on_the_part_is_up_on_the_drawing_and_millimetres_are_alike_both_ways():
    tree = drawn([Mark("found", "A", [SQUARE])], box=(-10, -10, 50, 50))
    points = [tuple(map(float, pair.split(","))) for pair in tree.find(f".//{SVG}path").get("d").strip("MZ").split()]
    (x0, y0), (x1, _), (_, y2) = points[:3]
    assert y2 < y0 and x1 > x0
    assert x1 - x0 == pytest.approx(y0 - y2, abs=0.2)


def test_every_sort_has_a_line_of_its_own():
    said = [tuple(sorted(line.items())) for line in part_plan.LINES.values()]
    assert set(part_plan.LINES) == set(part_plan.ORDER) and len(set(said)) == len(said)


def test_a_small_damage_on_a_large_part_is_drawn_closer_too():
    far = Mark("keep_out", "sealing_face", [[(600, 0), (650, 0), (650, 400), (600, 400)]])
    box = part_plan.close_up([Mark("found", "A", [SQUARE]), far])
    assert box is not None and box[0] < 0 and 40 < box[2] < 120
    assert part_plan.close_up([Mark("found", "A", [SQUARE])]) is None
    assert part_plan.close_up([far]) is None


def test_no_style_sheet_and_no_script_is_in_it():
    text = part_plan.svg([Mark("prepared", "A", [SQUARE])], name="p", title="t", desc="d")
    assert "style=" not in text and "<style" not in text and "<script" not in text
