"""What does the part look like with everything that lies on it? One drawing from the survey to the certificate.

A frame, marks and a view go in; SVG in the part's own millimetres comes out: letters and lines are sized for the width at which
it is shown, lengths are true. Inks stand in part_ink.py, frames in part_frame.py, what a judged job has on its part in
part_layers.py, the same in words in part_marks.py. Nothing in it moves, loads or runs; without colour it says the same.

>>> a = Mark("found", "A", [[(-75, 35), (-45, 35), (-45, 55), (-75, 55)]])
>>> drawn = part_drawing(Frame("disc", d_mm=520), [a], View(name="whole", title="Mixer cover MC-7"))
>>> drawn[:5], "<title" in drawn, ">A</text>" in drawn
('<svg ', True, True)
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from .part_frame import Box, Frame, Point, box_of
from .part_ink import FILM, FILM_EDGE, INK, INKS, PAPER, SOFT, Ink
from .part_letters import LETTER_WIDE, Letters, letter_box
from .part_marks import DAMAGE, SPOTS, Mark
from .svg import Drawn, element, joined, number

LETTER_PX, SMALL_PX = 15.0, 13.0
MARGIN_PX, CLOCK_PX, DEPTH_PX, BAR_PX = 8.0, 24.0, 46.0, 22.0
DOT_PX, RING_PX, TARGET_PX, HOLE_PX = 5.0, 11.0, 13.0, 10.0
HEAVY = ("found", "prepared", "spot_next", "spot_thinnest")
CLOSE = (*DAMAGE, *SPOTS, "hole", "point", "ring", "ring_laid", "ring_now")
SIMPLER_PX = 0.08  # an outline's corners nearer to its line than this are left out


@dataclass(frozen=True)
class View:
    """How it is shown.

    Parameters
    ----------
    name : str
        Begins the ids in it: unique on its page, letters and hyphens.
    title, desc : str
        What is read aloud in its place.
    wide_px, high_px : float
        The room it has.
    box : tuple, optional
        What of it is shown: u0, v0, u1, v1 in mm of the drawing (``close_up``); the whole part when left out.
    without : set of str
        The sorts that are left out.
    unit, unit_mm
        What its scale is in, and how many mm one of it is.
    words : dict
        What a zone without repair is called in the reader's language.
    """

    name: str = "part"
    title: str = "The part"
    desc: str = ""
    wide_px: float = 358.0
    high_px: float = 420.0
    box: Box | None = None
    without: frozenset[str] = frozenset()
    labels: bool = True
    unit: str = "mm"
    unit_mm: float = 1.0
    words: Mapping[str, str] = field(default_factory=dict)


@dataclass
class _Sheet:
    """One drawing in the making: what is shown of it, mm to a px, and where letters lie already."""

    frame: Frame
    view: View
    box: Box
    k: float
    letters: list[Box] = field(default_factory=list)


def part_drawing(frame: Frame, marks: Sequence[Mark], view: View) -> str:
    """The drawing as SVG text, without any style sheet; its viewBox is in mm, its width and height are px.

    Raises
    ------
    KeyError
        A mark of a sort that has no ink.
    """
    marks = [mark for mark in marks if mark.sort not in view.without and any(mark.rings)]
    frame = frame.reaching([p for mark in marks for ring in mark.rings for p in ring])
    box = view.box or whole(frame, marks)
    left, top, right, bottom = _margins(frame, view)
    u0, v0, u1, v1 = box
    k = max((u1 - u0) / max(view.wide_px - left - right, 1.0), (v1 - v0) / max(view.high_px - top - bottom, 1.0))
    spare = (view.wide_px - left - right) * k - (u1 - u0)
    if view.box:  # what is near is shown too
        u0, u1, spare = u0 - spare / 2, u1 + spare / 2, 0.0
        box = (u0, v0, u1, v1)
    corner = (u0 - left * k - spare / 2, v0 - top * k)
    wide, high = view.wide_px * k, v1 - v0 + (top + bottom) * k
    sheet = _Sheet(frame, view, box, k)
    used = [sort for sort in INKS if any(mark.sort == sort for mark in marks)]
    body = joined([_mark(sheet, mark) for sort in used for mark in marks if mark.sort == sort])
    scales = _scales(sheet)
    letters = _letters(sheet, marks) if view.labels else []
    clip = element("clipPath", element("rect", x=u0, y=v0, width=u1 - u0, height=v1 - v0), id=f"{view.name}-frame")
    title = [element("title", view.title, id=f"{view.name}-title")]
    title += [element("desc", view.desc, id=f"{view.name}-desc")] if view.desc else []
    return element(
        "svg", *title, element("defs", clip, _hatches(view.name, used, k)), _ground(sheet),
        element("g", body, clip_path=f"url(#{view.name}-frame)"), scales,
        element("g", joined(letters), paint_order="stroke", stroke=PAPER, stroke_width=3 * k, class_="pd-letters"),
        xmlns="http://www.w3.org/2000/svg", class_="part-drawing", role="img",
        viewBox=" ".join(map(number, (*corner, wide, high))), width=f"{view.wide_px:.0f}", height=f"{high / k:.0f}",
        aria_labelledby=f"{view.name}-title" + f" {view.name}-desc" * bool(view.desc),
        data_frame=frame.name, data_around=frame.around_mm, data_outer=frame.d_mm / 2, data_mm_per_px=f"{k:.4g}",
        font_family="'DejaVu Sans', system-ui, sans-serif", font_size=LETTER_PX * k, fill_rule="evenodd",
        stroke_linejoin="round",
    )


def whole(frame: Frame, marks: Sequence[Mark]) -> Box:
    """The box on the drawing of the part, and of whatever reaches beyond it where its size was not stated."""
    frame = frame.reaching([p for mark in marks for ring in mark.rings for p in ring])
    box = frame.box
    if box is not None and (frame.stated or frame.name == "bore"):
        return box
    points = [frame.on_sheet(*p) for mark in marks for ring in mark.rings for p in ring]
    if box is not None:
        points += [(box[0], box[1]), (box[2], box[3])]
    if not points:
        return (-50.0, -50.0, 50.0, 50.0)
    u0, v0, u1, v1 = box_of(points)
    more = max(15.0, 0.1 * max(u1 - u0, v1 - v0)) if box is None else 0.0
    return u0 - more, v0 - more, u1 + more, v1 + more


def close_up(frame: Frame, marks: Sequence[Mark], *, share: float = 0.16, least_mm: float = 12.0) -> Box | None:
    """The box on the drawing round damage, footprints and spots, a share of its size wider; None when there is none.

    In a bore it lies where the first damage is met first; what lies beside it across the seam is inside too.
    """
    near = [mark for mark in marks if mark.sort in CLOSE and any(mark.rings)]
    if not near:
        return None
    anchor = next((mark for mark in near if mark.sort in DAMAGE), near[0])
    middle = _middle_u([frame.on_sheet(*p) for p in anchor.rings[0]])
    points = []
    for ring in (ring for mark in near for ring in mark.rings if ring):
        on = [frame.on_sheet(*p) for p in ring]
        by = 0.0 if frame.around_mm is None else frame.around_mm * round((middle - _middle_u(on)) / frame.around_mm)
        points += [(u + by, v) for u, v in on]
    u0, v0, u1, v1 = box_of(points)
    more = max(least_mm, share * max(u1 - u0, v1 - v0))
    return u0 - more, v0 - more, u1 + more, v1 + more


def key_line(sort: str, name: str) -> str:
    """A small piece of one sort, for the list of what the lines mean: 48 by 24 px."""
    ink = INKS[sort]
    ring: list[Point] = [(0.0, 0.0), (1.0, 0.0)] if ink.shape == "arrow" else [(0.0, 0.0)]
    if ink.shape == "circle":
        ring = [(0.0, 0.0), (8.0, 0.0)]
    if ink.shape in ("area", "picture"):
        ring = [(-19.0, -8.0), (19.0, -8.0), (19.0, 8.0), (-19.0, 8.0)]
    sheet = _Sheet(Frame("plate"), View(name=name), (-24.0, -12.0, 24.0, 12.0), 1.0)
    return element("svg", element("defs", _hatches(name, [sort], 1.0)), _mark(sheet, Mark(sort, rings=[ring])),
                   xmlns="http://www.w3.org/2000/svg", viewBox="-24 -12 48 24", width="48", height="24", aria_hidden="true",
                   class_="key part-drawing")


# ------------------------------------------------------------------ the part itself


def _margins(frame: Frame, view: View) -> tuple[float, float, float, float]:
    """Left, top, right, bottom [px]: room for the clock, the depths and the scale."""
    if frame.name == "bore":
        return DEPTH_PX, CLOCK_PX, MARGIN_PX, BAR_PX + 4
    side = MARGIN_PX if view.box else CLOCK_PX
    return side, side, side, side + BAR_PX


def _ground(sheet: _Sheet) -> Drawn:
    """The lined surface, with its openings."""
    frame, k, (u0, v0, u1, v1) = sheet.frame, sheet.k, sheet.box
    if frame.around_mm is not None:
        return _wall(sheet)
    holes = [_round(one.x, -one.y, one.d / 2) for one in frame.openings]
    if frame.name == "ring" and frame.inner_mm > 0:
        holes.append(_round(0, 0, frame.inner_mm / 2))
    if frame.outline_mm:
        shape = _path([[frame.on_sheet(*p) for p in frame.outline_mm]], SIMPLER_PX * k)
    elif frame.name == "plate" and frame.wide_mm > 0:
        shape = _path([_corners(-frame.wide_mm / 2, -frame.high_mm / 2, frame.wide_mm / 2, frame.high_mm / 2)], 0.0)
    elif frame.d_mm > 0:
        shape = _round(0, 0, frame.d_mm / 2)
    else:
        return element("path", d=_path([_corners(u0, v0, u1, v1)], 0.0), fill=FILM, class_="pd-part")
    dash = None if frame.stated else f"{number(2 * k)} {number(4 * k)}"
    return element("path", d=shape + "".join(holes), fill=FILM, stroke=FILM_EDGE, stroke_width=1.6 * k, stroke_dasharray=dash,
                   class_="pd-part", clip_path=f"url(#{sheet.view.name}-frame)" if sheet.view.box else None)


def _wall(sheet: _Sheet) -> Drawn:
    """The wall of a bore laid flat, paler where it is drawn a second time; its face, and its end where that is known."""
    frame, k, (u0, v0, u1, v1) = sheet.frame, sheet.k, sheet.box
    around = frame.around_mm or 0.0
    low, high = max(0.0, v0), min(frame.long_mm, v1) if frame.stated else v1
    parts = [element("rect", x=u0, y=low, width=u1 - u0, height=high - low, fill=FILM, class_="pd-part")]
    for west, east in ((u0, min(0.0, u1)), (max(around, u0), u1)):
        if east > west:
            parts.append(element("rect", x=west, y=low, width=east - west, height=high - low, fill=PAPER, fill_opacity=0.45,
                                 class_="pd-twice"))
    for v in [0.0] + [frame.long_mm] * frame.stated:
        if v0 <= v <= v1:
            parts.append(element("path", d=f"M{number(u0)} {number(v)}H{number(u1)}", stroke=FILM_EDGE, stroke_width=1.6 * k,
                                 class_="pd-edge"))
    return joined(parts)


def _scales(sheet: _Sheet) -> Drawn:
    """The clock round it, depths beside a bore, and a bar of a round length."""
    frame, k, view, (u0, v0, u1, v1) = sheet.frame, sheet.k, sheet.view, sheet.box
    parts: list[Drawn] = []
    size = SMALL_PX * k

    def text(u: float, v: float, said: str, anchor: str = "middle") -> None:
        sheet.letters.append(letter_box(u, v, said, size, anchor))
        parts.append(element("text", said, x=u, y=v, font_size=size, fill=SOFT, text_anchor=anchor, class_="pd-scale"))

    if frame.around_mm is not None:
        quarter = frame.around_mm / 4
        for turn in range(math.ceil(u0 / quarter), math.floor(u1 / quarter) + 1):
            parts.append(element("path", d=f"M{number(turn * quarter)} {number(v0)}V{number(v1)}", stroke=FILM_EDGE,
                                 stroke_width=k, stroke_dasharray=f"{number(3 * k)} {number(3 * k)}", class_="pd-edge"))
            text(turn * quarter, v0 - 8 * k, str((turn * 3) % 12 or 12))
        step = _round_step((v1 - v0) / 3.5 / view.unit_mm) * view.unit_mm
        for n in range(math.ceil(max(v0, step / 2) / step), math.floor(v1 / step) + 1):
            tick = f"M{number(u0 - 6 * k)} {number(n * step)}h{number(6 * k)}"
            parts.append(element("path", d=tick, stroke=SOFT, stroke_width=k))
            text(u0 - 9 * k, n * step + 4.5 * k, f"{n * step / view.unit_mm:g}", "end")
    elif not view.box:
        west, north, east, south = frame.box or sheet.box
        middle = (west + east) / 2 if frame.box is None or frame.outline_mm else 0.0
        text(middle, north - 9 * k, "12")
        tip = f"M{number(middle - 5 * k)} {number(north - 6 * k)}h{number(10 * k)}l{number(-5 * k)} {number(8 * k)}Z"
        parts.append(element("path", d=tip, fill=INK, class_="pd-twelve"))
        text(middle, south + 17 * k, "6")
        text(west - 7 * k, (north + south) / 2 + 4.5 * k, "9", "end")
        text(east + 7 * k, (north + south) / 2 + 4.5 * k, "3", "start")
    bar = _round_step((u1 - u0) / 5.0 / view.unit_mm) * view.unit_mm
    said = f"{bar / view.unit_mm:g} {view.unit}"
    end, v = u1 - (len(said) * SMALL_PX * LETTER_WIDE + 6) * k, v1 + (BAR_PX - 3) * k
    if not view.box and frame.around_mm is None:
        v += CLOCK_PX / 2 * k
    ticks = f"M{number(end - bar)} {number(v - 7 * k)}v{number(6 * k)}h{number(bar)}v{number(-6 * k)}"
    parts.append(element("path", d=ticks, fill="none", stroke=INK, stroke_width=1.6 * k, class_="pd-bar"))
    text(u1, v, said, "end")
    return joined(parts)


def _round_step(rough: float) -> float:
    """The round number of 1, 2, 4, 5 times a power of ten that comes next."""
    power = 10.0 ** math.floor(math.log10(max(rough, 1e-6)))
    return next(n * power for n in (1.0, 2.0, 4.0, 5.0, 10.0) if n * power >= rough * 0.999)


# ------------------------------------------------------------------ what lies on it


def _mark(sheet: _Sheet, mark: Mark) -> Drawn:
    """One mark, as often as the sheet shows it."""
    ink, k = INKS[mark.sort], sheet.k
    named: dict[str, str | None] = {"data_entry": mark.entry or None, "data_mark": mark.label or None}
    if ink.shape == "area":
        d = _path([one for ring in mark.rings for one in sheet.frame.met(ring, sheet.box)], SIMPLER_PX * k)
        line = [element("path", d=d, **ink.line(mark.sort, k, sheet.view.name), **named)]
        if ink.inner:
            line.append(element("path", d=d, fill="none", stroke=PAPER, stroke_width=ink.inner * k, class_="pd-inner"))
        return joined(line) if d else Drawn()
    met = sheet.frame.met(mark.rings[0], sheet.box)
    return joined([_picture(mark, on) if ink.shape == "picture" else _sign(ink, mark.sort, on, k, named) for on in met])


def _sign(ink: Ink, sort: str, on: Sequence[Point], k: float, named: dict[str, str | None]) -> Drawn:
    """A dot, ring, target, dash, cross or arrow at a point; a circle through a second one."""
    u, v = on[0]
    line: dict[str, float | str] = {"stroke": ink.stroke, "stroke_width": ink.wide * k, "class_": f"pd-{sort}"}
    if ink.shape == "circle":
        return element("circle", cx=u, cy=v, r=math.dist(on[0], on[1]), fill="none", **line, **named)
    dot = element("circle", cx=u, cy=v, r=DOT_PX * k, fill=ink.stroke, class_=f"pd-{sort} pd-dot", **named)
    if ink.shape in ("ringed", "target"):
        r = RING_PX if ink.shape == "ringed" else TARGET_PX
        return joined([element("circle", cx=u, cy=v, r=r * k, fill=PAPER, **line), dot])
    if ink.shape == "dash":
        return element("path", d=f"M{number(u - 7 * k)} {number(v)}h{number(14 * k)}", **line, **named)
    if ink.shape == "arrow":
        far = on[1] if len(on) > 1 else (u + 1, v)
        turn = math.degrees(math.atan2(far[1] - v, far[0] - u))
        where = f"translate({number(u)} {number(v)}) rotate({turn:.0f}) scale({k:.4g})"
        return element("g", element("circle", r=TARGET_PX, fill=ink.stroke),
                       element("path", d="M-3 -6L4 0L-3 6", fill="none", stroke=PAPER, stroke_width=ink.wide),
                       transform=where, class_=f"pd-{sort}", **named)
    if ink.shape == "crossed":
        s = number(2 * HOLE_PX * k * math.sqrt(0.5))
        west, north = number(u - HOLE_PX * k * math.sqrt(0.5)), number(v - HOLE_PX * k * math.sqrt(0.5))
        cross = f"{_round(u, v, HOLE_PX * k)}M{west} {north}l{s} {s}m0 -{s}l-{s} {s}"
        return element("path", d=cross, fill="none", **line, **named)
    return dot


def _picture(mark: Mark, on: Sequence[Point]) -> Drawn:
    u0, v0, u1, v1 = box_of(on)
    return element("image", href=mark.picture, x=u0, y=v0, width=u1 - u0, height=v1 - v0, preserveAspectRatio="none",
                   class_="pd-photo")


def _hatches(name: str, used: Sequence[str], k: float) -> Drawn:
    """The hatch of every sort on the drawing that has one; bare steel on white ground."""
    parts = []
    for sort in used:
        ink = INKS[sort]
        if ink.hatch is not None:
            apart = ink.hatch.apart * k
            white = element("rect", width=apart, height=apart, fill=PAPER, class_="pd-white")
            ground = white if sort == "prepared" else Drawn()
            line = element("path", d=f"M0 0V{number(apart)}", stroke=ink.hatch.stroke or ink.stroke,
                           stroke_width=2 * ink.hatch.wide * k)
            parts.append(element("pattern", ground, line, id=f"{name}-{sort}", width=apart, height=apart,
                                 patternUnits="userSpaceOnUse", patternTransform=f"rotate({ink.hatch.slope:g})",
                                 class_=f"pd-{sort}-hatch"))
    return joined(parts)


def _round(u: float, v: float, r: float) -> str:
    way, back = number(2 * r), number(-2 * r)
    return f"M{number(u - r)} {number(v)}a{number(r)} {number(r)} 0 1 0 {way} 0a{number(r)} {number(r)} 0 1 0 {back} 0Z"


def _corners(u0: float, v0: float, u1: float, v1: float) -> list[Point]:
    return [(u0, v0), (u1, v0), (u1, v1), (u0, v1)]


def _path(rings: Sequence[Sequence[Point]], simpler_mm: float) -> str:
    """Closed rings; after its first corner each is written by its steps, which are short, from corner to rounded corner."""
    from shapely import LineString

    digits = max(0, math.ceil(-math.log10(max(simpler_mm, 1e-3))))
    out = []
    for ring in rings:
        if len(ring) > 1:
            line = list(LineString([*ring, ring[0]]).simplify(simpler_mm, preserve_topology=False).coords)[:-1]
            at = [(round(u, digits), round(v, digits)) for u, v in line]
            steps = [f"{_plain(u1 - u0, digits)},{_plain(v1 - v0, digits)}" for (u0, v0), (u1, v1) in pairwise(at)]
            out.append(f"M{_plain(at[0][0], digits)},{_plain(at[0][1], digits)}l{' '.join(steps)}Z")
    return "".join(out)


def _plain(value: float, digits: int) -> str:
    return f"{round(value, digits) + 0.0:.{digits}f}".rstrip("0").rstrip(".") if digits else f"{round(value)}"


def _band(rings: Sequence[Sequence[Point]]) -> Point | None:
    """A place inside what has a hole in it: half way across, below and to the left of its middle."""
    from shapely import LineString, Polygon

    around = Polygon(rings[0], rings[1:])
    if not around.is_valid or around.is_empty:
        return None
    mu, mv = Polygon(rings[0]).centroid.coords[0]
    far = max(abs(c) for c in (around.bounds[0] - mu, around.bounds[1] - mv, around.bounds[2] - mu, around.bounds[3] - mv)) * 2
    across = around.intersection(LineString([(mu, mv), (mu - 0.5 * far, mv + 0.87 * far)]))
    return None if across.is_empty else (across.centroid.x, across.centroid.y)


def _middle_u(on: Sequence[Point]) -> float:
    return sum(u for u, _ in on) / len(on)


# ------------------------------------------------------------------ its letters


def _letters(sheet: _Sheet, marks: Sequence[Mark]) -> list[Drawn]:
    """Each thing's name beside it where there is room; a damage that was found and prepared is named once."""
    k, frame, (u0, v0, u1, v1) = sheet.k, sheet.frame, sheet.box
    letters = Letters(sheet.box, sheet.letters)
    away_px = {"spot_thinnest": RING_PX, "spot_next": TARGET_PX, "hole": HOLE_PX, "spot": DOT_PX, "spot_open": DOT_PX + 2}
    dots = [one[0] for mark in marks if mark.sort in away_px for one in frame.met(mark.rings[0], sheet.box)]
    letters.taken += [(u - DOT_PX * k, v - DOT_PX * k, u + DOT_PX * k, v + DOT_PX * k) for u, v in dots]
    order = ("spot_next", "spot_thinnest", "hole", "prepared", "found", "spot", "spot_open", "earlier", "no_repair", "ring_now",
             "ring", "ring_laid")
    out: dict[str, list[Drawn]] = {}
    named: set[tuple[str, str]] = set()
    for mark in sorted((m for m in marks if m.label and m.sort in order), key=lambda m: order.index(m.sort)):
        damage = mark.sort in ("found", "prepared")
        if damage and ("damage", mark.label) in named:
            continue
        met = frame.met(mark.rings[0], sheet.box)
        home = [[p for p in one if u0 <= p[0] <= u1 and v0 <= p[1] <= v1] for one in met]
        seen = max(home, key=len, default=[])
        if not seen:
            continue
        named.add(("damage" if damage else mark.sort, mark.label))
        said = sheet.view.words.get(mark.label, mark.label) if mark.sort == "no_repair" else mark.label
        size = _size(mark.sort) * k
        inside = mark.sort in ("no_repair", "earlier", "ring", "ring_laid", "ring_now")
        at = _band([one for ring in mark.rings for one in frame.met(ring, sheet.box)]) if inside and mark.rings[1:] else None
        of = (*at, *at) if at else box_of(seen)
        u, v, anchor = letters.room(of, said, size, (away_px.get(mark.sort, 2.0) + 4) * k, inside=inside)
        out.setdefault(mark.sort, []).append(element("text", said, x=u, y=v, text_anchor=None if anchor == "start" else anchor))
    return [element("g", joined(texts), font_size=_size(sort) * k, font_weight="700" if sort in HEAVY else None,
                    fill=INKS[sort].stroke if sort in ("spot_next", "hole") else INK, class_=f"pd-name pd-name-{sort}")
            for sort, texts in out.items()]


def _size(sort: str) -> float:
    return LETTER_PX + 2 if sort in ("found", "prepared") else LETTER_PX if sort in SPOTS else SMALL_PX
