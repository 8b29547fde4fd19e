"""How does a number come through the door with its name, its unit and its fence?

A room writes the kinds of number it takes once, and every door (Python, command, page, record)
refuses the impossible in the same words.

>>> rh = Quantity("Relative humidity", "%", above=0, at_most=100,
...               next_move="A hygrometer that shows more is wet: dry it and read again.")
>>> rh.check(63)
63.0
>>> rh.check(106)
Traceback (most recent call last):
    ...
ValueError: Relative humidity is 106 %; it must be above 0 and at most 100 %. \
A hygrometer that shows more is wet: dry it and read again.

In a request it is an annotation: ``rh_pct: Annotated[float, rh]``.
"""

from __future__ import annotations

import math
import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from pydantic_core import PydanticCustomError, core_schema

from .sentences import Sentence, say
from .unit_table import shown as shown

# No bench measures or sets less: a number nearer to zero counts as zero, and meets the fence as such.
SMALLEST = 1e-30


@dataclass(frozen=True)
class Quantity:
    """A kind of number: its name in words, its unit, the range an honest value lies in, the next move.

    ``whole`` asks for a whole number. The range is a plausibility fence or a formula's range of
    validity, not an acceptance limit.
    """

    name: str
    unit: str = ""
    above: float | None = None
    at_least: float | None = None
    below: float | None = None
    at_most: float | None = None
    next_move: str = ""
    whole: bool = False

    def check(self, value: Any) -> float:
        """The value as a float (or int when ``whole``), or ValueError with the full sentence."""
        try:
            return self.read(value, decimal_strings=False)
        except NotThat as bad:
            raise ValueError(bad.message) from None

    def rule(self) -> str:
        """The range in words: ``above 0 and at most 100 %``."""
        parts = []
        if self.above is not None:
            parts.append(say("basis.above", bound=self.above, unit=self.unit))
        if self.at_least is not None:
            parts.append(say("basis.at_least", bound=self.at_least, unit=self.unit))
        if self.below is not None:
            parts.append(say("basis.below", bound=self.below, unit=self.unit))
        if self.at_most is not None:
            parts.append(say("basis.at_most", bound=self.at_most, unit=self.unit))
        return say("basis.range", parts=parts, unit=self.unit)

    def read(self, value: Any, *, decimal_strings: bool) -> float:
        """As ``check``, raising ``NotThat``; decimal strings are taken only from a record."""
        if decimal_strings and isinstance(value, str):
            try:
                value = float(Decimal(value))
            except (InvalidOperation, ValueError, OverflowError):
                pass  # refused below, by name
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise NotThat(
                "unreadable",
                say("basis.quantity_not_a_number", name=self.name, given=_quoted(value), of_unit=self._of_unit()),
            )
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            raise NotThat(
                "out_of_range",
                say("basis.quantity_not_finite", name=self.name, number=number, of_unit=self._of_unit()),
            )
        if abs(number) < SMALLEST:
            number = 0.0
        if (
            (self.above is not None and not number > self.above)
            or (self.at_least is not None and not number >= self.at_least)
            or (self.below is not None and not number < self.below)
            or (self.at_most is not None and not number <= self.at_most)
        ):
            raise NotThat(
                "out_of_range",
                say("basis.quantity_out_of_range", name=self.name, number=number, unit=self.unit, rule=self.rule(),
                    move=self.next_move or "Check the value and its unit."),
            )
        if self.whole:
            if number != int(number):
                raise NotThat("out_of_range", say("basis.quantity_not_whole", name=self.name, number=shown(number)))
            return int(number)
        return number

    def _of_unit(self) -> str:
        return say("basis.of_unit", unit=self.unit) if self.unit else ""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any, info: core_schema.ValidationInfo) -> float:
            context = info.context or {}
            try:
                return self.read(value, decimal_strings=bool(context.get("decimal_strings")))
            except NotThat as bad:
                raise PydanticCustomError(bad.kind, "{message}", {"message": bad.message}) from None

        return core_schema.with_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        out: dict[str, Any] = {"type": "integer" if self.whole else "number"}
        if self.above is not None:
            out["exclusiveMinimum"] = self.above
        if self.at_least is not None:
            out["minimum"] = self.at_least
        if self.below is not None:
            out["exclusiveMaximum"] = self.below
        if self.at_most is not None:
            out["maximum"] = self.at_most
        out["description"] = f"{self.name} [{self.unit or '1'}]"
        return out


