"""Does the pad take exactly what was tapped, typed or sent by a gauge, lose none, and say what the rules say?"""

# ruff: noqa: E501  (scripts stand here as they are)
from __future__ import annotations

import itertools
import json
import re
from types import SimpleNamespace

import pytest
from playwright.sync_api import expect

from ..installation import new_shop
from ..thin_edge import EXAMPLES, NUMBER, on_paper
from ..thin_edge import opened as job_opened
from .paper_bench import until
from .tablet import LAPTOP, PHONE, PHONE_FIRST, SIZES, faults_of, opened, signed_in

PATH = f"/jobs/{NUMBER}/thickness/"
DRAFT = "JSON.parse(localStorage.getItem(Object.keys(localStorage).find((name) => name.startsWith('soundedge/film/'))))"
_numbers = itertools.count(101)
PORT = """
window.heard = [];
navigator.__defineGetter__("serial", () => ({
  addEventListener() {},
  async requestPort() {
    if (window.noPort) throw new DOMException("No port selected by the user.", "NotFoundError");
    return {
      async open(options) { window.heard.push(options); this.readable = new ReadableStream({ start(c) { window.gauge = c; } }); },
      async close() { window.heard.push("closed"); },
    };
  },
}));
"""


@pytest.fixture(scope="module")
def shared(installation):
    """One job for all tests that write nothing into it; each has its own drafts in its own browser."""
    with pytest.MonkeyPatch.context() as env:
        env.setenv("SOUNDEDGE_KEYS", str(installation / "keys"))
        env.setenv("SOUNDEDGE_ROOT", str(installation / "installation"))
        held = new_shop()
        job_opened(held, until="film.measured")
        held.inspector = held.client("inspector")
    return held


@pytest.fixture
def shop(shared):
    """A job of its own in the same shop, for a test that writes into it."""
    job = job_opened(shared, until="film.measured", number=f"KBW-2026-{next(_numbers)}")
    return SimpleNamespace(data=shared.data, inspector=shared.inspector, job=job, path=f"/jobs/{job}/thickness/")


def _at(browser, live, request, size):
    shop = request.getfixturevalue("shop" if "shop" in request.fixturenames else "shared")
    held = signed_in(browser, live, shop.inspector, size)
    yield held
    assert held.faults == []
    held.close()


@pytest.fixture
def context(browser, live, request):
    yield from _at(browser, live, request, PHONE)


@pytest.fixture
def laptop(browser, live, request):
    yield from _at(browser, live, request, LAPTOP)


def tap(page, text):
    for sign in text:
        page.locator(f'[data-key="{sign}"]').tap()
    page.locator('[data-key="enter"]').tap()


def drafted(page):
    return {spot["id"]: spot["readings_um"] for spot in page.evaluate(DRAFT)["spots"] if spot["readings_um"]}


def stored(shop):
    from soundedge.services.desk.state import state

    return state(shop.data, shop.job).outcome.job.of("film.measured")


def complete(page, n):
    page.get_by_role("button", name="These readings are complete").click()
    expect(page.locator("[data-end]")).to_contain_text(f"{n} readings written down")


def sent(page):
    waits = "import('/static/outbox/outbox.js').then(({ outbox }) => outbox.all()).then((kept) => kept.length)"
    deadline = 80
    while page.evaluate(waits) and deadline:
        page.wait_for_timeout(100)
        deadline -= 1
    expect(page.locator("outbox-panel")).to_contain_text("All sent")


def test_a_gloved_finger_gives_exactly_the_readings_it_tapped(context, live, shop):
    page = opened(context, live, shop.path)
    for text in ("1309", "1303", "1294", "1250"):
        tap(page, text)
    page.locator("input[name=zone][value=overlap]").tap()
    tap(page, "1341.5")
    assert drafted(page) == {"R1": [1309, 1303, 1294], "R2": [1250], "O1": [1341.5]}
    box = page.locator('[data-key="7"]').bounding_box()
    assert box["width"] >= 64 and box["height"] >= 64
    complete(page, 5)
    sent(page)
    (film,) = stored(shop)
    assert [(s.id, s.where, s.readings_um) for s in film.body.spots] == [
        ("R1", "repair", [1309, 1303, 1294]),
        ("R2", "repair", [1250]),
        ("O1", "overlap", [1341.5]),
    ]
    assert film.body.instrument == "G7" and film.by == "insp"


