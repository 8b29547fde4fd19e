"""Is every refusal said in its reader's language and units, on a page and by the API, and what is not held marked English?"""

# ruff: noqa: E501  (sentences stand here as they are)
from __future__ import annotations

import re
import string
from datetime import UTC, datetime

import pytest

from soundedge.basis.sentences import Sentence, catalogue, say

from .installation import PASSWORDS

WRONG = "someone elses quiet harbour 9"


@pytest.fixture
def german(shop):
    """``german(role)``: a client of somebody who reads German."""
    for account in shop.accounts.values():
        account.language = "de"
        account.save(update_fields=["language"])

    def client(role, **more):
        return shop.client(role, **more)

    return client


def alerts(answer):
    text = answer.content.decode()
    assert '<html lang="de">' in text
    return [one for one in re.findall(r'<p class="said" role="alert"[^>]*>(.*?)</p>', text, flags=re.DOTALL) if one]


PERSON = {"id": "vale", "name": "Jon Vale", "role": "technician", "login": "jon.vale", "password": PASSWORDS["manager"]}


@pytest.mark.parametrize(("role", "address", "form", "said"), [
    ("technician", "/people/add/", None, "Das ist für Leiter; Sie sind angemeldet als Fachkraft."),
    ("auditor", "/jobs/KBW-0/history/correct/", None, "Das ist für Fachkraft, Prüfer, Ingenieur und Leiter; Sie sind angemeldet als Auditor."),
    ("manager", "/nowhere/", None, "Unter dieser Adresse ist nichts."),
    ("manager", "/people/add/", PERSON | {"password": WRONG}, "Das Passwort ist falsch."),
    ("manager", "/people/add/", PERSON | {"login": "j"}, "Der Anmeldename &#x27;j&#x27; muss aus 3 bis 80 Buchstaben"),
    ("manager", "/people/add/", PERSON | {"name": "Tove Brandt"}, "heißt auch Tove Brandt."),
    ("manager", "/people/add/", PERSON | {"name": "Jon\u200bVale"}, "Name: enthält das Zeichen U+200B"),
    ("manager", "/people/tech/", {"what": "reset", "because": "no", "password": PASSWORDS["manager"]}, "Der Grund hat 2 Zeichen"),
    ("manager", "/people/mana/", {"what": "disable", "because": "I go to another shop.", "password": PASSWORDS["manager"]},
     "Das eigene Konto kann niemand sperren."),
    ("technician", "/password/", {"old": WRONG, "new": "x"}, "Das Passwort ist falsch. Neu eingeben."),
    ("technician", "/password/", {"old": PASSWORDS["technician"], "new": "short"}, "Das Passwort hat 5 Zeichen; es braucht 12 bis 200."),
    ("technician", "/password/", {"old": PASSWORDS["technician"], "new": "aaaaaaaaaaaaaaaa"}, "weniger als sechs verschiedene"),
    ("technician", "/password/", {"old": PASSWORDS["technician"], "new": "tove brandt 2031"}, "aus dem eigenen Namen"),
    ("technician", "/device/", {"label": "tablet", "code": "never-made"}, "Dieser Code ist hier nicht bekannt"),
    ("manager", "/device/", {"label": " ", "password": PASSWORDS["manager"]}, "Das Gerät hat keinen Namen."),
    ("manager", "/devices/code/", {"password": WRONG}, "Das Passwort ist falsch."),
])
def test_a_german_reader_is_refused_in_german(german, role, address, form, said):
    client = german(role)
    answer = client.get(address) if form is None else client.post(address, form, follow=True)
    found = alerts(answer)
    assert any(said in one for one in found), (found, answer.status_code)
    assert not any('lang="en"' in one for one in found)


def test_who_sits_at_a_device_that_is_not_enrolled_reads_so_in_german(german):
    answer = german("manager", device=False).post("/people/add/", PERSON)
    assert "Dieses Gerät ist nicht zugelassen" in alerts(answer)[0]


def test_before_the_sign_in_the_browsers_language_counts(shop):
    stranger = shop.client(None)
    for _ in range(6):
        answer = stranger.post("/sign-in/", {"login": shop.login("technician"), "password": WRONG}, headers={"Accept-Language": "de"})
    assert answer.status_code == 429 and "Zu viele falsche Passwörter für diesen Namen" in alerts(answer)[0]


@pytest.mark.parametrize("message", ["Written by hand.", Sentence("test.no_such_sentence", "Written by {who}.", {"who": "hand"})])
def test_what_the_readers_language_does_not_hold_is_english_and_marked_so(installation, message):
    from soundedge.web.reader import answering

    assert str(message) == "Written by hand."
    with answering("de", "metric"):
        assert shown(message) == '<span lang="en">Written by hand.</span>'


