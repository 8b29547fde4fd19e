"""How is the repair built up in section: layers, volume, powder, and what is sanded off again?

            ┌───────────── as built ─────────────┐   ↕ overbuild, over the whole footprint
    ────────┤· · · · · · · · · · · · · · · · · · ├────────  parent surface
    parent   ╲                                  ╱   parent
    film       ╲        fill, full depth      ╱     film      ↕ depth
    ═════════════╧══════════════════════════╧═════════════  steel
            │←f→│←       bare steel        →│←f→│            f: feather

Over bare steel the film is built to depth + overbuild, in equal layers none thicker than the layer
limit. Over the feather ring the fill thins in a straight line from the full depth to nothing. It is
then sanded flush with the parent (or, where the target is above the parent surface, down to the target).

>>> plan = layers(depth_um=900, target_um=900, overbuild_um=150.0, layer_max_um=300)
>>> plan.count, plan.layer_um, plan.removal_um
(4, 262.5, 150.0)
>>> v = disc_volumes(30.0, depth_um=900, feather_mm=15, overbuild_um=0)
>>> r, R, h = 15.0, 30.0, 0.9                     # a cone frustum, upside down
>>> abs(v.fused_mm3 / (math.pi * h / 3 * (R*R + R*r + r*r)) - 1) < 1e-9
True
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..basis.errors import Contradiction, OutOfRange
from ..basis.sentences import say

# Segments for a quarter of a rounded corner. The corner's sector loses (π/2/128)²/6 = 0.0025 %. An outline of
# more than SEGMENTS_UP_TO points gets fewer, down to 64: between its many points the corners are small.
SEGMENTS, SEGMENTS_UP_TO = 128, 400
CURVE_POINTS = 256
LAYERS_MAX = 200
TANGLE_MAX = 12_000
# Where the outline is not convex the taper is integrated over this many widths in each half of the ring.
GAUSS_POINTS = 8


@dataclass(frozen=True)
class Layers:
    """``count`` equal layers of ``layer_um``; ``built_um`` over bare steel. ``removal_um`` is sanded off to be flush
    with the parent (or to the target where that is higher), ``removal_most_um`` is the most that leaves the target."""

    count: int
    layer_um: float
    built_um: float
    removal_um: float
    removal_most_um: float


@dataclass(frozen=True)
class Volumes:
    """Areas in mm², volumes in mm³."""

    bare_mm2: float
    footprint_mm2: float
    fill_mm3: float
    taper_mm3: float
    overbuild_mm3: float

    @property
    def fused_mm3(self) -> float:
        """Fill over the bare steel, taper over the ring, overbuild over the whole footprint."""
        return self.fill_mm3 + self.taper_mm3 + self.overbuild_mm3


@dataclass(frozen=True)
class Powder:
    """Mass of film and of powder in g, loose volume in ml, loose height of one layer in µm."""

    fused_g: float
    powder_g: float
    loose_ml: float
    loose_layer_um: float


def layers(*, depth_um: float, target_um: float, overbuild_um: float, layer_max_um: float) -> Layers:
    """Equal layers that build the depth and the overbuild; all in µm, above 0 (overbuild at least 0).

    Raises
    ------
    Contradiction
        Depth and overbuild together do not reach the target.
    OutOfRange
        More than ``LAYERS_MAX`` layers.
    """
    built = depth_um + overbuild_um
    if built < target_um - 1e-9:
        raise Contradiction(
            "target_um",
            say("buildup.build_below_target", depth_um=depth_um, overbuild_um=overbuild_um,
                built_um=built, target_um=target_um, least_um=target_um - depth_um),
        )
    count = max(1, math.ceil(built / layer_max_um - 1e-9))
    if count > LAYERS_MAX:
        raise OutOfRange("layer_max_um", say("buildup.too_many_layers", built_um=built, layer_um=layer_max_um,
                                             n=count, most=LAYERS_MAX))
    return Layers(count, built / count, built, built - max(depth_um, target_um), built - target_um)


def volumes(bare: Polygon, *, depth_um: float, feather_mm: float, overbuild_um: float) -> Volumes:
    """Volume to be fused over a bare shape.

    Parameters
    ----------
    bare : Polygon
        Bare steel, mm; may have holes and need not be convex.
    depth_um, overbuild_um : float
        µm, at least 0.
    feather_mm : float
        Width of the feather ring, mm, at least 0.

    Notes
    -----
    With A(t) the area within distance t of the bare shape, the straight taper holds

        ∫₀ᶠ h·(1 − t/f)·A′(t) dt = (h/f)·∫₀ᶠ (A(t) − A(0)) dt      (by parts)

    For a convex shape A(t) = A + P·t + π·t² (Steiner's formula), so the taper is h·(P·f/2 + π·f²/3); for a
    circle that is the cone frustum. Otherwise A(t) is measured on the grown shape and integrated by
    Gauss–Legendre in two halves.
    """
    h, over = depth_um / 1000.0, overbuild_um / 1000.0
    area = bare.area
    if feather_mm == 0:
        return Volumes(area, area, area * h, 0.0, area * over)
    if _is_convex(bare):
        perimeter = bare.length
        footprint = area + perimeter * feather_mm + math.pi * feather_mm**2
        taper = h * (perimeter * feather_mm / 2 + math.pi * feather_mm**2 / 3)
    else:
        footprint = grown(bare, feather_mm).area
        taper = h / feather_mm * _grown_integral(bare, feather_mm)
    return Volumes(area, footprint, area * h, taper, footprint * over)


def disc_volumes(d_mm: float, *, depth_um: float, feather_mm: float, overbuild_um: float) -> Volumes:
    """The same for a circle of diameter ``d_mm``, in closed form."""
    h, over, r, big = depth_um / 1000.0, overbuild_um / 1000.0, d_mm / 2, d_mm / 2 + feather_mm
    bare, footprint = math.pi * r * r, math.pi * big * big
    frustum = math.pi * h / 3 * (big * big + big * r + r * r)
    return Volumes(bare, footprint, bare * h, frustum - bare * h, footprint * over)


def powder(fused_mm3: float, layer_um: float, *, density_kg_m3: float, packing: float, loss_fraction: float) -> Powder:
    """Powder to weigh out.

    ``loss_fraction`` is the share of the powder weighed out that does not end in the film (0 to below 1):
    powder = film/(1 − loss). ``packing`` is the solid share of the loose bed (above 0 to 1).
    """
    fused_g = fused_mm3 * density_kg_m3 * 1e-6
    powder_g = fused_g / (1.0 - loss_fraction)
    return Powder(fused_g, powder_g, powder_g / density_kg_m3 * 1000.0 / packing, layer_um / packing)


def disc(d_mm: float, x: float = 0.0, y: float = 0.0) -> Polygon:
    """A circle as a polygon of exactly its area; its corners stand 0.005 % of the radius outside."""
    t = 2 * math.pi * np.arange(CURVE_POINTS) / CURVE_POINTS
    r = d_mm / 2 * math.sqrt((2 * math.pi / CURVE_POINTS) / math.sin(2 * math.pi / CURVE_POINTS))
    return Polygon(np.column_stack([x + r * np.cos(t), y + r * np.sin(t)]))


def oval(a_mm: float, b_mm: float, angle_deg: float = 0.0, x: float = 0.0, y: float = 0.0) -> Polygon:
    """An ellipse of full axes ``a_mm``, ``b_mm`` as a polygon of exactly its area."""
    from shapely.affinity import rotate, scale, translate

    shape = scale(disc(1.0), a_mm, b_mm, origin=(0, 0))
    return translate(rotate(shape, angle_deg, origin=(0, 0)), x, y)


def grown(bare: Polygon, by_mm: float) -> Any:
    """The bare shape grown all round, corners rounded."""
    if by_mm == 0:
        return bare
    points = shapely.get_num_coordinates(bare)
    return bare.buffer(by_mm, quad_segs=max(64, min(SEGMENTS, SEGMENTS * SEGMENTS_UP_TO // points)))


def _is_convex(shape: Polygon) -> bool:
    return not shape.interiors and shape.convex_hull.area - shape.area <= 1e-9 * shape.area


def _grown_integral(bare: Polygon, feather_mm: float) -> float:
    """∫₀ᶠ (A(t) − A(0)) dt by Gauss–Legendre in two halves, mm³."""
    nodes, weights = np.polynomial.legendre.leggauss(GAUSS_POINTS)
    total, half = 0.0, feather_mm / 2
    for start in (0.0, half):
        for node, weight in zip(nodes, weights):
            total += weight * half / 2 * (grown(bare, start + half * (node + 1) / 2).area - bare.area)
    return total


def refuse_tangle(shape: Any, reach_mm: float, *, what: str, field: str) -> None:
    """Refuse an outline that runs to and fro so densely that growing it would take minutes.

    The measure is its number of points times how often its edge, widened by ``reach_mm``, would cover its own
    surroundings. A smooth outline of 5 000 points scores some thousands; nobody marks one above ``TANGLE_MAX``.
    """
    around = shape.convex_hull
    room = around.area + around.length * reach_mm + 1.0
    score = shapely.get_num_coordinates(shape) * max(1.0, shape.length * reach_mm / room)
    if score > TANGLE_MAX:
        raise OutOfRange(
            field,
            say("basis.outline_too_ragged", what=what, n=shapely.get_num_coordinates(shape), length_mm=shape.length,
                area_mm2=shape.area),
        )
