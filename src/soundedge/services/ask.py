"""One question to one room: the same pair of request and answer behind every door.

>>> ask("conditions", {"air_c": 20, "rh_pct": 60, "steel_c": 19})["verdict"]
'conforms'
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

from ..basis.errors import Unknown
from ..basis.question import Form, schemas
from ..basis.question import answer as answer_of
from ..basis.sentences import say

ROOMS = ("survey", "disposition", "conditions", "hazards", "heat", "buildup", "thickness", "holiday", "instruments")


def ask(room: str, raw: Any, *, base: Path | None = None) -> dict[str, Any]:
    """Ask a room.

    Parameters
    ----------
    room : str
        One of ``ROOMS``.
    raw : dict
        The request as plain JSON values.
    base : Path, optional
        Folder that file names in the request are relative to; the working folder if left out.

    Returns
    -------
    dict
        The answer as plain JSON values.

    Raises
    ------
    BenchError
        The request cannot be used; the message says why and what to do.
    """
    if room == "survey":
        from .survey import survey

        return survey(raw, base=base)
    if room == "disposition" and isinstance(raw, dict) and isinstance(raw.get("procedure"), str):
        from .procedure import procedure_file

        raw = raw | {"procedure": procedure_file(raw["procedure"], base=base)}
    return answer_of(forms(room), raw).model_dump(mode="json")


def room_named(room: str) -> str:
    """The name of a room; an unknown one is refused with the list."""
    if room not in ROOMS:
        raise Unknown("room", say("services.room_unknown", room=str(room)[:40], known=', '.join(ROOMS)))
    return room


def forms(room: str) -> tuple[Form, ...]:
    """The kinds of question a room takes."""
    return import_module(f"..{room_named(room)}.ask", __package__).FORMS


@cache
def schema(room: str) -> dict[str, Any]:
    """Both JSON Schemas of a room: request and answer. Not to be changed: who asks again gets the same."""
    return schemas(forms(room))
