"""Does this machine's detector number the corners as the card is drawn, to a twentieth of a pixel?

Libraries differ in the order of the corners and sit half a pixel inside a mark. Every card is drawn pixel by pixel,
found, measured and compared; a library change that flips something is caught here, not in somebody's result.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..basis.errors import Contradiction
from ..basis.sentences import say
from .card import MODULES, SHEETS, TAG_MM, Sheet
from .drawing import mark_cells
from .marks import find_marks

if TYPE_CHECKING:
    import numpy as np

PX_PER_MODULE = 14
ALLOWED_PX = 0.05


def self_test() -> dict[str, float]:
    """Worst distance of any corner from where it was drawn, pixels, for every card.

    Raises
    ------
    Contradiction
        A mark is not found, its corners come in another order, or one is more than 0.05 px off.
    """
    return {name: _one(sheet) for name, sheet in SHEETS.items()}


def drawn(sheet: Sheet) -> tuple[np.ndarray, dict[int, np.ndarray]]:
    """A card as pixels, and where its corners are: 8 px to the mm, edges of marks between pixels."""
    import numpy as np

    px_mm = PX_PER_MODULE * MODULES / TAG_MM
    (width, height), (mx, my) = sheet.size_mm, sheet.middle_mm
    picture = np.full((round(height * px_mm), round(width * px_mm)), 255, np.uint8)
    corners = {}
    for number, (x, y) in sheet.tags.items():
        column = round((x - TAG_MM / 2 - (mx - width / 2)) * px_mm)
        row = round(((my + height / 2) - (y + TAG_MM / 2)) * px_mm)
        size = MODULES * PX_PER_MODULE
        black = np.kron(np.array(mark_cells(number)), np.ones((PX_PER_MODULE, PX_PER_MODULE), bool))
        picture[row : row + size, column : column + size] = np.where(black, 0, 255)
        low, high = column - 0.5, column + size - 0.5
        top, bottom = row - 0.5, row + size - 0.5
        corners[number] = np.array([[low, top], [high, top], [high, bottom], [low, bottom]])
    return picture, corners


def _one(sheet: Sheet) -> float:
    import numpy as np

    picture, corners = drawn(sheet)
    found = {mark.number: mark.corners_px for mark in find_marks(picture)}
    lacking = sorted(set(corners) - set(found))
    if lacking:
        raise Contradiction("card", say("survey.selftest_mark_not_found", mark=lacking[0], card=sheet.title.lower()))
    worst = max(float(np.abs(found[number] - corners[number]).max()) for number in corners)
    if worst > ALLOWED_PX:
        raise Contradiction("card", say("survey.selftest_corner_off", card=sheet.title.lower(), off_px=worst,
                                        most_px=ALLOWED_PX))
    return worst
