"""Bodies that no honest client sends: each POST of the API says 422 in a sentence, never 500, and keeps nothing."""

import json

import pytest

DEEP = b'{"id": ' + b"[" * 4000 + b"]" * 4000 + b"}"
HOSTILE = {
    "nothing": b" ",
    "not JSON": b"{",
    "a list": b"[]",
    "a number": b"1",
    "a text": b'"x"',
    "null": b"null",
    "nested too deep": DEEP,
    "not UTF-8": b'{"id": "\xff\xfe"}',
    "a BOM of UTF-16": "{}".encode("utf-16"),
    "NaN": b'{"id": NaN}',
    "infinity": b'{"id": -Infinity}',
    "a number beyond all": b'{"id": 1e999}',
    "a huge whole number": b'{"id": ' + b"9" * 5000 + b"}",
    "a key twice": b'{"id": "a", "id": "b"}',
    "half a character": b'{"id": "\\ud800"}',
    "half a character as key": b'{"\\udfff": 1}',
    "NUL": b'{"id": "\\u0000"}',
    "a key too many": b'{"__proto__": {"role": "manager"}, "is_admin": true}',
    "a key of 100,000 letters": b'{"' + b"k" * 100_000 + b'": 1}',
}


@pytest.fixture(scope="module")
def bench(installation):
    import os

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    from soundedge.services.desk import jobs, photos

    from .installation import new_shop
    from .one_job import opened
    from .pictures import jpeg

    shop = new_shop()
    job = opened(shop, "KBW-2036-710")
    photo = photos.keep(shop.data, jpeg(seed=710))["sha256"]
    head = jobs.head(shop.data, job)
    clients = {role: shop.client(role) for role in ("technician", "inspector", "engineer", "manager")}
    return shop, job, photo, head, clients


def posts():
    from .test_matrix import HELD

    for route, roles in HELD["routes"].items():
        if route.startswith("POST /api/") and not route.endswith(("/photos", "/verify")):
            yield (
                route.removeprefix("POST "),
                next(role for role in ("manager", "inspector", "engineer", "technician") if role in roles),
            )


@pytest.mark.parametrize(("address", "role"), list(posts()))
def test_a_body_that_nobody_honest_sends_is_refused_in_a_sentence(bench, in_installation, address, role):
    from soundedge.services.desk import jobs

    shop, job, photo, _, clients = bench
    before = jobs.size(shop.data)
    where = address.replace("{job}", job).replace("{sha256}", photo).replace("{revision}", "kbw-lp-04-1")
    for name, raw in HOSTILE.items():
        answer = clients[role].post(where, data=raw, content_type="application/json")
        assert answer.status_code == 422, f"{where}, {name}: {answer.status_code}"
        assert answer["Content-Type"] == "application/problem+json", (where, name)
        said = answer.json()
        assert said["status"] == 422 and said["detail"] and len(said["detail"]) < 2000, (where, name, said)
    assert jobs.size(shop.data) == before


# A good body of each POST that keeps something; each value is then replaced by one of another kind.
def good(job, head, photo):
    return {
        f"/jobs/{job}/entries": ("technician", {"sent_at": "2026-11-25T10:00:00Z", "entries": []}),
        f"/jobs/{job}/damage": (
            "technician",
            {
                "id": "d1-s-1",
                "at": "2026-11-25T10:00:00Z",
                "damage": "D1",
                "stage": "as_found",
                "photo_sha256": photo,
                "outline": {},
                "card": {},
                "x": 1,
                "y": 1,
            },
        ),
        f"/jobs/{job}/corrections": (
            "engineer",
            {
                "id": "c1",
                "on_head": head,
                "entry": "x",
                "field": "rh_pct",
                "old": "1",
                "new": "2",
                "because": "It was read wrongly.",
            },
        ),
        f"/jobs/{job}/voids": ("engineer", {"id": "v1", "on_head": head, "entry": "x", "because": "It was not this part."}),
        f"/jobs/{job}/signatures": (
            "inspector",
            {
                "id": "s1",
                "on_head": head,
                "what": "film",
                "meaning": "I read the film.",
                "password": "inspectors quiet harbour 7",
            },
        ),
        f"/jobs/{job}/decisions": (
            "engineer",
            {
                "id": "e1",
                "on_head": head,
                "decision": "repair_as_instructed",
                "because": "It is in the corner.",
                "password": "engineers quiet harbour 7",
            },
        ),
        "/jobs": (
            "manager",
            {
                "id": "o1",
                "number": "KBW-2036-711",
                "site": "Kelderbeck Basin Works",
                "procedure": "none",
                "part": {},
                "lining": {},
            },
        ),
        "/instruments": (
            "manager",
            {
                "id": "S-9",
                "kind": "air_meter",
                "calibrated_on": "2026-06-01T00:00:00Z",
                "calibration_due": "2027-06-01T00:00:00Z",
            },
        ),
        "/lots": ("manager", {"id": "S-9", "kind": "powder", "expires": "2027-06-01T00:00:00Z"}),
        "/people": (
            "manager",
            {
                "id": "new-one",
                "name": "New One",
                "role": "technician",
                "login": "new.one.710",
                "password": "managers quiet harbour 7",
            },
        ),
        "/devices": ("manager", {"password": "managers quiet harbour 7"}),
    }


