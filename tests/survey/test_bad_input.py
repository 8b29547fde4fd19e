"""Files that are no photo: each refused by name, quickly, and without filling the memory."""

import io
import json
import struct
import subprocess
import sys
import zlib

import numpy as np
import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError, OutOfRange, Unreadable
from soundedge.survey.photo import PIXELS_MAX, decode, read_head

from ..tries import tries
from . import render
from .scenes import photo, scene

PLAIN = scene()


def jpeg(width: int, height: int, **options) -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (width, height), (90, 120, 130)).save(out, "JPEG", **options)
    return out.getvalue()


def png(width: int, height: int, *, rows: int | None = None) -> bytes:
    """A PNG of one colour; ``rows`` of them really there."""
    def piece(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(body, zlib.crc32(kind)))

    line = b"\0" + b"\x5a" * (3 * width)
    packer = zlib.compressobj(9)
    body = b"".join(packer.compress(line) for _ in range(height if rows is None else rows)) + packer.flush()
    return (b"\x89PNG\r\n\x1a\n" + piece(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0))
            + piece(b"IDAT", body) + piece(b"IEND", b""))


def claims(data: bytes, width: int, height: int) -> bytes:
    """A JPEG whose head is changed to claim another size."""
    at = data.index(b"\xff\xc0")
    return data[: at + 5] + struct.pack(">HH", height, width) + data[at + 9 :]


def cut(share: float) -> bytes:
    data = photo(PLAIN)[0]
    return data[: int(len(data) * share)]


BAD = {
    "empty": (lambda: b"", "0 bytes"),
    "one byte": (lambda: b"\xff", "neither JPEG nor PNG"),
    "cut in the head": (lambda: photo(PLAIN)[0][:40], "Copy it again"),
    "cut in the middle": (lambda: cut(0.5), "cut off"),
    "cut at the end": (lambda: photo(PLAIN)[0][:-2], "cut off"),
    "a strip": (lambda: jpeg(20_000, 1), "20000 × 1"),
    "a tall strip": (lambda: png(1, 20_000), "1 × 20000"),
    "a thumbnail": (lambda: jpeg(160, 120), "at least 400"),
    "a panorama": (lambda: jpeg(6000, 1500), "panorama"),
    "a picture that unpacks to 240 MB": (lambda: png(8944, 8944), "million are read"),
    "a claim of 65500 × 65500": (lambda: claims(jpeg(640, 480), 65_500, 65_500), "Take it in the ordinary photo mode"),
    "a PNG with less picture than its head says": (lambda: png(3000, 2000, rows=3), "cut off or damaged"),
    "a PNG with more picture than its head says": (lambda: png(500, 500, rows=60_000), "cut off or damaged"),
    "a PNG cut off": (lambda: png(2000, 1500)[:-20], "cut off or damaged"),
    "a drawing": (lambda: b"<svg xmlns='http://www.w3.org/2000/svg'/>", "not a photo"),
    "a page": (lambda: b"  <!DOCTYPE html><html><script>1</script></html>", "not a photo"),
    "a phone's own format": (lambda: b"\0\0\0\x18ftypheic" + b"\0" * 100, "HEIC"),
    "text": (lambda: b"hello" * 100, "neither JPEG nor PNG"),
    "a GIF": (lambda: b"GIF89a" + b"\0" * 100, "neither JPEG nor PNG"),
    "a head of JPEG and then nothing": (lambda: b"\xff\xd8\xff\xe0" + b"\0" * 5000, "Copy it again"),
}


@pytest.mark.parametrize("name", BAD)
def test_it_is_refused_by_name(name):
    """How long it takes at most is printed by ``bench/survey.py``; no test depends on a clock."""
    make, words = BAD[name]
    data = make()

    with pytest.raises((Unreadable, OutOfRange)) as caught:
        decode(data, name="The photo 'spot.jpg'")

    assert words in caught.value.message and "'spot.jpg'" in caught.value.message
    assert caught.value.message.rstrip().endswith(".")


def test_the_small_file_that_unpacks_is_small():
    assert len(png(8944, 8944)) < 300_000 and 3 * 8944 * 8944 > 239_000_000


MEASURE = """
import json, resource, sys
from soundedge.services.survey import survey
import cv2, numpy, scipy.ndimage, shapely, PIL.Image
def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
before = peak()
try:
    answer = survey({"photo": sys.argv[1], "outline": {"outline_px": [[10, 10], [300, 10], [150, 300]], "confirmed": True},
                     "card": {"bar_x_mm": 100.0, "bar_y_mm": 100.0}, "suggest": True})
    said = [r["check"] for r in answer["refused"]]
except Exception as error:
    said = type(error).__name__
print(json.dumps({"mb": peak() - before, "said": said}))
"""


