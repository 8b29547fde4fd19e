"""Which names does a file of data hold, and what is each called in print?

A polymer, a metal or a rule is one entry in a TOML file. A request takes its name by ``OneOf``: read from the file each
time, so that a new entry is known in every room and every form at once.

>>> from typing import Annotated
>>> from pydantic import TypeAdapter
>>> fruit = TypeAdapter(Annotated[str, OneOf("fruit", lambda: ["apple", "pear"])])
>>> fruit.validate_python("pear"), fruit.json_schema()["enum"]
('pear', ['apple', 'pear'])
>>> in_language({"en": "pear", "de": "Birne"}, "de"), in_language("ECTFE", "de")
('Birne', 'ECTFE')
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from pydantic_core import core_schema

from .question import refuse
from .sentences import say

Said = str | dict[str, str]
"""What an entry is called: one text for every language, or a table by language with ``en`` in it."""


class OneOf:
    """Annotation of a text: one of the names that are held. Any other is refused with those that are.

    Parameters
    ----------
    noun : str
        What the name is of: "polymer".
    names : function
        Returns the names held, in the order of their file.
    """

    def __init__(self, noun: str, names: Callable[[], Iterable[str]]) -> None:
        self.noun, self.names = noun, names

    def held(self) -> tuple[str, ...]:
        """The names, as the file stands now."""
        return tuple(self.names())

    def _one(self, name: str) -> str:
        if name not in self.held():
            raise refuse("unknown", say("basis.material_unknown", kind=self.noun, key=name[:40],
                                    known=", ".join(sorted(self.held()))))
        return name

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_after_validator_function(self._one, core_schema.str_schema(strict=True))

    def __get_pydantic_json_schema__(self, schema: core_schema.CoreSchema, handler: Any) -> dict[str, Any]:
        return {"type": "string", "enum": list(self.held())}


def in_language(said: Said, language: str) -> str:
    """What an entry is called for a reader of a language; English where it has no word of its own."""
    return said if isinstance(said, str) else said.get(language, said["en"])