OTHER_KINDS = (1, 1.5, True, None, [], {}, [1], {"a": 1}, "", " ", "x" * 300_000, "\u0000", "a\r\nb", 2**52)


def test_a_value_of_another_kind_is_never_taken_for_the_right_one(bench, in_installation):
    from soundedge.services.desk import board, jobs

    shop, job, photo, head, clients = bench
    before, tries = jobs.size(shop.data), 0
    for address, (role, body) in good(job, head, photo).items():
        for key, value in body.items():
            for other in OTHER_KINDS:
                if type(other) is type(value) or (isinstance(value, int) and isinstance(other, (int, float))):
                    continue
                if isinstance(value, str) and isinstance(other, str):
                    continue
                answer = clients[role].post(
                    f"/api/v1{address}", data=json.dumps(body | {key: other}), content_type="application/json"
                )
                tries += 1
                if key == "sent_at" and other is None:
                    continue
                assert answer.status_code == 422, f"{address} {key}={other!r:.40}: {answer.status_code} {answer.content[:200]}"
        for key in body:
            if key in ("sent_at", "x", "y"):
                continue
            short = {name: value for name, value in body.items() if name != key}
            answer = clients[role].post(f"/api/v1{address}", data=json.dumps(short), content_type="application/json")
            assert answer.status_code == 422 and answer.json()["field"] == key, (
                f"{address} without {key}: {answer.content[:200]}"
            )
    assert tries > 300
    assert jobs.size(shop.data) == before, [e for e in board.listed(shop.data)]


ENTRY = {
    "id": "d1-abcdef-1",
    "kind": "air.read",
    "at": "2026-11-25T10:00:00Z",
    "body": {"air_c": 21.0, "rh_pct": 45.0, "steel_c": 22.0, "instrument": "H2"},
}


@pytest.mark.parametrize("field", ["id", "kind", "at", "body", "body.air_c", "body.rh_pct", "body.instrument"])
def test_a_number_as_a_text_or_a_text_as_a_number_is_refused_in_an_entry(bench, in_installation, field):
    _, job, _, _, clients = bench
    for other in (1, "1", True, None, [], {}, "x" * 300_000, "\u0000", "\ud83d\ude00" * 200, 2**52, -1, "a\r\nb"):
        entry = json.loads(json.dumps(ENTRY))
        whole, _, key = field.rpartition(".")
        there = entry["body"] if whole else entry
        if (
            field.endswith(("_c", "_pct"))
            and isinstance(other, (int, float))
            and not isinstance(other, bool)
            and abs(other) < 100
        ):
            continue
        if (field == "id" and other == "1") or (field == "body.instrument" and other is None):
            continue  # these are good
        there[key] = other
        answer = clients["technician"].post(
            f"/api/v1/jobs/{job}/entries", data=json.dumps({"entries": [entry]}), content_type="application/json"
        )
        assert answer.status_code == 200, answer.content[:300]
        (said,) = answer.json()["entries"]
        assert said["outcome"] == "refused" and said["error"]["message"], (field, other, said)


def test_a_body_of_another_type_is_not_read(bench, in_installation):
    _, job, _, _, clients = bench
    for kind in ("text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/xml", ""):
        answer = clients["technician"].post(f"/api/v1/jobs/{job}/entries", data=b'{"entries": []}', content_type=kind)
        assert answer.status_code == 415, kind


def test_more_than_a_request_may_hold_is_refused(bench, in_installation):
    _, job, _, _, clients = bench
    raw = json.dumps({"entries": ["x" * 3_000_000]}).encode()
    answer = clients["technician"].post(f"/api/v1/jobs/{job}/entries", data=raw, content_type="application/json")
    assert answer.status_code == 413 and answer["Content-Type"] == "application/problem+json"
