"""May this new name become a file or a key? What is two names here must be two names on every file system.

Some systems keep names for themselves (``CON``, also as ``con.txt``), drop a dot at the end, or take ``J-1`` and ``j-1``
for one. Only new names are asked; what was kept under such a name stays readable.

>>> check_new_name("number", "the job number", "KBW-7", ["KBW-6"])
>>> check_new_name("number", "the job number", "kbw-6", ["KBW-6"])
Traceback (most recent call last):
...
soundedge.basis.errors.Contradiction: 'kbw-6' differs only in capitals from 'KBW-6', ...
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from .errors import Contradiction, Unreadable
from .sentences import say

# Reserved device names: Microsoft, "Naming Files, Paths, and Namespaces" (from memory); superscript digits count there too.
RESERVED = frozenset(("CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in range(10))))


def check_new_name(field: str, what: str, name: str, held: Iterable[str] = ()) -> None:
    """Refuse a new name that is reserved, ends in a dot or a blank, or differs from one in ``held`` only in capitals.

    Raises
    ------
    Unreadable
        Reserved somewhere, or a dot or a blank at its end.
    Contradiction
        One in ``held`` is the same but for capitals. The very same name is not this rule's affair.
    """
    if one_name(name).split(".")[0].strip().upper() in RESERVED:
        raise Unreadable(field, say("basis.name_reserved", name=name[:60], what=what))
    if name != name.rstrip(". "):
        raise Unreadable(field, say("basis.name_ends_in_dot", name=name[:60], what=what))
    same, others = one_name(name), list(held)
    if name not in others:
        for other in others:
            if one_name(other) == same:
                raise Contradiction(field, say("basis.name_differs_in_capitals", name=name[:60], other=other[:60], what=what))


def one_name(name: str) -> str:
    """A name as a file system that minds neither capitals nor the form of letters has it."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
