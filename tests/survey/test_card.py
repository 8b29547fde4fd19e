"""Is the printed card the card that is measured with?"""

import cv2
import numpy as np
import pytest
import typst

from soundedge.basis.errors import Contradiction, Unknown
from soundedge.report.card import card_pdf
from soundedge.survey import selftest
from soundedge.survey.card import QUIET_MM, SHEETS, TAG_MM, sheet_of
from soundedge.survey.drawing import card_svg
from soundedge.survey.marks import find_marks


def test_every_corner_is_found_in_its_order_to_a_twentieth_of_a_pixel():
    """Draw, detect, compare, all four cards; OpenCV 5 notes that AprilTag corners were once numbered differently."""
    worst = selftest.self_test()

    assert set(worst) == set(SHEETS)
    assert max(worst.values()) < 0.05


def test_the_self_test_can_fail(monkeypatch):
    """A library that numbered the corners one further on would be caught."""
    def turned(picture):
        return [mark.__class__(mark.number, np.roll(mark.corners_px, 1, axis=0), mark.blur_px, mark.rms_px)
                for mark in find_marks(picture)]

    monkeypatch.setattr(selftest, "find_marks", turned)

    with pytest.raises(Contradiction, match="Do not measure"):
        selftest.self_test()


def test_the_self_test_sees_half_a_pixel(monkeypatch):
    def shifted(picture):
        return [mark.__class__(mark.number, mark.corners_px + 0.5, mark.blur_px, mark.rms_px) for mark in find_marks(picture)]

    monkeypatch.setattr(selftest, "find_marks", shifted)

    with pytest.raises(Contradiction, match=r"0\.50 px"):
        selftest.self_test()


def test_a_mark_belongs_to_one_card_only():
    numbers = [number for sheet in SHEETS.values() for number in sheet.tags]

    assert len(numbers) == len(set(numbers)) == 16 + 24 + 20 + 10
    assert all(sheet_of(number).name == name for name, sheet in SHEETS.items() for number in sheet.tags)
    assert sheet_of(586) is None


@pytest.mark.parametrize("name", SHEETS)
def test_marks_keep_their_white_and_stay_on_the_card(name):
    """Quiet white between marks, to the window, and to the cut; the opening lies inside the marks' hull."""
    from shapely.geometry import MultiPoint, Polygon, box

    sheet = SHEETS[name]
    squares = [Polygon(sheet.corners_mm(number)) for number in sheet.tags]
    (width, height), (mx, my) = sheet.size_mm, sheet.middle_mm
    card = box(mx - width / 2, my - height / 2, mx + width / 2, my + height / 2)
    opening = Polygon(sheet.open_mm)

    assert all(a.distance(b) >= QUIET_MM for i, a in enumerate(squares) for b in squares[:i])
    assert all(square.distance(card.exterior) >= QUIET_MM and card.contains(square) for square in squares)
    assert all(square.distance(opening) >= QUIET_MM - 1e-9 for square in squares)
    assert MultiPoint([c for square in squares for c in square.exterior.coords]).convex_hull.contains(opening)


@pytest.mark.parametrize("name", SHEETS)
def test_the_printed_page_has_every_mark_at_its_place_and_size(name):
    """The SVG set as PDF page and drawn by typst's own renderer: marks and bars to 0.02 mm.

    Outside check: another program draws our drawing; nothing of the drawing code is used to read it.
    """
    sheet = SHEETS[name]
    dpi = 254  # 10 px to the mm
    png = typst.compile({"main": b'#set page(width: 210mm, height: 297mm, margin: 0mm)\n#image("c.svg", width: 210mm)',
                         "c.svg": card_svg(name).encode()}, format="png", ppi=dpi)
    page = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)
    px_mm = dpi / 25.4
    marks = find_marks(page)
    middle = np.array([105 - sheet.middle_mm[0], 22 + sheet.size_mm[1] / 2 + sheet.middle_mm[1]])

    assert {mark.number for mark in marks} == set(sheet.tags)
    for mark in marks:
        on_page = (mark.corners_px + 0.5) / px_mm
        want = np.array(sheet.corners_mm(mark.number)) * (1, -1) + middle
        assert np.abs(on_page - want).max() < 0.02

    side = np.linalg.norm(marks[0].corners_px[1] - marks[0].corners_px[0]) / px_mm
    assert side == pytest.approx(TAG_MM, abs=0.02)


def test_the_bars_are_one_hundred_millimetres_in_both_directions():
    """Read from the drawn page, not from the numbers: the ticks of the small card's bars."""
    dpi = 508
    png = typst.compile({"main": b'#set page(width: 210mm, height: 297mm, margin: 0mm)\n#image("c.svg", width: 210mm)',
                         "c.svg": card_svg("small").encode()}, format="png", ppi=dpi)
    page = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_GRAYSCALE)
    px_mm = dpi / 25.4
    row = page[round((22 + 120 - 3.5 + 0.9) * px_mm)]  # just below the bar: only its ticks are dark
    ticks = np.flatnonzero(row[round(50 * px_mm) : round(160 * px_mm)] < 128)
    column = page[:, round((105 - 60 + 3.5 - 0.9) * px_mm)]
    rungs = np.flatnonzero(column[round(30 * px_mm) : round(135 * px_mm)] < 128)

    width = 0.25  # of a stroke
    assert (ticks.max() - ticks.min()) / px_mm - width == pytest.approx(100.0, abs=0.1)
    assert (rungs.max() - rungs.min()) / px_mm - width == pytest.approx(100.0, abs=0.1)


def test_the_same_card_gives_the_same_bytes_and_bears_its_serial():
    assert card_svg("small", serial="KBW-7") == card_svg("small", serial="KBW-7")
    assert "serial KBW-7" in card_svg("large", serial="KBW-7")
    assert card_pdf(card_svg()) == card_pdf(card_svg())
    assert card_pdf(card_svg())[:5] == b"%PDF-"


def test_a_serial_cannot_become_part_of_the_drawing():
    svg = card_svg(serial='"><script>x</script>&')

    assert "<script>" not in svg


def test_an_unknown_card_is_refused_with_the_list():
    with pytest.raises(Unknown, match="small, large, strips, corner"):
        card_svg("single tag")
