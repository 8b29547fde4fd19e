"""Is a value drawn on the right side of its limit, and is what lies outside told by its shape?"""

import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta

import pytest

from soundedge.report.plots import bar, film_by_spot, film_map, heat, margins, voltages


@pytest.mark.parametrize(
    ("value", "u2", "low", "high"),
    [(687, 16, None, 900), (9.3, 1.0, 3, None), (74, 0, 60, 110), (901, 0, None, 900), (59, 2, 60, 110), (2.5, 0, 3, None),
     (-5.0, 0.5, -20, None), (0.0, 0.0, None, 10.0), (1326, 10, 30, None), (5, 0, 5, 5)],
)
def test_a_value_lies_on_the_same_side_of_its_limit_as_its_number(value, u2, low, high):
    drawn = bar(value, u2, low, high)

    assert 0 <= drawn.at <= 1 and drawn.u >= 0
    for end, at in ((low, drawn.low), (high, drawn.high)):
        assert (end is None) == (at is None)
        if end is not None:
            assert 0 <= at <= 1
            assert (value > end) == (drawn.at > at) and (value < end) == (drawn.at < at)


def test_a_bar_without_a_limit_has_none():
    assert bar(5.0, 0.0, None, None) == bar(7.0, 1.0, None, None)


def test_a_reading_outside_is_a_cross_and_the_thinnest_has_a_ring():
    inside = film_by_spot([("R1", "repair", (1100.0, 1200.0))], low_um=1000.0, high_um=1800.0)
    outside = film_by_spot([("R1", "repair", (940.0, 1200.0, 1900.0))], low_um=1000.0, high_um=1800.0)

    assert (crosses(inside), crosses(outside)) == (0, 2)
    assert inside.count('r="5.2"') == outside.count('r="5.2"') == 1
    assert "at least 1000" in inside and "at most 1800" in inside and ">repair<" in inside


def crosses(svg):
    return svg.count('stroke-width="1.6"')


def test_every_zone_has_its_usable_range_and_its_tick():
    drawn = voltages([("repair", 5885.0, 10721.0, 7900.0), ("overlap", None, None, 7900.0)])

    assert "usable 5.9 to 10.7" in drawn and "usable not known" in drawn
    assert drawn.count('stroke-width="3"') == 2  # the voltage it was tested at


def test_heat_tells_film_and_steel_apart_without_colour():
    drawn = heat([(0, 255.0, "film"), (20, 233.0, "steel"), (45, 262.0, "film")], fusion_c=245.0, surface_c=320.0)

    dots = [one for one in ET.fromstring(drawn).iter("{http://www.w3.org/2000/svg}circle")]
    assert [one.get("fill") for one in dots].count("white") == 2 and len(dots) == 3
    assert "the steel at least 245" in drawn and "film surface at most 320" in drawn


def test_the_map_is_darker_where_it_is_thinner():
    plain = {"x_mm": [0, 10], "y_mm": [0], "step_mm": 10, "film_um": [[1000.0, 1200.0]],
             "readings": [{"x": 0, "y": 0, "film_um": 1000.0}, {"x": 10, "y": 0, "film_um": 1200.0}], "next_readings": []}

    cells = [one.get("fill") for one in ET.fromstring(film_map(plain)).iter("{http://www.w3.org/2000/svg}rect")][:2]

    assert int(cells[0][1:3], 16) < int(cells[1][1:3], 16)


def test_a_text_in_a_drawing_is_only_text_and_the_same_values_give_the_same_bytes():
    spots = [("<b>&", 'x"<script>', (1.0, 2.0))]

    assert ET.fromstring(film_by_spot(spots)) is not None and "<script" not in film_by_spot(spots)
    assert film_by_spot(spots) == film_by_spot(spots)


def test_margins_over_one_moment_and_over_a_night():
    noon = datetime(2031, 5, 4, 12, tzinfo=UTC)

    for points in ([(noon, 4.0)], [(noon, 4.0), (noon, 5.0)], [(noon, 4.0), (noon + timedelta(hours=14), -1.0)]):
        assert "12:00" in margins(points, 3.0)
