"""What does the repair look like, drawn for the bench: the section with its layers, the plan with its numbers?

Pure functions from numbers to SVG text: black on white, hatching instead of colour, a title and a
description for those who hear the page instead of seeing it, every text escaped.

>>> svg = section_svg(d_mm=30, feather_mm=15, depth_um=900, overbuild_um=150, layers=4, layer_um=262.5,
...                   removal_um=150, title="Cover 7 <left>")
>>> svg.startswith("<svg "), "Cover 7 &lt;left&gt;" in svg, svg.count('class="layer"')
(True, True, 4)
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from ..basis.quantity import shown

_STYLE = (
    "text{font-family:sans-serif;fill:#000;paint-order:stroke;stroke:#fff;stroke-width:3px}.line{fill:none;stroke:#000;stroke-width:1.2}"
    ".thin{fill:none;stroke:#000;stroke-width:.6}.dash{fill:none;stroke:#000;stroke-width:1.2;stroke-dasharray:6 4}"
    ".layer{fill:#fff;stroke:#000;stroke-width:1}.parent{fill:#ddd;stroke:#000;stroke-width:1}"
)
Points = Sequence[tuple[float, float]]


def section_svg(
    *, d_mm: float, feather_mm: float, depth_um: float, overbuild_um: float, layers: int, layer_um: float,
    removal_um: float, title: str,
) -> str:
    """The section across the middle of a spot as wide as a circle of diameter ``d_mm``; heights are drawn larger.

    Returns SVG text, 720 by 340. Lengths in mm, films in µm.
    """
    wide, left, right, steel_y = 720.0, 40.0, 560.0, 250.0
    high = 150.0 / max(depth_um + overbuild_um, 1.0)  # px per µm
    across = (right - left - 60) / max(d_mm + 2 * feather_mm, 1e-9)
    middle = (left + right) / 2
    bare, foot = d_mm / 2 * across, (d_mm / 2 + feather_mm) * across
    top = steel_y - depth_um * high
    crown = top - overbuild_um * high
    about = (
        f"Section: {layers} layers of {shown(layer_um)} µm from the steel up, depth {shown(depth_um)} µm, overbuild "
        f"{shown(overbuild_um)} µm, sand off {shown(removal_um)} µm. Bare steel {shown(round(d_mm, 2))} mm wide, "
        f"feather {shown(feather_mm)} mm. Heights are drawn larger than widths."
    )
    parts = [
        '<defs><pattern id="steel" width="8" height="8" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><path d="M0 0V8" stroke="#000" stroke-width="1.2"/></pattern></defs>',
        f'<rect x="{left}" y="{steel_y}" width="{right - left}" height="34" fill="url(#steel)" stroke="#000"/>',
        f'<path class="parent" d="M{left} {steel_y}V{top:.2f}H{middle - foot:.2f}L{middle - bare:.2f} {steel_y}Z"/>',
        f'<path class="parent" d="M{right} {steel_y}V{top:.2f}H{middle + foot:.2f}L{middle + bare:.2f} {steel_y}Z"/>',
    ]
    numbers: list[str] = []
    for number in range(1, layers + 1):
        low, up = layer_um * (number - 1), layer_um * number
        corners = [*_side(low, up, depth_um, bare, foot, middle, steel_y, high, +1),
                   *reversed(_side(low, up, depth_um, bare, foot, middle, steel_y, high, -1))]
        parts.append(f'<path class="layer" d="M{" L".join(f"{x:.2f} {y:.2f}" for x, y in corners)}Z"/>')
        if layers <= 14:
            y = steel_y - (low + up) / 2 * high
            numbers.append(_text(middle, y + 4, f"{number}", 12, "middle"))
    parts += [
        f'<path class="dash" d="M{left} {top:.2f}H{right + 10}"/>',
        *numbers,
        _text(right + 14, top + 4, "parent surface", 12),
        _text(right + 14, (top + crown) / 2 - 2, f"overbuild {shown(overbuild_um)} µm", 12),
        _text(right + 14, (top + steel_y) / 2, f"depth {shown(depth_um)} µm", 12),
        _text(right + 14, (top + steel_y) / 2 + 16, f"{layers} × {shown(layer_um)} µm", 12),
        _text(right + 14, steel_y + 20, "steel", 12),
        f'<path class="thin" d="M{middle - bare:.2f} 296H{middle + bare:.2f}M{middle - bare:.2f} 288V304'
        f'M{middle + bare:.2f} 288V304M{middle - foot:.2f} 288V304M{middle + foot:.2f} 288V304'
        f'M{middle - foot:.2f} 296H{middle + foot:.2f}"/>',
        _text(middle, 316, f"bare steel {shown(round(d_mm, 2))} mm, feather {shown(feather_mm)} mm each side", 12, "middle"),
        _text(left, 24, title, 15),
        _text(left, 44, f"sand off {shown(removal_um)} µm after cooling; heights are drawn larger than widths", 12),
    ]
    return _page(wide, 340.0, title, about, parts)


def plan_svg(
    *, outline: Points, holes: Sequence[Points], footprint: Points, footprint_holes: Sequence[Points],
    placements: Sequence[tuple[float, float, float, int, int]], title: str,
) -> str:
    """The plan from above: bare outline, footprint, and every placement with its number in working order.

    ``placements`` are (x, y, radius, order, ring), mm; y points up, as on the part. Returns SVG text
    720 wide. The first placement is drawn thick; a dotted line leads from each to the next.
    """
    reach = [(x + s * r, y + t * r) for x, y, r, _, _ in placements for s in (-1, 1) for t in (-1, 1)]
    xs, ys = [p[0] for p in (*footprint, *reach)], [p[1] for p in (*footprint, *reach)]
    west, north = min(xs), max(ys)
    width, height = max(max(xs) - west, 1e-9), max(north - min(ys), 1e-9)
    scale = min(680.0 / width, 2000.0 / height)

    def at(x: float, y: float) -> tuple[float, float]:
        return 20 + (x - west) * scale, 56 + (north - y) * scale

    def path(ring: Points) -> str:
        return "M" + " L".join(f"{px:.2f} {py:.2f}" for px, py in (at(x, y) for x, y in ring)) + "Z"

    rings = 1 + max((ring for *_, ring in placements), default=0)
    about = (
        f"Plan: {len(placements)} placements in {rings} rings, numbered in working order from the outside inwards. "
        f"Dashed: footprint. Hatched: bare steel. {shown(round(width, 1))} by {shown(round(height, 1))} mm."
    )
    parts = [
        '<defs><pattern id="bare" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path d="M0 0V7" stroke="#bbb" stroke-width="1"/></pattern></defs>',
        f'<path d="{path(outline)}{"".join(path(h) for h in holes)}" fill="url(#bare)" fill-rule="evenodd" '
        'stroke="#000" stroke-width="1.4"/>',
        f'<path class="dash" d="{path(footprint)}{"".join(path(h) for h in footprint_holes)}"/>',
    ]
    if len(placements) > 1:
        trail = " L".join(f"{px:.2f} {py:.2f}" for px, py in (at(x, y) for x, y, *_ in placements))
        parts.append(f'<path class="thin" stroke-dasharray="1 3" d="M{trail}"/>')
    for x, y, r, order, _ring in placements:
        px, py = at(x, y)
        thick = 2.4 if order == 1 else 0.7
        parts.append(f'<circle class="thin" style="stroke-width:{thick}" cx="{px:.2f}" cy="{py:.2f}" r="{r * scale:.2f}"/>')
        size = max(3.0, min(13.0, r * scale * 0.55))
        parts.append(_text(px, py + size * 0.36, str(order), size, "middle"))
    parts.append(_text(20, 22, title, 15))
    parts.append(_text(20, 42, f"{len(placements)} placements, start at 1 (thick); dashed: footprint; hatched: bare steel", 12))
    ten = 10 * scale
    foot = 56 + height * scale + 24
    parts.append(f'<path class="line" d="M20 {foot:.2f}h{ten:.2f}M20 {foot - 5:.2f}v10M{20 + ten:.2f} {foot - 5:.2f}v10"/>')
    parts.append(_text(26 + ten, foot + 4, "10 mm", 12))
    return _page(720.0, foot + 20, title, about, parts)


def _side(
    low: float, up: float, depth: float, bare: float, foot: float, middle: float, steel_y: float, high: float, way: int
) -> list[tuple[float, float]]:
    """One flank of a layer from its lower to its upper face; it leans with the feather below the parent surface."""

    def half(height: float) -> float:
        return bare + (foot - bare) * min(height / depth, 1.0)

    heights = [low, *([depth] if low < depth < up else []), up]
    return [(middle + way * half(h), steel_y - h * high) for h in heights]


def _text(x: float, y: float, text: str, size: float, anchor: str = "start") -> str:
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.1f}" text-anchor="{anchor}">{escape(text)}</text>'


def _page(wide: float, high: float, title: str, about: str, parts: Sequence[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {wide:.0f} {high:.0f}" width="{wide:.0f}" '
        f'height="{high:.0f}"><title>{escape(title)}</title><desc>{escape(about)}</desc><style>{_STYLE}</style>'
        f'<rect width="100%" height="100%" fill="#fff"/>{"".join(parts)}</svg>\n'
    )
