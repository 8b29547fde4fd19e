"""Does a filled form become the body that the person meant, in the house's units and in exact decimals?"""

# ruff: noqa: E501  (pages and scripts stand here as they are)
from __future__ import annotations

import json
import threading

import pytest
from playwright.sync_api import expect

from .paper_bench import JOB, WAITING, PaperBench, until
from .tablet import PATIENCE_MS

FULL = """<entry-form kind="film.measured" job="J" data-fixed='{"place": "nozzle", "meter": {"kind": "dry"}}'><form>
<label for="a">Air</label><input id="a" name="air_c" data-type="number" data-factor="0.5555555555555556" data-offset="-17.77777777777778">
<label for="n">Film</label><input id="n" name="film_um" data-type="number" required>
<label for="m">Meter</label><input id="m" name="meter.id" data-keep>
<label for="t">Note</label><textarea id="t" name="note"></textarea>
<label><input type="checkbox" name="wet" data-type="flag"> Wet</label>
<fieldset><legend>Stage</legend><label><input type="radio" name="stage" value="before" required> before</label>
<label><input type="radio" name="stage" value="after"> after</label></fieldset>
<label><input type="checkbox" name="checks" value="clean" data-type="choices"> clean</label>
<label><input type="checkbox" name="checks" value="dry" data-type="choices"> dry</label>
<input type="hidden" name="outline_mm" data-type="json" value="[[0,0],[1.50,2]]">
<label for="w">When</label><input id="w" type="datetime-local" name="at" data-type="at">
<div data-list="spots" data-start="1"><template data-row><div><label for="s">Spot</label><input id="s" name="spot">
<div data-list="readings_um"><template data-row><div><label for="r">Reading</label><input id="r" name="." data-type="number">
<button type="button" data-remove>Remove</button></div></template><button type="button" data-add>Add reading</button></div></div></template>
<button type="button" data-add>Add spot</button></div>
<button type="submit">Write it down</button><output></output></form></entry-form>"""
NUMBERS = "t => import('/static/outbox/form-body.js').then(m => m.number_of(t))"
UNITS = "v => import('/static/outbox/form-body.js').then(m => m.in_house_units(v[0], v[1], v[2]))"


@pytest.fixture
def bench():
    held = PaperBench()
    held.body = FULL
    yield held
    held.stop()


@pytest.fixture
def page(browser, bench):
    context = browser.new_context(timezone_id="Europe/Berlin")
    context.set_default_timeout(PATIENCE_MS)
    page = context.new_page()
    page.goto(f"{bench.at}/jobs/J/")
    expect(page.locator("outbox-panel summary")).to_be_visible()
    yield page
    context.close()


def test_every_sort_of_field_reaches_the_body(page, bench):
    page.get_by_label("Air").fill("68,5")
    page.get_by_label("Film").fill("1 050,10")
    page.get_by_label("Meter").fill("DFT-3")
    page.get_by_label("after").check()
    page.get_by_label("dry").check()
    page.get_by_label("When").fill("2031-07-04T09:12")
    page.get_by_label("Spot").fill("A")
    page.get_by_label("Reading").fill("1000.5")
    page.get_by_role("button", name="Add reading").click()
    page.get_by_label("Reading").nth(1).fill("998")
    page.get_by_role("button", name="Add reading").click()
    page.get_by_role("button", name="Add spot").click()
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("entry-form output")).to_have_text("Stored in the record, number 1.", use_inner_text=True)
    (entry,) = bench.stored.values()
    assert entry["at"] == "2031-07-04T07:12:00Z"
    assert entry["body"] == {
        "place": "nozzle", "air_c": 20.2778, "film_um": 1050.1, "meter": {"kind": "dry", "id": "DFT-3"}, "wet": False, "stage": "after",
        "checks": ["dry"], "outline_mm": [[0, 0], [1.5, 2]], "spots": [{"spot": "A", "readings_um": [1000.5, 998]}]}
    raw = next(raw for path, raw in bench.posts if path.endswith("/entries"))
    assert b'"film_um":1050.1,' in raw
    # ready for the next: only what stays is left, one row again
    expect(page.get_by_label("Meter")).to_have_value("DFT-3")
    expect(page.get_by_label("Film")).to_have_value("")
    expect(page.get_by_label("Reading")).to_have_count(1)
    assert page.get_by_label("after").is_checked() is False


