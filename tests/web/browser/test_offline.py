"""Is a job carried on without network, and stored once, in order, under the right name, when the network is back?"""

# ruff: noqa: E501
from __future__ import annotations

import json
import re

import pytest
from playwright.sync_api import expect

from soundedge.services.desk.enter import enter

from .. import cover_day
from ..gate import Gate
from ..installation import PASSWORDS, now
from .paper_bench import until
from .test_three_people import COVER

READY, WORK = "KBW-2036-011", "KBW-2036-012"


@pytest.fixture(scope="module")
def shop(keys_for_module):
    """A shop with one job in the middle of its repair, and one that waits for the release only."""
    acts = cover_day.steps()
    return cover_day.shop_with_jobs({WORK: cover_day.half_way(), READY: len(acts) - 1})


@pytest.fixture
def gate(live):
    held = Gate(live)
    yield held
    held.stop()


@pytest.fixture
def tablet(hands, gate, shop):
    """The enrolled device of the shop; nobody is signed in on it."""
    one = hands(gate).device(shop.token)
    one.meant.append("without network every fetch fails")
    return one


def entries(shop, job=WORK):
    """What stands in the record of a job: (id, kind, by, body), in its order."""
    from soundedge.services.desk.state import state

    return [(one["id"], one["kind"], one["by"]) for one in state(shop.data, job).events]


def own(shop, job=WORK):
    """Those that came from a browser."""
    return [one for one in entries(shop, job) if re.fullmatch(r".+-[0-9a-f]{6}-\d+", one[0])]


def sign_in(one, shop, role):
    one.sign_in(shop.login(role), PASSWORDS[role])


def sign_out(one):
    one.page.get_by_role("button", name="Sign out").tap()
    one.page.wait_for_url("**/sign-in/")


def visited(one, *steps):
    """Open these pages and let the device keep them."""
    for step in steps:
        one.go(f"/jobs/{WORK}/{step}/")
        until(one.page, "document.documentElement.dataset.offlineReady", "yes", 20)
        until(one.page, f"caches.open('soundedge-pages').then(c => c.match('/jobs/{WORK}/{step}/')).then(Boolean)", True, 20)


def unfold(target):
    folds = target.locator("xpath=ancestor::details[not(@open)]")
    for _ in range(folds.count()):
        folds.first.locator("> summary").tap()


def write(page, kind, **fields):
    form = page.locator(f"entry-form[kind='{kind}'] form").first
    unfold(form)
    for name, value in fields.items():
        field = form.locator(f"[name='{name}']")
        field.select_option(value) if field.evaluate("(one) => one.tagName") == "SELECT" else field.fill(str(value))
    form.locator("button[type=submit]").tap()
    return form.locator("output")


def panel(page):
    return page.locator("outbox-panel [data-line]")


def signing(page):
    """The form in which the release is signed; beside it stands the button that makes the page of the job."""
    return page.locator("deciding-form").filter(has=page.locator("#password-release"))


def no_network(one, gate):
    gate.shut()
    one.context.set_offline(True)


def network(one, gate):
    gate.open = True
    one.context.set_offline(False)


