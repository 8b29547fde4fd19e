"""What does the window look like against film thickness, with this film's readings on it?

Vega-Lite v6 specs as plain values; black and white, lines told apart by dashes, the verdict in words.

>>> spec = window_chart(FilmRequest(film_um=Film(min=620, max=880), polymer="ectfe"), readings_um=[640, 700, 810])
>>> spec["$schema"], len(spec["layer"])
('https://vega.github.io/schema/vega-lite/v6.json', 6)
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from .given import Film, FilmRequest
from .one_film import one_film
from .rules import rule
from .setting import setting
from .sheet import VERDICT_WORDS

__all__ = ["Film", "FilmRequest", "window_chart"]

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_POINTS = 80
_EDGES = {"finds holes (air gap)": 38, "sound film bears": -8}   # name → how far its label stands from the line
_RULES = {"525√mil / 1250√mil": ("two_step", [6, 3]), "1250√mil": ("sp0274", [2, 2]),
          "100 V/mil": ("volts_per_mil", [8, 2, 2, 2]), "4 kV/mm": ("manual_high", [12, 4])}


def window_chart(request: FilmRequest, readings_um: Sequence[float] = ()) -> dict[str, Any]:
    """The window against thickness.

    Parameters
    ----------
    request : FilmRequest
    readings_um : list of float
        Film readings of the zone, drawn as ticks at the foot; at most 2000.

    Returns
    -------
    dict
        A Vega-Lite v6 spec with its data inside, about 480 × 300.
    """
    held, found = setting(request), one_film(request)
    film = request.film_um
    first, last = max(50.0, 0.7 * film.min), 1.25 * film.max
    edges: list[dict[str, Any]] = []
    curves: list[dict[str, Any]] = []
    for i in range(_POINTS + 1):
        t = first + (last - first) * i / _POINTS
        edges.append(_point("finds holes (air gap)", t, held.air.surest_v(t)))
        if held.strength is not None:
            edges.append(_point("sound film bears", t, held.fraction * held.strength.breakdown_v(t)))
        for name, (key, _) in _RULES.items():
            volts = rule(key).voltage_v(t)
            assert volts is not None
            curves.append(_point(name, t, volts))
    x = {"field": "film_um", "type": "quantitative", "title": "film, µm", "scale": {"domain": [first, last], "nice": False}}
    y = {"field": "kv", "type": "quantitative", "title": "voltage, kV"}
    layers: list[dict[str, Any]] = [
        {"data": {"values": edges}, "mark": {"type": "line", "color": "black", "strokeWidth": 2.5},
         "encoding": {"x": x, "y": y, "detail": {"field": "line"}}},
        {"data": {"values": curves}, "mark": {"type": "line", "color": "black", "strokeWidth": 1}, "encoding": {
            "x": x, "y": y,
            "strokeDash": {"field": "line", "type": "nominal", "title": None, "legend": {"orient": "bottom"}, "scale": {
                "domain": list(_RULES), "range": [dash for _, dash in _RULES.values()]}},
        }},
        *({"data": {"values": [one for one in edges if one["film_um"] == round(last, 1) and one["line"] == name]},
           "mark": {"type": "text", "align": "right", "dx": -4, "dy": shift, "fontSize": 10, "fontWeight": "bold"},
           "encoding": {"x": x, "y": y, "text": {"field": "line", "type": "nominal"}}} for name, shift in _EDGES.items()),
        _zone_box(found.low_v, found.high_v, film, first, last),
    ]
    if readings_um:
        layers.append({
            "data": {"values": [{"film_um": float(one)} for one in readings_um[:2000]]},
            "mark": {"type": "tick", "color": "black", "thickness": 1, "size": 14, "yOffset": -8},
            "encoding": {"x": x, "y": {"datum": 0, "type": "quantitative"}},
        })
    if found.stated is not None:
        layers.append({
            "data": {"values": [{"from_um": film.min, "to_um": film.max, "kv": found.stated.voltage_v / 1000.0}]},
            "mark": {"type": "rule", "color": "black", "strokeWidth": 4},
            "encoding": {"x": {"field": "from_um", "type": "quantitative"}, "x2": {"field": "to_um"}, "y": y},
        })
        layers.append({
            "data": {"values": [{"film_um": film.min, "kv": found.stated.voltage_v / 1000.0}]},
            "mark": {"type": "text", "align": "left", "dx": 4, "dy": -8, "fontSize": 10, "text": "stated"},
            "encoding": {"x": x, "y": y},
        })
    return {
        "$schema": SCHEMA, "width": 480, "height": 300,
        "title": {"text": "Test voltage against film", "subtitle": _subtitle(found), "anchor": "start"},
        "layer": layers,
        "config": {"background": "white", "view": {"stroke": None}},
    }


def _point(line: str, film_um: float, volts: float) -> dict[str, Any]:
    return {"line": line, "film_um": round(film_um, 1), "kv": round(volts / 1000.0, 4)}


def _zone_box(low_v: float, high_v: float | None, film: Film, first: float, last: float) -> dict[str, Any]:
    top = high_v if high_v is not None and high_v > low_v else low_v
    return {
        "data": {"values": [{"a": film.min, "b": film.max, "low": low_v / 1000.0, "high": top / 1000.0}]},
        "mark": {"type": "rect", "color": "lightgray", "opacity": 0.6, "stroke": "black"},
        "encoding": {
            "x": {"field": "a", "type": "quantitative", "scale": {"domain": [first, last]}}, "x2": {"field": "b"},
            "y": {"field": "low", "type": "quantitative"}, "y2": {"field": "high"},
        },
    }


def _subtitle(found: Any) -> str:
    if found.window_empty:
        return "No voltage serves this film: the window is empty."
    top = "not known" if found.high_v is None else f"{found.high_v / 1000:.2f} kV"
    proof = f"; from {found.proven_from_v / 1000:.2f} kV with a coupon's proof" if found.proven_from_v < found.low_v else ""
    text = f"Window {found.low_v / 1000:.2f} kV to {top}{proof}."
    if found.stated is None:
        return text
    return f"{text} Stated {found.stated.voltage_v / 1000:.2f} kV: {VERDICT_WORDS[found.verdict]}."
