"""The cooled film, the gauge on its shim, and the readings."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from ...basis.quantity import Prose, Quantity, Word, shown
from ...basis.question import Request, refuse
from ...basis.sentences import say
from ...basis.shape import CoordinateMm
from .kind import LOOKING, Kind, of_repair
from .values import FilmC, FilmUm


class FilmCooled(Request):
    """The film's own temperature before anybody measures it."""

    film_c: FilmC
    repair: Word | None = None
    instrument: Word | None = None


class GaugeChecked(Request):
    """A film gauge on a shim of known thickness."""

    instrument: Word
    reference_um: FilmUm
    reading_um: Annotated[float, Quantity("Gauge reading", "um", at_least=0, at_most=50000)]
    u_reference_um: Annotated[float, Quantity("Uncertainty of the shim", "um", at_least=0, at_most=1000)] | None = None
    confirmed: Prose | None = None


class Spot(Request):
    """Gauge readings at one spot, as shown by the gauge."""

    id: Word
    readings_um: list[Annotated[float, Quantity("Gauge reading", "um", above=-1000, at_most=50000)]]
    where: Literal["repair", "overlap", "parent"] = "repair"
    repair: Word | None = None
    x: CoordinateMm | None = None
    y: CoordinateMm | None = None


class Correction(Request):
    """What is taken off every reading: for the base metal or the profile, never both."""

    kind: Literal["none", "base_metal_reading", "profile"] = "none"
    value_um: Annotated[float, Quantity("Correction", "um", at_least=0, at_most=1000)] = 0.0
    u_um: Annotated[float, Quantity("Uncertainty of the correction", "um", at_least=0, at_most=1000)] = 0.0

    @property
    def made(self) -> bool:
        """Whether anything was taken off the readings."""
        return self.kind != "none"

    @property
    def said(self) -> str:
        """What was taken off, in words."""
        if not self.made:
            return "as the gauge showed them, no correction made"
        return f"after correction ({self.kind.replace('_', ' ')}, {shown(self.value_um)} µm)"


class FilmMeasured(Request):
    """Film thickness: every reading, by spot. ``set_aside`` keeps lines of the file that could not be read.

    ``repair`` is that of every spot that names none itself.
    """

    instrument: Word
    repair: Word | None = None
    spots: list[Spot]
    correction: Correction = Correction()
    file: Word | None = None
    set_aside: list[Prose] = []

    @model_validator(mode="after")
    def _some(self) -> FilmMeasured:
        if not self.spots or not any(spot.readings_um for spot in self.spots):
            raise refuse("not_enough", say("job.film_without_spot"))
        return self


def _measured(body: FilmMeasured) -> str:
    n = sum(len(s.readings_um) for s in body.spots)
    return f"{of_repair(body)}{n} readings at {len(body.spots)} spots with {body.instrument}"


KINDS = (
    Kind("film.cooled", FilmCooled, "Film cooled", lambda b: f"{shown(b.film_c)} °C",
         section="cooled", step="thickness", roles=LOOKING, measured_with=("infrared", "steel_probe", "air_meter"), box="4e"),
    Kind("gauge.checked", GaugeChecked, "Gauge checked on a shim",
         lambda b: f"{b.instrument}: shim {shown(b.reference_um)} µm, shown {shown(b.reading_um)} µm",
         section="gauge_check", act="check_gauge", step="instruments", roles=LOOKING, measured_with=("film_gauge",), box="5a"),
    Kind("film.measured", FilmMeasured, "Film measured", _measured,
         names_repair=True, section="film",
         act="measure_film", step="thickness", roles=LOOKING, covered_by="film", measured_with=("film_gauge",), box="5b"),
)
