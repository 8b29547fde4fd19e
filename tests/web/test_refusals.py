"""Is what refuses a person at the door, in his account, with people and devices said in his language, and all else marked English?"""

# ruff: noqa: E501  (sentences stand here as they are)
from __future__ import annotations

import re

import pytest

from .installation import PASSWORDS
from .test_words import script

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
    ("auditor", "/jobs/KBW-0/history/correct/", None, "Das ist für Ingenieur, Prüfer, Leiter und Fachkraft"),
    ("manager", "/nowhere/", None, "Unter dieser Adresse ist nichts."),
    ("manager", "/people/add/", PERSON | {"password": WRONG}, "Das ist nicht Ihr Passwort."),
    ("manager", "/people/add/", PERSON | {"login": "j"}, "Der Anmeldename &#x27;j&#x27; muss aus 3 bis 80 Buchstaben"),
    ("manager", "/people/add/", PERSON | {"name": "Tove Brandt"}, "heißt auch Tove Brandt."),
    ("manager", "/people/add/", PERSON | {"name": "Jon\u200bVale"}, "Name: enthält das Zeichen U+200B"),
    ("manager", "/people/tech/", {"what": "reset", "because": "no", "password": PASSWORDS["manager"]}, "Der Grund hat 2 Zeichen"),
    ("manager", "/people/mana/", {"what": "disable", "because": "I go to another shop.", "password": PASSWORDS["manager"]},
     "Sich selbst können Sie nicht ausschließen."),
    ("technician", "/password/", {"old": WRONG, "new": "x"}, "Das ist nicht Ihr Passwort. Geben Sie es noch einmal ein."),
    ("technician", "/password/", {"old": PASSWORDS["technician"], "new": "short"}, "Das Passwort hat 5 Zeichen; es braucht 12 bis 200."),
    ("technician", "/password/", {"old": PASSWORDS["technician"], "new": "aaaaaaaaaaaaaaaa"}, "weniger als sechs verschiedene"),
    ("technician", "/password/", {"old": PASSWORDS["technician"], "new": "tove brandt 2031"}, "aus Ihrem eigenen Namen"),
    ("technician", "/device/", {"label": "tablet", "code": "never-made"}, "Dieser Code ist hier nicht bekannt"),
    ("manager", "/device/", {"label": " ", "password": PASSWORDS["manager"]}, "Das Gerät hat keinen Namen."),
    ("manager", "/devices/code/", {"password": WRONG}, "Das ist nicht Ihr Passwort."),
])
def test_a_german_reader_is_refused_in_german(german, role, address, form, said):
    client = german(role)
    answer = client.get(address) if form is None else client.post(address, form, follow=True)
    found = alerts(answer)
    assert any(said in one for one in found), (found, answer.status_code)
    assert not any('lang="en"' in one for one in found)


def test_who_sits_at_a_device_that_is_not_enrolled_reads_so_in_german(german):
    answer = german("manager", device=False).post("/people/add/", PERSON)
    assert "Dieses Gerät ist nicht angemeldet" in alerts(answer)[0]


def test_before_the_sign_in_the_browsers_language_counts(shop):
    stranger = shop.client(None)
    for _ in range(6):
        answer = stranger.post("/sign-in/", {"login": shop.login("technician"), "password": WRONG}, headers={"Accept-Language": "de"})
    assert answer.status_code == 429 and "Zu viele falsche Passwörter für diesen Namen" in alerts(answer)[0]


def test_what_the_rooms_say_stays_english_and_is_marked_so(german):
    answer = german("manager").post("/instruments/change/", {"what": "withdraw_lot", "id": "P-0", "because": "Damp in the can.",
                                                             "password": PASSWORDS["manager"]})
    assert answer.status_code == 422 and '<span lang="en">The register holds no lot' in alerts(answer)[0]


def test_a_page_that_was_not_made_is_said_with_the_buttons_own_name(german, shop):
    from .one_job import opened

    job = opened(shop, "KBW-2036-051")
    text = german("technician").get(f"/jobs/{job}/release/").content.decode()
    assert "'Blatt ausstellen'" in text.replace("&#x27;", "'") and re.search(r"<button type=\"submit\">\s*Blatt ausstellen", text)


def test_the_api_says_the_same_to_everybody(german):
    answer = german("technician").post("/api/v1/devices", "{}", content_type="application/json")
    assert answer.status_code == 403 and answer.json()["detail"].startswith("This is for manager;")


def test_every_sentence_has_its_german_and_is_met_by_its_own_shape_only(installation):
    from django.utils.translation import override

    from soundedge.web.refusals import SENTENCES, said_in_own_words

    german = {one.id: one.string for one in script().catalogue()}
    for one in SENTENCES:
        filled = re.sub(r"\{\w+\}", "X7", one)
        with override("de"):
            assert said_in_own_words(filled) == (re.sub(r"\{\w+\}", "X7", german[one]), "de")
        with override("en"):
            assert said_in_own_words(filled) == (filled, "en")


@pytest.mark.parametrize("name", ["{0} <b>", "%s %(x)s", "A {login} taken"])
def test_a_name_with_signs_of_a_template_stays_a_name(installation, name):
    from django.template import Context, Template
    from django.utils.html import escape
    from django.utils.translation import override

    with override("de"):
        shown = Template("{% load bench %}{% refusal wrong %}").render(Context({"wrong": f"The sign-in name '{name}' is taken. Choose another."}))
    assert shown == escape(f"Der Anmeldename '{name}' ist vergeben. Wählen Sie einen anderen.")
