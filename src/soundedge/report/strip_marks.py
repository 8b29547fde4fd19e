"""What happened in a job, and what held until when? Every mark of its time axis, lane by lane.

    air         steel above dew point at each reading, and how long it held
    work        prepared, wiped, heat from first to last, fire watch, sanded
    layers      each as it fused
    heat        the permit, and every log from its first to its last reading
    readings    surface, gas, film, spark test, looks
    signatures  what was signed and decided

Nothing is judged here: what is shown stands in the entries, or the job's steps have said it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Literal

from ..basis.on_paper import words
from ..basis.sentences import Sentence, say
from ..conditions.dew_point import margin_k
from ..job.rules.gas import share_of

Lane = Literal["air", "work", "layers", "heat", "readings", "signatures"]
LANES: tuple[Lane, ...] = ("air", "work", "layers", "heat", "readings", "signatures")
Sort = Literal["dot", "tick", "signed", "bad", "holds", "done", "frame"]


@dataclass(frozen=True)
class Item:
    """One mark: a moment, or a bar when ``until`` is given. ``runs``: something was going on, so the hours are not idle; a bar
    that ``holds`` only says until when something counts."""

    lane: Lane
    at: datetime
    said: Sentence | str = ""
    until: datetime | None = None
    sort: Sort = "dot"
    entry: str = ""
    runs: bool = False
    short: Sentence | str = ""  # where there is no room for what is said

    @property
    def end(self) -> datetime:
        """Its last moment."""
        return self.until or self.at


def items_of(outcome: Any) -> list[Item]:
    """Every mark of a judged job's time axis, by lane and then by time."""
    found = [*_air(outcome), *_work(outcome), *_layers(outcome), *_heat(outcome), *_readings(outcome), *_signed(outcome)]
    return sorted(found, key=lambda one: (LANES.index(one.lane), one.at, one.until is None))


def ending_next(items: list[Item], now: datetime, most: int = 3) -> list[Item]:
    """What holds or runs now and ends next, the first to end first."""
    return sorted((one for one in items if one.until is not None and one.at <= now < one.until), key=lambda one: one.end)[:most]


def _air(outcome: Any) -> Iterator[Item]:
    answers = outcome.steps["conditions"].answers if "conditions" in outcome.steps else []
    for one in answers[0].get("intervals", []) if answers else []:
        start, end = _moment(one.get("start")), _moment(one.get("end"))
        if one.get("state") == "good" and start is not None and end is not None and end > start:
            yield Item("air", start, "", end, "holds")
    reads, age = outcome.job.of("air.read"), outcome.case.procedure.value("air_age_min_max")
    least = outcome.case.procedure.value("dew_margin_k")
    for number, event in enumerate(reads):
        body = event.body
        spare = margin_k(body.air_c, body.rh_pct, body.steel_c)
        bad = least is not None and spare < least
        yield Item("air", event.at, say("report.strip_dew", margin_k=spare), sort="bad" if bad else "dot", entry=event.id)
        if age is not None and not bad and number == len(reads) - 1:
            yield Item("air", event.at, "", event.at + timedelta(minutes=age), "holds", event.id)


def _work(outcome: Any) -> Iterator[Item]:
    job = outcome.job
    for event in job.of("surface.prepared"):
        yield Item("work", event.at, say("report.strip_prepared"), entry=event.id)
    for event in job.of("solvent.used"):
        yield Item("work", event.at, say("report.strip_wiped"), entry=event.id)
    for event in job.of("film.sanded"):
        yield Item("work", event.at, say("report.strip_sanded"), entry=event.id)
    begun = [event.at for event in job.of("heat.started", "layer.fused")]
    begun += [event.body.started_at for event in job.of("layer.fused") if event.body.started_at is not None]
    ended = job.of("hot_work.ended")
    for number, end in enumerate(ended):
        before = ended[number - 1].at if number else None
        own = [at for at in begun if at <= end.at and (before is None or at > before)]
        if own:
            yield Item("work", min(own), say("report.strip_heat"), end.at, "done", runs=True)
        yield Item("work", end.at, say("report.strip_watch"), end.body.fire_watch_until, "done", end.id, runs=True)
    last = ended[-1].at if ended else None
    going = [at for at in begun if last is None or at > last]
    if going and max(going) > min(going):
        yield Item("work", min(going), say("report.strip_heat"), max(going), "done", runs=True)
    for event in job.of("film.cooled"):
        yield Item("work", event.at, say("report.strip_cooled", film_c=event.body.film_c), entry=event.id)