def test_what_is_needed_and_what_is_no_number_is_said_and_nothing_is_kept(page, bench):
    page.get_by_label("Air").fill("warm")
    page.get_by_role("button", name="Write it down").click()
    says = page.locator("entry-form output")
    expect(says).to_contain_text("Air: is not a number.")
    expect(says).to_contain_text("Film: is needed.")
    expect(says).to_contain_text("Stage: is needed.")
    expect(page.get_by_label("Air")).to_be_focused()
    assert page.get_by_label("Air").get_attribute("aria-invalid") == "true"
    until(page, WAITING, 0)


AS_TYPED = [
    ("19.8", 19.8), ("19,8", 19.8), ("-3", -3), ("\u22123", -3), (",5", 0.5), ("1 050", 1050), ("0.10", 0.1), ("-0", 0), ("", None),
    ("1.2.3", None), ("1e3", None), ("0x10", None), ("NaN", None), ("Infinity", None), ("1.2,3", None), ("1234567890123456", None)]


def test_a_number_is_read_as_it_is_typed_or_not_at_all(page):
    assert [(text, page.evaluate(NUMBERS, text)) for text, _ in AS_TYPED] == AS_TYPED


def test_a_thousand_with_a_comma_is_not_guessed_for_us_units(page, bench):
    bench.units = "us"
    page.reload()
    assert page.evaluate(NUMBERS, "1,050") is None
    assert page.evaluate(NUMBERS, "41,3") == 41.3


IN_US_UNITS = [
    (32, 0.5555555555555556, -17.77777777777778, 0), (68, 0.5555555555555556, -17.77777777777778, 20), (41.3, 25.4, 0, 1049.02),
    (1, 645.16, 0, 645.16), (0.1, 25.4, 0, 2.54), (123456.7, 25.4, 0, 3135800), (19.8, 1, 0, 19.8)]


def test_us_units_become_house_units_without_noise(page):
    assert [(*one, page.evaluate(UNITS, one)) for *one, _ in IN_US_UNITS] == IN_US_UNITS


def test_a_page_can_add_to_the_body_wait_and_stop(page, bench):
    page.evaluate("""() => { globalThis.stop = false; document.addEventListener('before-entry', e => {
      if (globalThis.stop) return e.preventDefault();
      e.detail.wait(new Promise(go => setTimeout(go, 100)).then(() => { e.detail.body.added = 'late'; })); }); }""")
    page.get_by_label("Film").fill("1000")
    page.get_by_label("before").check()
    page.get_by_role("button", name="Write it down").dblclick()
    expect(page.locator("entry-form output")).to_contain_text("Stored")
    assert [one["body"]["added"] for one in bench.stored.values()] == ["late"]
    page.evaluate("globalThis.stop = true")
    page.get_by_label("Film").fill("1001")
    page.get_by_label("before").check()
    page.get_by_role("button", name="Write it down").click()
    until(page, WAITING, 0)
    assert len(bench.stored) == 1


def test_what_is_typed_while_the_last_is_being_kept_is_not_lost(page, bench):
    page.evaluate("document.addEventListener('before-entry', e => e.detail.wait(new Promise(go => setTimeout(go, 200))))")
    for film in ("1000", "1001", "1002"):
        page.get_by_label("Film").fill(film)
        page.get_by_label("before").check()
        page.get_by_role("button", name="Write it down").click()
    expect(page.get_by_label("Film")).to_have_value("")
    expect(page.locator("entry-form output")).to_contain_text("number 3")
    assert [one["body"]["film_um"] for one in bench.stored.values()] == [1000, 1001, 1002]