@pytest.mark.release
def test_the_last_reading_can_be_taken_back_over_the_edge_of_a_spot(context, live):
    page = opened(context, live, PATH)
    for text in ("1309", "1303", "1294", "88"):
        tap(page, text)
    page.locator('[data-do="undo"]').tap()
    page.locator('[data-do="undo"]').tap()
    assert drafted(page) == {"R1": [1309, 1303]}
    tap(page, "1300")
    assert drafted(page) == {"R1": [1309, 1303, 1300]}


@pytest.mark.release
def test_the_keys_stay_on_the_hand_that_was_chosen(context, live):
    page = opened(context, live, PATH)
    right = page.locator(".pad-keys").bounding_box()["x"]
    page.locator('[data-do="hand"]').tap()
    assert page.locator(".pad-keys").bounding_box()["x"] < 20 < right
    page.reload()
    assert page.locator(".pad-keys").bounding_box()["x"] < 20


def test_a_gauge_that_types_sixty_readings_at_once_loses_none(laptop, live):
    page = opened(laptop, live, PATH)
    values = [1200 + 3 * i for i in range(60)]
    page.get_by_text("Let the gauge write").click()
    page.locator("#pad-line").focus()
    page.keyboard.type("".join(f"{value}\n" for value in values), delay=0)
    read = drafted(page)
    assert [value for spot in read.values() for value in spot] == values and len(read) == 20


def test_a_gauge_that_types_while_a_key_of_the_pad_has_the_focus_presses_no_key(laptop, live):
    page = opened(laptop, live, PATH)
    page.locator('[data-key="9"]').focus()
    page.keyboard.type("1204\n1310\n1288\n", delay=0)
    assert drafted(page) == {"R1": [1204, 1310, 1288]}


LINES = [  # line, unit, values, fault
    ("43,3 mil", "um", [1099.82], None),
    ("1023 1031;1040", "um", [1023, 1031, 1040], None),
    ("1,05 mm", "um", [1050], None),
    ("1023, 1031", "um", [1023, 1031], None),
    ("+1204 µm", "mil", [1204], None),
    ("41.3", "mil", [1049.02], None),
    ("1,100", "um", None, "two_ways"),
    ("1023,1031", "um", None, "two_ways"),
    ("4o,1", "um", None, "not_number"),
    ("-12", "um", None, "negative"),
    ("1023 --", "um", None, "not_number"),
    ("900", "mil", None, "too_large"),
    ("1e3", "um", None, "not_number"),
    ("", "um", None, "not_number"),
    ("1" * 600, "um", None, "not_number"),
]


def test_what_a_line_may_be_is_read_or_refused_as_a_whole(laptop, live):
    page = opened(laptop, live, "/instruments/")
    for line, unit, values, fault in LINES:
        read = page.evaluate(
            "([line, unit]) => import('/static/thickness/gauge-line.js').then((all) => all.read_line(line, unit))",
            [line, unit],
        )
        assert read.get("values_um") == (values and pytest.approx(values)) and read.get("fault") == fault, (line, unit, read)


def test_what_the_page_reads_the_bench_reads_alike(laptop, live):
    from soundedge.thickness.intake import read_typed

    page = opened(laptop, live, "/instruments/")
    for line in ("43,3 mil", "1023 1031;1040", "1204 µm", "1,05 mm", "1204.5"):
        read = page.evaluate(
            "(line) => import('/static/thickness/gauge-line.js').then((all) => all.read_line(line, 'um'))", line
        )
        assert read["values_um"] == pytest.approx([row.value_um for row in read_typed(line, "um").rows]), line


def test_an_unclear_line_is_refused_in_words_kept_and_nothing_is_taken_from_it(context, live):
    page = opened(context, live, PATH)
    page.get_by_text("Let the gauge write").tap()
    page.locator("#pad-line").fill("1204 12o1")
    page.keyboard.press("Enter")
    expect(page.locator("[data-ways-says]")).to_contain_text("“1204 12o1” is not a reading")
    assert drafted(page) == {} and len(page.evaluate(DRAFT)["aside"]) == 1


