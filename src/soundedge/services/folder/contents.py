"""What lies in a job folder? The sheet, and every file it names, read into plain values.

    my-job/
      job.toml        the sheet
      film.csv        gauge readings:  spot, where, x_mm, y_mm, reading_um
      heat.csv        heat log:        time_s, reading_c, aimed_at, emissivity_set
      air.csv         air log:         at, air_c, rh_pct, steel_c
      photo.jpg …     with the card in it, and clicks.json, card.json
    shop.toml         beside it, if the job names one: what the shop says once for all its jobs (shop_sheet.py)
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...basis.errors import BenchError, Missing, Refused, Unreadable
from ...basis.sentences import say
from ..evidence.originals import Originals
from ..files import PHOTO_MAX_BYTES, read_bytes, read_text
from ..procedure import procedure_file
from .shop_sheet import ROLES, fill, with_shop
from .tables import read_table

Told = Callable[[str], None]


@dataclass(kw_only=True)
class Folder(Originals):
    """A job folder as read: the sheet with its files' values in place, and the originals."""

    path: Path
    sheet: dict[str, Any]


def read_folder(path: Path | str, *, tell: Told = lambda line: None) -> Folder:
    """Read a job folder.

    Parameters
    ----------
    path : Path
        A folder with a ``job.toml``.
    tell : callable
        Told one line before each longer piece of work.

    Raises
    ------
    BenchError
        Names the file, the entry, the rule and the next move.
    """
    folder = Path(path)
    if not folder.is_dir():
        raise Missing("folder", say("folder.folder_missing", path=path))
    text = read_text(folder / "job.toml", what="The job sheet", field="job.toml")
    try:
        sheet = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unreadable("job.toml", say("folder.sheet_not_toml", why=error)) from None
    except RecursionError:
        raise Unreadable("job.toml", say("folder.sheet_nested_too_deep")) from None
    except ValueError as error:  # a number of thousands of digits
        raise Unreadable("job.toml", say("folder.sheet_unreadable", why=str(error)[:120])) from None
    read = Folder(path=folder, sheet=sheet)
    read.keep("job.toml", text.encode())
    _usual(read)
    _layers(read)
    _procedure(read)
    _air(read)
    _heat(read)
    _film(read)
    _photos(read, tell)
    return read


def _entries(folder: Folder, section: str) -> list[tuple[str, dict[str, Any]]]:
    given = folder.sheet.get(section)
    if not isinstance(given, list):
        return []
    return [(f"{section}[{n}]", entry) for n, entry in enumerate(given, 1) if isinstance(entry, dict)]


def _name(entry: dict[str, Any], key: str, spot: str) -> str | None:
    """The file name under a key, or None; only files inside the folder or beside it, no absolute path."""
    if key not in entry:
        return None
    name = entry[key]
    if not isinstance(name, str) or not name.strip() or len(name) > 200 or "\x00" in name:
        raise Unreadable(f"{spot}.{key}", say("folder.file_name_not_text", spot=spot, key=key))
    if Path(name).is_absolute():
        raise Unreadable(f"{spot}.{key}", say("folder.path_is_absolute", spot=spot, file=name))
    return name


def _usual(folder: Folder) -> None:
    """What this job and its shop say once, put where each entry leaves it out."""
    own = folder.sheet.pop("usual", {})
    if not isinstance(own, dict):
        raise Unreadable("usual", say("folder.usual_not_a_table"))
    team = {role: own[role] for role in ROLES if role in own}
    fill(folder.sheet, own, where="usual", team=team)
    job = folder.sheet.get("job")
    if isinstance(job, dict) and (name := _name(job, "shop", "job")) is not None:
        del job["shop"]
        folder.keep(Path(name).name, with_shop(folder.sheet, name, folder.path, team))


def _layers(folder: Folder) -> None:
    """A layer without a number is the next of its repair: the one after those that had fused before it."""
    entries = [entry for _, entry in _entries(folder, "layer")]
    if all("number" in entry for entry in entries):
        return
    count: dict[Any, int] = {}
    for entry in sorted(entries, key=lambda entry: str(entry.get("at"))):
        repair = str(entry.get("repair"))
        count[repair] = count.get(repair, 0) + 1
        entry.setdefault("number", count[repair])


def _procedure(folder: Folder) -> None:
    job = folder.sheet.get("job")
    if not isinstance(job, dict):
        return  # said by the sheet's own reader
    name = _name(job, "procedure", "job")
    if name is None:
        raise Missing("job.procedure", say("folder.procedure_missing"))
    raw = read_bytes(folder.path / name, what="The procedure", field="job.procedure")
    job["procedure_sha256"] = folder.keep(Path(name).name, raw)
    job["procedure"] = procedure_file(name, base=folder.path)


