"""Coming in, going, and what every answer carries."""

import os
import re
import subprocess
import sys
from datetime import timedelta

import pytest

from .installation import PASSWORDS, browser, now

FIRST = """
import sys
from datetime import UTC, datetime, timedelta
from soundedge.basis.errors import Refused
from soundedge.services import accounts, installation
installation.migrate()
from soundedge.store.accounts.models import Account, Shop
assert not Account.objects.exists() and not Shop.objects.exists()
now = datetime.now(UTC)
given = dict(slug="basin-one", shop_name="Basin One", name="Mara Lindqvist", login="mara", password="four quiet harbour words",
             device_label="laptop", now=now)
def refused(code, **more):
    try:
        accounts.first_start(code, **given | more)
    except Refused as fault:
        return fault.field == "code"
    return False
first = accounts.first_start_code(now)
second = accounts.first_start_code(now)
assert refused("aaaa-bbbb-cccc-dddd-eeee") and refused(first), "only the code printed last opens"
assert refused(second, now=now + timedelta(hours=25)), "a day later it has ended"
assert not Account.objects.exists()
account, token = accounts.first_start(second.upper(), **given)
assert account.role == "manager" and accounts.device_with(account.shop, token).label == "laptop"
assert refused(second) and accounts.first_start_code(now) is None
print("held")
"""


def test_a_fresh_installation_has_no_account_and_the_first_code_opens_once(tmp_path):
    given = {name: value for name, value in os.environ.items() if not name.startswith("SOUNDEDGE_")}
    given |= {"SOUNDEDGE_ROOT": str(tmp_path / "bench"), "SOUNDEDGE_KEYS": str(tmp_path / "keys")}
    done = subprocess.run([sys.executable, "-c", FIRST], capture_output=True, text=True, env=given)
    assert done.stdout == "held\n", done.stderr[-800:]


def test_a_one_time_password_opens_nothing_but_the_page_that_changes_it(shop):
    from soundedge.services import accounts

    account = shop.accounts["technician"]
    one_time = accounts.reset_password(account, because="Forgot it over the holidays.", by=shop.actor("manager"), now=now())
    client = shop.client(None)
    answer = client.post("/sign-in/", {"login": account.login, "password": one_time})
    assert answer["Location"] == "/password/"
    assert client.get("/")["Location"] == "/password/"
    assert client.get("/api/v1/jobs").status_code == 403
    answer = client.post("/password/", {"old": one_time, "new": "seven quiet harbour gulls"})
    assert answer["Location"] == "/"
    assert client.get("/").status_code == 200


def test_a_one_time_password_ends_after_seven_days(shop):
    from soundedge.services import accounts

    account = shop.accounts["technician"]
    one_time = accounts.reset_password(account, because="Forgot it over the holidays.", by=shop.actor("manager"), now=now())
    account.one_time_until = now() - timedelta(seconds=1)
    account.save()
    client = shop.client(None)
    client.post("/sign-in/", {"login": account.login, "password": one_time})
    assert client.get("/password/").status_code == 302


def test_a_session_gets_a_new_key_at_sign_in_and_the_old_one_is_dead(shop):
    client = shop.client(None)
    client.get("/sign-in/")
    client.cookies["__Host-session"] = "a" * 32
    client.post("/sign-in/", {"login": shop.login("inspector"), "password": PASSWORDS["inspector"]})
    assert client.cookies["__Host-session"].value != "a" * 32
    first = client.cookies["__Host-session"].value
    client.post("/sign-out/")
    client.cookies["__Host-session"] = first
    assert client.get("/").status_code == 302


@pytest.mark.parametrize(("key", "back"), [("seen_at", timedelta(minutes=31)), ("began_at", timedelta(hours=12, minutes=1))])
def test_a_session_ends_when_it_stood_idle_or_lasted_too_long(shop, key, back):
    client = shop.client("inspector")
    if key == "seen_at":
        shop.accounts["inspector"].sessions.update(seen_at=now() - back)
    else:
        session = client.session
        session[key] = (now() - back).isoformat()
        session.save()
    assert client.get("/").status_code == 302


def test_a_slower_request_of_the_same_browser_does_not_take_back_when_it_was_last_seen(shop):
    client = shop.client("inspector")
    slow = client.session
    slow.load()
    later = now() + timedelta(minutes=5)
    client.session.seen(later)
    slow.seen(now())
    assert shop.accounts["inspector"].sessions.get().seen_at == later


