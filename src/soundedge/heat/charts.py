"""How do bond, surface and neighbour go over time, and what does the section look like when the bond fuses?

Vega-Lite v6 specifications as plain dictionaries: lines told apart by dashes, verdicts in words, no colour needed.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from .march import Run
from .section import Section

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
_POINTS = 220


def temperatures(
    run: Run, *, fusion_c: float, limit_c: float, member: int = 0, title: str = "Under the gun (estimate)",
) -> dict[str, Any]:
    """Bond, surface, lining around the spot and back over time (min, °C) with the fusion and limit lines."""
    lines = (("bond line", run.bond_min), ("surface", run.joint_max), ("lining around", run.sound_max), ("back", run.back))
    times = np.linspace(0.0, float(run.t[-1]), min(_POINTS, 4 * len(run.t)))
    rows = [
        {"min": round(float(t) / 60.0, 3), "c": round(run.at(series, float(t), member), 2), "line": name}
        for name, series in lines for t in times if run.at(series, float(t), member) > -1e9
    ]
    rules = [{"c": fusion_c, "what": f"fusion {fusion_c:g} °C"}, {"c": limit_c, "what": f"surface limit {limit_c:g} °C"}]
    return {
        "$schema": SCHEMA, "title": title, "width": 460, "height": 260,
        "description": "Temperature over time of bond line, surface, lining around the spot and back; estimate.",
        "layer": [
            {"data": {"values": rows}, "mark": {"type": "line", "color": "black"},
             "encoding": {
                 "x": {"field": "min", "type": "quantitative", "title": "time [min]"},
                 "y": {"field": "c", "type": "quantitative", "title": "temperature [°C]"},
                 "strokeDash": {"field": "line", "type": "nominal", "title": None,
                                "sort": [name for name, _ in lines]}}},
            {"data": {"values": rules}, "mark": {"type": "rule", "color": "black", "strokeWidth": 0.6},
             "encoding": {"y": {"field": "c", "type": "quantitative"}}},
            {"data": {"values": rules}, "mark": {"type": "text", "align": "left", "dx": 4, "dy": -5, "x": 0},
             "encoding": {"y": {"field": "c", "type": "quantitative"}, "text": {"field": "what"}}},
        ],
    }


def section_map(
    section: Section, cells_c: np.ndarray, *, reach_mm: float = 80.0, title: str = "Section (estimate)",
) -> dict[str, Any]:
    """The section as shaded cells: radius (mm) across, steel and film (film drawn ten times thicker) upwards.

    ``cells_c`` (rows, rings) as in ``Run.snaps``.
    """
    edges = 1000.0 * section.edges_m
    rows = []
    for j in range(section.rings):
        if edges[j] >= reach_mm:
            break
        low = 0.0
        for i in range(section.rows):
            thick = 1000.0 * section.steel_m if i < section.slices else 10_000.0 * float(section.film_m[i - section.slices, j])
            if thick < 0.05:
                continue
            rows.append({"r0": round(float(edges[j]), 2), "r1": round(float(min(edges[j + 1], reach_mm)), 2),
                         "z0": round(low, 3), "z1": round(low + thick, 3), "c": round(float(cells_c[i, j]), 1)})
            low += thick
    return {
        "$schema": SCHEMA, "title": title, "width": 460, "height": 200, "data": {"values": rows},
        "description": "Temperatures in the section, darker is hotter; the film is drawn ten times thicker. Estimate.",
        "mark": {"type": "rect", "stroke": "white", "strokeWidth": 0.3},
        "encoding": {
            "x": {"field": "r0", "type": "quantitative", "title": "distance from the middle of the spot [mm]"},
            "x2": {"field": "r1"},
            "y": {"field": "z0", "type": "quantitative", "title": "from the back, film x10 [mm]"}, "y2": {"field": "z1"},
            "color": {"field": "c", "type": "quantitative", "title": "°C", "scale": {"scheme": "greys"}},
        },
    }


def log_chart(
    bond: tuple[tuple[float, float], ...], surface: tuple[tuple[float, float], ...], *, fusion_c: float, limit_c: float
) -> dict[str, Any]:
    """The readings of a heat log, corrected, against the procedure's window."""
    rows = [{"min": t / 60.0, "c": c, "what": name} for name, track in (("bond line or back", bond), ("surface", surface))
            for t, c in track]
    rules = [{"c": fusion_c, "what": f"fusion {fusion_c:g} °C"}, {"c": limit_c, "what": f"surface limit {limit_c:g} °C"}]
    return {
        "$schema": SCHEMA, "title": "Heat log", "width": 460, "height": 240,
        "description": "Logged readings, corrected for emissivity, with the procedure's fusion and limit lines.",
        "layer": [
            {"data": {"values": rows}, "mark": {"type": "line", "point": True, "color": "black"},
             "encoding": {"x": {"field": "min", "type": "quantitative", "title": "time [min]"},
                          "y": {"field": "c", "type": "quantitative", "title": "temperature [°C]"},
                          "strokeDash": {"field": "what", "type": "nominal", "title": None},
                          "shape": {"field": "what", "type": "nominal", "title": None}}},
            {"data": {"values": rules}, "mark": {"type": "rule", "color": "black", "strokeWidth": 0.6},
             "encoding": {"y": {"field": "c", "type": "quantitative"}}},
            {"data": {"values": rules}, "mark": {"type": "text", "align": "left", "dx": 4, "dy": -5, "x": 0},
             "encoding": {"y": {"field": "c", "type": "quantitative"}, "text": {"field": "what"}}},
        ],
    }