@pytest.mark.slow
def test_a_job_goes_on_without_network_and_waits_for_its_own_person(tablet, gate, shop):
    sign_in(tablet, shop, "technician")
    visited(tablet, "conditions", "buildup", "survey")
    page, before = tablet.page, len(entries(shop))
    page.goto(f"{gate.url}/jobs/{WORK}/conditions/")

    no_network(tablet, gate)
    for air in ("19,8", "20.1"):
        said = write(page, "air.read", air_c=air, rh_pct=51, steel_c="19.2", instrument="H2")
        expect(said).to_contain_text("Kept on this device")
    page.goto(f"{gate.url}/jobs/{WORK}/buildup/")
    expect(page.locator("#kept-copy")).to_contain_text("No network. This is the copy of")
    tablet.picture("offline-buildup")
    expect(write(page, "layer.fused", number=3, lot="P-311")).to_contain_text("Kept on this device")
    page.goto(f"{gate.url}/jobs/{WORK}/survey/")
    expect(page.locator("#kept-copy")).to_be_visible()
    photograph(page)
    page.reload()
    expect(page.locator("#kept-copy")).to_contain_text("No network. This is the copy of")
    expect(panel(page)).to_have_text("4 entries wait (kept on this device)")
    tablet.picture("offline-survey")
    assert len(entries(shop)) == before

    # his session ends while he is away; the next person signs in on the same device
    shop.accounts["technician"].sessions.all().delete()
    network(tablet, gate)
    sign_in(tablet, shop, "inspector")
    tablet.go(f"/jobs/{WORK}/conditions/")
    expect(panel(page)).to_have_text("All sent")
    page.locator("outbox-panel summary").tap()
    expect(page.locator("outbox-panel [data-others]")).to_contain_text("4 entries of Tove Brandt wait for the next sign-in of Tove Brandt")
    tablet.picture("offline-other-person")
    page.locator("outbox-panel summary").tap()
    expect(write(page, "air.read", air_c="20.4", rh_pct=50, steel_c="19.9", instrument="H2")).to_contain_text("Stored in the record")
    assert [by for _, _, by in own(shop)] == [shop.actor("inspector").person]
    sign_out(tablet)

    sign_in(tablet, shop, "technician")
    expect(panel(page)).to_have_text("All sent")
    until(page, "import('/static/outbox/outbox.js').then(m => m.outbox.count()).then(c => c.total)", 0, 60)
    his = [one for one in own(shop) if one[2] == shop.actor("technician").person]
    assert [kind for _, kind, _ in his] == ["air.read", "air.read", "layer.fused", "damage.outlined"]
    assert [int(name.rsplit("-", 1)[1]) for name, _, _ in sorted(own(shop), key=lambda one: int(one[0].rsplit("-", 1)[1]))] == [1, 2, 3, 4, 5]
    numbers = [int(name.rsplit("-", 1)[1]) for name, _, _ in his]
    assert numbers == sorted(numbers) and len(set(numbers)) == 4
    tablet.go(f"/jobs/{WORK}/survey/")
    expect(page.locator(".damages")).to_contain_text("measured on a photo")


def photograph(page):
    """A photo and its outline, without network."""
    with page.expect_file_chooser() as chooser:
        page.get_by_text("Choose a photo").tap()
    chooser.value.set_files(COVER / "as-found.jpg")
    expect(page.locator("[data-says='photo']")).to_contain_text("The photo stays on this device")
    for name, value in (("bar_x_mm", "100"), ("bar_y_mm", "100"), ("thickness_mm", "0.5")):
        field = page.locator(f"[data-card-field='{name}']")
        unfold(field)
        field.fill(value)
    taps = json.loads((COVER / "as-found.clicks.json").read_text())["outline_px"]
    page.locator("outline-editor canvas").evaluate("(canvas) => canvas.scrollIntoView({block: 'center'})")
    page.evaluate("""() => { const { sight, ...editor } = { sight: document.querySelector("outline-editor").sight }; sight.zoom(5); return editor; }""")
    page.evaluate("""() => { const editor = document.querySelector("outline-editor"); editor.sight.centre([1205, 895]); editor.draw(); }""")
    for tap in taps:
        x, y = page.evaluate("(point) => document.querySelector('outline-editor').sight.toScreen(point)", tap)
        box = page.locator("outline-editor canvas").bounding_box()
        page.touchscreen.tap(box["x"] + x, box["y"] + y)
    page.get_by_role("button", name="This is the edge").tap()
    expect(page.locator("[data-says='edge']")).to_contain_text("measured when it is sent")
    form = page.locator("[data-form]")
    form.locator("label.choice:has([name='damage'][value='B'])").tap()
    form.locator("label.choice:has([value='as_found'])").tap()
    form.locator("[name=x]").fill("100")
    form.locator("[name=y]").fill("-90")
    form.locator("button[type=submit]").tap()
    expect(page.locator("[data-says='kept']")).to_contain_text("Kept on this device")


