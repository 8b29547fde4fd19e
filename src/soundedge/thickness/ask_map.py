"""The map's question: where may film be thin between the readings, and where to read next?"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import model_validator

from ..basis.errors import NotEnough, OutOfRange
from ..basis.quantity import Quantity, Word
from ..basis.question import Answer, AnswerPart, Request, refuse
from ..basis.sentences import say
from ..basis.shape import CoordinateMm, Outline, SizeMm

_UM = "Film is in micrometres (1 mil = 25.4 µm); check the unit."
GRID_MAX = 40_000
HUNTED = 400


class PlaceRequest(Request):
    """A corrected film reading at a place on the part."""

    x: CoordinateMm
    y: CoordinateMm
    film_um: Annotated[float, Quantity("A film reading", "um", at_least=0, at_most=20_000, next_move=_UM)]
    id: Word | None = None


class MapRequest(Request):
    """Readings with their places, the outline, and what is known of how film varies."""

    map: list[PlaceRequest]
    outline_mm: Outline
    step_mm: SizeMm | None = None
    min_um: Annotated[float, Quantity("Thinnest film", "um", at_least=50, at_most=10_000, next_move=_UM)] | None = None
    range_mm: Annotated[float, Quantity("Range of the film's variation", "mm", at_least=0.1, at_most=20_000,
                                        next_move="Film varies over millimetres; leave it out to have it fitted.")
                        ] | None = None
    repeatability_um: Annotated[float, Quantity("Repeatability of the "
                                                "gauge", "um", above=0, at_most=1000)] | None = None
    model: Literal["gaussian", "matern32", "exponential"] = "gaussian"

    @model_validator(mode="after")
    def _places(self) -> MapRequest:
        if len(self.map) > 2000:
            raise refuse("out_of_range", say("thickness.map_too_many_readings", n=len(self.map)))
        return self


class NextReading(AnswerPart):
    """A place worth reading: how likely it is the thinnest of all, and how likely it is below the minimum."""

    x: float
    y: float
    film_um: float
    error_um: float
    p_thinnest: float
    p_below: float | None


class ReadPlace(AnswerPart):
    """A reading as it was given, with its distance from the map of all the others in standard errors."""

    id: str | None
    x: float
    y: float
    film_um: float
    against_others: float


class Stretched(AnswerPart):
    """The answer with another range: how much hangs on the assumption."""

    range_mm: float
    film_min_um: float
    error_max_um: float


class MapAnswer(Answer):
    """The map on a grid (rows follow ``y_mm``; None outside the outline) and what it does not say."""

    x_mm: list[float]
    y_mm: list[float]
    step_mm: float
    film_um: list[list[float | None]]
    error_um: list[list[float | None]]
    model: str
    range_mm: float
    range_from: str
    sill_um2: float
    nugget_um2: float
    mean_um: float
    film_min_um: float
    minimum_um_05: float
    minimum_um_50: float
    minimum_um_95: float
    p_any_below: float | None
    next_readings: list[NextReading]
    readings: list[ReadPlace]
    sensitivity: list[Stretched]
    cautions: list[str]


def draw_map(request: MapRequest) -> MapAnswer:
    """Krige the readings over the outline and hunt for the thinnest place.

    Raises
    ------
    NotEnough
        Fewer than 3 readings, or fewer than 10 and no range stated.
    OutOfRange
        A grid of more than 40 000 points.
    """
    import numpy as np

    from . import map as maps

    if len(request.map) < 3:
        raise NotEnough("map", say("thickness.map_too_few_readings", n=len(request.map)))
    places = [(p.x, p.y) for p in request.map]
    film = [p.film_um for p in request.map]
    edge = request.outline_mm
    wide = max(x for x, _ in edge) - min(x for x, _ in edge)
    tall = max(y for _, y in edge) - min(y for _, y in edge)
    step = request.step_mm or max(wide, tall) / 60
    points = max(1.0, wide / step) * max(1.0, tall / step)
    if points > GRID_MAX:
        raise OutOfRange("step_mm", say("thickness.grid_too_fine", step_mm=step, n=points, most=GRID_MAX,
                                        least_mm=(points / GRID_MAX) ** 0.5 * step * 1.01))
    nugget = None if request.repeatability_um is None else request.repeatability_um**2
    field = maps.fit(places, film, nugget_um2=nugget, range_mm=request.range_mm, model=request.model)
    xs, ys, mask = maps.grid_of(edge, step)
    if not mask.any():
        raise OutOfRange("step_mm", say("thickness.no_grid_point", step_mm=step))
    mapped, error = maps.krige_grid(field, places, film, xs, ys)
    targets, nearest = _targets(xs, ys, mask)
    found = maps.hunt(field, places, film, targets, limit_um=request.min_um)
    low = [float(mapped[at] - 2 * error[at]) for at in nearest]
    order = _worth_reading(found, targets, low, max(3 * step, field.range_mm))
    against = maps.without_one(field, places, film)
    sensitivity = []
    for factor in (0.5, 1.0, 2.0):
        other = maps.stretched(field, factor)
        a, b = (mapped, error) if factor == 1.0 else maps.krige_grid(other, places, film, xs, ys)
        sensitivity.append(Stretched(range_mm=other.range_mm, film_min_um=float(a[mask].min()),
                                     error_max_um=float(b[mask].max())))
    stated = request.range_mm is not None
    return MapAnswer(
        x_mm=xs.tolist(), y_mm=ys.tolist(), step_mm=step, film_um=maps.plain(mapped, mask),
        error_um=maps.plain(error, mask), model=field.model, range_mm=field.range_mm,
        range_from="stated" if stated else "found from the readings", sill_um2=field.sill_um2,
        nugget_um2=field.nugget_um2, mean_um=field.mean_um, film_min_um=float(mapped[mask].min()),
        minimum_um_05=found.minimum_um[0], minimum_um_50=found.minimum_um[1], minimum_um_95=found.minimum_um[2],
        p_any_below=found.p_any_below,
        next_readings=[NextReading(
            x=float(targets[i][0]), y=float(targets[i][1]), film_um=float(mapped[nearest[i]]),
            error_um=float(error[nearest[i]]), p_thinnest=float(found.p_thinnest[i]),
            p_below=None if found.p_below is None else float(found.p_below[i])) for i in order],
        readings=[ReadPlace(id=p.id, x=p.x, y=p.y, film_um=p.film_um, against_others=round(float(r), 4))
                  for p, r in zip(request.map, np.asarray(against))],
        sensitivity=sensitivity, cautions=_cautions(len(film), stated, wide, tall, field.range_mm),
    )


def _targets(xs: Any, ys: Any, mask: Any) -> tuple[list[tuple[float, float]], list[tuple[int, int]]]:
    """At most ``HUNTED`` grid points inside the outline, spread evenly, with their place in the grid."""
    skip = 1
    while mask[::skip, ::skip].sum() > HUNTED:
        skip += 1
    at = [(r, c) for r in range(0, mask.shape[0], skip) for c in range(0, mask.shape[1], skip) if mask[r, c]]
    if not at:
        rows, columns = mask.nonzero()
        at = [(int(rows[0]), int(columns[0]))]
    return [(float(xs[c]), float(ys[r])) for r, c in at], at


def _worth_reading(
    found: Any, targets: list[tuple[float, float]], low: list[float], apart_mm: float, most: int = 5
) -> list[int]:
    """The targets most often thinnest, then those with the lowest film less two standard errors; none too near another."""
    picked: list[int] = []
    for i in sorted(range(len(targets)), key=lambda i: (-found.p_thinnest[i], low[i])):
        x, y = targets[i]
        if all((x - targets[j][0]) ** 2 + (y - targets[j][1]) ** 2 >= apart_mm**2 for j in picked):
            picked.append(i)
        if len(picked) == most:
            break
    return picked


def _cautions(n: int, stated: bool, wide: float, tall: float, range_mm: float) -> list[str]:
    said = ["The map is an estimate between readings and smoother than the film: its thinnest place is not the "
            "film's. A "
            "pinhole or a place smaller than the probe stays unseen; the holiday test looks for those."]
    if not stated and n < 30:
        said.append(f"The range was found from {n} readings; with fewer than 30 it is little more than a guess. "
                    "Compare the "
                    "lines of 'sensitivity'.")
    if range_mm > max(wide, tall):
        said.append("The range is longer than the part: the readings show a drift across it rather than patches.")
    return said
