"""Is the edge tapped in the browser the edge that is measured: by finger, mouse and keys, on every photo?

The editor's own template is rendered and served with a strict policy by a small server; Chromium does the rest. What the
geometry should give comes from shapely, numpy and the survey room, never from the page.
"""

from __future__ import annotations

import io
import json
import math
import threading
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import expect
from shapely.geometry import LineString, Point, Polygon

import soundedge.web
from soundedge.basis.question import read
from soundedge.survey.ask import find_card
from soundedge.survey.given import Clicks, FindCardRequest
from soundedge.survey.outline import curve_through
from tests.survey import render, scenes

WEB = Path(soundedge.web.__file__).parent
POLICY = "default-src 'self'; img-src 'self' blob:"
TYPES = {".js": "text/javascript", ".css": "text/css", ".html": "text/html; charset=utf-8"}
PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
DESK = {"viewport": {"width": 1280, "height": 800}}
CARD = {"bar_x_mm": 100.0, "bar_y_mm": 100.0, "thickness_mm": 0.5}
SCENE = scenes.scene(seed=33, shape_seed=11, tilt_deg=17.0, area_mm2=420.0)


@pytest.fixture(scope="module", autouse=True)
def settings_of_the_bench(installation):
    """The editor's template is rendered with the bench's own settings; a process has one set of them."""


# ------------------------------------------------------------------ the page
def rendered(**given) -> str:
    """The editor's template in the harness page."""
    from django.template import Context, Engine

    engine = Engine(dirs=[str(WEB / "templates")], libraries={
        "i18n": "django.templatetags.i18n", "static": "django.templatetags.static"})
    editor = engine.get_template("survey/_editor.html").render(Context(given))
    return (Path(__file__).parent / "outline_editor.html").read_text(encoding="utf-8").replace("{{ editor }}", editor)


class Served:
    """Pages and photos by address; ``answers`` for the suggestion, ``asked`` what came."""

    def __init__(self) -> None:
        self.files: dict[str, tuple[bytes, str]] = {}
        self.answer: object = None
        self.asked: list[tuple[dict, str]] = []
        served = self

        class Handler(BaseHTTPRequestHandler):
            def _send(self, status: int, body: bytes, kind: str) -> None:
                self.send_response(status)
                for name, value in (("Content-Type", kind), ("Content-Length", str(len(body))),
                                    ("Content-Security-Policy", POLICY), ("X-Content-Type-Options", "nosniff")):
                    self.send_header(name, value)
                self.end_headers()
                self.wfile.write(body)

            def do_GET(self) -> None:
                path = self.path.split("?")[0]
                if path in served.files:
                    return self._send(200, *served.files[path])
                file = WEB / path.lstrip("/")
                if path.startswith("/static/") and ".." not in path and file.is_file():
                    return self._send(200, file.read_bytes(), TYPES[file.suffix])
                return self._send(200 if path == "/favicon.ico" else 404, b"", "image/x-icon")

            def do_POST(self) -> None:
                body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
                served.asked.append((body, self.headers.get("X-CSRFToken", "")))
                status = 200 if served.answer is not None else 503
                self._send(status, json.dumps(served.answer).encode(), "application/json")

            def log_message(self, *_: object) -> None:
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.thread = threading.Thread(target=self.server.serve_forever, daemon=True)
        self.thread.start()
        self.root = f"http://127.0.0.1:{self.server.server_port}"

    def stop(self) -> None:
        self.server.shutdown()
        self.server.server_close()


@pytest.fixture(scope="module")
def served():
    served = Served()
    yield served
    served.stop()


@pytest.fixture(scope="module")
def chromium(browser):
    return browser


