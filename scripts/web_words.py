"""Write src/soundedge/web/words.py again: every word that pages show without a template having written it.

    python scripts/web_words.py

Kinds, keys, labels and choices come from the entries' own bodies; xgettext finds them in that file, so that a translation
can be complete. tests/web/test_words.py says when the file is behind.
"""

from __future__ import annotations

import sys
from pathlib import Path

# Lines of an area's uncertainty (survey/budget.py, survey/measure.py).
BUDGET = ("edge", "print_scale", "stand_off", "roughness", "taps", "straight_lines", "plane", "blur", "curvature", "wall",
          "outlines_together", "length")
FILE = Path(__file__).parents[1] / "src" / "soundedge" / "web" / "words.py"
HEAD = '''"""Which words do pages show that no template has written? Made by scripts/web_words.py; do not edit."""

from __future__ import annotations


def _(text: str) -> str:
    return text


WORDS = (
'''


def text() -> str:
    """What the file must say."""
    from soundedge.basis.procedure import LIMITS
    from soundedge.job.kinds import STEPS
    from soundedge.services.desk.dangers import solvent_keys
    from soundedge.services.desk.entry_fields import every_word, missing_words, plain_words
    from soundedge.services.desk.paper import SECTIONS
    from soundedge.services.desk.roles import ROLES
    from soundedge.services.desk.verify_upload import SHOWN

    doctor = ("saved", "verified", "backed up", "witnessed", "clock", "keys")
    limits = (*LIMITS, *(limit.name for limit in LIMITS.values()))
    boxes = (section.title for section in SECTIONS)
    every = (*every_word(), *short_words(), *missing_words(), *STEPS, *ROLES, *doctor, *SHOWN, *solvent_keys(), *BUDGET,
             *limits, *boxes, "months")
    found = dict.fromkeys(sorted({plain_words(word) for word in every}))
    return HEAD + "".join(f"    _({quoted(word)}),\n" for word in found) + ")\n"


def short_words() -> list[str]:
    """Names of numbers without their unit, as a list of entries shows them (web/entry_lines.py)."""
    from soundedge.job.kinds import KINDS
    from soundedge.services.desk.entry_fields import fields_of
    from soundedge.web.entry_lines import SUFFIXES

    found, left = [], [field for kind in KINDS for field in fields_of(kind)]
    while left:
        field = left.pop()
        left += field.fields
        name, _, unit = field.name.rpartition("_")
        if name and field.unit and unit in SUFFIXES:
            found.append(name)
    return found


def quoted(word: str) -> str:
    """As a Python text in double quotes."""
    return '"' + word.replace("\\", "\\\\").replace('"', '\\"') + '"'


if __name__ == "__main__":
    from django.conf import settings

    settings.configure()
    FILE.write_text(text(), encoding="utf-8")
    print(f"{FILE}: {len(text().splitlines())} lines")
    sys.exit(0)
