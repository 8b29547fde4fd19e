"""Are all words of the pages translated, the dynamic ones too, and is the compiled catalogue the written one?"""

import importlib.util
import re
from pathlib import Path

import polib
import pytest

ROOT = Path(__file__).parents[2]
LOCALE = ROOT / "src" / "soundedge" / "web" / "locale" / "de" / "LC_MESSAGES"
BLANKS = re.compile(r"%\([a-z_]+\)s|%s|\{[a-z_]+\}")


def script():
    spec = importlib.util.spec_from_file_location("web_words", ROOT / "scripts" / "web_words.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_list_of_dynamic_words_is_the_one_the_script_writes(installation):
    held = script()
    assert held.FILE.read_text(encoding="utf-8") == held.text(), "run: python scripts/web_words.py"


@pytest.fixture(scope="module")
def catalogue():
    return polib.pofile(str(LOCALE / "django.po"))


def test_every_text_of_the_templates_stands_in_the_catalogue(catalogue):
    held = {entry.msgid for entry in catalogue}
    missing = []
    for file in sorted((ROOT / "src" / "soundedge" / "web" / "templates").rglob("*.html")):
        text = file.read_text(encoding="utf-8")
        for found in re.finditer(r"""{%\s*translate\s+("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')""", text):
            word = found[1][1:-1].replace("%", "%%") if "%" in found[1] else found[1][1:-1]
            if word not in held and found[1][1:-1] not in held:
                missing.append(f"{file.name}: {word}")
    assert not missing


def test_every_dynamic_word_stands_in_the_catalogue(catalogue, installation):
    from soundedge.web.words import WORDS

    assert not sorted(set(WORDS) - {entry.msgid for entry in catalogue})


def test_every_entry_is_translated_and_none_is_a_guess(catalogue):
    left = [entry for entry in catalogue if not entry.obsolete]
    assert [entry.msgid for entry in left if entry.fuzzy or not (entry.msgstr or entry.msgstr_plural)] == []


def test_blanks_of_a_sentence_are_kept_in_its_translation(catalogue):
    for entry in catalogue:
        if not entry.msgid_plural:
            assert sorted(BLANKS.findall(entry.msgid)) == sorted(BLANKS.findall(entry.msgstr)), entry.msgid


def test_the_compiled_catalogue_says_what_the_written_one_says(catalogue):
    compiled = {entry.msgid: entry.msgstr for entry in polib.mofile(str(LOCALE / "django.mo"))}
    written = {entry.msgid: entry.msgstr for entry in catalogue if not entry.obsolete and not entry.msgid_plural}
    assert {key: compiled.get(key) for key in written} == written


def test_a_page_is_in_the_persons_own_language(shop):
    client = shop.client("manager")
    assert b'<html lang="en">' in client.get("/").content
    client.post("/mine/", {"language": "de", "units": "metric"})
    page = client.get("/").content.decode()
    assert '<html lang="de">' in page and ">Aufträge<" in page.replace("\n", "").replace("  ", "")


def test_what_a_script_reads_is_the_same_in_every_language(shop):
    """A comma in a factor would make every number of a form unreadable."""
    from .one_job import opened

    job, client = opened(shop, "KBW-2036-011"), shop.client("technician")
    read = re.compile(r'(?:data-factor|data-offset|data-digits|viewBox|points|cx|cy|data-until|data-since)="[^"]*"')
    found = {}
    for language in ("en", "de"):
        client.post("/mine/", {"language": language, "units": "us"})
        for step in ("survey", "conditions", "hazards", "heat", "thickness", "holiday", "typed"):
            page = client.get(f"/jobs/{job}/{step}/").content.decode()
            assert f'<html lang="{language}">' in page
            found.setdefault(step, []).append(read.findall(page))
    assert found["survey"][0] and all(english == german for english, german in found.values())


def test_a_german_reads_a_decimal_comma(shop):
    from django.utils import translation

    from soundedge.web.templatetags.bench import shown

    with translation.override("de"):
        assert shown({}, 1050.4, "mm", 1) == "1\u202f050,4\u00a0mm"
    with translation.override("en"):
        assert shown({}, 1050.4, "mm", 1) == "1\u202f050.4\u00a0mm"
