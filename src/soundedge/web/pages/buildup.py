"""Build-up: layers, powder, the section, and the map of placements that is ticked off while a layer is laid."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from ...basis.errors import Unknown
from ...basis.sentences import say
from ...services.desk import laying
from ...services.desk.state import state
from ..on_job import of_the_page
from ..page import READERS, Page
from ..worked import svg, work_page


def buildup(request: Any, job: str) -> HttpResponse:
    """How each repair is built, the map to lay by, and the form for a fused layer."""
    return work_page(request, job, "buildup", "buildup/buildup.html", _more)


def _more(request: Any, outcome: Any, book: Any) -> dict[str, Any]:
    layers = outcome.job.of("layer.fused")
    repairs = [_drawn(repair) for repair in laying.repairs(outcome)]
    polymer = outcome.job.the("lining.identified").polymer
    planned = max((one["answer"]["layers"] for one in repairs), default=0)
    return {
        "repairs": repairs,
        "layers": layers,
        "planned": planned,
        "next_layer": len(layers) + 1,
        "lots": [lot for lot in book.lots.values() if lot.kind == "powder" and lot.polymer == polymer],
        "next_values": {"number": len(layers) + 1},
        "layer_numbers": range(1, max(planned, len(layers), 1) + 1),
    }


def _drawn(repair: laying.Repair) -> dict[str, Any]:
    """The map in its own frame: y runs down on a screen, and everything fits a box with some air around."""
    answer = repair.answer
    xs = [p.x + s * p.r_mm for p in repair.places for s in (-1, 1)] + [x for x, _ in answer["footprint_mm"]]
    ys = [p.y + s * p.r_mm for p in repair.places for s in (-1, 1)] + [y for _, y in answer["footprint_mm"]]
    west, north = min(xs) - 2, max(ys) + 2
    wide, high = max(xs) + 2 - west, north - (min(ys) - 2)

    def ring(points: Any) -> str:
        return " ".join(f"{x - west:.2f},{north - y:.2f}" for x, y in points)

    r = repair.places[0].r_mm if repair.places else 1.0
    return {
        "repair": repair,
        "answer": answer,
        "box": f"0 0 {wide:.2f} {high:.2f}",
        "r": f"{r:g}",
        "size": f"{0.56 * r:.2f}",
        "bare": ring(answer["outline_mm"]),
        "footprint": ring(answer["footprint_mm"]),
        "holes": [ring(one) for one in answer["footprint_holes_mm"]],
        "scale_y": f"{high - 1.2:.2f}",
        "rings": [(n, [p for p in repair.places if p.ring == n]) for n in range(1, repair.rings + 1)],
        "places": [{"p": p, "x": f"{p.x - west:.2f}", "y": f"{north - p.y:.2f}"} for p in repair.places],
        "centre": (f"{repair.centre[0] - west:.2f}", f"{north - repair.centre[1]:.2f}"),
    }


def sheet(request: Any, job: str, number: int) -> HttpResponse:
    """The map of one repair to print and hang beside the part."""

    def more(request: Any, outcome: Any, book: Any) -> dict[str, Any]:
        found = [one for one in laying.repairs(outcome) if one.number == number]
        if not found:
            raise Unknown("job", say("web.repair_unknown", repair=number))
        return {"one": _drawn(found[0])}

    return work_page(request, job, "buildup", "buildup/map.html", more)


def drawing(request: Any, job: str, number: int, which: str) -> HttpResponse:
    """Section or plan as drawn for paper."""
    return svg(laying.drawing(of_the_page(request, state(request.data, job).outcome)[0], number, which))


PAGES = (
    Page("jobs/<job:job>/buildup/", buildup, "buildup", READERS),
    Page("jobs/<job:job>/buildup/<int:number>/map/", sheet, "buildup_map", READERS),
    Page("jobs/<job:job>/buildup/<int:number>/<slug:which>.svg", drawing, "buildup_drawing", READERS),
)
