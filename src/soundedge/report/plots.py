"""How do readings get on paper beside their limits? Small drawings, read in black and white, letters in the page's own face.

Values go in, SVG comes out: the same bytes for the same values. A limit is a dashed line with its name, what is allowed is
tinted, a value is a dot, a bar or a thick tick; what is outside is a cross, and the thinnest or worst has a ring.

>>> film_by_spot([("R1", "repair", (1276.0, 1263.0))], low_um=1000.0)[:4]
'<svg'
>>> bar(687.0, 16.0, None, 900.0).at
0.611
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any
from xml.sax.saxutils import escape

from ..basis.quantity import shown

INK, SOFT, HAIR, FILM, TINT, EDGE = "#16191b", "#454a4d", "#dcd8cf", "#dfeae8", "#b9d3d0", "#4f7371"
WIDE, HALF = 566.0, 273.0  # 170 and 82 mm at 0.3 mm a unit
LETTER = 9.0
_FACE = "DejaVu Sans"


@dataclass(frozen=True)
class Bar:
    """A value against its limits, as shares of a bar's length: 0 its left end, 1 its right. None: no limit on that side."""

    at: float
    u: float
    low: float | None
    high: float | None


def bar(value: float, u2: float, low: float | None, high: float | None) -> Bar:
    """Where a value lies between its limits.

    Parameters
    ----------
    value, u2 : float
        The value and its expanded uncertainty (k = 2), in one unit; 0 where it is not known.
    low, high : float or None
        The limits in the same unit.
    """
    if low is None and high is None:
        return Bar(0.5, 0.0, None, None)
    ends = [value - u2, value + u2, *(one for one in (low, high) if one is not None)]
    first, last = min(ends), max(ends)
    if low is None and first >= 0:
        first = 0.0
    wide = (last - first) or abs(last) or 1.0
    start = first if low is None and first == 0.0 else first - 0.22 * wide
    end = last + 0.25 * wide

    def share(one: float) -> float:
        return round((one - start) / (end - start), 3)

    return Bar(share(value), round(u2 / (end - start), 3), None if low is None else share(low),
               None if high is None else share(high))


def film_by_spot(
    spots: Sequence[tuple[str, str, Sequence[float]]], *, low_um: float | None = None, high_um: float | None = None,
    nominal_um: float | None = None, wide: float = WIDE,
) -> str:
    """Every film reading by spot, µm, against the limits; the thinnest has a ring.

    Parameters
    ----------
    spots : sequence of (spot, zone, readings)
    low_um, high_um, nominal_um : float or None
        The procedure's limits; what is left out is not drawn.
    """
    values = [one for _, _, readings in spots for one in readings]
    named = ((low_um, "at least"), (nominal_um, "nominal"), (high_um, "at most"))
    lines = [(one, name) for one, name in named if one is not None]
    y = _Scale(*_span([*values, *(one for one, _ in lines)]), 128.0, 8.0)
    left, right = 44.0, wide - 84.0
    top, foot = (4.0 if high_um is None else y.at(high_um)), (132.0 if low_um is None else y.at(low_um))
    out = [_rect(left, top, right - left, foot - top, FILM)] if lines else []
    out += _ticks(y, left, "µm")
    for value, name in lines:
        out += _limit(y, left, right, value, f"{name} {shown(value)}")
    step = (right - left) / max(len(spots), 1)
    thinnest = min(values, default=None)
    zone_from, ringed = 0, False
    for n, (name, zone, readings) in enumerate(spots):
        x = left + (n + 0.5) * step
        spread = min(4.0, step / (2.2 * max(len(readings), 1)))
        for k, one in enumerate(readings):
            dx = x + (k - (len(readings) - 1) / 2) * spread * 1.6
            outside = (low_um is not None and one < low_um) or (high_um is not None and one > high_um)
            out.append(_cross(dx, y.at(one), 3.2) if outside else _circle(dx, y.at(one), 2.0, "white", INK, 1.0))
            if one == thinnest and not ringed:
                ringed = True
                out.append(_circle(dx, y.at(one), 5.2, "none", INK, 1.2))
        if step > 11:
            out.append(_text(x, 143.0, name, "middle", size=min(LETTER, step / (0.62 * max(len(name), 1)))))
        if n + 1 == len(spots) or spots[n + 1][1] != zone:
            a, b = left + zone_from * step + 3, left + (n + 1) * step - 3
            out += [_line(a, 148.5, b, 148.5, SOFT, 0.8), _text((a + b) / 2, 158.5, zone, "middle", SOFT)]
            zone_from = n + 1
    return _svg(wide, 162.0, out)