class Sheet:
    """The open page: taps by pixels of the photo, words, value."""

    def __init__(self, page, served: Served) -> None:
        self.page, self.served, self.faults = page, served, []
        page.on("console", lambda message: self.faults.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: self.faults.append(str(error)))

    def open(self, photo: bytes, kind: str = "image/jpeg", **given) -> Sheet:
        self.served.files["/photo"] = (photo, kind)
        page = rendered(**({"editor_src": "/photo", "editor_joined": "straight"} | given))
        self.served.files["/"] = (page.encode(), TYPES[".html"])
        self.page.goto(self.served.root + "/")
        self.page.wait_for_function("() => document.querySelector('outline-editor').outline?.size[0] < Infinity")
        return self

    def run(self, code: str, given=None):
        """JavaScript with ``editor`` at hand."""
        return self.page.evaluate(f"(given) => {{ const editor = document.querySelector('outline-editor'); {code} }}", given)

    def at(self, point) -> tuple[float, float]:
        """Where a pixel of the photo lies in the window."""
        x, y = self.run("scrollTo(0, 0); return editor.sight.toScreen(given)", list(point))
        box = self.page.locator("outline-editor canvas").bounding_box()
        return box["x"] + x, box["y"] + y

    def tap(self, point) -> None:
        if self.touch:
            self.page.touchscreen.tap(*self.at(point))
        else:
            self.page.mouse.click(*self.at(point))

    touch = False

    def look_at(self, point, scale: float) -> None:
        self.run("editor.sight.zoom(given[1] / editor.sight.scale); editor.sight.centre(given[0]); editor.draw()",
                 [list(point), scale])

    def do(self, what: str) -> None:
        self.page.locator(f"outline-editor button[data-do='{what}']").click(force=True)

    @property
    def value(self) -> dict:
        return self.run("return editor.value")

    @property
    def status(self):
        return self.page.locator("[data-status]")


@pytest.fixture(params=["phone", pytest.param("desk", marks=pytest.mark.release)])
def sheet(request, chromium, served):
    context = chromium.new_context(**(PHONE if request.param == "phone" else DESK))
    one = Sheet(context.new_page(), served)
    one.touch = request.param == "phone"
    yield one
    context.close()
    assert one.faults == []


@pytest.fixture
def desk(chromium, served):
    context = chromium.new_context(**DESK)
    one = Sheet(context.new_page(), served)
    yield one
    context.close()
    assert one.faults == []


@pytest.fixture
def phone(chromium, served):
    context = chromium.new_context(**PHONE)
    one = Sheet(context.new_page(), served)
    one.touch = True
    yield one
    context.close()
    assert one.faults == []


@cache
def plain(width: int = 600, height: int = 450) -> bytes:
    """A quiet grey photo."""
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    picture = np.stack([120 + (x % 60), 130 + (y % 60), 140 + ((x + y) % 40)], axis=-1).astype(np.uint8)
    return render.photo_bytes(picture)


SQUARE = [(150, 100), (350, 100), (350, 300), (150, 300)]
BOW = [(150, 100), (350, 300), (350, 100), (150, 300)]


# ------------------------------------------------------------------ tapping
def test_taps_make_the_outline_and_say_so(sheet):
    sheet.open(plain())
    for point in SQUARE:
        sheet.tap(point)

    expect(sheet.status).to_have_text("Point 4 added. 4 points. The outline does not cross itself.")
    value = sheet.value
    assert np.abs(np.array(value["outline_px"]) - SQUARE).max() <= 1.0  # a finger's place is a whole screen pixel
    assert value | {"outline_px": []} == {"kind": "chip", "outline_px": [], "holes_px": [], "confirmed": False,
                                          "joined": "straight"}


def test_what_is_given_on_is_what_the_survey_room_takes(sheet):
    sheet.open(plain())
    sheet.run("window.heard = []; for (const name of ['outline:changed', 'outline:confirmed']) "
              "document.addEventListener(name, (event) => heard.push([name, event.detail]))")
    for point in SQUARE:
        sheet.tap(point)
    sheet.do("confirm")

    heard = sheet.run("return heard")
    assert [name for name, _ in heard] == ["outline:changed"] * 4 + ["outline:confirmed"]
    clicks = read(Clicks, heard[-1][1])
    assert clicks.confirmed and len(clicks.outline_px) == 4
    assert sheet.run("editor.value = {...editor.value}; return editor.value.confirmed")
    sheet.tap((250, 380))
    assert not sheet.value["confirmed"]