def test_a_refused_entry_is_filled_in_again_with_its_rows(page, bench):
    bench.enter = lambda job, one: {"id": one["id"], "outcome": "refused", "error": {
        "kind": "out_of_range", "field": "film_um", "message": "Film is 99999 um; it must be at most 50000 um."}}
    page.get_by_label("Film").fill("99999")
    page.get_by_label("before").check()
    page.get_by_label("Reading").fill("1")
    page.get_by_role("button", name="Add reading").click()
    page.get_by_label("Reading").nth(1).fill("2")
    page.get_by_role("button", name="Write it down").click()
    expect(page.locator("entry-form output [lang=en]")).to_contain_text("it must be at most 50000 um")
    page.get_by_role("button", name="Fill the form with it again").click()
    expect(page.get_by_label("Film")).to_have_value("99999")
    expect(page.get_by_label("Film")).to_be_focused()
    expect(page.get_by_label("Reading").nth(1)).to_have_value("2")


DECIDE = f"""<deciding-form action="/api/v1/jobs/{JOB}/signatures" data-on-head="{'a' * 64}" data-fixed='{{"what": "release"}}'><form>
<label for="g">Meaning</label><input id="g" name="meaning" required><label for="p">Password</label><input id="p" name="password" type="password" required>
<button type="submit">Sign</button><output></output></form></deciding-form>
<script type="module" src="/static/outbox/deciding.js"></script>"""


@pytest.fixture
def signing(page, bench):
    bench.body = DECIDE
    page.goto(f"{bench.at}/jobs/J/hold_points/")
    expect(page.locator("outbox-panel summary")).to_be_visible()

    def sign():
        page.get_by_label("Meaning").fill("I have looked at it")
        page.get_by_label("Password").fill("correct horse 12")
        page.get_by_role("button", name="Sign", exact=True).click()

    return sign


def test_a_signature_is_sent_at_once_and_the_password_is_kept_nowhere(page, bench, signing):
    signing()
    expect(page.locator("deciding-form output")).to_contain_text("Done: it stands in the record.")
    body = json.loads(bench.posts[-1][1])
    assert {key: body[key] for key in ("what", "meaning", "password", "on_head")} == {
        "what": "release", "meaning": "I have looked at it", "password": "correct horse 12", "on_head": "a" * 64}
    expect(page.get_by_label("Password")).to_have_value("")
    kept = page.evaluate("""async () => JSON.stringify([{...localStorage}, {...sessionStorage},
      await import('/static/outbox/outbox.js').then(m => m.outbox.all())])""")
    assert "horse" not in kept


def test_a_job_that_moved_is_shown_with_what_changed(page, bench, signing):
    bench.deciding = (409, {"status": 409, "detail": "The record has moved.", "kind": "conflict", "field": "on_head", "changed": [
        {"no": 41, "kind": "air.read", "by": "tom", "at": "2031-05-04T07:12:00Z"}]})
    signing()
    says = page.locator("deciding-form output")
    expect(says).to_contain_text("Not done: the job has moved on")
    expect(says.locator("li")).to_contain_text("Number 41: Air and steel read, by tom")
    expect(page.get_by_label("Password")).to_have_value("")
    says.get_by_role("button", name="Load the page and look again").click()
    expect(page.locator("deciding-form output")).to_be_empty()


def test_without_network_nothing_is_released_and_asking_again_uses_the_same_id(page, bench, signing):
    seen = []
    bench.fault = lambda method, path, n: "lose" if path.endswith("/signatures") and len(seen) == 0 and not seen.append(1) else None
    signing()
    expect(page.locator("deciding-form output")).to_contain_text("You can record without network; you can't release without network.")
    expect(page.get_by_label("Password")).to_have_value("")
    until(page, WAITING, 0)
    signing()
    expect(page.locator("deciding-form output")).to_contain_text("Done")
    first, second = (json.loads(raw)["id"] for path, raw in bench.posts if path.endswith("/signatures"))
    assert first == second
    assert threading.active_count() < 20
