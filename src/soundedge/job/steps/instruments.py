"""Instruments: was each in calibration when it was used, and were shim checks made before and after the readings?"""

from __future__ import annotations

from ...basis.sentences import say
from ...instruments.ask import FORMS
from ..case import Case, clock
from ..fold import Job
from ..kinds import KINDS, Event
from ..rules.seen import SHIFT
from ..step import Step


def instruments(case: Case) -> Step:
    """Calibration of everything used, and the checks of film gauges before and after their readings."""
    step = Step("instruments")
    used = [e for e in case.job.events if getattr(e.body, "instrument", None)]
    if not used:
        step.because = "No instrument is named."
        step.missing.append("instruments")
        return step
    step.verdict = "conforms"
    told = set()
    for event in used:
        name = event.body.instrument
        tool = case.job.instruments.get(name)
        if (name, tool is None) in told:
            continue
        if tool is None:
            told.add((name, True))
            step.hold("instrument_known", f"{event.id} was measured with '{name}', which is not on the sheet.",
                      "Enter it with its calibration.", case.rule_book)
        elif not tool.calibrated_on <= event.at <= tool.calibration_due:
            told.add((name, False))
            step.hold(
                "calibration",
                f"{name} was used at {clock(event.at)}; its calibration runs from {tool.calibrated_on:%d %B %Y} "
                f"to {tool.calibration_due:%d %B %Y}.",
                "Measure again with one whose calibration runs, and void this entry.", case.rule_book,
            )
        elif tool.kind not in (*(KINDS[event.kind].measured_with or (tool.kind,)), "other"):
            told.add((name, False))
            step.hold(
                "instrument_fits",
                f"{event.id} names {name}, a {tool.kind.replace('_', ' ')}; that cannot have measured it.",
                "Enter the instrument that was used.", case.rule_book,
            )
    _intervals(case, step, {event.body.instrument for event in used})
    for film in counting(case.job):
        _checks(case, step, film)
        _shims(case, step, film)
    step.verdict = "does_not_conform" if step.blocks else "conforms"
    step.because = step.blocks[0].because if step.blocks else "Every instrument used was in calibration."
    return step


def _intervals(case: Case, step: Step, used: set[str]) -> None:
    """A calibration may not be stated as valid for longer than the procedure allows."""
    longest = case.procedure.value("calibration_days_max")
    for name in sorted(used):
        tool = case.job.instruments.get(name)
        if tool is None or longest is None:
            continue
        days = (tool.calibration_due - tool.calibrated_on).total_seconds() / 86400
        if days > longest:
            step.hold("calibration_interval", f"The calibration of {name} is stated for {days:g} days; the procedure lets "
                      f"it stand for {longest:g}.", "Calibrate it in time and correct the date.",
                      case.procedure.cite("calibration_days_max"), value=days, limit=longest, unit="d")


def counting(job: Job) -> list[Event]:
    """The readings of film that stand: not those of which every place was read again later, of the same repair."""
    films = job.of("film.measured")

    def places(film: Event) -> set[tuple[str | None, str]]:
        return {(spot.repair or film.body.repair, spot.id) for spot in film.body.spots if spot.readings_um}

    return [film for n, film in enumerate(films)
            if not places(film) <= {place for later in films[n + 1:] for place in places(later)}]


def _shims(case: Case, step: Step, film: Event) -> None:
    """Shims on both sides of the film, as far beyond it as the procedure asks; it may ask for none."""
    margin = case.procedure.value("gauge_margin_pct_min")
    shims = [e.body.reference_um for e in case.job.of("gauge.checked") if e.body.instrument == film.body.instrument]
    read = [value for spot in film.body.spots for value in spot.readings_um]
    if margin is None or not shims:
        return
    low, high = (1 - margin / 100) * min(read), (1 + margin / 100) * max(read)
    if not any(shim <= low for shim in shims) or not any(shim >= high for shim in shims):
        step.lacks("gauge_shims", True, say("acts.gauge_shims", gauge=film.body.instrument, film=film.id, low=low, high=high,
                                            least=min(shims), most=max(shims)), say("acts.gauge_shims_check"),
                   case.procedure.cite("gauge_margin_pct_min"))


def _checks(case: Case, step: Step, film: Event) -> None:
    gauge = film.body.instrument
    checks = [e for e in case.job.of("gauge.checked") if e.body.instrument == gauge]
    before = [e for e in checks if film.at - SHIFT <= e.at <= film.at]
    old = [e for e in checks if e.at < film.at - SHIFT]
    after = [e for e in checks if e.at > film.at]
    if not before:
        step.lacks(
            "gauge_check_before", case.requires("gauge_check_before"),
            say("acts.gauge_check_old", gauge=gauge, hours=round((film.at - old[-1].at).total_seconds() / 3600, 1),
                film=film.id, longest=SHIFT.total_seconds() / 3600) if old else
            f"Gauge {gauge} was not checked on a shim before the readings of {film.id}.",
            "Check it, measure again.", case.procedure.cite("gauge_tol_pct"),
        )
    if not after:
        step.lacks(
            "gauge_check_after", case.requires("gauge_check_after"),
            f"Gauge {gauge} was not checked on a shim after the readings of {film.id}.",
            "Check it now; if it fails, the readings since the last good check are suspect.",
            case.procedure.cite("gauge_tol_pct"),
        )
    tolerance = case.procedure.value("gauge_tol_pct")
    if not checks or tolerance is None:
        return
    request = {
        "checks": [
            {"instrument": gauge, "at": e.at.isoformat(), "reference_um": e.body.reference_um,
             "reading_um": e.body.reading_um, "u_reference_um": e.body.u_reference_um}
            for e in checks
        ],
        "tol_pct": tolerance,
        "readings": [
            {"id": f"{spot.id}.{number}", "instrument": gauge, "at": film.at.isoformat(),
             "job": case.job.the("job.opened").number, "value_um": value}
            for spot in film.body.spots
            for number, value in enumerate(spot.readings_um, 1)
        ],
    }
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked.append(request)
    step.answers.append(plain)
    suspect = plain["suspect"]
    if suspect:
        step.hold(
            "suspect_readings",
            f"Gauge {gauge} failed its check on a shim; {len(suspect)} readings since its last good check are suspect.",
            "Measure these places again with a gauge that passes its check; what was read before then no longer counts.",
            case.procedure.cite("gauge_tol_pct"), verb="read_again",
        )