def test_a_page_that_was_not_made_is_said_with_the_buttons_own_name(german, shop):
    from .one_job import opened

    job = opened(shop, "KBW-2036-051")
    text = german("technician").get(f"/jobs/{job}/release/").content.decode()
    assert "'Blatt ausstellen'" in text.replace("&#x27;", "'") and re.search(r"<button type=\"submit\">\s*Blatt ausstellen", text)


def test_the_api_says_it_in_the_readers_language_and_names_it_for_programs(german):
    answer = german("technician").post("/api/v1/devices", "{}", content_type="application/json").json()
    assert answer["detail"] == "Das ist für Leiter; Sie sind angemeldet als Fachkraft."
    assert answer["id"] == "web.not_for_role"
    assert answer["params"] == {"roles": [{"id": "desk.manager", "params": {}}], "role": {"id": "desk.technician", "params": {}}}


def test_each_entry_of_a_batch_is_refused_in_the_readers_language(german, shop):
    from .one_job import opened

    job = opened(shop, "KBW-2036-052")
    entries = [{"id": "a-1", "kind": "air.seen", "at": "2031-05-04T09:12:00Z", "body": {}}]
    told = german("technician").post(f"/api/v1/jobs/{job}/entries", {"entries": entries}, content_type="application/json").json()
    error = told["entries"][0]["error"]
    assert error["message"].startswith("'air.seen' ist keine Art von Eintrag. Bekannt: ")
    assert (error["id"], error["kind"], error["params"]["kind"]) == ("desk.kind_unknown", "unknown", "air.seen")


@pytest.fixture
def german_in_us_units(shop):
    account = shop.accounts["manager"]
    account.language, account.units = "de", "us"
    account.save(update_fields=["language", "units"])
    return shop.client("manager")


def test_a_number_in_a_refusal_follows_the_readers_units(german_in_us_units, monkeypatch):
    """The same refusal of a film and a temperature, from a page and from the API, for somebody who reads German and mils."""
    from soundedge.basis import sentences
    from soundedge.basis.errors import OutOfRange
    from soundedge.web.api import ask
    from soundedge.web.pages import jobs

    films = {"en": "Film is {film:.0f@um} at {steel:.1f@°C}.", "de": "Die Schicht ist {film:.0f@um} bei {steel:.1f@°C}."}
    held = sentences.catalogue
    monkeypatch.setattr(sentences, "catalogue", lambda language: held(language) | {"test.film": films[language]})
    monkeypatch.setattr("soundedge.web.reader.catalogue", sentences.catalogue)

    def refuse(*args, **more):
        raise OutOfRange("film_um", say("test.film", film=762.0, steel=12.5))

    monkeypatch.setattr(ask.service, "ask", refuse)
    answer = german_in_us_units.post("/api/v1/ask/conditions", "{}", content_type="application/json").json()
    assert answer["detail"] == "Die Schicht ist 30 mil bei 54,5 °F."
    assert answer["params"] == {"film": 762.0, "steel": 12.5}

    monkeypatch.setattr(jobs.jobs, "open_job", refuse)
    page = german_in_us_units.post("/jobs/new/", {"number": "KBW-1"})
    assert "Die Schicht ist 30 mil bei 54,5 °F." in alerts(page)[0]


def test_what_a_password_must_be_is_said_in_the_readers_language():
    from soundedge.web.passwords import LongEnough
    from soundedge.web.reader import answering

    with answering("de", "metric"):
        assert LongEnough().get_help_text() == "12 bis 200 Zeichen. Vier Wörter, die nicht zusammengehören, sind gut."


def filled(key):
    """A sentence of the catalogue with something in each blank."""
    template = catalogue("en")[key]
    blanks = {name: spec for _, name, spec, _ in string.Formatter().parse(template) if name}
    values = {"": "X7", "s": "X7"}
    return Sentence(key, template, {
        name: datetime(2031, 5, 4, tzinfo=UTC) if "%" in spec else values.get(spec, 7) for name, spec in blanks.items()})


@pytest.mark.parametrize("key", [key for key in catalogue("en") if key.split(".")[0] in ("people", "desk", "web", "cli")])
def test_every_sentence_of_the_door_and_the_desk_is_shown_in_german_and_in_english_and_marked(installation, key):
    from django.utils.html import escape

    from soundedge.web.reader import answering

    said = filled(key)
    with answering("de", "us"):
        assert shown(said) == escape(said.text("de", "us"))
    with answering("en", "metric"):
        assert shown(said) == f'<span lang="en">{escape(said)}</span>'


def shown(message):
    from django.template import Context, Template

    return Template("{% load bench %}{% refusal wrong %}").render(Context({"wrong": message}))


@pytest.mark.parametrize("name", ["{0} <b>", "%s %(x)s", "A {login} taken"])
def test_a_name_with_signs_of_a_template_stays_a_name(installation, name):
    from django.utils.html import escape

    from soundedge.web.reader import answering

    with answering("de", "metric"):
        assert shown(say("people.login_taken", login=name)) == escape(
            f"Der Anmeldename '{name}' ist vergeben. Einen anderen wählen.")