class NotThat(ValueError):
    """A value that is not of its kind: ``kind`` is a word of the error family, the text a full sentence."""

    def __init__(self, kind: str, message: Sentence) -> None:
        super().__init__(message)
        self.kind = kind
        self.message = message


def _quoted(value: Any) -> str:
    if value is None:
        return "empty"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (list, tuple)):
        return "a list"
    if isinstance(value, dict):
        return "an object"
    text = str(value)
    shown_text = text[:40].encode("utf-8", "backslashreplace").decode()  # half a character is written out
    return f"'{shown_text}{'…' if len(text) > 40 else ''}'"


class _TextRule:
    def __init__(self, most: int, *, strip: bool = False) -> None:
        self.most, self.strip = most, strip

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any) -> str:
            if not isinstance(value, str):
                raise PydanticCustomError(
                    "unreadable",
                    "{message}",
                    {"message": say("basis.text_not_quoted", given=_quoted(value))},
                )
            text = unicodedata.normalize("NFC", value)
            if not text.strip():
                raise PydanticCustomError("missing", "{message}", {"message": say("basis.text_empty")})
            if len(text) > self.most:
                raise PydanticCustomError(
                    "out_of_range",
                    "{message}",
                    {"message": say("basis.text_too_long", n=len(text), most=self.most)},
                )
            for c in text:
                if unicodedata.category(c) in ("Cc", "Cs") and c not in "\n\t":
                    raise PydanticCustomError(
                        "unreadable",
                        "{message}",
                        {"message": say("basis.text_control_character", code=ord(c))},
                    )
            return text.strip() if self.strip else text

        return core_schema.no_info_plain_validator_function(read)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": self.most}


Word = Annotated[str, _TextRule(120, strip=True)]
"""A short text: an id, a name, a lot. 1 to 120 characters, NFC, no control characters, no blanks around it:
``"A "`` and ``"A"`` are one id."""

Prose = Annotated[str, _TextRule(2000)]
"""A longer text: a reason, a remark. 1 to 2000 characters, NFC, no control characters."""


def read_instant(text: Any) -> datetime:
    """A moment from its ISO 8601 text; a time without a zone is read as UTC.

    Raises ValueError with a full sentence.

    >>> read_instant("2031-05-04T09:12:00+02:00").isoformat()
    '2031-05-04T07:12:00+00:00'
    """
    if isinstance(text, datetime):
        moment = text
    else:
        try:
            if not isinstance(text, str) or len(text) < 10:
                raise ValueError
            moment = datetime.fromisoformat(text.strip())
        except ValueError:
            raise NotThat("unreadable", say("basis.time_unreadable", text=_quoted(text))) from None
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=UTC)
    try:
        return moment.astimezone(UTC)
    except OverflowError:
        raise NotThat("out_of_range", say("basis.time_outside_calendar", text=_quoted(text))) from None


class _InstantRule:
    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def read(value: Any) -> datetime:
            try:
                return read_instant(value)
            except NotThat as bad:
                raise PydanticCustomError(bad.kind, "{message}", {"message": bad.message}) from None

        return core_schema.no_info_plain_validator_function(
            read,
            serialization=core_schema.plain_serializer_function_ser_schema(instant_text, when_used="json"),
        )

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "string", "format": "date-time"}


def instant_text(moment: datetime) -> str:
    """The one way a moment is written: UTC, ending in Z.

    >>> instant_text(read_instant("2031-05-04T09:12:00+02:00"))
    '2031-05-04T07:12:00Z'
    """
    return moment.astimezone(UTC).isoformat().replace("+00:00", "Z")


Instant = Annotated[datetime, _InstantRule()]
"""A moment, from ISO 8601 text; kept in UTC."""