@pytest.mark.release
def test_a_job_of_which_only_its_own_page_was_opened_is_worked_without_network_in_every_step(tablet, gate, shop):
    sign_in(tablet, shop, "technician")
    page = tablet.go(f"/jobs/{WORK}/")
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    tablet.picture("offline-ready")
    before = own(shop)

    no_network(tablet, gate)

    def step(name, kind="", **fields):
        page.goto(f"{gate.url}/jobs/{WORK}/{name}/")
        expect(page.locator("#kept-copy")).to_contain_text("No network. This is the copy of")
        if kind:
            expect(write(page, kind, **fields)).to_contain_text("Kept on this device")

    page.reload()
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    step("survey")
    photograph(page)
    step("disposition")
    step("hazards", "vapour.read", lel_pct=2)
    step("conditions", "air.read", air_c="19,8", rh_pct=51, steel_c="19.2", instrument="H2")
    step("buildup", "layer.fused", number=3, lot="P-311")
    step("heat")
    page.locator("heat-log [data-start]").tap()
    page.locator("#log-c").fill("180")
    page.get_by_role("button", name="Now: keep this reading").tap()
    page.locator("heat-log [data-end]").tap()
    page.locator("heat-log [data-yes]").tap()
    expect(page.locator("heat-log [data-advice]")).to_contain_text("The log is written down")
    step("thickness", "film.cooled", film_c=30)
    for key in "900":
        page.locator(f"reading-pad [data-key='{key}']").tap()
    page.locator("reading-pad [data-key='enter']").tap()
    page.locator("reading-pad [data-do='complete']").first.tap()
    expect(page.locator("reading-pad [data-end]")).to_contain_text("1")
    step("instruments", "gauge.checked", instrument="G7", reference_um=1000, reading_um=1001)
    step("typed")
    page.locator("[data-card-at]").fill(page.evaluate("new Date(Date.now() - new Date().getTimezoneOffset() * 60000).toISOString().slice(0, 16)"))
    expect(write(page, "surface.prepared", method="Ground back and blasted")).to_contain_text("Kept on this device")
    for name in ("holiday", "hold_points", "release", "history"):
        step(name)
    expect(panel(page)).to_have_text("9 entries wait (kept on this device)")
    assert own(shop) == before

    network(tablet, gate)
    page.evaluate("dispatchEvent(new Event('online'))")
    until(page, "import('/static/outbox/outbox.js').then(m => m.outbox.count()).then(c => c.waiting)", 0, 60)
    kinds = [kind for _, kind, _ in own(shop)][len(before):]
    assert kinds == ["damage.outlined", "vapour.read", "air.read", "layer.fused", "heat.logged", "film.cooled", "film.measured",
                     "gauge.checked", "surface.prepared"]


@pytest.mark.slow
def test_pages_of_a_session_that_has_ended_are_not_shown_to_who_comes_next(tablet, gate, shop):
    sign_in(tablet, shop, "technician")
    page = tablet.go(f"/jobs/{WORK}/")
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    shop.accounts["technician"].sessions.all().delete()

    page.goto(f"{gate.url}/jobs/{WORK}/conditions/")
    page.wait_for_url("**/sign-in/**")
    until(page, f"caches.match('/jobs/{WORK}/').then(Boolean)", False, 20)
    no_network(tablet, gate)

    page.goto(f"{gate.url}/jobs/{WORK}/conditions/")
    expect(page.locator("h1")).to_have_text("No network")
    assert WORK not in page.content()


@pytest.mark.release
def test_a_board_left_open_says_when_it_is_told_nothing_more(tablet, shop):
    sign_in(tablet, shop, "technician")
    page = tablet.go("/")
    until(page, "document.querySelector('live-board').source.readyState", 1, 20)
    shop.accounts["technician"].sessions.all().delete()
    said = {"id": "d1-abcdef-1", "kind": "air.read", "at": now().isoformat(),
            "body": {"air_c": 20, "rh_pct": 50, "steel_c": 19, "instrument": "H2"}}
    assert enter(shop.data, shop.actor("inspector"), WORK, [said], now=now())[0]["outcome"] == "stored"
    expect(page.locator("live-board p")).to_have_text("This page is told nothing new any more. Load it again.")
    tablet.picture("board-told-no-more")


@pytest.mark.slow
def test_a_release_without_network_is_refused_in_one_sentence(tablet, gate, shop):
    sign_in(tablet, shop, "inspector")
    page = tablet.go(f"/jobs/{READY}/release/")
    form = signing(page)
    unfold(form)
    no_network(tablet, gate)
    form.locator("#password-release").fill(PASSWORDS["inspector"])
    form.get_by_role("button", name="Sign").tap()
    expect(form.locator("output")).to_contain_text("You can record without network; you can't release without network.")
    expect(form.locator("#password-release")).to_have_value("")
    network(tablet, gate)
    page.reload()
    expect(panel(page)).to_have_text("All sent")
    assert [kind for _, kind, _ in entries(shop, READY)].count("release.signed") == 0
    kept = page.evaluate("""async () => { const all = []; for (const name of await caches.keys()) for (const one of await (await caches.open(name)).keys())
        all.push(await (await (await caches.open(name)).match(one)).text()); return [all.join(""), JSON.stringify({...localStorage, ...sessionStorage})].join(""); }""")
    assert PASSWORDS["inspector"] not in kept


