"""Thickness: was the film measured cold, and what do the readings prove under the rule that governs?"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from ...basis.sentences import say
from ...disposition.bore import beside
from ...thickness.ask import FORMS
from ..case import Case, clock
from ..fold import Job
from ..kinds import Event
from ..kinds.opening import InstrumentListed
from ..rules.film_left import gouges_unread
from ..rules.hot import last_heat
from ..rules.instruction import instructions
from ..rules.out_of_limits import Move, moves, out_of_limits, read_before, together
from ..rules.places import laid_on, within
from ..rules.repairs import asked_about
from ..step import BlockKind, Step


def thickness(case: Case, disposition: Step) -> Step:
    """The latest readings under the procedure's rule; earlier, failed ones stay counted."""
    step = Step("thickness")
    job = case.job
    film, repairs = job.last("film.measured"), asked_about(case, disposition)
    _gouges(case, step, film, repairs)
    if film is None and case.repair is not None and not any(repair["to_make"] for repair in repairs):
        step.verdict = "not_measured" if step.blocks else "conforms"  # left as it is: what was left is known from its outline
        return step
    if film is None:
        step.because = "The film was not measured."
        step.lacks("film", True, "The film thickness was not measured.", "Measure repair, overlap and parent film.",
                   case.rule_book)
        return step
    _after_layers(case, step, film)
    _all_places(case, step, film)
    _every_repair(case, step, film, repairs)
    _cold(case, step, film)
    read = {spot.where for spot in film.body.spots if spot.readings_um}
    step.missing += [f"{where}_film" for where in ("overlap", "parent") if where not in read]
    request = question(case, film)
    found = case.ask(FORMS, request)
    plain = found.model_dump(mode="json")
    step.asked, step.answers = [request], [plain]
    step.verdict = plain["verdict"]
    step.because = plain["by_rule"].get(plain["governing"], {}).get("because", "")
    step.findings = list(found.findings)
    if step.verdict != "conforms":
        _out_of_limits(case, step, film, plain)
    if film.body.set_aside:
        step.hold(
            "lines_set_aside",
            f"{len(film.body.set_aside)} lines of '{film.body.file}' could not be read and were set aside: "
            + "; ".join(line.rstrip(".") for line in film.body.set_aside[:3]) + ".",
            "Correct the lines or measure these places again.",
            case.rule_book,
        )
    return step


def _out_of_limits(case: Case, step: Step, film: Event, plain: dict[str, Any]) -> None:
    """The verdict with its next move: by where the film is out, and which way. Old film is judged apart from the repair."""
    least, most = case.procedure.value("film_um_min"), case.procedure.value("film_um_max")
    out = out_of_limits(plain, least, most, read_before(case.job, film))
    u_um = max((finding.u or 0.0 for finding in step.findings), default=0.0)
    governing, judged = plain["governing"], plain["by_rule"][plain["governing"]]
    kind: BlockKind = "rejected" if step.verdict == "does_not_conform" else "held"
    old = {one.spot for one in out if one.where == "parent" and one.way != "impossible"}
    if old and len(old) == len(out) and _rest(case, film, old) == "conforms":
        thin = [one.film_um for one in out if one.way == "thin"]
        if not thin or _accepted(case.job, film, min(thin)):
            step.verdict = "conforms"
            step.cautions.append(f"The old film is out of limits at {', '.join(sorted(old))}. {judged['because']}")
            return
        kind = "held"
    films = [um for spot in plain["spots"] if spot["where"] != "parent" for um in spot["readings_um"]]
    told = moves(case.job, out, films, least, most, u_um)
    places = ", ".join(plain["remeasure"])
    if not told and step.verdict == "indeterminate" and governing == "every_reading" and places:
        told = [Move(say("acts.out_gauge", spots=places), "read_again")]
    elif not told:
        told = [Move(judged["next_move"], "measure" if step.verdict == "not_measured" else "read_again")]
    move, verb = together(told), told[0].verb
    if kind == "held" and verb == "ask_engineer":
        kind = "engineering_review"
    step.hold(governing, step.because, move, case.procedure.cite("film_um_min"), kind, value=plain.get("min_um"), limit=least,
              unit="um", verb=verb)


