"""How does a chart from the bench get onto paper?

The rooms write Vega-Lite specs as plain values; the browser and the page draw the same spec. Here it becomes an
SVG in the vendored letters. No address in a spec is followed.

>>> chart_svg({"data": {"values": [{"x": 1, "y": 2}]}, "mark": "point",
...            "encoding": {"x": {"field": "x", "type": "quantitative"}}})[:4]
b'<svg'
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from functools import cache, lru_cache
from typing import Any

from ..basis.errors import Unreadable
from ..basis.sentences import say
from .fonts import FOLDER, drawable

FONT = "DejaVu Sans"
INK = "#222222"
ACCENT = "#1d4e5f"

# Dark on white, told apart by lightness and shape: the page is also read in black and white.
HOUSE_CONFIG: dict[str, Any] = {
    "font": FONT,
    "background": "white",
    "view": {"stroke": None, "continuousWidth": 460, "continuousHeight": 170},
    "axis": {"labelFont": FONT, "titleFont": FONT, "titleFontWeight": "normal", "labelFontSize": 10,
             "titleFontSize": 10, "labelColor": INK, "titleColor": INK, "domainColor": "#777777",
             "tickColor": "#777777", "gridColor": "#e3e3e3"},
    "legend": {"labelFont": FONT, "titleFont": FONT, "titleFontWeight": "normal", "labelFontSize": 10,
               "titleFontSize": 10, "labelColor": INK, "titleColor": INK},
    "title": {"font": FONT, "fontSize": 11, "fontWeight": "normal", "anchor": "start", "color": INK},
    "header": {"labelFont": FONT, "titleFont": FONT},
    "text": {"font": FONT, "fontSize": 10, "color": INK},
    "mark": {"color": ACCENT},
    "range": {"category": [ACCENT, "#8a8a8a", "#0b0b0b", "#b9c9cf", "#5c7f8c"]},
}


def chart_svg(spec: Mapping[str, Any]) -> bytes:
    """The chart as SVG, the same bytes for the same spec.

    Raises
    ------
    Unreadable
        A spec that is not one, or that cannot be drawn.
    """
    _whole(spec)
    try:
        return _drawn(json.dumps(_drawable(spec), sort_keys=True, allow_nan=False))
    except (ValueError, TypeError) as error:
        first = (str(error).strip() or "no reason given").splitlines()[0]
        raise Unreadable("chart", say("report.chart_not_drawn", why=first[:200])) from None


@lru_cache(maxsize=64)  # a page that is made again draws its charts once
def _drawn(spec: str) -> bytes:
    import vl_convert

    _register()
    return _numbered_afresh(vl_convert.vegalite_to_svg(spec, config=HOUSE_CONFIG, allowed_base_urls=[])).encode()


@cache
def _register() -> None:
    import vl_convert

    vl_convert.register_font_directory(str(FOLDER))


def _whole(value: Any) -> None:
    """Refuse a spec that names an address anywhere: data, pictures and links all would be followed."""
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if key in ("url", "href"):
                raise Unreadable("chart", say("report.chart_names_address", address=str(inner)[:60]))
            _whole(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            _whole(inner)


def _drawable(value: Any) -> Any:
    if isinstance(value, str):
        return drawable(value)
    if isinstance(value, Mapping):
        return {str(key): _drawable(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_drawable(inner) for inner in value]
    return value


def _numbered_afresh(svg: str) -> str:
    """Ids count on from chart to chart in one process; begin them again, so that a chart is always the same."""
    names: dict[str, str] = {}
    for found in re.finditer(r'\bid="([^"]+)"', svg):
        names.setdefault(found[1], f"i{len(names)}")
    if not names:
        return svg
    old = "|".join(map(re.escape, sorted(names, key=len, reverse=True)))
    pattern = re.compile(rf'(\bid="|url\(#|href="#)({old})(?=["\)])')
    return pattern.sub(lambda hit: hit[1] + names[hit[2]], svg)
