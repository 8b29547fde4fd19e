"""The window chart is a Vega-Lite v6 spec that draws, black and white, with the verdict in words."""

import json

from soundedge.basis.question import read
from soundedge.holiday.charts import window_chart
from soundedge.holiday.given import FilmRequest


def request(**more):
    return read(FilmRequest, {"film_um": {"min": 620, "max": 880}, "polymer": "ectfe"} | more)


def test_it_draws_and_shows_the_lines_by_name():
    import vl_convert

    spec = window_chart(request(stated_voltage_v=3000), readings_um=[640, 700, 810])
    svg = vl_convert.vegalite_to_svg(json.loads(json.dumps(spec, allow_nan=False)))

    for words in ("finds holes (air gap)", "sound film bears", "1250√mil", "does not conform", "film, µm"):
        assert words in svg


def test_it_uses_no_colour_but_black_and_grey():
    text = json.dumps(window_chart(request(), readings_um=[700]))

    assert not any(colour in text for colour in ("red", "green", "blue", "steelblue", "#"))


def test_it_says_in_words_when_the_window_is_empty_or_open():
    empty = window_chart(request(strength=[{"kv_mm": 5, "at_um": 700}]))
    unknown = window_chart(read(FilmRequest, {"film_um": {"min": 620, "max": 880}}))

    assert "window is empty" in empty["title"]["subtitle"]
    assert "not known" in unknown["title"]["subtitle"]
    assert all(one["line"] != "sound film bears" for one in unknown["layer"][0]["data"]["values"])


def test_it_says_from_where_on_a_coupon_proves_a_setting():
    """The lowest of the gap models over 880 µm, 24.22·δd + 6.08·√δd: 3.93 kV."""
    assert "from 3.93 kV with a coupon's proof" in window_chart(request())["title"]["subtitle"]


def test_the_window_in_the_chart_is_the_window_of_the_answer():
    spec = window_chart(request())
    box = spec["layer"][4]["data"]["values"][0]
    low = [one for one in spec["layer"][0]["data"]["values"] if one["line"] == "finds holes (air gap)"]
    after = next(one for one in low if one["film_um"] >= 880)

    assert box["low"] <= after["kv"] <= 1.03 * box["low"]
