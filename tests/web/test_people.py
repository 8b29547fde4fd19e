"""The people of a shop, as a manager adds and changes them on the page and by the API: qualification with its plates."""

import re

import pytest

from .installation import PASSWORDS

FORM = {"what": "change", "id": "jon", "login": "", "name": "Jon Ask", "role": "technician", "qualified_until": "2037-01-31",
        "qualified_for": ["ectfe", "etfe"], "qualified_plate_mm_min": "6", "qualified_plate_mm_max": "20",
        "password": PASSWORDS["manager"]}


@pytest.fixture
def manager(shop):
    return shop.client("manager")


def named(shop, person="jon"):
    from soundedge.services.desk.register import register

    return register(shop.data).people[person].named


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
    assert manager.post("/people/jon/", FORM | shown | {"name": "Jon Askild"}).status_code == 302
    held = named(shop)
    assert (held.name, held.qualified_plate_mm_min, held.qualified_plate_mm_max) == ("Jon Askild", 6, 10)


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
