"""Sent once or five times, one after the other or at once, with the answer lost on the way: one record."""

import json
import threading

import pytest

from .installation import PASSWORDS

pytestmark = pytest.mark.store_contract


@pytest.fixture
def bench(shop):
    from .one_job import opened

    return shop, opened(shop, "KBW-2036-720")


def entry(number, **more):
    body = {"air_c": 21.0, "rh_pct": 45.0, "steel_c": 22.0, "instrument": "H2"} | more
    return {"id": f"d1-abcdef-{number}", "kind": "air.read", "at": "2026-11-25T10:00:00Z", "body": body}


def sent(client, address, body):
    return client.post(f"/api/v1{address}", data=json.dumps(body), content_type="application/json")


def record(shop, job):
    from soundedge.services.desk import jobs

    return json.loads(jobs.record(shop.data, job))["events"]


def named(shop, job, name):
    return [one for one in record(shop, job) if one["id"] == name]


def at_once(client_of, work, times=5):
    """The same work by several threads at the same moment."""
    from django.db import connections

    gate, answers = threading.Barrier(times), []

    def run(client):
        gate.wait()
        try:
            answers.append(work(client))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=run, args=(client_of(),)) for _ in range(times)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == times
    return answers


@pytest.mark.parametrize("times", [1, 2, 3, 5])
def test_entries_sent_again_are_there_once(bench, times):
    shop, job = bench
    client = shop.client("technician")
    body = {"entries": [entry(1), entry(2)]}
    outcomes = [[one["outcome"] for one in sent(client, f"/jobs/{job}/entries", body).json()["entries"]] for _ in range(times)]
    assert outcomes[0] == ["stored", "stored"] and all(one == ["duplicate", "duplicate"] for one in outcomes[1:])
    assert len(named(shop, job, "d1-abcdef-1")) == len(named(shop, job, "d1-abcdef-2")) == 1


def test_entries_sent_at_once_by_eight_threads_are_there_once(bench):
    shop, job = bench
    shared = shop.client("technician")
    cookies = {name: morsel.value for name, morsel in shared.cookies.items()}

    def another():
        client = shop.client(None)
        for name, value in cookies.items():
            client.cookies[name] = value
        return client

    answers = at_once(another, lambda client: sent(client, f"/jobs/{job}/entries", {"entries": [entry(7)]}), times=8)
    outcomes = sorted(answer.json()["entries"][0]["outcome"] for answer in answers)
    assert outcomes == ["duplicate"] * 7 + ["stored"]
    assert len(named(shop, job, "d1-abcdef-7")) == 1


def test_an_entry_whose_answer_was_lost_is_there_once(bench, monkeypatch):
    from soundedge.web.api import jobs as api

    shop, job = bench
    client = shop.client("technician")
    client.raise_request_exception = False
    with monkeypatch.context() as broken:
        broken.setattr(api.jobs, "head", lambda *given: 1 / 0)  # the entry is on disk, the answer never leaves
        assert sent(client, f"/jobs/{job}/entries", {"entries": [entry(3)]}).status_code == 500
    (again,) = sent(client, f"/jobs/{job}/entries", {"entries": [entry(3)]}).json()["entries"]
    assert again["outcome"] == "duplicate" and again["no"]
    assert len(named(shop, job, "d1-abcdef-3")) == 1


def test_the_same_id_with_another_content_is_a_conflict_and_the_first_stands(bench):
    shop, job = bench
    client = shop.client("technician")
    sent(client, f"/jobs/{job}/entries", {"entries": [entry(4)]})
    (answer,) = sent(client, f"/jobs/{job}/entries", {"entries": [entry(4, rh_pct=46.0)]}).json()["entries"]
    assert answer["outcome"] == "conflict" and answer["error"]
    (one,) = named(shop, job, "d1-abcdef-4")
    assert float(one["body"]["rh_pct"]) == 45.0


def test_a_job_opened_five_times_at_once_is_one_job_and_another_opening_of_its_number_a_conflict(bench):
    from soundedge.services.desk import board
    from soundedge.services.desk import register as desk

    from .one_job import LINING, PART

    shop, _ = bench
    procedure = next(iter(desk.register(shop.data).procedures))
    body = {"id": "o-1", "number": "KBW-2036-721", "site": "Kelderbeck Basin Works", "procedure": procedure, "part": PART,
            "lining": LINING}
    answers = at_once(lambda: shop.client("manager"), lambda client: sent(client, "/jobs", body))
    assert {answer.status_code for answer in answers} == {201}
    assert [line.number for line in board.listed(shop.data)].count("KBW-2036-721") == 1
    assert [one["kind"] for one in record(shop, "KBW-2036-721")].count("job.opened") == 1
    client = shop.client("manager")
    for other in (body | {"site": "Elsewhere"}, body | {"id": "o-2", "site": "Elsewhere"}):
        assert sent(client, "/jobs", other).status_code == 409
    assert len(record(shop, "KBW-2036-721")) == 4