@pytest.mark.release
def test_a_signature_on_a_page_that_others_have_overtaken_shows_what_they_added(hands, tablet, live, gate, shop):
    sign_in(tablet, shop, "inspector")
    page = tablet.go(f"/jobs/{READY}/release/")
    other = hands(live).cookies_of(shop.client("technician"))
    other.go(f"/jobs/{READY}/conditions/")
    expect(write(other.page, "air.read", air_c=21, rh_pct=50, steel_c="20.2", instrument="H2")).to_contain_text("Stored")
    form = signing(page)
    unfold(form)
    form.locator("#password-release").fill(PASSWORDS["inspector"])
    form.get_by_role("button", name="Sign").tap()
    expect(form.locator("output")).to_contain_text("the job has moved on since this page was made")
    expect(form.locator("output li")).to_contain_text("Air and steel read")
    expect(form.locator("output li")).to_contain_text(shop.actor("technician").person)
    tablet.picture("offline-overtaken")
    assert [kind for _, kind, _ in entries(shop, READY)].count("release.signed") == 0
    with page.expect_navigation():
        form.get_by_role("button", name="Load the page and look again").tap()
    expect(signing(page)).to_have_count(1)
    form = signing(page)
    unfold(form)
    form.locator("#password-release").fill(PASSWORDS["inspector"])
    form.get_by_role("button", name="Sign").tap()
    expect(signing(page)).to_have_count(0)  # its certificate is made at once
    assert entries(shop, READY)[-1][1] in ("release.signed", "repair.released", "job.judged")


@pytest.mark.slow
def test_an_entry_that_cannot_be_is_shown_and_corrected_in_its_own_place(tablet, shop):
    sign_in(tablet, shop, "technician")
    page = tablet.go(f"/jobs/{WORK}/conditions/")
    before = own(shop)
    said = write(page, "air.read", air_c=20, rh_pct=150, steel_c=19, instrument="H2")
    expect(said).to_contain_text("The bench did not take it")
    expect(said).to_contain_text("humidity")
    expect(panel(page)).to_have_text("1 entry was not taken: look at it")
    tablet.picture("offline-refused")
    page.reload()
    page.locator("outbox-panel summary").tap()
    page.locator("outbox-panel [data-correct]").tap()
    form = page.locator("entry-form[kind='air.read'] form").first
    expect(form.locator("[name=rh_pct]")).to_have_value("150")
    form.locator("[name=rh_pct]").fill("50")
    form.locator("button[type=submit]").tap()
    expect(form.locator("output")).to_contain_text("Stored in the record")
    expect(panel(page)).to_have_text("All sent")
    new = [one for one in own(shop) if one not in before]
    assert len(new) == 1
    assert tablet.go(f"/jobs/{WORK}/").get_by_text("is missing").count() == 0


@pytest.mark.release
def test_two_pages_of_one_device_give_every_entry_a_number_of_its_own(tablet, gate, shop):
    sign_in(tablet, shop, "technician")
    first = tablet.go(f"/jobs/{WORK}/conditions/")
    before = own(shop)
    second = tablet.context.new_page()
    second.goto(f"{gate.url}/jobs/{WORK}/conditions/")
    no_network(tablet, gate)
    for n in range(3):
        for page in (first, second):
            expect(write(page, "air.read", air_c=20 + n / 10, rh_pct=50, steel_c=19, instrument="H2")).to_contain_text("Kept on this device")
    for page in (first, second):
        expect(panel(page)).to_have_text("6 entries wait (kept on this device)")
    network(tablet, gate)
    for page in (first, second):
        page.evaluate("dispatchEvent(new Event('online'))")
    for page in (first, second):
        expect(panel(page)).to_have_text("All sent")
    new = [one for one in own(shop) if one not in before]
    assert len(new) == 6 and len({name for name, _, _ in new}) == 6
