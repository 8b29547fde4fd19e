"""Photos: kept as they were taken, shown smaller, and measured where they are kept.

The original is kept byte for byte by its digest. What is shown is always re-encoded: upright, at most 2048 px, without
the camera's notes. What is measured is the original.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ...basis.errors import Missing, OutOfRange, Unknown, Unreadable
from ...basis.question import pick, read
from ...basis.sentences import say
from ...store.ledger import NotKept
from ..cache import Cache
from ..evidence.ledger_place import files_of
from .photo_turn import MEASURED, SHOWN, entered, looked_at

BYTES_MAX = 25_000_000
PIXELS_MAX = 50_000_000
FREE_MIN_BYTES = 2_000_000_000  # own estimate: what is left on the disk is kept for entries, which are small
SHOWN_PX = 2048
QUALITY = 82
_TYPES = {"JPEG": "image/jpeg", "PNG": "image/png"}
_BESIDE = ("through", "pit_depth_mm", "film_left_um", "u_film_um", "beside_um", "depth_mm", "u_depth_mm", "smooth",
           "place")
_ASKED = ("id", "at", "damage", "stage", "photo_sha256", "photo", "outline", "card", "x", "y", "kind", *_BESIDE)
_SHOWN = Cache(64)


def keep(data: Path, raw: bytes, *, claimed: str = "") -> dict[str, Any]:
    """Keep a JPEG or PNG.

    Parameters
    ----------
    raw : bytes
        At most 25 MB and 50 million pixels, both asked before a pixel is unpacked.
    claimed : str
        The type the sender named; refused when the bytes say another.

    Returns
    -------
    dict
        ``sha256``, ``width_px``, ``height_px`` (as stored, before it is turned upright), ``bytes``, ``type``.

    Raises
    ------
    NotKept
        Less than 2 GB are free on the disk.
    """
    from ...survey.photo import read_head

    if len(raw) > BYTES_MAX:
        raise OutOfRange("photo", say("desk.photo_too_large", size_mb=len(raw) / 1000000.0, most_mb=BYTES_MAX / 1000000.0))
    head = read_head(raw)
    kind = _TYPES[head.kind]
    if claimed and claimed != kind:
        raise Unreadable("photo", say("desk.photo_other_kind", claimed=claimed, found=kind))
    if head.width * head.height > PIXELS_MAX:
        raise OutOfRange("photo", say("desk.photo_too_many_pixels", width=head.width, height=head.height,
                                        most_million=PIXELS_MAX // 1000000))
    if shutil.disk_usage(data).free < FREE_MIN_BYTES:
        raise NotKept("photo", say("desk.disk_full", free_gb=FREE_MIN_BYTES / 1000000000.0))
    digest = files_of(data).put(raw)
    return {"sha256": digest, "width_px": head.width, "height_px": head.height, "bytes": len(raw), "type": kind}


def original(data: Path, sha256: str) -> bytes:
    """The photo as it was sent; nothing else that the shop keeps by its digest is handed out here."""
    raw = files_of(data).get(sha256)
    if raw[:3] != b"\xff\xd8\xff" and raw[:8] != b"\x89PNG\r\n\x1a\n":
        raise Unknown("photo", say("desk.photo_unknown", digest=sha256[:16]))
    return raw


def display(data: Path, sha256: str, *, person: str = "") -> bytes:
    """A JPEG of at most 2048 px along its longer side, upright, from pixels alone."""
    held = _SHOWN.get((str(data), sha256))
    if held is None:
        raw = original(data, sha256)
        with looked_at(data, person, SHOWN):
            held = _SHOWN.get((str(data), sha256)) or _shown(raw)
            _SHOWN.put((str(data), sha256), held)
    return bytes(held)


def survey(data: Path, sha256: str, raw: Any, *, person: str = "") -> dict[str, Any]:
    """Answer a survey or find-card request about a photo that is kept; the request names no file.

    Parameters
    ----------
    person : str
        Who asks: each has a number of photos that may be looked at, or wait for it, at once.

    Raises
    ------
    Waiting
        More of this person's are being looked at already.
    BenchError
        The request cannot be used. A photo that would mislead is not raised: the answer has ``refused`` and no area.
    """
    from ...survey.ask import WORK

    asked, photos, form = _request(data, sha256, raw)
    with looked_at(data, person, MEASURED):
        answer: dict[str, Any] = WORK[form](asked, photos).model_dump(mode="json")
    return answer


def snap(data: Path, sha256: str, raw: Any, *, person: str = "") -> dict[str, Any]:
    """A suggested edge beside a person's taps: ``suggestion`` of the survey's answer, never put in their place."""
    given = dict(raw) if isinstance(raw, dict) else {}
    return survey(data, sha256, given | {"suggest": True}, person=person)


def measured(data: Path, asked: Any) -> tuple[str, dict[str, Any], dict[str, Any]]:
    """The kind and body of the entry that a measured photo makes, and the survey room's answer."""
    from ...survey.ask import WORK
    from ...survey.damage import damage, taps_of
    from ...survey.picture import picture_jpeg

    if not isinstance(asked, dict):
        raise Unreadable("", say("desk.body_not_object"))
    for key in ("id", "at", "damage", "stage", "photo_sha256", "outline", "card"):
        if key not in asked:
            raise Missing(key, say("desk.key_missing", key=key))
    for key in asked:
        if key not in _ASKED:
            raise Unknown(str(key)[:60], say("desk.key_unknown", key=str(key)[:60], known=', '.join(_ASKED)))
    sha256 = asked["photo_sha256"]
    name = asked.get("photo") or f"{str(sha256)[:16]}"
    x, y = (_mm(asked.get(key, 0.0), key) for key in ("x", "y"))
    taps = {"outline": taps_of(asked["outline"], asked.get("kind")), "card": asked["card"]}
    request, photos, form = _request(data, sha256, taps)
    with entered(data):
        answer: dict[str, Any] = WORK[form](request, photos).model_dump(mode="json")
        body, refused = damage(answer, **taps, photo=name, photo_sha256=sha256, x=x, y=y)
        said = {"id": asked["damage"], "stage": asked["stage"]}
        if refused:
            return "survey.refused", said | {"photo": name, "photo_sha256": sha256, "refused": refused}, answer
        drawing = picture_jpeg(request, photos)
    drawn = files_of(data).put(drawing)
    body["survey"]["picture"] = {"sha256": drawn}
    said |= {key: asked[key] for key in _BESIDE if key in asked}
    return "damage.outlined", said | body, answer