def _layers(outcome: Any) -> Iterator[Item]:
    for event in outcome.job.of("layer.fused"):
        begun = event.body.started_at
        if begun is not None and begun < event.at:
            yield Item("layers", begun, str(event.body.number), event.at, "done", event.id, runs=True)
        else:
            yield Item("layers", event.at, str(event.body.number), sort="tick", entry=event.id)


def _heat(outcome: Any) -> Iterator[Item]:
    for event in outcome.job.of("permit.issued"):
        yield Item("heat", event.at, say("report.strip_permit", number=event.body.number), event.body.until, "frame", event.id)
    for event in outcome.job.of("heat.logged"):
        rows = event.body.readings
        if not rows:
            continue
        hottest = max(row.reading_c for row in rows)
        said = say("report.strip_log", hottest_c=hottest, n=len(rows))
        short = say("report.strip_log_short", hottest_c=hottest)
        start = event.body.started_at
        if start is None:
            yield Item("heat", event.at, said, entry=event.id, short=short)
        else:
            first, last = min(row.time_s for row in rows), max(row.time_s for row in rows)
            yield Item("heat", start + timedelta(seconds=first), said, start + timedelta(seconds=last), "done", event.id,
                       runs=True, short=short)


def _readings(outcome: Any) -> Iterator[Item]:
    job = outcome.job
    for event in job.of("damage.outlined"):
        yield Item("readings", event.at, say("report.strip_outlined", name=event.body.id, stage=words(event.body.stage)),
                   entry=event.id)
    for event in job.of("surface.checked"):
        yield Item("readings", event.at, say("report.strip_surface"), entry=event.id)
    for event in job.of("vapour.read"):
        yield Item("readings", event.at, say("report.strip_gas", lel_pct=share_of(event)), entry=event.id)
    for event in job.of("visual.looked"):
        yield Item("readings", event.at, say("report.strip_look"), sort="dot" if event.body.accepted else "bad",
                   entry=event.id)
    for event in job.of("film.measured"):
        n = sum(len(spot.readings_um) for spot in event.body.spots)
        yield Item("readings", event.at, say("report.strip_film", n=n), entry=event.id,
                   short=say("report.strip_film_short"))
    for event in job.of("holiday.tested"):
        volts = event.body.verified_v or event.body.voltage_v
        yield Item("readings", event.at, say("report.strip_spark", kv=volts / 1000),
                   sort="bad" if event.body.holidays else "dot", entry=event.id)


def _signed(outcome: Any) -> Iterator[Item]:
    job = outcome.job
    for event in job.of("hold_point.signed"):
        point = words(event.body.hold_point)
        yield Item("signatures", event.at, say("report.strip_signed", point=point, name=job.name_of(event.by)), sort="signed",
                   entry=event.id, short=say("report.strip_signed_short", point=point))
    for event in job.of("escalation.decided"):
        yield Item("signatures", event.at, say("report.strip_decided", decision=words(event.body.decision),
                                               name=job.name_of(event.by)), sort="signed", entry=event.id)
    for event in job.of("release.signed"):
        yield Item("signatures", event.at, say("report.strip_released", name=job.name_of(event.by)), sort="signed",
                   entry=event.id, short=say("report.strip_released_short"))


def _moment(text: Any) -> datetime | None:
    return text if text is None or isinstance(text, datetime) else datetime.fromisoformat(str(text))
