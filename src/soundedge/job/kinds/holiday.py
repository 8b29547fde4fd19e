"""The high-voltage (or wet-sponge) test."""

from __future__ import annotations

from typing import Annotated, Literal

from ...basis.on_paper import words
from ...basis.quantity import Prose, Quantity, Word, shown
from ...basis.question import Request
from ...basis.shape import CoordinateMm
from .kind import LOOKING, Kind, of_repair
from .values import AirC, FilmUm, Percent, VoltageV, Zone


class Holiday(Request):
    """A place where the test found a hole."""

    x: CoordinateMm
    y: CoordinateMm
    zone: Zone | None = None
    remark: Prose | None = None


class HolidayTested(Request):
    """A high-voltage (or wet-sponge) test: voltage at the electrode, what proved the setting, what was found.

    ``zones`` are the zones it went over; all that were measured when left out. Zones at other voltages are tests
    of their own. ``letter`` is the owner's or maker's, that gives this voltage for old film that was in service.
    """

    instrument: Word
    voltage_v: VoltageV
    verified_v: VoltageV | None = None
    electrode: Literal["wire_brush", "conductive_rubber", "spring", "wet_sponge"] = "wire_brush"
    grounded: bool
    coupon_um: FilmUm | None = None
    coupon_hole_found: bool | None = None
    travel_m_s: Annotated[float, Quantity("Electrode travel", "m/s", above=0, at_most=10)] | None = None
    passes: Annotated[int, Quantity("Passes", "", at_least=1, at_most=100, whole=True)] = 1
    air_c: AirC = 20.0
    kpa: Annotated[float, Quantity("Air pressure", "kPa", at_least=50, at_most=110)] = 101.325
    covered_pct: Percent = 100.0
    wet: bool = False
    repair: Word | None = None
    zones: list[Zone] = []
    holidays: list[Holiday] = []
    letter: Word | None = None
    confirmed: Prose | None = None


def _tested(body: HolidayTested) -> str:
    count = len(body.holidays)
    said = "no holiday found" if not count else f"{count} holiday{'s' * (count > 1)} found"
    return of_repair(body) + (
        f"{shown(body.voltage_v / 1000)} kV, {words(body.electrode)}, {body.passes} pass{'es' * (body.passes > 1)}: "
        f"{said}")


KINDS = (
    Kind("holiday.tested", HolidayTested, "Holiday test", _tested,
         names_repair=True,
         section="holiday", act="spark_on", step="holiday", roles=LOOKING, covered_by="holiday", follows=("film",),
         measured_with=("holiday_detector",), box="6a"),
)
