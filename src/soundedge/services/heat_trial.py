"""The guns a shop has tried: the form of an afternoon read, and each gun's heat kept under its name for later plans.

They lie in ``guns.json`` of the data folder. What a plan took from there is written into its own entry, so no record needs
this file to be read or checked.
"""

from __future__ import annotations

import csv
import json
from datetime import datetime
from io import StringIO
from pathlib import Path
from typing import Any

from ..basis.errors import Contradiction, Missing, Unknown, Unreadable
from ..basis.sentences import say
from ..heat.ask_trial import COLUMNS
from .ask import ask
from .files import read_text, write_whole

FILE = "guns.json"
SETTING = {"power_w": "power", "air_c": "air", "outlet_mm": "outlet", "distance_mm": "distance"}


def trial(gun: dict[str, Any], *, ambient_c: float = 20.0, form: Path | None = None) -> dict[str, Any]:
    """The plan of the afternoon, or with its typed form what it gave.

    Raises
    ------
    Missing, Unreadable
        The form lacks a column, or a cell is no number.
    """
    plates = [] if form is None else read_form(read_text(form, what="the trial's form", field="form"))
    return ask("heat", {"trial": {"gun": gun, "ambient_c": ambient_c, "plates": plates}})


def read_form(text: str) -> list[dict[str, Any]]:
    """The plates of a typed form; a line whose reading is empty was not read and is left out."""
    rows = csv.DictReader(StringIO(text))
    for column in COLUMNS:
        if column not in (rows.fieldnames or ()):
            raise Missing("form", say("heat.trial_columns", column=column, known=", ".join(COLUMNS)))
    plates: dict[str, dict[str, Any]] = {}
    for row in rows:
        if not (row["reading_c"] or "").strip():
            continue
        plate = plates.setdefault((row["plate"] or "").strip(), {
            "material": (row["material"] or "").strip(), "plate_mm": _number(row, "plate_mm", rows.line_num),
            "side_mm": _number(row, "side_mm", rows.line_num), "readings": []})
        plate["readings"].append({name: _number(row, name, rows.line_num) for name in ("time_s", "reading_c")})
    return list(plates.values())


def _number(row: dict[str, Any], column: str, line: int) -> float:
    given = (row[column] or "").strip()
    try:
        return float(given.replace(",", ".").replace("\u2212", "-"))
    except ValueError:
        raise Unreadable("form", say("heat.trial_cell", line=line, column=column, given=given[:40])) from None


def keep(data: Path, name: str, gun: dict[str, Any], answer: dict[str, Any], *, now: datetime) -> None:
    """Keep a gun's trial for the shop; a later trial of the same name takes its place."""
    held = guns(data)
    held[name] = {key: gun[key] for key in SETTING if key in gun} | {
        "calibration_factor": round(answer["calibration_factor"], 4), "calibration_u": round(answer["calibration_u"], 4),
        "plates": len(answer["plates"]), "at": now.isoformat()}
    data.mkdir(parents=True, exist_ok=True)
    write_whole(data / FILE, (json.dumps(held, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode())


def guns(data: Path) -> dict[str, dict[str, Any]]:
    """The guns of the shop by name; none where none was tried."""
    if not (data / FILE).is_file():
        return {}
    try:
        held = json.loads(read_text(data / FILE, what="the shop's guns"))
    except json.JSONDecodeError:
        held = None
    if not isinstance(held, dict):
        raise Unreadable(FILE, say("heat.guns_unreadable", file=FILE))
    return held


def as_tried(data: Path | None, gun: dict[str, Any]) -> dict[str, Any]:
    """A gun with what its trial gave, by its name; as it is when it names none, or already says its factor.

    Raises
    ------
    Unknown
        No gun of that name was tried here.
    Contradiction
        It was tried at another setting: a factor holds for its own setting only.
    """
    name = gun.get("name")
    if data is None or name is None or gun.get("calibration_factor") is not None:
        return gun
    held = guns(data)
    if name not in held:
        raise Unknown("gun.name", say("heat.gun_unknown", name=name, known=", ".join(sorted(held)) or "-"))
    for key, what in SETTING.items():
        if key in held[name] and key in gun and abs(held[name][key] - gun[key]) > 0.02 * abs(held[name][key]):
            raise Contradiction(f"gun.{key}", say("heat.gun_set_otherwise", name=name, what=what, tried=held[name][key],
                                                  given=gun[key]))
    return gun | {key: held[name][key] for key in ("calibration_factor", "calibration_u")}
