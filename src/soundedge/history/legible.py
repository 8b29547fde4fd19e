"""Is a name what it looks like? Two people may not carry the same one, however it is spelled.

New names are compared as they look: wide letters count as plain ones; invisible characters and words mixing two
alphabets are refused. What it cannot see: one human under two invented names, or under one name in two whole alphabets.
"""

from __future__ import annotations

import unicodedata

from ..basis.errors import Unreadable
from ..basis.sentences import say

ALPHABETS = ("LATIN", "GREEK", "CYRILLIC", "ARMENIAN", "CHEROKEE", "COPTIC", "LISU")  # whose letters are taken for each other
# Letters and marks that are invisible although they count as printable (Unicode: Default_Ignorable_Code_Point), and U+2800.
_UNSEEN = frozenset(map(chr, (0x34F, 0x115F, 0x1160, 0x17B4, 0x17B5, *range(0x180B, 0x1810), 0x2800, 0x3164,
                              *range(0xFE00, 0xFE10), 0xFFA0, *range(0xE0100, 0xE01F0))))


def legible(field: str, what: str, text: str) -> None:
    """Refuse a name that is not what it looks like.

    Raises
    ------
    Unreadable
        A character that is invisible or reverses the text, a blank other than the plain space, a word mixing two alphabets.

    >>> legible("name", "name", "Ольга Петрова")
    >>> legible("name", "name", "Ines Okaf\u043er")
    Traceback (most recent call last):
    ...
    soundedge.basis.errors.Unreadable: ...
    """
    for sign in text:
        if not sign.isprintable() or sign in _UNSEEN:
            raise Unreadable(field, say("history.invisible_character", what=what, code=ord(sign)))
    for word in text.replace("\u00b5", "").split():
        letters = (unicodedata.name(c, "").split(" ")[0] for c in unicodedata.normalize("NFKC", word) if c.isalpha())
        found = sorted(set(letters).intersection(ALPHABETS))
        if len(found) > 1:
            raise Unreadable(field, say("history.alphabets_mixed", what=what, word=word[:40],
                                        alphabet=found[0].title(), other=found[1].title()))


def plain_name(text: str) -> str:
    """A name without capitals and with single blanks."""
    return " ".join(text.casefold().split())


def as_seen(text: str) -> str:
    """A text as people see it: without invisible characters, wide letters as plain ones."""
    shown = "".join(c for c in text if c not in _UNSEEN and unicodedata.category(c) != "Cf")
    return plain_name(unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", shown).casefold()))
