"""The engineer's answer, hold points, corrections, and the release: entries that decide."""

from __future__ import annotations

from typing import Any, Literal

from ...basis.on_paper import words
from ...basis.quantity import Prose, Word
from ...basis.question import Request
from ...basis.sentences import say
from .kind import ELSEWHERE, ENGINEER, EVERYBODY, INSPECTOR, MANAGER, Kind
from .values import HoldPoint


class EscalationDecided(Request):
    """The engineer's answer when the procedure does not allow the repair as it stands.

    To repair all the same needs a written ``instruction`` with its ``number``; ``limits`` are the procedure's limits that it
    replaces, by their keys and in their units. They then govern.
    """

    decision: Literal["repair_as_instructed", "strip_and_reline", "scrap"]
    because: Prose
    instruction: Prose | None = None
    number: Word | None = None
    limits: dict[Word, float] | None = None


class HoldPointSigned(Request):
    """A hold point, signed by a person for what they reviewed."""

    hold_point: HoldPoint
    repair: Word | None = None
    meaning: Prose


class EntryCorrected(Request):
    """A value that was wrong when it was written: the old value stays, the new one counts from now on."""

    entry: Word
    field: Word
    old: Any
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
    Kind("hold_point.signed", HoldPointSigned, "Hold point signed", lambda b: f"{words(b.hold_point)}: {b.meaning}",
         names_repair=True,
         section="sign", act="sign", step="hold_points", roles=frozenset({INSPECTOR}), adds=False, not_corrected=_SIGNED,
         signature=lambda b: f"{words(b.hold_point).capitalize()}: {b.meaning}"),
    Kind("entry.corrected", EntryCorrected, "Entry corrected", ELSEWHERE,
         section="correction", roles=EVERYBODY, adds=False, not_corrected=_CHANGE, not_voided=_CHANGE),
    Kind("entry.voided", EntryVoided, "Entry does not count", ELSEWHERE,
         section="void", roles=EVERYBODY, adds=False, not_corrected=_CHANGE, not_voided=_CHANGE),
    Kind("release.signed", ReleaseSigned, "Release signed", lambda b: b.meaning,
         section="release", act="release", many=False, step="release", roles=frozenset({INSPECTOR, MANAGER}), adds=False,
         follows=("holiday",), not_corrected=_SIGNED, not_voided=say("kinds.release_stays"),
         signature=lambda b: f"Release: {b.meaning}"),
)
