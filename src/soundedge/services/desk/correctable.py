"""What can be corrected in a job, and how each is asked: the values that stand there, each with the field it is kept in; and
of an entry that is written once, like the part, what was not said of it.

>>> [(one.field, one.old, one.value) for one in _flat({"spots": [{"id": "S1", "readings_um": ["940", "955"]}]}, ())]
[('spots.0.id', 'S1', 'S1'), ('spots.0.readings_um.0', '940', '940'), ('spots.0.readings_um.1', '955', '955')]
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from ...basis.sentences import Sentence
from ...job.kinds import KINDS, SIGNED, WRITTEN_BY_THE_BENCH
from .entry_fields import Field, fields_of

# An outline is drawn again, not corrected point by point; a photo's answer is measured again.
LEFT_OUT = frozenset({"outline_mm", "shape_mm", "survey", "procedure", "procedure_sha256", "photo_sha256", "sha256", "refused",
                      "set_aside", *WRITTEN_BY_THE_BENCH})


_ONE_VALUE = ("number", "text", "prose", "choice", "time", "flag")


@dataclass(frozen=True)
class Value:
    """One value of an entry: the field as a correction names it, the path in words, what stands there, and how it is asked."""

    field: str
    words: tuple[str, ...]
    old: Any
    value: Any
    asked: Field | None = None


def stands_signed(job: Any) -> bool:
    """Whether a signature or decision counts in this job; if so, changing what was reviewed needs the password again."""
    return any(event.kind in SIGNED for event in job.events)


def why_not_corrected(kind: str) -> Sentence | None:
    """Why no entry of this kind may be corrected; None when it may be."""
    return KINDS[kind].not_corrected


def why_not_voided(kind: str) -> Sentence | None:
    """Why no entry of this kind may be voided; None when it may be."""
    return KINDS[kind].not_voided


def values_of(event: Any) -> list[Value]:
    """The values of one entry that a correction may name, in the order in which they were asked."""
    if why_not_corrected(event.kind):
        return []
    raw = event.body.model_dump(mode="json", exclude_unset=True)
    asked = {field.name: field for field in fields_of(event.kind)}
    unsaid = [Value(name, (name.replace("_", " "),), None, None) for name, field in asked.items()
              if why_not_voided(event.kind) and raw.get(name) is None and name not in LEFT_OUT and field.type in _ONE_VALUE]
    said = [one for one in _flat(raw, ()) if one.field not in {other.field for other in unsaid}]
    return [replace(one, asked=_asked(one.field.split("."), asked)) for one in (*said, *unsaid)]


def _flat(node: Any, path: tuple[str, ...]) -> Iterator[Value]:
    if path and path[-1] in LEFT_OUT:
        return
    if isinstance(node, dict):
        for key, inner in node.items():
            yield from _flat(inner, (*path, str(key)))
    elif isinstance(node, list):
        for place, inner in enumerate(node):
            yield from _flat(inner, (*path, str(place)))
    else:
        said = tuple(str(int(part) + 1) if part.isdigit() else part.replace("_", " ") for part in path)
        yield Value(".".join(path), said, node, node)


def question_of(kind: str, path: str) -> Field | None:
    """The question that a value of an entry answers, by the dotted path the record keeps it under; None when it has none."""
    return _asked(path.split("."), {field.name: field for field in fields_of(kind)})


def _asked(path: list[str], fields: dict[str, Field]) -> Field | None:
    """The question that a path answers; None when it has no single one."""
    found: Field | None = None
    for part in path:
        if part.isdigit():
            continue
        found = fields.get(part)
        if found is None:
            return None
        fields = {inner.name: inner for inner in found.fields}
    if found is not None and found.type.startswith("list_"):
        return replace(found, type=found.type.removeprefix("list_"))
    return found
