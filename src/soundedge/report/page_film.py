"""Film and voltage, on the second page: every reading against its limits, the map, the layers, and what the spark test used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..basis.on_paper import words
from ..job.judge import Outcome
from .plots import WIDE, film_by_spot, voltages
from .view import Picture, Section, Table, printed_units


def film_page(outcome: Outcome, drawings: Sequence[Picture] = ()) -> Section | None:
    """What the film and the spark test measured.

    Parameters
    ----------
    drawings : sequence of Picture
        Map of film and layers in section, set half as wide as the page.
    """
    pictures = [*_spots(outcome), *drawings, *_zones(outcome)]
    lines = [*_film(outcome), *_spark(outcome)]
    if not outcome.steps["thickness"].answers and not outcome.steps["holiday"].answers:
        return None
    return Section(text=tuple(lines), pictures=tuple(pictures), tables=tuple(_tests(outcome)))


def rules_beside(outcome: Outcome) -> tuple[Table, ...]:
    """The same readings under each published rule, and what published rules would ask of the voltage: for the annex."""
    tables = []
    for answer, letter in outcome.steps["thickness"].lettered():
        governing = answer["governing"]
        tables.append(Table(
            ("Rule", "Verdict", "Reason"),
            tuple((words(name) + " (governs)" * (name == governing), words(one["verdict"]), printed_units(one["because"]))
                  for name, one in answer["by_rule"].items()),
            caption=f"{_of(letter)}The same readings under each published rule",
        ))
    for answer, letter in outcome.steps["holiday"].lettered():
        rows = tuple(
            (rule["rule"], rule["edition"], f"{rule['voltage_v'] / 1000:.1f} kV", rule.get("made_for", ""))
            for rule in answer.get("rules", [])
            if rule.get("voltage_v") is not None and rule.get("applies", True)
        )
        if rows:
            said = f"{_of(letter)}What published rules would ask for the thickest (or thinnest) film measured"
            tables.append(Table(("Published rule", "Where", "For this film", "Made for"), rows, numbers=(2,), caption=said))
    return tuple(tables)


def _film(outcome: Outcome) -> list[str]:
    lines = []
    for answer, letter in outcome.steps["thickness"].lettered():
        governing, film = answer["governing"], _film_of(outcome, letter)
        lines.append(
            f"{_of(letter)}Film: {answer['n']} readings {film.body.correction.said if film else ''}, "
            f"mean {answer['mean_um']:.0f} µm, thinnest {answer['min_um']:.0f} µm. "
            f"The rule that governs is {words(governing)}: {_named_by(outcome, answer)}"
        )
        lines += [printed_units(line) for line in answer.get("proves", [])]
    return list(dict.fromkeys(lines))


def _spark(outcome: Outcome) -> list[str]:
    step = outcome.steps["holiday"]
    return [f"Spark test: {step.because}"] if step.because else []


def _spots(outcome: Outcome) -> list[Picture]:
    step = outcome.steps["thickness"]
    pictures = []
    for (answer, letter), asked in zip(step.lettered(), step.asked, strict=True):
        limits = asked["limits"]
        drawn = film_by_spot(
            [(spot["id"], words(spot["where"]), spot["readings_um"]) for spot in answer["spots"]], low_um=limits.get("min_um"),
            high_um=limits.get("max_um"), nominal_um=limits.get("nominal_um"), wide=WIDE)
        film = _film_of(outcome, letter)
        pictures.append(Picture(
            drawn.encode(), f"{_of(letter)}Film readings by spot against the limits. {printed_units(step.because)}",
            f"{_of(letter)}Film by spot, {film.body.correction.said if film else ''}; the ring is round the thinnest, a cross "
            "is outside the limits"))
    return pictures


def _zones(outcome: Outcome) -> list[Picture]:
    pictures = []
    for letter, zones in _by_letter(outcome).items():
        rows = [(words(zone["zone"]), zone.get("low_v"), zone.get("high_v"), zone.get("voltage_v")) for zone in zones]
        drawn = voltages(rows, wide=WIDE)
        said = ". ".join(printed_units(zone["because"]).rstrip(".") for zone in zones)
        pictures.append(Picture(
            drawn.encode(), f"{_of(letter)}Usable voltage and test voltage by zone. {said}.",
            f"{_of(letter)}Usable voltage of each zone (bar) and the voltage it was tested at (thick line)"))
    return pictures


def _by_letter(outcome: Outcome) -> dict[str, list[dict[str, Any]]]:
    """The zones of each repair; an answer about the same ones again, of the whole film, is not drawn twice."""
    found: dict[str, list[dict[str, Any]]] = {}
    for answer, letter in outcome.steps["holiday"].lettered():
        zones = [zone for zone in answer.get("zones", []) if zone.get("voltage_v") is not None or zone.get("low_v") is not None]
        if zones and letter not in found:
            found[letter] = zones
    return found


def _tests(outcome: Outcome) -> list[Table]:
    rows = []
    for event in outcome.job.of("holiday.tested"):
        body = event.body
        set_kv = f"{body.voltage_v / 1000:.1f} kV" + (f", {body.verified_v / 1000:.1f} at it" if body.verified_v else "")
        coupon = {True: "hole found", False: "hole not found", None: "not tried"}[body.coupon_hole_found]
        film = f", film {body.coupon_um:.0f} µm" if body.coupon_um else ""
        holes = "no hole" if not body.holidays else f"{len(body.holidays)} found"
        zones = ", ".join(words(zone) for zone in body.zones) or "all measured"
        rows.append((f"{event.at:%H:%M}", zones, words(body.electrode),
                     set_kv, coupon + film, f"{body.covered_pct:g} %", f"{body.passes}", holes, outcome.job.name_of(event.by)))
    head = ("Tested", "Zones", "Electrode", "Set", "Coupon", "Covered", "Passes", "Result", "By")
    return [Table(head, tuple(rows), caption="High-voltage tests; times in UTC")] if rows else []


def _of(letter: str) -> str:
    return f"Repair {letter}: " if letter else ""


def _film_of(outcome: Outcome, letter: str) -> Any:
    """The last readings of a repair; of the part where there is only one."""
    mine = [film for film in outcome.job.of("film.measured")
            if not letter or letter in {spot.repair or film.body.repair or letter for spot in film.body.spots}]
    return mine[-1] if mine else None


def _named_by(outcome: Outcome, answer: dict[str, Any]) -> str:
    procedure = outcome.case.procedure
    if procedure.choices.get("governing_rule") == answer["governing"]:
        return f"{procedure.id} names it. The other rules stand beside it in the annex for comparison only."
    return str(answer.get("governing_because", ""))

