"""Can a stranger read the certificate, take the record out of it, and trust that the page is always the same?"""

import dataclasses
import hashlib
import io
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pypdf
import pytest

from soundedge.basis.errors import BenchError, Unreadable
from soundedge.basis.finding import judge
from soundedge.basis.on_paper import when
from soundedge.report.certificate import certificate_pdf
from soundedge.report.view import CertificateView, Measure, Picture, Proof, Section, Signature, Spot, Table, finding_row

from . import looking, sample

ROOT = Path(__file__).parents[2]
NOON = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def page():
    return certificate_pdf(sample.certificate(), {"record.json": sample.RECORD})


def test_every_reading_stands_on_the_page_in_its_order(page):
    text = looking.text_of(page)

    for spot in sample.certificate().spots:
        assert " ".join(spot.readings) in text, spot.spot


def words_of(thing):
    """Every text in a view that shall be seen: not what stands for a picture or a sign, not the code's own text."""
    if isinstance(thing, str):
        yield thing
    elif isinstance(thing, tuple):
        for inner in thing:
            yield from words_of(inner)
    elif dataclasses.is_dataclass(thing):
        for part in dataclasses.fields(thing):
            signed = part.name == "verdict" and isinstance(thing, Measure | Signature)
            if part.name not in ("alt", "data", "word", "qr_text", "numbers", "revision") and not signed:
                yield from words_of(getattr(thing, part.name))


@pytest.mark.parametrize("view", [sample.certificate(), sample.hold_notice()], ids=["certificate", "hold notice"])
def test_everything_that_was_given_is_printed(view):
    text = looking.joined(certificate_pdf(view))
    given = [words for words in words_of(view) if view.spots or words != view.readings_are]
    assert len(given) > 100

    missing = [words for words in given if "".join(words.split()) not in text]

    assert missing == []


def test_a_signature_stands_with_printed_name_time_and_meaning(page):
    """21 CFR 11.50(a): the printed name of the signer, the date and time, the meaning of the signature."""
    text = looking.joined(page)

    for signature in sample.certificate().signatures:
        for words in (signature.name, signature.when, signature.meaning):
            assert "".join(words.split()) in text


def test_a_correction_shows_the_old_value_beside_the_new(page):
    """21 CFR 11.10(e): a change does not hide what was written before."""
    text = looking.text_of(page)
    change = sample.certificate().corrections[0]

    assert change.old in text.split() and change.new in text.split()
    assert "".join(change.reason.split()) in looking.joined(page)


def test_every_page_names_the_certificate_its_place_and_the_record(page):
    """ISO/IEC 17025:2017, 7.8.2.1: identification on every page, and a clear end."""
    count = looking.pages(page)
    assert count > 3

    for number in range(1, count + 1):
        _, text, _ = looking.run(page, "pdftotext", "-f", str(number), "-l", str(number), "FILE", "-")
        place = f"page {number} of 3, annex {count - 3}" if number <= 3 else f"annex {number - 3} of {count - 3}"
        assert f"{place} · KBW-2031-014-A" in text
        assert sample.DIGEST in text.replace("\n", "")
        assert "EXAMPLE: invented plant" in text
    assert "end of KBW-2031-014-A" in text


def test_a_long_sentence_on_what_it_replaces_leaves_the_issuer_their_line():
    pdf = certificate_pdf(sample.certificate(replaces=f"Replaces KBW-2031-014, record {sample.DIGEST}, kept beside it."))

    _, text, _ = looking.run(pdf, "pdftotext", "-layout", "FILE", "-")

    assert any(line.strip() == "Kelderbeck Basin Works – lining shop" for line in text.splitlines())
    assert any(line.strip() in ("KBW-2031-014-A", "Certificate of repair   KBW-2031-014-A") or
               line.split() == ["Certificate", "of", "repair", "KBW-2031-014-A"] for line in text.splitlines())
    assert "Replaces Replaces" not in text


def test_a_hold_notice_says_what_holds_and_what_to_do_next():
    pdf = certificate_pdf(sample.hold_notice())
    text = looking.joined(pdf)

    for hold in sample.hold_notice().holds:
        for words in (hold.rule, hold.value, hold.limit, hold.because, hold.next_move):
            assert "".join(words.split()) in text
    assert "Signatures" not in text
    assert "Whatwasmeasured" not in text


def test_the_record_comes_out_byte_for_byte():
    given = {"record.json": bytes(range(256)) * 40, "shop.pub": b"\x00\xff key", "empty.txt": b""}

    pdf = certificate_pdf(sample.hold_notice(), given)

    assert looking.attached(pdf) == given
    assert looking.detached(pdf, "record.json") == given["record.json"]


