"""A session that was taken away, the log, the headers: what somebody learns who is already half inside."""

import io
import json
import logging
import re
import time

import pytest

from .installation import PASSWORDS, browser, now

WRONG = "not this one at all"


def ways(shop, job):
    """Every place that asks for the password again, with one wrong password: role, address, body."""
    from soundedge.services.desk import jobs

    head = jobs.head(shop.data, job)
    sign = {"id": "s-1", "on_head": head, "what": "disposition", "meaning": "I have looked.", "password": WRONG}
    person = {"id": "p9", "name": "P", "role": "technician", "login": "p9.p9", "password": WRONG}
    return {
        "signatures": ("inspector", f"/api/v1/jobs/{job}/signatures", sign),
        "decisions": ("engineer", f"/api/v1/jobs/{job}/decisions",
                      {"id": "e-1", "on_head": head, "decision": "reject_part", "because": "It is past mending.",
                       "password": WRONG}),
        "people by the API": ("manager", "/api/v1/people", person),
        "devices by the API": ("manager", "/api/v1/devices", {"password": WRONG}),
        "people": ("manager", "/people/add/", person),
        "one person": ("manager", "/people/tech/", {"what": "reset", "because": "He forgot it again.", "password": WRONG}),
        "device code": ("manager", "/devices/code/", {"password": WRONG}),
        "device at hand": ("manager", "/device/", {"label": "x", "password": WRONG}),
        "withdrawals by the API": ("manager", "/api/v1/instruments/withdrawals",
                                   {"id": "G7", "because": "It was dropped on concrete.", "password": WRONG}),
        "withdrawals": ("manager", "/instruments/change/",
                        {"what": "withdraw_instrument", "id": "G7", "because": "It was dropped once.", "password": WRONG}),
        "corrections": ("inspector", f"/api/v1/jobs/{job}/corrections",
                        {"id": "c-1", "on_head": head, "entry": "x", "field": "rh_pct", "old": 1, "new": 2,
                         "because": "It was read wrongly.", "password": WRONG}),
        "own password": ("technician", "/password/", {"old": WRONG, "new": "seven quiet harbour gulls"}),
    }


@pytest.mark.parametrize("way", ["signatures", "decisions", "people by the API", "devices by the API", "people", "one person",
                                 "device code", "device at hand", "withdrawals by the API", "withdrawals", "corrections",
                                 "own password"])
def test_five_wrong_passwords_with_a_session_stop_what_asks_for_it_and_not_the_sign_in(shop, way):
    from .one_job import opened

    job = opened(shop, "KBW-2036-730")
    role, address, body = ways(shop, job)[way]
    client = shop.client(role)

    def sent(password):
        said = {key: password if value == WRONG else value for key, value in body.items()}
        if "/api/" in address:
            return client.post(address, data=json.dumps(said), content_type="application/json")
        return client.post(address, said)

    for _ in range(5):
        assert sent(WRONG).status_code in (302, 422)
    right = sent(PASSWORDS[role])
    if "/api/" in address:
        assert right.status_code == 429 and right.json()["kind"] == "locked"
    else:
        assert right.status_code == 302 or b"Too many wrong passwords" in right.content
    from soundedge.basis.errors import BenchError
    from soundedge.services.people import accounts

    with pytest.raises(BenchError) as said:
        accounts.check_password(shop.accounts[role], PASSWORDS[role])
    assert said.value.kind == "locked"
    assert shop.client(None).post("/sign-in/", {"login": shop.login(role), "password": PASSWORDS[role]}).status_code == 302
    with pytest.raises(BenchError):  # to sign in once more opens nothing
        accounts.check_password(shop.accounts[role], PASSWORDS[role])
    accounts.unlock(shop.accounts[role])
    accounts.check_password(shop.accounts[role], PASSWORDS[role])


def test_a_stranger_who_types_a_name_at_the_sign_in_stops_no_signature_of_that_person(shop):
    from .one_job import opened

    job = opened(shop, "KBW-2036-731")
    role, address, body = ways(shop, job)["signatures"]
    client, stranger = shop.client(role), shop.client(None)
    for name in (shop.login(role), f"again:{shop.login(role)}"):
        for _ in range(6):
            answer = stranger.post("/sign-in/", {"login": name, "password": WRONG})
    from soundedge.services.people import accounts

    accounts.check_password(shop.accounts[role], PASSWORDS[role])
    answer = client.post(address, data=json.dumps(body | {"password": PASSWORDS[role]}), content_type="application/json")
    assert answer.json()["kind"] != "locked", answer.json()
    again = stranger.post("/sign-in/", {"login": shop.login(role), "password": PASSWORDS[role]})
    assert again.status_code == 429  # a password typed rightly at a signature gives the stranger no more guesses
    assert "soundedge shop unlock" in again.content.decode()


