"""A phone or a laptop at the live bench, signed in, and what is asked of every page."""

from __future__ import annotations

import os
from pathlib import Path

import axe_playwright_python
import pytest

# ruff: noqa: E501  (scripts stand here as they are)
# The browser's own loop runs in this thread while a test sets up the shop; nothing here is asynchronous.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

PHONE = {"viewport": {"width": 360, "height": 740}, "has_touch": True, "is_mobile": True}
LAPTOP = {"viewport": {"width": 1280, "height": 800}}
PATIENCE_MS = 60_000  # a page has time to say it on a machine with much to do; nothing here is about how long it takes
SIZES = {"phone": PHONE, "laptop": LAPTOP}
PHONE_FIRST = ["phone", pytest.param("laptop", marks=pytest.mark.release)]  # on the larger screen before a release
AXE = next(Path(axe_playwright_python.__file__).parent.rglob("axe.min.js")).read_text("utf-8")
SMALL = """[...document.querySelectorAll("main button, main input:not([type=checkbox]):not([type=radio]), main select, main summary")]
  .filter((one) => one.offsetParent && one.getBoundingClientRect().height < 47.5).map((one) => one.outerHTML.slice(0, 120))"""


def signed_in(browser, live, client, size=PHONE, **more):
    """A device of its own, signed in with the session of ``client``; ``faults`` of the page are collected on it."""
    context = browser.new_context(**size, **more)
    context.set_default_timeout(PATIENCE_MS)
    context.add_cookies(
        [
            {"name": name, "value": one.value, "url": live.url.replace("http:", "https:"), "secure": True}
            for name, one in client.cookies.items()
            if one.value
        ]
    )
    context.faults = []
    context.on("weberror", lambda fault: context.faults.append(str(fault.error)))
    return context


def opened(context, live, path):
    """A page of the bench."""
    page = context.new_page()
    answer = page.goto(live.url + path)
    assert answer.status == 200, page.content()[-800:]
    return page


def faults_of(page):
    """Violations of axe, targets too small for a glove, and a page wider than the screen."""
    page.evaluate(AXE)
    found = page.evaluate("axe.run()")["violations"]
    said = [f"{one['id']}: {node['html'][:160]}" for one in found for node in one["nodes"]]
    said += [f"small: {one}" for one in page.evaluate(SMALL)]
    wide, screen = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    return said + ([f"{wide} px wide on a screen of {screen}"] if wide > screen else [])
