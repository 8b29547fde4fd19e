"""The people of a shop, as a manager adds and changes them on the page and by the API: qualification with its plates."""

import re

import pytest

from .installation import PASSWORDS, browser, now

pytestmark = pytest.mark.store_contract

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
    for _ in range(6):  # nor is it counted: there is nothing to close
        answer = browser().post("/sign-in/", {"login": login, "password": "no such thing"})
    assert answer.status_code == 401, answer.status_code


def test_a_device_whose_name_cannot_be_printed_is_not_enrolled(shop):
    from soundedge.basis.errors import Unreadable
    from soundedge.services.people import devices

    before = shop.row.devices.count()
    with pytest.raises(Unreadable, match="cannot be printed"):
        devices.enrol_device(shop.row, "tab\0let", by=shop.actor("manager"), now=now())
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


def gone(shop, manager):
    answer = manager.post("/people/tech/", {"what": "disable", "because": "Left the plant.", "password": PASSWORDS["manager"]})
    assert answer.status_code == 302


ONCE = re.compile(r"[a-z2-9]{4}(-[a-z2-9]{4}){3}")


def test_a_disabled_person_has_a_page_that_says_so_and_nothing_else_is_done_with_them(shop, manager):
    gone(shop, manager)
    page = manager.get("/people/tech/").content.decode()
    assert "The account of Tove Brandt was disabled on 20" in page and "UTC by Mara Lindqvist, because: Left the plant." in page
    assert re.findall('name="what" value="([a-z]+)"', page) == ["enable"]
    for what in ("change", "reset", "unlock", "disable"):
        asked = FORM | {"what": what, "name": "Tove Brandt", "because": "Came back to us."}
        answer = manager.post("/people/tech/", asked | {"seen": seen_of(shop, "tech")})
        said = answer.content.decode()
        told = "".join(re.findall('class="said" role="alert"[^>]*>(.*?)</p>', said))
        assert answer.status_code == 422 and ("was disabled, so" if what == "unlock" else "was disabled on") in told, what
        assert not ONCE.search(said)
    assert named(shop, "tech").certificate == "C-technician"


def seen_of(shop, person):
    from soundedge.services.desk.register import register
    from soundedge.web.pages.people import _seen

    return _seen(register(shop.data).people[person])


@pytest.mark.parametrize("door", ["page", "api"])
def test_who_is_enabled_again_signs_with_a_new_key_and_no_session_of_theirs_comes_back(shop, manager, door):
    from soundedge.services.desk.register import register

    before, key = shop.client("technician"), register(shop.data).people["tech"].key
    gone(shop, manager)
    asked = {"because": "Came back to the plant.", "password": PASSWORDS["manager"]}
    if door == "page":
        answer = manager.post("/people/tech/", asked | {"what": "enable"})
        once = ONCE.search(answer.content.decode())[0]
    else:
        answer = manager.post("/api/v1/people/returns", asked | {"id": "tech"}, content_type="application/json")
        assert answer.status_code == 201, answer.content
        once = answer.json()["one_time_password"]
        assert answer.json() == {"id": "tech", "login": shop.login("technician"), "one_time_password": once}
        again = manager.post("/api/v1/people/returns", asked | {"id": "tech"}, content_type="application/json")
        assert again.status_code == 409 and "can already sign in" in again.json()["detail"]
    assert before.get("/").status_code == 302
    old = browser().post("/sign-in/", {"login": shop.login("technician"), "password": PASSWORDS["technician"]})
    assert old.status_code == 401
    client = browser()
    assert client.post("/sign-in/", {"login": shop.login("technician"), "password": once}).headers["Location"] == "/password/"
    assert client.post("/password/", {"old": once, "new": "nine quiet harbour lamps"}).status_code == 302
    assert client.get("/").status_code == 200
    person = register(shop.data).people["tech"]
    assert not person.disabled and person.key not in ("", key) and key in person.keys


@pytest.fixture
def a_day_on(monkeypatch):
    """Everybody has been of the shop for long enough."""
    from datetime import timedelta

    from soundedge.history import second_person

    monkeypatch.setattr(second_person, "SECOND_AFTER", timedelta(0))


