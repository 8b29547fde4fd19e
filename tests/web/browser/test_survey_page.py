"""Survey, disposition and history in a browser: by touch on a phone, by keyboard alone on a laptop, and without network."""

import json
from pathlib import Path

import pytest
from playwright.sync_api import expect

from ..one_job import opened as opened_job
from ..test_survey_page import enter, spot
from .tablet import LAPTOP, PHONE, SIZES, faults_of, opened, signed_in

EXAMPLE = Path(__file__).parents[3] / "examples" / "mixer-cover"
TAPS = json.loads((EXAMPLE / "as-found.clicks.json").read_text())


def outlines_of(shop, job):
    from soundedge.services.desk.state import state

    return [event.body for event in state(shop.data, job).outcome.job.of("damage.outlined")]


def answer_of_the_folder():
    from soundedge.services.survey import survey

    return survey({"photo": "as-found.jpg", "outline": "as-found.clicks.json", "card": "card.json"}, base=EXAMPLE)


def take_photo(page):
    for name, value in (("#bar-x", "100.0"), ("#bar-y", "100.0"), ("#thick", "0.5"), ("#checked", "2031-03-02")):
        page.fill(name, value)
    page.locator("input[data-photo]").first.set_input_files(EXAMPLE / "as-found.jpg")


def tap_edge(page):
    """Every tap of the clicks file by touch, with the photo made larger about the damage first."""
    page.locator("outline-editor").evaluate("""editor => new Promise(done => {
      const ready = () => editor.outline.size[0] < Infinity ? done() : setTimeout(ready, 50); ready(); })""")
    middle = [sum(p[axis] for p in TAPS["outline_px"]) / len(TAPS["outline_px"]) for axis in (0, 1)]
    closer = "(e, m) => { e.sight.zoom(5, e.sight.toScreen(m)); e.sight.centre(m); e.draw(); }"
    page.locator("outline-editor").evaluate(closer, middle)
    canvas = page.locator("outline-editor canvas")
    canvas.scroll_into_view_if_needed()
    for x, y in TAPS["outline_px"]:
        sx, sy = page.locator("outline-editor").evaluate("(e, p) => e.sight.toScreen(p)", [x, y])
        box = canvas.bounding_box()
        page.touchscreen.tap(box["x"] + sx, box["y"] + sy)
    assert page.locator("outline-editor").evaluate("e => e.value.outline_px.length") == len(TAPS["outline_px"])


def write_down(page):
    for name, value in (("#d-x", "-60"), ("#d-y", "35"), ("#d-pit", "0.1")):
        page.fill(name, value)
    page.locator("[data-form] button.main").click()


def test_photo_taps_and_damage_on_a_phone_measure_what_the_folder_measures(browser, shop, live):
    job = opened_job(shop, "KBW-1")
    context = signed_in(browser, live, shop.client("technician"), PHONE)
    page = opened(context, live, f"/jobs/{job}/survey/")
    take_photo(page)
    expect(page.locator("[data-card-answer] [data-good=yes]")).to_be_visible(timeout=30000)
    tap_edge(page)
    tapped = page.locator("outline-editor").evaluate("e => e.value.outline_px")
    off = max(abs(a - b) for one, two in zip(tapped, TAPS["outline_px"]) for a, b in zip(one, two))
    assert off < 3  # a screen pixel or two
    page.locator("outline-editor").evaluate("(e, taps) => { e.value = {...taps, confirmed: false}; }", TAPS)
    page.locator("[data-do=confirm]").click()
    expect(page.locator("[data-measured-answer] [data-good=yes]")).to_be_visible(timeout=30000)
    assert faults_of(page) == []
    write_down(page)
    expect(page.locator("[data-stored-answer] a")).to_be_visible(timeout=30000)
    (body,) = outlines_of(shop, job)
    answer = answer_of_the_folder()
    assert float(body.survey["area_mm2"]) == pytest.approx(answer["area_mm2"], rel=1e-9)
    assert body.u_area_mm2 == pytest.approx(answer["u_area_mm2"], rel=1e-9) and body.pit_depth_mm == 0.1
    page.locator("[data-stored-answer] a").click()
    expect(page.locator(".damages img")).to_have_js_property("complete", True)
    assert page.locator(".damages img").evaluate("i => i.decode().then(() => i.naturalWidth)") > 200
    assert context.faults == []
    context.close()


