"""The pages of repair work without a screen: who may do what there, what they say, and nothing of another shop."""

import json
import time

import pytest

from .installation import new_shop
from .one_job import opened
from .repair_day import job_at_work

STEPS = ("conditions", "hazards", "heat", "buildup")
FORMS = {
    "conditions": {
        "technician": ("air.read", "surface.prepared", "surface.checked"),
        "inspector": ("air.read", "surface.checked"),
    },
    "hazards": {
        "technician": ("solvent.used", "vapour.read", "permit.issued", "hot_work.ended"),
        "inspector": ("vapour.read", "permit.issued"),
        "engineer": ("permit.issued",),
        "manager": ("permit.issued",),
    },
    "heat": {
        "technician": ("heat.planned", "hot_work.ended", "film.cooled"),
        "inspector": ("film.cooled",),
        "engineer": ("heat.planned",),
    },
    "buildup": {"technician": ("layer.fused",)},
}


@pytest.fixture(scope="module")
def held(installation):
    import os

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    shop = new_shop()
    return shop, job_at_work(shop, "KBW-2036-31"), opened(shop, "KBW-2036-32")


def page(shop, role, job, step):
    answer = shop.client(role).get(f"/jobs/{job}/{step}/")
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("role", ["technician", "inspector", "engineer", "manager", "auditor"])
def test_each_role_is_offered_the_forms_it_may_fill_and_no_other(held, in_installation, role):
    shop, job, _ = held
    for step in STEPS:
        text = page(shop, role, job, step)
        offered = {kind for kinds in FORMS[step].values() for kind in kinds if f'<entry-form kind="{kind}"' in text}
        assert offered == set(FORMS[step].get(role, ())), step


def test_a_device_that_is_not_enrolled_is_offered_no_form(held, in_installation):
    shop, job, _ = held
    client = shop.client("technician", device=False)
    for step in STEPS:
        assert "<entry-form" not in client.get(f"/jobs/{job}/{step}/").content.decode()


def test_a_job_with_nothing_in_it_opens_on_every_page_and_says_not_measured(held, in_installation):
    shop, _, empty = held
    for step in ("conditions", "hazards", "heat"):
        assert "not measured" in page(shop, "technician", empty, step)
    assert "There is no repair to build" in page(shop, "technician", empty, "buildup")
    client = shop.client("technician")
    assert client.get(f"/jobs/{empty}/conditions/chart.svg").status_code == 422
    assert client.get(f"/jobs/{empty}/buildup/1/map/").status_code == 404


def test_another_shops_job_is_not_there_with_any_of_its_drawings_and_plans(held, in_installation):
    _, job, _ = held
    stranger = new_shop()
    client = stranger.client("technician")
    for path in (
        *(f"{step}/" for step in STEPS),
        "conditions/chart.svg",
        "buildup/1/map/",
        "buildup/1/plan.svg",
        "heat/card.pdf",
        "heat/plan/abc/",
    ):
        assert client.get(f"/jobs/{job}/{path}").status_code == 404, path
    assert client.post(f"/jobs/{job}/heat/plan/").status_code == 404


def test_conditions_show_the_margin_the_worst_case_and_the_minutes_to_the_limit(held, in_installation):
    shop, job, _ = held
    text = page(shop, "auditor", job, "conditions")
    assert "the limit is reached" in text and "minutes after the last reading" in text
    assert "</svg> good</span>" in text
    assert "80 minutes went by from the preparation to the first layer" in text
    assert "<summary>Sources</summary>" in text and "WMO-No. 8" in text


def test_every_caution_stands_on_the_page_of_hazards_and_nothing_is_called_by_the_one_word(held, in_installation):
    from soundedge.services.desk import dangers

    shop, job, _ = held
    text = page(shop, "technician", job, "hazards")
    for line in (*dangers.cautions(), *dangers.lessons()):
        assert line in text
    for step in STEPS:
        assert "safe" not in page(shop, "technician", job, step).casefold()


def test_the_number_of_the_next_layer_stands_in_its_form_with_the_lots_of_the_polymer(held, in_installation):
    shop, job, _ = held
    text = page(shop, "technician", job, "buildup")
    form = text[text.index('<entry-form kind="layer.fused"') :]
    assert 'name="number"' in form and 'value="3"' in form[: form.index("</form>")]
    assert '<option value="P-311"' in form
    assert "1 of 52, ring 1:" in " ".join(text.split())


def test_drawings_come_as_pictures_that_run_nothing(held, in_installation):
    shop, job, _ = held
    client = shop.client("auditor")
    for path in ("conditions/chart.svg", "buildup/1/section.svg", "buildup/1/plan.svg"):
        answer = client.get(f"/jobs/{job}/{path}")
        assert answer.status_code == 200 and answer["Content-Type"] == "image/svg+xml"
        assert "default-src 'none'" in answer["Content-Security-Policy"] and "sandbox" in answer["Content-Security-Policy"]
    assert client.get(f"/jobs/{job}/buildup/2/plan.svg").status_code == 422


