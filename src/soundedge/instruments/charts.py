"""What does a control chart look like? A Vega-Lite specification, readable in black and white.

>>> spec = control_chart({"kind": "individuals", "points": [50.1, 49.9, 50.0], "centre": 50.0, "low": 49.5, "high": 50.5,
...                       "signals": []}, unit="um")
>>> spec["$schema"].split("/")[-1], len(spec["layer"])
('v6.json', 5)
"""

from __future__ import annotations

from typing import Any

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def control_chart(chart: dict[str, Any], *, unit: str = "um", width: int = 560, height: int = 220) -> dict[str, Any]:
    """One chart of an answer's ``charts``: points in order, centre and limits as lines, speaking points named.

    A point that speaks is a square with its number beside it, any other a small disc; nothing hangs on colour.
    """
    speaking = {signal["point"]: signal["rule"].replace("_", " ") for signal in chart["signals"]}
    rows = [
        {"number": i + 1, "value": value, "says": speaking.get(i, ""), "sign": "speaks" if i in speaking else "quiet"}
        for i, value in enumerate(chart["points"])
    ]
    name = {"individuals": "Single value", "averages": "Mean of subgroup", "ranges": "Range of subgroup"}[chart["kind"]]
    x = {"field": "number", "type": "quantitative", "title": "Check", "axis": {"tickMinStep": 1}}
    y = {"field": "value", "type": "quantitative", "title": f"{name} [{unit}]", "scale": {"zero": False}}

    lines = [{"value": chart[key], "name": f"{word} {chart[key]:.6g}"}
             for key, word in (("low", "lower limit"), ("centre", "centre"), ("high", "upper limit"))]
    return {
        "$schema": SCHEMA,
        "description": f"Control chart: {name.lower()}, {len(rows)} points, {len(speaking)} speak.",
        "width": width,
        "height": height,
        "data": {"values": rows},
        "layer": [
            {"mark": {"type": "line", "color": "black", "strokeWidth": 1}, "encoding": {"x": x, "y": y}},
            {
                "mark": {"type": "point", "filled": True, "size": 60, "color": "black"},
                "encoding": {
                    "x": x, "y": y,
                    "shape": {"field": "sign", "type": "nominal", "legend": None,
                              "scale": {"domain": ["quiet", "speaks"], "range": ["circle", "square"]}},
                    "tooltip": [{"field": "number"}, {"field": "value"}, {"field": "says"}],
                },
            },
            {
                "transform": [{"filter": "datum.says !== ''"}],
                "mark": {"type": "text", "dy": -10, "fontSize": 10},
                "encoding": {"x": x, "y": y, "text": {"field": "says"}},
            },
            {
                "data": {"values": lines},
                "mark": {"type": "rule", "strokeDash": [6, 4], "color": "black"},
                "encoding": {"y": {"field": "value", "type": "quantitative"}},
            },
            {
                "data": {"values": lines},
                "mark": {"type": "text", "align": "left", "dx": 4, "x": "width", "fontSize": 10},
                "encoding": {"y": {"field": "value", "type": "quantitative"}, "text": {"field": "name"}},
            },
        ],
    }
