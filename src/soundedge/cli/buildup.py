"""``soundedge buildup``: layers, powder, and where each placement goes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ..basis.errors import Missing, Unreadable
from ..basis.sentences import say
from ..basis.strict_json import loads
from ..basis.units import quantity
from ..services.ask import ask
from ..services.files import read_text, write_whole
from .flags import answer_options, quantity_type, show


@click.command("buildup")
@click.argument("request_file", metavar="[REQUEST.json]", required=False)
@click.option("--circle", type=quantity_type("length_mm", "Circle"), help="Diameter of the bare spot: 30mm.")
@click.option("--ellipse", metavar="AxB", help="Full axes of the bare spot: 62mmx31mm.")
@click.option("--depth", type=quantity_type("film_um", "Depth"), help="From the parent surface to the steel: 900um.")
@click.option("--feather", type=quantity_type("length_mm", "Feather"), help="Width of the feather: 15mm.")
@click.option("--target", type=quantity_type("film_um", "Target"), help="Film to reach; the depth if left out.")
@click.option("--layer-max", type=quantity_type("film_um", "Layer"), help="Thickest layer: 300um.")
@click.option("--overbuild", type=quantity_type("film_um", "Overbuild"), default="150um", show_default=True,
              help="Built above the parent and sanded off.")
@click.option("--polymer", help="ectfe, etfe, pvdf …: gives the density.")
@click.option("--packing", type=quantity_type("number", "Packing"), help="Solid share of the loose powder; 0.5.")
@click.option("--loss", type=quantity_type("number", "Loss"), help="Share of the powder that is lost; 0.2.")
@click.option("--placement", type=quantity_type("length_mm", "Placement"), default="12mm", show_default=True,
              help="Across one placement.")
@click.option("--overlap", type=quantity_type("number", "Overlap"), default="0.2", show_default=True,
              help="Overlap as a share of that.")
@click.option("--title", help="What stands over the drawings.")
@click.option("--svg", type=click.Path(dir_okay=False), help="Write the plan here and the section beside it.")
@answer_options
def command(
    request_file: str | None, circle: float | None, ellipse: str | None, depth: float | None, feather: float | None,
    target: float | None, layer_max: float | None, overbuild: float, polymer: str | None, packing: float | None,
    loss: float | None, placement: float, overlap: float, title: str | None, svg: str | None, as_json: bool,
) -> int:
    """Layers, powder and placements of one repair; estimates, the film gauge decides.

    soundedge buildup --circle 30mm --depth 900um --feather 15mm --layer-max 300um --polymer ectfe --svg plan.svg
    """
    if request_file is not None:
        request = loads(read_text(request_file, what="The request", field="request"))
    else:
        request = _typed(circle, ellipse, depth, feather, target, layer_max)
        request |= {"overbuild_um": overbuild, "placement_d_mm": placement, "overlap_fraction": overlap}
        if polymer:
            powder = {"polymer": polymer, "packing": packing, "loss_fraction": loss}
            request["powder"] = {key: value for key, value in powder.items() if value is not None}
        if title:
            request["title"] = title
    if svg and isinstance(request, dict):
        request = request | {"drawing": True}
    answer = ask("buildup", request)
    if svg:
        plan = Path(svg)
        section = plan.with_name(f"{plan.stem}-section{plan.suffix or '.svg'}")
        write_whole(plan, answer["plan_svg"].encode("utf-8"))
        write_whole(section, answer["section_svg"].encode("utf-8"))
        answer |= {"plan_svg": str(plan), "section_svg": str(section)}
    show(answer, as_json, _rows(answer), cautions=answer["cautions"])
    return 0


def _typed(circle: float | None, ellipse: str | None, depth: float | None, feather: float | None,
           target: float | None, layer_max: float | None) -> dict[str, Any]:
    """The request from the flags; the first one that is lacking is named."""
    if circle is None and ellipse is None:
        raise Missing("circle_mm", say("cli.spot_missing"))
    for flag, value in (("--depth", depth), ("--feather", feather), ("--layer-max", layer_max)):
        if value is None:
            raise Missing(flag, say("cli.flag_missing", flag=flag))
    request: dict[str, Any] = {"depth_um": depth, "feather_mm": feather, "layer_max_um": layer_max,
                               "target_um": depth if target is None else target}
    if circle is not None:
        request["circle_mm"] = {"d": circle}
    if ellipse is not None:
        a, by, b = ellipse.partition("x")
        if not by:
            raise Unreadable("ellipse_mm", say("cli.ellipse_one_axis", text=ellipse[:40]))
        request["ellipse_mm"] = {"a": quantity(a, "length_mm", what="Ellipse"), "b": quantity(b, "length_mm", what="Ellipse")}
    return request


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    rows = [
        ("layers", f"{answer['layers']} of {answer['layer_um']:.4g} µm"),
        ("built over bare steel", f"{answer['built_um']:.4g} µm"),
        ("sand off", f"{answer['removal_um']:.4g} µm, at most {answer['removal_most_um']:.4g} µm"),
        ("bare, footprint", f"{answer['bare_area_mm2']:.1f} mm², {answer['footprint_area_mm2']:.1f} mm²"),
        ("fused volume", f"{answer['fused_volume_mm3']:.1f} mm³"),
    ]
    if answer["powder_g"] is not None:
        rows.append(("powder", f"{answer['powder_g']:.2f} g, {answer['powder_ml_loose']:.1f} ml loose "
                               f"({answer['density_kg_m3']:.0f} kg/m³, {answer['density_source']})"))
    rings = 1 + max(p["ring"] for p in answer["placements"])
    rows.append(("placements", f"{len(answer['placements'])} in {rings} rings, {answer['coverage_pct']:.6g} % covered"))
    if answer["plan_svg"]:
        rows.append(("drawn in", f"{answer['plan_svg']}, {answer['section_svg']}"))
    return rows