def test_an_outline_that_crosses_itself_is_seen_at_once_and_cannot_be_confirmed(sheet):
    sheet.open(plain())
    sheet.run("window.heard = 0; document.addEventListener('outline:confirmed', () => { heard += 1; })")
    for point in BOW[:2]:
        sheet.tap(point)
    sheet.do("confirm")
    expect(sheet.status).to_have_text("It cannot be confirmed yet. At least 3 points are needed; 10 to 16 are good.")
    for point in BOW[2:]:
        sheet.tap(point)

    expect(sheet.page.locator("[data-faults]")).to_contain_text("crosses itself")
    expect(sheet.page.locator("[data-do=confirm]")).to_have_attribute("aria-disabled", "true")
    sheet.do("confirm")
    assert sheet.run("return heard") == 0 and not sheet.value["confirmed"]
    sheet.do("undo")
    expect(sheet.page.locator("[data-faults]")).to_be_hidden()
    sheet.do("confirm")
    assert sheet.run("return heard") == 1


def test_insert_mode_puts_a_point_into_the_nearest_edge(sheet):
    sheet.open(plain())
    for point in SQUARE:
        sheet.tap(point)
    sheet.do("insert")
    sheet.tap((250, 80))

    assert [round(x / 50) for x, _ in sheet.value["outline_px"]] == [3, 5, 7, 7, 3]


def test_points_are_deleted_undone_and_done_again_and_clearing_asks(sheet):
    sheet.open(plain())
    for point in SQUARE:
        sheet.tap(point)
    full = sheet.value["outline_px"]
    sheet.tap(SQUARE[1])  # a tap on a point chooses it
    sheet.do("delete")
    assert sheet.value["outline_px"] == [full[0], *full[2:]]
    sheet.do("undo")
    assert sheet.value["outline_px"] == full
    sheet.do("redo")
    assert len(sheet.value["outline_px"]) == 3
    sheet.page.locator("summary").click()
    sheet.do("clear")
    sheet.do("clear-no")
    assert len(sheet.value["outline_px"]) == 3
    sheet.do("clear")
    sheet.do("clear-yes")
    assert sheet.value["outline_px"] == []
    sheet.do("undo")
    assert len(sheet.value["outline_px"]) == 3


def test_islands_lie_inside_and_are_given_on_as_holes(sheet):
    sheet.open(plain())
    for point in SQUARE:
        sheet.tap(point)
    sheet.page.locator("summary").click()
    sheet.do("island")
    for point in [(200, 150), (260, 150), (230, 220)]:
        sheet.tap(point)
    assert len(sheet.value["holes_px"]) == 1 and len(read(Clicks, sheet.value).holes_px[0]) == 3
    expect(sheet.page.locator("[data-faults]")).to_be_hidden()
    sheet.tap((450, 200))  # out of the outline
    expect(sheet.page.locator("[data-faults]")).to_contain_text("Island 1")
    sheet.do("confirm")
    assert not sheet.value["confirmed"]


def test_a_crack_is_an_open_line_of_two_points_or_more(sheet):
    sheet.open(plain(), editor_kind="crack", editor_plane="[0.1,0,0,0,-0.1,0,0,0,1]")
    sheet.tap((100, 200))
    sheet.tap((400, 200))
    sheet.do("confirm")

    value = sheet.value
    assert value["confirmed"] and value["kind"] == "crack" and value["joined"] == "straight"
    assert read(Clicks, value).kind == "crack"
    expect(sheet.page.locator("[data-estimate]")).to_have_text("Estimate before measuring: length along the crack 30 mm.")
    sheet.run("editor.value = {...editor.value, band_mm: 5}")
    assert read(Clicks, sheet.value).band_mm == 5


