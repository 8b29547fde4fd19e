"""Is what is written down with gloves and no network stored once, in order, under the right name, whatever fails?"""

# ruff: noqa: E501  (pages and scripts stand here as they are)
from __future__ import annotations

import json
import random
import threading

import pytest
from playwright.sync_api import expect

from .paper_bench import FLUSH, JOB, PUT, WAITING, PaperBench, until
from .tablet import PATIENCE_MS


@pytest.fixture
def bench():
    held = PaperBench()
    yield held
    held.stop()


@pytest.fixture
def tablet(browser):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    context.set_default_timeout(PATIENCE_MS)
    yield context
    context.close()


def opened(tablet, bench, path=f"/jobs/{JOB}/"):
    page = tablet.new_page()
    page.goto(bench.at + path)
    expect(page.locator("outbox-panel summary")).to_be_visible()
    return page


def write(page, air):
    page.locator("#air").fill(air)
    page.get_by_role("button", name="Write it down").click()


def put(page, air_c, job=JOB):
    return page.evaluate(PUT, {"job": job, "air_c": air_c})


def test_three_readings_without_network_survive_a_reload_and_are_stored_once_in_order(tablet, bench):
    page = opened(tablet, bench)
    until(page, "document.documentElement.dataset.offlineReady", "yes")
    until(page, f"caches.open('soundedge-pages').then(c => c.match('/jobs/{JOB}/')).then(Boolean)")
    bench.dead = True
    tablet.set_offline(True)
    for air in ("19,8", "20.1", "20.4"):
        write(page, air)
        expect(page.locator("entry-form output")).to_contain_text("Kept on this device")
        expect(page.locator("#air")).to_have_value("")
    page.reload()
    expect(page.locator("#kept-copy")).to_contain_text("No network. This is the copy of")
    expect(page.locator("[data-line]")).to_have_text("3 entries wait (kept on this device)")
    other = tablet.new_page()
    other.goto(bench.at + "/people/")
    expect(other.get_by_role("heading", name="No network")).to_be_visible()
    expect(other.locator("outbox-panel [data-others]")).to_contain_text("3 entries of Ines wait", use_inner_text=False)
    other.close()
    bench.dead = False
    tablet.set_offline(False)
    page.evaluate("dispatchEvent(new Event('online'))")
    until(page, WAITING, 0)
    expect(page.locator("[data-line]")).to_have_text("All sent")
    assert [one.rsplit("-", 1)[1] for one in bench.order] == ["1", "2", "3"]
    assert [one["body"] for one in bench.stored.values()] == [{"air_c": 19.8}, {"air_c": 20.1}, {"air_c": 20.4}]
    assert bench.order[0].startswith("tablet-2-") and len(bench.order[0].split("-")[2]) == 6


def test_what_was_said_of_one_entry_is_not_said_of_the_next_that_is_not_kept_yet(tablet, bench):
    page = opened(tablet, bench)
    write(page, "19.8")
    expect(page.locator("entry-form output")).to_contain_text("Stored in the record")

    page.evaluate("() => document.addEventListener('before-entry', (event) => event.detail.wait(new Promise((go) => { window.go_on = go; })))")
    write(page, "20.1")
    expect(page.locator("entry-form output")).to_be_empty()
    page.wait_for_timeout(300)
    expect(page.locator("entry-form output")).to_be_empty()
    page.evaluate("() => window.go_on()")
    expect(page.locator("entry-form output")).to_contain_text("Stored in the record")
    assert len(bench.stored) == 2


NAV = """<nav class="path" data-head="{head}" data-also="/jobs/{job}/typed/"><a href="/jobs/{job}/">{job}</a>
<a href="/jobs/{job}/heat/">heat</a></nav><p data-job-kept role="status" hidden></p><script type="module" src="/static/heat/heat-log.js"></script>"""
KEPT = "caches.open('soundedge-pages').then(c => c.keys()).then(all => all.map(one => new URL(one.url).pathname).filter(one => one.startsWith('/jobs/')).sort().join(' '))"
KEEP = """job => navigator.serviceWorker.ready.then(held => new Promise((go) => {
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = ({ data }) => go(data.ready);
  held.active.postMessage({ job }, [port2]); }))"""


