"""What is recorded about damage measured on a photo: one mapping, for a job folder and for the browser.

>>> taps_of({"outline_px": [[0, 0], [9, 0], [9, 9]]}, "blister")["kind"]
'blister'
"""

from __future__ import annotations

from typing import Any

from ..basis.errors import Contradiction
from ..basis.sentences import say


def taps_of(outline: Any, kind: Any = None) -> Any:
    """The taps with the kind of the damage that was stated beside them, if any. Invalid taps are left to their reader.

    Raises
    ------
    Contradiction
        The taps state another kind.
    """
    if kind is None or not isinstance(outline, dict):
        return outline
    if outline.get("kind", kind) != kind:
        raise Contradiction("kind", say("survey.taps_of_another_kind", kind=_words(kind), taps=_words(outline["kind"])))
    return outline | {"kind": kind}


def damage(
    answer: dict[str, Any], *, outline: Any, card: Any, photo: str, photo_sha256: str, x: float, y: float
) -> tuple[dict[str, Any], list[dict[str, str]]]:
    """What a measured photo adds to ``damage.outlined``, or why it gives no area.

    Parameters
    ----------
    answer : dict
        The survey room's answer to ``outline`` (from ``taps_of``) and ``card``.
    photo, photo_sha256 : str
        The file's own name, and its digest.
    x, y : float
        Where the damage's centre lies on the part. [mm]

    Returns
    -------
    body, refused
        One of the two is empty.
    """
    refused = answer.get("refused") or []
    if not refused and not answer.get("outline_mm"):
        refused = [{
            "check": "crack_has_no_area",
            "because": f"The {answer['kind']} in '{photo}' was measured as a length; it has no area to decide on.",
            "next_move": "State band_mm in its taps (the width that will be ground out), or outline it after grinding.",
        }]
    if refused:
        return {}, refused
    left, low = answer.get("centroid_mm") or (0.0, 0.0)
    return {
        "kind": answer["kind"], "outline_mm": [[px - left + x, py - low + y] for px, py in answer["outline_mm"]],
        "u_area_mm2": answer["u_area_mm2"], "measured": "photo", "photo": photo, "photo_sha256": photo_sha256,
        # the taps stay in the record: whoever has the photo can measure it again
        "survey": answer | {"asked": {"outline": outline, "card": card}},
    }, []


def _words(kind: Any) -> str:
    return str(kind)[:40].replace("_", " ")