def test_a_kept_value_comes_back_as_it_was(desk):
    desk.open(plain())
    kept = {"kind": "corrosion", "outline_px": [[10.3, 20.7], [200, 20], [100, 300.1]],
            "holes_px": [[[90, 60], [120, 60], [100, 90]]], "confirmed": True, "joined": "straight",
            "edge": "bottom", "by": "Tove Brandt"}
    desk.run("editor.value = given", kept)

    assert desk.value == kept
    for broken in (None, {}, {"outline_px": "x", "holes_px": 3}, {"outline_px": [[1, 2], ["a", 2], None]}):
        desk.run("editor.value = given", broken)
        assert not desk.value["confirmed"]


# ------------------------------------------------------------------ finger, mouse, magnifier
def touch(sheet, kind, *points):
    sheet.wire = getattr(sheet, "wire", None) or sheet.page.context.new_cdp_session(sheet.page)
    sheet.wire.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [
        {"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]})


@pytest.mark.release
def test_the_magnifier_is_never_under_the_finger_and_shows_the_very_pixel(phone):
    phone.open(plain())
    for place in [(5, 5), (595, 5), (300, 225), (5, 445), (595, 445)]:
        x, y = phone.at(place)
        touch(phone, "touchStart", (x, y))
        phone.page.wait_for_timeout(60)
        box = phone.page.locator("outline-editor canvas").bounding_box()
        loupe = phone.run("return editor.loupeBox")
        scale = phone.run("return editor.sight.scale")
        touch(phone, "touchCancel")

        assert math.dist((x - box["x"], y - box["y"]), (loupe["x"], loupe["y"])) > loupe["radius"] + 24
        assert loupe["target"] == pytest.approx(place, abs=1.0) and loupe["scale"] == pytest.approx(4 * scale)
    assert phone.value["outline_px"] == []


def test_a_still_finger_slides_under_the_magnifier_and_places_where_it_lifts(phone):
    phone.open(plain())
    x, y = phone.at((300, 200))
    touch(phone, "touchStart", (x, y))
    phone.page.wait_for_timeout(420)
    touch(phone, "touchMove", (x + 30, y + 10))
    touch(phone, "touchEnd")

    scale = phone.run("return editor.sight.scale")
    assert phone.value["outline_px"][0] == pytest.approx([300 + 30 / scale, 200 + 10 / scale], abs=1.0)


@pytest.mark.release
def test_two_fingers_make_the_photo_larger_and_leave_no_point(phone):
    phone.open(plain())
    before = phone.run("return editor.sight.scale")
    x, y = phone.at((300, 200))
    touch(phone, "touchStart", (x - 20, y))
    touch(phone, "touchStart", (x - 20, y), (x + 20, y))
    touch(phone, "touchMove", (x - 60, y), (x + 60, y))
    touch(phone, "touchEnd")

    assert phone.run("return editor.sight.scale") == pytest.approx(3 * before, rel=0.02)
    assert phone.at((300, 200)) == pytest.approx((x, y), abs=1.5)
    assert phone.value["outline_px"] == []


def test_a_dragged_point_moves_by_the_fingers_way_and_one_undo_takes_it_back(phone):
    phone.open(plain())
    for point in SQUARE:
        phone.tap(point)
    was = phone.value["outline_px"]
    x, y = phone.at(SQUARE[2])
    touch(phone, "touchStart", (x + 10, y + 10))
    for k in range(1, 6):
        touch(phone, "touchMove", (x + 10 + 8 * k, y + 10))
    touch(phone, "touchEnd")

    scale = phone.run("return editor.sight.scale")
    assert phone.value["outline_px"][2] == pytest.approx([was[2][0] + 40 / scale, was[2][1]], abs=0.2)
    phone.do("undo")
    assert phone.value["outline_px"] == was


def test_a_long_press_deletes_a_point(phone):
    phone.open(plain())
    for point in SQUARE:
        phone.tap(point)
    touch(phone, "touchStart", phone.at(SQUARE[0]))
    expect(phone.status).to_contain_text("Point 1 deleted. 3 points.")
    touch(phone, "touchEnd")
    assert len(phone.value["outline_px"]) == 3


@pytest.mark.release
def test_wheel_and_drag_move_the_photo_and_the_place_under_the_mouse_stays(desk):
    desk.open(plain())
    x, y = (round(c) for c in desk.at((200, 150)))  # a wheel tells whole pixels
    box = desk.page.locator("outline-editor canvas").bounding_box()
    place = desk.run("return editor.sight.toPhoto(given)", [x - box["x"], y - box["y"]])
    before = desk.run("return editor.sight.scale")
    desk.page.mouse.move(x, y)
    desk.page.mouse.wheel(0, -240)
    desk.page.wait_for_timeout(50)
    assert desk.run("return editor.sight.scale") == pytest.approx(before * math.exp(0.8))
    assert desk.at(place) == pytest.approx((x, y), abs=1e-6)
    desk.page.mouse.down()
    desk.page.mouse.move(x + 40, y + 25, steps=4)
    desk.page.mouse.up()
    assert desk.at(place) == pytest.approx((x + 40, y + 25), abs=1e-6)
    assert desk.value["outline_px"] == []


# ------------------------------------------------------------------ keys
def test_the_whole_outline_can_be_made_by_keys(desk):
    desk.open(plain())
    desk.look_at((300, 200), 2.0)
    desk.page.locator("[data-stage]").focus()
    press = desk.page.keyboard.press
    press("Enter")
    start = desk.run("const s = editor.sight; return s.toPhoto([s.width / 2, s.height / 2]).map(Math.round)")
    press("Enter")
    for _ in range(3):
        press("Shift+ArrowRight")
    press("Enter")
    press("Shift+ArrowDown")
    press("ArrowDown")
    press(" ")
    x, y = start
    assert desk.value["outline_px"] == [[x, y], [x + 30, y], [x + 30, y + 11]]
    expect(desk.status).to_have_text("Point 3 added. 3 points. The outline does not cross itself.")

    press("]")  # round to the first point
    expect(desk.status).to_contain_text("Point 1 of 3 chosen")
    press("Enter")
    press("ArrowLeft")
    press("Enter")
    assert desk.value["outline_px"][0] == [x - 1, y]
    press("Control+z")
    assert desk.value["outline_px"][0] == [x, y]
    press("Control+y")
    press("[")
    press("Delete")
    assert len(desk.value["outline_px"]) == 2
    assert desk.run("return editor.loupeBox !== null")


@pytest.mark.release
def test_tab_goes_through_the_points_and_then_on(desk):
    desk.open(plain())
    desk.run("editor.value = {outline_px: given}", SQUARE)
    desk.page.locator("[data-stage]").focus()
    desk.page.keyboard.press("]")
    for number in (2, 3, 4):
        desk.page.keyboard.press("Tab")
        expect(desk.status).to_contain_text(f"Point {number} of 4")
    desk.page.keyboard.press("Tab")

    expect(desk.page.locator("[data-do='zoom-out']")).to_be_focused()


# ------------------------------------------------------------------ pixels
@pytest.mark.parametrize("mark", [6, *(pytest.param(mark, marks=pytest.mark.release) for mark in (1, 2, 3, 4, 5, 7, 8))])
def test_pixels_are_those_of_the_upright_photo_as_the_survey_room_turns_it(desk, mark):
    from soundedge.survey.photo import decode

    picture = np.full((420, 600, 3), 128, np.uint8)
    picture[60:70, 100:110] = 255
    notes = Image.Exif()
    notes[0x0112] = mark
    raw = io.BytesIO()
    Image.fromarray(picture).save(raw, "JPEG", quality=95, exif=notes)
    photo = decode(raw.getvalue())
    y, x = (v.mean() for v in np.nonzero(photo.grey > 200))
    desk.open(raw.getvalue())

    assert desk.run("return editor.outline.size") == list(photo.size_px)
    # the spot is really drawn where the survey room sees it
    desk.page.wait_for_timeout(80)
    seen = desk.run("""const [x, y] = editor.sight.toScreen(given), c = editor.canvas, d = c.width / c.clientWidth;
        const data = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; let n = 0, sx = 0, sy = 0;
        for (let k = 0; k < data.length / 4; k++) if (data[4 * k] > 200) {
            n++; sx += k % c.width; sy += Math.floor(k / c.width); }
        return editor.sight.toPhoto([(sx / n + 0.5) / d, (sy / n + 0.5) / d]);""", [x, y])
    assert seen == pytest.approx([x, y], abs=0.2)


@pytest.mark.release
def test_taps_on_a_smaller_copy_are_pixels_of_the_original(desk):
    small = cv2.resize(cv2.imdecode(np.frombuffer(plain(), np.uint8), 1), (300, 225), interpolation=cv2.INTER_AREA)
    desk.open(render.photo_bytes(small), editor_width=600, editor_height=450)
    desk.look_at((200, 150), 8.0)
    desk.tap((200.5, 150.5))

    assert desk.value["outline_px"][0] == pytest.approx([200.5, 150.5], abs=0.1)


def test_a_picture_that_is_no_copy_of_the_photo_is_refused_in_words(desk):
    desk.served.files["/photo"] = (plain(), "image/jpeg")
    desk.served.files["/"] = (rendered(editor_src="/photo", editor_width=1000, editor_height=1000).encode(), TYPES[".html"])
    desk.page.goto(desk.served.root + "/")

    expect(desk.status).to_contain_text("no copy of this photo")


@pytest.mark.release
def test_fifty_megapixels_stay_quick(desk):
    x = np.arange(8160, dtype=np.uint8)[None].repeat(6120, 0)
    raw = cv2.imencode(".jpg", x, [cv2.IMWRITE_JPEG_QUALITY, 40])[1].tobytes()
    desk.open(raw)
    assert desk.run("return editor.outline.size") == [8160, 6120]
    drawn = desk.page.evaluate("""async () => {
        const e = document.querySelector('outline-editor'), sheet = e.querySelector('canvas'), out = [];
        const made = CanvasRenderingContext2D.prototype, whole = made.drawImage;
        made.drawImage = function (...given) { out.push(given[3] * given[4]); return whole.apply(this, given); };
        const frame = () => new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)));
        for (let i = 0; i < 20; i++) { e.sight.zoom(1.15, [300, 200]); e.draw(); await frame(); }
        made.drawImage = whole;
        return [Math.max(...out), out.length, sheet.width * sheet.height]; }""")
    most, frames, canvas = drawn
    assert frames >= 20 and 0 < most <= 4.2 * canvas  # from a copy of at most twice the width, only what falls on the sheet


# ------------------------------------------------------------------ the suggestion
def test_a_suggestion_is_shown_beside_and_taken_or_not(desk):
    ring = [[250 + 100 * math.cos(a), 200 + 100 * math.sin(a)] for a in np.linspace(0, 2 * np.pi, 90, endpoint=False)]
    desk.served.answer = {"offered": True, "because": "Compare it with your taps.", "outline_px": ring}
    desk.served.asked.clear()
    desk.open(plain(), editor_snap="/snap", csrf_token="tok", editor_joined="curve")
    for point in SQUARE:
        desk.tap(point)
    mine = desk.value
    desk.do("snap")
    expect(desk.page.locator("[data-suggestion]")).to_be_visible()
    assert desk.value == mine  # nothing is taken by itself
    desk.do("keep")
    assert desk.value == mine
    desk.do("snap")
    expect(desk.page.locator("[data-suggestion]")).to_be_visible()  # asked again: the answer has to come first
    desk.do("take")

    body, token = desk.served.asked[0]
    assert token == "tok" and body["outline_px"] == mine["outline_px"] and body["joined"] == "curve"
    assert len(desk.value["outline_px"]) == 90 and desk.value["joined"] == "straight" and not desk.value["confirmed"]
    assert read(Clicks, desk.value)
    desk.do("undo")
    assert desk.value == mine


@pytest.mark.release
def test_without_network_the_suggestion_is_said_to_be_unavailable(desk):
    desk.open(plain(), editor_snap="/snap")
    for point in SQUARE:
        desk.tap(point)
    desk.page.context.set_offline(True)
    desk.do("snap")

    expect(desk.status).to_contain_text("not available now")
    assert len(desk.value["outline_px"]) == 4
    desk.faults.clear()  # the browser notes the lost request


def test_a_refused_suggestion_gives_the_rooms_reason_in_its_language(desk):
    desk.served.answer = {"suggestion": {"offered": False, "because": "Inside and outside differ too little in colour."}}
    desk.open(plain(), editor_snap="/snap")
    for point in SQUARE:
        desk.tap(point)
    desk.do("snap")

    expect(desk.page.locator("[data-status] span[lang=en]")).to_contain_text("too little")


# ------------------------------------------------------------------ geometry
def geometry(sheet, call: str, given):
    return sheet.page.evaluate("async ([call, given]) => { const g = await import('/static/survey/geometry.js'); "
                               "const out = g[call](...given); return out === undefined ? null : out; }", [call, given])


def test_geometry_is_that_of_shapely_and_of_the_survey_room(desk):
    desk.open(plain())
    rng = np.random.default_rng(5)
    for _ in range(6):
        ring = render.blob(400, int(rng.integers(1e6)), points=24).tolist()
        assert geometry(desk, "area", [ring]) == pytest.approx(Polygon(ring).area, rel=1e-12)
        far = max(math.dist(a, b) for a in ring for b in ring)
        assert geometry(desk, "greatestLength", [ring]) == pytest.approx(far, rel=1e-12)
        assert geometry(desk, "crossings", [ring]) == []
        p = rng.uniform(-15, 15, 2).tolist()
        assert geometry(desk, "inside", [ring, p]) == Polygon(ring).contains(Point(p))
        edge = geometry(desk, "nearestEdge", [ring, p, True])
        assert edge["distance"] == pytest.approx(Polygon(ring).exterior.distance(Point(p)), rel=1e-9)
        curve = np.array(curve_through([tuple(q) for q in ring], 0.5))
        assert np.array(geometry(desk, "curveThrough", [ring, 0.5])) == pytest.approx(curve)
        line = LineString(ring)
        assert geometry(desk, "lineLength", [ring, False]) == pytest.approx(line.length, rel=1e-12)
    h = [0.18, 0.025, -161.9, 0.031, -0.178, 81.7, 0.00028, -0.00011, 1.0]
    matrix = np.array(h).reshape(3, 3)
    back = np.linalg.inv(matrix)
    assert np.array(geometry(desk, "inverse", [h])).reshape(3, 3) == pytest.approx(back / back[2, 2])
    x = matrix @ [700, 500, 1]
    assert geometry(desk, "through", [h, [700, 500]]) == pytest.approx(x[:2] / x[2])


def test_every_ring_is_valid_here_exactly_when_it_is_to_shapely(desk):
    desk.open(plain())
    rng = np.random.default_rng(8)
    # on a coarse lattice, so that rings touch themselves and fold back too
    rings = [rng.integers(0, 8, (int(n), 2)).tolist() for n in rng.integers(3, 8, 300)]
    rings = [r for r in rings if len({tuple(p) for p in r}) == len(r) and Polygon(r).area > 0]
    said = desk.page.evaluate("async (rings) => { const g = await import('/static/survey/geometry.js'); "
                              "return rings.map((r) => g.crossings(r).length === 0); }", rings)

    assert said == [Polygon(r).is_valid for r in rings]
    assert 20 < sum(said) < len(rings) - 20


# ------------------------------------------------------------------ a photo with a card
def found(data: bytes):
    return find_card(read(FindCardRequest, {"photo": "p", "find_card": True, "card": CARD}), {"p": data})


def test_taps_through_the_editor_measure_as_the_same_taps_typed_by_hand(sheet, tmp_path):
    from soundedge.services.survey import survey

    data, truth = scenes.photo(SCENE)
    typed = np.round(truth.outline_px[::60], 1).tolist()
    plane = found(data)
    sheet.open(data, editor_joined="curve", editor_plane=json.dumps(plane.plane_px_to_mm),
               editor_window=json.dumps(plane.window_px))
    sheet.look_at(np.mean(typed, axis=0), 1.0)
    for point in typed:
        sheet.tap(point)
    shown = sheet.run("return editor.outline.estimate()")
    sheet.do("confirm")
    tapped = sheet.value

    (tmp_path / "p.jpg").write_bytes(data)
    answers = [survey({"photo": "p.jpg", "card": CARD, "outline": outline}, base=tmp_path)
               for outline in (tapped, tapped | {"outline_px": typed})]
    assert np.abs(np.array(tapped["outline_px"]) - typed).max() <= 1.0
    assert not answers[0]["refused"] and answers[0]["confirmed"]
    assert answers[0]["area_mm2"] == pytest.approx(answers[1]["area_mm2"], rel=0.01)
    # the estimate is of the same taps: it differs from the measurement by the lens only
    assert shown["area_mm2"] == pytest.approx(answers[0]["area_mm2"], rel=0.002)
    assert shown["length_mm"] == pytest.approx(answers[0]["length_mm"], rel=0.002)


@pytest.mark.release
def test_close_up_the_taps_are_the_typed_ones_to_the_tenth(desk, tmp_path):
    from soundedge.services.survey import survey

    data, truth = scenes.photo(SCENE)
    typed = np.round(truth.outline_px[::60], 1).tolist()
    desk.open(data, editor_joined="curve")
    for point in typed:
        desk.look_at(point, 10.0)
        desk.tap(point)
    assert np.abs(np.array(desk.value["outline_px"]) - typed).max() <= 0.1 + 1e-9
    (tmp_path / "p.jpg").write_bytes(data)
    area = [survey({"photo": "p.jpg", "card": CARD, "outline": outline}, base=tmp_path)["area_mm2"]
            for outline in (desk.value, desk.value | {"outline_px": typed})]
    assert area[0] == pytest.approx(area[1], rel=0.0005)


# ------------------------------------------------------------------ everybody
def test_nothing_is_missing_for_those_who_cannot_see_or_touch(sheet):
    from axe_playwright_python.base import AXE_SCRIPT

    data, _ = scenes.photo(SCENE)
    sheet.open(data, editor_plane=json.dumps(found(data).plane_px_to_mm), editor_snap="/snap")
    sheet.page.locator("summary").click()
    for number, point in enumerate(BOW):
        sheet.tap((point[0] * 2, point[1] * 2))
        assert number < 4
    sheet.page.evaluate(AXE_SCRIPT)
    said = "violations.map((fault) => [fault.id, fault.nodes.map((node) => node.html)])"
    assert sheet.page.evaluate(f"async () => (await axe.run()).{said}") == []
    only = "{runOnly: ['color-contrast-enhanced'], rules: {'color-contrast-enhanced': {enabled: true}}}"  # 7:1
    assert sheet.page.evaluate(f"async () => (await axe.run({only})).{said}") == []
    small = sheet.run("""return [...editor.querySelectorAll('button')].filter((button) => button.offsetParent)
        .map((button) => button.getBoundingClientRect()).filter((box) => box.width < 48 || box.height < 48).length""")
    assert small == 0
    assert sheet.run("return document.documentElement.scrollWidth <= innerWidth")


def test_every_word_the_editor_asks_for_is_in_the_template(desk):
    import re

    scripts = [WEB / "static" / "survey" / name for name in ("outline-editor.js", "pointer.js")]
    code = "".join(script.read_text(encoding="utf-8") for script in scripts)
    page = rendered()
    held = set(re.findall(r'data-words="([\w-]+)"', page))
    asked = set(re.findall(r'(?:this|editor)\.#?(?:say|words|changed|sayRoom)\("([\w-]+)"', code))
    asked |= {f"no-{what}" for what in ("undo", "redo", "delete", "clear", "island", "ring", "snap")}

    assert asked - held == set() and len(asked) > 25
    assert re.search(r"style=", page) is None and "<script" not in page.replace('<script type="module" src=', "")
