"""Does the budget chart say in words what it shows?"""

import vl_convert

from soundedge.survey.charts import budget_chart

from .scenes import ask, scene


def test_the_largest_influence_stands_first_and_the_verdict_in_words():
    answer = ask(scene(), limits={"bare_area_mm2_max": 900.0}).model_dump(mode="json")
    spec = budget_chart(answer)
    shown = [row["u"] for row in spec["data"]["values"]]

    assert shown == sorted(shown, reverse=True) and spec["data"]["values"][0]["name"] == "edge"
    assert spec["title"]["text"].endswith("conforms")
    svg = vl_convert.vegalite_to_svg(spec)
    assert "edge" in svg and "conforms" in svg


def test_a_refused_photo_has_no_bars():
    answer = ask(scene(), card={}).model_dump(mode="json")
    spec = budget_chart(answer)

    assert spec["data"]["values"] == [] and spec["title"]["text"] == "not measured"