def film_map(plain: dict[str, Any]) -> str:
    """The estimate of film between the readings over a footprint: the darker, the thinner; readings as dots with µm.

    ``plain`` is the map's answer: ``x_mm``, ``y_mm``, ``step_mm``, ``film_um`` (rows of y), ``readings``, ``next_readings``.
    """
    xs, ys, step = plain["x_mm"], plain["y_mm"], plain["step_mm"]
    reads, ahead = plain["readings"], plain["next_readings"]
    points = [(one["x"], one["y"]) for one in [*reads, *ahead]] + [(xs[0], ys[0]), (xs[-1], ys[-1])]
    x0, x1 = min(p[0] for p in points) - step, max(p[0] for p in points) + step
    y0, y1 = min(p[1] for p in points) - step, max(p[1] for p in points) + step
    k = min((HALF - 24) / (x1 - x0), 150.0 / (y1 - y0))
    left = (HALF - k * (x1 - x0)) / 2

    def at(x: float, y: float) -> tuple[float, float]:
        return left + (x - x0) * k, 14 + (y1 - y) * k

    known = [value for row in plain["film_um"] for value in row if value is not None]
    low, high = min(known), max(known)
    classes = ("#8f9998", "#a9b6b5", "#c1cecc", "#d5e0de", "#e6efed")
    out: list[str] = []
    for y, row in zip(ys, plain["film_um"], strict=True):
        shades = [None if v is None else min(int(5 * (v - low) / ((high - low) or 1.0)), 4) for v in row]
        n = 0
        while n < len(shades):
            shade, first = shades[n], n
            while n < len(shades) and shades[n] == shade:
                n += 1
            if shade is not None:
                a, top = at(xs[first] - step / 2, y + step / 2)
                out.append(_rect(a, top, (n - first) * step * k + 0.15, step * k + 0.15, classes[shade]))
    thin = min(reads, key=lambda one: one["film_um"], default=None)
    taken: list[tuple[float, float]] = []
    for one in sorted(reads, key=lambda one: float(one["film_um"])):
        a, b = at(one["x"], one["y"])
        out.append(_circle(a, b, 2.4, INK, "white", 0.8))
        if one is thin:
            out.append(_circle(a, b, 6.0, "none", INK, 1.2))
        up = b - (8.0 if one is thin else 4.0)
        if all(abs(a - u) > 22 or abs(up - v) > 8 for u, v in taken):  # what lies on another stands in the list of readings
            taken.append((a, up))
            out.append(_text(a, up, f"{one['film_um']:.0f}", "middle", halo=True))
    for number, one in enumerate(ahead, 1):
        a, b = at(one["x"], one["y"])
        out += [_cross(a, b, 3.4), _text(a + 5, b + 10, f"{number}", halo=True)]
    tall = 20 + k * (y1 - y0)
    bar_mm = _round_step((x1 - x0) / 5)
    out += [_line(8, tall + 6, 8 + bar_mm * k, tall + 6, INK, 1.4), _text(12 + bar_mm * k, tall + 9, f"{shown(bar_mm)} mm")]
    out += [_rect(HALF - 102 + 10 * n, tall + 1, 10, 8, shade) for n, shade in enumerate(classes)]
    out += [_text(HALF - 106, tall + 9, f"{low:.0f}", "end"), _text(HALF - 48, tall + 9, f"{high:.0f} µm")]
    return _svg(HALF, tall + 16, out)


