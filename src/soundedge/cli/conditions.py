"""``soundedge conditions``: may this steel be worked on now?"""

from __future__ import annotations

import csv
from io import StringIO
from typing import Any

import click

from ..basis.errors import Unreadable
from ..basis.sentences import say
from ..services.ask import ask
from ..services.files import read_text
from .flags import answer_options, quantity_type, show

_COLUMNS = ("at", "air_c", "rh_pct", "steel_c")


@click.command("conditions")
@click.option("--air", type=quantity_type("temperature_c", "Air temperature"), help="Air: 70F or 21.4C.")
@click.option("--rh", type=quantity_type("percent", "Relative humidity"), help="Relative humidity in %.")
@click.option("--steel", type=quantity_type("temperature_c", "Steel temperature"), help="Coldest steel at the spot.")
@click.option("--margin", type=quantity_type("difference_k", "Margin above the dew point"),
              help="Limit, a difference: 3K or 5F. 3 K if left out.")
@click.option("--rh-max", type=quantity_type("percent", "Highest humidity"), help="Limit for humidity in %.")
@click.option("--tol-air", type=quantity_type("difference_k", "Tolerance of the air thermometer"), help="Half-width.")
@click.option("--tol-rh", type=quantity_type("percent", "Tolerance of the hygrometer"), help="Half-width in %.")
@click.option("--tol-steel", type=quantity_type("difference_k", "Tolerance of the steel thermometer"), help="Half-width.")
@click.option("--series", type=click.Path(), help="Air log as CSV with the columns at, air_c, rh_pct, steel_c.")
@click.option("--salts", "rise", type=float, help="Conductivity rise of the patch test in µS/cm.")
@click.option("--water", type=quantity_type("volume_ml", "Extraction water"), help="Its water: 15ml or 3ml.")
@click.option("--salts-max", type=float, help="Limit for soluble salts in mg/m².")
@answer_options
def command(
    air: float | None, rh: float | None, steel: float | None, margin: float | None, rh_max: float | None,
    tol_air: float | None, tol_rh: float | None, tol_steel: float | None, series: str | None, rise: float | None,
    water: float | None, salts_max: float | None, as_json: bool,
) -> int:
    """Dew point, its worst case with the instruments' tolerances, and what the air log says.

    Example: soundedge conditions --air 70F --rh 63 --steel 66F
    """
    request: dict[str, Any] = {
        "air_c": air, "rh_pct": rh, "steel_c": steel, "tol_air_k": tol_air, "tol_rh_pct": tol_rh, "tol_steel_k": tol_steel,
    }
    if series is not None:
        request["series"] = _log(series)
    if rise is not None or water is not None:
        request["salts"] = _given({"rise_us_cm": rise, "volume_ml": water})
    limits = _given({"dew_margin_k": margin, "rh_pct_max": rh_max, "salts_mg_m2_max": salts_max})
    if limits:
        request["limits"] = limits
    answer = ask("conditions", _given(request))
    show(answer, as_json, _rows(answer), cautions=answer["cautions"], more=[("note", note) for note in answer["notes"]])
    return 0 if answer["verdict"] == "conforms" else 3


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    rows = []
    if answer["dew_point_c"] is not None:
        rows += [
            ("dew point", f"{answer['dew_point_c']:.1f} °C"),
            ("margin", f"{answer['dew_margin_k']:.1f} K, {answer['dew_margin_worst_k']:.1f} K at worst"),
        ]
    if answer["frost_point_c"] is not None:
        rows.append(("frost point", f"{answer['frost_point_c']:.1f} °C"))
    for one in answer["intervals"]:
        rows.append((f"{one['start'][11:16]} to {one['end'][11:16]}", f"{one['state']}: {one['because']}"))
    if answer["trend_because"]:
        rows.append(("trend", answer["trend_because"]))
    if answer["salts_mg_m2"] is not None:
        rows.append(("soluble salts", f"{answer['salts_mg_m2']:.0f} mg/m²"))
    return rows


def _given(values: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in values.items() if value is not None}


def _log(path: str) -> list[dict[str, Any]]:
    """The air log; a column that is missing or a cell that is no number is named with its line."""
    rows = csv.DictReader(StringIO(read_text(path, what="The air log", field="series")), strict=True)
    try:
        if rows.fieldnames is None or [name.strip() for name in rows.fieldnames] != list(_COLUMNS):
            raise Unreadable("series", say("cli.air_log_header", path=path, columns=','.join(_COLUMNS)))
        rows.fieldnames = list(_COLUMNS)
        return [_row(row, line) for line, row in enumerate(rows, start=2)]
    except csv.Error as error:
        raise Unreadable("series", say("cli.air_log_not_csv", path=path, reason=error)) from None


def _row(row: dict[Any, Any], line: int) -> dict[str, Any]:
    if None in row or None in row.values():
        raise Unreadable("series", say("cli.air_log_cells", line=line, n=len(_COLUMNS)))
    out: dict[str, Any] = {"at": row["at"].strip()}
    for key in _COLUMNS[1:]:
        try:
            out[key] = float(row[key])
        except ValueError:
            raise Unreadable("series", say("cli.air_log_not_number", line=line, key=key, text=row[key][:20])) from None
    return out
