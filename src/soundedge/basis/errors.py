"""What can a person at the bench be told when what they entered cannot be used?

    BenchError
    ├── Unreadable      text, bytes or a picture that is not what it claims to be
    ├── OutOfRange      a value no instrument could honestly have given
    ├── Missing         something needed was not given
    ├── Unknown         a key or a name that is not held here
    ├── NotEnough       too few readings to say anything
    ├── Contradiction   two things given that cannot both be true
    ├── Refused         a measurement that would mislead: no number is given
    ├── Conflict        somebody else has changed the job since
    └── RecordBroken    the record no longer says what it said

A repair that fails a rule is *not* an error: it is an answer, and comes back as a value.
A mistake in our own code is not one either: it is an ``assert``.

Every message names the thing, the value, the rule and the next move.

>>> Unknown("job", Sentence("desk.job_unknown", "There is no job '{job}'.", {"job": "KBW-7"})).as_json()["error"]["message"]
"There is no job 'KBW-7'."
"""

from __future__ import annotations

from typing import Any

from .sentences import Sentence


class BenchError(Exception):
    """Base of the family: a kind (machine word), the field it is about, and a sentence for a person."""

    kind = "bench_error"
    exit_code = 2

    def __init__(self, field: str, message: Sentence) -> None:
        super().__init__(message)
        self.field = field
        self.message = message

    def text(self, language: str = "en", units: str = "metric") -> str:
        """What is told to a reader of a language, in ``metric`` or ``us`` units."""
        return self.message.text(language, units)

    def as_json(self) -> dict[str, dict[str, Any]]:
        """The one shape in which an error leaves the house, on every door; the message is English until a door says it."""
        return {"error": {"kind": self.kind, "field": self.field, "message": self.message, **self.message.as_json()}}


class Unreadable(BenchError):
    """Text, bytes or a picture that is not what it claims to be."""

    kind = "unreadable"


class OutOfRange(BenchError):
    """A value no instrument could honestly have given, or outside a formula's stated range."""

    kind = "out_of_range"


class Missing(BenchError):
    """Something needed was not given."""

    kind = "missing"


class Unknown(BenchError):
    """A key or a name that is not held here."""

    kind = "unknown"


class NotEnough(BenchError):
    """Too few readings to say anything."""

    kind = "not_enough"


class Contradiction(BenchError):
    """Two things given that cannot both be true."""

    kind = "contradiction"


class Refused(BenchError):
    """A measurement that would mislead: the reason is given and no number."""

    kind = "refused"
    exit_code = 3


class Conflict(BenchError):
    """Somebody else has changed the job since it was read."""

    kind = "conflict"


class RecordBroken(BenchError):
    """The record no longer says what it said."""

    kind = "record_broken"
    exit_code = 4
