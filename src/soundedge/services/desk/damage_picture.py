"""The outline of a damage on its photo: the flattened window with grid and outline, as JPEG.

It was drawn when the photo was measured and is kept beside it. Where a job came in from a folder it is drawn again.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ...basis.errors import Missing, Refused
from ...basis.sentences import say
from ..evidence.ledger_place import files_of
from . import photos
from .photo_turn import SHOWN, looked_at

LONGEST_PX = 900


def damage_picture(data: Path, job: Any, entry: str, *, person: str = "") -> bytes:
    """The picture of one entry of damage.

    Parameters
    ----------
    job : job.fold.Job
    entry : str
        The id of a ``damage.outlined`` that was measured on a photo.

    Raises
    ------
    Missing
        There is no such entry, or it was typed without a photo.
    Unknown
        The photo is not kept here.
    Refused
        No card is found in the photo, so the outline cannot be drawn on it again.
    """
    event = next((one for one in (*job.replaced, *job.of("damage.outlined")) if one.id == entry), None)
    if event is None or not event.body.photo_sha256 or not event.body.survey:
        raise Missing("entry", say("desk.outline_unknown", entry=entry[:120]))
    kept = event.body.survey.get("picture") or {}
    if isinstance(kept, dict) and isinstance(kept.get("sha256"), str):
        return files_of(data).get(kept["sha256"])
    raw = photos.original(data, event.body.photo_sha256)
    with looked_at(data, person, SHOWN):
        return drawn(raw, event.body.survey)


def drawn(raw: bytes, answer: dict[str, Any], *, longest_px: int = LONGEST_PX) -> bytes:
    """A survey's answer drawn on its photo again, by the card's nominal millimetres; numbers may be decimal strings."""
    import numpy as np

    from ...survey.picture import drawn_jpeg
    from ...survey.seen import see

    seen = see(raw, bars=(1.0, 1.0), name="The photo")
    if seen.plane is None:
        raise Refused("photo", say("desk.card_not_found"))
    closed = answer.get("kind") != "crack"
    rings = [answer.get("outline_mm"), *(answer.get("holes_mm") or [])] if closed else [answer.get("path_mm")]
    points = [np.array(ring, dtype=float) for ring in rings if ring]
    return drawn_jpeg(seen.flat, points, closed=closed, longest_px=longest_px)
