"""Write src/soundedge/web/words.py again: every word that pages show without a template having written it.

    python scripts/web_words.py

Kinds, keys, labels and choices come from the entries' own bodies; xgettext finds them in that file, so that a translation
can be complete. tests/web/test_words.py says when the file is behind.
"""

from __future__ import annotations

import sys
from pathlib import Path

FILE = Path(__file__).parents[1] / "src" / "soundedge" / "web" / "words.py"
HEAD = '''"""Which words do pages show that no template has written? Made by scripts/web_words.py; do not edit."""

from __future__ import annotations


def _(text: str) -> str:
    return text


WORDS = (
'''


def text() -> str:
    """What the file must say."""
    from soundedge.services.desk.may import ROLES
    from soundedge.services.entry_fields import every_word, missing_words, plain_words
    from soundedge.web.on_job import STEPS

    doctor = ("saved", "verified", "backed up", "witnessed", "clock", "keys")
    found = dict.fromkeys(sorted({plain_words(word) for word in (*every_word(), *STEPS, *ROLES, *doctor, *missing_words())}))
    return HEAD + "".join(f"    _({quoted(word)}),\n" for word in found) + ")\n"


def quoted(word: str) -> str:
    """As a Python text in double quotes."""
    return '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'


if __name__ == "__main__":
    FILE.write_text(text(), encoding="utf-8")
    print(f"{FILE}: {len(text().splitlines())} lines")
    sys.exit(0)
