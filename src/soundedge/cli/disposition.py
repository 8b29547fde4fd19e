"""``soundedge disposition``: may this damage be spot-repaired, and by which rule?"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import click

from ..basis.errors import Missing, Unreadable
from ..basis.sentences import say
from ..basis.strict_json import loads
from ..basis.units import quantity
from ..services.ask import ask
from ..services.files import read_text
from .flags import answer_options, quantity_type, show


@click.command("disposition")
@click.argument("request_file", metavar="[REQUEST.json]", required=False)
@click.option("--procedure", help="Lining procedure file: kbw-lp-04.toml.")
@click.option("--circle", multiple=True, metavar="D[@X,Y]",
              help="A round spot: 30mm, 30mm@120mm,-40mm, or 30mm@3:30,120mm by clock and radius.")
@click.option("--ellipse", multiple=True, metavar="AxB[@X,Y]", help="An oval spot, full axes: 62mmx31mm.")
@click.option("--u-area", type=quantity_type("area_mm2", "Uncertainty of the area"), default="0mm2",
              help="Standard uncertainty of each bare area: 15mm2.")
@click.option("--stage", type=click.Choice(["as_found", "as_prepared"]), default="as_found", show_default=True)
@click.option("--kind", default="chip", show_default=True, help="chip, crack, blister, lifted_edge, corrosion …")
@click.option("--not-through", is_flag=True, help="The damage does not reach the steel.")
@click.option("--pit", type=quantity_type("length_mm", "Pit depth"), default="0mm", help="Deepest pit: 0.4mm.")
@click.option("--plate", type=quantity_type("length_mm", "Plate"), help="Plate thickness: 12mm.")
@click.option("--bore", type=quantity_type("length_mm", "Bore"),
              help="Diameter of the bore that is judged: 300mm. Places are then 30mm@359deg,40mm: angle and length along it.")
@click.option("--lined-area", type=quantity_type("area_mm2", "Lined area"), help="Lined area of the part: 700cm2.")
@answer_options
def command(
    request_file: str | None, procedure: str | None, circle: tuple[str, ...], ellipse: tuple[str, ...], u_area: float,
    stage: str, kind: str, not_through: bool, pit: float, plate: float | None, bore: float | None, lined_area: float | None,
    as_json: bool,
) -> int:
    """May this damage be spot-repaired, by which rule, and what would change that?

    soundedge disposition request.json

    soundedge disposition --procedure kbw-lp-04.toml --circle 30mm --u-area 15mm2 --stage as_prepared
    """
    base = None
    if request_file is not None:
        if circle or ellipse:
            raise Unreadable("request", say("cli.request_and_shapes"))
        request = loads(read_text(request_file, what="The request", field="request"))
        base = Path(request_file).parent
        if procedure is not None and isinstance(request, dict):
            request, base = request | {"procedure": procedure}, None
    else:
        if procedure is None or not (circle or ellipse):
            raise Missing("request", say("cli.nothing_to_judge"))
        shapes = [_circle(text, bore) for text in circle] + [_ellipse(text, bore) for text in ellipse]
        facts = {"u_area_mm2": u_area, "stage": stage, "kind": kind, "through": not not_through, "pit_depth_mm": pit}
        part = {"plate_mm": plate, "lined_area_mm2": lined_area, "bore_d_mm": bore}
        request = {
            "procedure": procedure,
            "part": {key: value for key, value in part.items() if value is not None},
            "defects": [{"id": _name(i)} | shape | facts for i, shape in enumerate(shapes)],
        }
    answer = ask("disposition", request, base=base)
    show(answer, as_json, _rows(answer), title=answer["because"], cautions=answer["cautions"], more=_more(answer))
    return 0 if answer["verdict"] in ("repair_by_procedure", "dress_only", "use_as_is") else 3


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    rows = [("next", answer["next_move"])]
    for repair in answer["repairs"]:
        text = f"bare {repair['bare_area_mm2']:.1f} mm²"
        if repair["footprint_area_mm2"] is not None:
            text += f", footprint {repair['footprint_area_mm2']:.1f} mm²"
        if repair["min_keep_out_mm"] is not None:
            text += f", {repair['min_keep_out_mm']:.1f} mm to the {repair['nearest_keep_out'].replace('_', ' ')}"
        rows.append((f"repair {' + '.join(repair['members'])}", f"{text}: {repair['verdict'].replace('_', ' ')}"))
    rows.append(("repairs on the part", str(answer["repair_count"])))
    rows += [("one repair because", text) for text in answer["merged_because"]]
    rows += [("grown", f"{g['id']}: {g['as_found_mm2']:.1f} → {g['as_prepared_mm2']:.1f} mm²") for g in answer["growth"]]
    if answer["not_judged"]:
        n = len(answer["not_judged"])
        rows.append(("not judged", f"{n} limit{'s' * (n != 1)}, for want of values; which: --why"))
    return rows


def _more(answer: dict[str, Any]) -> list[tuple[str, str]]:
    return [("not judged", text) for text in answer["not_judged"]]


def _circle(text: str, bore: float | None) -> dict[str, Any]:
    size, centre, place = _placed(text, bore, "--circle 30mm@120mm,-40mm")
    return {"circle_mm": {"d": quantity(size, "length_mm", what="Circle")} | centre} | place


def _ellipse(text: str, bore: float | None) -> dict[str, Any]:
    size, centre, place = _placed(text, bore, "--ellipse 62mmx31mm@0mm,0mm")
    a, by, b = size.partition("x")
    if not by:
        raise Unreadable("ellipse_mm", say("cli.ellipse_one_axis", text=size[:40]))
    axes = {"a": quantity(a, "length_mm", what="Ellipse"), "b": quantity(b, "length_mm", what="Ellipse")}
    return {"ellipse_mm": axes | centre} | place


def _placed(text: str, bore: float | None, example: str) -> tuple[str, dict[str, Any], dict[str, Any]]:
    """The size, its centre, and its place where that is said by clock or angle; after the @ (0, 0 when there is none)."""
    size, at, place = text.partition("@")
    if not at:
        return size, {"x": 0.0, "y": 0.0}, {}
    across, comma, up = place.partition(",")
    if not comma:
        raise Unreadable("place", say("cli.place_two_lengths", text=place[:40], example=example))
    angle = re.fullmatch(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(?:deg|°)\s*", across)
    if angle is None and ":" not in across:
        x, y = quantity(across, "length_mm", what="Place across"), quantity(up, "length_mm", what="Place up")
        return size, {"x": x, "y": y}, {}
    way = {"clock": across.strip()} if angle is None else {"angle_deg": float(angle[1])}
    far = {"radius_mm" if bore is None else "along_mm": quantity(up, "length_mm", what="Radius" if bore is None else "Length")}
    return size, {}, {"place": way | far}


def _name(number: int) -> str:
    """A, B … Z, A1, B1 …"""
    return chr(65 + number % 26) + (str(number // 26) if number >= 26 else "")
