"""Which typed values are possible but odd, and what they may have been meant as? The tool asks back once; it corrects nothing.

    steel 66, air 21, nothing heated yet    → "Steel at 66 °C in air of 21 °C before any heat: is that °F (18.9 °C)?"
    a shim of 39.4 under a film of 1250 µm  → "is that mil (1001 µm)?"

The answer is the key ``confirmed`` of the same entry, in words, or a correction of the value to itself with the reason; with
it the value stands. A correction to another value takes the answer away. Only what has a likely other meaning is asked: a
value that is merely bad is judged, and film readings in mil or mm are refused by their room.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..basis.quantity import shown
from .fold import Job
from .kinds import KINDS, Event
from .kinds.film import GaugeChecked
from .kinds.holiday import HolidayTested
from .kinds.opening import PartIdentified
from .kinds.surface import AirRead

STEEL_FROM_AIR_K = 25.0  # own judgement: cold steel in a shop is not farther from its air
AIR_C_MAX = 45.0  # own judgement: nobody wipes and grinds in warmer air
PLATE_MM_MIN = 1.5  # own judgement: thinner steel carries no thick fused lining
KV_MAX = 60.0  # own judgement: no high-voltage detector is set below 100 V, none reaches 60 kV
FENCE = 3.0  # own judgement: film within a third and three times of what is expected is not asked about
NEAR = (0.4, 2.5)  # own judgement: a converted value within these shares of what is expected was probably meant
YEAR_DAYS = 300.0  # own judgement: farther from the opening of the job than this, the year is probably wrong
MIL_UM, INCH_MM = 25.4, 25.4
SOURCE = "own judgement: possible, but odd"
MOVE = ("If it is wrong, correct it. If it is right, say how you know: 'confirmed' beside the value, or a correction to the "
        "same value with the reason.")


@dataclass(frozen=True)
class Odd:
    """One odd value: the entry, its key, the value, and the question that is asked back."""

    entry: str
    key: str
    value: float | None
    unit: str
    because: str


def odd(job: Job, step: str) -> list[Odd]:
    """What is odd and was not answered among the entries a step of the path judges."""
    found: list[Odd] = []
    for event in job.events:
        at_step = KINDS[event.kind].step or "disposition"
        if at_step == step and getattr(event.body, "confirmed", "") is None:
            for ask in (_air, _shim, _voltage, _plate, _year):
                found += ask(job, event)
    return [one for one in found if not _kept(job, one)]


def _kept(job: Job, one: Odd) -> bool:
    """Whether somebody looked again, and wrote the same value down once more."""
    return any(c.body.entry == one.entry and c.body.field == one.key and c.body.new == c.body.old for c in job.corrections)


def celsius(fahrenheit: float) -> float:
    """°F as °C."""
    return (fahrenheit - 32) / 1.8


def _air(job: Job, event: Event) -> Iterator[Odd]:
    if not isinstance(event.body, AirRead):
        return
    air, steel = event.body.air_c, event.body.steel_c
    if air > AIR_C_MAX:
        yield Odd(event.id, "air_c", air, "°C", f"Air at {shown(air)} °C: is that °F ({celsius(air):.1f} °C)?")
    elif abs(steel - air) > STEEL_FROM_AIR_K and not _heated(job, event):
        meant = celsius(steel)
        hint = f": is that °F ({meant:.1f} °C)?" if abs(meant - air) <= STEEL_FROM_AIR_K else ". Read it again."
        yield Odd(event.id, "steel_c", steel, "°C",
                  f"Steel at {shown(steel)} °C in air of {shown(air)} °C before any heat{hint}")


def _heated(job: Job, event: Event) -> bool:
    """Whether heat was planned or on before this reading."""
    return any(other.at <= event.at for other in job.of("heat.planned", "heat.logged", "layer.fused"))


def _shim(job: Job, event: Event) -> Iterator[Odd]:
    if not isinstance(event.body, GaugeChecked):
        return
    yield from _unit(event, "reference_um", event.body.reference_um, job.the("lining.identified").thickness_um, "A shim of")


def _unit(event: Event, key: str, value: float, expected: float, what: str) -> Iterator[Odd]:
    """A film in another unit than µm: only when the value fits badly and another unit fits well."""
    if value <= 0 or expected <= 0 or 1 / FENCE <= value / expected <= FENCE:
        return
    for name, factor in (("mil", MIL_UM), ("mm", 1000.0), ("a value with one zero too many", 0.1)):
        if NEAR[0] <= value * factor / expected <= NEAR[1]:
            yield Odd(event.id, key, value, "um", f"{what} {shown(round(value, 3))} µm where {shown(expected)} µm is expected: "
                      f"is that {name} ({shown(round(factor * value))} µm)?")
            return


def _voltage(job: Job, event: Event) -> Iterator[Odd]:
    if not isinstance(event.body, HolidayTested):
        return
    body = event.body
    if body.electrode != "wet_sponge" and body.voltage_v < KV_MAX:
        yield Odd(event.id, "voltage_v", body.voltage_v, "V",
                  f"A high-voltage test at {shown(body.voltage_v)} V: is that kV ({shown(1000 * body.voltage_v)} V)?")


def _plate(job: Job, event: Event) -> Iterator[Odd]:
    if not isinstance(event.body, PartIdentified):
        return
    plate = event.body.plate_mm
    if plate < PLATE_MM_MIN:
        yield Odd(event.id, "plate_mm", plate, "mm", f"A plate of {shown(plate)} mm: is that inch ({INCH_MM * plate:.1f} mm)?")


def _year(job: Job, event: Event) -> Iterator[Odd]:
    opened = job.of("job.opened")[0].at
    days = (event.at - opened).total_seconds() / 86400
    if abs(days) > YEAR_DAYS:
        side = "after" if days > 0 else "before"
        yield Odd(event.id, "at", None, "",
                  f"{event.id} is dated {abs(days):.0f} days {side} the job was opened: is the year right?")
