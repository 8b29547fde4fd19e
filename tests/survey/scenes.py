"""Small photos for the tests, each drawn once in a run, and the shortest way to ask about them."""

from functools import cache

from soundedge.basis.question import read
from soundedge.survey.ask import survey
from soundedge.survey.given import SurveyRequest

from . import render

CARD = {"bar_x_mm": 100.0, "bar_y_mm": 100.0, "thickness_mm": 0.5, "checked_on": "2031-03-02"}


def scene(**changes):
    """Two megapixels, near enough for 6.5 pixels to the millimetre."""
    return render.Scene(**({"width_px": 1600, "height_px": 1200, "focal_px": 1170.0, "distance_mm": 180.0, "noise": 1.5,
                            "tilt_deg": 12.0, "seed": 21, "area_mm2": 400.0} | changes))


@cache
def photo(one) -> tuple[bytes, render.Truth]:
    """JPEG bytes and truth of a scene."""
    picture, truth = render.draw(one)
    return render.photo_bytes(picture, one.quality), truth


def outline_of(truth, every=6):
    """The true edge in pixels, thinned."""
    return [[float(x), float(y)] for x, y in truth.outline_px[::every]]


def ask(one, *, outline=None, card=None, clicks=None, **more):
    """A survey of a scene's true outline, with changes."""
    data, truth = photo(one)
    request = {
        "photo": "photo.jpg",
        "outline": {"kind": one.kind, "outline_px": outline_of(truth) if outline is None else outline, "confirmed": True}
        | (clicks or {}),
        "card": CARD | {"thickness_mm": one.thickness_mm} if card is None else card,
    } | more
    return survey(read(SurveyRequest, request), {"photo.jpg": data})


def refusals(answer):
    """Names of the checks that refused."""
    return {reason.check for reason in answer.refused}


def warnings(answer):
    """Names of the checks that warned."""
    return {reason.check for reason in answer.warned}
