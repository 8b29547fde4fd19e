"""The air log as a picture: steel, dew point and the limit over time.

>>> spec = log_chart([{"at": "2031-05-04T08:00:00Z", "steel_c": 16.0, "dew_point_c": 10.1}], dew_margin_k=3.0)
>>> spec["$schema"]
'https://vega.github.io/schema/vega-lite/v6.json'
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

_LINES = (("steel", "steel_c", 0.0, [1, 0]), ("dew point", "dew_point_c", 0.0, [2, 2]),
          ("dew point + limit", "dew_point_c", 1.0, [8, 3]))


def log_chart(rows: Sequence[dict[str, Any]], *, dew_margin_k: float) -> dict[str, Any]:
    """A Vega-Lite specification of the log.

    Parameters
    ----------
    rows : sequence of dict
        ``at`` (ISO 8601), ``steel_c``, ``dew_point_c`` [°C] of each reading, in order of time.
    dew_margin_k : float
        The limit, drawn above the dew point. [K]

    Returns
    -------
    dict
        Three lines told apart by their dashes, so that it reads in black and white.
    """
    values = [
        {"at": row["at"], "line": name, "c": row[key] + share * dew_margin_k}
        for name, key, share, _ in _LINES
        for row in rows
    ]
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "description": "Steel must stay above the dashed line: the dew point plus the margin.",
        "width": 480,
        "height": 200,
        "data": {"values": values},
        "mark": {"type": "line", "color": "black", "point": {"color": "black"}},
        "encoding": {
            "x": {"field": "at", "type": "temporal", "title": "time (UTC)", "scale": {"type": "utc"},
                  "axis": {"format": "%-d %b %H:%M", "tickCount": 5}},
            "y": {"field": "c", "type": "quantitative", "title": "°C", "scale": {"zero": False}},
            "strokeDash": {
                "field": "line", "type": "nominal", "title": None,
                "scale": {"domain": [name for name, *_ in _LINES], "range": [dash for *_, dash in _LINES]},
            },
        },
    }
