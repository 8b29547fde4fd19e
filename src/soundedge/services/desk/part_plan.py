"""Where on the part do damages, footprints, keep-outs and earlier repairs lie? A drawing in the part's own millimetres.

It is read in black and white: every sort of thing has a line of its own, and the words stand beside it.

>>> drawn = svg([Mark("found", "A", [[(0, 0), (30, 0), (30, 20), (0, 20)]])], name="plan", title="Plan", desc="Damage A.")
>>> drawn.startswith('<svg '), "<title" in drawn, ">A</text>" in drawn
(True, True, True)
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any
from xml.sax.saxutils import escape

from ...disposition.bore import beside
from ...job.rules.places import laid_on, outline_on

Point = tuple[float, float]
Box = tuple[float, float, float, float]

INK, SHEET, HAIR, SOFT = "#1b1813", "#fffdf7", "#cfc6b2", "#453f34"
WIDTH, LEFT, BOTTOM, EDGE = 420.0, 44.0, 26.0, 8.0
TALL_MIN, TALL_MAX = 180.0, 420.0
# What is drawn first lies below.
ORDER = ("keep_out", "footprint", "hull", "earlier", "found", "prepared")
LINES = {
    "keep_out": {"stroke-width": "1.5", "fill": "url(#{name}-hatch)"},
    "footprint": {"stroke-width": "1.6", "stroke-dasharray": "7 4", "fill": "none"},
    "hull": {"stroke-width": "1", "stroke-dasharray": "9 3 2 3", "fill": "none"},
    "earlier": {"stroke-width": "2", "stroke-dasharray": "1.5 4", "stroke-linecap": "round", "fill": "none"},
    "found": {"stroke-width": "1.6", "fill": "none"},
    "prepared": {"stroke-width": "3", "fill": HAIR},
}


@dataclass(frozen=True)
class Mark:
    """One thing on the part: its sort (of ``ORDER``), what it is called, its rings of (x, y) in mm, the first outside."""

    sort: str
    label: str
    rings: list[list[Point]] = field(default_factory=list)


def marks_of(outcome: Any, earlier: Iterable[tuple[str, float, float, float]] = ()) -> list[Mark]:
    """What a judged job has on its part.

    Parameters
    ----------
    outcome : job.judge.Outcome
    earlier : iterable of (label, x, y, d)
        Earlier repairs: centre and diameter, mm.
    """
    job = outcome.job
    marks = []
    answers, on = outcome.steps["disposition"].answers, laid_on(job)
    repaired = {member: _ring(one["outline_mm"]) for one in (answers[0]["repairs"] if answers else ())
                for member in one["members"]}
    for one in job.the("part.identified").keep_out:
        marks += [Mark("keep_out", one.kind, rings) for rings in _met(_rings(one), repaired.values(), on.around_mm)]
    for repair in answers[0]["repairs"] if answers else ():
        called = ", ".join(repair["members"])
        if repair["footprint_mm"]:
            marks.append(Mark("footprint", called, [_ring(repair["footprint_mm"]), *map(_ring, repair["footprint_holes_mm"])]))
        if len(repair["members"]) > 1:
            marks.append(Mark("hull", called, [_ring(repair["outline_mm"])]))
    for event in job.of("damage.outlined"):
        body = event.body
        shape = outline_on(body, on)
        if shape is not None:
            ring = _beside(_ring(shape), repaired.get(body.id), on.around_mm)
            marks.append(Mark("found" if body.stage == "as_found" else "prepared", body.id, [ring]))
    for label, x, y, d in earlier:
        marks += [Mark("earlier", label, rings) for rings in _met([_circle(x, y, d)], repaired.values(), on.around_mm)]
    return marks


def _met(rings: list[list[Point]], repairs: Iterable[list[Point]], around_mm: float | None) -> list[list[list[Point]]]:
    """What lies in a bore, drawn once on the side of its seam where each repair is; as it is on a face."""
    found = {tuple(_beside(rings[0], repair, around_mm)): repair for repair in repairs}
    return [[_beside(ring, repair, around_mm, of=rings[0]) for ring in rings] for repair in found.values()] or [rings]


def _beside(ring: list[Point], repair: list[Point] | None, around_mm: float | None,
            of: list[Point] | None = None) -> list[Point]:
    """A ring on the side of a bore's seam on which a repair is drawn; moved as ``of`` is, where it is a hole in that."""
    if repair is None or around_mm is None:
        return ring
    was, to = (sum(y for _, y in one) / len(one) for one in (of or ring, repair))
    by = beside(was, to, around_mm) - was
    return [(x, y + by) for x, y in ring]


