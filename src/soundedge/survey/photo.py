"""Is this really a photo, and which way up is it?

Only JPEG and PNG are read. The head is read before a single pixel is unpacked, so a small file that would
unpack to hundreds of megabytes is refused while it is still small. A JPEG without its end mark, or a PNG whose
pieces do not match their checksums, is refused: a decoder would fill the missing part with grey.

>>> decode(b"")
Traceback (most recent call last):
    ...
soundedge.basis.errors.Unreadable: The photo is empty: it holds 0 bytes. Copy it again from the phone.
"""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from ..basis.errors import OutOfRange, Unreadable
from ..basis.sentences import say

if TYPE_CHECKING:
    import numpy as np

PIXELS_MAX = 52_000_000  # 52 MB of grey, twice that while it is turned upright
WHOLE_COLOUR_MAX = 26_000_000  # with more pixels colour is unpacked at half size; the marks are measured in grey
PROGRESSIVE_PIXELS_MAX = 24_000_000  # a progressive file is held twice while it is unpacked
SIDE_MIN_PX = 400
SIDE_MAX_PX = 12_000
RATIO_MAX = 2.5  # longer ones are panoramas: stitched, not one view


@dataclass(frozen=True)
class Head:
    """What the first bytes say: kind, stored size in pixels, orientation mark 1 to 8, and notes of the camera."""

    kind: str
    width: int
    height: int
    orientation: int = 1
    focal_35mm: float | None = None
    zoom: float | None = None
    taken_on: date | None = None


