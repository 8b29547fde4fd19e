"""Texts that mean harm, kept in jobs, entries and people: on every page they are text, and make no element and no attribute."""

from html.parser import HTMLParser

import pytest

MARK = "zqx"
TEXTS = (
    '<script>zqx()</script>',
    '<img src=x onerror=zqx()>',
    '"><svg onload=zqx()>',
    "'><zqx>",
    '<zqx onclick=1>',
    '</title><zqx>',
    '</textarea><zqx>',
    '</script><zqx>',
    '<!--<zqx>-->',
    '{{ zqx|safe }}',
    '{% zqx %}',
    "' OR zqx=1 --",
    '"; DROP TABLE zqx;--',
    '<a href=javascript:zqx()>x</a>',
    "<iframe srcdoc='<zqx>'>",
    "<style>@import 'zqx'</style>",
    '<base href=zqx>',
    '&lt;zqx&gt;',
    '" autofocus onfocus=zqx() x="',
    "' style='x:zqx' x='",
    '<math><zqx>',
    '<template><zqx>',
    '<zqx/',
    '<<zqx>>',
    'javascript:zqx()',
    '=zqx()',
    '+zqx',
    '@zqx',
    '${zqx}',
    '<form action=zqx>',
)


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
    from .installation import new_shop
    from .one_job import opened

    shop = new_shop()
    return shop, opened(shop, "KBW-2036-740")


def test_thirty_hostile_texts_make_no_element_on_any_page(bench, in_installation):
    from soundedge.services.desk import enter
    from soundedge.services.desk import register as desk

    from .installation import now
    from .test_matrix import HELD, asked

    shop, job = bench
    assert len(TEXTS) >= 30
    kept = 0
    for number, text in enumerate(TEXTS):
        person = {"id": f"h{number}", "name": text, "role": "technician", "certificate": text}
        desk.enrol_person(shop.data, shop.actor("manager"), person, now=now())
        (said,) = enter.enter(shop.data, shop.actor("technician"), job, [
            {"id": text, "kind": "permit.issued", "at": "2026-11-25T10:00:00Z",
             "body": {"until": "2026-11-25T18:00:00Z", "by": text, "number": text}}], now=now())
        (also,) = enter.enter(shop.data, shop.actor("technician"), job, [
            {"id": f"air-{text}", "kind": "air.read", "at": "2026-11-25T10:00:00Z",
             "body": {"air_c": 21, "rh_pct": 45, "steel_c": 22, "instrument": "H2"}}], now=now())
        kept += (said["outcome"] == "stored") + (also["outcome"] == "stored")
    assert kept >= len(TEXTS), kept
    manager, found = shop.client("manager"), 0
    for route in HELD["routes"]:
        if not route.startswith("GET /") or "/api/" in route or route.endswith((".pdf", ".jpg", ".svg")):
            continue
        answer = asked(manager, route, job)
        if not str(answer.get("Content-Type", "")).startswith("text/html") or "verify/page" in route:
            continue
        page = answer.content.decode()
        found += page.count(MARK)
        seen = Seen()
        seen.feed(page)
        assert not [tag for tag in seen.tags if MARK in tag or tag in ("iframe", "math", "base", "style")], route
        assert not [name for name in seen.names if MARK in name or name.startswith("on")], route
    assert found > 60, found
