"""How certain is the area, and what would make it more certain?

Every influence is one line with its standard uncertainty in per cent of the area; together they are the root of
the sum of their squares (JCGM 100:2008, 5.1.2):

    A = shoelace(H⁻¹ outline) · ((D + t)/D)²        the bars are already in H
    u²(A)/A² = (2 u(L)/L)² + (2 u(t)/D)² + (2 t u(D)/D²)² + u_H²/A² + (P u(b)/A)² + s_r² P l/A² + …

The bars in x and y are read with one rule by one pair of eyes, so their errors are taken as one (fully correlated).

>>> rows = flat_budget(area_mm2=645.16, perimeter_mm=95, edge_mm=0.10, bar_mm=100, u_bar_mm=0.2)
>>> [(row.name, round(row.u_pct, 2)) for row in rows][:2]
[('edge', 1.47), ('print_scale', 0.4)]
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Where the edge *is*, by kind of damage: standard uncertainty of a common shift of the whole edge, mm.
# 50 coins of legal diameter: choosing the outer or the inner of two strong gradients moved the radius by 0.14 mm.
# The others are own estimates: as a chip where the edge is cut, as a blister where the film only changes.
EDGE_MM = {
    **dict.fromkeys(("chip", "crack", "gouge", "cut", "scratch", "pinhole"), 0.10),
    **dict.fromkeys(("lifted_edge", "corrosion", "earlier_repair"), 0.30),
    **dict.fromkeys(("blister", "disbond", "stain", "swelling", "burn", "thin_area", "wear", "other"), 0.50),
}
ROUGH_MM = 0.10  # random part of the edge …
ROUGH_REACH_MM = 1.0  # … and the length over which it hangs together
TAP_MM = 0.15  # one tap with loupe, across the edge, standard deviation


@dataclass(frozen=True)
class Row:
    """One line: ``u_pct`` is the standard uncertainty in per cent of the area. ``shared``: the same in a second
    photo or a second outline of the same place, so it does not average out."""

    name: str
    u_pct: float
    words: str
    shared: bool = False


def flat_budget(
    *, area_mm2: float, perimeter_mm: float, edge_mm: float, bar_mm: float, u_bar_mm: float,
    thickness_mm: float = 0.0, u_thickness_mm: float = 0.0, distance_mm: float = 300.0, u_distance_mm: float = 0.0,
    u_plane_mm2: float = 0.0, blur_mm: float = 0.0, tap_lever_mm2: float = 0.0, cut_mm2: float = 0.0,
) -> list[Row]:
    """All lines of a flat part, largest influence of the edge first.

    ``u_plane_mm2``: from the covariance of the plane fit. ``cut_mm2``: what straight lines between taps may cut off
    a round edge, taken as the half-width of an even distribution. Blur shrinks a closed edge by πσ² whatever its
    form; that is taken whole as an uncertainty.
    """
    share = 100.0 / area_mm2
    return [
        Row("edge", share * perimeter_mm * edge_mm, f"where the edge is, ±{edge_mm:g} mm all round", shared=False),
        Row("print_scale", 200.0 * u_bar_mm / bar_mm, f"bars read to ±{u_bar_mm:g} mm", shared=True),
        Row("stand_off", math.hypot(200.0 * u_thickness_mm / distance_mm,
                                    200.0 * thickness_mm * u_distance_mm / distance_mm**2),
            f"card {thickness_mm:g} ± {u_thickness_mm:g} mm above the lining, seen from {distance_mm:.0f} mm"),
        Row("roughness", share * ROUGH_MM * math.sqrt(perimeter_mm * ROUGH_REACH_MM), "ragged edge"),
        Row("taps", share * TAP_MM * tap_lever_mm2, "each tap by itself"),
        Row("straight_lines", share * abs(cut_mm2) / math.sqrt(3), "straight lines between the taps"),
        Row("plane", share * u_plane_mm2, "fit of plane and lens"),
        Row("blur", share * math.pi * blur_mm**2, "blur draws a closed edge inwards"),
    ]


def curvature_pct(*, area_mm2: float, radius_mm: float, off_centre_mm: float, tilt_deg: float,
                  distance_mm: float) -> tuple[float, float]:
    """Error of a flat card on a cylinder, in per cent: the part that any photo has, and the part that turns its
    sign when the photo is taken from the opposite side.

    −⟨s²⟩/(2R²) − 2⟨s²⟩/(R D), and tan(tilt)·⟨s⟩/R, with ⟨s²⟩ = off-centre² + A/(4π) for a round place: the surface
    falls away by s²/2R, which shortens the arc, lies farther off (once for each direction), and draws the place towards
    the foot of the perpendicular.
    """
    square = off_centre_mm**2 + area_mm2 / (4 * math.pi)
    steady = square / (2 * radius_mm**2) + 2 * square / (radius_mm * distance_mm)
    turning = math.tan(math.radians(tilt_deg)) * off_centre_mm / radius_mm
    return 100 * steady, 100 * turning


def wall_pct(*, area_mm2: float, width_mm: float, lining_mm: float, tilt_deg: float) -> float:
    """How much of the bottom of a hole the wall of a thick lining hides at most, in per cent: h tan(tilt) · width."""
    return 100 * lining_mm * math.tan(math.radians(tilt_deg)) * width_mm / area_mm2


def total_pct(rows: list[Row]) -> float:
    """The lines together."""
    return math.sqrt(sum(row.u_pct**2 for row in rows))
