"""Which typed values are possible but odd, and what they may have been meant as? The tool asks back once; it corrects nothing.

    steel 66, air 21, nothing heated yet    → "Steel at 66 °C in air of 21 °C before any heat: is that °F (18.9 °C)?"
    a shim of 39.4 under a film of 1250 µm  → "is that mil (1001 µm)?"
    1262 µm five times in a row             → "is the probe loose, or the display stuck?"

The answer is the key ``confirmed`` of the same entry, in words, where it has one, or a correction of the value to itself with
the reason; with it the value stands. A correction to another value takes the answer away. Only what has a likely other meaning
is asked: a value that is merely bad is judged, and film readings in mil or mm are refused by their room.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..basis.quantity import shown
from .fold import Job
from .kinds import KINDS, Event
from .kinds.film import FilmMeasured, GaugeChecked
from .kinds.heat import HeatLogged, LayerFused
from .kinds.holiday import HolidayTested
from .kinds.looking import PhRead
from .kinds.opening import PartIdentified
from .kinds.surface import AirRead
from .rules.dwell import timed

STEEL_FROM_AIR_K = 25.0  # own judgement: cold steel in a shop is not farther from its air
AIR_C_MAX = 45.0  # own judgement: nobody wipes and grinds in warmer air
PLATE_MM_MIN = 1.5  # own judgement: thinner steel carries no thick fused lining
KV_MAX = 60.0  # own judgement: no high-voltage detector is set below 100 V, none reaches 60 kV
FENCE = 3.0  # own judgement: film within a third and three times of what is expected is not asked about
NEAR = (0.4, 2.5)  # own judgement: a converted value within these shares of what is expected was probably meant
YEAR_DAYS = 300.0  # own judgement: farther from the opening of the job than this, the year is probably wrong
MIL_UM, INCH_MM = 25.4, 25.4
MOVE_SAME = "If it is wrong, correct it or read again. If it is right, correct it to the same value, and say how you know."
PH_TENTH = (0.5, 0.9)  # own judgement: a pH meter's 5 to 9 with its point one place too far left
ALIKE = 5  # own judgement: so many film readings alike are a stuck display, or not read
FROZEN = 100  # own judgement: no steel under a gun holds one tenth of a degree for so many readings
LAYER_S = 120.0  # own judgement: powder, melting and dwell together take longer, or a log shows it
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
    move: str = ""

    @property
    def rule(self) -> str:
        """What holds while nobody has answered: the name of the value."""
        return "odd_" + next(part for part in reversed(self.key.split(".")) if not part.isdigit())


def odd(job: Job, step: str) -> list[Odd]:
    """What is odd and was not answered among the entries a step of the path judges."""
    found: list[Odd] = []
    for event in job.events:
        at_step = KINDS[event.kind].step or "disposition"
        if at_step == step and not getattr(event.body, "confirmed", None):
            for ask in (_air, _shim, _voltage, _plate, _year, _ph, _alike, _frozen, _quick):
                found += ask(job, event)
    return [one for one in found if not kept(job, one)]


def kept(job: Job, one: Odd) -> bool:
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


def _ph(job: Job, event: Event) -> Iterator[Odd]:
    if isinstance(event.body, PhRead) and event.body.edge_ph is not None and PH_TENTH[0] <= event.body.edge_ph <= PH_TENTH[1]:
        value = event.body.edge_ph
        yield Odd(event.id, "edge_ph", value, "", f"pH {shown(value)} at the edge: is that {shown(round(10 * value, 1))}?",
                  MOVE_SAME)


def _alike(job: Job, event: Event) -> Iterator[Odd]:
    """Film readings alike, one after another: a stuck display. Reading these places again answers it as well."""
    if not isinstance(event.body, FilmMeasured):
        return
    again = {spot.id for film in job.of("film.measured") if film.at > event.at for spot in film.body.spots if spot.readings_um}
    read = [(f"spots.{n}.readings_um.{k}", value) for n, spot in enumerate(event.body.spots) if spot.id not in again
            for k, value in enumerate(spot.readings_um)]
    yield from _run(event.id, read, ALIKE, "um", "µm")


def _frozen(job: Job, event: Event) -> Iterator[Odd]:
    """A heat log that does not move: a probe that is loose or set down."""
    if isinstance(event.body, HeatLogged):
        for aimed in dict.fromkeys(row.aimed_at for row in event.body.readings):
            rows = [(f"readings.{n}.reading_c", row.reading_c) for n, row in enumerate(event.body.readings)
                    if row.aimed_at == aimed]
            yield from _run(event.id, rows, FROZEN, "°C", "°C")


def _run(entry: str, values: list[tuple[str, float]], most: int, unit: str, as_shown: str) -> Iterator[Odd]:
    """The first run of that many values that are all the same."""
    for start in range(len(values) - most + 1):
        run = values[start:start + most]
        if len({value for _, value in run}) == 1:
            key, value = run[0]
            yield Odd(entry, key, value, unit, f"{shown(value)} {as_shown} stands {most} times in a row: is the probe loose, "
                      "or the display stuck? Read again.", MOVE_SAME)
            return


def _quick(job: Job, event: Event) -> Iterator[Odd]:
    """A layer so soon after the one below that nothing shows its full time above fusion; a log by the clock would."""
    if not isinstance(event.body, LayerFused) or timed(job.of("heat.logged")):
        return
    below = [e.at for e in job.of("layer.fused") if e.at <= event.at and e.id != event.id and e.body.repair == event.body.repair
             and e.body.number < event.body.number]
    seconds = (event.at - max(below)).total_seconds() if below else LAYER_S
    if seconds < LAYER_S:
        yield Odd(event.id, "number", event.body.number, "", f"Layer {event.body.number} had fused {seconds:.0f} s after the "
                  "one below: did that one have its full time above fusion, and are the times right?", MOVE_SAME)


def _year(job: Job, event: Event) -> Iterator[Odd]:
    if not hasattr(event.body, "confirmed"):  # nobody could answer
        return
    opened = job.of("job.opened")[0].at
    days = (event.at - opened).total_seconds() / 86400
    if abs(days) > YEAR_DAYS:
        side = "after" if days > 0 else "before"
        yield Odd(event.id, "at", None, "",
                  f"{event.id} is dated {abs(days):.0f} days {side} the job was opened: is the year right?")