def _rings(one: Any) -> list[list[Point]]:
    """The rings of a keep-out: a line is walked there and back, so that nothing is closed that is open."""
    if one.circle_mm is not None:
        ring = _circle(one.circle_mm.x, one.circle_mm.y, one.circle_mm.d)
    else:
        ring = [(p[0], p[1]) for p in one.shape_mm]
    if one.drawn_as == "line" and one.circle_mm is None:
        ring += ring[-2::-1]
    return [ring, *(_ring(hole) for hole in one.holes_mm)]


def around(marks: Sequence[Mark], sorts: Iterable[str] = ORDER, *, share: float = 0.12, least_mm: float = 15.0) -> Box | None:
    """The box round all marks of these sorts, widened by a share of its size; None when there is none."""
    wanted = set(sorts)
    points = [p for mark in marks if mark.sort in wanted for ring in mark.rings for p in ring]
    if not points:
        return None
    x0, x1 = min(p[0] for p in points), max(p[0] for p in points)
    y0, y1 = min(p[1] for p in points), max(p[1] for p in points)
    more = max(least_mm, share * max(x1 - x0, y1 - y0))
    return (x0 - more, y0 - more, x1 + more, y1 + more)


def close_up(marks: Sequence[Mark]) -> Box | None:
    """The box round damages and footprints when they are small on the whole drawing; None when that one shows them well."""
    whole, near = around(marks), around(marks, ("found", "prepared", "hull", "footprint"))
    if whole is None or near is None:
        return None
    size = [max(box[2] - box[0], box[3] - box[1]) for box in (whole, near)]
    return near if size[1] < 0.45 * size[0] else None


def svg(marks: Sequence[Mark], *, name: str, title: str, desc: str, box: Box | None = None, unit: str = "mm",
        unit_mm: float = 1.0, words: dict[str, str] | None = None) -> str:
    """The drawing as SVG text, without any style sheet.

    Parameters
    ----------
    name : str
        Prefix of the ids in it, unique on its page: letters and hyphens.
    title, desc : str
        What is read aloud in its place.
    box : tuple, optional
        The part of the plan that is drawn: x0, y0, x1, y1 in mm. All of it when left out.
    unit, unit_mm
        What the numbers at its edges are in, and how many mm one of it is.
    words : dict, optional
        Sort of keep-out → how it is called on the drawing.
    """
    x0, y0, x1, y1 = _shaped(box or around(marks) or (-50.0, -50.0, 50.0, 50.0))
    scale = (WIDTH - LEFT - EDGE) / (x1 - x0)
    height = (y1 - y0) * scale + BOTTOM + EDGE

    def at(point: Point) -> Point:
        return (LEFT + (point[0] - x0) * scale, EDGE + (y1 - point[1]) * scale)

    frame = (LEFT, EDGE, (x1 - x0) * scale, (y1 - y0) * scale)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {height:.1f}" role="img" class="plan" '
        f'aria-labelledby="{name}-title {name}-desc" font-family="system-ui, sans-serif" font-size="13">',
        f'<title id="{name}-title">{escape(title)}</title><desc id="{name}-desc">{escape(desc)}</desc>',
        f'<defs><pattern id="{name}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        f'<line x1="0" y1="0" x2="0" y2="7" stroke="{SOFT}" stroke-width="1.6"/></pattern>'
        f'<clipPath id="{name}-frame"><rect x="{frame[0]:.1f}" y="{frame[1]:.1f}" width="{frame[2]:.1f}" '
        f'height="{frame[3]:.1f}"/></clipPath></defs>',
        *_paper((x0, y0, x1, y1), at, frame, unit, unit_mm),
        f'<g clip-path="url(#{name}-frame)" stroke="{INK}" stroke-linejoin="round" fill-rule="evenodd">',
    ]
    shown = sorted(marks, key=lambda mark: ORDER.index(mark.sort))
    for mark in shown:
        line = " ".join(f'{key}="{value.format(name=name)}"' for key, value in LINES[mark.sort].items())
        parts.append(f'<path d="{_path(mark.rings, at)}" {line}/>')
    parts.append("</g>")
    parts += _labels(shown, at, frame, words or {})
    parts.append("</svg>")
    return "".join(parts)


def key_line(sort: str, name: str) -> str:
    """A small piece of the line of one sort, for the list of what the lines mean."""
    line = " ".join(f'{key}="{value.format(name=name)}"' for key, value in LINES[sort].items())
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 48 24" width="48" height="24" '
            'aria-hidden="true" class="key">'
            f'<defs><pattern id="{name}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="'
            'rotate(45)">'
            f'<line x1="0" y1="0" x2="0" y2="7" stroke="{SOFT}" stroke-width="1.6"/></pattern></defs>'
            f'<rect x="3" y="3" width="42" height="18" stroke="{INK}" {line}/></svg>')


def _ring(points: Iterable[Any]) -> list[Point]:
    return [(float(p[0]), float(p[1])) for p in points]


def _circle(x: float, y: float, d: float, corners: int = 48) -> list[Point]:
    turn = [2 * math.pi * k / corners for k in range(corners)]
    return [(x + d / 2 * math.cos(a), y + d / 2 * math.sin(a)) for a in turn]


