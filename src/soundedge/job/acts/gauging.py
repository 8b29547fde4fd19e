"""May I measure, and with this gauge? Cold, dry, checked, and every zone on the list.

    film 27 °C at 11:20, gauge checked on its shim 11:25                    → go
    film 62 °C                                                              → wait until it is at most 40 °C
    film expected 1600 µm, gauge ends at 1500 µm                            → another probe: "1500" is no reading
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ...instruments.checks import Check
from ..case import clock_time
from ..kinds import Event
from ..rules.seen import SHIFT
from . import of_steps
from .moment import Moment
from .point import Point, Until

COOL_C_MAX, COOL_SOURCE = 40.0, "common practice, no source"


def measure_film(now: Moment) -> Iterator[Point | Until]:
    """Readings on repair, overlap and parent film."""
    yield from cold(now, "A10.1")
    yield from checked(now, "A10.2")
    if now.film is not None and "spots" not in now.given:  # what it was read as; reading it again is never forbidden
        yield from of_steps.points(now, "thickness", "A10", "Q", by="technician", fact="film",
                                   only=lambda block: bool(block.verb))


def check_gauge(now: Moment) -> Iterator[Point | Until]:
    """A gauge on its shims: calibration runs, and it can read this film."""
    name = now.given.get("instrument")
    tool = now.job.instruments.get(str(name)) if name else None
    if tool is not None and not tool.calibrated_on <= now.at <= tool.calibration_due:
        yield Point("A9.4", "Q", "calibration", "failing",
                    say("acts.gauge_due", gauge=tool.id, due=f"{tool.calibration_due:%Y-%m-%d}"), "correct",
                    say("acts.gauge_other"), "inspector", source=now.case.rule_book)
    ends, expected = now.given.get("range_um"), now.given.get("film_um")
    margin, source = now.limit("gauge_margin_pct_min")
    beyond = (margin or 0.0) / 100
    if ends is not None and expected is not None and ends < (1 + beyond) * expected:
        yield Point("A9.1", "Q", "gauge_range", "failing", say("acts.gauge_ends", ends=ends, film=expected), "correct",
                    say("acts.gauge_probe", low=(1 - beyond) * expected, high=(1 + beyond) * expected), "inspector", value=ends,
                    unit="um", limit=(1 + beyond) * expected,
                    source=source if margin is not None else "a reading at the end of the range is no reading")


def cold(now: Moment, rule: str) -> Iterator[Point]:
    """The film's own temperature, read after the last heat; at or below its limit it stands until the next heat."""
    if now.last_heat is None:
        return
    limit = now.limit("cool_c_max")[0] or COOL_C_MAX
    source = now.case.procedure.cite("cool_c_max") if "cool_c_max" in now.case.procedure.limits else COOL_SOURCE
    read = [event for event in now.of("film.cooled") if event.at >= now.last_heat]
    if not read:
        yield Point(rule, "Q", "film_temp", "missing", say("acts.film_temp_missing"), "measure",
                    say("acts.film_temp_measure", limit=limit), "technician", limit=limit, unit="°C", source=source)
    elif read[-1].body.film_c > limit:
        yield Point(rule, "Q", "film_temp", "failing",
                    say("acts.film_warm", film_c=read[-1].body.film_c, at=clock_time(read[-1].at, now.at), limit=limit),
                    "wait_until", say("acts.film_wait", limit=limit), "technician", value=read[-1].body.film_c, unit="°C",
                    limit=limit, source=source)


def checked(now: Moment, rule: str) -> Iterator[Point]:
    """A good check on a shim before the readings, with the gauge that is named, or with any."""
    named = now.given.get("instrument")
    checks = [event for event in now.job.of("gauge.checked")
              if event.at >= now.at - SHIFT and (not named or event.body.instrument == named)]
    tolerance, source = now.limit("gauge_tol_pct")
    if not checks:
        weight = "blocks" if now.case.requires("gauge_check_before") else "informs"
        yield Point(rule, "Q", "gauge", "missing", say("acts.gauge_unchecked"), "measure", say("acts.gauge_check"), "inspector",
                    weight, source=source)  # type: ignore[arg-type]
    elif tolerance is not None and not _good(checks[-1], tolerance):
        last = checks[-1].body
        yield Point(rule, "Q", "gauge", "failing",
                    say("acts.gauge_failed", gauge=last.instrument, shim=last.reference_um, shown=last.reading_um), "correct",
                    say("acts.gauge_use_other"), "inspector", value=last.reading_um, unit="um", limit=tolerance, source=source)


def _good(event: Event, tolerance: float) -> bool:
    body = event.body
    return Check(body.instrument, event.at, body.reference_um, body.reading_um).good(tolerance)
