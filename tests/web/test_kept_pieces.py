"""Pieces of a page that were drawn before are drawn again for nobody else than their values, language and units."""

import re
from datetime import datetime

import pytest
from django.template import engines

from soundedge.services.desk import enter, may

from .installation import now
from .one_job import opened

STEPS = ("", "survey/", "disposition/", "conditions/", "hazards/", "heat/", "buildup/", "thickness/", "instruments/",
         "holiday/", "hold_points/", "release/", "history/", "typed/")
READ = {"air_c": 20.5, "rh_pct": 55, "steel_c": 19.5, "instrument": "H2"}
FILM = {"instrument": "G7", "spots": [{"id": "R1", "x": 1, "y": 2, "readings_um": [1210, 1220, 1205]}]}
OF_THE_MOMENT = re.compile(r'name="csrf" content="[^"]+"|name="csrfmiddlewaretoken" value="[^"]+"'
                           r'|\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?\+00:00|[a-z-]+-\d{1,4}-(?=[a-z_])')


@pytest.fixture
def job(shop):
    number = opened(shop, "KBW-2036-700")
    moment = now().replace(microsecond=0).isoformat().replace("+00:00", "Z")
    written = [("damage.outlined", {"id": "A", "stage": "as_found", "circle_mm": {"x": 0, "y": 0, "d": 20}}),
               ("air.read", READ), ("vapour.read", {"lel_pct": 2, "instrument": "L2"}), ("film.measured", FILM)]
    said = [{"id": f"d1-abcdef-{n}", "kind": kind, "at": moment, "body": body} for n, (kind, body) in enumerate(written, 1)]
    assert all(one["outcome"] == "stored" for one in enter.enter(shop.data, shop.actor("technician"), number, said, now=now()))
    return number


@pytest.fixture
def kept(shop):
    from soundedge.web.templatetags import kept

    return kept


def reader(shop, role, language, units):
    account = shop.accounts[role]
    account.language, account.units = language, units
    account.save()
    return shop.client(role)


def pages(client, job):
    """Every page of the job without what is of this moment alone."""
    found = {}
    for step in STEPS:
        answer = client.get(f"/jobs/{job}/{step}")
        assert answer.status_code == 200, step
        found[step] = OF_THE_MOMENT.sub("…", answer.content.decode())
    return found


@pytest.fixture
def still(monkeypatch):
    """The clock stands, so that pages of one job can be compared."""
    from soundedge.web import middleware

    moment = now()

    class Still(datetime):
        @classmethod
        def now(cls, tz=None):
            return moment

    for module in (middleware, may):
        monkeypatch.setattr(module, "datetime", Still)


def test_every_page_of_a_job_is_the_same_with_what_others_were_shown_before(shop, job, still, kept):
    readers = [reader(shop, "technician", "en", "metric"), reader(shop, "inspector", "de", "us"),
               reader(shop, "engineer", "de", "metric"), reader(shop, "auditor", "en", "us")]
    anew = []
    for client in readers:
        kept.forget()
        anew.append(pages(client, job))
    kept.forget()
    for client in readers:
        pages(client, job)

    for client, first in zip(readers, anew, strict=True):
        again = pages(client, job)
        assert [step for step in STEPS if again[step] != first[step]] == []
    assert len({each["conditions/"] for each in anew}) == len(readers)  # they are shown different pages


def draw(source, **context):
    return engines["django"].from_string(source), context


def test_a_piece_is_drawn_once_for_its_values(shop):
    template, _ = draw("{% kept row %}{{ row.a }} {{ other }}{% endkept %}")

    assert template.render({"row": {"a": 1}, "other": "x"}) == "1 x"
    assert template.render({"row": {"a": 1}, "other": "y"}) == "1 x"
    assert template.render({"row": {"a": 2}, "other": "y"}) == "2 y"
    assert template.render({"row": {"a": 1}, "other": "z", "units": "us"}) == "1 z"
    again, _ = draw("{% kept row %}{{ row.a }} {{ other }}{% endkept %}")
    assert again.render({"row": {"a": 1}, "other": "another piece"}) == "1 another piece"


def test_what_has_no_plain_content_is_no_value_of_a_piece(shop):
    template, _ = draw("{% kept row %}{{ row }}{% endkept %}")

    with pytest.raises(TypeError, match="no plain value"):
        template.render({"row": shop.device})


def test_what_is_kept_is_bounded_and_escaped(monkeypatch, kept):
    monkeypatch.setattr(kept, "_held", kept.LRUCache(100_000, getsizeof=kept._held.getsizeof))
    monkeypatch.setattr(kept, "HELD_BYTES", 100_000)
    template, _ = draw("{% kept n %}<b>{{ n }}</b>{% endkept %}")
    drawn = [template.render({"n": f"<{n}>"}) for n in range(1000)]

    assert drawn[7] == "<b>&lt;7&gt;</b>" and kept._held.currsize <= 100_000
    assert 50 < len(kept._held) < 300
    template.render({"n": "x" * 50_000})
    assert 50 < len(kept._held)  # one that is too large pushes nothing out