def test_a_session_that_is_used_stays(shop):
    client = shop.client("inspector")
    rows = shop.accounts["inspector"].sessions
    rows.update(seen_at=now() - timedelta(minutes=29))
    assert client.get("/").status_code == 200
    assert now() - rows.get().seen_at < timedelta(minutes=1)


def test_five_wrong_passwords_close_the_account_and_a_manager_opens_it(shop):
    client = shop.client(None)
    login = shop.login("technician")
    for _ in range(5):
        client.post("/sign-in/", {"login": login, "password": "not this one at all"})
    answer = client.post("/sign-in/", {"login": login, "password": PASSWORDS["technician"]})
    assert answer.status_code == 429
    from soundedge.services import accounts

    accounts.unlock(shop.accounts["technician"])
    assert client.post("/sign-in/", {"login": login, "password": PASSWORDS["technician"]}).status_code == 302


def test_a_written_forwarded_address_or_another_browser_does_not_open_another_bucket(shop):
    login = shop.login("technician")
    for number in range(5):
        shop.client(None).post(
            "/sign-in/",
            {"login": login, "password": "wrong"},
            HTTP_X_FORWARDED_FOR=f"10.0.0.{number}",
            HTTP_USER_AGENT=f"browser {number}",
        )
    answer = shop.client(None).post(
        "/sign-in/", {"login": login, "password": PASSWORDS["technician"]}, HTTP_X_FORWARDED_FOR="10.9.9.9"
    )
    assert answer.status_code == 429


def test_a_wrong_name_and_a_wrong_password_get_the_same_answer(shop):
    client = shop.client(None)
    one = client.post("/sign-in/", {"login": shop.login("technician"), "password": "wrong"})
    other = client.post("/sign-in/", {"login": "nobody.at.all", "password": "wrong"})
    assert one.status_code == other.status_code == 401
    assert re.sub(rb'(value|content)="[^"]*"', b"", one.content) == re.sub(rb'(value|content)="[^"]*"', b"", other.content)


def test_a_password_changed_ends_every_other_session(shop):
    one, other = shop.client("engineer"), shop.client("engineer")
    one.post("/password/", {"old": PASSWORDS["engineer"], "new": "nine quiet harbour lamps"})
    assert one.get("/").status_code == 200
    assert other.get("/").status_code == 302


@pytest.mark.parametrize(
    "weak", ["short", "aaaaaaaaaaaaaa", "password1234", "qwertyuiop12", "soundedge2026", "123456789012", "passwordpassword"]
)
def test_a_password_that_anybody_would_guess_is_refused(shop, weak):
    client = shop.client("engineer")
    assert client.post("/password/", {"old": PASSWORDS["engineer"], "new": weak}).status_code == 422


def test_a_long_password_with_blanks_and_umlauts_is_taken(shop):
    client = shop.client("engineer")
    long = "Grüne Möwen ziehen über den Hafen; sieben Lampen stehen am Kai, und der Regen fällt ins Öl"
    assert client.post("/password/", {"old": PASSWORDS["engineer"], "new": long}).status_code == 302
    assert client.post("/password/", {"old": long, "new": long}).status_code == 422


def test_nobody_changes_his_own_role_or_ends_himself(shop):
    from soundedge.basis.errors import Refused
    from soundedge.services import accounts

    manager = shop.accounts["manager"]
    with pytest.raises(Refused):
        accounts.disable(manager, because="I want to go home.", by=shop.actor("manager"), now=now())
    with pytest.raises(Refused):
        accounts.change_person(manager, {"id": "mana", "name": "M", "role": "inspector"}, by=shop.actor("manager"), now=now())


