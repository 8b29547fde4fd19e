"""Who may open what: every route of the URL configuration against matrix.toml, which says it once more by hand.

A route that is missing from the file fails; so does a line without a route. Then each route is asked for by every role, by
nobody, and with names of another shop.
"""

import tomllib
from pathlib import Path

import pytest

from .installation import PASSWORDS
from .one_job import PROCEDURE

ROLES = ("technician", "inspector", "engineer", "manager", "auditor")
HELD = tomllib.loads((Path(__file__).parent / "matrix.toml").read_text(encoding="utf-8"))


def routes():
    """Method and path → the roles that the code lets in."""
    from soundedge.web.api.door import OPERATIONS
    from soundedge.web.urls import PAGES

    found = {}
    for page in PAGES:
        for method in page.methods:
            found[f"{method} /{page.path}"] = sorted(page.roles_for(method))
    for (method, path), roles in OPERATIONS.items():
        found[f"{method} /api/v1{path}"] = sorted(roles)
    return found


def test_every_route_stands_in_the_matrix_with_the_same_roles(installation):
    written = {route: sorted(roles) for route, roles in HELD["routes"].items()}
    assert routes() == written


def test_every_operation_of_the_api_was_added_with_its_door(installation):
    from soundedge.web.api import api
    from soundedge.web.api.door import OPERATIONS

    described = {
        (method.upper(), path.removeprefix("/api/v1"))
        for path, item in api.get_openapi_schema()["paths"].items()
        for method in item
    }
    assert described == set(OPERATIONS)


def test_every_view_of_the_url_configuration_has_a_page_or_is_the_api(installation):
    from django.urls import get_resolver

    for pattern in get_resolver().url_patterns:
        if hasattr(pattern, "url_patterns"):
            assert str(pattern.pattern) == "api/v1/"
        else:
            assert pattern.callback.page.roles


def filled(path, job):
    """A path with names in place of its blanks: the job of a shop, and things that are in no shop."""
    out = path.removeprefix("/api/v1")
    for blank, name in (("<job:job>", job), ("{job}", job), ("{sha256}", "0" * 64), ("<int:number>", "7")):
        out = out.replace(blank, name)
    while "<" in out:
        before, _, rest = out.partition("<")
        out = f"{before}nothing-like-it{rest.partition('>')[2]}"
    while "{" in out:
        before, _, rest = out.partition("{")
        out = f"{before}nothing-like-it{rest.partition('}')[2]}"
    return ("/api/v1" if path.startswith("/api/v1") else "") + out


def asked(client, route, job):
    method, path = route.split(" ", 1)
    address = filled(path, job)
    if method == "POST":
        return client.post(address, data=b"{}", content_type="application/json")
    return client.get(address)


@pytest.fixture(scope="module")
def two_shops(installation):
    import os

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    from .installation import new_shop
    from .one_job import opened

    ours, theirs = new_shop(), new_shop()
    return ours, theirs, opened(ours, "KBW-2036-101"), opened(theirs, "KBW-2036-909")


def test_nobody_who_is_not_signed_in_opens_anything_but_the_door(two_shops, in_installation):
    ours, _, job, _ = two_shops
    for route, roles in HELD["routes"].items():
        answer = asked(ours.client(None), route, job)
        if roles == ["everybody"]:
            assert answer.status_code in (200, 401, 404, 422), route  # 401: an empty name and password
        elif "/api/v1/" in route:  # /api/docs is a page for people
            assert answer.status_code == 401, route
        else:
            assert answer.status_code == 302 and answer["Location"].startswith("/sign-in/"), route


@pytest.mark.parametrize("role", ROLES)
def test_a_role_opens_what_the_matrix_says_and_nothing_else(two_shops, in_installation, role):
    ours, _, job, _ = two_shops
    for route, roles in HELD["routes"].items():
        if route.endswith("/sign-out/") or route.endswith("/stream"):
            continue
        client = ours.client(role) if route.startswith("POST") and "/api/" not in route else _kept(ours, role)
        status = asked(client, route, job).status_code
        if route == "POST /sign-in/":
            assert status in (401, 429)  # an empty name and password
        elif roles == ["everybody"] or role in roles:
            assert status not in (401, 403, 405) and status < 500, f"{route} as {role}: {status}"
        else:
            assert status == 403, f"{route} as {role}: {status}"


_clients = {}


def _kept(shop, role):
    if (shop.slug, role) not in _clients:
        _clients[shop.slug, role] = shop.client(role)
    return _clients[shop.slug, role]


@pytest.mark.parametrize("role", ROLES)
def test_another_shops_job_is_not_there_for_anybody(two_shops, in_installation, role):
    ours, _, _, foreign = two_shops
    client = _kept(ours, role)
    for route, roles in HELD["routes"].items():
        if role not in roles or not ("<job:job>" in route or "{job}" in route):
            continue
        answer, nowhere = asked(client, route, foreign), asked(client, route, "KBW-0000-000")
        assert answer.status_code == nowhere.status_code and answer.status_code in (404, 422), (
            f"{route} as {role}: {answer.status_code}"
        )
        assert (
            answer.content.replace(foreign.encode(), b"X") == nowhere.content.replace(b"KBW-0000-000", b"X")
            or b"csrf" in answer.content
        ), route


