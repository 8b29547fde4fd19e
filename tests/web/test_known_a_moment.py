"""Session, person and device are read once and known for the next requests; whoever may no longer is refused all the same."""

import os
import subprocess
import sys

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from soundedge.services.people import accounts, devices
from soundedge.store.accounts import memory

from .installation import PASSWORDS, now

ELSEWHERE = """
import django; django.setup()
from soundedge.store.accounts.models import Account
account = Account.objects.get(login={login!r})
account.is_active = False
account.save()
"""


def tables():
    """Accounts, devices and sessions; Django has them once it is set up."""
    from soundedge.store.accounts.models import Account, Device, SignedIn

    return Account, Device, SignedIn


def session_of(tablet):
    """The session of a browser, as a request finds it."""
    _, _, signed_in = tables()
    return signed_in.get_session_store_class()(tablet.cookies["__Host-session"].value)


@pytest.fixture
def tablet(shop):
    """A technician's, whose last request was a moment ago."""
    client = shop.client("technician")
    assert client.get("/api/v1/me").status_code == 200
    return client


def test_a_request_that_follows_another_asks_the_tables_of_people_nothing(tablet):
    tablet.get("/api/v1/me")
    with CaptureQueriesContext(connection) as asked:
        assert tablet.get("/api/v1/me").json()["person"] == "tech"
    assert [one["sql"] for one in asked] == []


def test_a_disabled_person_is_refused_at_the_next_request(shop, tablet):
    accounts.disable(shop.accounts["technician"], because="Left the plant.", by=shop.actor("manager"), now=now())

    assert tablet.get("/api/v1/me").status_code == 401


def test_a_withdrawn_device_writes_nothing_from_the_next_request_on(shop, tablet):
    assert tablet.get("/api/v1/me").json()["device"] == shop.device.name
    devices.revoke_device(shop.device, because="It was lost.", by=shop.actor("manager"), now=now())

    assert tablet.get("/api/v1/me").json()["device"] is None


def test_a_new_password_ends_what_was_known_of_the_old_one(shop, tablet):
    other = shop.client("technician")
    accounts.change_password(shop.accounts["technician"], PASSWORDS["technician"], "another quiet harbour 9", now=now())

    assert {one.get("/api/v1/me").status_code for one in (tablet, other)} == {401}


def test_a_session_that_was_ended_is_not_known_any_more(shop, tablet):
    shop.accounts["technician"].sessions.all().delete()

    assert tablet.get("/api/v1/me").status_code == 401


def test_another_worker_of_the_machine_says_so_at_once(shop, tablet):
    """The person is disabled in another process; this one has no hand in it."""
    code = ELSEWHERE.format(login=shop.login("technician"))
    subprocess.run([sys.executable, "-c", code], check=True, timeout=120, env=os.environ)

    assert tablet.get("/api/v1/me").status_code == 401


@pytest.mark.parametrize("taken", ["account", "session", "device"])
def test_what_another_host_has_changed_is_seen_after_the_stated_time(shop, tablet, monkeypatch, taken):
    """Nothing tells this worker of it: neither its own writing nor the file that grows."""
    began = memory.time.monotonic()
    account, device, signed_in = tables()
    with memory.lets_nobody_out():
        if taken == "account":
            account.objects.filter(login=shop.login("technician")).update(is_active=False)
        elif taken == "session":
            signed_in.objects.filter(account=shop.accounts["technician"]).delete()
        else:
            device.objects.filter(pk=shop.device.pk).update(revoked_at=now())

    monkeypatch.setattr(memory.time, "monotonic", lambda: began + memory.FOR_S + 1)
    answer = tablet.get("/api/v1/me")
    assert (answer.json()["device"] is None) if taken == "device" else (answer.status_code == 401)
    assert memory.FOR_S <= 10


def test_each_request_has_its_own_account_and_session(shop, tablet):
    """What one request changes and does not keep is nothing to the next one."""
    from soundedge.store.accounts.backend import Accounts

    one, other = (Accounts().get_user(shop.accounts["technician"].pk) for _ in range(2))
    one.language = "de"
    assert other.language == "en" and one.shop == other.shop

    first, second = session_of(tablet), session_of(tablet)
    first["began_at"] = "never"
    assert second["began_at"] != "never"


def test_what_was_read_while_it_changed_is_not_kept(shop):
    asked = []

    def ask():
        asked.append("asked")
        memory.forget()  # somebody is disabled between this look and its end
        return "in"

    assert [memory.recalled("somebody", ask) for _ in range(3)] == ["in"] * 3 and len(asked) == 3


def test_who_is_not_let_in_is_asked_again_each_time(shop):
    answers = iter([None, None, "in"])

    assert [memory.recalled("somebody new", lambda: next(answers)) for _ in range(4)] == [None, None, "in", "in"]


def test_a_session_that_is_seen_each_minute_makes_nobody_else_ask_again(shop, tablet):
    held = memory.recalled("anybody", lambda: "in")
    session = session_of(tablet)
    assert session["began_at"] and session.seen_at is not None
    session.seen(now())
    devices.photo_taken(shop.device, 1000, now=now())

    assert memory.recalled("anybody", lambda: "asked again") == held
    assert devices.photos_left(shop.device, now=now()) == devices.PHOTO_BYTES_DAY - 1000
    again = session_of(tablet)
    assert again["began_at"] and again.seen_at == session.seen_at

