"""Is what the bench did not take still there to be read, put right and written down again, with its photo and all its readings?"""

# ruff: noqa: E501
from __future__ import annotations

import pytest
from playwright.sync_api import expect

from .. import cover_day
from ..gate import Gate
from .test_offline import COVER, WORK, entries, network, no_network, panel, photograph, sign_in, unfold


@pytest.fixture(scope="module")
def shop(keys_for_module):
    return cover_day.shop_with_jobs({WORK: cover_day.half_way()})


@pytest.fixture
def gate(live):
    held = Gate(live)
    yield held
    held.stop()


@pytest.fixture
def tablet(hands, gate, shop):
    one = hands(gate).device(shop.token)
    one.meant.append("without network every fetch fails")
    sign_in(one, shop, "technician")
    return one


def bodies(shop, kind):
    from soundedge.services.desk.state import state

    return [one["body"] for one in state(shop.data, WORK).events if one["kind"] == kind]


def once(page, end, status, answer):
    """The bench answers the next request of this page to an address that ends so in these words ({id}: the entry's); then as it is."""
    page.evaluate("""([end, status, answer]) => { const ask = window.fetch; window.fetch = (address, how = {}) => {
        if (!String(address).endsWith(end)) return ask(address, how);
        window.fetch = ask;
        const sent = JSON.parse(how.body);
        const said = JSON.stringify(answer).replaceAll("{id}", sent.id || sent.entries[0].id);
        return Promise.resolve(new Response(said, { status, headers: { "Content-Type": status < 400 ? "application/json" : "application/problem+json" } })); }; }""",
                  [end, status, answer])


def values(page):
    if not page.locator("outbox-panel [data-panel][open]").count():
        page.locator("[data-panel] > summary").tap()
    return page.locator("outbox-panel [data-values]")


@pytest.mark.release
def test_a_heat_log_is_read_put_right_and_written_down_again(tablet, shop):
    before = bodies(shop, "heat.logged")
    page = tablet.go(f"/jobs/{WORK}/heat/")
    page.locator("heat-log [data-start]").tap()
    for reading, e in (("180", "0.95"), ("231", "9.5")):
        page.locator("heat-log details.when").evaluate("(one) => { one.open = true; }")
        page.locator("#log-e").fill(e)
        page.locator("#log-c").fill(reading)
        page.get_by_role("button", name="Now: keep this reading").tap()
        expect(page.locator("heat-log [data-rows] li").first).to_contain_text(reading)
    page.locator("heat-log [data-end]").tap()
    page.locator("heat-log [data-yes]").tap()
    expect(panel(page)).to_have_text("1 entry was not taken: look at it")
    assert bodies(shop, "heat.logged") == before

    page = tablet.go(f"/jobs/{WORK}/conditions/")
    for words in ("180", "231", "9.5"):
        expect(values(page)).to_contain_text(words)
    tablet.picture("not-taken-heat-log")
    page.get_by_role("link", name="Open the page where it is put right").tap()
    page.wait_for_url("**/heat/")
    expect(page.locator("heat-log [data-refused]")).to_contain_text("missivity")
    page.locator("heat-log [data-refused] button").tap()
    rows = page.locator("heat-log [data-rows] li")
    expect(rows).to_have_count(2)
    expect(page.locator("heat-log [data-start]")).to_be_hidden()
    page.reload()  # what is being put right is on this device too
    expect(rows).to_have_count(2)
    rows.first.get_by_role("button", name="Correct").tap()
    expect(page.locator("#log-c")).to_have_value("231")
    page.locator("heat-log details.when").evaluate("(one) => { one.open = true; }")
    page.locator("#log-e").fill("0,95")
    page.get_by_role("button", name="Now: keep this reading").tap()
    expect(rows.first).to_contain_text("0.95")
    expect(page.locator("#log-c")).to_be_hidden()
    tablet.picture("not-taken-heat-log-again")
    page.locator("heat-log [data-end]").tap()
    page.locator("heat-log [data-yes]").tap()
    expect(panel(page)).to_have_text("All sent")
    new = bodies(shop, "heat.logged")[len(before):]
    assert [[(float(row["reading_c"]), float(row["emissivity_set"])) for row in one["readings"]] for one in new] == [[(180, 0.95), (231, 0.95)]]