def with_paths(bench):
    """Each job's pages name the job's other pages, as they do at the bench."""
    answer = bench.answer

    def by_job(handler, method, path, raw):
        bench.body = NAV.format(job=path.split("/")[2], head="9f") if path.startswith("/jobs/") else ""
        return answer(handler, method, path, raw)

    bench.answer = by_job


@pytest.mark.release
def test_all_pages_of_the_jobs_last_visited_are_kept_and_the_oldest_job_goes(tablet, bench):
    with_paths(bench)
    page = tablet.new_page()
    for n in range(1, 10):
        page.goto(f"{bench.at}/jobs/J{n}/")
        expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    until(page, KEPT, " ".join(f"/jobs/J{n}/{step}" for n in range(2, 10) for step in ("", "heat/", "typed/")))
    asked = []
    bench.fault = lambda method, path, n: asked.append(path)
    page.reload()  # what was kept a moment ago is not fetched again
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    assert [path for path in asked if path.startswith("/jobs/")] == ["/jobs/J9/"]
    bench.dead = True
    tablet.set_offline(True)
    page.goto(f"{bench.at}/jobs/J4/heat/?gun=2#log")
    expect(page.locator("#kept-copy")).to_contain_text("No network. This is the copy of")
    until(page, "Boolean(customElements.get('heat-log'))")


def test_a_job_is_not_called_ready_while_a_page_or_a_file_of_it_is_missing(tablet, bench):
    with_paths(bench)
    bench.fault = lambda method, path, n: 500 if path.endswith("/heat/draft.js") else None
    page = tablet.new_page()
    page.goto(f"{bench.at}/jobs/A/")
    expect(page.locator("[data-job-kept]")).to_contain_text("Not all pages of this job are on this device yet")
    bench.fault = lambda method, path, n: "drop" if path.endswith("/typed/") else None
    page.goto(f"{bench.at}/jobs/B/")
    expect(page.locator("[data-job-kept]")).to_contain_text("Not all pages of this job are on this device yet")
    bench.fault = lambda *_: None
    page.reload()
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")


def test_pages_fetched_for_one_person_are_not_kept_when_somebody_else_is_signed_in(tablet, bench):
    with_paths(bench)
    page = tablet.new_page()
    page.goto(f"{bench.at}/jobs/A/")
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    bench.person, bench.name, bench.token = "tom", "Tom", "t2"
    asked = {"pages": ["/jobs/B/", "/jobs/B/heat/"], "head": "9f", "owner": "kelderbeck/ines"}
    assert page.evaluate(KEEP, asked) is False
    assert page.evaluate(KEEP, asked | {"owner": "kelderbeck/tom"}) is False  # Tom has no page of his own here yet
    until(page, KEPT, "/jobs/A/ /jobs/A/heat/ /jobs/A/typed/")
    for other in ("https://elsewhere.example/jobs/A/", "/people/", "/jobs/B/heat/card.pdf", "/jobs/A/survey/x.jpg"):
        assert page.evaluate(KEEP, asked | {"pages": ["/jobs/A/", other], "owner": "kelderbeck/ines"}) is False
    page.goto(f"{bench.at}/jobs/B/")
    expect(page.locator("[data-job-kept]")).to_contain_text("it can be worked without network")
    until(page, KEPT, "/jobs/B/ /jobs/B/heat/ /jobs/B/typed/")


def test_lost_replies_give_exactly_one(tablet, bench):
    page = opened(tablet, bench)
    left = [2]

    def lose(method, path, n):
        if path.endswith("/entries") and left[0]:
            left[0] -= 1
            return "lose"

    bench.fault = lose
    put(page, 21)
    until(page, WAITING, 0)
    assert len(bench.order) == 1 and sum(path.endswith("/entries") for path, _ in bench.posts) >= 2


