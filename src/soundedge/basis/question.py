"""How does a room take its question and give its answer, the same on every door?

A room has ``ask.py`` with ``FORMS``: one or more pairs of request and answer, and the pure function
between them. A request is read strictly: unknown keys, text in a number, NaN, a value outside its
fence are each refused by name.

    FORMS = (Form("vapour", marked_by="solvent", request=VapourRequest, answer=VapourAnswer, work=vapour),
             Form("touch", marked_by="surface", request=TouchRequest, answer=TouchAnswer, work=touch))
    answer(FORMS, {"solvent": "acetone", …})        →  VapourAnswer
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from . import errors
from .errors import BenchError, Missing, OutOfRange, Unknown, Unreadable
from .finding import Finding
from .sentences import Sentence, say


class Request(BaseModel):
    """A question to a room. Extra keys are refused; numbers are ``Quantity``; nothing is coerced."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, defer_build=True)


class AnswerPart(BaseModel):
    """Something inside an answer."""

    model_config = ConfigDict(extra="forbid", defer_build=True)


class Answer(AnswerPart):
    """A room's answer. Always carries its findings; NaN and infinity never leave the house."""

    model_config = ConfigDict(ser_json_inf_nan="null")

    findings: list[Finding] = []


@dataclass(frozen=True)
class Form:
    """One kind of question a room takes. ``marked_by`` is the key that tells it from the others;
    a room with one form leaves it None."""

    name: str
    request: type[Request]
    answer: type[Answer]
    work: Callable[[Any], Answer]
    marked_by: str | None = None


def read(model: type[BaseModel], raw: Any, *, from_record: bool = False) -> Any:
    """Turn plain JSON values into a request, or raise one BenchError that names the first fault.

    Parameters
    ----------
    model : type of Request
    raw : dict
        As read by ``strict_json.loads``.
    from_record : bool
        Numbers stand as decimal strings, the way the record keeps them.

    Raises
    ------
    Unreadable, OutOfRange, Missing, Unknown, Contradiction
    """
    if not isinstance(raw, dict):
        raise Unreadable("", say("basis.request_not_an_object"))
    try:
        return model.model_validate(raw, context={"decimal_strings": from_record})
    except ValidationError as error:
        raise as_bench_error(error, model) from None


def answer(forms: tuple[Form, ...], raw: Any, *, from_record: bool = False) -> Answer:
    """Read the request, find which form it is, and let the room work."""
    form = pick(forms, raw)
    return form.work(read(form.request, raw, from_record=from_record))


def pick(forms: tuple[Form, ...], raw: Any) -> Form:
    """The form whose mark is among the request's keys; the only one when a room has one."""
    if not isinstance(raw, dict):
        raise Unreadable("", say("basis.request_not_an_object"))
    for form in forms:
        if form.marked_by is not None and form.marked_by in raw:
            return form
    for form in forms:
        if form.marked_by is None:
            return form
    marks = ", ".join(f"'{form.marked_by}'" for form in forms)
    raise Missing("", say("basis.request_without_mark", marks=marks))


def schemas(forms: tuple[Form, ...]) -> dict[str, Any]:
    """Both JSON Schemas of a room: ``{"request": …, "answer": …}``, ``anyOf`` when it has several forms."""

    def joined(models: list[type[BaseModel]], mode: Any) -> dict[str, Any]:
        drawn = [model.model_json_schema(mode=mode) for model in models]
        base = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
        if len(drawn) == 1:
            return base | drawn[0]
        shared: dict[str, Any] = {}
        for one in drawn:
            shared |= one.pop("$defs", {})
        return base | {"anyOf": drawn} | ({"$defs": shared} if shared else {})

    return {
        "request": joined([form.request for form in forms], "validation"),
        "answer": joined([form.answer for form in forms], "serialization"),
    }


_OWN_KINDS = {cls.kind: cls for cls in vars(errors).values() if isinstance(cls, type) and issubclass(cls, BenchError)}


def refuse(kind: str, message: Sentence) -> Exception:
    """Raise this inside a model validator: a fault of several fields together.

    ``raise refuse("contradiction", say("holiday.film_range_crossed", thinnest_um=900, thickest_um=620))``
    """
    from pydantic_core import PydanticCustomError

    return PydanticCustomError(kind, "{message}", {"message": message})


def no_more_than(most: int, what: str) -> Any:
    """For a list in a request: refuse it by its length, before a single entry is read.

    ``profile_um: Annotated[list[Profile], no_more_than(500, "profile readings")]``
    """
    from pydantic import BeforeValidator

    def count(value: Any) -> Any:
        if isinstance(value, (list, tuple)) and len(value) > most:
            raise refuse("out_of_range", say("basis.too_many_given", n=len(value), what=what, most=most))
        return value

    return BeforeValidator(count)


def as_bench_error(error: ValidationError, model: type[BaseModel] | None = None, *, under: int = 0) -> BenchError:
    """The first fault of a pydantic error as one of the family, with a sentence a person can use.

    ``under``: as many leading parts of a field's place are left out.
    """
    try:
        faults = error.errors(include_url=False, include_input=True)
    except UnicodeEncodeError:  # the sentence quotes a text that cannot be written
        return Unreadable("", say("basis.text_half_character"))
    # an unknown key is reported before what it may have caused
    faults.sort(key=lambda fault: fault["type"] != "extra_forbidden")
    fault = faults[0]
    place = fault["loc"][under:]
    field = _path(place)
    kind = fault["type"]
    if kind == "missing" and fault["msg"] == "Field required":
        return Missing(field, say("basis.key_missing", field=field))
    if kind in _OWN_KINDS:
        return _OWN_KINDS[kind](field, (fault.get("ctx") or {}).get("message", fault["msg"]))
    if kind == "extra_forbidden":
        known = ""
        if model and len(place) == 1:
            known = say("basis.known_here", keys=", ".join(model.model_fields))
        return Unknown(field, say("basis.key_unknown", field=field, known=known))
    if kind in ("literal_error", "enum"):
        first, joined, last = str((fault.get("ctx") or {}).get("expected", "")).rpartition(" or ")
        expected = say("basis.either", first=first, last=last) if joined else last
        return Unknown(field, say("basis.value_not_among", field=field, given=_short(fault['input']), known=expected))
    if kind == "too_long":
        return OutOfRange(field, say("basis.too_many_items", field=field, n=len(fault["input"]),
                                     most=fault["ctx"]["max_length"]))
    if kind in _MUST_BE:
        return Unreadable(field, say("basis.value_of_wrong_sort", field=field, given=_short(fault['input']),
                                     must_be=_MUST_BE[kind]))
    message = fault["msg"].rstrip(".")
    return Unreadable(field, say("basis.value_not_taken", field=field, given=_short(fault['input']),
                                 why=message[:1].lower() + message[1:]))


# What pydantic calls a value of the wrong sort, and what it must be, in words for a person.
_MUST_BE = {
    "model_type": "an object of keys and values", "model_attributes_type": "an object of keys and values",
    "dict_type": "an object of keys and values", "list_type": "a list", "tuple_type": "a list", "bool_type": "true or false",
    "string_type": "a text in quotes",
}


def _path(loc: tuple[int | str, ...]) -> str:
    out = ""
    for part in loc:
        if isinstance(part, int):
            out += f"[{part}]"
        elif part.startswith("function-") or "[" in part:
            continue
        else:
            out += ("." if out else "") + part
    return out[:200]


def _short(value: Any) -> str:
    if value is None:
        return "empty"
    if isinstance(value, bool):
        return "true" if value else "false"
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"
