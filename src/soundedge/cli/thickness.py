"""What do the film readings prove? From a file, from the command line, or from the gauge's cable.

    soundedge thickness readings.csv --min 1000um --max 1800um
    soundedge thickness 1262um 1240um 48.4mil --min 1000um
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from ..basis.errors import Missing, Unreadable
from ..basis.quantity import shown
from ..basis.sentences import say
from ..basis.units import quantity
from ..services.ask import ask
from ..services.folder.readings import keep_readings, need_readings, readings_file, readings_typed
from .flags import answer_options, marked, quantity_type, show, tell

_FILM = "film_um"


@click.command("thickness")
@click.argument("readings", nargs=-1, metavar="[FILE | READING...]")
@click.option("--min", "min_um", type=quantity_type(_FILM, "Minimum film"), help="Thinnest film: 1000um, 40mil.")
@click.option("--max", "max_um", type=quantity_type(_FILM, "Maximum film"), help="Thickest film.")
@click.option("--nominal", "nominal_um", type=quantity_type(_FILM, "Nominal film"), help="Film the rules by share "
                                                                                         "stand on.")
@click.option("--unit", type=click.Choice(["um", "mil", "mm"]), help="Of the readings, when the head does not say.")
@click.option("--decimal", type=click.Choice([".", ","]), help="Decimal sign, when it is not seen by itself.")
@click.option("--column", "columns", multiple=True, metavar="MEANING=HEAD", help="reading=T1, spot=Pt; may be "
                                                                                 "repeated.")
@click.option("--per-spot", type=click.IntRange(1, 1000), help="Without a spot column: so many readings make a spot.")
@click.option("--typed", is_flag=True, help="The file holds numbers as a gauge types them.")
@click.option("--rule", "rules", multiple=True, metavar="RULE", help="A rule to judge by, such as ninety_ten; may be repeated. "
                                                                     "The usual ones if left out.")
@click.option("--governing", metavar="RULE", help="The rule the contract names.")
@click.option("--level", type=click.IntRange(1, 5), default=3, show_default=True, help="Restriction level of SSPC-PA "
                                                                                       "2.")
@click.option("--guarded", type=float, metavar="PROBABILITY", help="Guarded decision at this probability: 0.95.")
@click.option("--scope", type=click.Choice(["all", "each"]), default="all", show_default=True,
              help="Whether that probability is asked of all readings together or of each place by itself.")
@click.option("--profile", type=quantity_type(_FILM, "Profile correction"), help="Profile correction to subtract: "
                                                                                 "25um.")
@click.option("--base-metal", type=quantity_type(_FILM, "Base-metal reading"), help="Base-metal reading to subtract: "
                                                                                    "12um.")
@click.option("--correction-u", type=quantity_type(_FILM, "Uncertainty of the correction"), help="Its standard "
                                                                                                 "uncertainty.")
@click.option("--tol-pct", type=float, default=3.0, show_default=True, help="Gauge tolerance, ± % of the reading.")
@click.option("--tol", type=quantity_type(_FILM, "Gauge tolerance"), help="Gauge tolerance added to that: 2um.")
@click.option("--repeatability", type=quantity_type(_FILM, "Repeatability"), help="Standard deviation of the gauge on one "
                                                                                "place: 6um.")
@click.option("--check", nargs=2, type=quantity_type(_FILM, "Check on a shim"), metavar="SHIM SHOWN",
              help="The gauge on its shim before the readings: 1000um 1012um.")
@click.option("--known-error", type=click.Choice(["add", "correct"]), default="add", show_default=True,
              help="Add the error that check found to the shared uncertainty, or take it off every reading.")
@click.option("--area", "area_mm2", type=quantity_type("area_mm2", "Inspected area"), help="Inspected area, for the "
                                                                                           "counts.")
@click.option("--preview", is_flag=True, help="Show how the file is understood and stop.")
@click.option("--chart", type=click.Path(), help="Write the chart of readings as a Vega-Lite file.")
@click.option("--out", type=click.Path(), help="Write the readings in µm as CSV.")
@click.option("--listen", metavar="PORT", help="Take readings from a serial port instead of a file.")
@click.option("--pattern", default="{value} {unit}", show_default=True, help="How the gauge writes a line.")
@click.option("--baud", type=int, default=9600, show_default=True, help="Speed of the serial line.")
@click.option("--readings", "count", type=click.IntRange(1), help="Stop listening after so many readings.")
@click.option("--seconds", type=click.FloatRange(0.1), help="Stop listening after this time.")
@answer_options
def command(readings: tuple[str, ...], as_json: bool, preview: bool, chart: str | None, out: str | None, listen: str | None,
            **given: Any) -> int:
    """What the film readings say under the rule that governs, and what they do not prove.

    soundedge thickness readings.csv --min 1000um --max 1800um

    soundedge thickness 1262um 1240um 48.4mil --min 1000um
    """
    if bool(readings) == (listen is not None):
        raise Missing("readings", say("cli.readings_source"))
    read = _from_port(listen, given) if listen else _read(readings, given)
    if out:
        keep_readings(out, read["rows"])
    if preview:
        return _preview(read, as_json)
    spots = need_readings(read)
    limits = {name: given[name] for name in ("min_um", "nominal_um", "max_um") if given[name] is not None}
    if not limits:
        if out:
            tell(f"{len(read['rows'])} readings kept in {out}.")
            return 0
        raise Missing("limits", say("cli.film_limit_missing"))
    request: dict[str, Any] = {
        "spots": spots, "limits": limits, "restriction_level": given["level"], "correction": _correction(given),
        "gauge": {"tol_pct": given["tol_pct"], "tol_um": given["tol"] or 0.0, "known_error": given["known_error"],
                  "repeatability_um": given["repeatability"] or 0.0},
    }
    if given["check"]:
        request["gauge"]["check"] = {"reference_um": given["check"][0], "reading_um": given["check"][1]}
    if given["rules"]:
        request["rules"] = list(given["rules"])
    if given["governing"]:
        request["governing"] = given["governing"]
    if given["guarded"] is not None:
        request["decision"] = {"rule": "guarded", "probability": given["guarded"], "scope": given["scope"]}
    if given["area_mm2"] is not None:
        request["area_m2"] = given["area_mm2"] / 1e6
    answer = ask("thickness", request)
    answer["set_aside"] = read["set_aside"]
    if chart:
        _chart(chart, answer, limits)
    _show(answer, read, as_json)
    return 0 if answer["verdict"] == "conforms" and not read["set_aside"] else 3


def _show(answer: dict[str, Any], read: dict[str, Any], as_json: bool) -> None:
    upper, tolerance = answer["thin_fraction_upper_95"], answer["lower_tolerance_95_95_um"]
    spread = answer["sd_um"]
    rows = [
        ("governing rule", answer["governing"].replace("_", " ")),
        ("readings", f"{answer['n']} in {len(answer['spots'])} spots, {answer['min_um']:.0f} to "
                     f"{answer['max_um']:.0f} µm"),
        ("mean", f"{answer['mean_um']:.0f} ± {answer['u_mean_expanded_95_um']:.0f} µm (95 %)"),
        ("standard deviation", "-" if spread is None else f"{spread:.0f} µm"),
        ("film that 95 % has", f"at least {tolerance:.0f} µm (95 % confidence)" if (tolerance or 0) > 0 else "-"),
        ("may be thinner", "-" if upper is None else f"up to {100 * upper:.1f} % of the film (95 % confidence)"),
        ("measure again", ", ".join(answer["remeasure"]) or "nothing"),
    ]
    more = [("it governs because", answer["governing_because"])]
    more += [(name, f"{marked(one['verdict'])}, guarded: {one['guarded'].replace('_', ' ')}. {one['because']}")
             for name, one in answer["by_rule"].items()]
    lines = [f"! {note['because']} {note['next_move']}" for note in answer["sanity"]]
    lines += [f"! line {line['line']} set aside: {line['because']} ({line['text'][:60]})" for line in read["set_aside"]]
    lines += [f"  {one}" for one in answer["proves"]]
    show(answer, as_json, rows, cautions=answer["cautions"], more=more, lines=lines)


def _read(readings: tuple[str, ...], given: dict[str, Any]) -> dict[str, Any]:
    """A file of readings, or readings as they were typed; one that is a number is no file's name."""
    if (len(readings) == 1 and not readings[0][:1].isdigit()) or Path(readings[0]).exists():
        return readings_file(
            readings[0], unit=given["unit"], decimal=given["decimal"], columns=_columns(given["columns"]),
            per_spot=given["per_spot"], typed=given["typed"])
    films = [quantity(text + (given["unit"] or "") if text[-1:].isdigit() else text, _FILM, what="Film reading")
             for text in readings]
    return readings_typed(films, per_spot=given["per_spot"])