@pytest.mark.release
def test_a_long_heat_log_that_was_not_taken_is_told_by_its_ends_and_its_extremes(tablet, shop):
    before = len(bodies(shop, "heat.logged"))
    page = tablet.go(f"/jobs/{WORK}/heat/")
    page.evaluate("""job => import('/static/heat/draft.js').then(m => m.change_draft(job, () => ({ began_at: '2031-05-04T06:00:00Z',
        readings: [...Array(40).keys()].map(i => ({ time_s: 180 * i, reading_c: i === 7 ? 244 : i === 9 ? 31 : 150 + i, aimed_at: 'polymer', emissivity_set: 0.95 })) })))""", WORK)
    page.reload()
    expect(page.locator("heat-log [data-rows] li")).to_have_count(40)
    once(page, "/entries", 200, {"head": "0" * 64, "entries": [{"id": "{id}", "outcome": "refused",
                                 "error": {"message": "Not this way.", "field": "", "kind": "refused"}}]})
    page.locator("heat-log [data-end]").tap()
    page.locator("heat-log [data-yes]").tap()
    expect(panel(page)).to_have_text("1 entry was not taken: look at it")
    page.locator("[data-panel] > summary").tap()
    row = page.locator("outbox-panel li").filter(has_text="Not this way.")
    expect(row.locator("[data-values] dt")).to_have_text(["First reading", "Last reading", "Lowest reading", "Highest reading"])
    assert [[word for word in ("150", "189", "31", "244") if f" {word}\u00a0" in line] for line in row.locator("[data-values] dd").all_inner_texts()] == [["150"], ["189"], ["31"], ["244"]]
    row.get_by_text("All 40 lines").tap()
    expect(row.locator("[data-all] dd")).to_have_count(40)
    tablet.picture("not-taken-long-heat-log")
    row.get_by_role("button", name="Discard").tap()
    page.get_by_role("button", name="Discard it").tap()
    expect(panel(page)).to_have_text("All sent")
    assert len(bodies(shop, "heat.logged")) == before


@pytest.mark.slow
def test_a_damage_comes_back_with_its_photo_its_edge_and_its_words(tablet, gate, shop):
    before = len(bodies(shop, "damage.outlined"))
    page = tablet.go(f"/jobs/{WORK}/survey/")
    once(page, "/damage", 422, {"detail": "The place is not on this part.", "kind": "refused", "field": "x"})
    no_network(tablet, gate)
    photograph(page)
    network(tablet, gate)
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(panel(page)).to_have_text("1 entry was not taken: look at it")
    page.reload()
    said = page.locator("[data-says='photo']")
    expect(said).to_contain_text("The place is not on this part.")
    expect(values(page)).to_contain_text("as-found.jpg")
    expect(values(page)).to_contain_text("-90")
    page.locator("outbox-panel summary").tap()
    said.get_by_role("button").tap()
    expect(page.locator("[data-form] [name=y]")).to_have_value("-90")
    expect(page.locator("outline-editor [data-confirmed]")).not_to_be_empty()
    tablet.picture("not-taken-damage")
    page.locator("[data-form] [name=y]").fill("-85")
    page.locator("[data-form] button[type=submit]").tap()
    expect(page.locator("[data-says='kept']")).to_contain_text("Measured and stored in the record")
    new = bodies(shop, "damage.outlined")[before:]
    assert len(new) == 1
    ys = [float(y) for _, y in new[0]["outline_mm"]]
    assert min(ys) < -85 < max(ys) and (min(ys) + max(ys)) / 2 == pytest.approx(-85, abs=3)  # where it lies, put right
    expect(panel(page)).to_have_text("All sent")


@pytest.mark.release
def test_a_picture_keeps_its_photo_when_its_words_are_put_right(tablet, shop):
    page = tablet.go(f"/jobs/{WORK}/survey/")

    once(page, "/entries", 200, {"head": "0" * 64, "entries": [{"id": "{id}", "outcome": "refused",
                                 "error": {"message": "Say more.", "field": "caption", "kind": "refused"}}]})
    form = page.locator("entry-form[kind='picture.taken'] form")
    unfold(form)
    with page.expect_file_chooser() as chooser:
        form.locator("#show-photo").tap()
    chooser.value.set_files(COVER / "as-found.jpg")
    form.locator("#show-caption").fill("Cover")
    if form.locator("select[name='repair']").count():  # a test before this one outlined a second damage
        form.locator("select[name='repair']").select_option("A")
    form.locator("button[type=submit]").tap()
    expect(form.locator("output")).to_contain_text("Say more.")
    page.reload()
    expect(values(page)).to_contain_text("as-found.jpg")
    page.locator("outbox-panel [data-correct]").tap()
    expect(form.locator("output")).to_contain_text("Its photo stays")
    expect(form.locator("#show-caption")).to_have_value("Cover")
    form.locator("#show-caption").fill("The cover from above")
    form.locator("button[type=submit]").tap()
    expect(panel(page)).to_have_text("All sent")
    [one] = [body for body in bodies(shop, "picture.taken") if body["caption"] == "The cover from above"]
    assert len(one["sha256"]) == 64
    assert len({name for name, _, _ in entries(shop)}) == len(entries(shop))
