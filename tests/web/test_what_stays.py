"""Do history page and desk agree on what may be corrected or voided? Every kind, at both doors."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from django.utils.html import escape

from soundedge.job.kinds import KINDS
from soundedge.record.canonical import plain
from soundedge.record.entry import Said
from soundedge.services.desk import correctable, enter
from soundedge.services.desk.book import opened
from soundedge.services.desk.state import state
from soundedge.services.evidence.records import body_said

from .installation import PASSWORDS, new_shop
from .thin_edge import on_paper

JOB = "KBW-2036-044"
# What the example's sheet does not have, or what the bench writes.
OTHERS = {
    "repair.recalled": {"job": "KBW-2029-003", "x": "10", "y": "20", "d": "30", "months_ago": "24"},
    "part.opened": {"isolation": "IS-7"},
    "heat.started": {"by_what": "gun", "looked": ["watch"]},
    "heat.paused": {"because": "Lunch."},
    "film.sanded": {"zone": "repair"},
    "service.returned": {"taken_by": "B. Holm"},
    "decontamination.stated": {"number": "DC-1", "tag": "MC-7", "stated_on": "2026-05-01T00:00:00Z"},
    "ph.read": {"edge_ph": "6.9", "weeping": "none_seen"},
    "edge.probed": {"lift_mm": "0"},
    "polymer.tested": {"how": "record", "polymer": "ectfe"},
    "wall.measured": {"wall_mm": "11.8"},
    "probe.read": {"place": "coldest", "probe_c": "180"},
    "visual.looked": {"stage": "end", "accepted": True},
    "bond.tested": {"plate": "W1", "method": "peel", "accepted": True},
    "meter.bumped": {"instrument": "V1", "given_pct": "50", "shown_pct": "49"},
    "service.limited": {"service_class": "permanent", "conditions": "water up to 40 °C"},
    "fact.waived": {"fact": "salts", "reason": "No kit.", "basis": "KBW-26-41"},
    "repair.merged": {"into": "A", "took": ["B"], "because": "One spot now."},
    "repair.split": {"of": "A", "into": ["C", "D"], "because": "Two spots after grinding."},
    "breach.closed": {"of": "layer-1", "report": "BR-1", "because": "Looked at.", "closed_by": "S. Berg"},
    "survey.refused": {"id": "B", "stage": "as_found", "photo": "b.jpg", "photo_sha256": "0" * 64, "refused": []},
    "picture.taken": {"file": "c.jpg", "sha256": "0" * 64, "caption": "The cover on its stand."},
    "holiday.tested": {"instrument": "V1", "voltage_v": "5000", "grounded": True},
    "escalation.decided": {"decision": "repair_as_instructed", "because": "Small enough."},
    "hold_point.signed": {"hold_point": "disposition", "meaning": "Seen."},
    "entry.corrected": {"entry": "picture.taken", "field": "caption", "old": "The cover on its stand.", "new": "The cover.",
                        "because": "It lay on the floor."},
    "entry.voided": {"entry": "gone", "because": "Written down twice."},
    "release.signed": {"meaning": "Proved and released."},
    "job.judged": {"certificate": JOB, "verdict": "held", "blocked_by": []},
    "certificate.issued": {"certificate": JOB, "pdf_sha256": "0" * 64, "record_sha256": "0" * 64},
}


@pytest.fixture(scope="module")
def shop(keys_for_module):
    """A shop with one job that holds an entry of every kind, each named after its kind."""
    made = new_shop()
    bodies = {event.kind: plain(body_said(event.body)) for event in reversed(on_paper().job.events)} | OTHERS
    bodies["job.opened"] |= {"number": JOB}
    bodies["film.measured"]["spots"] = bodies["film.measured"]["spots"][:1]  # one zone: quicker to judge
    began = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=2)
    facts = [Said(kind, kind, "ines" if KINDS[kind].acted else "sheet", began, bodies[kind]) for kind in KINDS]
    facts.insert(0, Said("gone", "air.read", "ines", began, bodies["air.read"]))
    with opened(made.data) as ledger:
        ledger.append(JOB, facts, now=began + timedelta(minutes=1))
    made.engineer = made.client("engineer")
    return made


def asked(shop, kind, act, **body):
    head = state(shop.data, JOB).head
    said = {"id": f"tab-{act}-{kind}", "on_head": head, "entry": kind, "because": "It was written wrongly.",
            "password": PASSWORDS["engineer"], **body}
    return shop.engineer.post(f"/api/v1/jobs/{JOB}/{act}", json.dumps(said), content_type="application/json")


def offered(shop, kind, act):
    """Whether the history offers it, and the page of whoever goes there all the same; None where no such entry counts."""
    listed = shop.engineer.get(f"/jobs/{JOB}/history/?kind={kind}").content.decode()
    page = shop.engineer.get(f"/jobs/{JOB}/history/{act}/?entry={kind}")
    return f'/jobs/{JOB}/history/{act}/?entry={kind}"' in listed, page.content.decode() if page.status_code == 200 else None


def a_value(shop, kind):
    """Field and value of an entry that names nothing of the register; anything where the kind is not corrected."""
    event = next((one for one in state(shop.data, JOB).outcome.job.events if one.id == kind), None)
    values = correctable.values_of(event) if event else []
    return next(((one.field, one.old) for one in values if one.field not in ("instrument", "lot")), ("none", 0))


def both_agree(answer, is_offered, page, stays):
    assert is_offered == (answer.status_code == 200) == (not stays), answer.content
    if stays:
        assert answer.json()["detail"] == stays
        assert page is None or (escape(stays) in page and "<deciding-form" not in page)


@pytest.mark.parametrize("kind", KINDS)
def test_what_the_history_offers_to_correct_is_what_the_desk_takes(shop, kind):
    is_offered, page = offered(shop, kind, "correct")
    field, old = a_value(shop, kind)

    both_agree(asked(shop, kind, "corrections", field=field, old=old, new=old), is_offered, page, KINDS[kind].not_corrected)


@pytest.mark.parametrize("kind", KINDS)
def test_what_the_history_offers_to_take_out_is_what_the_desk_takes(shop, kind):
    is_offered, page = offered(shop, kind, "void")

    both_agree(asked(shop, kind, "voids"), is_offered, page, KINDS[kind].not_voided)


def test_it_sees_a_list_of_its_own(shop, monkeypatch):
    """The check can fail: a desk that asks another list than the page takes what the page does not offer."""
    monkeypatch.setattr(enter, "why_not_voided", lambda kind: "")
    is_offered, page = offered(shop, "lot.received", "void")

    with pytest.raises(AssertionError):
        both_agree(asked(shop, "lot.received", "voids"), is_offered, page, KINDS["lot.received"].not_voided)
