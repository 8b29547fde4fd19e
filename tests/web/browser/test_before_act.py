"""Is a yes taken back on the device when its time is over, when its clock cannot be right, or when an entry waits?"""

from __future__ import annotations

from datetime import timedelta

import pytest
from playwright.sync_api import expect

from ..installation import now
from .test_offline import WORK, gate, network, no_network, shop, sign_in, tablet, visited, write  # noqa: F401

SAID = "before-act .big"


@pytest.mark.slow
def test_a_yes_is_withdrawn_without_network_and_asked_again_with_it(tablet, gate, shop):  # noqa: F811
    sign_in(tablet, shop, "technician")
    visited(tablet, "conditions")
    page = tablet.page
    page.goto(f"{gate.url}/jobs/{WORK}/conditions/")
    expect(page.locator(SAID)).to_contain_text("Not yet: heat again after the pause. Air and steel were last read")
    write(page, "air.read", air_c="19.8", rh_pct=51, steel_c="19.2", instrument="H2")
    expect(page.locator(SAID)).to_contain_text("You may heat again after the pause")  # without loading the page
    page.goto(f"{gate.url}/jobs/{WORK}/conditions/")
    expect(page.locator(f"{SAID}.over")).to_have_count(0)
    written = page.locator("[data-repaint=written] .entries > li").count()

    no_network(tablet, gate)
    page.reload()
    expect(page.locator("#kept-copy")).to_be_visible()
    expect(page.locator(f"{SAID}.over")).to_have_count(0)  # its time is not over, and nothing waits

    write(page, "air.read", air_c="19.8", rh_pct=51, steel_c="19.2", instrument="H2")
    expect(page.locator(f"{SAID}.over")).to_have_count(1)
    expect(page.locator("before-act [data-waiting]")).to_contain_text("Not judged yet: the entry that waits on this device")
    tablet.picture("before-act-waits")

    network(tablet, gate)
    page.evaluate("dispatchEvent(new Event('online'))")
    expect(page.locator("before-act [data-waiting]")).to_be_hidden()
    expect(page.locator(f"{SAID}.over")).to_have_count(0)
    expect(page.locator("[data-repaint=written] .entries > li")).to_have_count(written + 1)  # without loading the page

    no_network(tablet, gate)
    page.clock.install(time=now() - timedelta(days=1))
    page.reload()
    expect(page.locator(f"{SAID}.over strong")).to_contain_text("clock of this device is behind")

    page.clock.set_system_time(now() + timedelta(days=1))
    page.clock.run_for(16_000)
    expect(page.locator(f"{SAID}.over strong")).to_contain_text("No longer: its time is over")
    tablet.picture("before-act-over")
    network(tablet, gate)