def test_a_gauge_on_a_cable_is_read_line_by_line_and_its_end_is_said(browser, live, shared):
    context = signed_in(browser, live, shared.client("inspector"), LAPTOP)
    context.add_init_script(PORT)
    page = opened(context, live, PATH)
    page.get_by_text("Let the gauge write").click()
    page.locator("#pad-baud").select_option("19200")
    page.get_by_role("button", name="Connect the gauge").click()
    expect(page.locator("[data-ways-says]")).to_contain_text("Connected")
    page.evaluate(
        "for (const part of ['1204', ' um\\r', '\\n1310\\r\\n12', '88\\n']) window.gauge.enqueue(new TextEncoder().encode(part))"
    )
    page.wait_for_function(f"{DRAFT}.spots[0].readings_um.length === 3")
    assert drafted(page) == {"R1": [1204, 1310, 1288]}
    assert page.evaluate("window.heard[0]") == {
        "baudRate": 19200,
        "dataBits": 8,
        "parity": "none",
        "stopBits": 1,
        "flowControl": "none",
    }
    page.evaluate("window.gauge.error(new DOMException('The device has been lost.', 'NetworkError'))")
    expect(page.locator("[data-ways-says]")).to_contain_text("cable was pulled")
    page.evaluate("window.noPort = true")
    page.get_by_role("button", name="Connect the gauge").click()
    expect(page.locator("[data-ways-says]")).to_contain_text("allow the connection")
    context.close()


def test_without_web_serial_there_is_no_button_for_a_cable(browser, live, shared):
    context = signed_in(browser, live, shared.client("inspector"), PHONE)
    context.add_init_script("navigator.__defineGetter__('serial', () => undefined)")
    page = opened(context, live, PATH)
    page.get_by_text("Let the gauge write").tap()
    expect(page.locator("#pad-line")).to_be_visible()
    expect(page.locator("#pad-baud")).to_be_hidden()
    context.close()


@pytest.mark.release
def test_the_draft_survives_a_reload_and_is_not_another_persons(context, browser, live, shared):
    page = opened(context, live, PATH)
    tap(page, "1309")
    tap(page, "1303")
    page.reload()
    expect(page.locator("[data-says]")).to_contain_text("2 readings of a draft are here")
    assert drafted(page) == {"R1": [1309, 1303]}
    context.clear_cookies()
    other = shared.client("technician")
    context.add_cookies(
        [
            {"name": name, "value": one.value, "url": live.url.replace("http:", "https:"), "secure": True}
            for name, one in other.cookies.items()
            if one.value
        ]
    )
    page.goto(live.url + PATH)
    expect(page.locator('[data-show="count"]')).to_have_text("0 readings, 0 spots")


def test_without_network_each_reading_speaks_for_itself_only_and_all_are_sent_later(context, live, shop):
    page = opened(context, live, shop.path)
    sent(page)
    context.set_offline(True)
    tap(page, "1309")
    tap(page, "884")
    expect(page.locator("[data-says]")).to_contain_text("884 µm taken at R1: below the minimum, by itself")
    expect(page.locator("[data-live]")).to_contain_text("The rules are asked when the network is back")
    assert page.locator("[data-live] .verdict").count() == 0
    complete(page, 2)
    expect(page.locator("outbox-panel")).to_contain_text("1 entry waits")
    assert stored(shop) == []
    context.set_offline(False)
    sent(page)
    (film,) = stored(shop)
    assert film.body.spots[0].readings_um == [1309, 884]


def test_the_live_verdict_is_the_rooms_own_word_for_word(laptop, live, shop):
    from soundedge.services.ask import ask
    from soundedge.services.desk.measuring import film_question
    from soundedge.services.desk.state import state

    page = opened(laptop, live, shop.path)
    page.get_by_text("Gauge, unit, readings to a spot").click()
    page.locator("#pad-correction").select_option("base_metal_reading")
    page.locator("#pad-off").fill("12")
    page.locator("#pad-uoff").fill("3")
    page.locator("#pad-uoff").blur()
    page.get_by_text("Let the gauge write").click()
    page.locator("#pad-file").set_input_files(str(EXAMPLES / "thin-edge-cover/film.csv"))
    expect(page.locator("[data-ways-says]")).to_contain_text(
        "36 readings at 12 spots read from film.csv; 0 lines set aside"
    )
    film = on_paper().job.last("film.measured").body
    question = film_question(state(shop.data, shop.job).outcome)  # the gauge as this shop checked it last
    answer = ask(
        "thickness",
        question["ask"]
        | {
            "spots": [spot.model_dump(exclude_none=True) for spot in film.spots],
            "correction": film.correction.model_dump(),
            "gauge": question["gauges"]["G7"],
        },
    )
    governing = answer["by_rule"][answer["governing"]]
    assert "872" in governing["because"] and answer["remeasure"] == ["R4"]
    live_part = page.locator("[data-live]")
    expect(live_part).to_contain_text(governing["because"])
    expect(live_part).to_contain_text(governing["next_move"])
    expect(live_part).to_contain_text("does not conform · R4: measure again")
    for rule in answer["by_rule"].values():
        expect(live_part).to_contain_text(rule["because"])
    for line in answer["proves"]:
        expect(live_part).to_contain_text(line)
    complete(page, 36)
    sent(page)
    page.reload()
    expect(page.locator("main")).to_contain_text(governing["because"])
    step = stored(shop)[-1]
    assert [s.readings_um for s in step.body.spots] == [s.readings_um for s in film.spots]
    assert page.locator("img.drawing").first.evaluate("(one) => one.complete && one.naturalWidth > 100")


