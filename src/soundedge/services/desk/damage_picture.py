"""What did the outline of a damage look like on its photo? The flattened window with grid and outline, as JPEG.

The record keeps the outline in millimetres of the card's own picture, so the picture can be drawn again at any time.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ...basis.errors import Missing, Refused
from . import photos

LONGEST_PX = 900


def damage_picture(data: Path, job: Any, entry: str, *, longest_px: int = LONGEST_PX) -> bytes:
    """The picture of one entry of damage.

    Parameters
    ----------
    job : job.fold.Job
    entry : str
        The id of a ``damage.outlined`` that was measured on a photo.

    Raises
    ------
    Missing
        There is no such entry, it was typed without a photo, or the photo is not kept here.
    Refused
        The photo shows no card any more that fits the outline.
    """
    event = next((one for one in job.of("damage.outlined") if one.id == entry), None)
    if event is None or not event.body.photo_sha256 or not event.body.survey:
        raise Missing("entry", f"There is no outline on a photo under the entry '{entry[:120]}'.")
    return drawn(photos.original(data, event.body.photo_sha256), event.body.survey, longest_px=longest_px)


def drawn(raw: bytes, answer: dict[str, Any], *, longest_px: int = LONGEST_PX) -> bytes:
    """The answer of a survey drawn on the photo it was measured on."""
    import numpy as np

    from ...survey.picture import drawn_jpeg
    from ...survey.seen import see

    seen = see(raw, bars=(1.0, 1.0), name="The photo")
    if seen.plane is None:
        raise Refused("photo", "The card cannot be found in this photo any more, so the outline cannot be drawn on it.")
    closed = answer.get("kind") != "crack"
    rings = [answer.get("outline_mm"), *(answer.get("holes_mm") or [])] if closed else [answer.get("path_mm")]
    points = [_on_this_card(np.array(ring, float), answer, seen) for ring in rings if ring]
    return drawn_jpeg(seen.flat, points, closed=closed, longest_px=longest_px)


def _on_this_card(ring: Any, answer: dict[str, Any], seen: Any) -> Any:
    """Millimetres of the answer as nominal millimetres of the card: the answer's are those its check bars gave."""
    import numpy as np

    window = answer.get("window_px")
    scale = answer.get("px_per_mm")
    if not window or not scale or not seen.px_per_mm:
        return ring
    return ring * (float(scale) / float(seen.px_per_mm)) if np.isfinite(float(scale)) else ring