def test_the_record_is_marked_as_the_source_of_the_page(page):
    """ISO 32000-2, table 43 (as PDF/A-3 uses it): the data a page was made from is its Source."""
    root = pypdf.PdfReader(io.BytesIO(page)).trailer["/Root"]

    relations = {str(entry.get_object()["/UF"]): str(entry.get_object()["/AFRelationship"]) for entry in root["/AF"]}

    assert relations == {"record.json": "/Source"}


def test_all_fonts_are_inside(page):
    fonts = looking.fonts_of(page)

    assert len(fonts) >= 4
    assert all(embedded == "yes" for _, embedded in fonts), fonts
    assert all("DejaVu" in name for name, _ in fonts), fonts


def test_it_says_of_itself_that_it_is_archival_tagged_and_dated(page):
    said = looking.metadata(page)
    root = pypdf.PdfReader(io.BytesIO(page)).trailer["/Root"]

    assert "<pdfaid:part>3</pdfaid:part>" in said
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in said
    assert page.startswith(b"%PDF-1.7")
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"]).startswith("en")
    assert root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
    assert "2031-05-05T09:40:00" in said
    ok, why = looking.whole(page)
    assert ok, why


def test_every_picture_has_words_for_who_cannot_see_it(page):
    """ISO 14289-1 asks it of every figure: an Alt entry in the structure tree."""
    reader = pypdf.PdfReader(io.BytesIO(page))
    figures = []

    def walk(node):
        node = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(node, pypdf.generic.DictionaryObject):
            if node.get("/S") == "/Figure":
                figures.append(node.get("/Alt"))
            kids = node.get("/K", [])
            for kid in kids if isinstance(kids, list) else [kids]:
                walk(kid)

    walk(reader.trailer["/Root"]["/StructTreeRoot"])

    assert len(figures) >= 6  # two photos, plan, section, two charts
    assert all(figures)
    assert "A chip in a grey lining, brown steel in the middle, a black and white scale to the right." in map(
        str, figures
    )


def test_the_same_view_gives_the_same_bytes(page):
    assert certificate_pdf(sample.certificate(), {"record.json": sample.RECORD}) == page


@pytest.mark.parametrize("seed", ["1", "4711"])
def test_and_in_another_process_with_another_seed_time_zone_and_folder(page, seed, tmp_path):
    told = (
        "import sys, hashlib\nfrom tests.report import sample\nfrom soundedge.report.certificate import certificate_pdf\n"
        "print(hashlib.sha256(certificate_pdf(sample.certificate(), {'record.json': sample.RECORD})).hexdigest())"
    )
    surroundings = {
        **os.environ,
        "PYTHONHASHSEED": seed,
        "TZ": "Pacific/Auckland",
        "LC_ALL": "C",
        "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "src"))),
        "TMPDIR": str(tmp_path),
    }

    said = subprocess.run(
        [sys.executable, "-c", told], env=surroundings, cwd=tmp_path, capture_output=True, text=True, timeout=60
    )

    assert said.stdout.strip() == hashlib.sha256(page).hexdigest(), said.stderr


def test_one_changed_reading_changes_the_bytes(page):
    view = sample.certificate()
    spots = (Spot(view.spots[0].spot, view.spots[0].where, ("941", *view.spots[0].readings[1:])), *view.spots[1:])

    assert certificate_pdf(sample.certificate(spots=spots), {"record.json": sample.RECORD}) != page


def test_four_hundred_readings_stay_on_few_pages_and_all_are_there():
    many = tuple(Spot(f"S{n}", "repair", tuple(str(800 + n * 8 + k) for k in range(8))) for n in range(50))

    pdf = certificate_pdf(CertificateView("N-1", "Certificate of repair", "Released", "All inside.", NOON, spots=many))
    text = looking.text_of(pdf)

    assert looking.pages(pdf) <= 4
    assert all(" ".join(spot.readings) in text for spot in many)
    for number in range(1, looking.pages(pdf) + 1):
        _, one, _ = looking.run(pdf, "pdftotext", "-f", str(number), "-l", str(number), "FILE", "-")
        assert "Readings" in one or not any(spot.readings[0] in one.split() for spot in many), number


def test_a_long_table_repeats_its_header_on_every_page():
    table = Table(("Instrument", "Certificate"), tuple((f"G{n}", f"C-{n}") for n in range(150)))

    pdf = certificate_pdf(CertificateView("N-1", "Hold notice", "Held", "Too many gauges.", NOON, instruments=table))

    for number in range(2, looking.pages(pdf)):
        _, text, _ = looking.run(pdf, "pdftotext", "-f", str(number), "-l", str(number), "FILE", "-")
        assert "Instrument" in text and "Certificate" in text


