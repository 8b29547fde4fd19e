"""Texts that mean harm, kept in jobs, entries and people: on every page they are text, and make no element and no attribute."""

from html.parser import HTMLParser

import pytest

from .hostile import MARK, TEXTS, hostile_shop


class Seen(HTMLParser):
    """Every element and attribute that a page is made of."""

    def __init__(self):
        super().__init__()
        self.tags, self.names = [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.names += [name for name, _ in attrs]


@pytest.fixture(scope="module")
def bench(installation):
    import os

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    return hostile_shop()


def pages():
    """The paths of the matrix that are pages to read."""
    from .test_matrix import HELD

    for route in HELD["routes"]:
        if route.startswith("GET /") and "/api/" not in route and not route.endswith((".pdf", ".jpg", ".svg")):
            yield route


def test_thirty_hostile_texts_make_no_element_on_any_page(bench, in_installation):
    from .test_matrix import asked

    shop, job, kept = bench
    assert len(TEXTS) >= 30 and kept >= 2 * len(TEXTS), kept
    manager, found = shop.client("manager"), 0
    for route in pages():
        answer = asked(manager, route.replace("<slug:revision>", "proposed-words"), job)
        if not str(answer.get("Content-Type", "")).startswith("text/html") or "verify/page" in route:
            continue
        page = answer.content.decode()
        found += page.count(MARK)
        seen = Seen()
        seen.feed(page)
        assert not [tag for tag in seen.tags if MARK in tag or tag in ("iframe", "math", "base", "style")], route
        assert not [name for name in seen.names if MARK in name or name.startswith("on")], route
    assert found > 200, found
