"""``soundedge heat --plate 12mm --lining 0.8mm pvdf --gun 2000W,500C``: what will the steel really do?"""

from __future__ import annotations

from typing import Any

import click

from ..basis.errors import Missing
from ..basis.sentences import say
from ..basis.units import quantity
from ..services.ask import ask
from .flags import answer_options, quantity_type, show
from .people import DATA_IF_ANY

_GUN = (("power_w", "power_w", "Gun power"), ("air_c", "temperature_c", "Gun air"),
        ("outlet_mm", "length_mm", "Gun outlet"), ("distance_mm", "length_mm", "Gun distance"))


@click.group("heat", invoke_without_command=True)
@click.option("--plate", type=quantity_type("length_mm", "Plate"), help="Steel thickness: 12mm, 0.5in.")
@click.option("--lining", nargs=2, metavar="THICKNESS POLYMER", help="Film: 0.8mm pvdf.")
@click.option("--gun", metavar="POWER,AIR[,OUTLET[,DISTANCE]]", help="2000W,500C or 2000W,500C,34mm,60mm.")
@click.option("--gun-name", help="A gun the shop has tried (soundedge heat trial --keep); its trial narrows the band.")
@DATA_IF_ANY
@click.option("--melt-class", type=click.Choice(["standard", "low_melt", "high_melt"]),
              help="Where grades of the polymer melt apart; the higher-melting one if left out.")
@click.option("--material", default="carbon_steel", show_default=True, help="The metal.")
@click.option("--radius", type=quantity_type("length_mm", "Radius of the part"),
              help="Disc of steel that is heated along; 500mm for a wall. 150mm is assumed if left out, and doubted.")
@click.option("--spot", default="30mm", show_default=True, type=quantity_type("length_mm", "Spot"), help="Bare spot, across.")
@click.option("--start", type=quantity_type("temperature_c", "Part at the start"),
              help="Preheated part; as the air if left out.")
@click.option("--air", default="20C", show_default=True, type=quantity_type("temperature_c", "Air around"), help="Air around.")
@click.option("--back", default="free", show_default=True, type=click.Choice(["free", "insulated", "second_gun"]),
              help="The back of the plate.")
@click.option("--plan", "planned", is_flag=True, help="Search preheat, gun air and distance that pass, or say never.")
@click.option("--procedure", type=click.Path(), help="Lining procedure with surface limit, fusion and dwell.")
@click.option("--card", type=click.Path(dir_okay=False), help="With --plan: write the one-page work card here (PDF).")
@click.option("--number", default="work card", help="Number printed on the card.")
@answer_options
@click.pass_context
def command(ctx: click.Context, plate: float | None, lining: tuple[str, str] | None, gun: str | None, gun_name: str | None,
            data: str | None, melt_class: str | None, material: str, radius: float | None, spot: float,
            start: float | None, air: float, back: str, planned: bool, procedure: str | None, card: str | None, number: str,
            as_json: bool) -> int | None:
    """What the steel does under the hot-air gun: glossy when, fused when, burnt when, what preheat."""
    if ctx.invoked_subcommand is not None:
        return None
    for name, given in (("--plate", plate), ("--lining", lining), ("--gun", gun)):
        if given is None:
            raise click.UsageError(f"Missing option '{name}'.", ctx)
    assert lining is not None and gun is not None
    request: dict[str, Any] = {
        "part": {"material": material, "plate_mm": plate} | ({} if radius is None else {"radius_mm": radius}),
        "lining": {"thickness_mm": quantity(lining[0], "length_mm", what="Lining"), "polymer": lining[1]}
        | ({} if melt_class is None else {"melt_class": melt_class}),
        "gun": _named(_gun(gun), gun_name, data), "ambient_c": air,
        "part_start_c": air if start is None else start, "back": back,
        "spot_d_mm": spot,
    }
    if procedure:
        from ..services.procedure import procedure_file

        request["procedure"] = procedure_file(procedure)
    if planned or card:
        return _plan(request, card, number, as_json)
    answer = ask("heat", request)
    show(answer, as_json, _rows(answer), title=answer["because"], cautions=answer["cautions"],
         first=[f"→ {move}" for move in answer["next_moves"]])
    return 0 if answer["verdict"] == "conforms" else 3


