"""Files that mean harm, sent as photos: refused in a sentence before a pixel is unpacked, or kept as they are and never shown.

What may be sent: JPEG or PNG, at most 25 MB and 50 million pixels, both sides at least 400 px; the type the sender names is the
type the bytes have. Nothing else is kept.
"""

import hashlib
import io
import struct
import time
import zlib

import pytest

from .installation import now
from .pictures import jpeg, png


def chunk(kind, body):
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png_bomb(width, height):
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 2_000_000, 9)) + chunk(b"IEND", b"")
    )


def jpeg_of(width, height):
    """The head of a picture says another size than its pixels have."""
    raw = bytearray(jpeg())
    at = raw.index(b"\xff\xc0") + 5
    raw[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(raw)


SVG = b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!doctype html><script>alert(1)</script>"
REFUSED = {
    "nothing": b"",
    "one byte": b"\xff",
    "the beginning of a JPEG": jpeg()[:20],
    "the beginning of a PNG": png()[:20],
    "zeros": b"\0" * 100_000,
    "HTML": HTML,
    "SVG": SVG,
    "SVG after a BOM": b"\xef\xbb\xbf" + SVG,
    "GIF": b"GIF89a" + struct.pack("<HH", 500, 500) + b"\0" * 400,
    "GIF and script": b"GIF89a/*" + b"\0" * 20 + b"*/=1;alert(1)",
    "BMP": b"BM" + b"\0" * 2000,
    "TIFF": b"II*\0" + b"\0" * 2000,
    "WebP": b"RIFF\x20\0\0\0WEBPVP8 " + b"\0" * 2000,
    "PDF": b"%PDF-1.7\n1 0 obj << /OpenAction << /S /JavaScript >> >>",
    "ZIP": b"PK\x03\x04" + b"\0" * 2000,
    "a program": b"\x7fELF" + b"\0" * 2000,
    "PostScript": b"%!PS-Adobe-3.0\n(%pipe%id) (r) file",
    "HTML before a JPEG": HTML + jpeg(),
    "ZIP before a JPEG": b"PK\x03\x04" + jpeg(),
    "PNG of 30,000 by 30,000": png_bomb(30_000, 30_000),
    "PNG of 7,100 by 7,100": png_bomb(7_100, 7_100),
    "PNG of two thousand million by one": png_bomb(2**31 - 1, 1),
    "JPEG of 65,500 by 65,500": jpeg_of(65_500, 65_500),
    "JPEG of nothing by nothing": jpeg_of(0, 0),
    "PNG of nothing by nothing": png_bomb(0, 0),
}


@pytest.fixture(scope="module")
def bench(installation):
    import os

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    from .installation import new_shop

    shop = new_shop()
    return shop, shop.client("technician")


def kept(shop):
    from soundedge.store.blobs import Blobs

    return set(Blobs(shop.data / "blobs").digests())


def send(client, raw, kind="image/jpeg", **more):
    return client.post("/api/v1/photos", data=raw, content_type=kind, CONTENT_LENGTH=more.pop("length", str(len(raw))), **more)


def memory_mb():
    for line in open("/proc/self/status", encoding="ascii"):
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    raise AssertionError("no peak is told here")


@pytest.mark.parametrize("name", list(REFUSED))
def test_a_file_that_is_no_photo_or_too_large_is_refused_at_once_and_not_kept(bench, in_installation, name):
    shop, client = bench
    before, peak, began = kept(shop), memory_mb(), time.process_time()
    kind = "image/png" if "PNG" in name else "image/jpeg"
    answer = send(client, REFUSED[name], kind)
    assert answer.status_code in (411, 415, 422), (answer.status_code, answer.content[:200])
    assert answer["Content-Type"] == "application/problem+json" and answer.json()["detail"]
    assert kept(shop) == before
    assert memory_mb() - peak < 60 and time.process_time() - began < 5


@pytest.mark.parametrize("kind", ["text/html", "image/svg+xml", "image/gif", "application/zip", "application/octet-stream"])
def test_a_photo_under_another_type_is_refused(bench, in_installation, kind):
    shop, client = bench
    before = kept(shop)
    assert send(client, jpeg(), kind).status_code == 415
    assert kept(shop) == before


def test_a_photo_of_the_other_type_is_refused(bench, in_installation):
    _, client = bench
    assert send(client, png(), "image/jpeg").status_code == 422
    assert send(client, jpeg(), "image/png").status_code == 422


@pytest.mark.parametrize("length", ["99999999999999999999", "26000000", "-1", "x", ""])
def test_a_length_that_cannot_be_is_refused_before_the_body_is_read(bench, in_installation, length):
    _, client = bench
    assert send(client, jpeg(), length=length).status_code in (400, 411, 413, 422)


def test_a_photo_cut_off_on_its_way_is_not_kept(bench, in_installation):
    shop, client = bench
    before, raw = kept(shop), jpeg(seed=5)
    answer = send(client, raw, **{"wsgi.input": io.BytesIO(raw[: len(raw) // 2])})
    assert answer.status_code == 422 and kept(shop) == before


SCRIPT = b"<script>alert(document.domain)</script>"


def with_notes(raw):
    """EXIF, a comment and XMP that hold scripts, a place, and the camera's number."""
    exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x0e\0\x02\0\0\0\x28\0\0\0\x1a\0\0\0\0" + SCRIPT + b"\0"
    said = b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif
    said += b"\xff\xfe" + struct.pack(">H", len(SCRIPT) + 2) + SCRIPT
    return raw[:2] + said + raw[2:]


KEPT = {
    "a JPEG": jpeg(seed=20),
    "a JPEG with scripts in its notes": with_notes(jpeg(seed=21)),
    "a JPEG with HTML behind it": jpeg(seed=22) + HTML,
    "a JPEG with a ZIP behind it": jpeg(seed=23) + b"PK\x03\x04evil.zip" + b"PK\x05\x06" + b"\0" * 18,
}


@pytest.mark.parametrize("name", list(KEPT))
def test_the_original_is_kept_byte_for_byte_and_what_is_shown_is_pixels_alone(bench, in_installation, name):
    _, client = bench
    raw = KEPT[name]
    said = send(client, raw).json()
    assert said["sha256"] == hashlib.sha256(raw).hexdigest()
    original = client.get(f"/api/v1/photos/{said['sha256']}/original")
    assert original.content == raw
    assert original["Content-Disposition"].startswith("attachment;")
    shown = client.get(f"/api/v1/photos/{said['sha256']}")
    assert shown["Content-Type"] == "image/jpeg"
    for word in (b"script", b"Exif", b"http", b"PK\x03\x04", b"doctype"):
        assert word not in shown.content
    for answer in (original, shown):
        assert "sandbox" in answer["Content-Security-Policy"] and answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Cache-Control"] == "no-store" or "private" in answer["Cache-Control"]


def test_a_file_lies_read_only_under_its_own_digest(bench, in_installation):
    shop, client = bench
    digest = send(client, jpeg(seed=30)).json()["sha256"]
    (path,) = (shop.data / "blobs").rglob(digest)
    assert path.parent.name == digest[:2] and path.stat().st_mode & 0o337 == 0


NAMES = (
    "../../etc/passwd",
    "..\\..\\boot.ini",
    "/etc/passwd",
    "C:\\x",
    "a\r\nSet-Cookie: x=1",
    'a"; filename="b.exe',
    "a%00b",
    "a\0b",
    "x" * 4096,
    "é" * 200,
    "\u202egpj.exe",
    "..%2f..%2f",
)


@pytest.mark.parametrize("name", NAMES)
def test_a_name_in_an_address_reaches_no_file_and_no_header(bench, in_installation, name):
    from urllib.parse import quote

    from soundedge.web.api.jobs import download

    shop, client = bench
    before = kept(shop)
    for address in (
        "/api/v1/photos/{}",
        "/api/v1/photos/{}/original",
        "/api/v1/jobs/{}/record.json",
        "/api/v1/jobs/{}/certificate.pdf",
        "/jobs/{}/survey/{}.jpg",
        "/jobs/{}/heat/card.pdf",
        "/static/{}",
    ):
        answer = client.get(address.format(*[quote(name, safe="")] * 2))
        assert answer.status_code in (301, 400, 404, 422), (address, answer.status_code)
        assert b"root:" not in answer.content
    header = download(b"x", name, "application/pdf")["Content-Disposition"]
    assert header.isascii() and header.count('"') == 2 and len(header) < 160
    assert not set("\r\n\0/\\;") & set(header.split('"')[1])
    assert kept(shop) == before


def test_photos_are_not_taken_when_the_disk_is_needed_for_entries(bench, in_installation, monkeypatch):
    from collections import namedtuple

    from soundedge.services.desk import photos

    shop, client = bench
    before = kept(shop)
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(photos.shutil, "disk_usage", lambda folder: usage(10**12, 10**12, photos.FREE_MIN_BYTES - 1))
    answer = send(client, jpeg(seed=31))
    assert answer.status_code == 507 and "disk" in answer.json()["detail"] and kept(shop) == before


def test_a_device_sends_no_more_photos_in_a_day_than_its_share(bench, in_installation, monkeypatch):
    from datetime import timedelta

    from soundedge.services.people import devices
    from soundedge.store.accounts.models import Device

    shop, client = bench
    raw = jpeg(seed=32)
    Device.objects.update(photos_on=None)  # what other tests sent today is not this one's
    monkeypatch.setattr(devices, "PHOTO_BYTES_DAY", 2 * len(raw))
    assert [send(client, raw).status_code for _ in range(2)] == [201, 201]
    before = kept(shop)
    answer = send(client, jpeg(seed=33))
    assert answer.status_code == 429 and "tomorrow" in answer.json()["detail"] and kept(shop) == before
    (device,) = Device.objects.filter(photo_bytes=2 * len(raw))
    assert devices.photos_left(device, now=now() + timedelta(days=1)) == 2 * len(raw)
    devices.photo_taken(device, 5, now=now() + timedelta(days=1))
    device.refresh_from_db()
    assert device.photo_bytes == 5


def test_who_asks_for_more_photos_at_once_than_a_page_does_is_told_to_wait(bench, in_installation, monkeypatch):
    from soundedge.services.desk import photo_turn
    from soundedge.services.desk.photo_turn import MEASURED

    shop, client = bench
    digest = send(client, jpeg(seed=34)).json()["sha256"]
    reader, other = shop.client("auditor"), shop.client("engineer")
    person = reader.get("/api/v1/me").json()["person"]
    monkeypatch.setitem(photo_turn._asked, (str(shop.data), person, MEASURED), MEASURED)

    def find(who):
        token = who.get("/api/v1/me").json()["csrf"]
        return who.post(f"/api/v1/photos/{digest}/survey", '{"find_card": true}', content_type="application/json",
                        headers={"X-CSRFToken": token})

    answer = find(reader)
    assert answer.status_code == 429 and "Wait for one of them" in answer.json()["detail"], answer.content
    assert find(other).status_code == 200
    assert reader.get(f"/api/v1/photos/{digest}").status_code == 200