def _preview(read: dict[str, Any], as_json: bool) -> int:
    if as_json:
        tell(json.dumps({key: value for key, value in read.items() if key != "rows"}, ensure_ascii=False, indent=1))
        return 0
    tell(f"{len(read['rows'])} readings, {len(read['spots'])} spots; unit {read['unit'] or 'beside each number'} from "
        f"{read['unit_from']}; decimal '{read['decimal']}', delimiter {read['delimiter']!r}, text {read['encoding']}")
    for meaning, heads in read["columns"].items():
        tell(f"  {meaning}: {', '.join(heads)}")
    if read["unused"]:
        tell(f"  not used: {', '.join(read['unused'])}")
    for row in read["rows"][:5]:
        tell(f"  line {row.line}: spot {row.spot}, {shown(row.value_um)} µm, {row.where}")
    for line in read["set_aside"]:
        tell(f"! line {line['line']} set aside: {line['because']} ({line['text'][:60]})")
    return 0


def _from_port(port: str, given: dict[str, Any]) -> dict[str, Any]:
    from ..services.folder.readings import as_read
    from ..services.gauge import listen

    if given["count"] is None and given["seconds"] is None:
        tell(say("cli.listening"), error=True)
    found = listen(port, pattern=given["pattern"], unit=given["unit"], decimal=given["decimal"] or ".", baud=given["baud"],
                   readings=given["count"], seconds=given["seconds"],
                   heard=lambda row: tell(say("cli.heard", spot=row.spot, film_um=row.value_um), error=True))
    return as_read(found)


def _columns(given: tuple[str, ...]) -> dict[str, Any] | None:
    columns: dict[str, list[str]] = {}
    for text in given:
        meaning, sign, head = text.partition("=")
        if not sign or not head:
            raise Unreadable("column", say("cli.column_form", text=text[:60]))
        columns.setdefault(meaning.strip(), []).append(head.strip())
    return columns or None


def _correction(given: dict[str, Any]) -> dict[str, Any]:
    profile, base = given["profile"], given["base_metal"]
    if profile is not None and base is not None:
        raise Unreadable("correction", say("cli.profile_and_base"))
    if profile is None and base is None:
        return {}
    kind, value = ("profile", profile) if profile is not None else ("base_metal_reading", base)
    return {"kind": kind, "value_um": value, "u_um": given["correction_u"] or 0.0}


def _chart(path: str, answer: dict[str, Any], limits: dict[str, float]) -> None:
    from ..services.folder.readings import keep_chart

    keep_chart(path, answer, limits)
