"""Is the password asked again before what was signed is changed, and before an instrument or a lot is withdrawn?"""

import json

import pytest

from . import cover_day
from .installation import PASSWORDS

WRONG = "someone elses quiet harbour 9"
SIGNED, UNSIGNED = "KBW-2036-041", "KBW-2036-042"
FIRST = next(n for n, (_, _, kind, _) in enumerate(cover_day.steps()) if kind == "hold_point.signed")


@pytest.fixture
def shop(installation, in_installation):
    """Two jobs that differ by the first signature."""
    return cover_day.shop_with_jobs({SIGNED: FIRST + 1, UNSIGNED: FIRST})


def asked(shop, job, name, **more):
    """A correction or void of the first air that was read, on the head as it stands."""
    from soundedge.services.desk.state import state

    held = state(shop.data, job)
    row = next(one for one in held.events if one["kind"] == "air.read")
    body = {"id": f"tab-{name}-1", "on_head": held.head, "entry": row["id"], "because": "The meter stood in the sun."}
    if name == "corrections":
        body |= {"field": "rh_pct", "old": row["body"]["rh_pct"], "new": 56}
    return body | more


def sent(shop, job, name, body, role="inspector"):
    return shop.client(role).post(f"/api/v1/jobs/{job}/{name}", json.dumps(body), content_type="application/json")


def length(shop, job):
    from soundedge.services.desk.state import state

    return len(state(shop.data, job).events)


@pytest.mark.parametrize("name", ["corrections", "voids"])
def test_what_was_signed_is_changed_with_the_password_only(shop, name):
    before = length(shop, SIGNED)
    body = asked(shop, SIGNED, name)
    refused = sent(shop, SIGNED, name, body)
    assert refused.status_code == 422 and "with your password only" in refused.json()["detail"]
    wrong = sent(shop, SIGNED, name, body | {"password": WRONG})
    assert wrong.status_code == 422 and "not your password" in wrong.json()["detail"]
    assert length(shop, SIGNED) == before

    done = sent(shop, SIGNED, name, body | {"password": PASSWORDS["inspector"]})
    assert done.status_code == 200 and done.json()["outcome"] == "stored", done.content
    assert length(shop, SIGNED) > before and WRONG not in str(done.content)
    again = sent(shop, SIGNED, name, body)  # the answer was lost and the same is sent again: nothing new is changed
    assert again.status_code == 200 and again.json()["outcome"] == "duplicate"


@pytest.mark.parametrize("name", ["corrections", "voids"])
def test_before_anything_is_signed_none_is_needed_and_a_wrong_one_is_not_passed_over(shop, name):
    body = asked(shop, UNSIGNED, name)
    assert sent(shop, UNSIGNED, name, body | {"password": WRONG}).status_code == 422
    assert sent(shop, UNSIGNED, name, body).json()["outcome"] == "stored"


def test_a_page_that_others_have_overtaken_is_told_so_first(shop):
    body = asked(shop, SIGNED, "voids", on_head="0" * 64)
    assert sent(shop, SIGNED, "voids", body).status_code == 409


@pytest.mark.parametrize("which", ["correct", "void"])
def test_the_page_asks_for_it_where_it_is_needed(shop, which):
    from soundedge.services.desk.state import state

    for job, needed in ((SIGNED, True), (UNSIGNED, False)):
        row = next(one for one in state(shop.data, job).events if one["kind"] == "air.read")
        text = shop.client("inspector").get(f"/jobs/{job}/history/{which}/?entry={row['id']}&field=rh_pct").content.decode()
        assert "<deciding-form" in text and ('name="password"' in text) is needed


@pytest.mark.parametrize(("what", "name"), [("instruments", "H2"), ("lots", "P-311")])
def test_a_withdrawal_is_by_hand_and_password(shop, what, name):
    def stands():
        rows = shop.client("auditor").get(f"/api/v1/{what}").json()[what]
        return next(one for one in rows if one["id"] == name)["withdrawn"]

    body = {"id": name, "because": "It was dropped on concrete."}
    client = shop.client("manager")
    for said in (body, body | {"password": WRONG}):
        answer = client.post(f"/api/v1/{what}/withdrawals", json.dumps(said), content_type="application/json")
        assert answer.status_code == 422 and not stands()
        form = client.post("/instruments/change/", said | {"what": f"withdraw_{what[:-1]}"})
        assert form.status_code == 422 and b"not your password" in form.content and not stands()
    right = body | {"password": PASSWORDS["manager"]}
    assert client.post(f"/api/v1/{what}/withdrawals", json.dumps(right), content_type="application/json").status_code == 201
    assert stands()
