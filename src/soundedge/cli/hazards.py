"""``soundedge hazards``: vapour, hot surfaces, fume and hot-work clocks. Estimates; an instrument decides."""

from __future__ import annotations

from typing import Any

import click

from ..services.ask import ask
from .flags import answer_options, quantity_type, show


@click.command("hazards")
@click.option("--solvent", help="Solvent wiped or spilt: acetone, mek, isopropanol, ethanol, toluene, xylene, …")
@click.option("--ml", type=float, help="How much of it in ml.")
@click.option("--space", type=quantity_type("volume_l", "Space"), help="Free air in the space: 80l, 1.2m3.")
@click.option("--air", type=quantity_type("temperature_c", "Air temperature"), help="Air: 20C or 68F.")
@click.option("--air-changes", type=float, help="Fresh air, changes an hour.")
@click.option("--mixing", type=float, help="Mixing factor, 1 perfect, 3 to 10 usual.")
@click.option("--gun", type=quantity_type("temperature_c", "Gun air temperature"), help="Gun air: 450C.")
@click.option("--surface", help="Hot surface: bare_metal, plastic, ceramic_glass_stone.")
@click.option("--polymer", help="Lining polymer under the gun: ectfe, pvdf, …")
@click.option("--temperature", type=quantity_type("temperature_c", "Surface temperature"), help="Of the surface: 58C.")
@click.option("--contact", type=quantity_type("time_s", "Contact time"), help="Bare skin on it: 1s, 10min.")
@click.option("--permit", nargs=2, metavar="START END", help="Hot-work permit, ISO 8601 times.")
@click.option("--hot-work-ended", metavar="TIME", help="Last heat, ISO 8601; the fire watch starts here.")
@click.option("--now", metavar="TIME", help="The time to judge at, ISO 8601.")
@answer_options
def command(
    solvent: str | None, ml: float | None, space: float | None, air: float | None, air_changes: float | None,
    mixing: float | None, gun: float | None, surface: str | None, polymer: str | None, temperature: float | None,
    contact: float | None, permit: tuple[str, str] | None, hot_work_ended: str | None, now: str | None, as_json: bool,
) -> int:
    """Vapour, hot surfaces, fume and hot-work clocks. Every answer is an estimate; the meter decides.

    \b
    soundedge hazards --solvent acetone --ml 6 --space 80l --air 20C
    soundedge hazards --surface bare_metal --temperature 58C --contact 1s
    soundedge hazards --polymer ectfe --gun 450C --temperature 260C
    soundedge hazards --hot-work-ended 2031-05-04T14:10Z --now 2031-05-04T14:40Z

    Two accidents to know:

    2020. On a cool night resin in a vessel cured too slowly. Somebody warmed it with an electric heat gun; the
    gun fell into the resin and burnt. Two people of another crew, in the vessel connected to it, died. The heat
    gun had not been recognised as hot work, and the crews had not told each other.

    2007. The solvent used for cleaning in a tunnel being recoated flashed. Five people died: the fire stood
    between them and the only way out.

    So: a heat gun is hot work. No heat while solvent or wet resin is near. Tell the other crew. Keep the way
    out behind you.
    """
    touching = polymer is None
    request: dict[str, Any] = {
        "solvent": solvent, "ml": ml, "space_l": space, "air_c": air, "air_changes_per_h": air_changes,
        "mixing_factor": mixing, "gun_air_c": gun, "surface": surface, "polymer": polymer, "contact_s": contact,
        "temperature_c" if touching else "surface_c": temperature,
        "permit": {"start": permit[0], "end": permit[1]} if permit else None,
        "hot_work_ended_at": hot_work_ended, "now": now,
    }
    answer = ask("hazards", {key: value for key, value in request.items() if value is not None})
    show(answer, as_json, _rows(answer), title="Estimate", cautions=answer["cautions"], ahead=1,
         more=[("note", note) for note in answer["notes"]])
    return 0 if answer["verdict"] == "conforms" else 3


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    rows = []
    if "ppm" in answer:
        rows += [
            ("if all mixes", f"{answer['ppm']:.0f} ppm, {answer['lel_pct']:.3g} % of the lower explosive limit"),
            ("where it is richest", f"{answer['richest_ppm']:.0f} ppm, {answer['richest_lel_pct']:.3g} %"),
        ]
        for key, label in (("minutes_until_limit", f"until {answer['lel_limit_pct']:g} % of it"),
                           ("minutes_until_exposure_limit", f"until {answer['exposure_twa_ppm']:g} ppm (exposure)")):
            if answer[key] is not None:
                rows.append((label, f"at least {answer[key]:.0f} min of airing, then measure"))
    if "burn_threshold_c" in answer:
        rows.append(("burn threshold", f"{answer['burn_threshold_c']:.0f} to {answer['burn_threshold_high_c']:.0f} °C"))
    if "fume_c" in answer:
        rows.append(("hazardous fume from", f"about {answer['fume_c']:.0f} °C"))
    if answer.get("permit_minutes_left") is not None:
        rows.append(("permit", f"{answer['permit_minutes_left']:.0f} min left"))
    if answer.get("fire_watch_until") is not None:
        rows.append(("fire watch until", f"{answer['fire_watch_until']}, {answer['fire_watch_minutes_left']:.0f} min left"))
    return rows