def test_a_plan_is_worked_out_behind_the_page_and_its_card_is_a_pdf(held, in_installation):
    shop, job, _ = held
    client = shop.client("technician")
    began = client.post(f"/jobs/{job}/heat/plan/")
    assert began.status_code in (200, 202)
    address = (
        f"/jobs/{job}/heat/plan/" + began.content.decode().split("/heat/plan/")[1].split("/")[0] + "/"
        if b"data-poll" in began.content
        else None
    )
    text = began.content.decode()
    for _ in range(60):
        if "data-poll" not in text:
            break
        assert "being tried" in text or "waits" in text
        time.sleep(0.5)
        text = client.get(address).content.decode()
    assert 'data-state="done"' in text and "5 layers then hold" in text and "estimate" in text
    card = client.get(f"/jobs/{job}/heat/card.pdf")
    assert card["Content-Type"] == "application/pdf" and card.content.startswith(b"%PDF")


def test_without_a_plan_there_is_no_card_and_the_reason_is_said(held, in_installation):
    shop, _, empty = held
    client = shop.client("technician")
    for answer in (client.post(f"/jobs/{empty}/heat/plan/"), client.get(f"/jobs/{empty}/heat/card.pdf")):
        assert answer.status_code == 422
        assert "Record the heat plan" in answer.content.decode()


def test_what_is_asked_while_typing_is_a_question_that_the_rooms_take(held, in_installation):
    """The questions stand in the pages as JSON; each with a typed body must be answered."""
    import html
    import re

    from soundedge.services.ask import ask

    shop, job, _ = held
    typed = {
        "air.read": {"air_c": 20, "rh_pct": 60, "steel_c": 19},
        "solvent.used": {"solvent": "acetone", "ml": 6, "space_l": 4000},
        "heat.planned": {"gun": {"power_w": 3000, "air_c": 520, "outlet_mm": 34, "distance_mm": 50}},
        "touch-form": {"temperature_c": 58},
        "surface.checked": {"profile_um": [70]},
        "": {},
    }
    seen = set()
    for step in STEPS:
        for tag in re.findall(r"<live-answer[^>]*>", page(shop, "technician", job, step)):
            facts = dict(re.findall(r'([a-z-]+)="([^"]*)"', tag))
            which = facts.get("data-kind", facts.get("data-form", ""))
            answer = ask(facts["room"], json.loads(html.unescape(facts["data-ask"])) | typed[which])
            assert "verdict" in answer
            seen.add(which)
    assert seen == set(typed)


def test_a_person_of_us_units_reads_fahrenheit_and_inches(held, in_installation):
    shop, job, _ = held
    account = shop.accounts["technician"]
    account.units = "us"
    account.save(update_fields=["units"])
    try:
        assert "69.6\u00a0°F" in page(shop, "technician", job, "conditions")  # 20.9 °C
        assert "\u00a0in right" in page(shop, "technician", job, "buildup")
    finally:
        account.units = "metric"
        account.save(update_fields=["units"])


def test_a_drawing_is_drawn_with_points_and_not_with_commas_for_a_person_who_reads_german(held, in_installation):
    import re

    shop, job, _ = held
    account = shop.accounts["technician"]
    account.language = "de"
    account.save(update_fields=["language"])
    try:
        for step in ("buildup/", "buildup/1/map/", "heat/"):
            text = shop.client("technician").get(f"/jobs/{job}/{step}").content.decode()
            drawn = re.findall(r'\b(?:r|cx|cy|x|y|font-size|data-fusion|data-limit|data-factor|data-offset)="([^"]*)"', text)
            assert drawn and not [one for one in drawn if "," in one], step
    finally:
        account.language = "en"
        account.save(update_fields=["language"])


def test_a_long_log_shows_its_newest_forty_and_the_way_to_the_others(held, in_installation):
    from datetime import timedelta

    from soundedge.services.desk import enter

    from .installation import now

    shop, _, _ = held
    job, began = opened(shop, "KBW-2036-33"), now() - timedelta(minutes=30)
    air = [{"id": f"d1-abc123-{n}", "kind": "air.read", "at": (began + timedelta(seconds=10 * n)).isoformat(),
            "body": {"air_c": 20, "rh_pct": 30 + n / 10, "steel_c": 19.5, "instrument": "H2"}} for n in range(1, 61)]
    assert {one["outcome"] for one in enter.enter(shop.data, shop.actor("technician"), job, air, now=now())} == {"stored"}
    text = page(shop, "technician", job, "conditions")
    listed = text.count('<li id="entry-d1-abc123-')
    assert listed == 40 and 'id="entry-d1-abc123-60"' in text and 'id="entry-d1-abc123-20"' not in text
    assert "20 earlier entries stand in the history" in text and "Show all 60 readings" in text
    assert text.count('data-label="Dew point"') == 40
    whole = shop.client("technician").get(f"/jobs/{job}/conditions/?all=yes").content.decode()
    assert whole.count('data-label="Dew point"') == 60 and "Show all" not in whole
    history = shop.client("technician").get(f"/jobs/{job}/history/?all=yes").content.decode()
    assert history.count('<li id="entry-d1-abc123-') == 60
    assert 'id="entry-d1-abc123-60"' in page(shop, "technician", job, "history")  # the last leaf is shown first