def voltages(zones: Sequence[tuple[str, float | None, float | None, float | None]], *, wide: float = WIDE) -> str:
    """The usable voltage of each zone and the voltage it was tested at, kV.

    Parameters
    ----------
    zones : sequence of (zone, lowest that jumps a hole, highest that sound film bears, tested), V
    """
    known = [one / 1000 for _, *rest in zones for one in rest if one is not None]
    last = 1.12 * max(known, default=1.0)
    left, right = 92.0, wide - 96.0

    def at(kv: float) -> float:
        return left + (right - left) * kv / last

    tall = 8.0 + 19.0 * len(zones)
    out: list[str] = []
    step = _round_step(last / 6)
    for n in range(int(last / step) + 1):
        x = at(n * step)
        out += [_line(x, 4, x, tall + 3, HAIR, 0.6), _text(x, tall + 13, shown(round(n * step, 6)), "middle", SOFT)]
    out.append(_text(right + 10, tall + 13, "kV", colour=SOFT))
    for n, (zone, low, high, tested) in enumerate(zones):
        y = 8.0 + 19.0 * n
        out.append(_text(left - 6, y + 9.5, zone, "end"))
        if low is not None:
            end = high if high is not None else last * 1000
            a, b = at(low / 1000), at(end / 1000)
            if b > a:
                out += [_rect(a, y, b - a, 13, TINT), *[_line(one, y - 1.5, one, y + 14.5, EDGE, 1.0) for one in (a, b)]]
        if tested is not None:
            out.append(_line(at(tested / 1000), y - 2, at(tested / 1000), y + 15, INK, 3.0))
        up = " up" if high is None else f" to {high / 1000:.1f}"
        said = "usable not known" if low is None else f"usable {low / 1000:.1f}{up}"
        out.append(_text(right + 10, y + 9.5, said))
    return _svg(wide, tall + 17, out)


def heat(
    log: Sequence[tuple[float, float, str]], *, fusion_c: float | None, surface_c: float | None, wide: float = WIDE,
) -> str:
    """A heat log, °C against minutes: film surface as open dots, the steel as filled ones, both limits dashed.

    Parameters
    ----------
    log : sequence of (s, °C, film or steel)
    """
    y = _Scale(*_span([c for _, c, _ in log] + [c for c in (fusion_c, surface_c) if c is not None]), 118.0, 8.0)
    left, right = 44.0, wide - 122.0
    longest = max((s for s, _, _ in log), default=60.0) / 60 or 1.0
    out = _ticks(y, left, "°C")

    def at(s: float) -> float:
        return left + (right - left) * s / 60 / longest

    step = _round_step(longest / 8)
    for n in range(int(longest / step + 1e-9) + 1):
        x = at(n * step * 60)
        out += [_line(x, 122, x, 125, SOFT, 0.8), _text(x, 135, shown(round(n * step, 6)), "middle", SOFT)]
    out.append(_text(right + 6, 135, "min", colour=SOFT))
    for value, name in ((fusion_c, "the steel at least"), (surface_c, "film surface at most")):
        if value is not None:
            out += _limit(y, left, right, value, f"{name} {shown(value)}")
    for of, fill in (("film", "white"), ("steel", INK)):
        mine = [(at(s), y.at(c)) for s, c, what in log if what == of]
        if mine:
            out.append(_polyline(mine))
            out += [_circle(a, b, 1.9, fill, INK, 0.9) for a, b in mine]
            a, b = mine[-1]
            if any(abs(b - y.at(c)) < 9 for c in (fusion_c, surface_c) if c is not None):
                continue  # the limit's own name stands there; the caption says which dots are which
            out.append(_text(min(a + 5, right + 4), b + 3, "film surface" if of == "film" else "steel", halo=True))
    return _svg(wide, 140.0, out)


def margins(points: Sequence[tuple[datetime, float]], limit_k: float | None, *, wide: float = WIDE) -> str:
    """The steel above the dew point, K, over the readings of the air; times in UTC."""
    y = _Scale(*_span([0.0, *(k for _, k in points), *([limit_k] if limit_k is not None else [])]), 68.0, 8.0)
    left, right = 44.0, wide - 84.0
    first, last = points[0][0], points[-1][0]
    long_s = (last - first).total_seconds() or 1.0
    out: list[str] = []
    if limit_k is not None:
        out.append(_rect(left, 4, right - left, y.at(limit_k) - 4, FILM))
    out += _ticks(y, left, "K")
    if limit_k is not None:
        out += _limit(y, left, right, limit_k, f"at least {shown(limit_k)} K")
    at = [left + 6 + (right - left - 12) * (when - first).total_seconds() / long_s for when, _ in points]
    out.append(_polyline([(x, y.at(k)) for x, (_, k) in zip(at, points, strict=True)]))
    taken = -99.0
    for x, (when, k) in zip(at, points, strict=True):
        out.append(_circle(x, y.at(k), 2.4, INK, "white", 0.6))
        if x - taken > 30:
            out.append(_text(x, 84, f"{when.astimezone(UTC):%H:%M}", "middle", SOFT))
            taken = x
    return _svg(wide, 88.0, out)