@dataclass(frozen=True)
class Photo:
    """An upright photo. ``grey``: uint8, (height, width). ``colour``: (…, 3), blue green red, ``shrink`` times smaller;
    empty where only grey was asked for.

    ``focal_px`` is the focal length in pixels as far as the camera said it, else None.
    """

    colour: np.ndarray
    grey: np.ndarray
    head: Head
    shrink: int = 1

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the upright photo."""
        return self.grey.shape[1], self.grey.shape[0]

    @property
    def focal_px(self) -> float | None:
        """From the 35 mm equivalent: f · diagonal / 43.27 mm (36 × 24 mm frame)."""
        if self.head.focal_35mm is None:
            return None
        width, height = self.size_px
        return float(self.head.focal_35mm * (width**2 + height**2) ** 0.5 / (36**2 + 24**2) ** 0.5)


def decode(data: bytes, *, name: str = "The photo", colour: bool = True) -> Photo:
    """The upright pixels of a JPEG or PNG; ``colour`` False leaves its colour out, which needs less memory and time.

    Raises
    ------
    Unreadable
        Empty, not a JPEG or PNG, cut off, or damaged.
    OutOfRange
        Too many or too few pixels, or a strip.
    """
    import cv2
    import numpy as np

    head = _whole(data, name)
    none = np.empty((0, 0, 3), np.uint8)
    if not _large(head):
        picture = _colour(data, head, name)
        return Photo(picture if colour else none, cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), head)
    picture = _colour(data, head, name) if colour else none
    grey = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    if grey is None or grey.shape != (head.height, head.width):
        raise Unreadable("photo", say("survey.photo_not_unpacked", name=name, kind=head.kind))
    return Photo(picture, _upright(grey, head.orientation), head, shrink=2)


def colour_of(data: bytes, *, name: str = "The photo") -> np.ndarray:
    """The colour of ``decode`` alone."""
    return _colour(data, _whole(data, name), name)


def _large(head: Head) -> bool:
    return head.width * head.height > WHOLE_COLOUR_MAX


def _colour(data: bytes, head: Head, name: str) -> np.ndarray:
    import cv2
    import numpy as np

    way = cv2.IMREAD_REDUCED_COLOR_2 if _large(head) else cv2.IMREAD_COLOR
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), way | cv2.IMREAD_IGNORE_ORIENTATION)
    if picture is None or (not _large(head) and picture.shape[:2] != (head.height, head.width)):
        raise Unreadable("photo", say("survey.photo_not_unpacked", name=name, kind=head.kind))
    return _upright(picture, head.orientation)


def read_head(data: bytes, *, name: str = "The photo") -> Head:
    """Kind, size and camera notes without unpacking; the same refusals as ``decode``."""
    if not data:
        raise Unreadable("photo", say("survey.photo_empty", name=name))
    kind = _kind(data, name)
    from PIL import Image

    try:
        # the default limit of the reader would raise a warning, not say what to do; the fence is ours, below.
        # For damaged notes it would print a line that helps no technician: they are simply left out.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=[kind]) as image:
                width, height = image.size
                notes = _camera_notes(image)
    except Image.DecompressionBombError:
        raise OutOfRange("photo", say("survey.photo_bomb", name=name, most=PIXELS_MAX)) from None
    except Exception:  # a reader may raise almost anything on broken bytes
        raise Unreadable("photo", say("survey.photo_head_unreadable", name=name, kind=kind)) from None
    _fence(width, height, name)
    return Head(kind, width, height, **notes)


def _fence(width: int, height: int, name: str) -> None:
    size: dict[str, Any] = {"name": name, "width": width, "height": height}
    if width * height > PIXELS_MAX or max(width, height) > SIDE_MAX_PX * 2:
        raise OutOfRange("photo", say("survey.photo_too_large", **size, most_million=PIXELS_MAX // 1000000))
    if min(width, height) < SIDE_MIN_PX:
        raise OutOfRange("photo", say("survey.photo_too_small", **size, least_px=SIDE_MIN_PX))
    if max(width, height) > RATIO_MAX * min(width, height) or max(width, height) > SIDE_MAX_PX:
        raise OutOfRange("photo", say("survey.photo_too_long", **size, most=RATIO_MAX))


def _kind(data: bytes, name: str) -> str:
    if data[:3] == b"\xff\xd8\xff":
        return "JPEG"
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return "PNG"
    start = data[:600].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if data[4:8] == b"ftyp":
        raise Unreadable("photo", say("survey.photo_in_phone_format", name=name))
    if start.startswith((b"<svg", b"<?xml", b"<!doctype", b"<html", b"<script")):
        raise Unreadable("photo", say("survey.not_a_photo", name=name))
    raise Unreadable("photo", say("survey.photo_format_unknown", name=name))


def _camera_notes(image: Any) -> dict[str, Any]:
    """Orientation, focal length, zoom and date; whatever is odd is left out."""
    notes: dict[str, Any] = {}
    try:
        exif = image.getexif()
        fine = exif.get_ifd(0x8769)
    except Exception:  # damaged notes must not lose a good picture
        return notes
    orientation = exif.get(0x0112)
    if isinstance(orientation, int) and 1 <= orientation <= 8:
        notes["orientation"] = orientation
    for key, tag, low, high in (("focal_35mm", 0xA405, 8, 400), ("zoom", 0xA404, 1, 100)):
        try:
            value = float(fine[tag])
        except (KeyError, TypeError, ValueError, ZeroDivisionError):
            continue
        if low <= value <= high:
            notes[key] = value
    try:
        notes["taken_on"] = datetime.strptime(str(fine[0x9003])[:10], "%Y:%m:%d").date()
    except (KeyError, ValueError):
        pass
    return notes


def _upright(pixels: np.ndarray, orientation: int) -> np.ndarray:
    """Turn and mirror as the orientation mark says (EXIF 2.3, tag 0x0112)."""
    import cv2

    turns = {3: cv2.ROTATE_180, 4: cv2.ROTATE_180, 5: cv2.ROTATE_90_CLOCKWISE, 6: cv2.ROTATE_90_CLOCKWISE,
             7: cv2.ROTATE_90_COUNTERCLOCKWISE, 8: cv2.ROTATE_90_COUNTERCLOCKWISE}
    if orientation in turns:
        pixels = cv2.rotate(pixels, turns[orientation])
    if orientation in (2, 4, 5, 7):
        pixels = cv2.flip(pixels, 1)
    return pixels


def _whole(data: bytes, name: str) -> Head:
    """The head of a file that is all there."""
    head = read_head(data, name=name)
    (_whole_jpeg if head.kind == "JPEG" else _whole_png)(data, head, name)
    return head


def _whole_jpeg(data: bytes, head: Head, name: str) -> None:
    """Walk the segments to the first scan; after it the end mark FF D9 must come (ITU-T T.81, annex B)."""
    at, progressive = 2, False
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            break
        mark = data[at + 1]
        if mark == 0xFF:  # fill byte
            at += 1
            continue
        length = struct.unpack(">H", data[at + 2 : at + 4])[0]
        progressive |= mark == 0xC2
        at += 2 + length
        if mark == 0xDA:
            if progressive and head.width * head.height > PROGRESSIVE_PIXELS_MAX:
                raise OutOfRange("photo", say("survey.progressive_jpeg_too_large", name=name, width=head.width,
                                              height=head.height, most_million=PROGRESSIVE_PIXELS_MAX // 1000000))
            if data.find(b"\xff\xd9", at) >= 0:
                return
            raise Unreadable("photo", say("survey.jpeg_cut_off", name=name, n=len(data)))
    raise Unreadable("photo", say("survey.jpeg_without_picture", name=name))


def _png_bytes(data: bytes, head: Head) -> int:
    """Unpacked bytes of a whole picture: each row packed to full bytes, one more for its filter (PNG, 3rd ed., 7.2)."""
    depth, colour, interlaced = data[24], data[25], data[28]
    channels = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}.get(colour, 1)
    if interlaced:
        return head.height * head.width * channels * depth // 8
    return head.height * (-(-head.width * channels * depth // 8) + 1)


def _whole_png(data: bytes, head: Head, name: str) -> None:
    """Every piece matches its checksum and the picture unpacks to the size the head says."""
    def damaged(why: str) -> Unreadable:
        return Unreadable("photo", say("survey.photo_damaged", name=name, why=why))

    at, unpack, room, done = 8, zlib.decompressobj(), head.height * (head.width * 8 + 1) + 1024, 0
    while at + 12 <= len(data):
        length = struct.unpack(">I", data[at : at + 4])[0]
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        if len(body) < length or len(data) < at + 12 + length:
            break
        if struct.unpack(">I", data[at + 8 + length : at + 12 + length])[0] != zlib.crc32(body, zlib.crc32(kind)):
            raise damaged(say("survey.png_checksum"))
        if kind == b"IDAT":
            try:
                rest = body
                while rest:
                    done += len(unpack.decompress(rest, 1 << 20))
                    rest = unpack.unconsumed_tail
                    if done > room:
                        raise damaged(say("survey.png_longer_than_head"))
            except zlib.error:
                raise damaged(say("survey.png_not_unpacked")) from None
        if kind == b"IEND":
            if not unpack.eof or done < _png_bytes(data, head):
                raise damaged(say("survey.png_cut_off"))
            return
        at += 12 + length
    raise damaged(say("survey.png_without_end"))