def test_two_open_pages_never_take_the_same_number_nor_send_twice(tablet, bench):
    first, second = opened(tablet, bench), opened(tablet, bench)
    many = """n => import('/static/outbox/outbox.js').then(m => Promise.all([...Array(12).keys()].map(
      i => m.outbox.put({job: 'J', kind: 'air.read', body: {air_c: n + i}})))).then(all => all.map(i => i.id))"""
    bench.dead = True
    first.evaluate("n => { globalThis.held = (" + many + ")(n); }", 0)
    ids = second.evaluate(many, 100) + first.evaluate("globalThis.held")
    assert sorted(int(one.rsplit("-", 1)[1]) for one in ids) == list(range(1, 25))
    bench.dead = False
    for page in (first, second):
        page.evaluate(FLUSH)
    until(first, WAITING, 0)
    assert len(bench.order) == 24
    sent = [one["id"] for path, raw in bench.posts if path.endswith("/entries") for one in json.loads(raw)["entries"]]
    assert len(sent) == 24


def test_numbers_have_no_gap_in_each_job(tablet, bench):
    page = opened(tablet, bench)
    ids = [put(page, 20, job) for job in ("A", "B", "A", "B", "A")]
    assert [one.rsplit("-", 1)[1] for one in ids] == ["1", "1", "2", "2", "3"]
    until(page, WAITING, 0)
    assert len(bench.stored) == 5


def test_another_persons_entries_stay_until_she_is_back(tablet, bench):
    page = opened(tablet, bench)
    bench.fault = lambda method, path, n: "drop" if path.startswith("/api/") else None
    for air in (19, 20, 21):
        put(page, air)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Signed out")).to_be_visible()
    bench.fault = lambda *_: None
    bench.person, bench.name, bench.token = "tom", "Tom", "t2"
    page.goto(f"{bench.at}/jobs/{JOB}/")
    put(page, 30)
    until(page, WAITING, 0)
    page.locator("outbox-panel summary").click()
    expect(page.locator("[data-others]")).to_have_text("3 entries of Ines wait for the next sign-in of Ines")
    assert set(bench.by.values()) == {"tom"} and len(bench.order) == 1
    bench.person, bench.name, bench.token = "ines", "Ines", "t3"
    page.goto(f"{bench.at}/jobs/{JOB}/")
    until(page, WAITING, 0)
    assert sorted(bench.by.values()) == ["ines", "ines", "ines", "tom"]


def test_a_page_left_open_does_not_send_under_the_next_persons_name(tablet, bench):
    page = opened(tablet, bench)
    bench.person, bench.name, bench.token = "tom", "Tom", "t2"
    put(page, 19)
    page.evaluate(FLUSH)
    expect(page.locator("outbox-panel [data-why]")).to_contain_text("The session has ended", use_inner_text=False)
    assert bench.order == []
    bench.person, bench.token = "ines", "t3"  # she signs in again elsewhere: this page's token is an old one
    page.evaluate(FLUSH)
    until(page, WAITING, 0)
    assert list(bench.by.values()) == ["ines"]


def test_sign_out_wipes_the_pages_and_keeps_the_outbox(tablet, bench):
    page = opened(tablet, bench)
    until(page, f"caches.open('soundedge-pages').then(c => c.match('/jobs/{JOB}/')).then(Boolean)")
    bench.fault = lambda method, path, n: "drop" if path.startswith("/api/") else None
    put(page, 19)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Signed out")).to_be_visible()
    until(page, f"caches.match('/jobs/{JOB}/').then(Boolean)", False)
    page.goto(f"{bench.at}/offline/")
    expect(page.locator("[data-others]")).to_contain_text("1 entry of Ines waits", use_inner_text=False)


def test_a_page_that_comes_after_its_person_has_signed_out_is_not_kept(tablet, bench):
    page = opened(tablet, bench)
    until(page, "document.documentElement.dataset.offlineReady", "yes")  # until then a page comes past the worker
    other = opened(tablet, bench)
    asked, let_go = threading.Event(), threading.Event()

    def fault(method, path, n):
        if path == "/jobs/LATE/":
            asked.set()
            return let_go

    bench.fault = fault
    other.evaluate("setTimeout(() => { location.href = '/jobs/LATE/' })")
    assert asked.wait(30)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Signed out")).to_be_visible()
    let_go.set()
    other.wait_for_url("**/jobs/LATE/", wait_until="load")
    other.wait_for_timeout(500)
    assert not page.evaluate("caches.match('/jobs/LATE/').then(Boolean)")


