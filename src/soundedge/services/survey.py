"""How does a survey get its photo? Reads the files a request names, then asks the pure room.

A request may carry outline and card as objects or as names of JSON files. Names are relative to ``base``; only
regular files are read, none larger than its fence.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..basis import strict_json
from ..basis.errors import Missing, Unreadable
from ..basis.question import pick, read
from ..basis.sentences import say
from .files import PHOTO_MAX_BYTES, read_bytes, read_text

JSON_FILES = ("outline", "card")


def survey(raw: Any, *, base: Path | None = None) -> dict[str, Any]:
    """Answer a survey or find-card request as plain JSON values.

    Parameters
    ----------
    raw : dict
        As in ``survey/given.py``; ``photo`` a file name, ``outline`` and ``card`` objects or file names.
    base : Path, optional
        Folder that file names are relative to; the working folder if left out.

    Raises
    ------
    BenchError
        The request or a file cannot be used. A photo that would mislead is *not* raised: the answer then has
        ``refused`` and no area.
    """
    asked, photos, form = gather(raw, base=base)
    from ..survey.ask import WORK

    return WORK[form](asked, photos).model_dump(mode="json")


def gather(raw: Any, *, base: Path | None = None) -> tuple[Any, dict[str, bytes], str]:
    """The request read strictly, the bytes of every photo it names, and the name of its form."""
    from ..survey.ask import FORMS

    form = pick(FORMS, raw)
    asked = read(form.request, with_files(raw, base))
    names = [asked.photo, *(other.photo for other in getattr(asked, "others", []) if other.photo)]
    return asked, {name: photo_bytes(name, base=base) for name in dict.fromkeys(names)}, form.name


def photo_bytes(name: str, *, base: Path | None = None) -> bytes:
    """One photo as it is on disk."""
    return read_bytes(_path(name, base), what="The photo", field="photo", size_max_bytes=PHOTO_MAX_BYTES)


def outline_picture(raw: Any, *, base: Path | None = None, longest_px: int = 1200) -> bytes:
    """The flattened window with outline and millimetre grid as JPEG, for a page; Refused when nothing was measured."""
    asked, photos, _ = gather(raw, base=base)
    from ..survey.picture import picture_jpeg

    return picture_jpeg(asked, photos, longest_px=longest_px)


def card_file(path: Path, *, sheet: str = "small", serial: str = "") -> None:
    """Write a target card as SVG or PDF, by the ending of ``path``."""
    from .files import write_whole

    ending = path.suffix.lower()
    if ending not in (".svg", ".pdf"):
        raise Unreadable("out", say("services.out_neither_pdf_nor_svg", file=path.name))
    write_whole(path, target_svg(sheet, serial).encode("utf-8") if ending == ".svg" else target_pdf(sheet, serial))


def target_svg(sheet: str = "small", serial: str = "") -> str:
    """The drawing of a target card, A4 in millimetres."""
    from ..survey.drawing import card_svg

    return card_svg(sheet, serial=serial)


def target_pdf(sheet: str = "small", serial: str = "") -> bytes:
    """A target card as a page that prints at 100 %."""
    from ..report.card import card_pdf

    return card_pdf(target_svg(sheet, serial), title=f"Target card, {sheet}")


def with_files(raw: dict[str, Any], base: Path | None = None) -> dict[str, Any]:
    """File names among outline, card and the others replaced by what the files hold."""
    out = dict(raw)
    for key in JSON_FILES:
        if isinstance(out.get(key), str):
            out[key] = _json(out[key], key, base)
    if isinstance(out.get("others"), list):
        out["others"] = [
            other | {"outline": _json(other["outline"], "outline", base)}
            if isinstance(other, dict) and isinstance(other.get("outline"), str) else other
            for other in out["others"]
        ]
    return out


def _json(name: str, field: str, base: Path | None) -> Any:
    return strict_json.loads(read_text(_path(name, base), what=f"The {field} file", field=field), what=f"The {field} file")


def _path(name: str, base: Path | None) -> Path:
    return Path(name) if base is None else Path(base) / name


def card_self_test() -> dict[str, float]:
    """Worst corner error of every card, pixels; raises when the detector does not fit the cards."""
    from ..survey.selftest import self_test

    return self_test()


def photos_in(folder: Path) -> list[Path]:
    """The JPEG and PNG files of a folder by name; folders in it are not entered.

    Raises Missing when there is no such folder or no photo in it.
    """
    try:
        inside = sorted(path for path in folder.iterdir() if path.suffix.lower() in (".jpg", ".jpeg", ".png"))
    except OSError as error:
        raise Missing("photo", say("services.folder_unreadable", folder=folder, why=error.strerror)) from None
    if not inside:
        raise Missing("photo", say("services.photo_missing", folder=folder))
    return inside


def clicks_for(photo: Path) -> str | None:
    """The taps beside a photo: ``spot.clicks.json`` for ``spot.jpg``; ``clicks.json`` only where the photo is alone.

    Taps belong to one photo. A folder's ``clicks.json`` beside several photos is nobody's.
    """
    own = photo.with_suffix(".clicks.json")
    if own.is_file():
        return str(own)
    shared = photo.with_name("clicks.json")
    if shared.is_file() and len(photos_in(photo.parent)) == 1:
        return str(shared)
    return None


def limits_beside(photo: Path) -> dict[str, Any]:
    """Limit and decision rule of the procedure that the job sheet beside a photo names; empty when there is none.

    A sheet or procedure that cannot be read is left to ``soundedge job run`` to complain of.
    """
    from ..basis.errors import BenchError
    from .procedure import procedure_named, procedure_of

    sheet = photo.with_name("job.toml")
    if not sheet.is_file():
        return {}
    try:
        procedure = procedure_of(procedure_named(sheet.parent), base=sheet.parent)
    except (BenchError, KeyError, TypeError, ValueError):
        return {}
    limit = procedure.value("bare_area_mm2_max")
    if limit is None:
        return {}
    rule = {"rule": procedure.decision.rule, "probability": procedure.decision.probability}
    return {"limits": {"bare_area_mm2_max": limit}, "decision": rule}
