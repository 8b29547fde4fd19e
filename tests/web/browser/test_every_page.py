"""Can every page be read and touched: by whoever may open it, on a phone and a laptop, in both languages and units?

For a change each page is opened once, dealt out over the visits: half way through the work by somebody who works, and those of a
job once more by the auditor when it is released. Before a release every visit opens everything. Roles and sizes are all combined;
languages and units are spread over them so that each meets each role and each size.
"""

# ruff: noqa: E501  (scripts for the browser stand here as they are)
from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

import soundedge.web

from .. import cover_day
from .tablet import AXE

WEB = Path(soundedge.web.__file__).parent
VISITS = (
    ("manager", "phone", "en", "metric"),
    ("manager", "laptop", "de", "us"),
    ("technician", "phone", "de", "us"),
    ("technician", "laptop", "en", "metric"),
    ("auditor", "phone", "de", "metric"),
    ("auditor", "laptop", "en", "us"),
)
# Pages of the released job are looked at once on each size, those of the one just opened on a phone.
ALSO = {("manager", "phone"): (cover_day.RELEASED,), ("technician", "phone"): (cover_day.JUST_OPENED,),
        ("auditor", "laptop"): (cover_day.RELEASED,)}
NOT_A_PAGE = re.compile(r"\.(svg|pdf|js|jpg|cer|webmanifest)$|heat/plan/|/map/$|^verify/page.html$")
LEVELS = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
LOOKED_AT = """(levels) => axe.run({resultTypes: ["violations"], runOnly: levels, rules: {"color-contrast-enhanced": {enabled: true}, "color-contrast": {enabled: false}, "target-size": {enabled: true},
  "identical-links-same-purpose": {enabled: false}}}).then((found) => found.violations.flatMap((one) =>
  one.nodes.map((node) => `${one.id}: ${node.html.slice(0, 160)} ${node.any.map((a) => a.message).join("; ").slice(0, 200)}`)))"""
SEEN = """() => {
  const said = [];
  const high = (one) => { const box = one.getBoundingClientRect(); return box.width && box.height ? box.height : null; };
  const block = (one) => { let at = one.parentElement; while (at && getComputedStyle(at).display.startsWith("inline")) at = at.parentElement; return at; };
  for (const one of document.querySelectorAll("a[href], button, input, select, textarea, summary, [role=button]")) {
    if (one.type === "hidden" || !one.checkVisibility({ checkOpacity: true, checkVisibilityCSS: true })) continue;
    if (one.classList.contains("skip")) continue;
    let touched = one;
    if (["checkbox", "radio", "file"].includes(one.type) && one.closest("label")) touched = one.closest("label");
    const tall = high(touched);
    if (tall === null || tall >= 47.5) continue;
    if (one.tagName === "A" && getComputedStyle(one).display === "inline") {
      const around = block(one);
      if (around && around.innerText.trim().length > one.innerText.trim().length + 3) continue; // within running text
    }
    said.push(`only ${Math.round(tall)} px high: ${one.outerHTML.slice(0, 140)}`);
  }
  for (const one of document.querySelectorAll("label, legend, button, summary, a.button, h1, h2, h3, td, th, dd, dt")) {
    if (!one.checkVisibility() || one.matches("select, .unseen, .aside") || getComputedStyle(one).display === "inline") continue;
    if (one.scrollWidth > one.clientWidth + 2 && !one.closest("thead, .scroll")) said.push(`runs out of its box: ${one.outerHTML.slice(0, 120)}`);
  }
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) {
    const wide = [...document.querySelectorAll("body *")].filter((one) => one.getBoundingClientRect().right > root.clientWidth + 1
      && !one.closest(".scroll, .path, .rooms, pre")).slice(0, 3).map((one) => one.outerHTML.slice(0, 100));
    said.push(`${root.scrollWidth} px wide on ${root.clientWidth}: ${wide.join(" | ")}`);
  }
  const heads = document.querySelectorAll("h1").length;
  if (heads !== 1) said.push(`${heads} h1`);
  if (!document.title.trim() || document.title.startsWith("·")) said.push(`title: ${document.title}`);
  return said;
}"""
# WCAG 2.2, 1.4.12: nothing is lost when letters and lines stand this far apart; a device's own wider font asks the same.
SPACED = """() => {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync("* { letter-spacing: 0.12em !important; word-spacing: 0.16em !important; line-height: 1.5 !important; } p { margin-bottom: 2em !important; }");
  document.adoptedStyleSheets = [sheet];
}"""
TEXTS = """() => {
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const found = [];
  while (walk.nextNode()) {
    const at = walk.currentNode.parentElement;
    if (at.closest('[lang="en"], script, style, template, code')) continue;
    const text = walk.currentNode.nodeValue.replace(/\\s+/g, " ").trim();
    if (text) found.push(text);
  }
  return found;
}"""


@pytest.fixture(scope="module")
def shop(keys_for_module):
    return cover_day.shop_with_jobs()


def paths(shop, role, job):
    """Every address with a page that this role may open; job pages for one job."""
    from soundedge.services.desk.register import register
    from soundedge.services.desk.state import state
    from soundedge.web.urls import PAGES

    entry = next(one["id"] for one in state(shop.data, job).events if one["kind"] in ("damage.outlined", "part.identified"))
    names = {"<job:job>": job, "<slug:person>": shop.actor("technician").person, "<slug:name>": "x",
             "<slug:revision>": next(iter(register(shop.data).revisions))}
    found = []
    for page in PAGES:
        if "GET" not in page.methods or NOT_A_PAGE.search(page.path) or not ({role, "everybody"} & page.roles):
            continue
        path = page.path
        for name, value in names.items():
            path = path.replace(name, value)
        assert "<" not in path, f"{page.path}: this test does not know what stands there"
        asked = {"history_correct": f"?entry={entry}", "history_void": f"?entry={entry}", "recall": "?lot=P-311"}.get(page.name, "")
        if not (page.name == "history_void" and job == cover_day.JUST_OPENED):
            found.append((page, f"/{path}{asked}"))
    return found