def test_a_stranger_shuts_nobody_out_at_an_enrolled_device_and_nobody_there_elsewhere(shop):
    right, wrong = ({"login": shop.login("technician"), "password": word} for word in (PASSWORDS["technician"], WRONG))
    stranger, tablet = shop.client(None, device=False), shop.client(None)
    for _ in range(6):
        stranger.post("/sign-in/", wrong)
    assert stranger.post("/sign-in/", right).status_code == 429
    for _ in range(4):
        assert tablet.post("/sign-in/", wrong).status_code == 401
    assert tablet.post("/sign-in/", right).status_code == 302
    assert stranger.post("/sign-in/", right).status_code == 429  # gets no more guesses by what happens at the tablet

    from soundedge.services.people import accounts

    accounts.unlock(shop.accounts["technician"])
    at_tablet = shop.client(None)
    for _ in range(5):
        at_tablet.post("/sign-in/", wrong)
    assert at_tablet.post("/sign-in/", right).status_code == 429
    assert shop.client(None, device=False).post("/sign-in/", right).status_code == 302
    accounts.unlock(shop.accounts["technician"])
    assert shop.client(None).post("/sign-in/", right).status_code == 302


def test_the_secret_of_another_shops_device_counts_nothing_apart(shop):
    from .installation import new_shop

    other = new_shop(roles=("manager",))
    for _ in range(5):
        client = shop.client(None, device=False)
        client.cookies["__Host-device"] = other.token
        client.post("/sign-in/", {"login": shop.login("auditor"), "password": WRONG})
    right = {"login": shop.login("auditor"), "password": PASSWORDS["auditor"]}
    assert shop.client(None, device=False).post("/sign-in/", right).status_code == 429


def test_at_the_machine_both_counts_are_forgotten(shop):
    from soundedge.basis.errors import BenchError
    from soundedge.services.people import accounts

    for _ in range(6):
        shop.client(None).post("/sign-in/", {"login": shop.login("manager"), "password": WRONG})
        with pytest.raises(BenchError):
            accounts.check_password(shop.accounts["manager"], WRONG)
    said = accounts.unlock_login(shop.login("manager"))
    assert (said.id, said.params) == ("people.account_open_again", {"name": shop.accounts["manager"].name})
    accounts.check_password(shop.accounts["manager"], PASSWORDS["manager"])
    shop.client("manager")


def test_a_right_password_forgets_the_wrong_ones_before_it(shop):
    from soundedge.basis.errors import Refused
    from soundedge.services.people import accounts

    account = shop.accounts["inspector"]
    for _ in range(3):
        for _ in range(4):
            with pytest.raises(Refused):
                accounts.check_password(account, WRONG)
        accounts.check_password(account, PASSWORDS["inspector"])


def test_an_unknown_name_takes_as_long_as_a_wrong_password(shop):
    """Rough: the quickest of nine, within a factor of three."""
    def took(name):
        times = []
        for number in range(9):
            began = time.perf_counter()
            shop.client(None).post("/sign-in/", {"login": name.format(number), "password": WRONG})
            times.append(time.perf_counter() - began)
        return min(times)

    from soundedge.services.people import accounts

    known, unknown = took(shop.login("auditor")), took("nobody.{}")
    accounts.unlock(shop.accounts["auditor"])
    assert 1 / 3 < known / unknown < 3, (known, unknown)


def test_what_a_password_costs_in_use_is_argon2_with_djangos_figures():
    from django.contrib.auth.hashers import Argon2PasswordHasher

    from soundedge.web import settings

    assert settings.PASSWORD_HASHERS[0].endswith(".Argon2PasswordHasher")
    assert Argon2PasswordHasher.memory_cost >= 19 * 1024 and Argon2PasswordHasher.time_cost >= 2


@pytest.fixture
def lines():
    """The log of a test as ``serve`` writes it: a line of JSON each."""
    from soundedge.services.people import serve

    root = logging.getLogger()
    kept, level = list(root.handlers), root.level
    serve.write_lines(None)
    text = io.StringIO()
    (handler,) = root.handlers
    handler.setStream(text)
    yield text
    root.handlers[:] = kept
    root.setLevel(level)
    logging.captureWarnings(False)


