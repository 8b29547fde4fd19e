"""Air, hazards, heat and layers with gloves on: phone and laptop, by touch and by keyboard, with and without network."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import expect

from ..installation import new_shop
from ..one_job import opened as job_opened
from ..repair_day import job_at_work
from .tablet import PHONE_FIRST, SIZES, faults_of, opened, signed_in

STEPS = ("conditions", "hazards", "heat", "buildup")
FULL, WORK, EMPTY = "KBW-2036-41", "KBW-2036-42", "KBW-2036-43"


@pytest.fixture(scope="module")
def shop(installation):
    import os

    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    held = new_shop(("technician", "inspector", "engineer", "manager"))
    job_at_work(held, FULL)
    job_at_work(held, WORK, before="layer.fused")
    job_opened(held, EMPTY)
    return held


@pytest.fixture(params=PHONE_FIRST)
def context(request, browser, live, shop):
    held = signed_in(browser, live, shop.client("technician"), SIZES[request.param])
    yield held
    assert held.faults == []
    held.close()


@pytest.fixture
def laptop(browser, live, shop):
    held = signed_in(browser, live, shop.client("technician"), SIZES["laptop"])
    yield held
    assert held.faults == []
    held.close()


def kept(page, kind):
    """What waits on this device or was sent from it, of one kind."""
    return page.evaluate(
        """async (kind) => { const { outbox } = await import('/static/outbox/outbox.js');
      return (await outbox.all()).filter((one) => one.kind === kind).map(({ body }) => body); }""",
        kind,
    )


def in_record(shop, job, kind):
    from soundedge.services.desk.state import state

    return [event.body for event in state(shop.data, job).outcome.job.of(kind)]


@pytest.mark.release
@pytest.mark.parametrize("step", STEPS)
@pytest.mark.parametrize("job", [FULL, EMPTY])
def test_the_page_has_no_fault_for_a_glove_or_a_reading_voice(context, live, step, job):
    page = opened(context, live, f"/jobs/{job}/{step}/")
    page.wait_for_timeout(600)
    assert faults_of(page) == []


@pytest.mark.release
def test_the_map_to_print_has_no_fault_either(context, live):
    assert faults_of(opened(context, live, f"/jobs/{WORK}/buildup/1/map/")) == []


def test_the_answer_comes_while_the_air_is_typed(context, live):
    page = opened(context, live, f"/jobs/{WORK}/conditions/")
    says = page.locator("live-answer[data-kind='air.read']")
    for name, value in (("air_c", "21,4"), ("rh_pct", "63"), ("steel_c", "16")):
        page.fill(f"entry-form[kind='air.read'] [name={name}]", value)
    expect(says).to_contain_text("does not conform")
    expect(says).to_contain_text("it must be at least 3 K")
    expect(says.locator(".shape-square")).to_be_visible()
    expect(says.locator("[data-key=dew_point_c]")).to_have_text("14.1\u00a0°C")
    page.fill("entry-form[kind='air.read'] [name=steel_c]", "19")
    expect(says.locator("[data-line]")).to_contain_text("conforms")
    page.fill("entry-form[kind='air.read'] [name=rh_pct]", "630")
    expect(says).to_contain_text("630")
    expect(says.locator("[data-facts]")).to_be_hidden()


def test_the_answer_stands_when_the_meter_is_chosen_and_takes_its_tolerance(laptop, live, shop):
    from soundedge.conditions.dew_point import margin_worst_k
    from soundedge.services.desk import register as desk
    from soundedge.services.desk.drawings import TOL_K, TOL_RH_PCT

    today = datetime.now(UTC).date()
    for name, more in (("HA", {}), ("HB", {"tol": 1.5})):
        tool = {"id": name, "kind": "air_meter", "calibrated_on": f"{today}T00:00:00Z",
                "calibration_due": f"{today + timedelta(days=99)}T00:00:00Z", "certificate": "C-1"} | more
        desk.list_instrument(shop.data, shop.actor("manager"), tool, now=datetime.now(UTC))
    page = opened(laptop, live, f"/jobs/{WORK}/conditions/")
    says = page.locator("live-answer[data-kind='air.read']")
    form = page.locator("entry-form[kind='air.read']")
    for name, value in (("air_c", "21.4"), ("rh_pct", "63"), ("steel_c", "20.5")):
        form.locator(f"[name={name}]").fill(value)
    for meter, tol in (("HA", TOL_K), ("HB", 1.5)):
        form.locator("[name=instrument]").select_option(meter)
        worst = margin_worst_k(21.4, 63, 20.5, tol_air_k=tol, tol_rh_pct=TOL_RH_PCT, tol_steel_k=tol)
        expect(says.locator("[data-key=dew_margin_worst_k]")).to_have_text(f"{worst:.1f}\u00a0K")
        expect(says.locator("[data-line]")).to_contain_text("conforms")


def test_air_is_written_down_without_network_and_without_an_answer(context, live, shop):
    page = opened(context, live, f"/jobs/{WORK}/conditions/")
    before = len(in_record(shop, WORK, "air.read"))
    context.set_offline(True)
    form = page.locator("entry-form[kind='air.read']")
    for name, value in (("air_c", "20.5"), ("rh_pct", "55"), ("steel_c", "19.5")):
        form.locator(f"[name={name}]").fill(value)
    expect(page.locator("live-answer[data-kind='air.read']")).to_contain_text("No network")
    form.locator("button[type=submit]").click()
    expect(form.locator("output")).to_contain_text("Kept on this device")
    assert kept(page, "air.read") == [{"air_c": 20.5, "rh_pct": 55, "steel_c": 19.5}]
    context.set_offline(False)
    expect(form.locator("output")).to_contain_text("Stored in the record")
    assert len(in_record(shop, WORK, "air.read")) == before + 1


def test_the_surface_is_typed_with_nothing_but_keys(laptop, live):
    page = opened(laptop, live, f"/jobs/{WORK}/conditions/")
    page.focus("entry-form[kind='surface.checked'] [name=profile_um]")
    for value in ("74", "", "6", "15", "1", "2"):
        page.keyboard.type(value)
        page.keyboard.press("Tab")
    says = page.locator("live-answer[data-kind='surface.checked']")
    expect(says.locator("[data-key=salts_mg_m2]")).to_have_text("36.0\u00a0mg/m²")
    expect(says).to_contain_text("does not conform")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Enter")
    expect(page.locator("entry-form[kind='surface.checked'] output")).to_contain_text("Stored in the record")


def test_the_vapour_is_said_while_the_solvent_is_typed(context, live):
    page = opened(context, live, f"/jobs/{WORK}/hazards/")
    form = page.locator("entry-form[kind='solvent.used']")
    form.locator("[name=solvent]").select_option("acetone")
    form.locator("[name=ml]").fill("6")
    form.locator("[name=space_l]").fill("80")
    form.locator("[name=air_changes_per_h]").fill("6")
    says = page.locator("live-answer[data-kind='solvent.used']")
    expect(says.locator("[data-key=lel_pct]")).to_have_text("98.3\u00a0%")
    expect(says.locator("[data-key=minutes_until_limit]")).to_have_text("69\u00a0min")
    expect(says).to_contain_text("the meter decides")
    page.fill("#touch-c", "80")
    expect(page.locator("live-answer[data-form='touch-form']")).to_contain_text("does not conform")


def test_the_fire_watch_begins_without_network_and_outlives_a_reload(laptop, live):
    page = opened(laptop, live, f"/jobs/{EMPTY}/hazards/")
    page.wait_for_function("document.querySelector('[name=fire_watch_until]').value !== ''")
    clock = page.locator("#watch-clock [data-line]")
    expect(clock).to_contain_text("no fire watch runs here")
    laptop.route("**/api/v1/**", lambda route: route.abort())
    page.locator("entry-form[kind='hot_work.ended'] button[type=submit]").click()
    expect(clock).to_contain_text("of the fire watch are left")
    assert "hour" in clock.text_content()
    page.reload()
    expect(page.locator("#watch-clock [data-line]")).to_contain_text("of the fire watch are left")
    laptop.unroute("**/api/v1/**")


def test_the_watch_is_said_in_words_minute_by_minute(laptop, live):
    page = laptop.new_page()
    page.clock.install()
    page.goto(f"{live.url}/jobs/{FULL}/hazards/")
    clock = page.locator("#watch-clock [data-line]")
    expect(clock).to_contain_text("minutes of the fire watch are left")
    first = clock.text_content()
    page.clock.run_for(10_000)
    page.clock.run_for(60_000)
    assert int(first.split()[0]) - int(clock.text_content().split()[0]) in (1, 2)
    page.clock.fast_forward(3600_000)
    page.clock.run_for(2000)
    expect(clock).to_contain_text("The time of the fire watch ended")


@pytest.mark.release
def test_the_gun_is_typed_and_the_estimate_says_what_decides(context, live):
    page = opened(context, live, f"/jobs/{EMPTY}/heat/")
    form = page.locator("entry-form[kind='heat.planned']")
    for name, value in (("gun.power_w", "3000"), ("gun.air_c", "520"), ("gun.outlet_mm", "34"), ("gun.distance_mm", "50")):
        form.locator(f"[name='{name}']").fill(value)
    says = page.locator("live-answer[data-kind='heat.planned']")
    expect(says.locator("[data-key=gloss_bond_c]")).to_contain_text("°C")
    expect(says).to_contain_text("estimate")
    expect(says).to_contain_text("A contact probe decides")
    expect(says.locator("[data-list]")).to_contain_text("Source: ")
    form.locator("[name='part_start_c']").fill("250")
    expect(says.locator("[data-key=gloss_at_s]")).to_have_text("less than 1 s")
    assert "1000" not in says.text_content().replace(",", "")


@pytest.mark.release
def test_the_card_is_worked_out_while_the_page_says_how_far_it_is(laptop, live):
    page = opened(laptop, live, f"/jobs/{WORK}/heat/")
    page.click("heat-planner [data-work]")
    expect(page.locator("heat-planner [data-state=done]")).to_contain_text("Never lay powder before")
    assert faults_of(page) == []
    with page.expect_download() as given:
        page.get_by_role("link", name="Work card to print").click()
    assert given.value.suggested_filename == "heat-card.pdf"


@pytest.mark.release
def test_the_heat_log_outlives_a_reload_and_becomes_one_entry(context, live, shop):
    before = len(in_record(shop, WORK, "heat.logged"))
    page = opened(context, live, f"/jobs/{WORK}/heat/")
    page.locator("heat-log [data-instrument]").select_option("I4")
    page.locator("heat-log button[data-start]").click()
    field, now = page.locator("#log-c"), page.locator("heat-log button[type=submit]")
    for aim, value in (("back_contact", "231"), ("polymer", "262")):
        page.locator(f"heat-log input[value={aim}]").check()
        field.fill(value)
        if aim == "polymer":
            expect(page.locator("heat-log [data-true]")).to_contain_text("True temperature about 271")
        now.click()
        expect(page.locator("heat-log [data-kept]")).to_contain_text("Kept on this device")
        expect(field).to_have_value("")
    expect(page.locator("heat-log [data-rows] li")).to_have_count(2)
    page.reload()
    expect(page.locator("heat-log [data-rows] li")).to_have_count(2)
    expect(page.locator("heat-log [data-time]")).not_to_have_text("0:00")
    expect(page.locator("heat-log [data-advice-box]")).to_contain_text("bond")
    words = page.locator("heat-log heat-chart svg").get_attribute("aria-label")
    assert "back contact: 1 readings, hottest 231\u00a0°C at 0:0" in words and "polymer: 1 readings, hottest 262" in words
    assert faults_of(page) == []
    context.set_offline(True)
    field.fill("255")
    page.keyboard.press("Enter")
    expect(page.locator("heat-log [data-rows] li")).to_have_count(3)
    expect(page.locator("heat-log [data-advice]")).to_contain_text("No network")
    page.locator("heat-log [data-end]").click()
    page.locator("heat-log [data-yes]").click()
    expect(page.locator("heat-log [data-advice]")).to_contain_text("written down")
    (body,) = kept(page, "heat.logged")
    assert [row["reading_c"] for row in body["readings"]] == [231, 262, 255] and body["instrument"] == "I4"
    assert [row["aimed_at"] for row in body["readings"]] == ["back_contact", "polymer", "back_contact"]
    context.set_offline(False)
    for _ in range(100):
        if not kept(page, "heat.logged"):
            break
        page.wait_for_timeout(200)
    assert len(in_record(shop, WORK, "heat.logged")) == before + 1
    page.reload()
    expect(page.locator("heat-log button[data-start]")).to_be_visible()


def test_placements_are_ticked_in_order_and_stay_ticked(context, live):
    page = opened(context, live, f"/jobs/{WORK}/buildup/")
    says, done = page.locator("[data-says]"), page.locator("button[data-done]")
    expect(says).to_have_text("1 of 52, ring 1: 27\u00a0mm right, 10\u00a0mm up of the middle")
    done.click()
    done.click()
    expect(says).to_contain_text("3 of 52")
    page.reload()
    expect(page.locator("[data-count]")).to_have_text("2 of 52 laid")
    expect(page.locator("[data-tick='2']")).to_have_attribute("aria-pressed", "true")
    page.locator("[data-tick='5']").click()
    expect(page.locator("[data-missed]")).to_contain_text("3, 4")
    expect(says).to_contain_text("3 of 52")
    page.locator("[data-place='3']").dispatch_event("click")
    expect(says).to_contain_text("4 of 52")
    page.locator("button[data-back]").click()
    expect(says).to_contain_text("3 of 52")
    page.locator("[data-layer-choice]").select_option("2")
    expect(says).to_contain_text("1 of 52")
    assert faults_of(page) == []


def test_a_layer_is_laid_and_written_down_with_nothing_but_keys(laptop, live, shop):
    page = opened(laptop, live, f"/jobs/{FULL}/buildup/")
    page.focus("button[data-done]")
    for _ in range(24):
        page.keyboard.press("Enter")
    expect(page.locator("[data-says]")).to_contain_text("25 of 52, ring 2")
    expect(page.locator("details[data-ring='2']")).to_have_attribute("open", "")
    page.focus("entry-form[kind='layer.fused'] [name=number]")
    page.keyboard.press("Tab")
    page.keyboard.press("P")
    page.keyboard.press("Tab")
    page.keyboard.type("Clear and flat")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("entry-form[kind='layer.fused'] output")).to_contain_text("Stored in the record")
    assert in_record(shop, FULL, "layer.fused")[-1].model_dump(exclude_none=True) == {
        "number": 3, "lot": "P-311", "remark": "Clear and flat"}
    expect(page.locator("entry-form[kind='layer.fused'] [name=number]")).to_have_value("4")
    expect(page.locator("[data-says]")).to_contain_text("1 of 52")


def test_every_word_of_the_scripts_stands_in_the_page():
    """No sentence of the bench is hard-coded in a script of these pages."""
    import re
    from pathlib import Path

    import soundedge.web

    static = Path(soundedge.web.__file__).parent / "static"
    for folder in ("live", "conditions", "hazards", "heat", "buildup"):
        for script in (static / folder).glob("*.js"):
            code = re.sub(r"/\*.*?\*/|//[^\n]*", "", script.read_text("utf-8"), flags=re.S)
            found = [text for text in re.findall(r'"([^"\n]*)"', code) if re.search(r"[A-Za-z]{3,} [a-z]{2,} [a-z]{2,}", text)]
            assert found == [], (script.name, json.dumps(found))
