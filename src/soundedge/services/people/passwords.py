"""Whether somebody could guess a password: judged by the weakness that long passwords have, not by letters and digits.

>>> guessable("correct horse battery", ()) is None
True
>>> guessable("ines-krug-2026", ("ines.krug", "Ines Krug"))
'The password is made of your own name or the bench’s.'
>>> guessable("password1234", ())
'The password is one of those that are tried first.'
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from ...basis.sentences import Sentence, say

# Words that long passwords are built from first; with Django's list of 20,000 common passwords (R. Hopkins, from
# public lists). A long password made of one of them and digits is as weak as the word: own rule.
_STEMS = (
    "password",
    "passwort",
    "passphrase",
    "qwertyuiop",
    "asdfghjkl",
    "qwertz",
    "letmein",
    "iloveyou",
    "sunshine",
    "princess",
    "football",
    "superman",
    "michelle",
    "trustno",
    "welcome",
    "starwars",
    "computer",
    "changeme",
    "administrator",
    "1234567890",
    "0987654321",
    "abcdefghijkl",
    "lining",
    "workshop",
    "inspector",
    "technician",
)


def guessable(password: str, own: Iterable[str]) -> Sentence | None:
    """Why it would be guessed, one sentence; None when no reason was found.

    Parameters
    ----------
    password : str
        As typed; blanks count.
    own : iterable of str
        Names that a guesser would try: of the person, the account, the bench.
    """
    plain = re.sub(r"[\W_]+", "", password.casefold())
    bare = plain.strip("0123456789")
    if len(set(plain)) < 6:
        return say("people.password_few_letters")
    if password.casefold() in _common() or plain in _common() or (len(bare) > 3 and bare in _common()):
        return say("people.password_common")
    for stem in _STEMS:
        rest = bare.replace(stem, "")
        if stem in plain and len(rest) < 6:
            return say("people.password_common")
    for name in own:
        for part in (re.sub(r"[\W_]+", "", name.casefold()), *re.split(r"[\W_]+", name.casefold())):
            if len(part) >= 4 and part in plain:
                plain_rest = plain.replace(part, "").strip("0123456789")
                if len(plain_rest) < 8:
                    return say("people.password_own_name")
    half = len(plain) // 2
    if any(plain == plain[:n] * (len(plain) // n) + plain[: len(plain) % n] for n in range(1, half + 1)):
        return say("people.password_repeats")
    return None


@lru_cache(maxsize=1)
def _common() -> frozenset[str]:
    from django.contrib.auth import password_validation

    file = Path(password_validation.__file__).with_name("common-passwords.txt.gz")
    with gzip.open(file, "rt", encoding="utf-8") as lines:
        return frozenset(line.strip() for line in lines)