@command.command("trial")
@click.argument("form", required=False, type=click.Path(dir_okay=False))
@click.option("--gun", required=True, metavar="POWER,AIR[,OUTLET[,DISTANCE]]", help="As it is set: 2000W,500C,34mm,60mm.")
@click.option("--air", default="20C", show_default=True, type=quantity_type("temperature_c", "Air around"), help="Air around.")
@click.option("--blank", type=click.Path(dir_okay=False), help="Write the empty form here (CSV).")
@click.option("--keep", metavar="NAME", help="Keep what the form gave for the shop under the gun's name.")
@DATA_IF_ANY
@answer_options
def trial_command(form: str | None, gun: str, air: float, blank: str | None, keep: str | None, data: str | None,
                  as_json: bool) -> int:
    """An afternoon with three plates and one gun: the plan and the form, or what the typed form gave."""
    from datetime import UTC, datetime
    from pathlib import Path

    from ..services import heat_trial
    from ..services.files import write_whole

    setting = _gun(gun)
    if keep and (form is None or data is None):
        raise click.UsageError("--keep needs a typed form and --data, the shop's data folder.")
    answer = heat_trial.trial(setting, ambient_c=air, form=None if form is None else Path(form))
    rows = [] if answer["calibration_factor"] is None else [
        ("factor on the model's jet", f"{answer['calibration_factor']:.2f}"),
        ("known to", f"{100 * answer['calibration_u']:.0f} % (untried: {100 * answer['untried_u']:.0f} %)"),
        *((f"plate of {one['plate_mm']:g} mm", f"{one['factor']:.2f}, readings within {one['misfit_k']:.1f} K")
          for one in answer["plates"])]
    show(answer, as_json, rows, title=answer["because"], cautions=answer["cautions"])
    if form is None and not as_json:
        for number, step in enumerate(answer["plan"], 1):
            click.echo(f"  {number}. {step}")
    if blank:
        write_whole(Path(blank), ("\n".join(answer["form"]) + "\n").encode())
        if not as_json:
            click.echo(f"The form is in {blank}")
    if keep and data is not None:
        heat_trial.keep(Path(data), keep, setting, answer, now=datetime.now(UTC))
        if not as_json:
            click.echo(f"Kept as {keep}: soundedge heat … --gun-name {keep}")
    return 0


def _named(gun: dict[str, float], name: str | None, data: str | None) -> dict[str, Any]:
    """The gun with what its trial gave."""
    if name is None:
        return dict(gun)
    if data is None:
        raise click.UsageError("--gun-name needs --data, the shop's data folder.")
    from pathlib import Path

    from ..services.heat_trial import as_tried

    return as_tried(Path(data), gun | {"name": name})


def _plan(request: dict[str, Any], card: str | None, number: str, as_json: bool) -> int:
    """The planner's answer, and its card on paper."""
    from pathlib import Path

    from ..services.files import write_whole
    from ..services.heat import plan, work_card

    answer = plan(request)
    rows = [] if not answer.get("card") else [
        (point["what"], f"{point['value']:g} {point['unit']}") for point in answer["card"]["set_points"]
    ]
    show(answer, as_json, rows, title=answer["because"], cautions=answer["cautions"])
    if not as_json:
        for trial in answer["alternatives"]:
            click.echo(f"  {'works' if trial['works'] else 'does not help'}: {trial['change']}. {trial['because']}")
    if card:
        write_whole(Path(card), work_card(answer, number=number))
        if not as_json:
            click.echo(f"The work card is in {card}")
    return 0 if answer["verdict"] == "conforms" else 3


def _gun(text: str) -> dict[str, float]:
    parts = [part for part in text.split(",") if part.strip()]
    if not 2 <= len(parts) <= 4:
        raise Missing("gun", say("cli.gun_form", text=text[:40]))
    return {key: quantity(part, kind, what=what) for part, (key, kind, what) in zip(parts, _GUN)}


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    def at(seconds: float | None) -> str:
        if seconds is None:
            return "never in two hours"
        return "at once" if seconds < 1 else f"after {seconds:.0f} s" if seconds < 100 else f"after {seconds / 60:.0f} min"

    def hot(value: float | None) -> str:
        return "-" if value is None else f"{value:.0f} °C"

    fine = answer["bond_reaches_fusion"] and answer["overheats_first"] is None
    preheat = "none" if fine else "alone does not help"
    low, high = answer["band_pct"]
    between = "" if answer["gloss_bond_c_low"] is None else (
        f" ({answer['gloss_bond_c_low']:.0f} to {answer['gloss_bond_c_high']:.0f} °C)")
    return [
        ("surface turns glossy", f"{at(answer['gloss_at_s'])}, bond line then {hot(answer['gloss_bond_c'])}{between}"),
        ("bond line fuses", f"{at(answer['bond_fusion_at_s'])} (from {answer['fusion_c']:g} °C)"),
        ("bond line molten through", f"from {answer['melted_c']:g} °C, {at(answer['bond_melted_at_s'])}"),
        ("fused and nothing burnt", f"{100 * answer['p_both']:.0f} % of the ensemble"),
        ("bond line at most", hot(answer["bond_max_c"])),
        ("surface when it fuses", f"{hot(answer['surface_at_fusion_c'])} (limit {answer['surface_limit_c']:g} °C)"),
        ("lining around the spot", hot(answer["neighbour_max_c"])),
        ("overheats first", (answer["overheats_first"] or "nothing").replace("_", " ")),
        ("preheat needed", preheat if answer["preheat_needed_c"] is None else hot(answer["preheat_needed_c"])),
        ("cool to touch", "-" if answer["cool_to_touch_s"] is None else at(answer["cool_to_touch_s"])),
        ("times are good to", f"{low:+.0f} / {high:+.0f} %" if high < 300 else f"{low:+.0f} % / far longer, perhaps never"),
    ]
