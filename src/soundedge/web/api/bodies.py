"""What does the body of a request to the HTTP API hold? One model for each; extra keys are refused, nothing is coerced.

A value stays plain JSON: the desk reads it once more, by the rules of the entry that it becomes.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, ValidationInfo, WithJsonSchema

from ...basis.damage import DamageKind
from ...basis.quantity import NotThat, Prose, Word, read_instant
from ...basis.question import Request, refuse
from ...basis.sentences import say

ENTRIES_MAX = 200


class Body(Request):
    """The body of a request."""

    def plain(self, *, but: tuple[str, ...] = ()) -> dict[str, Any]:
        """What was sent, as plain JSON values, without some of the keys."""
        return self.model_dump(exclude_unset=True, exclude=set(but))


def _at_most(most: int) -> AfterValidator:
    def check(value: str, info: ValidationInfo) -> str:
        if not value.strip() or len(value) > most:
            raise refuse("unreadable", say("web.key_text", key=info.field_name, most=most))
        return value

    return AfterValidator(check)


def _drawn(most: int) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "minLength": 1, "maxLength": most})


def _moment(value: str) -> str:
    try:
        read_instant(value)
    except NotThat as bad:
        raise refuse("unreadable", bad.message) from None
    return value


def _entries(value: list[Any]) -> list[Any]:
    if len(value) > ENTRIES_MAX:
        raise refuse("unreadable", say("web.key_list", key="entries", most=ENTRIES_MAX))
    return value


Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Moment = Annotated[str, AfterValidator(_moment), WithJsonSchema({"type": "string", "format": "date-time"})]
Number = Annotated[int | float, WithJsonSchema({"type": "number"})]
Password = Annotated[str, _at_most(200), _drawn(200)]
Choice = Annotated[str, _at_most(40), _drawn(40)]


class Entry(Body):
    """One entry as it was made: its id within the job, kind, when, and the body of that kind."""

    id: Word
    kind: str
    at: Moment
    body: dict[str, Any]


class Opening(Body):
    """A job under an approved procedure; ``part`` and ``lining`` as part.identified and lining.identified."""

    id: Annotated[str, _at_most(100), _drawn(100)]
    number: Word
    site: Word
    customer: Word | None = None
    note: str | None = None
    procedure: Word
    part: dict[str, Any]
    lining: dict[str, Any]


class Seen(Body):
    """What was looked at: ``on_head`` is the fingerprint of the job's last entry then."""

    id: Word
    on_head: Digest


class Batch(Body):
    """Entries in the order in which they were made; each is answered by itself. ``sent_at``: the device's clock."""

    sent_at: Moment | None = None
    entries: Annotated[list[Any], AfterValidator(_entries),
                       WithJsonSchema({"type": "array", "maxItems": ENTRIES_MAX, "items": Entry.model_json_schema()})]


class Damage(Body):
    """Damage outlined on a photo that was sent; ``x``, ``y`` its centre on the part in mm, or its ``place`` by clock."""

    id: Word
    at: Moment
    damage: Word
    stage: Literal["as_found", "as_prepared"]
    kind: DamageKind = "chip"
    photo_sha256: Digest
    photo: Word | None = None
    outline: dict[str, Any]
    card: dict[str, Any]
    x: Number = 0
    y: Number = 0
    place: dict[str, Any] | None = None
    through: bool = True
    pit_depth_mm: Number | None = None
    film_left_um: Number | None = None
    u_film_um: Number | None = None
    beside_um: list[Number] | None = None
    depth_mm: list[Number] | None = None
    u_depth_mm: Number | None = None
    smooth: bool | None = None


class Correction(Seen):
    """A value that was wrong when it was written."""

    entry: Word
    field: Word
    old: Any
    new: Any
    because: Prose
    at: Moment | None = None
    password: Password | None = None


class Voiding(Seen):
    """An entry that must not count."""

    entry: Word
    because: Prose
    at: Moment | None = None
    password: Password | None = None


class Signature(Seen):
    """A hold point, or ``release``, signed on what was looked at; with ``on_covers`` a hold point on what it covers alone."""

    on_covers: Digest | None = None
    what: Choice
    repair: Word | None = None
    meaning: Prose
    password: Password


class Decision(Seen):
    """The engineer's answer. A repair all the same needs the steps (``instruction``) and a ``number``; ``limits`` by keys."""

    decision: Choice
    because: Prose
    instruction: Prose | None = None
    number: Word | None = None
    limits: dict[Word, Number] | None = None
    expires: Moment | None = None
    accepted_by: Prose | None = None
    old_film_um_min: Number | None = None
    password: Password


class NewPerson(Body):
    """A person and the login of the account."""

    id: Word
    name: Word
    role: Word
    login: Word
    password: Password
    qualified_until: Moment | None = None
    qualified_for: list[str] = []
    qualified_plate_mm_min: Number | None = None
    qualified_plate_mm_max: Number | None = None
    certificate: Word | None = None


class Confirmed(Body):
    """Nothing but the password again."""

    password: Password


class ById(Body):
    """Something of the register by its id, the reason, and the password again."""

    id: Word
    because: Prose
    password: Password


class Confirmation(Body):
    """A person by their id, and the password again."""

    id: Word
    password: Password


class Calibration(Body):
    """A calibration; ``tol_pct`` and ``tol`` are half-widths, ``tol`` in the instrument's own unit."""

    id: Word
    calibrated_on: Moment
    calibration_due: Moment
    certificate: Word | None = None
    tol_pct: Number = 0
    tol: Number = 0


class Instrument(Calibration):
    """An instrument with its calibration."""

    kind: Word


class Lot(Body):
    """A lot of powder, primer, solvent or abrasive."""

    id: Word
    kind: Word
    expires: Moment
    polymer: Word | None = None
    opened_on: Moment | None = None


class Proposal(Body):
    """A procedure as TOML."""

    id: Annotated[str, _at_most(60), _drawn(60)]
    text: Annotated[str, _at_most(200_000), _drawn(200_000)]
    because: Prose


class Approval(Body):
    """The text that is approved, by its digest."""

    sha256: Digest
    password: Password
