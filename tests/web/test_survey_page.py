"""Survey, disposition and history without a browser: who may, whose job, what stands on them."""

import json
from datetime import timedelta
from pathlib import Path

import pytest

from .installation import PASSWORDS, new_shop, now
from .one_job import opened

EXAMPLE = Path(__file__).parents[2] / "examples" / "mixer-cover"
STEPS = ("survey", "disposition", "history")


def at(minutes):
    return (now() - timedelta(minutes=minutes)).replace(microsecond=0).isoformat()


def enter(shop, job, *said, role="technician"):
    from soundedge.services.desk import enter as desk

    entries = [{"id": f"tab-abcdef-{n}", "kind": kind, "at": at(60 - n), "body": body}
               for n, (kind, body) in enumerate(said, 1)]
    answers = desk.enter(shop.data, shop.actor(role), job, entries, now=now())
    assert [one["outcome"] for one in answers] == ["stored"] * len(said), answers


def spot(name, d=20.0, stage="as_found", **more):
    return "damage.outlined", {"id": name, "stage": stage, "circle_mm": {"x": 0, "y": 0, "d": d}, **more}


def page(shop, path, role="technician", **more):
    answer = shop.client(role, **more).get(path)
    assert answer.status_code == 200, answer.content.decode()[-500:]
    return answer.content.decode()


@pytest.mark.parametrize("step", STEPS)
def test_every_role_of_the_shop_reads_it_and_no_other_shop_does(shop, step):
    job = opened(shop, "KBW-1")
    for role in PASSWORDS:
        assert shop.client(role).get(f"/jobs/{job}/{step}/").status_code == 200
    assert new_shop(("technician",)).client("technician").get(f"/jobs/{job}/{step}/").status_code == 404
    assert shop.client(None).get(f"/jobs/{job}/{step}/").status_code == 302


def test_an_auditor_and_a_device_that_is_not_enrolled_are_offered_nothing_to_write(shop):
    job = opened(shop, "KBW-1")
    enter(shop, job, spot("A"))
    for text in (page(shop, f"/jobs/{job}/survey/", "auditor"), page(shop, f"/jobs/{job}/survey/", device=False)):
        assert "<survey-page" not in text and "<entry-form" not in text
    assert "/history/correct/" not in page(shop, f"/jobs/{job}/history/", "auditor")
    assert shop.client("auditor").get(f"/jobs/{job}/history/correct/?entry=tab-abcdef-1").status_code == 403


def test_the_photo_is_looked_at_and_measured_as_the_folder_measures_it(shop):
    from soundedge.services.survey import survey

    job = opened(shop, "KBW-1")
    client = shop.client("technician")
    sent = client.post("/api/v1/photos", (EXAMPLE / "as-found.jpg").read_bytes(), content_type="image/jpeg", secure=True)
    card, taps = (json.loads((EXAMPLE / name).read_text()) for name in ("card.json", "as-found.clicks.json"))
    asked = {"sha256": sent.json()["sha256"], "card": card}
    found = client.post(f"/jobs/{job}/survey/card/", json.dumps(asked), content_type="application/json").content.decode()
    assert 'data-good="yes"' in found and "This photo can be measured." in found
    asked |= {"outline": taps}
    measured = client.post(f"/jobs/{job}/survey/measured/", json.dumps(asked), content_type="application/json")
    answer = survey({"photo": "as-found.jpg", "outline": "as-found.clicks.json", "card": "card.json"}, base=EXAMPLE)
    assert f"{answer['area_mm2']:.0f}" in measured.content.decode()
    wrong = client.post(f"/jobs/{job}/survey/card/", json.dumps({"sha256": "0" * 64}), content_type="application/json")
    assert wrong.status_code == 422  # a photo that was not sent


def test_what_was_typed_has_no_picture_and_the_next_damage_gets_the_next_letter(shop):
    job = opened(shop, "KBW-1")
    enter(shop, job, spot("A"))
    text = page(shop, f"/jobs/{job}/survey/")
    assert 'name="damage" value="B" data-type="choice" checked' in text
    assert shop.client("technician").get(f"/jobs/{job}/survey/tab-abcdef-1.jpg").status_code in (404, 422)
    prepared = page(shop, f"/jobs/{job}/survey/?damage=A&stage=as_prepared")
    assert 'name="damage" value="A" data-type="choice" checked' in prepared
    assert 'name="stage" value="as_prepared" data-type="choice" checked' in prepared


def test_a_place_is_asked_as_the_part_is_known(shop):
    plain, face, bore = (opened(shop, f"KBW-{n}", **part) for n, part in enumerate(
        ({}, {"datum": "12 o'clock at the drain"}, {"bore_d_mm": 300, "datum": "0° at the arrow"})))
    names = {job: [name for name in ("circle_mm.x", "place.clock", "place.radius_mm", "place.angle_deg", "place.along_mm")
                   if f'name="{name}"' in page(shop, f"/jobs/{job}/survey/")] for job in (plain, face, bore)}

    assert names == {plain: ["circle_mm.x"], face: ["place.clock", "place.radius_mm"],
                     bore: ["place.angle_deg", "place.along_mm"]}
    enter(shop, bore, ("damage.outlined", {"id": "A", "stage": "as_found", "circle_mm": {"d": 20},
                                           "place": {"angle_deg": 359, "along_mm": 40}}))
    assert "359°, 40 mm along the bore" in page(shop, f"/jobs/{bore}/survey/")
    assert "0° at the arrow" in page(shop, f"/jobs/{bore}/survey/")