def test_an_ended_session_keeps_and_says_so(tablet, bench):
    page = opened(tablet, bench)
    bench.fault = lambda method, path, n: 401 if path == "/api/v1/me" else None
    put(page, 19)
    page.locator("outbox-panel summary").click()
    expect(page.locator("[data-why]")).to_have_text("The session has ended. Sign in again; what waits here stays.")
    bench.fault = lambda *_: None
    page.get_by_role("button", name="Send now").click()
    until(page, WAITING, 0)


def test_refused_and_conflicting_entries_are_shown_with_the_sentence_and_do_not_hold_up_the_others(tablet, bench):
    bench.answers = {"180": ("refused", "Air is 180 °C; it must be at most 60 °C. Read it again."),
                     "7": ("conflict", "Another entry has this id.")}
    page = opened(tablet, bench)
    for air in ("180", "7", "20"):
        write(page, air)
    expect(page.locator("entry-form output")).to_contain_text("Stored in the record")
    until(page, "document.querySelector('[data-line]').textContent", "2 entries were not taken: look at them")
    assert [one["body"]["air_c"] for one in bench.stored.values()] == [20]
    expect(page.locator("[data-line]")).to_have_text("2 entries were not taken: look at them")
    page.locator("outbox-panel summary").click()
    expect(page.locator("outbox-panel li")).to_have_count(2)
    expect(page.locator("outbox-panel li").nth(0)).to_contain_text("Another entry has this id.")
    expect(page.locator("outbox-panel li").nth(1)).to_contain_text("it must be at most 60 °C")
    page.locator("outbox-panel li").nth(1).get_by_role("button", name="Correct").click()
    expect(page.locator("#air")).to_have_value("180")
    write(page, "18.0")
    until(page, WAITING, 1)
    assert sorted(one.rsplit("-", 1)[1] for one in bench.order) == ["1", "3"]  # its number was used again: no gap
    page.locator("outbox-panel summary").click()
    expect(page.locator("outbox-panel li")).to_have_count(1)
    page.get_by_role("button", name="Discard").click()
    page.get_by_role("button", name="Keep it").click()
    until(page, WAITING, 1)
    page.get_by_role("button", name="Discard").click()
    page.get_by_role("button", name="Discard it").click()
    until(page, WAITING, 0)


def test_beside_an_entry_whose_number_is_taken_stands_what_the_record_has_under_it(tablet, bench):
    bench.answers = {"7": ("conflict", "Another entry has this id.")}
    page = opened(tablet, bench)
    name = put(page, 7)
    events = [{"id": "other", "kind": "air.read", "by": "tom", "at": "2031-05-04T08:00:00Z", "body": {"air_c": "99"}},
              {"id": name, "kind": "air.read", "by": "tom", "at": "2031-05-04T09:00:00Z", "body": {"air_c": "18.5", "note": "<b>at the edge</b>"}}]
    answer = bench.answer
    bench.answer = lambda handler, method, path, raw: (
        (200, {"events": events}) if path == f"/api/v1/jobs/{JOB}/record.json" else answer(handler, method, path, raw))
    until(page, "document.querySelector('[data-line]').textContent", "1 entry was not taken: look at it")
    bench.fault = lambda method, path, n: 500 if path.endswith("/record.json") else None
    page.locator("[data-panel] > summary").click()
    row = page.locator("outbox-panel li")
    expect(row.locator("[data-values]")).to_contain_text("air c7")
    expect(row.locator("[data-stored]")).to_be_hidden()
    page.locator("[data-panel] > summary").click()
    bench.fault = lambda *_: None
    page.locator("[data-panel] > summary").click()  # asked again the next time he looks
    expect(row.locator("[data-stored]")).to_contain_text("In the record under this number, by tom,")
    expect(row.locator("[data-stored]")).to_contain_text("air c18.5note<b>at the edge</b>")
    expect(row.locator("[data-stored]")).not_to_contain_text("99")
    expect(row.locator("[data-values]")).to_contain_text("air c7")


