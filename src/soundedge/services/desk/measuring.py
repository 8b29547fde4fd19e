"""What must a page know so that it can ask the rooms the very question that the job's step asks?

A page that measures asks ``thickness`` or ``holiday`` while the numbers come in. What the limits are, which rules stand and
what the gauge's tolerance is comes from here; only the readings come from the page. So the answer on the tablet is the
answer on the certificate.
"""

from __future__ import annotations

from typing import Any

from ...basis.errors import BenchError, NotEnough
from ...basis.sentences import say
from ...job.judge import Outcome
from ...job.kinds import KINDS
from ...job.steps.holiday import BEFORE_A_TEST, at_voltage, whole_film_question, zones_question
from ...job.steps.thickness import asked_gauge, map_question
from ...job.steps.thickness import rules as asked_rules
from ...thickness.rule_book import rules, title, usual_rules
from ..ask import ask

SPOT_LETTERS = {"repair": "R", "overlap": "O", "parent": "P"}


def film_question(outcome: Outcome, book: Any = None) -> dict[str, Any]:
    """The thickness question of this job without its readings.

    Returns
    -------
    dict
        ``ask``: limits, decision, rules as the step asks them; ``gauges``: id → tolerance and last check of every film gauge
        of job and register; ``per_spot``; ``letters``: zone → first letter of a spot's name; ``min_um``, ``max_um`` or None.
    """
    whole = asked_rules(outcome.case)
    asked_by = [rules()[name] for name in whole.get("rules", usual_rules()) if name in rules()]
    return {
        "ask": whole,
        "gauges": {
            name: asked_gauge(outcome.job, name, tool) for name, tool in tools_for("film.measured", outcome, book).items()
        },
        "per_spot": max((one.readings_per_spot for one in asked_by), default=1),
        "letters": SPOT_LETTERS,
        "min_um": whole["limits"].get("min_um"),
        "max_um": whole["limits"].get("max_um"),
    }


def rule_titles(language: str) -> dict[str, str]:
    """What a reader of a language calls every rule for film readings, by its name."""
    return {name: title(name, language) for name in rules()}


def tools(outcome: Outcome, book: Any, *kinds: str) -> dict[str, Any]:
    """Instruments of these kinds: the job's own first, then those of the register that were not withdrawn."""
    held = {name: tool for name, tool in outcome.job.instruments.items() if tool.kind in kinds}
    for one in book.instruments.values() if book else ():
        if one.listed.kind in kinds and one.withdrawn_at is None:
            held.setdefault(one.id, one.listed)
    return held


def tools_for(kind: str, outcome: Outcome, book: Any) -> dict[str, Any]:
    """The instruments that can measure an entry of this kind, as ``tools`` finds them."""
    return tools(outcome, book, *KINDS[kind].measured_with)


def places_read(outcome: Outcome) -> list[dict[str, Any]]:
    """Every place that was measured on this film, as spots without readings: the next readings must have them all."""
    layers = outcome.job.of("layer.fused")
    seen: dict[str, dict[str, Any]] = {}
    for film in outcome.job.of("film.measured"):
        if layers and film.at < layers[-1].at:
            continue
        for spot in film.body.spots:
            seen[spot.id] = {"id": spot.id, "where": spot.where} | (
                {"x": spot.x, "y": spot.y} if spot.x is not None else {}
            )
    return list(seen.values())


def ground_plan(outcome: Outcome) -> dict[str, Any] | None:
    """The repairs as outlines in the part's own millimetres, y upwards, for a small map to tap on; None without an outline.

    ``box`` is [left, bottom, width, height] with a margin.
    """
    repairs = [r for a in outcome.steps["disposition"].answers for r in a.get("repairs", []) if r.get("outline_mm")]
    if not repairs:
        return None
    shapes: list[dict[str, Any]] = [
        {"name": ", ".join(r["members"]), "outline": _ring(r["outline_mm"]), "footprint": _ring(r.get("footprint_mm"))}
        for r in repairs
    ]
    points = [point for shape in shapes for ring in (shape["outline"], shape["footprint"]) for point in ring]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    edge = max(10.0, 0.35 * max(max(xs) - min(xs), max(ys) - min(ys)))
    box = [min(xs) - edge, min(ys) - edge, max(xs) - min(xs) + 2 * edge, max(ys) - min(ys) + 2 * edge]
    for shape in shapes:
        for name in ("outline", "footprint"):
            shape[f"{name}_points"] = " ".join(f"{x:g},{-y:g}" for x, y in shape[name])
    return {
        "shapes": shapes,
        "box": [round(value, 1) for value in box],
        "view": f"{box[0]:.1f} {-(box[1] + box[3]):.1f} {box[2]:.1f} {box[3]:.1f}",
    }