# Nothing moves, and no other page of a job is fetched behind the one that is looked at (test_offline.py looks at that).
ONE_AT_A_TIME = {"reduced_motion": "reduce", "service_workers": "block"}


@cache
def english():
    """What the templates say in English, where German says something else."""
    catalogue = WEB / "locale/de/LC_MESSAGES/django.po"
    if not catalogue.exists():
        return None
    from babel.messages.pofile import read_po

    with open(catalogue, "rb") as written:
        same = {one.id for one in read_po(written) if one.string == one.id}
    asked = set()
    for file in (WEB / "templates").rglob("*.html"):
        asked |= {found[1] for found in re.findall(r"""{%\s*translate\s+(["'])(.*?)\1""", file.read_text("utf-8"))}
    return {one for one in asked if len(one) > 3} - same


def faults_at(page, tongue):
    """What is wrong with the page that is open."""
    page.evaluate(AXE)
    said = page.evaluate(LOOKED_AT, LEVELS) + page.evaluate(SEEN)
    if page.locator("html").get_attribute("lang") != tongue:
        said.append(f"lang is {page.locator('html').get_attribute('lang')}, not {tongue}")
    if tongue == "de" and english():
        said += [f"English on a German page: {text}" for text in dict.fromkeys(page.evaluate(TEXTS)) if text in english()]
    page.evaluate(SPACED)
    return said + [f"with text spaced: {one}" for one in page.evaluate(SEEN) if one not in said]


def dealt(visit):
    """The pages that this visit alone opens for a change."""
    from soundedge.web.urls import PAGES

    def taken(page, hands):
        may = [one for one in hands if {one[0], "everybody"} & page.roles]
        return bool(may) and may[PAGES.index(page) % len(may)] == visit

    works = [one for one in VISITS if one[0] != "auditor"]
    looks = [one for one in VISITS if one[0] == "auditor"]
    return {cover_day.HALF_WAY: {page.name for page in PAGES if taken(page, works)},
            cover_day.RELEASED: {page.name for page in PAGES if "<job:job>" in page.path and taken(page, looks)}}


def visited(hands, live, shop, visit, wanted):
    """Open the wanted pages of each job, each once; a list of faults may be left by none."""
    role, size, tongue, units = visit
    account = shop.accounts[role]
    account.refresh_from_db()
    account.language, account.units = tongue, units
    account.save(update_fields=["language", "units"])
    at = hands(live, size, **ONE_AT_A_TIME, locale="de-DE" if tongue == "de" else "en-GB").cookies_of(shop.client(role))
    wrong, seen = [], set()
    for job, names in wanted.items():
        for page, path in paths(shop, role, job):
            if path in seen or page.name not in names:
                continue
            seen.add(path)
            at.go(path)
            at.page.wait_for_load_state("load")
            at.picture(f"{role}-{tongue}-{page.name}{'' if job == cover_day.HALF_WAY else '-' + job[-3:]}")
            wrong += [f"{path}: {said}" for said in faults_at(at.page, tongue)]
            wrong += [f"{path}: {said}" for said in at.faults]
            at.faults.clear()
    assert seen
    assert not wrong, f"{len(wrong)} faults\n" + "\n".join(wrong)


def test_each_page_is_dealt_to_one_visit(installation):
    from soundedge.web.urls import PAGES

    pages = [page for page in PAGES if "GET" in page.methods and not NOT_A_PAGE.search(page.path)]
    hands = [dealt(visit) for visit in VISITS]
    for page in pages:
        assert sum(page.name in hand[cover_day.HALF_WAY] for hand in hands) == 1, page.name
    by_auditor = [page for page in pages if "<job:job>" in page.path and "auditor" in page.roles]
    assert len(by_auditor) > 10
    for page in by_auditor:
        assert sum(page.name in hand[cover_day.RELEASED] for hand in hands) == 1, page.name


@pytest.mark.slow
@pytest.mark.parametrize("visit", VISITS, ids="-".join)
def test_each_page_can_be_read_and_touched(hands, live, shop, visit):
    visited(hands, live, shop, visit, dealt(visit))


@pytest.mark.release
@pytest.mark.parametrize("part", range(3))
@pytest.mark.parametrize("visit", VISITS, ids="-".join)
def test_every_visit_can_read_and_touch_every_page(hands, live, shop, visit, part):
    from soundedge.web.urls import PAGES

    names = {page.name for page in PAGES[part::3]}
    jobs = (cover_day.HALF_WAY, *ALSO.get(visit[:2], ()))
    visited(hands, live, shop, visit, dict.fromkeys(jobs, names))


def test_pages_have_no_fault_either_while_the_device_has_not_counted_what_waits(hands, live, shop):
    at = hands(live, "phone", **ONE_AT_A_TIME, locale="en-GB").cookies_of(shop.client("inspector"))
    at.page.add_init_script("IDBFactory.prototype.open = () => new EventTarget()")  # never answers
    wrong = []
    for step in ("", "survey/", "thickness/", "release/"):
        at.go(f"/jobs/{cover_day.HALF_WAY}/{step}")
        assert at.page.locator("outbox-panel summary").inner_text() == "Counting what waits …"
        wrong += [f"{step}: {said}" for said in faults_at(at.page, "en")]
    assert not wrong, wrong
