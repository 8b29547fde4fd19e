"""One Chromium for all browser tests; a context of its own for each person at a phone or a laptop.

A page that writes an error on its console, throws, or does what its policy forbids fails the test that opened it.
"""

# ruff: noqa: E501
from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

from ...chromium import start
from .tablet import LAPTOP, PATIENCE_MS, PHONE

# Playwright's loop runs in the thread of the tests while they set up their shops; nothing there is asynchronous.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"

expect.set_options(timeout=PATIENCE_MS)

SCREENS = Path(__file__).parents[3] / "out" / "screens"
SIZES = {"phone": PHONE | {"device_scale_factor": 2}, "laptop": LAPTOP}
# The browser writes a line for each answer that is not good; what it means is asked of the page, where a test wants it.
ANSWERS = re.compile(r"Failed to load resource: (the server responded with a status of (4\d\d|507)|net::ERR_(INTERNET_DISCONNECTED|EMPTY_RESPONSE))")


@pytest.fixture(scope="package")
def playwright():
    """Started once; ends with this folder, so that tests elsewhere may run loops of their own."""
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="package")
def browser(playwright):
    """Chromium, once for all modules here."""
    chromium = start(playwright)
    yield chromium
    chromium.close()


class Hands:
    """A context of a browser with what went wrong in it: ``faults``; answers with a 4xx are meant only where ``meant`` says so."""

    def __init__(self, browser, live, size, **more):
        self.live, self.size, self.faults, self.meant = live, size, [], []
        self.context = browser.new_context(**SIZES[size], **more)
        self.context.set_default_timeout(PATIENCE_MS)
        self.context.on("weberror", lambda fault: self.faults.append(f"error: {fault.error}"))
        self.context.on("console", self._line)
        self.page = self.context.new_page()

    def _line(self, line):
        if line.type == "error" and not (self.meant and ANSWERS.match(line.text)):
            self.faults.append(f"console: {line.text} ({line.location.get('url', '')})")

    def cookies_of(self, client):
        """The session and the device of a client that is signed in already."""
        self.context.add_cookies([
            {"name": name, "value": one.value, "url": self.live.url.replace("http:", "https:"), "secure": True,
             "httpOnly": True, "sameSite": "Lax"} for name, one in client.cookies.items() if one.value
        ])
        return self

    def device(self, token):
        """The device is enrolled; nobody is signed in."""
        self.context.add_cookies([{"name": "__Host-device", "value": token, "url": self.live.url.replace("http:", "https:"),
                                   "secure": True, "httpOnly": True, "sameSite": "Lax"}])
        return self

    def sign_in(self, login, password):
        """By the page, as a person does."""
        self.go("/sign-in/")
        self.page.get_by_label("Sign-in name").fill(login)
        self.page.get_by_label("Password").fill(password)
        self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(lambda address: "/sign-in" not in address)
        return self

    def go(self, path):
        """Open an address of the bench."""
        answer = self.page.goto(self.live.url + path)
        assert answer is None or answer.status == 200, f"{path}: {answer.status}\n{self.page.locator('main').inner_text()[:600]}"
        assert "/sign-in/" in path or "/sign-in/" not in self.page.url, f"{path}: nobody is signed in any more"
        return self.page

    def picture(self, name):
        """Keep what is seen (out/screens), when whoever looks at the pages asks for it: ``SOUNDEDGE_SCREENS=1``."""
        if not os.environ.get("SOUNDEDGE_SCREENS"):
            return
        SCREENS.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=SCREENS / f"{name}-{self.size}.jpg", full_page=True, type="jpeg", quality=70, scale="css")


@pytest.fixture
def hands(browser, request):
    """``hands(live, "phone")`` → a browser of its own; at the end none of them may have had a fault."""
    opened = []

    def open_one(live, size="phone", **more):
        opened.append(Hands(browser, live, size, **more))
        return opened[-1]

    yield open_one
    faults = [fault for one in opened for fault in one.faults]
    for one in opened:
        one.context.close()
    assert not faults, "\n".join(faults)
