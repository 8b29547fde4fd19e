"""Does a real browser run, ask for or build anything from texts that mean harm?"""

import os
from urllib.parse import urlparse

from ..hostile import MARK, hostile_shop
from ..test_hostile_texts import pages
from ..test_matrix import filled

MADE = f"""() => [...document.querySelectorAll("*")].filter((one) => one.localName.includes("{MARK}")
  || [...one.attributes].some((at) => at.name.includes("{MARK}") || (at.name.startsWith("on") && at.value))
  || (one.localName === "a" && one.protocol === "javascript:")).map((one) => one.outerHTML.slice(0, 160))"""


def test_thirty_hostile_texts_run_nothing_and_reach_nothing_in_a_browser(hands, live, installation):
    os.environ["SOUNDEDGE_KEYS"] = str(installation / "keys")
    shop, job, _ = hostile_shop("KBW-2036-741")
    hand = hands(live, "laptop", service_workers="block").cookies_of(shop.client("manager"))
    hand.meant.append("the names in the addresses are of nothing, on some pages")
    page, asked, said, shown = hand.page, [], [], 0
    page.add_init_script(f"window.{MARK} = () => {{ window.ran = true; }}")
    page.on("dialog", lambda dialog: (said.append(dialog.message), dialog.dismiss()))
    page.on("request", lambda request: asked.append(request.url))
    for route in pages():
        address = filled(route.split(" ", 1)[1].replace("<slug:revision>", "proposed-words"), job)
        if "/verify/page" in address or address in ("/sw.js", "/manifest.webmanifest", "/authority.cer"):
            continue
        page.goto(live.url + address)
        shown += page.locator("body").inner_text().count(MARK)
        assert not page.evaluate("() => window.ran"), address
        assert not page.evaluate(MADE), address
    assert shown > 100, shown
    assert not said
    assert not [one for one in asked if MARK in one or urlparse(one).netloc != urlparse(live.url).netloc]