def test_a_long_entry_is_told_in_short_and_all_of_it_lies_in_a_fold_that_stays_open(tablet, bench):
    page = opened(tablet, bench)
    bench.fault = lambda method, path, n: "drop" if path.startswith("/api/") else None
    page.evaluate("""job => import('/static/outbox/outbox.js').then(m => m.outbox.put({ job, kind: 'heat.logged', body: { readings: [] },
        lines: [...Array(200).keys()].map(i => [String(i + 1), `${i}:00: ${100 + i} °C`]), brief: [['First', '0:00: 100 °C'], ['Hottest', '199:00: 299 °C']] }))""", JOB)
    page.evaluate("""job => import('/static/outbox/outbox.js').then(m => m.outbox.put({ job, kind: 'film.measured', body: {
        spots: [...Array(40).keys()].map(i => ({ id: `S${i + 1}`, readings_um: [1500 + i] })) } }))""", JOB)
    page.locator("[data-panel] > summary").click()
    rows = page.locator("outbox-panel li")
    heat, film = rows.nth(0), rows.nth(1)
    expect(heat.locator("[data-values]")).to_have_text("First0:00: 100 °CHottest199:00: 299 °C")
    expect(heat.locator("[data-all] dt")).to_have_count(200)
    expect(heat.locator("[data-all] dl")).to_be_hidden()
    expect(heat.get_by_text("All 200 lines")).to_be_visible()
    expect(film.locator("[data-values] dt")).to_have_count(4)
    expect(film.get_by_text("All 80 lines")).to_be_visible()
    heat.get_by_text("All 200 lines").click()
    put(page, 21)
    expect(rows).to_have_count(3)
    expect(heat.locator("[data-all] dl")).to_be_visible()
    expect(rows.nth(2).locator("[data-all]")).to_have_count(0)


def test_the_photo_of_an_entry_that_waits_is_shown_when_it_is_asked_for(tablet, bench):
    page = opened(tablet, bench)
    bench.fault = lambda method, path, n: "drop" if path.startswith("/api/") else None
    page.evaluate("""job => new Promise((go) => { const sheet = document.createElement('canvas'); sheet.width = 40; sheet.height = 30; sheet.toBlob(go); })
        .then(photo => import('/static/outbox/outbox.js').then(m => m.outbox.put({ job, kind: 'picture.taken', body: { file: 'a.png', caption: 'edge' }, photo })))""", JOB)
    put(page, 21)
    page.locator("[data-panel] > summary").click()
    rows = page.locator("outbox-panel li")
    expect(rows.nth(1).get_by_role("button", name="Show the photo")).to_have_count(0)
    expect(rows.nth(0).locator("img")).to_have_count(0)
    rows.nth(0).get_by_role("button", name="Show the photo").click()
    expect(rows.nth(0).locator("img")).to_have_js_property("naturalWidth", 40)
    put(page, 22)  # the list is drawn anew, and sending is tried
    expect(rows).to_have_count(3)
    page.evaluate(FLUSH)
    expect(rows.nth(0).locator("img")).to_have_js_property("naturalWidth", 40)


def test_a_tap_meets_its_button_though_the_list_is_drawn_anew_while_the_finger_is_down(tablet, bench):
    page = opened(tablet, bench)
    bench.fault = lambda method, path, n: "drop" if path.startswith("/api/") else None
    put(page, 21)
    page.locator("[data-panel] > summary").click()
    rows = page.locator("outbox-panel li")
    expect(rows).to_have_count(1)
    expect(page.locator("[data-why]")).to_be_visible()  # it comes above the list and moves it
    rows.nth(0).get_by_role("button", name="Discard").hover()
    page.mouse.down()
    put(page, 22)
    expect(rows).to_have_count(2)
    page.mouse.up()
    expect(rows.nth(0).get_by_role("button", name="Keep it")).to_be_focused()


def test_an_entry_put_right_under_its_number_is_shown_as_it_is_now(tablet, bench):
    page = opened(tablet, bench)
    bench.answers = {"99": ("refused", "Air is 99 °C; it must be at most 60 °C. Read it again.")}
    put(page, 99)
    page.locator("[data-panel] > summary").click()
    row = page.locator("outbox-panel li")
    expect(row).to_contain_text("Air is 99 °C;")
    expect(row.locator("[data-values]")).to_have_text("air c99")
    bench.dead = True
    page.evaluate("""job => import('/static/outbox/outbox.js').then(async ({ outbox }) => { const [old] = await outbox.not_taken(job, 'air.read');
        await outbox.put({ job, kind: 'air.read', body: { air_c: 19 }, replaces: old.key }); })""", JOB)
    expect(row.locator("[data-values]")).to_have_text("air c19")
    expect(row).not_to_contain_text("Air is 99 °C;")
    expect(row).to_have_count(1)


