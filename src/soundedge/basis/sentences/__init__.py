"""Sentences by id and parameters, in the reader's language and units.

A refusal is raised where the fault is seen, with an id and what stands in its blanks; it is English and SI until a door
that knows its reader asks for another text. One catalogue per language: a folder with one TOML file per room, in which a
key is the sentence's id.

    en/conditions.toml     steel_too_cold = "Steel is {steel:.1f@°C}; the dew point is {dew:.1f@°C}. Warm the steel."

>>> raised = Sentence("test.cold", "Steel is {steel:.1f@°C}, {n:1 reading|# readings}.", {"steel": 12.5, "n": 3})
>>> raised
'Steel is 12.5 °C, 3 readings.'
>>> raised.id, raised.text(units="us")
('test.cold', 'Steel is 54.5 °F, 3 readings.')

In a blank: ``{x}``, ``{x:.1f}`` and ``{x!r}`` as Python writes them; ``{x:.1f@um}`` with a unit, which follows the reader;
``{x:@-um}`` the number without its unit, ``{unit:unit}`` the unit alone; ``{n:1 entry|# entries}`` by number; ``{name:word}``
an English word of the program, looked up in ``words/de.toml``. A sentence, or a list of words, may itself be a parameter.
"""

from __future__ import annotations

import math
import string
import tomllib
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

from ..unit_table import shown, shown_in

FOLDER = Path(__file__).parent
LANGUAGES = ("en", "de")
_AND = {"en": "and", "de": "und"}


class Sentence(str):
    """An English sentence that knows its id and parameters, so that a door can say it to another reader."""

    id: str
    params: dict[str, Any]
    _template: str

    def __new__(cls, id: str, template: str, params: dict[str, Any]) -> Sentence:
        made = super().__new__(cls, _Blanks("en", "metric").vformat(template, (), params))
        made.id, made.params, made._template = id, params, template
        return made

    def text(self, language: str = "en", units: str = "metric") -> str:
        """The sentence for a reader of a language, with ``metric`` or ``us`` units; English where no translation is held."""
        template = catalogue(language).get(self.id, self._template)
        return _Blanks(language, units).vformat(template, (), self.params)

    def as_json(self) -> dict[str, Any]:
        """Id and parameters as plain values, for a program that says it itself."""
        return {"id": self.id, "params": {name: _plain(value) for name, value in self.params.items()}}

    def __reduce__(self) -> tuple[Any, ...]:
        return Sentence, (self.id, self._template, self.params)


def say(id: str, /, **params: Any) -> Sentence:
    """The sentence of an id.

    Parameters
    ----------
    id : str
        Room and key: ``"conditions.steel_too_cold"`` stands in ``en/conditions.toml`` as ``steel_too_cold``.
    **params
        What stands in its blanks; numbers in the house's units.

    Raises
    ------
    KeyError
        No such id, or a blank without its parameter: a mistake in the program, never in what a person gave.
    """
    return Sentence(id, catalogue("en")[id], params)


def told(answer: Any, language: str, units: str = "metric") -> Any:
    """An answer for a reader: every sentence in it in their language and units, all else as it is."""
    if isinstance(answer, Sentence):
        return answer.text(language, units)
    if isinstance(answer, dict):
        return {key: told(value, language, units) for key, value in answer.items()}
    if isinstance(answer, (list, tuple)):
        return [told(value, language, units) for value in answer]
    return answer


def _plain(value: Any) -> Any:
    if isinstance(value, Sentence):
        return value.as_json()
    if isinstance(value, (list, tuple)):
        return [_plain(part) for part in value]
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    if value is None or isinstance(value, (str, int, float)):
        return value
    return value.isoformat() if isinstance(value, date) else str(value)


@cache
def catalogue(language: str) -> dict[str, str]:
    """All sentences of a language by id; empty for a language that is not held."""
    found = {}
    for file in sorted((FOLDER / language).glob("*.toml")) if language in LANGUAGES else ():
        for key, text in tomllib.loads(file.read_text(encoding="utf-8")).items():
            found[f"{file.stem}.{key}"] = text
    return found


@cache
def words(language: str) -> dict[str, str]:
    """What the program's English words in blanks (names of quantities, next moves, kinds) are called in a language."""
    file = FOLDER / "words" / f"{language}.toml"
    return tomllib.loads(file.read_text(encoding="utf-8")) if language in LANGUAGES and file.exists() else {}


class _Blanks(string.Formatter):
    """How one reader's blanks are filled."""

    def __init__(self, language: str, units: str) -> None:
        self.language, self.units = language, units

    def format_field(self, value: Any, spec: str) -> str:
        if isinstance(value, Sentence):
            return value.text(self.language, self.units)
        if isinstance(value, (list, tuple)):
            return self._joined([self.format_field(part, spec) for part in value])
        if spec == "word":
            return words(self.language).get(str(value), str(value))
        if "|" in spec:
            one, many = spec.split("|")
            return (one if value == 1 else many).replace("#", str(value))
        if spec == "unit":
            return f" {shown_in(value, self.units).unit}" if value else ""
        number, at, unit = spec.partition("@")
        if not at:
            return self._pointed(value, str(super().format_field(value, spec)))
        read = shown_in(unit.removeprefix("-"), self.units)
        if not isinstance(value, (int, float)):
            text, read = str(value), shown_in(unit, "metric")
        elif read.factor != 1 or read.offset:
            text = f"{(value - read.offset) / read.factor:.3g}"
        else:
            text = str(super().format_field(value, number)) if number else shown(value)
        text = self._pointed(value, text)
        return text if unit.startswith("-") else f"{text} {read.unit}".rstrip()

    def _pointed(self, value: Any, text: str) -> str:
        """A number with the decimal sign of its reader."""
        return text.replace(".", ",") if self.language == "de" and isinstance(value, float) else text

    def _joined(self, parts: list[str]) -> str:
        if len(parts) < 2:
            return "".join(parts)
        return f"{', '.join(parts[:-1])} {_AND.get(self.language, 'and')} {parts[-1]}"
