"""The history of a long job comes a leaf at a time; every entry stands on one leaf, and a link to an entry opens its leaf."""

import re
from datetime import timedelta

import pytest

from soundedge.services.desk import enter, jobs

from .installation import now
from .one_job import opened

N, LEAF = 130, 50


@pytest.fixture
def job(shop):
    number, begun = opened(shop, "KBW-2036-710"), now().replace(microsecond=0) - timedelta(hours=4)
    said = [{"id": f"d1-abcdef-{n}", "kind": "air.read", "at": (begun + timedelta(minutes=n)).isoformat(),
             "body": {"air_c": 20.0, "rh_pct": 50, "steel_c": 19.0}} for n in range(1, N + 1)]
    assert all(one["outcome"] == "stored" for one in enter.enter(shop.data, shop.actor("technician"), number, said, now=now()))
    return number


def shown(client, job, query=""):
    """The ids of the entries on a page of the history, in their order."""
    answer = client.get(f"/jobs/{job}/history/{query}")
    assert answer.status_code == 200
    return re.findall(r'<li id="entry-([^"]+)"', answer.content.decode())


def test_every_entry_stands_on_one_leaf_and_the_last_leaf_is_shown_first(shop, job):
    client = shop.client("technician")
    everything = shown(client, job, "?all=yes")
    leaves = [shown(client, job, f"?leaf={n}") for n in range(1, -(-len(everything) // LEAF) + 1)]

    assert len(everything) > N and len(leaves) == 3
    assert [one for leaf in leaves for one in leaf] == everything and max(map(len, leaves)) == LEAF
    assert shown(client, job) == leaves[-1] and leaves[-1][-1] == f"d1-abcdef-{N}"


def test_a_link_to_an_entry_opens_the_leaf_on_which_it_stands(shop, job):
    client = shop.client("technician")

    assert "d1-abcdef-1" in shown(client, job, "?at=d1-abcdef-1") and "d1-abcdef-1" not in shown(client, job)
    assert shown(client, job, "?at=nobody") == shown(client, job)
    page = client.get(f"/jobs/{job}/history/void/?entry=d1-abcdef-1").content.decode()
    assert f"/jobs/{job}/history/?at=d1-abcdef-1#entry-d1-abcdef-1" in page


def test_the_leaves_of_one_kind_are_counted_by_themselves(shop, job):
    client = shop.client("technician")

    assert len(shown(client, job, "?kind=air.read&leaf=3")) == N - 2 * LEAF
    assert shown(client, job, "?kind=job.opened") and "Leaves of the history" not in client.get(
        f"/jobs/{job}/history/?kind=job.opened").content.decode()
    assert "?leaf=2&amp;kind=air.read" in client.get(f"/jobs/{job}/history/?kind=air.read").content.decode()


@pytest.mark.parametrize("leaf", ["0", "4", "-1", "x", "9" * 5000, "²"])
def test_a_leaf_that_is_not_there_is_refused_by_its_number(shop, job, leaf):
    answer = shop.client("technician").get(f"/jobs/{job}/history/?leaf={leaf}")

    assert answer.status_code == 422 and "numbered 1 to 3" in answer.content.decode()


def test_what_was_changed_stands_changed_on_its_leaf_at_once(shop, job):
    client = shop.client("engineer")
    before = client.get(f"/jobs/{job}/history/?leaf=1").content.decode()
    enter.void(shop.data, shop.actor("engineer"), job, {"entry": "d1-abcdef-1", "because": "it was not so at all"}, id="v-1",
               at=now(), on_head=jobs.head(shop.data, job), now=now())
    after = client.get(f"/jobs/{job}/history/?leaf=1").content.decode()

    assert "mark-void" not in before and "mark-void" in after and "it was not so at all" in after