def test_no_secret_stands_in_the_log_and_refused_access_is_one_line_each(shop, lines):
    from soundedge.services.people import accounts, devices

    from .one_job import opened

    job = opened(shop, "KBW-2036-731")
    once = accounts.reset_password(shop.accounts["auditor"], because="Forgot it again.", by=shop.actor("manager"), now=now())
    code = devices.device_code(shop.row, by=shop.actor("manager"), now=now())
    client = shop.client("technician")
    client.raise_request_exception = False
    shop.client(None).post("/sign-in/", {"login": shop.login("engineer"), "password": WRONG})
    assert client.get("/people/add/").status_code == 403
    assert client.post("/api/v1/devices", data=b"{}", content_type="application/json").status_code == 403
    assert shop.client(None).get("/api/v1/me%0d%0aFAKE%20LINE").status_code == 404
    client.get("/people/%0d%0aforged/")
    shop.client(None).post("/sign-in/", {"login": "x\r\nforged by hand", "password": WRONG})
    for _, (role, address, body) in ways(shop, job).items():
        if "/api/" in address:
            shop.client(role).post(address, data=json.dumps(body), content_type="application/json")
    shop.client(None).post("/device/", {"code": code, "label": "x"})
    said = lines.getvalue()
    seed = (shop.data.parents[1] / "none")  # keys never lie in the data
    assert not seed.exists()
    session = client.cookies["__Host-session"].value
    for secret in (*PASSWORDS.values(), WRONG, once, code, shop.token, session, "harbour"):
        assert secret not in said
    rows = [json.loads(line) for line in said.splitlines()]
    refused = [row for row in rows if row.get("logger") == "soundedge.web" and row["event"].startswith("refused")]
    assert any(shop.login("technician") in row["event"] and "/people/add/" in row["event"] for row in refused)
    assert any("/api/v1/devices" in row["event"] for row in refused)
    for row in refused:
        assert re.match(r"\d{4}-\d\d-\d\dT.*(Z|\+00:00)$", row["timestamp"]) and "\n" not in row["event"]


def test_the_answer_to_a_fault_tells_nothing_of_it(shop, monkeypatch):
    from soundedge.services.desk import board

    def fails(*given):
        raise RuntimeError("inside: /etc/secret")

    client = shop.client("manager")
    client.raise_request_exception = False
    monkeypatch.setattr(board, "listed", fails)
    for address in ("/", "/api/v1/jobs"):
        answer = client.get(address)
        assert answer.status_code == 500
        for word in (b"RuntimeError", b"inside", b"Traceback", b"secret", b".py"):
            assert word not in answer.content


def test_what_the_host_header_says_stands_in_no_answer(shop):
    evil = "elsewhere.example"
    for role, address in ((None, "/sign-in/"), (None, "/"), ("manager", "/"), ("manager", "/people/"), ("manager", "/mine/"),
                          ("manager", "/nothing"), ("manager", "/people"), ("auditor", "/api/v1/jobs"),
                          (None, "/manifest.webmanifest")):
        answer = shop.client(role).get(address, HTTP_HOST=evil, HTTP_X_FORWARDED_HOST="other.example")
        for text in (answer.content.decode(), str(dict(answer.headers))):
            assert evil not in text and "other.example" not in text, address


def test_the_description_of_the_api_is_for_people_who_are_signed_in(shop):
    assert shop.client(None).get("/api/v1/openapi.json").status_code == 401
    assert shop.client("auditor").get("/api/v1/openapi.json").status_code == 200
    assert shop.client("auditor").get("/api/v1/docs").status_code == 404


def test_djangos_own_check_for_use_finds_nothing(installation, in_installation, monkeypatch):
    from django.core.management import call_command

    monkeypatch.delenv("DJANGO_ALLOW_ASYNC_UNSAFE", raising=False)  # set for the browser tests of the same process

    said = io.StringIO()
    call_command("check", "--deploy", "--fail-level", "INFO", stdout=said, stderr=said)
    assert "no issues" in said.getvalue()


def test_every_post_of_page_and_api_without_its_token_is_refused(shop):
    from .one_job import opened
    from .test_matrix import HELD, filled

    job = opened(shop, "KBW-2036-732")
    for role in ("manager", "inspector", "engineer", "technician"):
        client = browser(enforce_csrf_checks=True)
        client.cookies = shop.client(role).cookies
        for route, roles in HELD["routes"].items():
            method, path = route.split(" ", 1)
            if method != "POST" or (role not in roles and roles != ["everybody"]):
                continue
            kind = "application/octet-stream" if path.endswith("/verify") else "application/json"
            answer = client.post(filled(path, job), data=b"{}", content_type=kind)
            no_photo = path == "/api/v1/photos" and answer.status_code == 415
            assert answer.status_code == 403 or no_photo, (route, answer.status_code)