def memory_of(path) -> dict:
    run = subprocess.run([sys.executable, "-c", MEASURE, str(path)], capture_output=True, text=True, check=True)
    return json.loads(run.stdout)


@pytest.mark.release
def test_the_memory_stays_within_three_hundred_megabytes(tmp_path):
    """Peak above the start of a process: the bomb, a lying head, and the largest photo that is read, on its side."""
    from PIL import Image

    (tmp_path / "bomb.png").write_bytes(png(8944, 8944))
    turned = Image.Exif()
    turned[0x0112] = 6
    largest = jpeg(8000, 6400, exif=turned)
    assert 8000 * 6400 < PIXELS_MAX
    (tmp_path / "largest.jpg").write_bytes(largest)
    (tmp_path / "claims.jpg").write_bytes(claims(jpeg(640, 480), 65_500, 65_500))

    bomb, large, lie = (memory_of(tmp_path / name) for name in ("bomb.png", "largest.jpg", "claims.jpg"))

    assert bomb["said"] == lie["said"] == "OutOfRange" and max(bomb["mb"], lie["mb"]) < 50
    assert large["said"] == ["no_card"] and large["mb"] < 300


@tries(120, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(0, 2**31), st.integers(1, 40))
def test_a_damaged_photo_never_ends_in_anything_but_a_refusal_or_a_picture(seed, hits):
    """Bytes changed at random: a picture of the right shape, or one of the family of errors."""
    rng = np.random.default_rng(seed)
    data = bytearray(SMALL)
    for place in rng.integers(0, len(data), hits):
        data[place] = rng.integers(0, 256)
    try:
        found = decode(bytes(data))
    except BenchError as error:
        assert error.message
    else:
        assert found.grey.ndim == 2 and found.colour.shape[:2] == found.grey.shape


SMALL = render.photo_bytes(np.random.default_rng(4).integers(0, 255, (400, 420, 3), dtype=np.uint8), 60)


@given(st.binary(max_size=3000))
def test_no_bytes_end_in_a_traceback(data):
    with pytest.raises(BenchError):
        decode(data)


def test_odd_camera_notes_do_not_lose_a_good_picture():
    from PIL import Image

    notes = Image.Exif()
    notes[0x0112] = 99
    notes[0x8769] = {0xA405: 0, 0xA404: 7.5, 0x9003: "yesterday"}
    head = read_head(jpeg(800, 600, exif=notes))

    assert (head.orientation, head.focal_35mm, head.taken_on) == (1, None, None)
    assert head.zoom == 7.5
    fine = Image.Exif()
    fine[0x0112] = 3
    fine[0x8769] = {0xA405: 26, 0x9003: "2031:03:04 10:00:00"}
    head = read_head(jpeg(800, 600, exif=fine))
    assert (head.orientation, head.focal_35mm, head.taken_on.isoformat()) == (3, 26.0, "2031-03-04")


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_comes_upright(orientation):
    """Outside check: Pillow's own exif_transpose of the same file."""
    from PIL import Image, ImageOps

    rng = np.random.default_rng(8)
    small = rng.integers(0, 255, (5, 7, 3), dtype=np.uint8)
    picture = np.kron(small, np.ones((96, 96, 1), np.uint8))
    notes = Image.Exif()
    notes[0x0112] = orientation
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "PNG", exif=notes)

    mine = decode(out.getvalue()).colour[..., ::-1]

    with Image.open(io.BytesIO(out.getvalue())) as image:
        assert np.array_equal(mine, np.asarray(ImageOps.exif_transpose(image)))


def test_damaged_notes_and_a_tap_without_a_way_back_leave_no_warnings_on_the_screen(recwarn):
    good = photo(PLAIN)[0]
    notes = b"Exif\0\0II*\0\x08\0\0\0" + b"\xff" * 900

    assert read_head(good[:2] + b"\xff\xe1" + struct.pack(">H", len(notes) + 2) + notes + good[2:]).width == 1600

    from soundedge.survey.plane import _undistorted

    far = _undistorted(np.array([[1e3, 1e3], [30.0, 2.0], [0.0, 0.0]]), -0.04)
    assert far.shape == (3, 2) and (far[2] == 0).all()
    assert [str(one.message) for one in recwarn.list] == []