def test_a_table_with_a_bad_line_sets_it_aside_and_shows_it(laptop, live, tmp_path):
    table = tmp_path / "film.csv"
    table.write_text("spot;DFT [mil];where\nA;43,3;repair\nA;4o,1;repair\n", "utf-8")
    page = opened(laptop, live, PATH)
    page.get_by_text("Let the gauge write").click()
    page.locator("#pad-file").set_input_files(str(table))
    expect(page.locator("[data-aside-list]")).to_contain_text("line 3: '4o,1' is not a number.")
    assert drafted(page) == {"A": [pytest.approx(1099.82)]}


def test_a_place_tapped_on_the_map_goes_with_the_spot(context, live, shop):
    page = opened(context, live, shop.path)
    page.get_by_text("Place of this spot").tap()
    page.locator("reading-pad foot-plan svg").tap()
    x, y = (float(page.locator(f"#pad-{name}").input_value()) for name in "xy")
    assert abs(x + 60) < 3 and abs(y - 35) < 3  # the middle of the drawing is the middle of the repair
    tap(page, "1300")
    complete(page, 1)
    sent(page)
    spot = stored(shop)[0].body.spots[0]
    assert (spot.x, spot.y) == (x, y)


@pytest.mark.release
def test_an_answer_that_comes_takes_neither_the_focus_nor_a_tap_away(laptop, live, shop):
    page = opened(laptop, live, shop.path)
    page.keyboard.type("1301\n1299\n1298\n1300\n")
    expect(page.locator("[data-live]")).to_contain_text("decides")
    go = page.locator("[data-spots] [data-spot]").first
    go.focus()
    page.keyboard.type("1302\n")
    said = page.locator("[data-live] details > summary").first
    said.focus()
    with page.expect_response("**/api/v1/ask/thickness"):
        page.evaluate("document.querySelector('reading-pad').ask()")
    until(page, "document.querySelector('reading-pad').answer?.n", 5)  # what comes after this is the same answer again
    expect(said).to_be_focused()
    go.hover()
    page.mouse.down()
    with page.expect_response("**/api/v1/ask/thickness"):
        page.evaluate("document.querySelector('reading-pad').ask()")
    page.wait_for_timeout(300)
    page.mouse.up()
    assert page.evaluate(DRAFT)["at"] == 0


@pytest.mark.release
def test_with_the_keyboard_alone(laptop, live, shop):
    page = opened(laptop, live, shop.path)
    page.keyboard.type("1301\n1299\n")
    page.get_by_role("button", name="These readings are complete").focus()
    page.keyboard.press("Enter")
    expect(page.locator("[data-end]")).to_contain_text("2 readings written down")
    sent(page)
    assert stored(shop)[0].body.spots[0].readings_um == [1301, 1299]


@pytest.mark.release
def test_in_mil_for_a_person_of_us_units(laptop, live):
    page = opened(laptop, live, PATH)
    page.get_by_text("Gauge, unit, readings to a spot").click()
    page.locator("#pad-unit").select_option("mil")
    page.locator("#pad-unit").blur()
    page.locator("#reading").click()
    page.keyboard.type("51.5\n")
    assert drafted(page) == {"R1": [1308.1]}
    expect(page.locator(".pad-value")).to_contain_text(re.compile(r"51[.,]5\s*mil"))


@pytest.mark.release
@pytest.mark.parametrize("size", PHONE_FIRST)
def test_no_fault_of_access_with_an_empty_and_a_full_pad(browser, live, shared, size):
    context = signed_in(browser, live, shared.client("inspector"), SIZES[size])
    page = opened(context, live, PATH)
    assert faults_of(page) == []
    for details in page.locator("main details").all():
        details.evaluate("(one) => { one.open = true }")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.type("1301\n884\n1310\n1299\n")
    expect(page.locator("[data-live]")).to_contain_text("does not conform")
    page.locator('[data-do="empty"]').click()
    assert faults_of(page) == []
    assert json.dumps(context.faults) == "[]"
    context.close()
