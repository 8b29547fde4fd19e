"""What a page shows of a photo: a re-encoded copy, upright, small, without the camera's notes."""

from __future__ import annotations

from ..basis.errors import Unreadable
from ..basis.sentences import say

SHOWN_PX = 1600
QUALITY = 85


def shown_copy(raw: bytes, name: str) -> bytes:
    """A JPEG of at most 1600 px along its longer side, from pixels alone.

    Raises
    ------
    Unreadable, OutOfRange
        It is no photo that can be read within the limits.
    """
    import cv2

    from ..survey.photo import colour_of

    colour = colour_of(raw, name=f"The picture '{name}'")
    scale = SHOWN_PX / max(colour.shape[:2])
    if scale < 1:
        colour = cv2.resize(colour, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    good, data = cv2.imencode(".jpg", colour, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if not good:
        raise Unreadable("picture", say("services.picture_not_encoded", name=name))
    return bytes(data)
