"""``soundedge survey PHOTO…``: measure damage from a photo with the card in it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

import click

from ..basis.errors import BenchError, Missing, Refused
from ..basis.sentences import say
from ..services.files import write_whole
from ..services.survey import clicks_for, limits_beside, outline_picture, photos_in, survey
from .flags import answer_options, quantity_type, show, tell

_COLUMNS = ("photo", "verdict", "kind", "area_mm2", "u_area_mm2", "length_mm", "width_mm", "perimeter_mm", "tilt_deg",
            "residual_mm", "px_per_mm", "tags_found", "refused", "because")


@click.command("survey")
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--outline", type=click.Path(),
              help="Taps as JSON. Beside a photo it is found by itself: spot.clicks.json, clicks.json.")
@click.option("--card", type=click.Path(), help="What was measured on the card, as JSON. Beside a photo: card.json.")
@click.option("--limit", type=quantity_type("area_mm2", "The limit"),
              help="Largest bare area of the procedure, as 900mm2 or 1in2.")
@click.option("--guarded", type=click.FloatRange(0.5, 1, min_open=True, max_open=True),
              help="Guarded decision at this probability, as 0.95; the plain value decides if left out.")
@click.option("--lining", type=quantity_type("length_mm", "The lining thickness"), help="Lining thickness, as 1.2mm.")
@click.option("--radius", type=quantity_type("length_mm", "The radius"), help="Radius of a curved part, as 600mm.")
@click.option("--off-centre", type=quantity_type("length_mm", "The distance"), default=0.0,
              help="From the damage to where the card touches a curved part.")
@click.option("--same-place", is_flag=True, help="All photos show one place: hold them against each other and combine them.")
@click.option("--suggest", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the edge the picture shows near the taps as a new clicks file, unconfirmed, to look at.")
@click.option("--picture", type=click.Path(path_type=Path, dir_okay=False),
              help="Write the flattened window with the outline as JPEG; with --suggest both lines.")
@click.option("--find-card", is_flag=True, help="Report pose and scale of the card only.")
@click.option("--csv", "as_csv", is_flag=True, help="One line for every photo, as CSV.")
@answer_options
def command(photos: tuple[Path, ...], outline: str | None, card: str | None, limit: float | None, guarded: float | None,
            lining: float | None, radius: float | None, off_centre: float, same_place: bool, suggest: Path | None,
            picture: Path | None, find_card: bool, as_csv: bool, as_json: bool) -> int:
    """Measure damage from PHOTO (or every photo of a FOLDER) with the target card in it.

    Exit 3 when a photo is refused: its reason and the next move are printed, and no area.
    """
    files = [file for path in photos for file in (photos_in(path) if path.is_dir() else [path])]
    if not files:
        raise Missing("photo", say("cli.photo_missing"))
    if len(files) > 1 and not same_place and (suggest or picture or outline):
        raise click.UsageError("--outline, --suggest and --picture are for one photo at a time; taps belong to one photo.")
    about: dict[str, Any] = {
        "limits": {"bare_area_mm2_max": limit} if limit is not None else {},
        "decision": {"rule": "guarded", "probability": guarded} if guarded is not None else {"rule": "simple"},
        "off_centre_mm": off_centre,
        **({"lining_mm": lining} if lining is not None else {}), **({"radius_mm": radius} if radius is not None else {}),
    }
    requests: list[dict[str, Any] | None]
    if same_place and not find_card:
        together = _request(files[0], outline, card, about)
        together["others"] = [{"photo": str(file), "outline": _clicks(file, outline)} for file in files[1:]]
        requests, files = [together], files[:1]
    else:
        requests = [_find(file, card) if find_card else None for file in files]
    rows, answers, worst = [], [], 0
    for number, (file, request) in enumerate(zip(files, requests), 1):
        if len(files) > 1:
            tell(say("cli.photo_of", number=number, all=len(files), name=file.name), error=True)
        try:
            asked = request or _request(file, outline, card, about)
            answer = survey(asked | ({"suggest": True} if suggest else {}))
        except BenchError as error:
            if len(files) == 1:
                raise
            rows.append({"photo": str(file), "verdict": "not_measured", "refused": error.kind, "because": error.message})
            answers.append({"photo": str(file), **error.as_json()})
            if not as_csv:
                tell(say("cli.of_photo", file=file, why=error.message), error=True)
            worst = max(worst, error.exit_code)
            continue
        rows.append(_row(file, answer))
        worst = max(worst, 3 if answer["refused"] else 0)
        answers.append({"photo": str(file), **answer})
        if not as_csv and not (as_json and len(files) > 1):
            _print(file, answer, as_json, find_card)
        if suggest and not find_card:
            _write_suggestion(suggest, asked, answer)
        if picture and not find_card and not answer["refused"]:
            write_whole(picture, outline_picture(asked | ({"suggest": True} if suggest else {})))
            tell(say("cli.picture_written", file=picture), error=True)
        if answer["refused"] and len(files) == 1 and not as_json and not as_csv:
            first = answer["refused"][0]
            raise Refused(first["check"], say("cli.photo_not_measured", because=first['because'], next_move=first['next_move']))
    if as_csv:
        text = io.StringIO()
        writer = csv.DictWriter(text, _COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        tell(text.getvalue().rstrip("\n"))
    elif as_json and len(files) > 1:
        tell(json.dumps(answers, ensure_ascii=False, indent=1))
    return worst


def _clicks(file: Path, outline: str | None) -> str:
    name = outline or clicks_for(file)
    if name is None:
        raise Missing("outline", say("cli.taps_missing", name=file.name, stem=file.stem))
    return name


def _card(file: Path, card: str | None) -> dict[str, Any]:
    beside = file.with_name("card.json")
    name = card or (str(beside) if beside.is_file() else None)
    return {"card": name} if name else {}


def _request(file: Path, outline: str | None, card: str | None, about: dict[str, Any]) -> dict[str, Any]:
    asked = {"photo": str(file), "outline": _clicks(file, outline), **_card(file, card), **about}
    return asked if asked.get("limits") else asked | limits_beside(file)


def _find(file: Path, card: str | None) -> dict[str, Any]:
    return {"photo": str(file), "find_card": True, **_card(file, card)}


def _number(value: float | None, digits: int, unit: str) -> str:
    return "—" if value is None else f"{value:.{digits}f} {unit}"


def _print(file: Path, answer: dict[str, Any], as_json: bool, find_card: bool) -> None:
    rows = []
    if not find_card and not answer["refused"]:
        if answer["area_mm2"] is not None:
            u = answer["u_area_mm2"]
            rows += [("area", f"{answer['area_mm2']:.1f} ± {2 * u:.1f} mm² (k = 2)"),
                     ("length × width", f"{_number(answer['length_mm'], 1, 'mm')} × {_number(answer['width_mm'], 1, 'mm')}"),
                     ("perimeter", _number(answer["perimeter_mm"], 1, "mm"))]
            top = sorted(answer["budget"], key=lambda row: -row["u_pct"])[:3]
            rows.append(("most of the ±", ", ".join(f"{row['name'].replace('_', ' ')} {row['u_pct']:.2f} %" for row in top)))
        if answer["kind"] == "crack":
            rows.append(("crack length", f"{answer['length_mm']:.1f} ± {2 * answer['u_length_mm']:.1f} mm (k = 2)"))
            width = answer["width_mm"]
            if width is not None or answer["width_below_mm"] is not None:
                rows.append(("crack width", f"{width:.2f} mm" if width is not None
                             else f"less than {answer['width_below_mm']:.2f} mm"))
    if answer["sheet"]:
        rows += [("card", f"{answer['sheet']}, {answer['tags_found']} marks"), ("tilt", _number(answer["tilt_deg"], 0, "°")),
                 ("distance", _number(answer["distance_mm"], 0, "mm")), ("scale", _number(answer["px_per_mm"], 1, "px/mm")),
                 ("off plane", _number(answer["residual_mm"], 3, "mm"))]
    told = [line for reason in (*answer["refused"], *answer["warned"]) for line in (
        f"{'■ refused' if reason['weight'] == 'refuse' else '! note'}: {reason['because']}", f"  → {reason['next_move']}")]
    show(answer, as_json, rows, title=str(file), first=told, cautions=answer["cautions"] if not answer["refused"] else ())


def _row(file: Path, answer: dict[str, Any]) -> dict[str, Any]:
    row = {key: answer.get(key) for key in _COLUMNS if key in answer}
    for key, value in row.items():
        if isinstance(value, float):
            row[key] = f"{value:.6g}"
    # a name that begins like a formula must not become one in a spreadsheet
    row["photo"] = f"'{file}" if str(file).startswith(("=", "+", "-", "@")) else str(file)
    row["refused"] = " ".join(reason["check"] for reason in answer["refused"])
    row["because"] = " ".join(reason["because"] for reason in answer["refused"])
    return row


def _write_suggestion(path: Path, asked: dict[str, Any], answer: dict[str, Any]) -> None:
    found = answer.get("suggestion")
    if not found:
        return
    if not found["offered"]:
        tell(say("cli.no_edge", because=found["because"]), error=True)
        return
    clicks = {"kind": answer["kind"], "outline_px": found["outline_px"], "holes_px": [], "confirmed": False}
    write_whole(path, (json.dumps(clicks) + "\n").encode())
    tell(say("cli.edge", file=path, edge_mm2=found["area_mm2"], taps_mm2=answer["area_mm2"], because=found["because"]),
         error=True)