def _rest(case: Case, film: Event, old: set[str]) -> str:
    """The verdict on what is left without these places of old film."""
    request = question(case, film)
    request["spots"] = [spot for spot in request["spots"] if spot["id"] not in old]
    return str(case.ask(FORMS, request).verdict) if any(spot["readings_um"] for spot in request["spots"]) else "not_measured"


def _accepted(job: Job, film: Event, thinnest_um: float) -> bool:
    """Whether the engineer, knowing these readings, wrote how thin old film may be, and it is no thinner."""
    return any(event.at >= film.at and event.body.old_film_um_min is not None and event.body.old_film_um_min <= thinnest_um
               for event in instructions(job))


def _gouges(case: Case, step: Step, film: Any, repairs: list[dict[str, Any]]) -> None:
    """Damage that does not reach the steel needs a reading on itself, whatever is done with it."""
    own = {member for repair in repairs for member in repair["members"]}
    for one in gouges_unread(case, film):
        if case.repair is None or one.letter in own:
            step.lacks("gouge_measured", True, one.because, one.what, case.rule_book)


def question(case: Case, film: Any) -> dict[str, Any]:
    """The request to the thickness room."""
    return {
        "spots": [spot.model_dump(exclude_none=True, exclude={"repair"}) for spot in film.body.spots],
        "correction": film.body.correction.model_dump(),
        "gauge": asked_gauge(case.job, film.body.instrument, case.job.instruments.get(film.body.instrument), film.at),
    } | rules(case)


def asked_gauge(job: Job, name: str, gauge: InstrumentListed | None, at: datetime | None = None) -> dict[str, Any]:
    """The gauge's tolerance, and how it stood on its shim when last checked before ``at``; None: until now.

    Of several shims of one check the one it was farthest off on.
    """
    known = {"tol_pct": float(gauge.tol_pct), "tol_um": float(gauge.tol)} if gauge else {"tol_pct": 0.0}
    checks = [e for e in job.of("gauge.checked") if e.body.instrument == name and (at is None or e.at <= at)]
    if not checks:
        return known
    last = max(e.at for e in checks)
    body = max((e.body for e in checks if e.at == last), key=lambda b: abs(b.reading_um / b.reference_um - 1))
    if not body.reading_um:
        return known
    return known | {"check": {"reference_um": body.reference_um, "reading_um": body.reading_um,
                              "u_reference_um": body.u_reference_um or 0.0}}


def rules(case: Case) -> dict[str, Any]:
    """Limits, rule of decision and rules of the procedure: what is asked beside readings, recorded or just coming in."""
    procedure = case.procedure
    limits = {
        name: procedure.value(key)
        for name, key in (("min_um", "film_um_min"), ("max_um", "film_um_max"), ("nominal_um", "film_um_nominal"))
        if procedure.value(key) is not None
    }
    request: dict[str, Any] = {
        "limits": limits,
        "decision": procedure.decision.asked(),
    }
    choices = procedure.choices
    if "thickness_rules" in choices:
        request["rules"] = choices["thickness_rules"]
    if "restriction_level" in choices:
        request["restriction_level"] = choices["restriction_level"]
    if "governing_rule" in choices:
        request["governing"] = choices["governing_rule"]
    return request


MAP_SPOTS_MIN = 8  # fewer places say nothing about the film between them; own estimate


def map_question(case: Case, thickness: Step, disposition: Step) -> dict[str, Any] | None:
    """The map of film over the footprint, from the thinnest reading of each place; None when too few places were written
    down, or when a reading is too low: a low place is measured again, not smoothed over."""
    film = case.job.last("film.measured")
    repairs = [r for r in asked_about(case, disposition) if r.get("footprint_mm")]
    if film is None or not thickness.answers or len(repairs) != 1 or thickness.verdict == "does_not_conform":
        return None
    ys = [y for _, y in repairs[0]["footprint_mm"]]
    middle, around_mm = (min(ys) + max(ys)) / 2, laid_on(case.part_job).around_mm
    place = {spot.id: (spot.x, beside(spot.y, middle, around_mm)) for spot in film.body.spots
             if spot.x is not None and spot.y is not None}
    readings = [
        {"x": place[spot["id"]][0], "y": place[spot["id"]][1], "film_um": spot["min_um"], "id": spot["id"]}
        for spot in thickness.answers[0]["spots"] if spot["id"] in place and spot["min_um"] is not None
    ]
    if len(readings) < MAP_SPOTS_MIN:
        return None
    low = case.procedure.value("film_um_min")
    return {"map": readings, "outline_mm": repairs[0]["footprint_mm"]} | ({"min_um": low} if low is not None else {})


