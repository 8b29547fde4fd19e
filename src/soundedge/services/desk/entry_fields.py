"""What must a form ask so that one kind of entry can be written down? Read off the kind's own body, so that no form can
ask something else than the record keeps.

>>> [field.name for field in fields_of("air.read")]
['air_c', 'rh_pct', 'steel_c', 'instrument', 'confirmed']
>>> air = fields_of("air.read")[0]
>>> air.label, air.unit, air.type, air.required
('Air temperature', '°C', 'number', True)
>>> shown_in(air.unit, "us")
Shown(unit='°F', factor=0.5555555555555556, offset=-17.77777777777778)
"""

from __future__ import annotations

import re
import types
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from ...basis.errors import Unreadable
from ...basis.named import OneOf
from ...basis.quantity import Quantity
from ...basis.sentences import say
from ...basis.unit_table import shown_in
from ...job.case import EVIDENCE
from ...job.kinds import HOLD_POINTS, KINDS, WRITTEN_BY_THE_BENCH


@dataclass(frozen=True)
class Field:
    """One thing to ask: its key, what it is called, its unit, its sort (number, text, prose, flag, choice, time, list,
    json), what may be chosen, and whether it must be given. ``of_data``: the choices are entries of a file of data, which
    says itself what each is called."""

    name: str
    label: str
    type: str
    unit: str = ""
    required: bool = False
    default: Any = None
    choices: tuple[str, ...] = ()
    whole: bool = False
    rule: str = ""
    fields: tuple[Field, ...] = ()
    of_data: bool = False


# Keys whose quantity is shared with others and says too little beside a field.
_CALLED = {
    "radius_mm": "Radius",
    "lined_area_mm2": "Lined area",
    "lel_pct": "Share of the lower explosive limit",
    "covered_pct": "Share of the zones covered",
    "reference_um": "Thickness of the shim",
    "coupon_um": "Film of the test coupon",
    "verified_v": "Voltage measured at the electrode",
    "x": "Place on the part, x",
    "y": "Place on the part, y",
    "d": "Diameter",
    "a": "Length",
    "b": "Width",
    "angle_deg": "Angle of its length from x",
    "ml": "Amount of solvent",
    "space_l": "Space it fills",
    "ambient_c": "Air round the part",
    "ellipse_mm": "Place and size",
}
_OWN = ("Angle from 12 o'clock",)  # called by its own name, though its key is another's too


def held_as(label: str, typed: str, unit: str, units: str) -> float:
    """A number as a person of ``units`` typed it, in the house's own unit.

    Raises
    ------
    Unreadable
        No number.
    """
    try:
        number = float(typed.strip().replace(",", ".").replace("\u2212", "-"))
    except ValueError:
        raise Unreadable(label, say("desk.field_not_number", label=label, typed=typed[:40])) from None
    shown = shown_in(unit, units)
    return number if shown.factor == 1 and not shown.offset else round(shown.factor * number + shown.offset, 6)


@cache
def fields_of(kind: str) -> tuple[Field, ...]:
    """What the body of a kind asks, in its own order."""
    return _fields(KINDS[kind].body)


def label_of(kind: str) -> str:
    """What an entry of this kind is called."""
    return KINDS[kind].label


def pages_of_kinds() -> dict[str, tuple[str, str]]:
    """Kind → what it is called, and the page of a job on which it is made; empty where it has no page."""
    return {kind.name: (kind.label, (kind.page or kind.step) if kind.adds else "") for kind in KINDS.values()}


def every_word() -> tuple[str, ...]:
    """Every key and label that a form or a list of entries can show, each once, in order: what a translation must know."""
    found: dict[str, None] = {}

    def take(fields: tuple[Field, ...]) -> None:
        for field in fields:
            for word in (field.label, field.name, *(() if field.of_data else field.choices)):
                found[word] = None
            take(field.fields)

    for kind in KINDS.values():
        found[kind.label] = None
        take(fields_of(kind.name))
    return tuple(sorted(found))


def plain_words(key: str) -> str:
    """``air.read`` → air read, ``dew_margin`` → dew margin; a number or a job's own number stays as it is.

    >>> plain_words("hot_work.ended"), plain_words("12.5"), plain_words("KBW-LP-04")
    ('hot work ended', '12.5', 'KBW-LP-04')
    """
    return re.sub(r"(?<=[a-z0-9])[._](?=[a-z])|(?<=[a-z])[._](?=[0-9])", " ", key)


def missing_words() -> tuple[str, ...]:
    """Every key that a job's list of what was not measured can hold (job/steps)."""
    steps = ("film", "layers", "instruments", "air_log", "surface_prepared", "release_signed", "holiday_test",
             "damage_outlined")
    return tuple(dict.fromkeys([*EVIDENCE, *steps, *(f"hold_point_{point}" for point in HOLD_POINTS)]))


def _fields(model: type[BaseModel]) -> tuple[Field, ...]:
    out = []
    for name, info in model.model_fields.items():
        if name in WRITTEN_BY_THE_BENCH:
            continue
        default = None if info.default is PydanticUndefined else info.default
        out.append(_field(name, info.annotation, list(info.metadata), info.is_required(), default))
    return tuple(out)


def _field(name: str, kind: Any, marks: list[Any], required: bool, default: Any) -> Field:
    kind, marks = _bare(kind, marks)
    label = name.replace("_", " ").capitalize()
    for mark in marks:
        if isinstance(mark, Quantity):
            called = mark.name if mark.name in _OWN else _CALLED.get(name, mark.name)
            must = required or (name in ("x", "y") and default is not None)  # a place left empty is not the middle of the part
            return Field(name, called, "number", mark.unit, must, default, whole=mark.whole, rule=mark.rule())
        if isinstance(mark, OneOf):
            return Field(name, label, "choice", "", required, default, mark.held(), of_data=True)
    said = " ".join(type(mark).__name__ for mark in marks)
    if "_InstantRule" in said:
        return Field(name, label, "time", "", required, default)
    if "_TextRule" in said:
        long = any(getattr(mark, "most", 0) > 200 for mark in marks)
        return Field(name, label, "prose" if long else "text", "", required, default)
    if kind is bool:
        return Field(name, label, "flag", "", required, default)
    if get_origin(kind) is Literal:
        return Field(name, label, "choice", "", required, default, tuple(map(str, get_args(kind))))
    if get_origin(kind) is list:
        inner, inner_marks = _bare(get_args(kind)[0], [])
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            return Field(name, label, "list", "", required, None, fields=_fields(inner))
        one = _field(name, inner, inner_marks, True, None)
        return Field(
            name, one.label if one.type == "number" else label, f"list_{one.type}", one.unit, required, None, one.choices,
            of_data=one.of_data,
        )
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return Field(name, _CALLED.get(name, label), "group", "", required, None, fields=_fields(kind))
    return Field(name, label, "json", "", required, None)


def _bare(kind: Any, marks: list[Any]) -> tuple[Any, list[Any]]:
    """The sort itself, without ``Annotated`` and ``None``, and every mark found on the way."""
    while True:
        if get_origin(kind) is Annotated:
            kind, *more = get_args(kind)
            marks = marks + more
        elif get_origin(kind) in (Union, types.UnionType):
            kind = next(part for part in get_args(kind) if part is not type(None))
        else:
            return kind, marks
