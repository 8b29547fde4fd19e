"""Where does a number come from, and has one of us seen it in print?

Every source stands once in ``sources.toml``; every finding and every material value names its key.

>>> source("jcgm_106_2012").read
'memory'
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from .errors import Unknown
from .sentences import say

_FILE = Path(__file__).with_name("sources.toml")
MARKS = ("first hand", "second hand", "common practice", "own judgement", "memory")
_SAID_IN_TITLE = ("first hand", "common practice", "own judgement")


@dataclass(frozen=True)
class Source:
    """One source. ``read`` says how we came by it: read first or second hand, a habit of the trade that no text is known for
    (common practice), a choice of this house that is no fact of the world (own judgement), or memory."""

    key: str
    title: str
    edition: str
    read: str
    via: str = ""
    note: str = ""

    def cited(self, read: str = "") -> str:
        """As printed under a finding: title, edition, and the mark when the print was not seen; ``read`` is the mark of one
        value where it is another than the source's."""
        read = read or self.read
        mark = "" if read in _SAID_IN_TITLE and read in ("first hand", self.read) else f" ({read})"
        edition = f", {self.edition}" if self.edition else ""
        return f"{self.title}{edition}{mark}"


@cache
def sources() -> dict[str, Source]:
    """All sources by key. A source without title or read-mark does not load."""
    return load_sources(_FILE.read_text(encoding="utf-8"))


def load_sources(text: str) -> dict[str, Source]:
    """Read a sources file.

    Raises
    ------
    Unknown
        An entry lacks ``title`` or its ``read`` is not one of the five marks.
    """
    held = {}
    for key, entry in tomllib.loads(text).items():
        if not entry.get("title"):
            raise Unknown(key, say("basis.source_title_missing", key=key))
        if entry.get("read") not in MARKS:
            raise Unknown(key, say("basis.source_mark_unknown", key=key, mark=entry.get('read'), known=', '.join(MARKS)))
        unknown = sorted(set(entry) - {"title", "edition", "read", "via", "note"})
        if unknown:
            raise Unknown(key, say("basis.source_keys_unknown", key=key, unknown=', '.join(unknown)))
        held[key] = Source(
            key, entry["title"], str(entry.get("edition", "")), entry["read"], entry.get("via", ""),
            entry.get("note", ""),
        )
    return held


def source(key: str) -> Source:
    """One source by key; an unknown key is refused with its name."""
    held = sources()
    if key not in held:
        raise Unknown("source", say("basis.source_unknown", key=key))
    return held[key]


def cite(key: str, where: str = "", read: str = "") -> str:
    """A source as one line: ``WMO-No. 8, 2023 (memory), annex 4.B``."""
    line = source(key).cited(read)
    return f"{line}, {where}" if where else line
