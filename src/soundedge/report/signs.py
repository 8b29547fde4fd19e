"""How does a sign of the house get on paper? As the one path of the table (basis/signs.py), in ink; the loud one is red too.

>>> sign_svg("dash")[:4], b"8c1b12" in sign_svg("square"), b"8c1b12" in sign_svg("dash")
(b'<svg', True, False)
"""

from __future__ import annotations

from ..basis.signs import BOX, LOUD, PATHS, Sign

INK, FAIL = "#16191b", "#8c1b12"


def sign_svg(sign: Sign) -> bytes:
    """The sign as SVG, as large as its own box."""
    ink = FAIL if sign in LOUD else INK
    return (f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {BOX} {BOX}" width="{BOX}" height="{BOX}">'
            f'<path d="{PATHS[sign]}" fill-rule="evenodd" fill="{ink}"/></svg>').encode()
