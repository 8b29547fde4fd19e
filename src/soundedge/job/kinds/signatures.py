"""The engineer's answer, hold points, corrections, and the release: entries that decide."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import PlainValidator, ValidationInfo, WithJsonSchema

from ...basis.errors import BenchError
from ...basis.on_paper import words
from ...basis.procedure import LIMITS, read_limit
from ...basis.quantity import Instant, Prose, Word
from ...basis.question import Request, refuse
from ...basis.sentences import say
from .kind import ELSEWHERE, ENGINEER, EVERYBODY, INSPECTOR, MANAGER, Kind, of_repair
from .values import HoldPoint, OldFilmUm


def _limits(given: Any, info: ValidationInfo) -> dict[str, float] | None:
    """Limits by their keys: a number in the key's own unit, or ``{value, unit}``; each within its fence."""
    if given is None:
        return None
    if not isinstance(given, dict):
        raise refuse("unreadable", say("basis.limits_not_a_table"))
    record = bool((info.context or {}).get("decimal_strings"))
    try:
        return {key: read_limit(key, value, decimal_strings=record) for key, value in given.items()}
    except BenchError as bad:
        raise refuse(bad.kind, bad.message) from None


Replaced = Annotated[dict[str, float], PlainValidator(_limits), WithJsonSchema(
    {"type": "object", "description": "Limits of the procedure that are replaced, by their keys, in their units",
     "propertyNames": {"enum": list(LIMITS)}, "additionalProperties": {"type": "number"}})]


class EscalationDecided(Request):
    """The engineer's answer when the procedure does not allow the repair as it stands.

    To repair all the same needs a written ``instruction`` (the steps) with its ``number``; ``limits`` are the limits of the
    procedure that it replaces, by their keys and in their units. They then govern, until ``expires`` where a moment is
    named. ``accepted_by`` is the owner's name with the number of the letter, where the procedure asks for it.
    ``old_film_um_min``: the thinnest old film that is accepted where nobody worked; the limits of new film stay.
    """

    decision: Literal["repair_as_instructed", "strip_and_reline", "scrap", "return_to_owner"]
    because: Prose
    instruction: Prose | None = None
    number: Word | None = None
    limits: Replaced | None = None
    expires: Instant | None = None
    accepted_by: Prose | None = None
    old_film_um_min: OldFilmUm | None = None


class HoldPointSigned(Request):
    """A hold point, signed by a person for what they reviewed; ``covers``: the fingerprint of that (record/covered.py)."""

    hold_point: HoldPoint
    repair: Word | None = None
    meaning: Prose
    covers: Word | None = None


class EntryCorrected(Request):
    """A value that was wrong when it was written: the old value stays, the new one counts from now on. What was not said
    then had no value: ``old`` is None."""

    entry: Word
    field: Word
    old: Any = None
    new: Any
    because: Prose


class EntryVoided(Request):
    """An entry that must not count, with the reason. It stays in the record and is printed."""

    entry: Word
    because: Prose


class ReleaseSigned(Request):
    """A person asks for release and says what it means."""

    meaning: Prose


_SIGNED = say("kinds.signed_is_not_corrected")
_CHANGE = say("kinds.change_is_not_changed")

KINDS = (
    Kind("escalation.decided", EscalationDecided, "Engineer decided", lambda b: words(b.decision),
         section="engineer", step="disposition", roles=frozenset({ENGINEER}), adds=False, not_corrected=_SIGNED,
         signature=lambda b: f"Decision: {words(b.decision)}"),
    Kind("hold_point.signed", HoldPointSigned, "Hold point signed",
         lambda b: f"{of_repair(b)}{words(b.hold_point)}: {b.meaning}", names_repair=True,
         section="sign", act="sign", step="hold_points", roles=frozenset({INSPECTOR}), adds=False, not_corrected=_SIGNED,
         signature=lambda b: f"{words(b.hold_point).capitalize()}{f', repair {b.repair}' if b.repair else ''}: {b.meaning}"),
    Kind("entry.corrected", EntryCorrected, "Entry corrected", ELSEWHERE,
         section="correction", roles=EVERYBODY, adds=False, not_corrected=_CHANGE, not_voided=_CHANGE),
    Kind("entry.voided", EntryVoided, "Entry does not count", ELSEWHERE,
         section="void", roles=EVERYBODY, adds=False, not_corrected=_CHANGE, not_voided=_CHANGE),
    Kind("release.signed", ReleaseSigned, "Release signed", lambda b: b.meaning,
         section="release", act="release", many=False, step="release", roles=frozenset({INSPECTOR, MANAGER}), adds=False,
         follows=("holiday",), not_corrected=_SIGNED, not_voided=say("kinds.release_stays"),
         signature=lambda b: f"Release: {b.meaning}"),
)
