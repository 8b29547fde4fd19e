"""How large is one outlined place on one photo?

From the photo's pixels to the plane of the card, from there to the lining behind it, then area, perimeter, length
and width of the outline itself, and every influence on the area as a line of its budget.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from . import checks
from .budget import EDGE_MM, Row, curvature_pct, flat_budget, total_pct, wall_pct
from .checks import Reason
from .given import CardFacts, Clicks
from .outline import Shape, curve_through, measured, tap_lever_mm2
from .seen import Seen
from .view import shifted

if TYPE_CHECKING:
    import numpy as np

CURVE_STEP_MM = 0.5


@dataclass
class Place:
    """One outline, measured. ``outline_mm`` and ``holes_mm`` lie on the lining. Without ``shape`` it was refused, or is
    a crack, which has no area."""

    outline_mm: list[tuple[float, float]] = field(default_factory=list)
    holes_mm: list[list[tuple[float, float]]] = field(default_factory=list)
    shape: Shape | None = None
    rows: list[Row] = field(default_factory=list)
    u_area_mm2: float | None = None
    reasons: list[Reason] = field(default_factory=list)


@dataclass(frozen=True)
class Part:
    """What is known of the part: lining thickness, radius of a curved one, distance from the touching line, mm;
    tilt of the second photo, signed towards the first one's side, when there is one."""

    lining_mm: float | None = None
    radius_mm: float | None = None
    off_centre_mm: float = 0.0
    opposite_tilt_deg: float | None = None


def measure_place(seen: Seen, clicks: Clicks, card: CardFacts, part: Part) -> Place:
    """Measure an outline with its budget; reasons against it come back with it, then without numbers."""
    import numpy as np

    assert seen.plane is not None and seen.view is not None
    place = Place()
    on_card = [seen.plane.to_card(np.array(ring, float)) for ring in (clicks.outline_px, *clicks.holes_px)]
    if clicks.joined == "curve" and clicks.kind != "crack":
        on_card = [np.array(curve_through([tuple(p) for p in ring.tolist()], CURVE_STEP_MM)) for ring in on_card]
    place.reasons += _outline_faults(seen, clicks, on_card)
    wall = clicks.edge == "bottom" and (part.lining_mm or 0.0) > checks.WALL_MM
    slanting = checks.tilt(seen.view.tilt_deg, wall=wall)
    place.reasons += [slanting] if slanting else []
    if _refused(place.reasons) or seen.refused:
        return place
    thickness, u_thickness = card.stand_off_mm
    depth = thickness + ((part.lining_mm or 0.0) if clicks.edge == "bottom" else 0.0)
    on_lining = [shifted(ring, seen.view, depth) for ring in on_card]
    place.outline_mm = _pairs(on_lining[0])
    place.holes_mm = [_pairs(ring) for ring in on_lining[1:]]
    if clicks.kind == "crack":
        return place
    shape = measured(place.outline_mm, place.holes_mm)
    middle = np.array([shape.centroid_mm])
    worst_scale = float(seen.plane.px_per_mm(middle)[0, 0])
    for reason in (checks.size(shape.area_mm2, worst_scale * shape.area_mm2**0.5),
                   checks.glare(blown_out(seen, on_card)),
                   checks.few_taps(len(clicks.outline_px), straight=clicks.joined == "straight")):
        place.reasons += [reason] if reason else []
    if _refused(place.reasons):
        return place
    place.shape = shape
    place.rows = flat_budget(
        area_mm2=shape.area_mm2, perimeter_mm=shape.perimeter_mm,
        edge_mm=clicks.u_edge_mm or EDGE_MM[clicks.kind],
        bar_mm=100.0 * min(seen.bars), u_bar_mm=card.u_bar_mm,
        thickness_mm=thickness, u_thickness_mm=u_thickness,
        distance_mm=seen.view.distance_mm, u_distance_mm=seen.view.u_distance_mm,
        u_plane_mm2=plane_u_mm2(seen, clicks), blur_mm=seen.blur_mm or 0.0,
        tap_lever_mm2=_tap_lever_mm2(seen, clicks),
        cut_mm2=shape.cut_mm2,
    )
    if part.radius_mm is not None:
        steady, turning = curvature_pct(
            area_mm2=shape.area_mm2, radius_mm=part.radius_mm, off_centre_mm=part.off_centre_mm,
            tilt_deg=seen.view.tilt_deg, distance_mm=seen.view.distance_mm,
        )
        if part.opposite_tilt_deg is not None:  # the sign turns with the side, so two photos leave the difference
            other = curvature_pct(area_mm2=shape.area_mm2, radius_mm=part.radius_mm, off_centre_mm=part.off_centre_mm,
                                  tilt_deg=part.opposite_tilt_deg, distance_mm=seen.view.distance_mm)[1]
            turning = abs(turning - other) / 2
        place.rows.append(Row("curvature", (steady + turning) / 3**0.5, f"flat card on radius {part.radius_mm:g} mm",
                              shared=True))
    if clicks.edge == "bottom" and part.lining_mm:
        hidden = wall_pct(area_mm2=shape.area_mm2, width_mm=shape.length_mm, lining_mm=part.lining_mm,
                          tilt_deg=seen.view.tilt_deg)
        place.rows.append(Row("wall", hidden / 3**0.5, f"wall of a {part.lining_mm:g} mm lining hides its foot"))
    place.u_area_mm2 = total_pct(place.rows) / 100 * shape.area_mm2
    return place


