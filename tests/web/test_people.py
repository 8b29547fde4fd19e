"""The people of a shop, as a manager adds and changes them on the page and by the API: qualification with its plates."""

import re

import pytest

from .installation import PASSWORDS, browser, now

FORM = {"what": "change", "id": "jon", "login": "", "name": "Jon Ask", "role": "technician", "qualified_until": "2037-01-31",
        "qualified_for": ["ectfe", "etfe"], "qualified_plate_mm_min": "6", "qualified_plate_mm_max": "20",
        "password": PASSWORDS["manager"]}


@pytest.fixture
def manager(shop):
    return shop.client("manager")


def named(shop, person="jon"):
    from soundedge.services.desk.register import register

    return register(shop.data).people[person].named


def seen_on(page):
    return {"seen": re.search(r'name="seen" value="([^"]+)"', page)[1]}


def test_a_qualification_is_kept_and_shown_as_it_was_typed(shop, manager):
    answer = manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}"})
    assert answer.status_code == 200 and "One-time password" in answer.content.decode()
    held = named(shop)
    assert (held.qualified_plate_mm_min, held.qualified_plate_mm_max) == (6, 20)
    assert [str(one) for one in held.qualified_for] == ["ectfe", "etfe"]
    page = manager.get("/people/").content.decode()
    assert "≥ 6" in page and "≤ 20" in page
    form = manager.get("/people/jon/").content.decode()
    assert 'name="qualified_plate_mm_max" inputmode="decimal" maxlength="12" value="20"' in form
    assert form.count("\" checked>") == 2


def test_inches_are_held_in_millimetres_and_shown_in_inches(shop, manager):
    shop.accounts["manager"].units = "us"
    shop.accounts["manager"].save()
    manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}", "qualified_plate_mm_min": "1/4"})
    assert manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}", "qualified_plate_mm_min": "0,25",
                                               "qualified_plate_mm_max": ""}).status_code == 200
    assert named(shop).qualified_plate_mm_min == pytest.approx(6.35) and named(shop).qualified_plate_mm_max is None
    assert 'value="0.25"' in manager.get("/people/jon/").content.decode()


def test_who_changes_a_name_in_inches_changes_no_plate(shop, manager):
    manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}", "qualified_plate_mm_max": "10"})
    shop.accounts["manager"].units = "us"
    shop.accounts["manager"].save()
    page = manager.get("/people/jon/").content.decode()
    shown = {name: re.search(rf'name="{name}"[^>]* value="([^"]*)"', page)[1]
             for name in ("qualified_plate_mm_min", "qualified_plate_mm_max")}
    assert shown == {"qualified_plate_mm_min": "0.2362", "qualified_plate_mm_max": "0.3937"}
    assert manager.post("/people/jon/", FORM | shown | seen_on(page) | {"name": "Jon Askild"}).status_code == 302
    held = named(shop)
    assert (held.name, held.qualified_plate_mm_min, held.qualified_plate_mm_max) == ("Jon Askild", 6, 10)


def test_a_page_that_is_older_than_the_last_change_gives_back_nothing_that_was_taken_away(shop, manager):
    manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}"})
    old = seen_on(manager.get("/people/jon/").content.decode())
    assert manager.post("/people/jon/", FORM | old | {"qualified_for": ["etfe"]}).status_code == 302
    answer = manager.post("/people/jon/", FORM | old | {"name": "Jon Askild"})
    page = answer.content.decode()
    assert answer.status_code == 409 and "changed since this page was made" in page and page.count('" checked>') == 1
    assert [str(one) for one in named(shop).qualified_for] == ["etfe"] and named(shop).name == "Jon Ask"
    again = manager.post("/people/jon/", FORM | old | {"password": "not this one"}).content.decode()
    assert seen_on(again) == old  # a wrong password makes an old page no newer
    assert manager.post("/people/jon/", FORM | {"name": "Jon Askild"}).status_code == 409  # nor does one that names nothing
    changed = FORM | seen_on(page) | {"qualified_for": ["etfe"], "name": "Jon Askild"}
    assert manager.post("/people/jon/", changed).status_code == 302


def test_a_wrong_password_at_another_question_leaves_the_form_as_the_person_stands(shop, manager):
    manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}"})
    before = manager.get("/people/jon/").content.decode()
    answer = manager.post("/people/jon/", {"what": "reset", "because": "forgot it", "password": "not this one"})
    page = answer.content.decode()
    assert answer.status_code == 422 and 'value="Jon Ask"' in page and seen_on(page) == seen_on(before)


@pytest.mark.parametrize("login", ["a\0b", "x" * 5000, "\u202ea", ""])
def test_a_sign_in_name_that_no_account_can_have_is_a_wrong_one(login, installation, in_installation):
    answer = browser().post("/sign-in/", {"login": login, "password": "no such thing"})
    assert answer.status_code in (401, 429), answer.status_code


def test_a_device_whose_name_cannot_be_printed_is_not_enrolled(shop):
    from soundedge.basis.errors import Unreadable
    from soundedge.services import accounts

    before = shop.row.devices.count()
    with pytest.raises(Unreadable, match="cannot be printed"):
        accounts.enrol_device(shop.row, "tab\0let", by=shop.actor("manager"), now=now())
    assert shop.row.devices.count() == before


@pytest.mark.parametrize("least, most, said", [
    ("20", "6", "no plate is both"), ("thick", "", "must be a number"), ("", "0", "Plate thickness"), ("", "501", "Plate")])
def test_a_range_that_cannot_be_is_refused_in_a_sentence_and_the_form_stays_filled(shop, manager, least, most, said):
    answer = manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}", "qualified_plate_mm_min": least,
                                                 "qualified_plate_mm_max": most})
    page = answer.content.decode()
    assert answer.status_code == 422 and said in page
    assert 'value="Jon Ask"' in page and page.count("\" checked>") == 2
    from soundedge.services.desk.register import register

    assert "jon" not in register(shop.data).people


def test_the_api_takes_and_gives_the_same(shop, manager):
    body = {"id": "jon", "name": "Jon Ask", "role": "technician", "login": f"jon.{shop.slug}", "qualified_plate_mm_max": 16,
            "qualified_until": "2037-01-31T00:00:00Z", "qualified_for": ["ectfe"], "password": PASSWORDS["manager"]}
    answer = manager.post("/api/v1/people", body, content_type="application/json")
    assert answer.status_code == 201, answer.content
    (jon,) = [one for one in manager.get("/api/v1/people").json()["people"] if one["id"] == "jon"]
    assert jon["qualified_plate_mm_max"] == 16 and jon["qualified_plate_mm_min"] is None