# ------------------------------------------------------------------ pieces


class _Scale:
    """Values from ``first`` to ``last`` on heights from ``bottom`` up to ``top``."""

    def __init__(self, first: float, last: float, bottom: float, top: float) -> None:
        self.first, self.last, self.bottom, self.top = first, last, bottom, top

    def at(self, value: float) -> float:
        return self.bottom - (self.bottom - self.top) * (value - self.first) / ((self.last - self.first) or 1.0)


def _span(values: Sequence[float]) -> tuple[float, float]:
    low, high = min(values, default=0.0), max(values, default=1.0)
    more = 0.06 * ((high - low) or abs(high) or 1.0)
    return low - more, high + more


def _ticks(y: _Scale, left: float, unit: str) -> list[str]:
    step = _round_step((y.last - y.first) / 4)
    out = [_text(2, 9, unit, colour=SOFT)]
    for n in range(math.ceil(y.first / step), math.floor(y.last / step) + 1):
        out += [_line(left - 3, y.at(n * step), left, y.at(n * step), SOFT, 0.8)]
        if y.at(n * step) > 14:
            out.append(_text(left - 5, y.at(n * step) + 3, shown(round(n * step, 6)), "end", SOFT))
    return [*out, _line(left, y.top - 4, left, y.bottom + 4, SOFT, 0.8)]


def _limit(y: _Scale, left: float, right: float, value: float, said: str) -> list[str]:
    """A limit as a dashed line with its name."""
    return [_line(left, y.at(value), right, y.at(value), INK, 0.9, "5 3"), _text(right + 4, y.at(value) + 3, said)]


def _polyline(points: Sequence[tuple[float, float]]) -> str:
    return (f'<polyline points="{" ".join(f"{_n(x)},{_n(v)}" for x, v in points)}" fill="none" stroke="{SOFT}" '
            'stroke-width="0.8"/>')


def _round_step(rough: float) -> float:
    power = 10.0 ** math.floor(math.log10(max(rough, 1e-9)))
    return next(n * power for n in (1.0, 2.0, 5.0, 10.0) if n * power >= rough * 0.999)


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _svg(wide: float, tall: float, parts: Sequence[str]) -> str:
    w, h = _n(wide), _n(tall)
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {w} {h}" width="{w}" height="{h}" '
            f'font-family="{_FACE}" font-size="{LETTER:g}" font-stretch="condensed">{"".join(parts)}</svg>')


def _rect(x: float, y: float, wide: float, tall: float, fill: str) -> str:
    return f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(max(wide, 0))}" height="{_n(max(tall, 0))}" fill="{fill}"/>'


def _line(x: float, y: float, x2: float, y2: float, ink: str, pen: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="M{_n(x)} {_n(y)}L{_n(x2)} {_n(y2)}" stroke="{ink}" stroke-width="{pen:g}"{dashed}/>'


def _circle(x: float, y: float, r: float, fill: str, ink: str, pen: float) -> str:
    return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{r:g}" fill="{fill}" stroke="{ink}" stroke-width="{pen:g}"/>'


def _cross(x: float, y: float, r: float) -> str:
    return (f'<path d="M{_n(x - r)} {_n(y - r)}L{_n(x + r)} {_n(y + r)}M{_n(x + r)} {_n(y - r)}L{_n(x - r)} {_n(y + r)}" '
            f'stroke="{INK}" stroke-width="1.6"/>')


def _text(
    x: float, y: float, said: str, anchor: str = "start", colour: str = INK, *, size: float = LETTER, halo: bool = False
) -> str:
    around = ' stroke="white" stroke-width="2" paint-order="stroke" stroke-linejoin="round"' if halo else ""
    small = f' font-size="{size:.2g}"' if size != LETTER else ""
    return f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}" fill="{colour}"{small}{around}>{escape(said)}</text>'
