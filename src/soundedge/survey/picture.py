"""What does a reader of the certificate see? The flattened window with its outline and a millimetre grid.

Re-encoded from pixels, so that none of the phone's notes (place, owner, camera) are passed on.
"""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from ..basis.errors import OutOfRange, Refused
from ..basis.remembered import remembered
from ..basis.sentences import say
from .given import SurveyRequest

LONGEST_PX = 1200
BYTES_MAX = 500_000


def _asked(asked: SurveyRequest, photos: dict[str, bytes], *, longest_px: int = LONGEST_PX) -> tuple[Any, ...]:
    return asked.model_dump_json(), longest_px, *((name, sha256(data).digest()) for name, data in sorted(photos.items()))


@remembered(16, key=_asked)
def picture_jpeg(asked: SurveyRequest, photos: dict[str, bytes], *, longest_px: int = LONGEST_PX) -> bytes:
    """The flattened window with outline, holes and a grid of 5 mm, as JPEG of at most 500 kB.

    When the request asks to ``suggest``, the suggested edge is dotted beside the taps' line, for a person to compare.

    Parameters
    ----------
    asked, photos
        As for ``survey``.
    longest_px : int
        200 to 2400, of the longer side.

    Raises
    ------
    Refused
        The photo cannot be measured; the first reason is the message.
    OutOfRange
        ``longest_px`` beyond its fence.
    """
    import numpy as np

    from .ask import _bars, _bytes, survey
    from .measure import CURVE_STEP_MM
    from .outline import curve_through
    from .seen import see

    if not 200 <= longest_px <= 2400:
        raise OutOfRange("longest_px", say("survey.picture_length", longest_px=longest_px))
    answer = survey(asked, photos)
    if answer.refused:
        first = answer.refused[0]
        raise Refused(first.check, say("survey.photo_check_failed", because=first.because, next_move=first.next_move))
    seen = see(_bytes(photos, asked.photo), bars=_bars(asked.card))
    assert seen.plane is not None
    rings = [seen.plane.to_card(np.array(ring, float)) for ring in (asked.outline.outline_px, *asked.outline.holes_px)]
    if asked.outline.joined == "curve" and asked.outline.kind != "crack":
        rings = [np.array(curve_through([tuple(p) for p in ring.tolist()], CURVE_STEP_MM)) for ring in rings]
    dotted = None
    if answer.suggestion is not None and answer.suggestion.outline_px:
        dotted = seen.plane.to_card(np.array(answer.suggestion.outline_px))
    return drawn_jpeg(seen.flat, rings, closed=asked.outline.kind != "crack", longest_px=longest_px, dotted_mm=dotted)


def drawn_jpeg(flat: Any, rings_mm: list[Any], *, closed: bool, longest_px: int, dotted_mm: Any = None) -> bytes:
    """Grid, outlines and a dotted line over a flattened picture, as JPEG bytes."""
    import cv2
    import numpy as np

    rows, columns = flat.colour.shape[:2]
    scale = longest_px / max(rows, columns)
    picture = cv2.resize(flat.colour, (max(1, round(columns * scale)), max(1, round(rows * scale))),
                         interpolation=cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC)

    def at(points: Any) -> Any:
        return np.round(((flat.to_px(points) + 0.5) * scale - 0.5) * 16).astype(np.int32)

    right, bottom = flat.left_mm + columns / flat.px_mm, flat.top_mm - rows / flat.px_mm
    grid = picture.copy()
    for x in np.arange(np.ceil(flat.left_mm / 5) * 5, right, 5):
        ends = at(np.array([[x, flat.top_mm], [x, bottom]]))
        cv2.line(grid, ends[0].tolist(), ends[1].tolist(), (90, 90, 90), 1 + (x % 10 == 0), cv2.LINE_AA, 4)
    for y in np.arange(np.ceil(bottom / 5) * 5, flat.top_mm, 5):
        ends = at(np.array([[flat.left_mm, y], [right, y]]))
        cv2.line(grid, ends[0].tolist(), ends[1].tolist(), (90, 90, 90), 1 + (y % 10 == 0), cv2.LINE_AA, 4)
    picture = cv2.addWeighted(grid, 0.45, picture, 0.55, 0)
    for ring in rings_mm:  # white under black: plain to see on light and dark, in print too
        for colour, thick in (((255, 255, 255), 5), ((0, 0, 0), 2)):
            cv2.polylines(picture, [at(ring)], closed, colour, thick, cv2.LINE_AA, 4)
    for number, point in enumerate(at(dotted_mm) if dotted_mm is not None else []):
        if number % 3 == 0:
            cv2.circle(picture, point.tolist(), 4 * 16, (255, 255, 255), -1, cv2.LINE_AA, 4)
            cv2.circle(picture, point.tolist(), 2 * 16, (0, 0, 0), -1, cv2.LINE_AA, 4)
    for quality in (85, 70, 50, 30):
        good, data = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, quality])
        assert good
        if len(data) <= BYTES_MAX:
            break
    return data.tobytes()
