"""The board: what is not released stands first, a job is found by number, part or tag, and it comes in leaves."""

import html
import re

import pytest

from soundedge.services.desk.enter import enter

from . import cover_day
from .installation import new_shop, now
from .one_job import opened

pytestmark = pytest.mark.store_contract


@pytest.fixture(scope="module")
def shop(keys_for_module):
    made = cover_day.shop_with_jobs()
    for number in ("KBW-2036-101", "KBW-2036-102", "KBW-2036-103"):
        opened(made, number)
    opened(new_shop(), "KBW-2036-999")
    return made


@pytest.fixture
def seen(shop, in_installation):
    """The numbers on the board at an address, as they stand, and the page itself."""
    client = shop.client("auditor")

    def at(address="/"):
        page = html.unescape(client.get(address).content.decode())
        return re.findall(r'<td><a href="/jobs/([^/"]+)/"><strong>', page), page

    return at


def test_what_is_not_released_stands_first_and_nothing_of_another_shop(seen):
    numbers, page = seen()
    assert numbers[0] == "KBW-2036-103" and numbers[-1] == cover_day.RELEASED and len(numbers) == len(set(numbers)) >= 6
    assert "KBW-2036-999" not in page
    assert seen("/?only=released")[0] == [cover_day.RELEASED]


@pytest.mark.parametrize("find, found", [
    ("2036-101", ["KBW-2036-101"]), ("kbw-2036-102", ["KBW-2036-102"]), ("MIXER 103", ["KBW-2036-103"]),
    ("mc-207 ectfe 101", ["KBW-2036-101"]), ("999", []), ("\0", []), ("<b>", []), ("x" * 5000, [])])
def test_a_job_is_found_by_the_words_that_stand_in_it(seen, shop, find, found):
    numbers, page = seen(f"/?find={find.replace(' ', '+')}")
    assert numbers == found
    assert found or "No job here is like that." in page
    said = shop.client("auditor").get("/api/v1/jobs", {"find": find}).json()["jobs"]
    assert [one["number"] for one in said] == found


def test_many_jobs_come_in_leaves_and_each_stands_on_one(seen, monkeypatch):
    from soundedge.web.pages import jobs

    whole = seen("/?find=kbw")[0]
    monkeypatch.setattr(jobs, "LINES", 2)
    leaves, address = [], "/?find=kbw"
    while address:
        numbers, page = seen(address)
        leaves.append(numbers)
        assert f"of {len(whole)} jobs" in page
        after = re.search(r'href="([^"]+)">after', page)
        address = after and after[1]
    assert [one for leaf in leaves for one in leaf] == whole and {len(leaf) for leaf in leaves[:-1]} == {2}
    assert seen("/?page=5000")[0] == leaves[-1] and seen("/?page=x")[0] == leaves[0]


def read_air(shop, job):
    """Somebody writes something down in a job."""
    said = {"id": f"d1-abcdef-{job}", "kind": "air.read", "at": "2026-11-25T10:00:00Z",
            "body": {"air_c": 20, "rh_pct": 50, "steel_c": 19, "instrument": "H2"}}
    assert enter(shop.data, shop.actor("technician"), job, [said], now=now())[0]["outcome"] == "stored"


def test_the_stream_tells_of_a_job_that_moved_on_and_nothing_more_once_its_person_has_signed_out(shop, in_installation):
    client = shop.client("auditor")
    told = client.get("/api/v1/stream").streaming_content
    assert b"event: checkpoint" in next(told)
    read_air(shop, "KBW-2036-101")
    assert any(b"KBW-2036-101" in part for part in (next(told) for _ in range(4)))

    client.post("/sign-out/")
    read_air(shop, "KBW-2036-102")
    assert b"KBW" not in b"".join(told)