def _request(data: Path, sha256: str, raw: Any) -> tuple[Any, dict[str, bytes], str]:
    from ...survey.ask import FORMS

    if not isinstance(raw, dict):
        raise Unreadable("", say("desk.body_not_object"))
    for key in ("photo", "others"):
        if key in raw:
            raise Unknown(key, say("desk.photo_key_not_here", key=key))
    for key in ("outline", "card"):
        if isinstance(raw.get(key), str):
            raise Unreadable(key, say("desk.key_object", key=key))
    photo: Mapping[str, bytes] = {sha256: original(data, sha256)}
    given = raw | {"photo": sha256}
    form = pick(FORMS, given)
    return read(form.request, given), dict(photo), form.name


def _shown(raw: bytes) -> bytes:
    import cv2

    from ...survey.photo import colour_of

    colour = colour_of(raw)
    scale = SHOWN_PX / max(colour.shape[:2])
    if scale < 1:
        colour = cv2.resize(colour, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    good, small = cv2.imencode(".jpg", colour, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    if not good:
        raise Unreadable("photo", say("desk.photo_not_shown"))
    return bytes(small)


def _mm(value: Any, key: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not abs(value) < 20000:
        raise Unreadable(key, say("desk.not_millimetres", key=key, value=str(value)[:40]))
    return float(value)