ADDRESSES = (
    "/sign-in/",
    "/",
    "/nothing/",
    "/people/",
    "/api/v1/me",
    "/api/v1/nothing",
    "/static/sheet.css",
    "/verify/",
    "/offline/",
)


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize("role", [None, "manager"])
def test_every_answer_carries_the_headers(shop, address, role):
    answer = shop.client(role).get(address)
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert (
        "max-age=31622400" in answer["Strict-Transport-Security"] and "includeSubDomains" in answer["Strict-Transport-Security"]
    )
    assert "Access-Control-Allow-Origin" not in answer
    policy = answer["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
    assert "object-src 'none'" in policy and "base-uri 'none'" in policy
    if not address.startswith("/static/"):
        assert "no-store" in answer["Cache-Control"] or "no-cache" in answer["Cache-Control"]
    for cookie in answer.cookies.values():
        assert cookie.key.startswith("__Host-") and cookie["secure"] and cookie["httponly"] and cookie["path"] == "/"
        assert cookie["samesite"] in ("Lax", "Strict") and not cookie["domain"]


def test_a_form_without_its_token_is_refused(shop):
    client = browser(enforce_csrf_checks=True)
    client.cookies = shop.client("manager").cookies
    assert client.post("/mine/", {"units": "us"}).status_code == 403
    answer = client.post("/api/v1/ask/conditions", data=b"{}", content_type="application/json")
    assert answer.status_code == 403 and answer.json()["kind"] == "csrf"


def test_nothing_is_changed_by_reading(shop):
    from .one_job import opened

    job = opened(shop, "KBW-2036-001")
    from soundedge.services.desk import jobs

    before = jobs.size(shop.data)
    client = shop.client("manager")
    from .test_matrix import HELD, asked

    for route in HELD["routes"]:
        if route.startswith("GET") and not route.endswith(("/stream", "certificate.pdf", "certificate.proof")):
            asked(client, route, job)
    reader = shop.client("auditor")
    for route in HELD["routes"]:
        if route.startswith("GET") and not route.endswith("/stream"):
            asked(reader, route, job)
    assert jobs.size(shop.data) == before


def test_who_only_reads_takes_the_page_that_was_made_and_makes_none(shop):
    from .one_job import opened

    job = opened(shop, "KBW-2036-001")
    address, reader, worker = f"/api/v1/jobs/{job}/certificate.pdf", shop.client("auditor"), shop.client("manager")

    refused = reader.get(address)
    assert refused.status_code >= 400 and "has been made" in refused.json()["detail"]
    assert "has been made" in reader.get(f"/jobs/{job}/release/").content.decode()
    made = worker.get(address).content
    assert made[:4] == b"%PDF" and reader.get(address).content == made
    assert address in reader.get(f"/jobs/{job}/release/").content.decode()


def test_a_next_address_of_another_place_is_not_followed(shop):
    for bad in ("//elsewhere.example/", "https://elsewhere.example/", "javascript:alert(1)", "/\\elsewhere.example"):
        answer = shop.client(None).post(
            "/sign-in/", {"login": shop.login("auditor"), "password": PASSWORDS["auditor"], "next": bad}
        )
        assert answer["Location"] == "/"


def test_a_ledger_that_a_witness_contradicts_is_read_only_in_the_browser(shop):
    import shutil

    from soundedge.services.desk.stopped import forget
    from soundedge.services.opened import database_url

    from .one_job import opened

    if database_url():
        pytest.skip("the older copy of a database is put back in tests/store")
    job = opened(shop, "KBW-2036-001")
    older = shop.data.parent / f"{shop.slug}-older"
    client = shop.client("technician")
    shutil.copytree(shop.data, older)
    assert client.get(f"/api/v1/jobs/{job}/certificate.pdf").status_code == 200  # a checkpoint beside the keys
    shutil.rmtree(shop.data)
    shutil.move(older, shop.data)
    forget(shop.data)
    body = b'{"entries": []}'
    answer = client.post(f"/api/v1/jobs/{job}/entries", data=body, content_type="application/json")
    assert answer.status_code == 403 and "ledger" in answer.json()["detail"]
    assert b"Nothing can be recorded in this shop now" in client.get("/").content
    forget(shop.data)


def test_an_address_of_this_machine_is_not_pinned_to_tls(shop):
    assert "Strict-Transport-Security" not in browser().get("/sign-in/", HTTP_HOST="localhost:8741")
    assert "Strict-Transport-Security" in browser().get("/sign-in/", HTTP_HOST="bench.local:8741")


def test_where_things_lie_on_the_machine_is_the_managers_to_know(shop, installation):
    assert str(installation) not in shop.client("auditor").get("/doctor/").content.decode()
    assert "keys" in shop.client("auditor").get("/doctor/").content.decode()