def deciding(shop, job):
    """Each deciding operation with a body that is taken, and the same with another content."""
    from soundedge.services.desk import jobs

    client = shop.client("technician")
    sent(client, f"/jobs/{job}/entries", {"entries": [entry(1), entry(2)]})
    head = jobs.head(shop.data, job)
    yield "corrections", "technician", {
        "id": "c-1", "on_head": head, "entry": "d1-abcdef-1", "field": "rh_pct", "old": "45", "new": "47",
        "because": "The meter stood in the sun.",
    }, {"new": "48"}
    yield "voids", "engineer", {
        "id": "v-1", "on_head": None, "entry": "d1-abcdef-2", "because": "It was read in the other hall.",
    }, {"because": "It was read on another day."}


@pytest.mark.parametrize("which", [0, 1])
def test_a_correction_or_void_sent_again_and_at_once_is_there_once(bench, which):
    from soundedge.services.desk import jobs

    shop, job = bench
    name, role, body, other = list(deciding(shop, job))[which]
    body["on_head"] = jobs.head(shop.data, job)
    address = f"/jobs/{job}/{name}"
    answers = at_once(lambda: shop.client(role), lambda client: sent(client, address, body))
    assert {answer.status_code for answer in answers} == {200}, [answer.content for answer in answers]
    assert sorted(answer.json()["outcome"] for answer in answers) == ["duplicate"] * 4 + ["stored"]
    assert len(named(shop, job, body["id"])) == 1
    client = shop.client(role)
    assert sent(client, address, body).json()["outcome"] == "duplicate"
    assert sent(client, address, body | other).status_code in (409, 422)
    stale = sent(client, address, body | {"id": "later-1"})
    assert stale.status_code == 409 and stale.json()["changed"]
    assert len(named(shop, job, body["id"])) == 1


def test_a_signature_sent_again_and_at_once_is_there_once(bench):
    from soundedge.services.desk import jobs, sign

    shop, job = bench
    client = shop.client("technician")
    outline = {"id": "D1", "stage": "as_found", "kind": "chip", "measured": "typed", "u_area_mm2": 4,
               "outline_mm": [[-10, -10], [10, -10], [10, 10], [-10, 10]]}
    (said,) = sent(client, f"/jobs/{job}/entries", {"entries": [
        {"id": "d1-abcdef-1", "kind": "damage.outlined", "at": "2026-11-25T10:00:00Z", "body": outline}]}).json()["entries"]
    assert said["outcome"] == "stored", said
    may = [point.name for point in sign.review(shop.data, job, actor=shop.actor("inspector")).points if point.may]
    assert may, [(p.name, p.why_not) for p in sign.review(shop.data, job, actor=shop.actor("inspector")).points]
    body = {"id": "s-1", "on_head": jobs.head(shop.data, job), "what": may[0], "meaning": "I have looked at the damage.",
            "password": PASSWORDS["inspector"]}
    address = f"/jobs/{job}/signatures"
    answers = at_once(lambda: shop.client("inspector"), lambda one: sent(one, address, body), times=4)
    assert {answer.status_code for answer in answers} == {200}, [answer.content for answer in answers]
    assert sorted(answer.json()["outcome"] for answer in answers) == ["duplicate"] * 3 + ["stored"]
    assert len(named(shop, job, "s-1")) == 1
    inspector = shop.client("inspector")
    assert sent(inspector, address, body | {"meaning": "Something else."}).status_code in (409, 422)
    assert sent(inspector, address, body | {"id": "s-2"}).status_code == 409  # the head has moved


def test_the_key_in_the_header_must_be_the_id_in_the_body(bench):
    shop, _ = bench
    client = shop.client("manager")
    answer = client.post("/api/v1/lots", data=json.dumps({"id": "L-1", "kind": "powder", "expires": "2027-06-01T00:00:00Z"}),
                         content_type="application/json", HTTP_IDEMPOTENCY_KEY="another")
    assert answer.status_code == 409
