"""In which ink does each thing lie on the part's drawing? One table for the page, the certificate and the card.

Every sort is told apart in black and white: by its line, its hatch or its shape, never by its colour alone. A page gives its
own colours by the class ``pd-SORT``; the attributes here are those of paper.

>>> INKS["footprint"].line("footprint", 2.0)
{'class_': 'pd-footprint', 'fill': '#c9dbd8', 'stroke': '#16191b', 'stroke_width': 3.2, 'stroke_dasharray': '14 8'}
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .svg import number

INK, SOFT, PAPER, FILM, FILM_2, FILM_EDGE, ACT, FAIL = (
    "#16191b", "#454a4d", "#ffffff", "#dfeae8", "#b9d3d0", "#4f7371", "#0b4a50", "#8c1b12")
FOOT, STEEL = "#c9dbd8", "#8f8a80"
Shape = Literal["area", "circle", "dot", "ringed", "target", "dash", "crossed", "arrow", "picture"]


@dataclass(frozen=True)
class Hatch:
    """Parallel lines: how far apart and how wide [px], their slope [°], and their ink; the sort's own when left out."""

    apart: float
    wide: float
    slope: float
    stroke: str = ""


@dataclass(frozen=True)
class Ink:
    """How one sort is drawn; widths and dashes in px of the drawing's intended size. ``inner``: a second line inside the first,
    of the paper's colour, so that it is seen double."""

    shape: Shape = "area"
    stroke: str = INK
    wide: float = 1.4
    dash: tuple[float, ...] = ()
    round_ends: bool = False
    fill: str = "none"
    hatch: Hatch | None = None
    inner: float = 0.0

    def line(self, sort: str, k: float, name: str = "") -> dict[str, float | str]:
        """Its attributes at ``k`` mm to a px; ``name`` begins the id of its hatch."""
        said: dict[str, float | str] = {
            "class_": f"pd-{sort}", "fill": f"url(#{name}-{sort})" if self.hatch and name else self.fill, "stroke": self.stroke,
            "stroke_width": self.wide * k}
        if self.dash:
            said["stroke_dasharray"] = " ".join(number(one * k) for one in self.dash)
        return said | ({"stroke_linecap": "round"} if self.round_ends else {})

    @property
    def in_black_and_white(self) -> tuple[object, ...]:
        """What is left of it without colour."""
        return self.shape, self.wide, self.dash, self.round_ends, self.hatch, self.inner


# What is drawn first lies below.
INKS: dict[str, Ink] = {
    "photo": Ink("picture"),
    "no_repair": Ink(stroke=FILM_EDGE, wide=1.0, hatch=Hatch(11, 1.3, 45)),
    "footprint": Ink(fill=FOOT, wide=1.6, dash=(7, 4)),
    "hull": Ink(wide=1.0, dash=(9, 3, 2, 3)),
    "earlier": Ink(stroke=SOFT, wide=2.4, dash=(0, 5), round_ends=True),
    "prepared": Ink(wide=2.6, hatch=Hatch(5, 0.7, -45, STEEL)),
    "ring_laid": Ink(stroke=FILM_EDGE, fill=FILM_2, wide=0.8),
    "ring": Ink(stroke=INK, wide=3.2, inner=1.4),
    "ring_now": Ink(stroke=ACT, fill=PAPER, wide=7.0, inner=3.0),
    "point": Ink("circle", stroke=ACT, wide=1.2),
    "found": Ink(wide=2.0, dash=(2, 3)),
    "spark": Ink(wide=1.2, hatch=Hatch(16, 0.9, 60)),
    "spot_open": Ink("dash", stroke=SOFT, wide=2.4),
    "spot": Ink("dot", wide=5.2),
    "spot_thinnest": Ink("ringed", wide=2.2),
    "spot_next": Ink("target", stroke=ACT, wide=4.0),
    "start": Ink("arrow", stroke=ACT, wide=2.6),
    "hole": Ink("crossed", stroke=FAIL, wide=3.0),
}

