"""Does a room's sheet get on paper whole: cautions before the numbers, boxes for the pen, the same bytes twice?"""

import subprocess
from datetime import UTC, datetime

import pytest

from soundedge.basis.errors import NotEnough
from soundedge.report.sheet import Sheet, from_plain, sheet_pdf
from soundedge.services.ask import ask

NOON = datetime(2026, 5, 4, 12, tzinfo=UTC)


def printed(pdf: bytes) -> str:
    return subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True).stdout.decode()


def a_holiday_sheet():
    answer = ask("holiday", {"film_um": {"min": 1050, "max": 1420}, "polymer": "ectfe", "stated_voltage_v": 8000})
    return from_plain(answer["sheet"], number="KBW-2026-014", made_at=NOON)


def test_cautions_stand_before_any_voltage():
    text = printed(sheet_pdf(a_holiday_sheet()))

    assert 0 < text.index("pacemaker") < text.index("Lowest that finds holes")


def test_every_row_is_on_the_paper():
    sheet = a_holiday_sheet()
    text = "".join(printed(sheet_pdf(sheet)).split())

    for _, rows in sheet.sections:
        for label, _ in rows:
            assert "".join(label.split())[:18] in text, label


def test_the_same_sheet_gives_the_same_bytes():
    assert sheet_pdf(a_holiday_sheet()) == sheet_pdf(a_holiday_sheet())


def test_markup_in_a_text_is_only_text():
    sheet = Sheet("A #strong[title]", "1", ("$ *x* @a",), (("Head", (("#let", "$1$"),)),), NOON)

    assert "#let" in printed(sheet_pdf(sheet)) and "$ *x* @a" in printed(sheet_pdf(sheet))


def test_an_empty_sheet_is_refused():
    with pytest.raises(NotEnough):
        sheet_pdf(Sheet("Empty", "1", (), ()))


def test_a_hold_notice_does_not_say_signed_by_under_its_word():
    """A release that was asked for and not granted must not read as a signature under "Held"."""
    from soundedge.report.certificate import certificate_pdf
    from soundedge.report.view import CertificateView, Signature

    asked = (Signature("Tobias Renn", "inspector", "Release: proved and released.", "4 May 2026 12:30 UTC", "not granted"),)
    texts = {
        title: printed(certificate_pdf(CertificateView(
            number="1", title=title, verdict="A word", reason="A reason.", issued_at=NOON, signatures=asked)))
        for title in ("Certificate of repair", "Hold notice")
    }

    assert "Signed by Tobias Renn" in texts["Certificate of repair"]
    assert "Signed by Tobias Renn" not in texts["Hold notice"] and "Tobias Renn" in texts["Hold notice"]
