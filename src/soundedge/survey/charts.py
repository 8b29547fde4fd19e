"""What makes the area unsure, and by how much? A Vega-Lite specification, readable in black and white.

>>> spec = budget_chart({"area_mm2": 602.0, "u_area_mm2": 9.8, "verdict": "conforms",
...                      "budget": [{"name": "edge", "u_pct": 1.47}, {"name": "print_scale", "u_pct": 0.4}]})
>>> spec["title"]["text"]
'602 ± 20 mm² (k = 2): conforms'
"""

from __future__ import annotations

from typing import Any

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
SHOWN_FROM_PCT = 0.005


def budget_chart(answer: dict[str, Any], *, width: int = 420) -> dict[str, Any]:
    """Every influence on the area as a bar, largest first; area and verdict stand in words over the chart.

    Parameters
    ----------
    answer : dict
        The survey answer as plain values. A refused one gives a chart without bars that says so.
    """
    rows = sorted((row for row in answer.get("budget", []) if row["u_pct"] >= SHOWN_FROM_PCT), key=lambda row: -row["u_pct"])
    values = [
        {"name": row["name"].replace("_", " "), "u": round(row["u_pct"], 3), "text": f"{row['u_pct']:.2f} %"} for row in rows
    ]
    if answer.get("area_mm2") is None:
        title = "not measured"
    else:
        title = f"{answer['area_mm2']:.0f} ± {2 * answer['u_area_mm2']:.0f} mm² (k = 2)"
        if answer.get("verdict"):
            title += f": {answer['verdict'].replace('_', ' ')}"
    y = {"field": "name", "type": "nominal", "sort": [value["name"] for value in values], "title": None}
    x = {"field": "u", "type": "quantitative", "title": "Standard uncertainty [% of the area]"}
    return {
        "$schema": SCHEMA,
        "title": {"text": title, "anchor": "start"},
        "description": f"{title}. " + "; ".join(f"{value['name']} {value['text']}" for value in values),
        "width": width,
        "height": {"step": 22},
        "data": {"values": values},
        "layer": [
            {"mark": {"type": "bar", "color": "#888", "stroke": "black"}, "encoding": {"x": x, "y": y}},
            {"mark": {"type": "text", "align": "left", "dx": 4}, "encoding": {"x": x, "y": y, "text": {"field": "text"}}},
        ],
    }