def test_question(outcome: Outcome) -> dict[str, Any]:
    """The holiday question of this job without a voltage.

    Returns
    -------
    dict
        ``ground``: polymer, strength, air, procedure as the step asks them; ``zones`` with the thinnest and thickest
        corrected reading of each; ``readings_um``.

    Raises
    ------
    NotEnough
        No film was measured: a test voltage rests on the film.
    """
    thickness = outcome.steps["thickness"]
    if not thickness.answers:
        raise NotEnough("film", say("desk.film_before_voltage"))
    film = thickness.answers[0]
    last = outcome.job.last("holiday.tested")
    asked = zones_question(outcome.case, film, last.body if last else BEFORE_A_TEST)
    zones = asked.pop("zones")
    return {"ground": asked, "zones": zones, "readings_um": [value for spot in film["spots"] for value in spot["readings_um"]]}


test_question.__test__ = False  # type: ignore[attr-defined]


def windows(question: dict[str, Any], stated_voltage_v: float | None = None) -> dict[str, Any]:
    """The window of every zone: the room's own answer."""
    return ask("holiday", at_voltage(question["ground"] | {"zones": question["zones"]}, stated_voltage_v))


def whole_film(question: dict[str, Any], stated_voltage_v: float | None = None) -> dict[str, Any]:
    """The window of all film together, with every published rule beside it."""
    return ask("holiday", _whole(question, stated_voltage_v))


def window_svg(question: dict[str, Any], stated_voltage_v: float | None = None) -> bytes:
    """The window against film with this film's readings, as SVG."""
    from ...basis.question import read
    from ...holiday.charts import window_chart
    from ...holiday.given import FilmRequest
    from ...report.charts import chart_svg

    return chart_svg(window_chart(read(FilmRequest, _whole(question, stated_voltage_v)), question["readings_um"]))


def readings_svg(outcome: Outcome) -> bytes:
    """The last readings by spot against the limits, as SVG.

    Raises
    ------
    NotEnough
        No film was measured.
    """
    from ...report.charts import chart_svg
    from ...thickness.charts import readings_chart

    step = outcome.steps["thickness"]
    if not step.answers:
        raise NotEnough("film", say("desk.film_not_measured"))
    return chart_svg(readings_chart(step.answers[0], step.asked[0]["limits"]))


def map_of(outcome: Outcome) -> tuple[bytes, str] | None:
    """The thin-spot map as SVG and what it says in words; None when the readings do not carry one."""
    from ...report.charts import chart_svg
    from ...thickness.charts import map_chart

    asked = map_question(outcome.case, outcome.steps["thickness"], outcome.steps["disposition"])
    if asked is None:
        return None
    try:
        plain = ask("thickness", asked)
        ahead = "; ".join(
            f"{i}: x {one['x']:.0f}, y {one['y']:.0f} mm" for i, one in enumerate(plain["next_readings"][:3], 1)
        )
        said = (
            f"Estimate from the thinnest reading of each place: thinnest film about {plain['film_min_um']:.0f} µm. "
            + (f"Where a further reading tells most: {ahead}. " if ahead else "")
            + "Only a reading decides."
        )
        return chart_svg(map_chart(plain)), said
    except BenchError:
        return None


def _whole(question: dict[str, Any], stated_voltage_v: float | None) -> dict[str, Any]:
    return at_voltage(whole_film_question(question["ground"] | {"zones": question["zones"]}), stated_voltage_v)


def _ring(points: Any) -> list[list[float]]:
    return [[float(x), float(y)] for x, y in points or []]
