"""Does every page of a job take a polymer that is one entry in its file, and call it what the entry says?"""

import pytest

from ..planted import BARE_POLYMER, WHOLE_POLYMER, forget, plant
from .one_job import LINING, opened

STEPS = ("survey", "disposition", "conditions", "hazards", "buildup", "thickness", "holiday", "typed")


@pytest.fixture
def planted(monkeypatch, tmp_path):
    plant(monkeypatch, tmp_path, polymers=WHOLE_POLYMER + BARE_POLYMER)
    yield
    monkeypatch.undo()
    forget()


def pages(client, job, steps):
    return {step: client.get(f"/jobs/{job}/{step}/") for step in steps}


def test_every_page_takes_a_planted_polymer_and_calls_it_in_the_readers_language(planted, shop, monkeypatch):
    monkeypatch.setitem(LINING, "polymer", "kelvane")
    job, client = opened(shop, "KBW-2036-021"), shop.client("technician")
    client.post("/mine/", {"language": "de", "units": "metric"})

    assert {page.status_code for page in pages(client, job, (*STEPS, "heat")).values()} == {200}
    for address in ("/", f"/jobs/{job}/", f"/jobs/{job}/hazards/"):
        assert "Kelvan" in client.get(address).content.decode(), address
    people = shop.client("manager").get("/people/add/").content.decode()
    assert 'value="kelvane"' in people and "Kelvane" in people


def test_a_page_says_what_is_not_held_of_a_polymer(planted, shop, monkeypatch):
    monkeypatch.setitem(LINING, "polymer", "nobodyknows")
    job, client = opened(shop, "KBW-2036-022"), shop.client("technician")
    found = pages(client, job, STEPS)

    assert {page.status_code for page in found.values()} == {200}
    assert "is not held for this polymer" in found["hazards"].content.decode()
