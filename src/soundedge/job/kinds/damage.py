"""Damage on the part, as found and as prepared, and the photos of it."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import model_validator

from ...basis.damage import DamageKind
from ...basis.on_paper import words
from ...basis.quantity import Prose, Quantity, Word, shown
from ...basis.question import Request, refuse
from ...basis.sentences import say
from ...basis.shape import Circle, Ellipse, Outline
from ...disposition.given import BesideUm, CutDepthsMm, UDepthMm, UFilmUm, check_cut, film_left
from ...disposition.place import Place
from .kind import ENGINEER, EVERYBODY, INSPECTOR, TECHNICIAN, Kind


class DamageOutlined(Request):
    """Damage as found or as prepared: its shape on the part, with the uncertainty of its area.

    Exactly one of outline, circle, ellipse; with a ``place``, the shape's own zero lies there. Where it does not reach the
    steel (``through`` false), ``film_left_um`` is the thinnest film read there; under a cut too narrow for the gauge it follows
    from ``beside_um`` and ``depth_mm``. From a photo, ``survey`` keeps the room's answer and ``photo_sha256`` the original
    picture.
    """

    id: Word
    stage: Literal["as_found", "as_prepared"]
    kind: DamageKind = "chip"
    outline_mm: Outline | None = None
    circle_mm: Circle | None = None
    ellipse_mm: Ellipse | None = None
    place: Place | None = None
    u_area_mm2: Annotated[float, Quantity("Standard uncertainty of the area", "mm2", at_least=0, at_most=1e6)] = 0.0
    through: bool = True
    pit_depth_mm: Annotated[float, Quantity("Pit depth", "mm", at_least=0, at_most=100)] | None = 0.0
    film_left_um: Annotated[float, Quantity("Film left at the damage", "um", at_least=0, at_most=20000)] | None = None
    beside_um: BesideUm | None = None
    depth_mm: CutDepthsMm | None = None
    u_film_um: UFilmUm | None = None
    u_depth_mm: UDepthMm | None = None
    smooth: bool | None = None
    cause: Prose | None = None
    measured: Literal["typed", "photo"] = "typed"
    photo: Word | None = None
    photo_sha256: Word | None = None
    survey: dict[str, Any] | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> DamageOutlined:
        given = [s for s in (self.outline_mm, self.circle_mm, self.ellipse_mm) if s is not None]
        if len(given) != 1:
            raise refuse("contradiction" if given else "missing", say("job.damage_shape_count", damage=self.id, n=len(given)))
        check_cut(self)
        return self

    @property
    def left_um(self) -> float | None:
        """The film left there, µm, as read or by the depth of the cut; None: neither was read."""
        known = film_left(self)
        return None if known is None else known[0]

    @property
    def depth_said(self) -> str:
        """How deep it goes in words, and how the film left there is known: ``not through, 1075 µm left, as read there``."""
        if self.through:
            return "to steel"
        if self.left_um is None:
            return "not through, film left not read"
        left = f"not through, {shown(round(self.left_um))} µm left"
        if not self.depth_mm:
            return f"{left}, as read there"
        deepest, beside = max(zip(self.depth_mm, self.beside_um or self.depth_mm, strict=True))
        return f"{left}; deepest cut {shown(deepest)} mm beside {shown(beside)} µm of film"


class SurveyRefused(Request):
    """A photo that could not be measured: which checks refused it. No number is kept from it."""

    id: Word
    stage: Literal["as_found", "as_prepared"]
    photo: Word
    photo_sha256: Word
    refused: list[dict[str, Any]]


class PictureTaken(Request):
    """A photo for illustration only: caption and digest."""

    file: Word
    sha256: Word
    caption: Prose
    repair: Word | None = None


_SEES = frozenset({TECHNICIAN, INSPECTOR, ENGINEER})

KINDS = (
    Kind("damage.outlined", DamageOutlined, "Damage outlined", lambda b: f"{b.id}, {words(b.stage)}",
         section="damage", step="survey", roles=_SEES, covered_by="disposition", box="2a"),
    Kind("survey.refused", SurveyRefused, "Photo refused", lambda b: f"{b.id}, {words(b.stage)}: {b.photo}",
         section="refused", step="survey", roles=_SEES, adds=False, not_corrected=say("kinds.photo_was_refused")),
    Kind("picture.taken", PictureTaken, "Picture taken", lambda b: b.caption,
         names_repair=True, section="picture", step="survey", roles=EVERYBODY, after_release=True),
)