def test_one_entry_that_breaks_the_bench_does_not_hold_up_the_rest(tablet, bench):
    page = opened(tablet, bench)
    bench.dead = True
    for air in (1, 2, 3):
        put(page, air)
    answer = bench.answer
    bench.answer = lambda handler, method, path, raw: (
        (500, {"detail": "Broken.", "kind": "broken"}) if path.endswith("/entries") and b'"air_c":2}' in raw
        else answer(handler, method, path, raw))
    bench.dead = False
    page.evaluate(FLUSH)
    until(page, WAITING, 1)
    assert [one["body"]["air_c"] for one in bench.stored.values()] == [1, 3]
    bench.answer = answer
    page.evaluate(FLUSH)
    until(page, WAITING, 0)


@pytest.mark.parametrize("status", [507, pytest.param(429, marks=pytest.mark.release)])
def test_a_photo_for_which_there_is_no_room_holds_up_no_reading(tablet, bench, status):
    page = opened(tablet, bench)
    bench.dead = True
    page.evaluate("""j => import('/static/outbox/outbox.js').then(async m => {
      const photo = new Blob([new Uint8Array(5000).fill(7)], {type: 'image/jpeg'});
      await m.outbox.put({job: j, kind: 'picture.taken', body: {file: 'a.jpg', caption: 'edge'}, photo});
      await m.outbox.put({job: j, kind: 'picture.taken', body: {file: 'b.jpg', caption: 'edge'}, photo});
    })""", JOB)
    put(page, 21)
    put(page, 22)
    bench.dead, bench.fault = False, lambda method, path, n: status if path.endswith("/photos") else None
    page.evaluate(FLUSH)
    until(page, WAITING, 2)
    assert [one["body"] for one in bench.stored.values()] == [{"air_c": 21}, {"air_c": 22}]
    expect(page.locator("outbox-panel")).to_contain_text(f"It is {status} here.", use_inner_text=False)
    bench.fault = lambda *_: None
    page.evaluate(FLUSH)
    until(page, WAITING, 0)
    assert len(bench.stored) == 4


def test_a_photo_goes_first_and_its_digest_stands_in_the_entry(tablet, bench):
    page = opened(tablet, bench)
    page.evaluate("""j => import('/static/outbox/outbox.js').then(async m => {
      const photo = new Blob([new Uint8Array(5000).fill(7)], {type: 'image/jpeg'});
      await m.outbox.put({job: j, kind: 'picture.taken', body: {file: 'a.jpg', caption: 'edge'}, photo});
      await m.outbox.put({job: j, kind: 'damage', body: {damage: 'D1', stage: 'as_found', outline: {}, card: {}}, photo});
    })""", JOB)
    until(page, WAITING, 0)
    (digest, raw), = bench.photos.items()
    picture, damage = bench.stored.values()
    assert raw == bytes([7]) * 5000
    assert picture["body"]["sha256"] == damage["body"]["photo_sha256"] == digest
    assert any(path.endswith("/damage") for path, _ in bench.posts)


def test_a_full_device_is_said_and_the_form_stays_filled(tablet, bench):
    page = opened(tablet, bench)
    page.evaluate("() => { IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); }; }")
    write(page, "19.8")
    expect(page.locator("entry-form output")).to_contain_text("NOT KEPT: the memory of this device is full")
    expect(page.locator("#air")).to_have_value("19.8")


def test_a_wrong_clock_is_said_without_opening_the_list(tablet, bench):
    bench.offset = -240
    page = opened(tablet, bench)
    expect(page.locator("[data-clock]")).to_be_hidden()
    put(page, 19)
    until(page, WAITING, 0)
    expect(page.locator("[data-clock]")).to_be_visible()
    expect(page.locator("[data-clock]")).to_contain_text("4 minutes behind the bench")


