"""Are all words of the pages translated, the dynamic ones too, and is the compiled catalogue the written one?"""

import gettext
import importlib.util
import io
import re
from dataclasses import replace
from pathlib import Path

import pytest

from soundedge.job.kinds import KINDS

ROOT = Path(__file__).parents[2]
BLANKS = re.compile(r"%\([a-z_]+\)s|%s|\{[a-z_]+\}")


def script():
    spec = importlib.util.spec_from_file_location("web_words", ROOT / "scripts" / "web_words.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def catalogue():
    return script().catalogue()


def words_of(catalogue):
    return {(message.context, message.id) for message in catalogue if message.id}


def test_the_catalogue_holds_what_pages_show_and_nothing_else(catalogue, installation):
    shown, held = words_of(script().shown()), words_of(catalogue)

    assert (shown - held, held - shown) == (set(), set()), "run: python scripts/web_words.py"


def test_a_word_of_a_template_of_a_script_and_of_an_entry_are_found(installation):
    shown = words_of(script().shown())

    assert {(None, "To the content"), (None, "rh pct"), (None, "months"),
            (None, ("%(n)s reading", "%(n)s readings"))} <= shown


def test_a_planted_kind_lacks_its_translation(catalogue, installation, monkeypatch):
    importlib.import_module("soundedge.services.desk.paper")  # it keeps the kinds there are when it is first imported
    monkeypatch.setitem(KINDS, "coupon.bent", replace(KINDS["air.read"], name="coupon.bent", label="Coupon bent"))

    assert words_of(script().shown()) - words_of(catalogue) == {(None, "Coupon bent")}


def test_every_entry_is_translated_and_none_is_a_guess(catalogue):
    assert [message.id for message in catalogue if message.id and (message.fuzzy or not all(
        message.string if message.pluralizable else [message.string]))] == []


def test_blanks_of_a_sentence_are_kept_in_its_translation(catalogue):
    for message in catalogue:
        if not message.pluralizable:
            assert sorted(BLANKS.findall(message.id)) == sorted(BLANKS.findall(message.string)), message.id


def test_the_compiled_catalogue_says_what_the_written_one_says(catalogue):
    held = script()
    lies = gettext.GNUTranslations(io.BytesIO(held.GERMAN.with_suffix(".mo").read_bytes()))
    made = gettext.GNUTranslations(io.BytesIO(held.compiled(catalogue)))

    assert lies._catalog.keys() - {""} == made._catalog.keys() - {""}, "run: python scripts/web_words.py"
    assert [key for key in made._catalog if key and made._catalog[key] != lies._catalog[key]] == []


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