def test_damage_on_a_photo_is_placed_along_the_bore_like_a_typed_one(shop):
    bore = opened(shop, "KBW-1", bore_d_mm=300, datum="0° at the arrow")
    client = shop.client("technician")
    sent = client.post("/api/v1/photos", (EXAMPLE / "as-found.jpg").read_bytes(), content_type="image/jpeg", secure=True)
    card, taps = (json.loads((EXAMPLE / name).read_text()) for name in ("card.json", "as-found.clicks.json"))
    said = {"id": "tab-abcdef-1", "at": at(5), "damage": "A", "stage": "as_found", "photo_sha256": sent.json()["sha256"],
            "outline": taps, "card": card, "place": {"angle_deg": 359, "along_mm": 40}}
    answer = client.post(f"/api/v1/jobs/{bore}/damage", json.dumps(said), content_type="application/json", secure=True)

    assert answer.status_code in (200, 201), answer.content.decode()
    assert "359°, 40 mm along the bore" in page(shop, f"/jobs/{bore}/survey/")


def test_a_job_is_opened_on_a_bore_and_not_on_a_bore_that_is_a_ring(shop):
    opened(shop, "KBW-1")
    client = shop.client("manager")
    form = {"number": "KBW-2", "site": "Kelderbeck", "procedure": "KBW-LP-04", "part.name": "Casing", "part.tag": "PC-9",
            "part.material": "ductile_iron", "part.plate_mm": "14", "part.lined_area_mm2": "180000", "part.bore_d_mm": "300",
            "part.datum": "0° at the arrow", "lining.polymer": "ectfe", "lining.thickness_um": "1300"}
    wrong = client.post("/jobs/new/", form | {"part.ring_outer_r_mm": "150"})
    assert wrong.status_code == 422 and "as a bore and as a ring" in wrong.content.decode()
    assert client.post("/jobs/new/", form).status_code == 302
    assert 'name="place.along_mm"' in page(shop, "/jobs/KBW-2/survey/")


def test_disposition_shows_rule_limit_and_growth(shop):
    job = opened(shop, "KBW-1")
    enter(shop, job, spot("A", 20), spot("A", 24, "as_prepared"))
    text = page(shop, f"/jobs/{job}/disposition/")
    assert "has grown to" in text and "1.44" in text and "clause 5.2" in text and "<title id=" in text
    assert "<deciding-form" not in text


def test_the_engineer_is_asked_only_when_the_procedure_does_not_allow_it(shop):
    job = opened(shop, "KBW-1")
    enter(shop, job, spot("A", 90))
    text = page(shop, f"/jobs/{job}/disposition/", "engineer")
    assert "<deciding-form" in text
    for name in ("number", "instruction", "expires", "limits.bare_area_mm2_max", "limits.footprint_area_mm2_max"):
        assert f'name="{name}"' in text and "keep_out_mm" not in text
    assert 'value="return_to_owner"' in text
    assert "<deciding-form" not in page(shop, f"/jobs/{job}/disposition/", "inspector")


def test_a_correction_names_what_stands_there_and_is_shown_struck_through(shop):
    job = opened(shop, "KBW-1")
    enter(shop, job, ("air.read", {"air_c": 19.8, "rh_pct": 52, "steel_c": 18.6, "instrument": "H2"}))
    client = shop.client("technician")
    text = client.get(f"/jobs/{job}/history/correct/?entry=tab-abcdef-1&field=rh_pct").content.decode()
    assert "&quot;field&quot;: &quot;rh_pct&quot;" in text
    head = text.split('on-head="')[1].split('"')[0]
    said = {"id": "tab-correct-1", "on_head": head, "entry": "tab-abcdef-1", "field": "rh_pct", "old": 52, "new": 56,
            "because": "Read wrongly."}
    done = client.post(
        f"/api/v1/jobs/{job}/corrections", json.dumps(said), content_type="application/json")
    assert done.status_code == 200, done.content
    text = client.get(f"/jobs/{job}/history/?kind=air.read").content.decode()
    assert "<del>52\u00a0%</del> 56\u00a0%" in text and "Read wrongly." in text
    assert client.get(f"/jobs/{job}/history/correct/?entry=tab-abcdef-1&field=nothing").status_code == 422
    assert client.get(f"/jobs/{job}/history/correct/?entry=nobody").status_code == 422


def test_an_earlier_repair_of_the_same_part_is_offered_and_once_written_down_is_not_offered_again(shop):
    first, second = opened(shop, "KBW-1"), opened(shop, "KBW-2")
    enter(shop, first, spot("A", 30), ("layer.fused", {"number": 1, "lot": "P-311"}))
    text = page(shop, f"/jobs/{second}/history/")
    assert "Write down no. 1" in text and "KBW-1" in text
    body = json.loads(text.split('kind="repair.recalled"')[1].split('data-fixed="')[1].split('"')[0].replace("&quot;", '"'))
    assert body["job"] == "KBW-1" and body["d"] == pytest.approx(30, abs=0.1)
    enter(shop, second, ("repair.recalled", body))
    text = page(shop, f"/jobs/{second}/history/")
    assert "Write down no. 1" not in text and "written down" in text
