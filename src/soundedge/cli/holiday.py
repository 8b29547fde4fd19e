"""``soundedge holiday``: the window of test voltages for one film, from a terminal."""

from __future__ import annotations

from typing import Any

import click

from ..basis.errors import Unreadable
from ..basis.sentences import say
from ..basis.units import quantity
from ..services.ask import ask
from .flags import answer_options, quantity_type, show

STATES = ("immersed", "conductive_filler", "wet", "carbon_black", "antistatic_grade", "conductive_primer", "solvent",
          "fabric_backed")


class FilmRange(click.ParamType):
    """``620um:880um`` or one thickness, with units."""

    name = "min:max"

    def convert(self, value: Any, param: Any, ctx: Any) -> dict[str, float]:
        """The thinnest and thickest film, µm."""
        parts = str(value).split(":")
        if len(parts) > 2:
            raise Unreadable("film_um", say("cli.film_form", text=str(value)[:40]))
        low = quantity(parts[0], "film_um", what="Film")
        return {"min": low, "max": quantity(parts[-1], "film_um", what="Film")}


class StrengthAt(click.ParamType):
    """``20kV/mm@750um`` or ``500V/mil@30mil``: a dielectric strength and the thickness it was measured at."""

    name = "kV/mm@thickness"
    _PER_KV_MM = {"kv/mm": 1.0, "v/um": 1.0, "v/µm": 1.0, "v/mil": 1.0 / 25.4, "kv/mil": 1000.0 / 25.4}

    def convert(self, value: Any, param: Any, ctx: Any) -> dict[str, float]:
        """As a strength point of the request."""
        text, at, thickness = str(value).partition("@")
        text = text.strip()
        unit = next((held for held in self._PER_KV_MM if text.lower().endswith(held)), None)
        if unit is None:
            raise Unreadable("strength", say("cli.strength_form", text=str(value)[:40]))
        number = text[: -len(unit)].strip().replace(",", ".")
        if not at:
            raise Unreadable("strength", say("cli.strength_thickness", text=text[:40]))
        try:
            strength = float(number) * self._PER_KV_MM[unit]
        except ValueError:
            raise Unreadable("strength", say("cli.strength_not_number", text=number[:40])) from None
        return {"kv_mm": strength, "at_um": quantity(thickness, "film_um", what="Thickness of the strength")}


@click.command("holiday")
@click.option("--film", type=FilmRange(), required=True, help="Thinnest and thickest film: 620um:880um.")
@click.option("--polymer", help="ectfe, etfe, pvdf …; leave it out when only the strength is known.")
@click.option("--strength", type=StrengthAt(), multiple=True, help="Maker's strength at a thickness: 20kV/mm@750um.")
@click.option("--fraction", type=quantity_type("number", "Usable share"), help="Usable share of the strength; 0.5.")
@click.option("--stated", type=quantity_type("voltage_v", "Stated voltage"), help="Voltage somebody wants: 4kV.")
@click.option("--electrode", type=click.Choice(["wire_brush", "conductive_rubber", "spring"]), default="wire_brush")
@click.option("--air", type=quantity_type("temperature_c", "Air"), help="Air temperature: 20C.")
@click.option("--pressure", type=quantity_type("pressure_kpa", "Air pressure"), help="As it is there: 97.8kPa.")
@click.option("--altitude", type=quantity_type("altitude_m", "Height"), help="Height above the sea: 300m.")
@click.option("--rh", type=quantity_type("percent", "Humidity"), help="Relative humidity: 60%.")
@click.option("--rule", help="Published rule that governs: two_step, sp0274 …")
@click.option("--lel", type=quantity_type("percent", "Vapour"), help="Vapour as a share of the explosive limit: 2%.")
@click.option("--state", type=click.Choice(STATES), multiple=True, help="What speaks against the test.")
@click.option("--sheet", type=click.Path(dir_okay=False), help="Write the test sheet here (PDF), to take to the part.")
@click.option("--number", default="", help="Job or part number for the sheet.")
@answer_options
def command(
    film: dict[str, float], polymer: str | None, strength: tuple[dict[str, float], ...], fraction: float | None,
    stated: float | None, electrode: str, air: float | None, pressure: float | None, altitude: float | None,
    rh: float | None, rule: str | None, lel: float | None, state: tuple[str, ...],
    sheet: str | None, number: str, as_json: bool,
) -> int:
    """The lowest voltage that finds holes, the highest that leaves sound film alone, every rule beside them.

    soundedge holiday --film 620um:880um --polymer ectfe --strength 20kV/mm@750um --stated 4kV --altitude 300m
    """
    around = {"c": air, "kpa": pressure, "altitude_m": altitude, "rh_pct": rh}
    given = {
        "film_um": film, "polymer": polymer, "strength": list(strength), "strength_fraction": fraction,
        "stated_voltage_v": stated, "electrode": electrode, "rule": rule, "lel_pct": lel,
        "air": {key: value for key, value in around.items() if value is not None},
        "state": {key: True for key in state},
    }
    answer = ask("holiday", {key: value for key, value in given.items() if value is not None})
    show(answer, as_json, _rows(answer), title=_window(answer), cautions=answer["cautions"], cautions_first=True,
         more=_more(answer))
    if sheet:
        from pathlib import Path

        from ..services.files import write_whole
        from ..services.holiday import test_sheet

        write_whole(Path(sheet), test_sheet(answer, number=number))
        if not as_json:
            click.echo(f"The test sheet is in {sheet}")
    return 0


def _window(answer: dict[str, Any]) -> str:
    """The one line to set the instrument by."""
    if answer["suggested_v"] is None:
        return ""
    return f"Suggested {answer['suggested_v']:.0f} V, between {answer['low_v']:.0f} and {answer['high_v']:.0f} V"


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    volts = "{:.0f} V".format
    rows = [
        ("method", answer["method"].replace("_", " ")),
        ("lowest that finds holes", volts(answer["low_v"])),
        *([("only with a coupon's proof", f"{volts(answer['proven_from_v'])} to {volts(answer['low_v'])}  "
                                          "(the published models disagree)")]
          if answer["proven_from_v"] < answer["low_v"] else []),
        ("highest for sound film",
         "not known" if answer["high_v"] is None else volts(answer["high_v"])),
    ]
    rows += [(one["rule"], f"{volts(one['voltage_v'])}, {one['against_window']}, governs") for one in answer["rules"]
             if one["governs"] and one["voltage_v"] is not None]
    if answer["stated"]:
        stated = answer["stated"]
        where = (stated["position"] or "upper side not known").replace("_", " ")
        rows.append(("stated", f"{volts(stated['voltage_v'])}, {where}, {stated['of_air_gap_pct']:.0f} % of the air gap, "
                               f"{stated['stress_kv_mm']:.2f} kV/mm"))
        rows.append(("what it proves", stated["proves"]))
    return rows


def _more(answer: dict[str, Any]) -> list[tuple[str, str]]:
    """Where both ends come from, every published rule beside them, and the notes."""
    volts = "{:.0f} V".format
    rows = [("lowest, from", answer["low_from"])]
    if answer["high_v"] is not None:
        rows.append(("highest, from", answer["high_from"]))
    for one in answer["rules"]:
        if one["voltage_v"] is not None:
            marks = (", governs" if one["governs"] else "") + ("" if one["applies"] else ", made for other film")
            rows.append((one["rule"], f"{volts(one['voltage_v'])}, {one['against_window']}{marks}  [{one['edition']}]"))
    rows += [("note", f"{note['because']} {note['next_move']}") for note in answer["notes"]]
    return rows
