"""Does only the picture go on the page, and is a chart always the same chart?"""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from soundedge.basis.errors import Unreadable
from soundedge.report.charts import chart_svg
from soundedge.report.pictures import LONGEST_PX, fitting_mm, kind_of, settable

from . import looking, sample


def encoded(image, kind, **more):
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def opened(data):
    return Image.open(io.BytesIO(data))


def test_place_owner_and_camera_stay_behind():
    exif = Image.Exif()
    exif[0x013B] = "Ines Marrow"  # artist
    exif[0x010F] = "Some camera"
    exif.get_ifd(0x8825)[2] = (54.0, 30.0, 0.0)  # latitude
    photo = encoded(Image.new("RGB", (60, 40), "gray"), "JPEG", exif=exif, comment=b"private note")
    assert b"Ines Marrow" in photo

    _, ready = settable(photo, "p")

    assert b"Ines Marrow" not in ready and b"private note" not in ready and b"Some camera" not in ready
    assert not dict(opened(ready).getexif())


def test_a_photo_taken_sideways_is_turned_upright():
    image = Image.new("RGB", (60, 40), "white")
    image.paste((0, 0, 0), (0, 0, 30, 40))  # left half black
    exif = Image.Exif()
    exif[0x0112] = 6  # shown turned a quarter clockwise: left becomes top
    _, ready = settable(encoded(image, "JPEG", exif=exif, quality=95), "p")
    shown = np.array(opened(ready).convert("L"))

    assert shown.shape == (60, 40)
    assert shown[:25].mean() < 20 and shown[35:].mean() > 235


def test_a_small_drawing_in_png_stays_as_it_is_to_the_last_point():
    rng = np.random.default_rng(7)
    image = Image.fromarray(rng.integers(0, 256, (50, 70, 3), dtype=np.uint8))

    ending, ready = settable(encoded(image, "PNG"), "p")

    assert ending == "png"
    assert np.array_equal(np.array(opened(ready)), np.array(image))


def test_a_large_photo_comes_down_to_what_a_page_can_show():
    _, ready = settable(encoded(Image.new("RGB", (4000, 3000), "gray"), "JPEG"), "p")

    assert max(opened(ready).size) == LONGEST_PX
    assert opened(ready).size == (1500, 1125)


@pytest.mark.parametrize(
    "mode, colour",
    [("RGBA", (255, 0, 0, 0)), ("LA", (0, 0)), ("P", 0), ("I;16", 900), ("1", 1), ("L", 200), ("CMYK", (0, 0, 0, 0))],
)
def test_every_way_of_storing_colour_can_be_set(mode, colour):
    data = encoded(Image.new(mode, (20, 10), colour), "JPEG" if mode == "CMYK" else "PNG")

    _, ready = settable(data, "p")

    assert opened(ready).mode in ("RGB", "L")
    if mode in ("RGBA", "LA", "CMYK"):
        assert np.array(opened(ready).convert("L")).min() > 250  # what is transparent or without ink is white paper


def test_a_small_file_that_claims_a_huge_picture_is_refused_before_it_is_opened():
    def chunk(kind, body):
        return struct.pack(">L", len(body)) + kind + body + struct.pack(">L", zlib.crc32(kind + body))

    bomb = (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">LLBBBBB", 9000, 9000, 8, 2, 0, 0, 0))
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )

    with pytest.raises(Unreadable, match=r"9000 × 9000 pixels; at most"):
        settable(bomb, "p")


@pytest.mark.parametrize("share", [0.001, 0.1, 0.5, 0.9, 0.99])
def test_a_truncated_photo_is_refused_by_name(share):
    photo = sample.photo()

    with pytest.raises(Unreadable, match="found picture 3"):
        settable(photo[: int(share * len(photo))], "found picture 3")


@pytest.mark.parametrize(
    "data, kind",
    [
        (b"", "unknown"),
        (b"\xff\xd8\xff\xe0", "jpeg"),
        (b"<?xml version='1.0'?>\n<svg/>", "svg"),
        (b"\n <svg/>", "svg"),
        (b"<html><svg/></html>", "unknown"),
        (b"RIFF", "unknown"),
    ],
)
def test_a_picture_is_known_by_its_first_bytes(data, kind):
    assert kind_of(data) == kind


@pytest.mark.parametrize(
    "svg, width",
    [
        (b'<svg viewBox="0 0 200 100"/>', 60.0),
        (b'<svg width="200" height="100"/>', 60.0),
        (b'<svg viewBox="0,0,2000,1000"/>', 100.0),
        (b'<svg viewBox="0 0 100 1000"/>', 5.0),
        (b"<svg/>", 75.0),
        (b'<svg viewBox="0 0 0 0"/>', 75.0),
    ],
)
def test_a_drawing_keeps_its_own_size_unless_it_has_to_shrink(svg, width):
    assert fitting_mm("svg", svg, 100, 50) == pytest.approx(width)


@pytest.mark.parametrize("letter", ["\N{FIRE}", "&#x1F525;", "&#128293;"])
def test_a_letter_the_page_lacks_is_written_out_in_a_drawing(letter):
    _, ready = settable(f'<svg xmlns="x"><text>{letter}&#60;</text></svg>'.encode(), "p")

    assert b"[U+1F525]&#60;" in ready


def clipped(n):
    return {
        "data": {"values": [{"x": k, "y": n * k} for k in range(5)]},
        "mark": {"type": "line", "clip": True},
        "encoding": {
            "x": {"field": "x", "type": "quantitative", "scale": {"domain": [0, 3]}},
            "y": {"field": "y", "type": "quantitative"},
            "color": {
                "value": {
                    "x1": 0,
                    "y1": 0,
                    "x2": 1,
                    "y2": 0,
                    "gradient": "linear",
                    "stops": [{"offset": 0, "color": "#000"}, {"offset": 1, "color": "#999"}],
                }
            },
        },
    }


def test_a_chart_is_the_same_whatever_was_drawn_before_it():
    first = chart_svg(clipped(1))
    for n in range(2, 5):
        chart_svg(clipped(n))

    assert chart_svg(clipped(1)) == first
    assert b"clip" in first and b"url(#i" in first  # the case that counts on from chart to chart is in it


def test_a_chart_is_set_in_the_vendored_letters_only():
    pdf = looking.fonts_of(sample_chart_page())

    assert {name.split("+")[-1] for name, _ in pdf} <= {
        "DejaVuSansCondensed",
        "DejaVuSansCondensed-Bold",
        "DejaVuSerifCondensed",
        "DejaVuSerifCondensed-Bold",
        "DejaVuSansMono",
    }


def sample_chart_page():
    from soundedge.report.certificate import certificate_pdf

    return certificate_pdf(sample.certificate())


@pytest.mark.parametrize(
    "spec",
    [
        {"mark": 3},
        {},
        {"data": {"url": "https://example.org/x.csv"}, "mark": "point"},
        {"data": {"url": "file:///etc/passwd"}, "mark": "point"},
        {"data": {"values": [{}]}, "layer": [{"mark": "image", "encoding": {"url": {"value": "file:///x.png"}}}]},
        {"data": {"values": [{"x": float("nan")}]}, "mark": "point"},
    ],
)
def test_a_chart_that_is_none_or_looks_elsewhere_is_refused(spec):
    with pytest.raises(Unreadable):
        chart_svg(spec)
