"""Test voltage, instruments and the typed card with finger and keyboard, at both sizes, without a fault of access."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from ..installation import new_shop
from ..thin_edge import NUMBER
from ..thin_edge import opened as job_opened
from .tablet import LAPTOP, PHONE, SIZES, faults_of, opened, signed_in
from .test_thickness_page import sent

JOB = f"/jobs/{NUMBER}"
ALL = (
    f"{JOB}/holiday/?v=3000",
    f"{JOB}/instruments/",
    f"{JOB}/typed/",
    f"{JOB}/blank/",
    "/instruments/",
    "/blank-card/",
    "/instruments/recall/?gauge=G7&reference_um=1000&reading_um=1062",
    "/instruments/recall/?lot=P-311",
    f"{JOB}/thickness/",
)


@pytest.fixture(scope="module")
def shop(installation):
    with pytest.MonkeyPatch.context() as env:
        env.setenv("SOUNDEDGE_KEYS", str(installation / "keys"))
        env.setenv("SOUNDEDGE_ROOT", str(installation / "installation"))
        held = new_shop()
        job_opened(held)
        held.clients = {role: held.client(role) for role in ("technician", "inspector")}
    return held


def events(shop, kind):
    from soundedge.services.desk.state import state

    return state(shop.data, NUMBER).outcome.job.of(kind)


@pytest.mark.release
@pytest.mark.parametrize("size", SIZES)
def test_no_fault_of_access_on_any_of_these_pages(browser, live, shop, size):
    context = signed_in(browser, live, shop.clients["inspector"], SIZES[size])
    for path in ALL:
        page = opened(context, live, path)
        for details in page.locator("main details").all():
            details.evaluate("(one) => { one.open = true }")
        assert faults_of(page) == [], path
        page.close()
    assert context.faults == []
    context.close()


def test_a_voltage_is_judged_while_it_is_typed_in_the_rooms_own_words(browser, live, shop):
    from soundedge.services.desk.measuring import test_question, windows
    from soundedge.services.desk.state import state

    question = test_question(state(shop.data, NUMBER).outcome)
    context = signed_in(browser, live, shop.clients["inspector"], LAPTOP)
    page = opened(context, live, f"{JOB}/holiday/")
    said = page.locator("stated-voltage [data-live]")
    for volts, words in ((3000, "too low"), (6300, "inside the window"), (20000, "too high")):
        page.locator("#v").fill(str(volts))
        expect(said).to_contain_text(words)
        for zone in windows(question, volts)["zones"]:
            expect(said).to_contain_text(zone["stated"]["proves"])
    context.set_offline(True)
    page.locator("#v").fill("6400")
    expect(said).to_contain_text("No network: the voltage cannot be judged")
    assert said.locator(".verdict").count() == 0
    context.set_offline(False)
    context.close()


def test_a_hole_tapped_on_the_map_stands_in_the_test_that_is_written_down(browser, live, shop):
    context = signed_in(browser, live, shop.clients["inspector"], PHONE)
    page = opened(context, live, f"{JOB}/holiday/")
    page.locator("#t-voltage").fill("6300")
    page.locator("#t-covered").fill("100")
    page.get_by_label("Part earthed").check()
    page.locator("#t-coupon").fill("1350")
    page.locator("#t-found").select_option("true")
    page.get_by_label("overlap").first.uncheck()
    page.locator("holiday-test foot-plan svg").tap()
    page.locator("holiday-test [name=zone]").select_option("repair")
    page.get_by_role("button", name="Write the test down").tap()
    expect(page.locator("holiday-test output")).to_contain_text("Stored in the record")
    body = events(shop, "holiday.tested")[-1].body
    assert (body.voltage_v, body.covered_pct, body.coupon_um, body.coupon_hole_found, body.grounded) == (
        6300,
        100,
        1350,
        True,
        True,
    )
    assert body.zones == ["repair", "parent"] and len(body.holidays) == 1 and abs(body.holidays[0].x + 60) < 3
    context.close()


def test_a_card_is_typed_in_with_the_keyboard_alone_and_the_moment_moves_on(browser, live, shop):
    context = signed_in(browser, live, shop.clients["technician"], LAPTOP, timezone_id="UTC")
    page = opened(context, live, f"{JOB}/typed/")
    before = len(events(shop, "air.read"))
    page.locator("#card-at").fill("2026-06-11T10:00")
    page.locator("#card-step").fill("60")
    page.locator("#card-step").press("Enter")
    keys = page.keyboard
    for air, rh, steel in (("20,1", "51", "19,4"), ("20.6", "50", "19.9")):
        for text in (air, rh, steel):
            keys.type(text)
            keys.press("Enter")
        if not page.evaluate("document.activeElement.value"):
            keys.type("H2")
        keys.press("Enter")
        expect(page.locator("details.box").first.locator("output")).to_contain_text("ored in the record")
        page.wait_for_timeout(100)
    sent(page)
    expect(page.locator("details.box").first.locator("[data-lines]")).to_have_text("2 lines written")
    new = sorted(events(shop, "air.read"), key=lambda event: event.at)[-2:]
    assert len(events(shop, "air.read")) == before + 2
    assert [(f"{e.at:%H:%M}", e.body.air_c, e.body.rh_pct, e.body.steel_c, e.body.instrument) for e in new] == [
        ("10:00", 20.1, 51, 19.4, "H2"),
        ("11:00", 20.6, 50, 19.9, "H2"),
    ]
    keys.press("PageDown")
    assert (
        page.evaluate("document.activeElement.closest('details').querySelector('entry-form').getAttribute('kind')")
        == "damage.outlined"
    )
    context.close()


def test_nothing_is_typed_in_without_a_moment(browser, live, shop):
    context = signed_in(browser, live, shop.clients["technician"], LAPTOP)
    page = opened(context, live, f"{JOB}/typed/")
    box = page.locator("details.box").first
    for name, value in (("air_c", "20"), ("rh_pct", "50"), ("steel_c", "19")):
        box.locator(f"[name={name}]").fill(value)
    box.get_by_role("button", name="Write it down").click()
    expect(page.locator("#card-at")).to_be_focused()
    assert (
        page.evaluate("import('/static/outbox/outbox.js').then(({ outbox }) => outbox.all()).then((all) => all.length)")
        == 0
    )
    context.close()


def test_a_gauge_checked_at_the_bench_is_written_into_the_chosen_job(browser, live, shop):
    context = signed_in(browser, live, shop.clients["inspector"], PHONE)
    page = opened(context, live, "/instruments/")
    before = len(events(shop, "gauge.checked"))
    check = page.locator("bench-check")
    check.locator("[data-job]").select_option(NUMBER)
    check.locator("[name=instrument]").select_option("G7")
    check.locator("[name=reference_um]").fill("1000")
    check.locator("[name=reading_um]").fill("1003")
    check.get_by_role("button", name="Write it down").tap()
    expect(check.locator("output")).to_contain_text("Stored in the record")
    assert len(events(shop, "gauge.checked")) == before + 1
    context.close()


def test_a_spot_typed_from_the_card_is_as_long_and_wide_as_it_was_measured(browser, live, shop):
    context = signed_in(browser, live, shop.clients["technician"], LAPTOP, timezone_id="UTC")
    page = opened(context, live, f"{JOB}/typed/")
    page.locator("#card-at").fill("2026-06-11T10:00")
    box = page.locator("details.box", has=page.locator("entry-form[kind='damage.outlined']"))
    box.evaluate("(one) => { one.open = true }")
    for name, text in {"id": "T", "ellipse_mm.a": "40", "ellipse_mm.b": "30", "ellipse_mm.x": "-60",
                       "ellipse_mm.y": "35"}.items():
        box.locator(f"[name='{name}']").fill(text)
    box.locator("[name='stage']").select_option("as_found")
    box.locator("button[type=submit]").click()
    expect(box.locator("output")).to_contain_text("ored in the record")
    sent(page)

    body = next(event.body for event in events(shop, "damage.outlined") if event.body.id == "T")
    assert (body.ellipse_mm.a, body.ellipse_mm.b, body.ellipse_mm.x, body.through) == (40, 30, -60, True)
    context.close()


def test_a_cut_too_narrow_for_the_gauge_is_typed_by_its_depth(browser, live, shop):
    context = signed_in(browser, live, shop.clients["technician"], PHONE, timezone_id="UTC")
    page = opened(context, live, f"{JOB}/survey/")
    form = page.locator("entry-form[kind='damage.outlined']").nth(1)
    form.evaluate("(one) => { for (let at = one; at; at = at.parentElement) if (at.tagName === 'DETAILS') at.open = true }")
    form.locator("details.film-left summary").click()
    form.locator("[name='through']").uncheck()
    form.locator("[name='kind']").select_option("cut")
    for name, text in {"ellipse_mm.a": "30", "ellipse_mm.b": "2", "ellipse_mm.x": "10", "ellipse_mm.y": "10",
                       "beside_um": "1210 1214 1208", "depth_mm": "0,42 0,40 0,39"}.items():
        form.locator(f"[name='{name}']").fill(text)
    form.locator("button[type=submit]").click()
    expect(form.locator("output")).to_contain_text("ored in the record")
    sent(page)

    body = events(shop, "damage.outlined")[-1].body
    assert (body.left_um, body.through, body.smooth) == (790, False, None)
    assert faults_of(page) == []
    context.close()
