"""Does the page of the HTTP API say what the API is, to who is signed in, with nothing from outside?"""

import html
import re


def test_every_operation_stands_there_with_who_may_call_it(shop):
    from soundedge.web.api.door import OPERATIONS

    page = html.unescape(shop.client("auditor").get("/api/docs").content.decode())
    for (method, path), roles in OPERATIONS.items():
        told = page.partition(f"<code>{method} /api/v1{path}</code>")[2].partition("</details>")[0]
        assert f"May call it: {', '.join(sorted(roles))}." in told, (method, path)


def test_the_keys_of_a_body_stand_there(shop):
    page = html.unescape(shop.client("auditor").get("/api/docs").content.decode())
    told = page.partition("<code>POST /api/v1/jobs/{job}/damage</code>")[2].partition("</details>")[0]

    assert re.search(r"<code>photo_sha256</code>.*?text.*?>yes<", told)
    assert re.search(r"<code>stage</code>.*?one of as_found, as_prepared.*?>yes<", told)
    assert re.search(r"<code>pit_depth_mm</code>.*?number or null.*?>no<", told)
    ask = page.partition("<code>POST /api/v1/ask/conditions</code>")[2].partition("</details>")[0]
    assert "<code>rh_pct</code>" in ask


def test_it_fetches_nothing_from_outside_and_opens_to_nobody_unknown(shop):
    answer = shop.client("technician").get("/api/docs")
    page = answer.content.decode()

    assert not re.search(r"""(?:src|href)=["'](?:https?:)?//""", page) and "<style" not in page and "style=" not in page
    assert not re.search(r"<script(?![^>]*\bsrc=)", page)
    assert "default-src 'none'" in answer["Content-Security-Policy"]
    assert shop.client(None).get("/api/docs").status_code in (302, 401)