def _air(folder: Folder) -> None:
    entries = folder.sheet.get("air")
    if not isinstance(entries, list):
        return
    out = []
    for number, entry in enumerate(entries, 1):
        name = _name(entry, "readings", f"air[{number}]") if isinstance(entry, dict) else None
        if name is None:
            out.append(entry)
            continue
        rows = read_table(folder.path / name, what="The air log", field=f"air[{number}]",
                          numbers=("air_c", "rh_pct", "steel_c"), texts=("at",), optional=("by", "instrument"))
        folder.keep(name, read_bytes(folder.path / name, what="The air log"))
        shared = {key: value for key, value in entry.items() if key not in ("readings", "at")}
        out += [shared | {key: str(value) if key in ("by", "instrument", "at") else value for key, value in row.items()}
                for row in rows]
    folder.sheet["air"] = out


def _heat(folder: Folder) -> None:
    for spot, entry in _entries(folder, "heat_log"):
        name = _name(entry, "readings", spot)
        if name is None:
            continue
        entry["readings"] = read_table(
            folder.path / name, what="The heat log", field=spot, numbers=("time_s", "reading_c"), texts=("aimed_at",),
            optional=("emissivity_set",),
        )
        entry["file"] = name
        folder.keep(name, read_bytes(folder.path / name, what="The heat log"))


def _film(folder: Folder) -> None:
    for spot, entry in _entries(folder, "film"):
        name = _name(entry, "readings", spot)
        if name is None:
            continue
        raw = read_bytes(folder.path / name, what="The film readings", field=spot)
        folder.keep(name, raw)
        unit = entry.pop("unit", None)
        columns = entry.pop("columns", None)
        from ..thickness import film_readings

        read = film_readings(raw, what=f"The film readings '{name}'", field=spot, unit=unit, columns=columns)
        del entry["readings"]
        entry["spots"], entry["set_aside"], entry["file"] = read["spots"], read["set_aside"], name


def _photos(folder: Folder, tell: Told) -> None:
    for spot, entry in _entries(folder, "picture"):
        name = _name(entry, "file", spot)
        if name is not None:
            raw = read_bytes(folder.path / name, what="The picture", field=f"{spot}.file", size_max_bytes=PHOTO_MAX_BYTES)
            entry["sha256"] = folder.keep(name, raw)
    refused: list[dict[str, Any]] = []
    kept: list[Any] = []
    damage = folder.sheet.get("damage")
    if not isinstance(damage, list):
        return
    for number, entry in enumerate(damage, 1):
        spot = f"damage[{number}]"
        name = _name(entry, "photo", spot) if isinstance(entry, dict) else None
        if name is None:
            kept.append(entry)
            continue
        tell(say("folder.measuring", name=name))
        raw = read_bytes(folder.path / name, what="The photo", field=f"{spot}.photo", size_max_bytes=PHOTO_MAX_BYTES)
        digest = folder.keep(name, raw)
        try:
            kept.append(_measured(folder, entry, spot, name, digest))
        except Refused as reason:
            refused.append(
                {key: entry[key] for key in ("at", "by", "id", "stage") if key in entry}
                | {"photo": name, "photo_sha256": digest, "refused": _reasons(reason)}
            )
    folder.sheet["damage"] = kept
    if not kept:
        del folder.sheet["damage"]
    if refused:
        folder.sheet["refused"] = refused


def _reasons(refused: Refused) -> list[dict[str, str]]:
    return getattr(refused, "reasons", None) or [{"check": refused.field, "because": refused.message, "next_move": ""}]


def _measured(folder: Folder, entry: dict[str, Any], spot: str, name: str, digest: str) -> dict[str, Any]:
    """The entry with the outline measured from its photo in place of the file names."""
    from ...survey.damage import damage, taps_of
    from ..survey import outline_picture, survey, with_files

    entry = dict(entry)
    asked = {"outline": entry.pop("outline", "clicks.json"), "card": entry.pop("card", "card.json")}
    x, y = _place(entry, "x", spot), _place(entry, "y", spot)
    try:
        taps = with_files(asked, folder.path)
        taps["outline"] = taps_of(taps["outline"], entry.get("kind"))
        request = {"photo": name} | taps
        answer = survey(request, base=folder.path)
        if not answer.get("refused"):
            folder.shown[digest] = outline_picture(request, base=folder.path)
    except Refused:
        raise
    except BenchError as fault:
        fault.field = f"{spot}.{fault.field}".rstrip(".")
        raise
    body, refused = damage(answer, **taps, photo=name, photo_sha256=digest, x=x, y=y)
    if refused:
        raise _with_reasons(refused)
    return entry | body


def _place(entry: dict[str, Any], key: str, spot: str) -> float:
    value = entry.pop(key, 0.0)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 20000:
        raise Unreadable(f"{spot}.{key}", say("folder.not_millimetres", spot=spot, key=key, value=str(value)[:40]))
    return float(value)


def _with_reasons(reasons: list[dict[str, str]]) -> Refused:
    refused = Refused(reasons[0]["check"], say("folder.photo_check_failed", because=reasons[0]['because'],
                                               next_move=reasons[0]['next_move']))
    refused.reasons = reasons  # type: ignore[attr-defined]
    return refused
