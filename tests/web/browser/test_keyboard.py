"""Can the bench be worked with the keyboard alone: Tab, Enter, Space, arrows; is it always seen where one stands, and is there a way on?"""

# ruff: noqa: E501
from __future__ import annotations

from itertools import pairwise

import pytest
from playwright.sync_api import expect

from .. import cover_day
from ..installation import PASSWORDS

WORK, SIGNS = "KBW-2036-021", "KBW-2036-022"
# What is focused: a name to tell it by, whether a line round it is seen, whether it is on the screen, and its place.
FOCUSED = """() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const style = getComputedStyle(one);
  const box = one.getBoundingClientRect();
  const line = style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2;
  const ground = getComputedStyle(document.body).backgroundColor;
  return {
    name: (one.labels && one.labels[0] ? one.labels[0].innerText : one.getAttribute("aria-label") || one.innerText || one.name || one.id).trim().replace(/\\s+/g, " "),
    tag: one.tagName.toLowerCase(), type: one.type || "", id: one.id, in_main: Boolean(one.closest("main")), field: one.name || "",
    seen: one.id === "main" || (line && style.outlineColor !== ground),
    in_view: box.width > 0 && box.height > 0 && box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth,
    outline: `${style.outlineStyle} ${style.outlineWidth} ${style.outlineColor}`, y: Math.round(box.top + scrollY),
    html: one.outerHTML.slice(0, 120),
  };
}"""


@pytest.fixture(scope="module")
def shop(keys_for_module):
    before_surface = next(n for n, (_, _, kind, body) in enumerate(cover_day.steps()) if body.get("hold_point") == "surface")
    return cover_day.shop_with_jobs({WORK: 0, SIGNS: before_surface})


class Keys:
    """Ten fingers and no mouse. Each stop of the focus must be seen."""

    def __init__(self, at):
        self.at, self.page = at, at.page

    def here(self):
        return self.page.evaluate(FOCUSED)

    def tab(self, back=False):
        self.page.keyboard.press("Shift+Tab" if back else "Tab")
        here = self.here()
        if here:
            assert here["seen"], f"nobody sees the focus on {here['html']}: {here['outline']}"
            assert here["in_view"], f"the focus is beside the screen: {here['html']}"
        return here

    def to(self, wanted, limit=120):
        """Tab on until the focus stands on what is wanted: (here) → bool."""
        seen = []
        for _ in range(limit):
            here = self.tab()
            if here and wanted(here):
                return here
            seen.append(here and here["name"][:30])
        raise AssertionError(f"not reached with {limit} tabs: {seen}")

    def to_named(self, name, **also):
        return self.to(lambda here: here["name"].startswith(name) and all(here[key] == value for key, value in also.items()))

    def to_field(self, field, within=None):
        return self.to(lambda here: here["field"] == field)

    def type(self, text):
        self.page.keyboard.type(text)

    def press(self, key):
        self.page.keyboard.press(key)

    def choose(self, value):
        """In a list that has the focus: its letters, as everybody does it."""
        self.page.keyboard.type(value)
        assert self.page.evaluate("document.activeElement.value") == value

    def output(self, text):
        form = self.page.evaluate_handle("document.activeElement.closest('form')").as_element()
        deadline = 75
        while deadline and text not in (form.query_selector("output").inner_text() or ""):
            self.page.wait_for_timeout(100)
            deadline -= 1
        assert text in form.query_selector("output").inner_text()


@pytest.fixture
def keys(hands, live, shop):
    def signed_in(role, size="laptop"):
        at = hands(live, size).device(shop.token)
        at.go("/sign-in/")
        keys = Keys(at)
        keys.to_named("Sign-in name")
        keys.type(shop.login(role))
        keys.tab()
        keys.type(PASSWORDS[role])
        keys.press("Enter")
        at.page.wait_for_url(lambda address: "/sign-in" not in address)
        return keys

    return signed_in


@pytest.mark.slow
def test_a_damage_and_a_reading_are_written_down_with_keys_alone(keys, live):
    hands = keys("technician")
    page = hands.page
    # the first stop is the way past the head of the page
    first = hands.tab()
    assert first["name"] == "To the content"
    hands.press("Enter")
    assert hands.here()["id"] == "main"
    hands.to_named(WORK)
    hands.press("Enter")
    expect(page.get_by_role("heading", name=WORK)).to_be_visible()
    hands.to_named("survey", in_main=True)
    hands.press("Enter")
    expect(page.get_by_role("heading", name="Survey")).to_be_visible()
    hands.to(lambda here: here["tag"] == "summary" and here["name"].endswith("A round damage, typed"))
    hands.press("Enter")
    hands.to_field("circle_mm.d")
    hands.type("24")
    for text in ("-60", "35", "0.1", "5"):
        hands.tab()
        hands.type(text)
    hands.to_named("Write it down")
    hands.press("Space")
    hands.output("Stored in the record")

    page.goto(f"{live.url}/jobs/{WORK}/conditions/")
    hands.to_field("air_c")
    for text in ("19,8", "52", "18,6"):
        hands.type(text)
        hands.tab()
    hands.choose("H2")
    hands.press("Enter")
    if page.evaluate("document.activeElement.tagName") == "SELECT":
        hands.to_named("Write the reading down")
        hands.press("Enter")
    hands.output("Stored in the record")


@pytest.mark.release
def test_film_is_read_and_a_hold_point_signed_with_keys_alone(keys, live, shop):
    hands = keys("inspector")
    page = hands.page
    page.goto(f"{live.url}/jobs/{WORK}/thickness/")
    hands.to(lambda here: here["name"] == "7" and here["tag"] == "button")
    hands.press("Space")  # 7
    hands.to_named("1")
    for _ in range(3):
        hands.press("Space")
    hands.to_named("Take")
    hands.press("Enter")
    expect(page.locator("[data-show='count']")).to_contain_text("1 reading")
    hands.type("1250")
    hands.press("Enter")
    expect(page.locator("[data-show='count']")).to_contain_text("2 readings")

    page.goto(f"{live.url}/jobs/{SIGNS}/hold_points/")
    hands.to(lambda here: here["tag"] == "summary" and "surface" in here["name"])
    hands.press("Enter")
    hands.to_field("password")
    hands.type(PASSWORDS["inspector"])
    hands.press("Enter")
    expect(page.locator("#surface")).to_contain_text("Signed by Ines Okafor")


@pytest.mark.release
@pytest.mark.parametrize("size", [pytest.param("phone", marks=pytest.mark.release), "laptop"])
def test_the_way_of_the_focus_is_seen_everywhere_and_ends(keys, live, size):
    """From the head to the foot of the long pages, and back again: no trap, and downwards."""
    hands = keys("technician", size)
    for step in ("conditions", "buildup", "heat", "survey", "thickness", "history"):
        hands.page.goto(f"{live.url}/jobs/{SIGNS}/{step}/")
        way = []
        for _ in range(400):
            here = hands.tab()
            if here is None or (way and here["name"] == "To the content"):
                break
            way.append(here)
        else:
            raise AssertionError(f"{step}: the focus never comes to the end: {[one['name'][:20] for one in way[-12:]]}")
        assert way[0]["name"] == "To the content" and way[-1]["name"] == "Sign out", (step, way[-1])
        main = [one for one in way if one["in_main"]]
        upwards = [(a["name"][:30], b["name"][:30]) for a, b in pairwise(main) if b["y"] < a["y"] - 400]
        assert len(upwards) <= (1 if size == "phone" else 3), f"{step}: {upwards}"
        hands.tab(back=True)
        assert hands.tab(back=True) is not None, f"{step}: no way back"