@pytest.mark.parametrize(("ahead", "words"), [(900, "15 minutes behind the bench"), (-300, "5 minutes ahead of the bench"), (20, "")])
def test_a_wrong_clock_is_said_when_a_page_is_loaded_and_nothing_was_sent(tablet, bench, ahead, words):
    bench.made_ago = ahead
    page = opened(tablet, bench)
    if words:
        expect(page.locator("[data-clock]")).to_be_visible()
        expect(page.locator("[data-clock]")).to_contain_text(words)
    else:
        until(page, WAITING, 0)
        expect(page.locator("[data-clock]")).to_be_hidden()


SIGN = """<deciding-form action="/api/v1/jobs/J/signatures" data-on-head="{}" data-then="reload"><form>
<button type="submit">Sign</button><output></output></form></deciding-form>
<script type="module" src="/static/outbox/deciding.js"></script>"""


@pytest.mark.parametrize("moved", [pytest.param(False, marks=pytest.mark.release), True], ids=["signed", "overtaken"])
def test_after_a_decision_a_slow_bench_is_waited_for_and_no_copy_from_before_is_shown(tablet, bench, moved):
    bench.body = SIGN.format("a" * 64)
    page = opened(tablet, bench)
    until(page, "document.documentElement.dataset.offlineReady", "yes")
    until(page, f"caches.open('soundedge-pages').then(c => c.match('/jobs/{JOB}/')).then(Boolean)")
    bench.body = "<p>As it is now.</p>"
    slow = threading.Event()

    def fault(method, path, n):
        if path == f"/jobs/{JOB}/":
            threading.Timer(4.5, slow.set).start()
            return slow

    bench.fault = fault
    if moved:
        bench.deciding = (409, {"status": 409, "detail": "The record has moved.", "kind": "conflict", "changed": []})
    page.get_by_role("button", name="Sign", exact=True).click()
    if moved:
        page.get_by_role("button", name="Load the page and look again").click()
    expect(page.get_by_text("As it is now.")).to_be_visible()
    expect(page.locator("#kept-copy")).to_be_hidden()


def test_a_copy_of_a_page_says_nothing_of_the_clock(tablet, bench):
    bench.made_ago = -20000
    page = opened(tablet, bench)
    until(page, "document.documentElement.dataset.offlineReady", "yes")
    until(page, f"caches.open('soundedge-pages').then(c => c.match('/jobs/{JOB}/')).then(Boolean)")
    bench.dead = True
    tablet.set_offline(True)
    page.reload()
    expect(page.locator("#kept-copy")).to_contain_text("No network. This is the copy of")
    expect(page.locator("[data-clock]")).to_be_hidden()


@pytest.mark.parametrize("role", ["technician", "manager", pytest.param("inspector", marks=pytest.mark.release)])
def test_what_waits_of_a_person_let_in_no_more_is_read_and_thrown_away_by_who_answers_for_it(tablet, bench, role):
    page = opened(tablet, bench)
    bench.fault = lambda method, path, n: "drop" if path.startswith("/api/") else None
    for air in (19, 20):
        put(page, air)
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Signed out")).to_be_visible()
    bench.fault = lambda *_: None
    bench.person, bench.name, bench.token, bench.role = "tom", "Tom", "t2", role
    page.goto(f"{bench.at}/jobs/{JOB}/")
    page.locator("outbox-panel summary").click()
    expect(page.locator("[data-others]")).to_have_text("2 entries of Ines wait for the next sign-in of Ines")
    expect(page.locator("[data-left] li")).to_have_count(0)  # her account is enabled: they are hers

    bench.closed = {"ines"}
    page.reload()
    page.locator("outbox-panel summary").click()
    if role == "technician":
        expect(page.locator("[data-others]")).to_have_text("2 entries of Ines wait for the next sign-in of Ines")
        expect(page.locator("[data-left] li")).to_have_count(0)
        return
    expect(page.locator("[data-left] .notice")).to_contain_text("2 entries of Ines, whose account is disabled: nobody can send them")
    rows = page.locator("[data-left] li")
    expect(rows).to_have_count(2)
    expect(rows.first.locator("[data-values]")).to_contain_text("air c19")
    expect(page.locator("[data-others]")).to_be_empty()
    expect(rows.first.get_by_role("button")).to_have_count(1)  # neither sent nor put right in her name
    page.evaluate(FLUSH)
    rows.first.locator("[data-discard]").click()
    expect(rows.first.locator("[data-sure]")).to_contain_text("Discard this entry of Ines?")
    rows.first.locator("[data-no]").click()
    expect(rows).to_have_count(2)
    rows.first.locator("[data-discard]").click()
    rows.first.locator("[data-yes]").click()
    expect(rows).to_have_count(1)
    assert not bench.order and [path for path, _ in bench.posts] == ["/sign-out/"]


