"""A part with two chips: each page of repair work is of one of them, its forms say which, and one chip is never asked."""

from datetime import timedelta

import pytest

from soundedge.services.desk import enter

from .installation import new_shop
from .thin_edge import NOW, opened

ONE, BOTH = "KBW-2026-027", "KBW-2026-028"
FILM = {"A": 1240, "B": 1460}


@pytest.fixture(scope="module")
def client(installation):
    """A shop with a job of one chip and a job of two, both with film of their own; its inspector."""
    with pytest.MonkeyPatch.context() as env:
        env.setenv("SOUNDEDGE_KEYS", str(installation / "keys"))
        env.setenv("SOUNDEDGE_ROOT", str(installation / "installation"))
        shop = new_shop()
        opened(shop, number=ONE)
        opened(shop, until="layer.fused", number=BOTH)
        chip = {"id": "B", "circle_mm": {"x": 120, "y": -160, "d": 14}, "pit_depth_mm": 0.1}
        done = [("damage.outlined", chip | {"stage": stage}) for stage in ("as_found", "as_prepared")]
        done += [("layer.fused", {"number": 1, "lot": "P-311", "repair": letter}) for letter in FILM]
        done += [("film.measured", {"instrument": "G7", "repair": letter, "spots": [
            {"id": f"{where[0]}1", "where": where, "readings_um": [um] * 3} for where in ("repair", "overlap", "parent")]})
            for letter, um in FILM.items()]
        for number, (kind, body) in enumerate(done, 1):
            said = {"id": f"two-{number}", "kind": kind, "at": (NOW - timedelta(minutes=60 - number)).isoformat(), "body": body}
            (answer,) = enter.enter(shop.data, shop.actor("technician"), BOTH, [said], now=NOW)
            assert answer["outcome"] == "stored", answer
        yield shop.client("technician")


def page(client, path):
    answer = client.get(path)
    assert answer.status_code == 200, answer.content[-400:]
    return answer.content.decode()


@pytest.mark.parametrize("step", ["buildup", "heat", "thickness", "holiday"])
def test_a_page_of_repair_work_is_of_one_repair_with_the_way_to_the_other(client, step):
    text = page(client, f"/jobs/{BOTH}/{step}/?repair=B")
    assert 'href="?repair=A"' in text and 'aria-current="true">repair B' in text

    alone = page(client, f"/jobs/{ONE}/{step}/")
    assert "?repair=" not in alone and 'name="repair" data-type="choice"' not in alone


def test_what_is_read_on_the_page_is_written_down_for_its_repair(client):
    assert 'data-repair="B"' in page(client, f"/jobs/{BOTH}/heat/?repair=B")
    assert 'data-repair="A"' in page(client, f"/jobs/{BOTH}/thickness/")
    assert "&quot;repair&quot;: &quot;B&quot;" in page(client, f"/jobs/{BOTH}/holiday/?repair=B")
    assert '<option value="B" selected>B</option>' in page(client, f"/jobs/{BOTH}/buildup/?repair=B")


def test_the_film_and_the_window_are_those_of_the_repair(client):
    for letter, other in (("A", "B"), ("B", "A")):
        film = page(client, f"/jobs/{BOTH}/thickness/?repair={letter}")
        assert f"{FILM[letter]:,}".replace(",", "\u202f") in film
        assert f"{FILM[other]:,}".replace(",", "\u202f") not in film
    windows = [client.get(f"/jobs/{BOTH}/holiday/window.svg?repair={letter}").content for letter in FILM]
    assert windows[0] != windows[1]


def test_a_form_on_paper_asks_for_the_letter_without_choosing_it(client):
    text = page(client, f"/jobs/{BOTH}/typed/")
    assert 'name="repair" data-type="choice" required' in text and '<option value="B" selected>' not in text
    assert 'name="repair" data-type="choice"' not in page(client, f"/jobs/{ONE}/typed/")


def test_a_repair_that_is_not_there_is_refused(client):
    assert client.get(f"/jobs/{BOTH}/buildup/?repair=Q").status_code == 422
    assert '<option value="part">' in page(client, f"/jobs/{BOTH}/survey/")


def test_each_hold_point_is_listed_for_each_repair(client):
    text = page(client, f"/jobs/{BOTH}/hold_points/")
    assert 'id="film-A"' in text and 'id="film-B"' in text
    assert 'id="film"' in page(client, f"/jobs/{ONE}/hold_points/")


def test_the_signature_of_one_repair_covers_its_own_outlines(client):
    """As found and as prepared, each of its own repair."""
    text = page(client, f"/jobs/{BOTH}/hold_points/")
    for letter in "AB":
        own = text.split(f'id="disposition-{letter}"')[1].split('id="')[0]
        assert own.count("Damage outlined") == 2