def test_the_four_titles_have_four_signs_that_differ_in_black_and_white():
    from PIL import ImageChops

    signs = []
    for title in ("Certificate of repair", "Hold notice", "Engineering review", "Rejection"):
        view = CertificateView("N-1", title, "Word", "Reason.", NOON, issuer=("A shop",))
        first = looking.printed(certificate_pdf(view), dots=72)[0]
        signs.append(first.convert("L").crop((55, 95, 105, 160)).point(lambda v: 255 if v > 140 else 0))

    for n, one in enumerate(signs):
        assert one.getextrema()[0] == 0  # there is a sign
        for other in signs[n + 1 :]:
            differing = ImageChops.difference(one, other).histogram()[255]
            assert differing > 60


def test_nothing_is_printed_outside_the_page_margins():
    words = "unbroken" * 250  # 2000 letters
    view = sample.certificate(
        reason=words,
        identity=(("Part" * 30, words),),
        not_tested=(words,),
        scope=((words[:90], words),),
        looks=(Picture(sample.photo(), "a", words[:200]),),
        proofs=(Proof(words[:60], (Measure(words[:90], words[:60], words[:60]),)),),
        people=(words,),
        spots=(Spot(words[:100], words[:100], (words[:80], "940"), words),),
        instruments=Table(("A" * 60,) * 6, ((words[:300],) * 6,)),
        extra=((words[:200], Section(text=(words,))),),
    )

    for picture in looking.printed(certificate_pdf(view), dots=50):
        width, height = picture.size
        edge = round(14 / 210 * width)
        for strip in ((0, 0, edge, height), (width - edge, 0, width, height)):
            assert picture.convert("L").crop(strip).getextrema()[0] > 200


def test_a_word_of_two_thousand_letters_is_wrapped_and_stays_whole_for_a_search():
    word = "x1y2" * 500

    pdf = certificate_pdf(CertificateView("N-1", "Hold notice", "Held", word, NOON))

    assert word in looking.joined(pdf)


@pytest.mark.parametrize(
    "moment, words",
    [
        (datetime(2031, 1, 1, 0, 0, tzinfo=UTC), "1 January 2031 00:00 UTC"),
        (datetime(2031, 12, 31, 23, 59, tzinfo=UTC), "31 December 2031 23:59 UTC"),
    ],
)
def test_a_moment_is_printed_in_utc(moment, words):
    assert when(moment) == words
    assert when(moment.astimezone(ZoneInfo("Asia/Kolkata"))) == words


def test_the_date_of_the_document_does_not_depend_on_the_zone_it_was_given_in():
    east = timezone(timedelta(hours=9))
    view = sample.hold_notice()

    assert certificate_pdf(view) == certificate_pdf(
        sample.certificate(**{**vars(view), "issued_at": view.issued_at.astimezone(east)})
    )


def test_a_finding_becomes_a_row_with_its_reason():
    row = finding_row(
        judge("dew_margin", 2.9996, limit=3.0, sense="at_least", u=0.4, unit="K", source="s", next_move="Warm it.")
    )

    assert (row.rule, row.value, row.limit, row.verdict) == (
        "dew margin",
        "2.9996 K (u 0.4 K)",
        "at least 3 K",
        "does not conform",
    )


def test_what_was_not_measured_is_said_so():
    row = finding_row(
        judge("dew_margin", None, limit=3.0, sense="at_least", unit="K", source="s", next_move="Warm it.")
    )

    assert row.value == row.verdict == "not measured"


@pytest.mark.parametrize(
    "changes, field",
    [
        ({"record_digest": "9F2C" * 16}, "record_digest"),
        ({"record_digest": "../../x"}, "record_digest"),
        ({"issued_at": datetime(2031, 5, 4)}, "issued_at"),
        ({"qr_text": "x" * 5000}, "qr_text"),
        ({"found": Section(pictures=(Picture(b"GIF89a", "a"),))}, "found picture 1"),
        ({"found": Section(pictures=(Picture(b"\xff\xd8\xff\xe0 broken", "a"),))}, "found picture 1"),
        ({"found": Section(pictures=(Picture(b"<svg xmlns='x'><rect></svg>", "a"),))}, "found picture 1"),
    ],
)
def test_what_cannot_be_set_is_refused_by_name(changes, field):
    with pytest.raises(BenchError) as refused:
        certificate_pdf(sample.certificate(**changes))

    assert refused.value.field == field
    assert len(refused.value.message) > 30


@pytest.mark.parametrize("name", ["../record.json", "a/b", "", ".hidden", "x" * 100, "ü.json", "a b"])
def test_an_attachment_with_a_name_that_is_a_path_is_refused(name):
    with pytest.raises(Unreadable):
        certificate_pdf(sample.hold_notice(), {name: b"x"})


def test_the_qr_code_reads_back():
    import cv2
    import numpy as np

    pdf = certificate_pdf(sample.certificate())
    found = [cv2.QRCodeDetectorAruco().detectAndDecode(np.array(p.convert("L")))[0] for p in looking.printed(pdf, dots=150)]

    assert sample.certificate().qr_text in found