def test_without_locks_chance_of_ids_and_worker_it_works_the_same(browser, bench):
    context = browser.new_context()
    context.add_init_script("""for (const name of ['locks', 'serviceWorker', 'storage']) Object.defineProperty(Navigator.prototype, name, {value: undefined});
      Object.defineProperty(Crypto.prototype, 'randomUUID', {value: undefined}); Object.defineProperty(Crypto.prototype, 'subtle', {value: undefined});""")
    first, second = opened(context, bench), opened(context, bench)
    assert first.evaluate("navigator.locks === undefined && crypto.subtle === undefined")
    for air in range(4):
        put(first, air)
        put(second, 10 + air)
    until(first, WAITING, 0)
    sent = [one["id"] for path, raw in bench.posts if path.endswith("/entries") for one in json.loads(raw)["entries"]]
    assert len(bench.order) == 8 == len(set(sent))
    context.close()


@pytest.mark.release
def test_two_hundred_events_under_random_faults_end_with_each_stored_once(tablet, bench):
    chance = random.Random(20310504)
    tabs = [opened(tablet, bench), opened(tablet, bench)]
    faults = random.Random(7)
    bench.fault = lambda method, path, n: (
        faults.choice(["drop", "lose", 500, 503, None, None, None]) if path.startswith("/api/") else None)
    put_down = []
    for step in range(50):
        page = tabs[chance.randrange(2)]
        put_down += page.evaluate("""v => import('/static/outbox/outbox.js').then(async m => {
          const ids = []; for (const a of v.airs) ids.push((await m.outbox.put({job: v.job, kind: 'air.read', body: {air_c: a}})).key);
          return ids; })""", {"job": chance.choice(["A", "B"]), "airs": [step * 4 + i for i in range(4)]})
        if chance.random() < 0.2:
            page.reload()
        elif chance.random() < 0.4:
            page.evaluate("dispatchEvent(new Event('online'))")
    bench.fault = lambda *_: None
    for page in tabs:
        page.evaluate("dispatchEvent(new Event('online'))")
    until(tabs[0], WAITING, 0)
    assert len(put_down) == len(set(put_down)) == 200
    assert {f"kelderbeck/{job}/{name}" for job, name in bench.stored} == set(put_down)
    assert sorted(one["body"]["air_c"] for one in bench.stored.values()) == list(range(200))
    for job in "AB":
        numbers = sorted(int(name.rsplit("-", 1)[1]) for at, name in bench.stored if at == job)
        assert numbers == list(range(1, len(numbers) + 1))


@pytest.mark.parametrize("width", [360, pytest.param(1280, marks=pytest.mark.release)])
def test_the_panel_has_no_fault_that_axe_finds(browser, bench, width, tmp_path):
    from axe_playwright_python.sync_playwright import Axe

    bench.answers = {"180": ("refused", "Air is 180 °C; it must be at most 60 °C. Read it again.")}
    context = browser.new_context(viewport={"width": width, "height": 800}, bypass_csp=True)
    page = opened(context, bench)
    write(page, "180")
    expect(page.locator("entry-form output")).to_contain_text("at most 60")
    bench.dead = True
    write(page, "20")
    until(page, WAITING, 2)
    page.locator("outbox-panel summary").click()
    page.get_by_role("button", name="Discard").first.click()
    found = Axe().run(page).response["violations"]
    assert [(one["id"], [node["html"] for node in one["nodes"]]) for one in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.screenshot(path=str(tmp_path / f"panel-{width}.png"), full_page=True)
    small = page.evaluate("""[...document.querySelectorAll('button, summary, a, input')].filter(e => e.offsetParent)
      .map(e => [e.outerHTML.slice(0, 60), e.getBoundingClientRect().height]).filter(([, h]) => h < 48)""")
    assert small == []
    context.close()