def _tap_lever_mm2(seen: Seen, clicks: Clicks) -> float:
    """How strongly errors of single taps move the area; see ``outline.measured``."""
    import numpy as np

    assert seen.plane is not None
    rings = [_pairs(seen.plane.to_card(np.array(ring, float))) for ring in (clicks.outline_px, *clicks.holes_px)]
    return tap_lever_mm2(rings)


def plane_u_mm2(seen: Seen, clicks: Clicks) -> float:
    """Standard uncertainty of the area from the plane fit: √(g C gᵀ), g = dA/dh by small steps."""
    import numpy as np

    plane = seen.plane
    assert plane is not None and plane.cov is not None
    rings = [np.array(ring, float) for ring in (clicks.outline_px, *clicks.holes_px)]

    def area(candidate: Any) -> float:
        areas = []
        for ring in rings:
            x, y = candidate.to_card(ring).T
            x, y = x - x[0], y - y[0]
            areas.append(0.5 * abs(float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))))
        return areas[0] - sum(areas[1:])

    slope = np.zeros(9)
    for i in range(9):
        step = np.zeros(9)
        step[i] = max(1e-7, 0.1 * float(np.sqrt(plane.cov[i, i])))
        slope[i] = (area(plane.moved(step)) - area(plane.moved(-step))) / (2 * step[i])
    return float(np.sqrt(max(slope @ plane.cov @ slope, 0.0)))


def blown_out(seen: Seen, rings: list[np.ndarray]) -> float:
    """Share of the outline where the picture is white on both sides of the edge, so that no edge can be seen."""
    import cv2
    import numpy as np

    total = blown = 0
    for ring in rings:
        closed = np.concatenate([ring, ring[:1]])
        along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
        at = np.arange(0, along[-1], 0.5)
        place = np.stack([np.interp(at, along, closed[:, i]) for i in (0, 1)], axis=1)
        ahead = np.stack([np.interp((at + 0.25) % along[-1], along, closed[:, i]) for i in (0, 1)], axis=1) - place
        ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
        across = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
        both = np.ones(len(at), bool)
        for side in (-0.4, 0.4):
            points = seen.flat.to_px(place + side * across).astype(np.float32)[:, None]
            colour = cv2.remap(seen.flat.colour, points[..., 0], points[..., 1], cv2.INTER_NEAREST,
                               borderMode=cv2.BORDER_REPLICATE)
            both &= colour[:, 0].min(axis=1) >= 250
        total, blown = total + len(at), blown + int(both.sum())
    return blown / max(total, 1)


def _outline_faults(seen: Seen, clicks: Clicks, on_card: list[np.ndarray]) -> list[Reason]:
    import numpy as np
    from shapely.geometry import LineString, MultiPoint, Polygon

    width, height = seen.photo.size_px
    taps = np.array([p for ring in (clicks.outline_px, *clicks.holes_px) for p in ring])
    if taps.min() < -0.5 or taps[:, 0].max() > width - 0.5 or taps[:, 1].max() > height - 0.5:
        return [checks.outline("outline_off_photo", "The outline leaves the photo.",
                               "Check that the taps belong to this photo, upright, and outline it again.")]
    if not np.isfinite(np.concatenate(on_card)).all() or np.abs(np.concatenate(on_card)).max() > 5000:
        return [checks.outline("outline_off_window", "The outline lies off the card's plane.",
                               "Outline the damage in the window.")]
    crack = clicks.kind == "crack"
    shape = LineString(on_card[0]) if crack else Polygon(on_card[0])
    if not crack and (not shape.is_valid or shape.area <= 0):
        return [checks.outline("outline_crosses_itself", "The outline crosses itself or encloses nothing.",
                               "Go round the edge once, in one direction.")]
    held = shape
    for number, ring in enumerate(on_card[1:], 1):
        hole = Polygon(ring)
        if not hole.is_valid or hole.area <= 0 or not held.contains(hole):
            return [checks.outline("hole", f"Hole {number} crosses itself, the outline or another hole, or lies outside.",
                                   "Mark islands of sound lining inside the outline only, each once.")]
        held = held.difference(hole)
    window = Polygon(seen.open_region_mm()).buffer(-checks.WINDOW_MARGIN_MM)
    if not window.contains(shape):
        return [checks.outline("outline_off_window", "The outline touches or crosses the edge of the card's window.",
                               "Move the card so that the whole damage lies in the window, or use the large card; damage "
                               "larger than that goes to the engineer.")]
    if not MultiPoint(seen.hull_mm()).convex_hull.contains(shape):
        return [checks.outline("outline_off_marks", "The damage is not surrounded by the marks that could be measured.",
                               "Take it again with the marks on all sides in view.")]
    return []


def _refused(reasons: list[Reason]) -> bool:
    return any(reason.weight == "refuse" for reason in reasons)


def _pairs(ring: np.ndarray) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in ring]
