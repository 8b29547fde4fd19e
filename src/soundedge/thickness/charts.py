"""What do the readings and the map look like? Vega-Lite specifications, readable in black and white.

>>> spec = readings_chart({"spots": [{"id": "1", "where": "repair", "readings_um": [1100.0, 940.0]}],
...                        "verdict": "does_not_conform", "governing": "every_reading"}, {"min_um": 1000})
>>> spec["$schema"].split("/")[-1], spec["title"]["text"]
('v6.json', 'every reading: does not conform')
"""

from __future__ import annotations

from typing import Any

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"


def readings_chart(
    answer: dict[str, Any], limits: dict[str, float | None], *, width: int = 560, height: int = 280
) -> dict[str, Any]:
    """Readings by spot against the limits; the verdict stands in words over the chart.

    Parameters
    ----------
    answer : dict
        The film answer of this room as plain values.
    limits : dict
        ``min_um``, ``nominal_um``, ``max_um`` as in the request; each may be left out.
    """
    low, high = limits.get("min_um"), limits.get("max_um")
    rows, means = [], []
    for spot in answer["spots"]:
        for value in spot["readings_um"]:
            out = (low is not None and value < low) or (high is not None and value > high)
            rows.append({"spot": spot["id"], "where": spot["where"], "film": value, "sign": "outside" if out else "inside"})
        if spot["readings_um"]:
            means.append({"spot": spot["id"], "mean": sum(spot["readings_um"]) / len(spot["readings_um"])})
    names = (("min_um", "minimum"), ("nominal_um", "nominal"), ("max_um", "maximum"))
    lines = [{"film": limits[key], "name": f"{word} "
                                           f"{limits[key]:g}"} for key, word in names if limits.get(key) is not None]
    order = [spot["id"] for spot in answer["spots"]]
    x = {"field": "spot", "type": "nominal", "title": "Spot", "sort": order}
    y = {"field": "film", "type": "quantitative", "title": "Film [µm]", "scale": {"zero": False}}
    verdict = answer["verdict"].replace("_", " ")
    return {
        "$schema": SCHEMA,
        "title": {"text": f"{answer['governing'].replace('_', ' ')}: {verdict}", "anchor": "start"},
        "description": f"{len(rows)} film readings in {len(means)} spots against the limits; {verdict}.",
        "width": width,
        "height": height,
        "layer": [
            {
                "data": {"values": lines},
                "mark": {"type": "rule", "strokeDash": [6, 4], "color": "black"},
                "encoding": {"y": y},
            },
            {
                "data": {"values": lines},
                "mark": {"type": "text", "align": "right", "dx": -4, "dy": -6, "x": "width", "fontSize": 10},
                "encoding": {"y": y, "text": {"field": "name"}},
            },
            {
                "data": {"values": means},
                "mark": {"type": "tick", "thickness": 2, "width": 22, "color": "black"},
                "encoding": {"x": x, "y": {"field": "mean", "type": "quantitative"}},
            },
            {
                "data": {"values": rows},
                "mark": {"type": "point", "size": 55, "color": "black"},
                "encoding": {
                    "x": x, "y": y,
                    "shape": {"field": "sign", "type": "nominal", "title": "Reading",
                              "scale": {"domain": ["inside", "outside"], "range": ["circle", "cross"]}},
                    "tooltip": [{"field": "spot"}, {"field": "where"}, {"field": "film"}],
                },
            },
        ],
    }


def map_chart(answer: dict[str, Any], *, of: str = "film_um", width: int = 420) -> dict[str, Any]:
    """The map as grey squares, dark where film is thin, with the places to read next as numbered crosses.

    Parameters
    ----------
    answer : dict
        The map answer of this room as plain values.
    of : str
        ``film_um`` or ``error_um``.
    """
    xs, ys = answer["x_mm"], answer["y_mm"]
    step = answer["step_mm"]
    cells = [
        {"x": x - step / 2, "x2": x + step / 2, "y": y - step / 2, "y2": y + step / 2, "value": value}
        for y, row in zip(ys, answer[of]) for x, value in zip(xs, row) if value is not None
    ]
    title = {"film_um": "Film, estimate [µm]", "error_um": "Standard error [µm]"}[of]
    tall = (ys[-1] - ys[0] + step) / (xs[-1] - xs[0] + step)
    reads = [{"x": p["x"], "y": p["y"], "name": f"{p['film_um']:.0f}"} for p in answer["readings"]]
    ahead = [{"x": p["x"], "y": p["y"], "name": f"next {i}"} for i, p in enumerate(answer["next_readings"], 1)]
    x = {"field": "x", "type": "quantitative", "title": "x [mm]", "scale": {"zero": False}}
    y = {"field": "y", "type": "quantitative", "title": "y [mm]", "scale": {"zero": False}}
    return {
        "$schema": SCHEMA,
        "description": f"Map of film over the outline: {title}; dark is thin. {len(reads)} readings as discs.",
        "width": width,
        "height": max(60, min(900, round(width * tall))),
        "layer": [
            {
                "data": {"values": cells},
                "mark": {"type": "rect"},
                "encoding": {
                    "x": x, "x2": {"field": "x2"}, "y": y, "y2": {"field": "y2"},
                    "color": {"field": "value", "type": "quantitative", "title": title,
                              "scale": {"range": ["#303030", "#f4f4f4"] if of == "film_um" else ["#f4f4f4", "#303030"]}},
                    "tooltip": [{"field": "value", "format": ".0f"}],
                },
            },
            {
                "data": {"values": reads},
                "mark": {"type": "point", "filled": True, "size": 30, "color": "white", "stroke": "black"},
                "encoding": {"x": x, "y": y, "tooltip": [{"field": "name"}]},
            },
            {
                "data": {"values": ahead},
                "mark": {"type": "point", "shape": "cross", "size": 140, "color": "black", "strokeWidth": 2},
                "encoding": {"x": x, "y": y},
            },
            {
                "data": {"values": ahead},
                "mark": {"type": "text", "dy": -12, "fontWeight": "bold", "fontSize": 11},
                "encoding": {"x": x, "y": y, "text": {"field": "name"}},
            },
        ],
    }
