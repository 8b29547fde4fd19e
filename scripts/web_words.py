"""Bring the German catalogue of the pages up to date and compile it.

    python scripts/web_words.py

Every word that templates, Python files and the entries' own bodies show stands in locale/de/LC_MESSAGES/django.po: a new one
is added there without a translation, one that nothing shows any more is taken out, and django.mo is made from it.
tests/web/test_words.py says when a file is behind.
"""

from __future__ import annotations

import io
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

WEB = Path(__file__).parents[1] / "src" / "soundedge" / "web"
GERMAN = WEB / "locale" / "de" / "LC_MESSAGES" / "django.po"
KEYWORDS = {"_": None, "gettext": None, "gettext_lazy": None, "gettext_noop": None, "ngettext": (1, 2),
            "pgettext": ((1, "c"), 2), "npgettext": ((1, "c"), 2, 3)}
HEADER = r'''# German texts of the bench in the browser, translated by hand; scripts/web_words.py adds and takes out.
msgid ""
msgstr ""
"Project-Id-Version: Sound Edge\n"
"Language: de\n"
"MIME-Version: 1.0\n"
"Content-Type: text/plain; charset=UTF-8\n"
"Content-Transfer-Encoding: 8bit\n"
"Plural-Forms: nplurals=2; plural=(n != 1);\n"

'''
# Lines of an area's uncertainty (survey/budget.py, survey/measure.py).
BUDGET = ("edge", "print_scale", "stand_off", "roughness", "taps", "straight_lines", "plane", "blur", "curvature", "wall",
          "outlines_together", "length")


def catalogue(file: Path = GERMAN) -> Catalog:
    """The catalogue as it is written."""
    with open(file, "rb") as raw:
        return read_po(raw, locale="de")


def shown() -> Catalog:
    """Every word that pages show, without translations."""
    found = Catalog(locale="de")
    for file in sorted(WEB.rglob("*.py")):
        for _, word, _, context in extract("python", io.BytesIO(file.read_bytes()), KEYWORDS):
            found.add(word, context=context)
    for file in sorted((WEB / "templates").rglob("*.*")):
        # what templatize leaves of a template is no language; the reader of scripts takes it as it is
        left = templatize(file.read_text(encoding="utf-8"), origin=str(file))
        for _, word, _, context in extract("javascript", io.BytesIO(left.encode()), KEYWORDS):
            found.add(word, context=context)
    for word in dynamic_words():
        found.add(word)
    return found


def compiled(written: Catalog) -> bytes:
    """What django.mo must hold."""
    made = io.BytesIO()
    write_mo(made, written)
    return made.getvalue()


def dynamic_words() -> set[str]:
    """Kinds, keys, labels and choices, which no template has written out."""
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
    return {plain_words(word) for word in every}


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


def main() -> None:
    """Write both files."""
    written = catalogue()
    written.update(shown(), no_fuzzy_matching=True, keep_user_comments=True)
    body = io.BytesIO()
    write_po(body, written, width=120, no_location=True, omit_header=True, ignore_obsolete=True, sort_output=True)
    GERMAN.write_bytes(HEADER.encode() + body.getvalue().lstrip())
    GERMAN.with_suffix(".mo").write_bytes(compiled(catalogue()))
    left = [message.id for message in catalogue() if message.id and not message.string]
    print(f"{len(written)} words; {len(left)} without a translation", *left, sep="\n  ")


if __name__ == "__main__":
    from django.conf import settings

    settings.configure()
    main()