@pytest.mark.parametrize("door", ["page", "api"])
@pytest.mark.parametrize("what", ["reset", "enable"])
def test_a_manager_asks_for_a_new_password_and_somebody_else_confirms_it(shop, manager, a_day_on, door, what):
    if what == "enable":
        gone(shop, manager)
    second = shop.client("inspector")
    asked = {"because": "Forgot it over the holidays.", "password": PASSWORDS["manager"]}
    json = {"content_type": "application/json"}
    if door == "page":
        assert manager.post("/people/tech/", asked | {"what": what}).headers["Location"] == "/people/"
        assert "asked for a new password" in manager.get("/people/tech/").content.decode()
    else:
        sent = manager.post(f"/api/v1/people/{'resets' if what == 'reset' else 'returns'}", asked | {"id": "tech"}, **json)
        assert (sent.status_code, sent.json()) == (202, {"id": "tech", "login": shop.login("technician")})
    for who in (manager, shop.client("auditor")):  # who asked; who only looks
        assert "/people/tech/confirm/" not in who.get("/people/").content.decode()
    alone = {"password": PASSWORDS["manager"]}
    assert manager.post("/people/tech/confirm/", alone).status_code == 422
    assert manager.post("/api/v1/people/confirmations", alone | {"id": "tech"}, **json).status_code == 422

    assert "/people/tech/confirm/" in second.get("/people/").content.decode()
    page = second.get("/people/tech/confirm/").content.decode()
    assert "Forgot it over the holidays." in page and "Confirm the new password" in page
    wrong = second.post("/people/tech/confirm/", {"password": "not this one"})
    assert wrong.status_code == 422 and not ONCE.search(wrong.content.decode())
    right = {"password": PASSWORDS["inspector"]}
    if door == "page":
        once = ONCE.search(second.post("/people/tech/confirm/", right).content.decode())[0]
    else:
        once = second.post("/api/v1/people/confirmations", right | {"id": "tech"}, **json).json()["one_time_password"]

    client = browser()
    assert client.post("/sign-in/", {"login": shop.login("technician"), "password": once}).headers["Location"] == "/password/"
    assert "nothing to confirm" in second.get("/people/tech/confirm/").content.decode()
    again = second.post("/api/v1/people/confirmations", right | {"id": "tech"}, **json)
    assert again.status_code == 409 and "No new password is asked for" in again.json()["detail"]


@pytest.mark.parametrize("wrong, said", [({"password": "not this one"}, "not your password"), ({"because": "back"}, "reason")])
def test_nobodys_account_is_enabled_again_without_a_reason_and_the_managers_password(shop, manager, wrong, said):
    gone(shop, manager)
    asked = {"what": "enable", "because": "Came back to the plant.", "password": PASSWORDS["manager"]} | wrong
    answer = manager.post("/people/tech/", asked)
    assert answer.status_code == 422 and said in answer.content.decode()
    assert manager.get("/people/tech/").content.decode().count("The account of Tove Brandt was disabled on 20") == 1


@pytest.mark.parametrize("login", ["t\u043eve.x", "\uff54ove.x", "tove\u3164x"])
def test_a_sign_in_name_that_looks_like_another_is_not_given(shop, manager, login):
    answer = manager.post("/people/add/", FORM | {"login": login})
    assert answer.status_code == 422 and not ONCE.search(answer.content.decode())


def test_two_people_who_look_alike_on_the_page_are_refused_in_a_sentence(shop, manager):
    for name, said in (
        ("Tove\u200b Brandt", "U+200B"), ("T\u043eve Brandt", "two alphabets"), ("\uff34ove Brandt", "is called"),
    ):
        answer = manager.post("/people/add/", FORM | {"login": f"jon.{shop.slug}", "name": name})
        assert answer.status_code == 422 and said in answer.content.decode()


def test_a_device_keeps_who_gave_its_code_and_who_typed_it_and_an_auditor_enrols_none(shop, manager):
    from soundedge.services.desk.register import register
    from soundedge.services.people import devices

    code = devices.device_code(shop.row, by=shop.actor("manager"), now=now())
    auditor, technician = shop.client("auditor", device=False), shop.client("technician", device=False)
    assert 'name="code"' not in auditor.get("/device/").content.decode()
    assert auditor.post("/device/", {"code": code, "label": "own phone"}).status_code == 403
    assert list(register(shop.data).devices) == ["d1"]
    assert technician.post("/device/", {"code": code, "label": "tablet at bench 2"}).status_code == 302
    device = shop.row.devices.get(name="d2")
    assert (register(shop.data).devices["d2"].typed_by, device.enrolled_by) == ("tech", "mana")
    assert register(shop.data).devices["d1"].typed_by == ""
    page = manager.get("/people/").content.decode()
    assert "enrolled by Mara Lindqvist on" in page and page.count("the code typed by") == 1
    assert "the code typed by Tove Brandt" in page
