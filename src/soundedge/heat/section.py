"""What is heated: which steel, which film, where is it bare, and how is it cut into cells?

Steel is cut into rings and slices; on every ring stands a column of polymer cells of its own (heat creeping
sideways inside the film changes the bond line by 0.01 K). A cell that is not there yet, or where the film is
ground away, is kept as a skin of a tenth of a micrometre that stores and resists nothing.

>>> section = cut(plate_mm=12, radius_mm=150, spot_d_mm=30, film_mm=0.8, dish=True, feather_mm=10, layers=6)
>>> section.rings, section.rows, bool(section.joint[0]), bool(section.sound[-1])
(16, 13, True, True)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SKIN_M = 1e-7


@dataclass(frozen=True)
class Section:
    """The cells of one part, from the back of the plate upwards; lengths in metres.

    ``edges_m`` (rings + 1); ``steel_m`` thickness of one steel slice; ``film_m`` (film rows, rings) the thickness
    each film cell has once it is there; ``layer_of`` (film rows) −1 for the old lining, else the number of the new
    layer; ``joint`` and ``sound`` (rings) mark the repair and the lining around it; ``bond_row`` the row just
    below the bond line.
    """

    edges_m: np.ndarray
    slices: int
    steel_m: float
    film_m: np.ndarray
    layer_of: np.ndarray
    joint: np.ndarray
    sound: np.ndarray
    bond_row: int

    @property
    def rings(self) -> int:
        """How many rings."""
        return len(self.edges_m) - 1

    @property
    def rows(self) -> int:
        """How many cells stand on each other: steel slices and film cells."""
        return self.slices + len(self.film_m)

    @property
    def layers(self) -> int:
        """How many new layers."""
        return int(self.layer_of.max()) + 1 if len(self.layer_of) else 0

    @property
    def middles_mm(self) -> np.ndarray:
        """Radius of the middle of each ring, mm."""
        return np.asarray(500.0 * (self.edges_m[1:] + self.edges_m[:-1]))

    @property
    def areas_m2(self) -> np.ndarray:
        """Area of each ring, m²."""
        return np.asarray(np.pi * (self.edges_m[1:] ** 2 - self.edges_m[:-1] ** 2))

    def spread(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Rates λ and the two sides of the radial matrix, once for all: T(t + τ) = T·left·exp(−λατ)·right.

        Radial conduction in the steel is then exact in time whatever the step, and loses no heat.
        """
        edges, areas = self.edges_m, self.areas_m2
        middles = 0.5 * (edges[1:] + edges[:-1])
        link = 2.0 * np.pi * edges[1:-1] / (middles[1:] - middles[:-1])
        n = self.rings
        a = np.zeros((n, n))
        for i, g in enumerate(link):
            a[i, i] += g
            a[i + 1, i + 1] += g
            a[i, i + 1] -= g
            a[i + 1, i] -= g
        root = np.sqrt(areas)
        rates, vectors = np.linalg.eigh(a / root[:, None] / root[None, :])
        rates = np.maximum(rates, 0.0)
        return rates, root[:, None] * vectors, (vectors / root[:, None]).T.copy()


def cut(
    *, plate_mm: float, radius_mm: float, spot_d_mm: float, film_mm: float, dish: bool, feather_mm: float = 10.0,
    layers: int = 0, rings: int = 16, slices: int = 4, old_cells: int = 3, even: bool = False,
) -> Section:
    """Cut a part into cells.

    Parameters
    ----------
    plate_mm, radius_mm : float
        Steel thickness and the radius of the disc that stands for the part.
    spot_d_mm, film_mm : float
        Diameter of the bare spot (or of the place looked at) and thickness of the lining.
    dish : bool
        True: the spot is bare, with a scarf of ``feather_mm`` around it; False: the film is whole.
    layers : int
        New layers that will fill the dish.
    even : bool
        Rings of equal width instead of fine ones at the spot (for checks of convergence).
    """
    radius, spot = radius_mm * 1e-3, min(0.5 * spot_d_mm, 0.8 * radius_mm) * 1e-3
    feather = min(feather_mm * 1e-3, 0.5 * (radius - spot)) if dish else 0.0
    if even:
        edges = np.linspace(0.0, radius, rings + 1)
    else:
        inner = 4
        scarf = 3 if feather > 0 else 0
        fine = np.concatenate([np.linspace(0, spot, inner + 1), spot + feather * np.arange(1, scarf + 1) / max(scarf, 1)])
        edges = np.concatenate([fine, _growing(fine[-1], radius, spot / inner, rings - inner - scarf)])
    middles = 0.5 * (edges[1:] + edges[:-1])
    joint = middles < spot + feather if dish else middles <= max(spot, middles[0])
    sound = ~joint
    share = np.clip((middles - spot) / feather, 0.0, 1.0) if dish and feather > 0 else np.where(joint & dish, 0.0, 1.0)
    film = film_mm * 1e-3
    old = np.maximum(share * film / old_cells, SKIN_M)[None, :] * np.ones((old_cells, 1))
    new = np.where(joint & dish, np.maximum((1.0 - share) * film / max(layers, 1), SKIN_M), SKIN_M)
    film_m = np.concatenate([old, new[None, :] * np.ones((layers, 1))])
    layer_of = np.concatenate([np.full(old_cells, -1), np.arange(layers)]).astype(np.int64)
    bond_row = slices + old_cells - 1 if layers else slices - 1
    return Section(edges, slices, plate_mm * 1e-3 / slices, film_m, layer_of, joint, sound, bond_row)


def _growing(start: float, end: float, first: float, count: int) -> np.ndarray:
    """``count`` edges from ``start`` to ``end``, each ring wider than the last by one and the same ratio."""
    length = end - start
    if first * count >= length:
        return start + length * np.arange(1, count + 1) / count
    low, high = 1.0, 5.0
    for _ in range(80):
        ratio = 0.5 * (low + high)
        total = first * ratio * (ratio**count - 1.0) / (ratio - 1.0) if ratio > 1.0 else first * count
        low, high = (ratio, high) if total < length else (low, ratio)
    widths = first * ratio ** np.arange(1, count + 1)
    return np.asarray(start + np.cumsum(widths) * length / widths.sum())