def _shaped(box: Box) -> Box:
    """The box, never so flat or so tall that it does not fit the sheet."""
    x0, y0, x1, y1 = box
    wide = max(x1 - x0, 1.0)
    inner = WIDTH - LEFT - EDGE
    tall = min(max(y1 - y0, wide * TALL_MIN / inner), max(wide * TALL_MAX / inner, y1 - y0))
    if tall > wide * TALL_MAX / inner:
        wide = tall * inner / TALL_MAX
    mx, my = (x0 + x1) / 2, (y0 + y1) / 2
    return (mx - wide / 2, my - tall / 2, mx + wide / 2, my + tall / 2)


def _path(rings: Sequence[Sequence[Point]], at: Any) -> str:
    out = []
    for ring in rings:
        spots = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(at, ring))
        if spots:
            out.append(f"M{spots}Z")
    return " ".join(out)


def _step(span: float) -> float:
    """A round distance between ruled lines, so that there are four to nine of them."""
    rough = span / 5
    power = 10.0 ** math.floor(math.log10(rough))
    return next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= rough)


def _paper(box: Box, at: Any, frame: tuple[float, float, float, float], unit: str, unit_mm: float) -> list[str]:
    x0, y0, x1, y1 = box
    step = _step(max(x1 - x0, 1.0) / unit_mm)
    digits = max(0, -math.floor(math.log10(step)))
    left, top, wide, tall = frame
    parts = [f'<rect x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{tall:.1f}" fill="{SHEET}" stroke="{SOFT}"/>']
    for low, high, upright in ((x0, x1, True), (y0, y1, False)):
        number = math.ceil(low / unit_mm / step) * step
        while number * unit_mm < high:
            x, y = at((number * unit_mm, number * unit_mm))
            said = f"{number + 0.0:.{digits}f}".replace("-", "\u2212")
            said = said.lstrip("\u2212") if float(f"{number:.{digits}f}") == 0 else said
            if upright:
                parts.append(f'<line x1="{x:.1f}" y1="{top:.1f}" x2="{x:.1f}" y2="{top + tall:.1f}" stroke="{HAIR}"/>')
                if left + 12 < x < left + wide - 30:
                    parts.append(f'<text x="{x:.1f}" y="{top + tall + 16:.1f}" text-anchor="middle" fill="{SOFT}">{said}'
                                 "</text>")
            else:
                parts.append(f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{left + wide:.1f}" y2="{y:.1f}" stroke="{HAIR}"/>')
                if top + 4 < y < top + tall - 4:
                    parts.append(f'<text x="{left - 5:.1f}" y="{y + 4.5:.1f}" text-anchor="end" fill="{SOFT}">{said}</text>')
            number += step
    parts.append(f'<text x="{left + wide:.1f}" y="{top + tall + 16:.1f}" text-anchor="end" fill="{SOFT}">{escape(unit)}</text>')
    return parts


def _labels(marks: Sequence[Mark], at: Any, frame: tuple[float, float, float, float], words: dict[str, str]) -> list[str]:
    """Each thing's name beside it; a damage that was found and prepared is named once. Names do not lie on each other."""
    left, top, wide, tall = frame
    parts: list[str] = []
    named: set[tuple[str, str]] = set()
    taken: list[tuple[float, float]] = []
    for mark in reversed(marks):
        if mark.sort in ("footprint", "hull") or not mark.rings:
            continue
        key = ("damage" if mark.sort in ("found", "prepared") else mark.sort, mark.label)
        if key in named and key[0] == "damage":
            continue
        spots = [p for p in map(at, mark.rings[0]) if left <= p[0] <= left + wide and top <= p[1] <= top + tall]
        if not spots:
            continue
        named.add(key)
        x = (min(p[0] for p in spots) + max(p[0] for p in spots)) / 2
        low, high = min(p[1] for p in spots), max(p[1] for p in spots)
        y = (low + high) / 2 + 5 if mark.sort == "keep_out" else high + 17 if mark.sort == "earlier" else low - 6
        bold = "700" if key[0] == "damage" else "400"
        size = 17 if key[0] == "damage" else 13
        x = min(max(x, left + 20), left + wide - 20)
        y = min(max(y, top + 18), top + tall - 6)
        while any(abs(x - ox) < 40 and abs(y - oy) < 15 for ox, oy in taken) and y < top + tall - 20:
            y += 15
        taken.append((x, y))
        said = words.get(mark.label, mark.label.replace("_", " ")) if mark.sort == "keep_out" else mark.label
        parts.append(f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="middle" font-weight="{bold}" font-size="{size}" fill="{INK}" '
                     f'stroke="{SHEET}" stroke-width="4" stroke-linejoin="round" paint-order="stroke">{escape(said)}</text>')
    return parts
