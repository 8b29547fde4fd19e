"""Can an auditor take the certificate as soon as the release is signed, and does the bench say when it counts no more?"""

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from soundedge.store.ledger import NotKept

from ..services.evidence import pdf_attacks, test_forged_pages
from . import cover_day
from .installation import PASSWORDS, now

LAST = next(n for n, (_, _, kind, _) in enumerate(cover_day.steps()) if kind == "release.signed")


@pytest.fixture
def signed(installation, in_installation):
    """A shop whose job was released over the API by its inspector, what the API answered, and what was sent."""
    from soundedge.services.desk import jobs

    shop = cover_day.shop_with_jobs({cover_day.RELEASED: LAST})
    body = {"id": "rel-1", "on_head": jobs.head(shop.data, cover_day.RELEASED), "what": "release",
            "meaning": "The repair is proved and is released.", "password": PASSWORDS["inspector"]}
    answer = shop.client("inspector").post(f"/api/v1/jobs/{cover_day.RELEASED}/signatures", json.dumps(body),
                                           content_type="application/json")
    assert answer.status_code == 200, answer.content
    return shop, answer.json(), body


def test_a_release_makes_its_certificate_and_verify_says_when_it_counts_no_more(signed):
    from soundedge.services.desk import enter, jobs
    from soundedge.services.desk.state import state

    shop, answer, body = signed
    assert answer["verdict"] == "released" and "page" not in answer
    head, auditor = jobs.head(shop.data, cover_day.RELEASED), shop.client("auditor")
    taken = auditor.get(f"/api/v1/jobs/{cover_day.RELEASED}/certificate.pdf")
    assert taken.status_code == 200 and jobs.head(shop.data, cover_day.RELEASED) == head

    def asked():
        page = auditor.post("/verify/", {"file": SimpleUploadedFile("certificate.pdf", taken.content)}).content.decode()
        return page, auditor.post("/api/v1/verify", taken.content, content_type="application/octet-stream").json()

    page, told = asked()
    assert "<h2>It holds, and it counts</h2>" in page and told["counts"] is True and told["page_proved"] is True

    row = next(one for one in state(shop.data, cover_day.RELEASED).events if one["kind"] == "air.read")
    wrong = {"entry": row["id"], "field": "air_c", "old": row["body"]["air_c"], "new": 20.4,
            "because": "typed from the wrong line"}
    enter.correct(shop.data, shop.actor("engineer"), cover_day.RELEASED, wrong, id="c-1", at=now(), on_head=head, now=now())

    page, told = asked()
    assert "<h2>It is whole, but it does not count any more</h2>" in page and "It holds" not in page
    assert told["counts"] is False and told["sentence"].startswith("It does not count any more")
    gone = auditor.get(f"/api/v1/jobs/{cover_day.RELEASED}/certificate.pdf")
    assert gone.status_code == 422 and "has been made" in gone.json()["detail"]

    size = jobs.size(shop.data)
    again = shop.client("inspector").post(f"/api/v1/jobs/{cover_day.RELEASED}/signatures", json.dumps(body),
                                          content_type="application/json")
    assert again.status_code == 200 and again.json()["outcome"] == "duplicate" and "page" not in again.json()
    assert jobs.size(shop.data) == size, "the release sent again made a notice of the correction"


def test_a_release_that_was_cut_off_gets_its_certificate_when_it_is_sent_again(installation, in_installation, monkeypatch):
    from soundedge.services.desk import issue, jobs

    shop = cover_day.shop_with_jobs({cover_day.RELEASED: LAST})
    body = {"id": "rel-1", "on_head": jobs.head(shop.data, cover_day.RELEASED), "what": "release",
            "meaning": "The repair is proved and is released.", "password": PASSWORDS["inspector"]}
    client, address = shop.client("inspector"), f"/api/v1/jobs/{cover_day.RELEASED}"

    def cut_off(*_, **__):
        raise NotKept("disk", "The disk is full.")

    with monkeypatch.context() as cut:
        cut.setattr(issue, "seal", cut_off)
        answer = client.post(f"{address}/signatures", json.dumps(body), content_type="application/json").json()
    assert answer["outcome"] == "stored" and answer["page"] == "The disk is full."
    assert client.get(f"{address}/certificate.pdf").status_code == 422
    assert client.post(f"{address}/signatures", json.dumps(body), content_type="application/json").status_code == 200
    assert client.get(f"{address}/certificate.pdf").status_code == 200


def test_a_forged_page_with_a_genuine_record_is_refused_and_another_shops_unsigned_page_is_not_called_proved(signed):
    shop, _, _ = signed
    auditor = shop.client("auditor")
    taken = auditor.get(f"/api/v1/jobs/{cover_day.RELEASED}/certificate.pdf").content
    ours = pdf_attacks.forged(taken, pdf_attacks.attached(taken)["record.json"], [])
    theirs = pdf_attacks.forged(test_forged_pages.COVER, test_forged_pages.RECORD, [])

    def asked(pdf):
        page = auditor.post("/verify/", {"file": SimpleUploadedFile("c.pdf", pdf)})
        told = auditor.post("/api/v1/verify", pdf, content_type="application/octet-stream")
        return page.status_code, page.content.decode(), told.status_code, told.json()

    code, page, status, told = asked(ours)
    assert (code, status) == (422, 422) and told["id"] == "evidence.page_never_issued" and "is not one of those pages" in page
    code, page, status, told = asked(theirs)
    assert (code, status, told["page_proved"]) == (200, 200, False)
    assert told["sentence"].startswith(test_forged_pages.NOTHING_SHOWS)
    assert "<h2>The record inside holds; nothing shows that this page belongs to it</h2>" in page and "It holds" not in page
    auditor.post("/mine/", {"language": "de", "units": "metric"})
    _, page, _, told = asked(theirs)
    german = "nichts zeigt, dass dieses Blatt zu ihr gehört"
    assert f"{german}</h2>" in page and german in told["page_because"]


def test_a_record_with_a_day_that_no_calendar_has_is_refused_in_a_sentence_at_both_doors(signed):
    from dataclasses import replace

    from soundedge.record.verify import verify
    from soundedge.record.write import document
    from soundedge.services.desk import jobs

    shop, _, _ = signed
    auditor = shop.client("auditor")
    *before, last = verify(jobs.record(shop.data, cover_day.RELEASED)).entries()
    raw = document([*before, replace(last, raw=last.raw.replace(f'"at":"{last.at[:10]}'.encode(), b'"at":"2031-02-30'))])
    assert b"2031-02-30" in raw

    told = auditor.post("/api/v1/verify", raw, content_type="application/octet-stream")
    page = auditor.post("/verify/", {"file": SimpleUploadedFile("record.json", raw)})
    assert told.status_code == 422 and "its at is not a UTC time" in told.json()["detail"]
    assert page.status_code in (200, 422) and "its at is not a UTC time" in page.content.decode()
