"""Which picture may go on the page, and in what form?

Photos are decoded within a fence, turned upright, stripped of everything that is not the picture (place, owner,
camera) and brought to the size a page can show. Drawings may not reach outside themselves. The originals stay
in the job, known by their digests.

>>> kind_of(b"<svg xmlns='http://www.w3.org/2000/svg'/>")
'svg'
"""

from __future__ import annotations

import io
import re

from ..basis.errors import Unreadable
from ..basis.sentences import say
from .fonts import drawable

LONGEST_PX = 1500  # 170 mm at 220 dots per inch
PIXELS_MAX = 60_000_000
SVG_MAX = 8_000_000

_OUTSIDE = re.compile(
    rb"<!DOCTYPE|<!ENTITY|<script|<foreignObject|@import|(?:href|src)\s*=\s*[\"']\s*(?!#|data:image/(?:png|jpeg);)"
    rb"|url\(\s*[\"']?\s*(?!#)[^)\s]", re.IGNORECASE
)


def kind_of(data: bytes) -> str:
    """``jpeg``, ``png``, ``svg`` or ``unknown``, by the first bytes."""
    if data[:3] == b"\xff\xd8\xff":
        return "jpeg"
    if data[:8] == b"\x89PNG\r\n\x1a\n":
        return "png"
    head = data[:400].lstrip(b"\xef\xbb\xbf \t\r\n")
    if head.startswith(b"<svg") or (head.startswith(b"<?xml") and b"<svg" in data[:2000]):
        return "svg"
    return "unknown"


def settable(data: bytes, name: str) -> tuple[str, bytes]:
    """The picture as it goes on the page: file ending and bytes.

    Parameters
    ----------
    data : bytes
        JPEG, PNG or SVG.
    name : str
        What the picture is called in a refusal.

    Raises
    ------
    Unreadable
        Not one of the three kinds, broken, beyond the fence, or a drawing that refers to something outside.
    """
    kind = kind_of(data)
    if kind == "svg":
        return "svg", _drawing(data, name)
    if kind == "unknown":
        raise Unreadable(name, say("report.picture_format_unknown", file=name))
    return _photo(data, kind, name)


def fitting_mm(kind: str, data: bytes, room_mm: float, tall_mm: float) -> float:
    """Width in mm at which the picture fits a room of this width and height.

    A photo fills the room; a drawing or chart keeps its own size (one of its units is 0.3 mm, so that letters
    of 12 units are read at arm's length) unless it has to shrink.
    """
    if kind == "svg":
        width, height = _svg_size(data)
        return min(room_mm, width * 0.3, tall_mm * width / height)
    from PIL import Image

    with Image.open(io.BytesIO(data)) as image:
        width, height = image.size
    return min(room_mm, tall_mm * width / height)


def readable_mm(kind: str, data: bytes) -> float:
    """The least width in mm at which the letters of a drawing (12 units) can be read: 0.2 mm a unit. 0 for a photo."""
    return 0.2 * _svg_size(data)[0] if kind == "svg" else 0.0


def _svg_size(data: bytes) -> tuple[float, float]:
    """Width and height of a drawing in its own units: the viewBox, else width and height, else 3 : 2."""
    head = data[: data.find(b">", data.find(b"<svg")) + 1].decode("utf-8", "replace")
    box = re.search(r"viewBox\s*=\s*[\"']\s*([-\d.eE+]+)[\s,]+([-\d.eE+]+)[\s,]+([\d.eE+]+)[\s,]+([\d.eE+]+)", head)
    found = [box[3], box[4]] if box else [
        hit[1] for name in ("width", "height") if (hit := re.search(rf"\b{name}\s*=\s*[\"']\s*([\d.]+)", head))
    ]
    try:
        width, height = (float(number) for number in found)
    except ValueError:
        return 600.0, 400.0
    return (width, height) if 1e-3 < width < 1e6 and 1e-3 < height < 1e6 else (600.0, 400.0)


def _photo(data: bytes, kind: str, name: str) -> tuple[str, bytes]:
    from PIL import Image, ImageOps

    try:
        with Image.open(io.BytesIO(data), formats=[kind.upper()]) as image:
            width, height = image.size
            if width * height > PIXELS_MAX:
                raise Unreadable(name, say("report.picture_too_large", file=name, width=width, height=height, most=PIXELS_MAX))
            if kind == "jpeg":
                image.draft("RGB", (LONGEST_PX, LONGEST_PX))
            upright = ImageOps.exif_transpose(image)
            if upright.mode in ("RGBA", "LA", "PA") or "transparency" in upright.info:
                ground = Image.new("RGB", upright.size, "white")
                rgba = upright.convert("RGBA")
                ground.paste(rgba, mask=rgba.getchannel("A"))
                upright = ground
            plain = upright if upright.mode in ("RGB", "L") else upright.convert("RGB")
            if max(plain.size) > LONGEST_PX:
                plain.thumbnail((LONGEST_PX, LONGEST_PX), Image.Resampling.LANCZOS)
            out = Image.new(plain.mode, plain.size)
            out.paste(plain)  # leaves every side note of the file behind
            target = io.BytesIO()
            if kind == "png":
                out.save(target, "PNG", compress_level=6)
            else:
                out.save(target, "JPEG", quality=85, subsampling=0)
            return ("png" if kind == "png" else "jpg"), target.getvalue()
    except Unreadable:
        raise
    except Exception:  # a decoder may raise almost anything on broken bytes
        raise Unreadable(name, say("report.picture_broken", file=name, kind=kind.upper())) from None


def _drawing(data: bytes, name: str) -> bytes:
    import xml.parsers.expat

    if len(data) > SVG_MAX:
        raise Unreadable(name, say("report.drawing_too_large", file=name, n=len(data), most=SVG_MAX))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise Unreadable(name, say("report.svg_not_utf8", file=name)) from None
    # Letters the page cannot draw are written out, whether they stand there or as a number.
    text = re.sub(r"&#(x[0-9a-fA-F]{1,6}|[0-9]{1,7});", _letter, text)
    text = re.sub(r"[^\x00-\x7f]+", lambda some: drawable(some[0]), text)
    ready = text.encode()
    if _OUTSIDE.search(ready):
        raise Unreadable(name, say("report.svg_not_whole", file=name))
    parser = xml.parsers.expat.ParserCreate()
    try:
        parser.Parse(ready, True)
    except xml.parsers.expat.ExpatError:
        raise Unreadable(name, say("report.svg_not_well_formed", file=name)) from None
    return ready


def _letter(reference: re.Match[str]) -> str:
    number = int(reference[1][1:], 16) if reference[1][0] == "x" else int(reference[1])
    if number > 0x10FFFF:
        return "[U+?]"
    return drawable(chr(number)) if number > 127 else reference[0]