def test_nothing_else_of_another_shop_is_there_either(two_shops, in_installation, monkeypatch):
    """Photos by digest, people, devices, instruments, lots, procedures, sessions, board, checkpoint, stream."""
    from soundedge.services.desk import jobs, photos
    from soundedge.services.desk import register as desk
    from soundedge.web.api import live

    from .pictures import jpeg

    ours, theirs, _, foreign = two_shops
    digest = photos.keep(theirs.data, jpeg(seed=909))["sha256"]
    desk.list_instrument(
        theirs.data,
        theirs.actor("manager"),
        {
            "id": "ONLY-THEIRS",
            "kind": "air_meter",
            "calibrated_on": "2026-06-01T00:00:00Z",
            "calibration_due": "2027-06-01T00:00:00Z",
        },
        now=_now(),
    )
    proposed = desk.propose_procedure(
        theirs.data,
        theirs.actor("engineer"),
        PROCEDURE.read_text(encoding="utf-8").replace("KBW", "XQX"),
        because="A procedure that only they have.",
        id="proposed-theirs",
        now=_now(),
    )
    monkeypatch.setattr(live, "STREAM_S", 0.0)
    for role in ROLES:
        client = _kept(ours, role)
        for address in (f"/api/v1/photos/{digest}", f"/api/v1/photos/{digest}/original"):
            assert client.get(address).status_code == client.get(address.replace(digest, "1" * 64)).status_code == 422
        for name in ("survey", "snap"):
            answer = client.post(
                f"/api/v1/photos/{digest}/{name}", data=b'{"find_card": true}', content_type="application/json"
            )
            assert answer.status_code == 422, answer.content
        assert client.get(f"/procedures/{proposed}/").status_code == 404
        assert client.get(f"/api/v1/procedures/{proposed}").status_code == 422
        for address in (
            "/",
            "/people/",
            "/instruments/",
            "/procedures/",
            "/mine/",
            "/doctor/",
            "/api/v1/jobs",
            "/api/v1/people",
            "/api/v1/devices",
            "/api/v1/instruments",
            "/api/v1/lots",
            "/api/v1/procedures",
            "/api/v1/checkpoint",
        ):
            said = client.get(address).content.decode()
            for word in (foreign, "ONLY-THEIRS", proposed, theirs.slug, digest):
                assert word not in said, f"{address} as {role} tells of {word}"
        assert f'"size": {jobs.size(ours.data)}'.encode() in b"".join(client.get("/api/v1/stream").streaming_content)
        assert client.get("/api/v1/checkpoint").json()["size"] == jobs.size(ours.data)
    manager = _kept(ours, "manager")
    theirs_device = theirs.row.devices.get()
    for answer in (
        manager.post("/people/only-theirs/", {"what": "unlock", "password": PASSWORDS["manager"]}),
        manager.post("/devices/d99/revoke/", {"because": "It is not ours at all.", "password": PASSWORDS["manager"]}),
    ):
        assert answer.status_code == 404
    # names are the same in both shops: what our manager does to "tech" and "d1" is done to ours
    manager.post("/devices/d1/revoke/", {"because": "Broken glass, long ago.", "password": PASSWORDS["manager"]})
    theirs_device.refresh_from_db()
    assert theirs_device.revoked_at is None
    assert ours.row.devices.get(name="d1").revoked_at is not None


def test_a_device_of_another_shop_is_no_device_here(two_shops, in_installation):
    ours, theirs, job, _ = two_shops
    client = ours.client("technician")
    client.cookies["__Host-device"] = theirs.token
    answer = client.post(f"/api/v1/jobs/{job}/entries", data=b'{"entries": []}', content_type="application/json")
    assert answer.status_code == 403 and "not enrolled" in answer.json()["detail"]


def test_a_device_that_is_not_enrolled_records_nothing(two_shops, in_installation):
    ours, _, job, _ = two_shops
    client = ours.client("technician", device=False)
    answer = client.post(f"/api/v1/jobs/{job}/entries", data=b'{"entries": []}', content_type="application/json")
    assert answer.status_code == 403
    assert "not enrolled" in answer.json()["detail"]


def test_a_role_taken_away_counts_from_the_next_request(shop):
    from soundedge.services.people import accounts

    client = shop.client("technician")
    assert client.get("/").status_code == 200
    accounts.disable(shop.accounts["technician"], because="Left the shop in spring.", by=shop.actor("manager"), now=_now())
    assert client.get("/").status_code == 302
    assert client.get("/api/v1/me").status_code == 401


def _now():
    from .installation import now

    return now()
