"""When was what done, what held until when, and where is now? One axis for the whole job, as SVG.

Six lanes lie over each other: steel above dew point, work, layers, heat, readings, signatures. A bar says from when to when; a
frame what a permit allows; a dot a reading; a disc with a tick a signature; a cross what was bad. Hours in which nothing
happened are folded with a zigzag and their length in words; the date stands at every midnight, the zone once at the left end.
The page's script moves only the line for now. It reads the same in black and white.

>>> from datetime import UTC
>>> day = datetime(2036, 5, 14, 7, tzinfo=UTC)
>>> drawn = strip_svg([Item("air", day, "8.9 K"), Item("work", day, "heat", day.replace(hour=9), "done", runs=True)], Look())
>>> drawn[:5], ">8.9 K</text>" in drawn, ">14 May 2036</text>" in drawn
('<svg ', True, True)
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from typing import Any

from ..basis.sentences import Sentence, say
from .part_ink import ACT, FAIL, FILM_2, FILM_EDGE, INK, PAPER, SOFT
from .strip_axis import Axis, Stretch, axis_of
from .strip_marks import LANES, Item, ending_next, items_of
from .svg import Drawn, element, joined, number

LANE_PX, BAR_PX, HEAD_PX, FOOT_PX = 30.0, 22.0, 22.0, 40.0
NAME_PX, END_PX, FOLD_PX, TICK_PX = 132.0, 92.0, 112.0, 72.0
LETTER_PX, SMALL_PX, TEXT_WIDE = 14.0, 13.0, 0.55  # a middling letter of a word, of its size
PHONE_BAR_PX, APART_PX = 40.0, 9.0
HALF_PX = {"dot": 6.0, "tick": 4.0, "signed": 9.0, "bad": 9.0, "holds": 6.0, "done": 6.0, "frame": 6.0}


@dataclass(frozen=True)
class Look:
    """For whom it is drawn.

    Parameters
    ----------
    wide_px : float
        The room it has.
    zone, zone_name : tzinfo, str
        The shop's clock, and what it is called.
    now : datetime, optional
        Draws the line for now; left out for a job that is finished, and on paper.
    said : callable
        A sentence → its text for the reader.
    name : str
        Begins the ids in it, unique on its page.
    """

    wide_px: float = 1296.0
    zone: tzinfo = UTC
    zone_name: str = "UTC"
    now: datetime | None = None
    said: Callable[[Any], str] = str
    name: str = "strip"


def time_strip(outcome: Any, look: Look) -> str:
    """The whole time axis of a judged job (job.judge.Outcome); empty text while nothing has happened."""
    return strip_svg(items_of(outcome), look)


def ends_next(outcome: Any, look: Look) -> str:
    """For a phone: what holds or runs now and ends next, at most three bars; empty text when there is none, or no ``now``."""
    return next_svg(items_of(outcome), look)


def strip_svg(items: Sequence[Item], look: Look) -> str:
    """The axis of these marks; empty text when there are none."""
    if not items:
        return ""
    busy = [(one.at, one.end if one.runs else one.at) for one in items]
    if look.now is not None:
        busy.append((look.now, look.now))
    axis = axis_of(busy, west=NAME_PX, east=look.wide_px - END_PX, fold=FOLD_PX)
    foot = HEAD_PX + len(LANES) * LANE_PX
    parts = [_clock(axis, look, foot)]
    for row, lane in enumerate(LANES):
        y = HEAD_PX + (row + 0.5) * LANE_PX
        parts.append(element("text", look.said(_LANE_NAMES[lane]), x=0, y=y + 5, fill=SOFT, class_="ts-lane"))
        parts.append(_lane([one for one in items if one.lane == lane], axis, look, y))
    parts += [_zigzag(one, look, foot) for one in axis.folds]
    if look.now is not None:
        parts.append(_now(axis, look, foot))
    title = look.said(say("report.strip_title"))
    desc = " ".join(look.said(line) for line in told(items, look))
    return element(
        "svg", element("title", title, id=f"{look.name}-title"), element("desc", desc, id=f"{look.name}-desc"), *parts,
        xmlns="http://www.w3.org/2000/svg", class_="time-strip", role="img", width=f"{look.wide_px:.0f}",
        height=f"{foot + FOOT_PX:.0f}", viewBox=f"0 0 {look.wide_px:.0f} {foot + FOOT_PX:.0f}",
        aria_labelledby=f"{look.name}-title {look.name}-desc", data_axis=_spans(axis),
        font_family="'DejaVu Sans', system-ui, sans-serif", font_size=LETTER_PX)


def next_svg(items: Sequence[Item], look: Look) -> str:
    """What ends next, at most three bars from now to their ends."""
    found = ending_next(list(items), look.now) if look.now is not None else []
    if look.now is None or not found:
        return ""
    last = max(one.end for one in found)
    axis = Axis((Stretch(look.now, last, 0.0, look.wide_px),))
    parts, lines = [], []
    for row, one in enumerate(found):
        y, until = row * PHONE_BAR_PX, f"{one.end.astimezone(look.zone):%H:%M}"
        name = look.said(one.said) or look.said(_LANE_NAMES[one.lane])
        said = look.said(say("report.strip_until", what=name, until=until))
        x = axis.x(one.end)
        parts.append(element("rect", x=0.5, y=y + 2, width=max(x - 1, 4.0), height=PHONE_BAR_PX - 10, rx=4, fill=FILM_2,
                             stroke=FILM_EDGE, class_="ts-holds", data_entry=one.entry or None))
        over = x < 10 + _wide(said)
        parts.append(element("text", said, x=10, y=y + PHONE_BAR_PX / 2 + 2, fill=INK, paint_order="stroke", stroke=PAPER,
                             stroke_width=3 if over else 0, class_="ts-said"))
        lines.append(said)
    high = len(found) * PHONE_BAR_PX
    return element(
        "svg", element("title", look.said(say("report.strip_next_title")), id=f"{look.name}-title"),
        element("desc", ". ".join(lines), id=f"{look.name}-desc"), *parts, xmlns="http://www.w3.org/2000/svg",
        class_="time-strip ts-next", role="img", width=f"{look.wide_px:.0f}", height=f"{high:.0f}",
        viewBox=f"0 0 {look.wide_px:.0f} {high:.0f}", aria_labelledby=f"{look.name}-title {look.name}-desc",
        font_family="'DejaVu Sans', system-ui, sans-serif", font_size=LETTER_PX)


def told(items: Sequence[Item], look: Look) -> list[Sentence]:
    """The axis in words: each mark with its time, in order of time."""
    out = []
    for one in sorted(items, key=lambda one: one.at):
        name = one.said or _LANE_NAMES[one.lane]
        at = f"{one.at.astimezone(look.zone):%H:%M}"
        if one.until is None:
            out.append(say("report.strip_at", at=at, what=name))
        else:
            out.append(say("report.strip_from_to", at=at, until=f"{one.until.astimezone(look.zone):%H:%M}", what=name))
    return out


# ------------------------------------------------------------------ one lane


def _lane(items: Sequence[Item], axis: Axis, look: Look, y: float) -> Drawn:
    """Bars below, marks on them, and what they are called where there is room: in full, or in short."""
    bars = [one for one in items if one.until is not None]
    points = [one for one in items if one.until is None]
    at = _apart([axis.x(one.at) for one in points])
    first, folds = axis.stretches[0].west, [(one.west, one.east) for one in axis.folds]
    taken = [(x - HALF_PX[one.sort], x + HALF_PX[one.sort]) for one, x in zip(points, at, strict=True)]
    parts = [_bar(one, axis, y) for one in bars] + [_sign(one, x, y) for one, x in zip(points, at, strict=True)]
    spans = [(one, axis.x(one.at), axis.x(one.end)) for one in bars if one.sort != "holds"]
    spans += [(one, x - HALF_PX[one.sort], x + HALF_PX[one.sort]) for one, x in zip(points, at, strict=True)]
    bad_first = sorted(spans, key=lambda item: (item[0].sort != "bad", item[1]))
    for one, west, east in bad_first:
        full = [(other_west, other_east) for other, other_west, other_east in spans
                if other.sort == "done" and other is not one]
        for said in dict.fromkeys(look.said(text) for text in (one.said, one.short) if text):
            lie = [*taken, *full, *folds]
            x = _room(said, west, east, bar=one.until is not None, taken=lie, ends=(first - 6, look.wide_px))
            if x is not None:
                wide = _wide(said)
                taken.append((x - 4, x + wide))
                parts.append(element("text", said, x=x, y=y + 5, fill=INK, paint_order="stroke", stroke=PAPER,
                                     stroke_width=0 if west < x < east else 3, class_="ts-said"))
                break
    return joined(parts)


def _room(said: str, west: float, east: float, *, bar: bool, taken: Sequence[tuple[float, float]],
          ends: tuple[float, float]) -> float | None:
    """Where a text begins: in its bar, to the right, or to the left with a gap that tells whose it is; None: no room."""
    wide = _wide(said)
    tries = [(west + 6, 0.0)] if bar and east - west > wide + 10 else [(east + 4, 0.0), (west - 4 - wide, 10.0)]
    for x, gap in tries:
        if x >= ends[0] and x + wide <= ends[1] and not any(x - gap < b and a < x + wide + 5 for a, b in taken):
            return x
    return None


def _wide(said: str) -> float:
    return len(said) * LETTER_PX * TEXT_WIDE


def _apart(xs: Sequence[float]) -> list[float]:
    """Marks of one lane, each at least half of itself beside the one before; none is moved by more than that."""
    out: list[float] = []
    for x in xs:
        out.append(min(max(x, out[-1] + APART_PX), x + APART_PX) if out else x)
    return out


def _bar(one: Item, axis: Axis, y: float) -> Drawn:
    west, east = axis.x(one.at), axis.x(one.end)
    frame = one.sort == "frame"
    high = BAR_PX if one.sort != "holds" else BAR_PX - 8
    return element("rect", x=west, y=y - high / 2, width=max(east - west, 3.0), height=high, rx=2,
                   fill="none" if frame else FILM_2, stroke=INK if frame else FILM_EDGE, stroke_width=1,
                   stroke_dasharray="5 3" if frame else None, class_=f"ts-{one.sort}", data_entry=one.entry or None)


def _sign(one: Item, x: float, y: float) -> Drawn:
    """A dot, a tick of a layer, a disc with a tick cut through to the rim, a square with a cross."""
    more = {"class_": f"ts-{one.sort}", "data_entry": one.entry or None}
    if one.sort == "tick":
        return element("path", d=f"M{number(x)} {number(y - 9)}v18", stroke=INK, stroke_width=4, **more)
    if one.sort == "signed":
        tick = element("path", d=f"M{number(x - 4)} {number(y)}l3 4l8 -9", fill="none", stroke=PAPER, stroke_width=2.4)
        return element("g", element("circle", cx=x, cy=y, r=8, fill=INK), tick, **more)
    if one.sort == "bad":
        cross = element("path", d=f"M{number(x - 3.5)} {number(y - 3.5)}l7 7m0 -7l-7 7", stroke=PAPER, stroke_width=2)
        return element("g", element("rect", x=x - 7, y=y - 7, width=14, height=14, fill=FAIL), cross, **more)
    return element("circle", cx=x, cy=y, r=4.5, fill=INK, **more)


# ------------------------------------------------------------------ its clock


def _clock(axis: Axis, look: Look, foot: float) -> Drawn:
    """The line with its hours, the date at the left and at every midnight, and the zone once."""
    west, east = axis.stretches[0].west, axis.stretches[-1].east
    parts = [element("path", d=f"M{number(west)} {number(foot)}H{number(east)}", stroke=SOFT, class_="ts-axis"),
             element("text", look.zone_name, x=0, y=foot + 16, fill=SOFT, font_size=SMALL_PX, class_="ts-zone")]
    dated = {axis.start.astimezone(look.zone).date(): (west, True)}
    for at in axis.midnights(look.zone):
        x = axis.x(at)
        fold = next((one for one in axis.folds if one.start <= at < one.end), None)
        parts.append(element("path", d=f"M{number(x)} {number(HEAD_PX)}V{number(foot + 6)}", stroke=SOFT, stroke_width=1,
                             stroke_dasharray="1 4", class_="ts-midnight"))
        if fold is not None and any(fold.start <= other < fold.end and other > at for other in axis.midnights(look.zone)):
            continue  # a weekend that is folded says where it ends
        dated[at.date()] = (fold.east if fold is not None else x, False)
    year = axis.start.astimezone(look.zone).year
    for day, (x, first) in dated.items():
        said = look.said(say("report.strip_date", day=day.day, month=f"{day:%B}"))
        said = f"{said} {day.year}" if first or day.year != year else said
        parts.append(element("text", said, x=x, y=foot + 34, fill=INK, font_size=SMALL_PX, font_weight="700", class_="ts-date"))
    for at in axis.ticks(look.zone, TICK_PX):
        x = axis.x(at)
        if any(fold.west - 10 < x < fold.east + 10 for fold in axis.folds):
            continue  # there stands how long it was
        parts.append(element("path", d=f"M{number(x)} {number(foot)}v5", stroke=SOFT))
        anchor = "end" if x > east - 18 else "middle"
        parts.append(element("text", f"{at:%H:%M}", x=x, y=foot + 18, fill=SOFT, font_size=SMALL_PX, text_anchor=anchor,
                             class_="ts-hour"))
    return joined(parts)


def _zigzag(fold: Stretch, look: Look, foot: float) -> Drawn:
    """Idle hours: two torn edges over all lanes, and how long it was in words."""
    hours, minutes = divmod(round(fold.idle.total_seconds() / 60), 60)
    long = say("report.strip_idle_hours", hours=hours, minutes=minutes) if hours < 48 else say(
        "report.strip_idle_days", days=hours // 24, hours=hours % 24)
    middle, teeth = (fold.west + fold.east) / 2, int((foot - HEAD_PX) / 10)
    edge = "l5 5l-5 5" * teeth
    torn = f"M{number(middle - 8)} {number(HEAD_PX)}{edge}"
    other = f"M{number(middle + 3)} {number(HEAD_PX)}{edge}"
    ground = element("rect", x=middle - 6, y=HEAD_PX - 1, width=11, height=foot - HEAD_PX + 4, fill=PAPER, class_="ts-ground")
    return joined([ground, element("path", d=torn + other, fill="none", stroke=SOFT, stroke_width=1.2, class_="ts-fold"),
                   element("text", look.said(long), x=middle, y=foot + 18, fill=SOFT, font_size=SMALL_PX, text_anchor="middle",
                           class_="ts-idle")])


def _now(axis: Axis, look: Look, foot: float) -> Drawn:
    assert look.now is not None
    x = axis.x(look.now)
    said = f"{look.now.astimezone(look.zone):%H:%M}"
    anchor = "end" if x > look.wide_px - 60 else "start"
    return element(
        "g", element("path", d=f"M-6 4h12l-6 8ZM0 8V{number(foot)}", fill=ACT, stroke=ACT, stroke_width=2.4),
        element("text", said, x=-10 if anchor == "end" else 10, y=15, fill=ACT, font_weight="700", text_anchor=anchor,
                paint_order="stroke", stroke=PAPER, stroke_width=3),
        transform=f"translate({number(x)} 0)", class_="ts-now", data_now=look.now.isoformat(), data_shown=said)


def _spans(axis: Axis) -> str:
    """The axis for the script: seconds since 1970 and px at both ends of every stretch."""
    ends = ((one.start.timestamp(), one.west, one.end.timestamp(), one.east) for one in axis.stretches)
    return ";".join(f"{start:.0f},{west:.1f},{end:.0f},{east:.1f}" for start, west, end, east in ends)


_LANE_NAMES = {
    "air": say("report.strip_lane_air"), "work": say("report.strip_lane_work"), "layers": say("report.strip_lane_layers"),
    "heat": say("report.strip_lane_heat"), "readings": say("report.strip_lane_readings"),
    "signatures": say("report.strip_lane_signatures"),
}
