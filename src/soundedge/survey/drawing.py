"""What does the printed card look like? One page of SVG in millimetres, ready to print at 100 %.

>>> svg = card_svg("small", serial="KBW-7")
>>> svg.startswith("<svg"), "KBW-7" in svg, 'viewBox="0 0 210 297"' in svg
(True, True, True)
"""

from __future__ import annotations

from functools import cache
from xml.sax.saxutils import escape

from ..basis.errors import Unknown
from ..basis.sentences import say
from .card import BAR_MM, MODULES, SHEETS, TAG_MM, Sheet

PAGE_MM = (210.0, 297.0)
STEPS = (
    "Print at 100 %, on matte stiff stock. Never glossy.",
    "Measure both bars with a steel rule and type what you read.",
    "Cut along the outer line and cut the window out.",
    "Lay it flat on the lining, damage in the window, printed side up.",
    "All marks in the photo, sharp, no glare, phone held square to the card.",
)


def card_svg(name: str = "small", *, serial: str = "") -> str:
    """A card as a drawing of one A4 page.

    Parameters
    ----------
    name : str
        A key of ``SHEETS``: small, large, strips, corner.
    serial : str
        Printed on the card; the shop's own number, up to 40 letters.

    Raises
    ------
    Unknown
        No card of that name.
    """
    if name not in SHEETS:
        raise Unknown("sheet", say("survey.card_unknown", name=str(name)[:40], known=', '.join(SHEETS)))
    sheet = SHEETS[name]
    cx, cy = PAGE_MM[0] / 2 - sheet.middle_mm[0], 22.0 + sheet.size_mm[1] / 2 + sheet.middle_mm[1]
    parts = [
        '<svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297">',
        '<rect x="0" y="0" width="210" height="297" fill="#fff"/>',
        f'<g transform="translate({cx:g} {cy:g})">',
        *_cut_lines(sheet),
        *(f'<path d="{_mark_path(tag, x, -y)}" fill="#000" fill-rule="evenodd"/>' for tag, (x, y) in sheet.tags.items()),
        *_rim(sheet, serial),
        "</g>",
        *_foot(sheet, cy - sheet.middle_mm[1] + sheet.size_mm[1] / 2 + 12),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


@cache
def mark_cells(tag: int) -> tuple[tuple[bool, ...], ...]:
    """8 × 8 cells of a mark, True where black, as OpenCV (AprilTag 36h11) draws it."""
    import cv2

    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    drawn = cv2.aruco.generateImageMarker(dictionary, tag, MODULES, borderBits=1)
    return tuple(tuple(bool(cell == 0) for cell in row) for row in drawn)


def _mark_path(tag: int, x: float, y: float) -> str:
    """The outline of the black cells, y down, so that no hairline shows between cells."""
    from shapely.geometry import MultiPolygon, box
    from shapely.ops import unary_union

    module = TAG_MM / MODULES
    left, top = x - TAG_MM / 2, y - TAG_MM / 2
    cells = [box(column, row, column + 1, row + 1)
             for row, line in enumerate(mark_cells(tag)) for column, black in enumerate(line) if black]
    shape = unary_union(cells)
    pieces = list(shape.geoms) if isinstance(shape, MultiPolygon) else [shape]
    out = []
    for piece in pieces:
        for ring in (piece.exterior, *piece.interiors):
            points = [f"{left + px * module:.4g} {top + py * module:.4g}" for px, py in list(ring.coords)[:-1]]
            out.append("M" + "L".join(points) + "Z")
    return "".join(out)


def _cut_lines(sheet: Sheet) -> list[str]:
    width, height = sheet.size_mm
    mx, my = sheet.middle_mm
    line = 'fill="none" stroke="#888" stroke-width="0.15"'
    outer = (f'<rect x="{mx - width / 2:g}" y="{-my - height / 2:g}" width="{width:g}" height="{height:g}" {line} '
             'stroke-dasharray="2 1"/>')
    points = " ".join(f"{x:g},{-y:g}" for x, y in sheet.open_mm)
    if sheet.name == "corner":
        points = "-30,-67 -30,20 77,20 77,-67"
    return [outer, f'<polygon points="{points}" {line}/>']


def _rim(sheet: Sheet, serial: str) -> list[str]:
    """Check bars along the lower and the left edge of the card, serial and name along the upper."""
    width, height = sheet.size_mm
    mx, my = sheet.middle_mm
    low, left = -my + height / 2 - 3.5, mx - width / 2 + 3.5
    half = BAR_MM / 2
    label = f"{sheet.title} card" + (f"   serial {serial[:40]}" if serial else "   serial ..............")
    ink = 'stroke="#000" stroke-width="0.25" fill="none"'
    text = 'font-family="DejaVu Sans Condensed, DejaVu Sans, sans-serif" fill="#000"'
    bars = [f'<path d="M{mx - half:g} {low - 1.5:g}V{low + 1.5:g}M{mx - half:g} {low:g}H{mx + half:g}'
            f'M{mx + half:g} {low - 1.5:g}V{low + 1.5:g}" {ink}/>',
            f'<text x="{mx:g}" y="{low - 0.8:g}" font-size="2.4" text-anchor="middle" {text}>'
            f"bar x: {BAR_MM:g} mm between the ticks{'   ' + escape(label) if sheet.name == 'corner' else ''}</text>"]
    if height >= BAR_MM + 6:
        middle = -my
        bars += [f'<path d="M{left - 1.5:g} {middle - half:g}H{left + 1.5:g}M{left:g} {middle - half:g}V{middle + half:g}'
                 f'M{left - 1.5:g} {middle + half:g}H{left + 1.5:g}" {ink}/>',
                 f'<text transform="translate({left + 2.6:g} {middle:g}) rotate(-90)" font-size="2.4" '
                 f'text-anchor="middle" {text}>bar y: {BAR_MM:g} mm</text>']
    else:  # too low a card: the bar stands beside it on the page
        beside = mx - half
        down = -my + height / 2 + 22
        bars += [f'<path d="M{beside - 1.5:g} {down:g}H{beside + 1.5:g}M{beside:g} {down:g}V{down + BAR_MM:g}'
                 f'M{beside - 1.5:g} {down + BAR_MM:g}H{beside + 1.5:g}" {ink}/>',
                 f'<text transform="translate({beside + 3:g} {down + half:g}) rotate(-90)" font-size="2.4" '
                 f'text-anchor="middle" {text}>bar y: {BAR_MM:g} mm</text>']
    if sheet.name != "corner":
        bars.append(f'<text x="{mx:g}" y="{-my - height / 2 + 5.2:g}" font-size="3.2" text-anchor="middle" {text}>'
                    f"{escape(label)}</text>")
    return bars


def _foot(sheet: Sheet, top: float) -> list[str]:
    text = 'font-family="DejaVu Sans Condensed, DejaVu Sans, sans-serif" fill="#000"'
    x = 62 if sheet.name == "strips" else 20
    top += 10 if sheet.name == "strips" else 0
    out = [f'<text x="{x}" y="{top:g}" font-size="4" {text}>{escape(sheet.title)} card: {escape(sheet.use)}</text>']
    for number, step in enumerate(STEPS, 1):
        out.append(f'<text x="{x}" y="{top + 2 + 6 * number:g}" font-size="3.4" {text}>{number}. {escape(step)}</text>')
    greys = top + 2 + 6 * len(STEPS) + 8
    for i in range(6):
        shade = round(255 * i / 5)
        out.append(f'<rect x="{x + 12 * i}" y="{greys:g}" width="12" height="8" fill="rgb({shade},{shade},{shade})" '
                   'stroke="#000" stroke-width="0.1"/>')
    return out