def test_without_network_photo_and_outline_wait_and_are_measured_later(browser, shop, live):
    job = opened_job(shop, "KBW-1")
    context = signed_in(browser, live, shop.client("technician"), PHONE)
    page = opened(context, live, f"/jobs/{job}/survey/")
    context.set_offline(True)
    take_photo(page)
    expect(page.locator("[data-says=photo]")).to_contain_text("No network")
    page.locator("outline-editor").evaluate("(e, taps) => { e.value = {...taps, confirmed: false}; }", TAPS)
    page.locator("[data-do=confirm]").click()
    write_down(page)
    expect(page.locator("[data-says=kept]")).to_contain_text("Kept on this device")
    assert outlines_of(shop, job) == []
    context.set_offline(False)
    expect(page.locator("[data-says=kept]")).to_contain_text("Measured and stored")
    (body,) = outlines_of(shop, job)
    assert float(body.survey["area_mm2"]) == pytest.approx(answer_of_the_folder()["area_mm2"], rel=1e-9)
    context.close()


def test_a_typed_circle_by_keyboard_alone(browser, shop, live):
    job = opened_job(shop, "KBW-1")
    context = signed_in(browser, live, shop.client("technician"), LAPTOP)
    page = opened(context, live, f"/jobs/{job}/survey/")
    page.locator("summary", has_text="A round damage, typed").focus()
    page.keyboard.press("Enter")
    for wanted, text in (("circle-d", "18"), ("circle-x", "40"), ("circle-y", "35")):
        for _ in range(12):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.id") == wanted:
                break
        assert page.evaluate("document.activeElement.id") == wanted
        page.keyboard.type(text)
    page.keyboard.press("Enter")
    form = page.locator("entry-form", has=page.locator("#circle-d"))
    expect(form.locator("output")).to_contain_text("Stored in the record")
    (body,) = outlines_of(shop, job)
    assert (body.id, body.stage, body.circle_mm.d, body.circle_mm.x, body.measured) == ("A", "as_found", 18, 40, "typed")
    context.close()


def test_damages_at_a_bores_seam_are_typed_without_network_and_are_one_repair(browser, shop, live):
    from soundedge.services.desk.state import state

    job = opened_job(shop, "KBW-1", bore_d_mm=300, datum="0° at the arrow, length 0 at the flange")
    context = signed_in(browser, live, shop.client("technician"), PHONE)
    page = opened(context, live, f"/jobs/{job}/survey/")
    page.locator("summary", has_text="A round damage, typed").click()
    context.set_offline(True)
    form = page.locator("entry-form", has=page.locator("#circle-d"))
    for angle, letter in (("359", "A"), ("1,5", "B")):
        if letter == "B":
            form.locator("input[type=radio][name=id]").first.evaluate("one => { one.value = 'B'; one.checked = true; }")
        for field, text in (("d", "12"), ("along", "40"), ("turn", angle)):
            page.fill(f"#circle-{field}", text)
        form.locator("button[type=submit]").click()
        expect(form.locator("output")).to_contain_text("Kept on this device")
    assert outlines_of(shop, job) == []
    context.set_offline(False)
    expect(form.locator("output")).to_contain_text("Stored in the record", timeout=30000)
    first, second = outlines_of(shop, job)
    assert (first.place.angle_deg, second.place.angle_deg, first.place.along_mm) == (359, 1.5, 40)
    (repair,) = state(shop.data, job).outcome.steps["disposition"].answers[0]["repairs"]
    assert repair["members"] == ["A", "B"]
    page.reload()
    expect(page.locator(".damages")).to_contain_text("359°, 40 mm along the bore")
    context.close()


@pytest.mark.release
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("step", ["survey", "disposition", "history"])
def test_no_fault_of_access_in_either_size(browser, shop, live, step, size):
    job = opened_job(shop, "KBW-1")
    enter(shop, job, spot("A", 20), spot("A", 24, "as_prepared"), spot("B", 90),
          ("repair.recalled", {"job": "KBW-0", "x": 10, "y": 0, "d": 40, "months_ago": 30}))
    context = signed_in(browser, live, shop.client("engineer"), SIZES[size])
    page = opened(context, live, f"/jobs/{job}/{step}/")
    assert faults_of(page) == []
    assert context.faults == []
    context.close()