def _after_layers(case: Case, step: Step, film: Any) -> None:
    layers = case.job.of("layer.fused")
    if layers and film.at < layers[-1].at:
        step.hold(
            "measured_after_last_layer",
            f"The film was measured at {clock(film.at)}, before the last layer at {clock(layers[-1].at)}.",
            "Measure again.", case.rule_book,
        )
    elif (heat := last_heat(case)) is not None and film.at < heat:
        step.hold("measured_after_last_heat", f"The film was measured at {clock(film.at)}, before heat was on again at "
                  f"{clock(heat)}.", "Let it cool, read its temperature and measure again.", case.rule_book)


def _all_places(case: Case, step: Step, film: Any) -> None:
    """Readings on the repair itself, and no place measured earlier on this film left out of the last readings."""
    layers = case.job.of("layer.fused")
    read = {spot.id for spot in film.body.spots if spot.readings_um}
    if layers and not any(spot.where == "repair" and spot.readings_um for spot in film.body.spots):
        step.hold("repair_measured", "No reading was taken on the repair itself; parent film says nothing about it.",
                  "Measure the repair, its overlap and the parent film.", case.rule_book)
    elif layers and case.procedure.value("feather_mm") and not any(
            spot.where == "overlap" and spot.readings_um for spot in film.body.spots):
        step.lacks("overlap_measured", True, say("acts.overlap_unread"), say("acts.overlap_read"), case.rule_book)
    left_out = [spot for spot in dict.fromkeys(read_before(case.job, film)) if spot not in read]
    if left_out:
        step.hold(
            "places_left_out",
            f"Measured before on this film, but not among the last readings: {', '.join(left_out[:6])}. A low place does "
            "not go away by not being read again.",
            "Measure every place again and enter all readings together.", case.rule_book,
        )


def _every_repair(case: Case, step: Step, film: Any, repairs: list[dict[str, Any]]) -> None:
    """Where readings carry a place, some must lie on each repair; one repair may be read without places."""
    on_repair = [spot for spot in film.body.spots if spot.where == "repair" and spot.readings_um]
    if not case.job.of("layer.fused") or not on_repair:
        return
    placed = [(spot.x, spot.y) for spot in on_repair if spot.x is not None and spot.y is not None]
    if len(repairs) == 1 and len(placed) < len(on_repair):
        return
    reach = case.procedure.value("feather_mm") or 0.0
    around_mm = laid_on(case.part_job).around_mm
    for repair in repairs:
        if not any(within(x, y, repair["outline_mm"], around_mm, reach) for x, y in placed):
            step.hold(
                "each_repair_measured",
                f"No reading marked 'repair' lies on the repair of damage {', '.join(repair['members'])}.",
                "Measure there and enter x and y of the place.", case.rule_book,
            )


def _cold(case: Case, step: Step, film: Any) -> None:
    limit = case.procedure.value("cool_c_max", 40.0)
    source = "common practice, no source"
    if "cool_c_max" in case.procedure.limits:
        source = case.procedure.cite("cool_c_max")
    layers, heat = case.job.of("layer.fused"), last_heat(case)
    if heat is not None and heat > film.at:  # judged where the readings came before the last layer, or heat went on again
        heat = layers[-1].at if layers else None
    cooled = [e for e in case.job.of("film.cooled") if e.at <= film.at and (heat is None or e.at >= heat)]
    if not cooled:
        step.lacks("cooling", case.requires("cooling") and bool(layers),
                   "The film's temperature was not read between the last heat and the thickness readings.",
                   f"Let it cool to {limit:g} °C, read its temperature, then measure.", source)
    elif cooled[-1].body.film_c > limit:
        step.hold(
            "film_cooled",
            f"The film was at {cooled[-1].body.film_c:g} °C when it was measured; it must be at most {limit:g} °C.",
            "Let it cool and measure again.", source, value=cooled[-1].body.film_c, limit=limit, unit="°C",
        )
