"""A stranger has the certificate alone: do the page without network and the command say the same of it?"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from ..chromium import start

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "src" / "soundedge" / "record" / "verify.html"


@pytest.fixture(scope="module")
def handed_over(tmp_path_factory):
    """A sealed certificate of the released example, its proof and record, and the shop's public key."""
    place = tmp_path_factory.mktemp("shop")
    for command in (
        ("key", "new", "kelderbeck-basin.example/ledger", "--shop", "Kelderbeck Basin Works", "--keys", place / "keys"),
        ("job", "run", ROOT / "examples" / "mixer-cover", "--out", place / "out", "--data", place / "data"),
    ):
        subprocess.run([sys.executable, "-m", "soundedge", *map(str, command)], check=True, capture_output=True,
                       env=os.environ | {"SOUNDEDGE_KEYS": str(place / "keys")})
    return place


@pytest.fixture(scope="module")
def page():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = start(play)
        opened = browser.new_context(offline=True).new_page()
        opened.goto(PAGE.as_uri())
        yield opened
        browser.close()


def in_the_browser(page, files, key=""):
    from playwright.sync_api import expect

    page.get_by_label("Files").set_input_files([str(file) for file in files])
    page.get_by_label("Public keys").fill(key)
    page.get_by_role("button", name="Check").click()
    lines = len(files) + sum(file.suffix == ".pdf" for file in files)  # of a PDF: the record inside, and the file itself
    expect(page.locator("#said li")).to_have_count(lines, timeout=15000)
    return page.locator("#said").inner_text()


def by_command(*arguments):
    done = subprocess.run([sys.executable, "-m", "soundedge", "verify", *map(str, arguments), "--json"],
                          capture_output=True, text=True, check=False)
    return done.returncode, json.loads(done.stdout)[0]


def test_both_say_the_same_sentence_of_the_same_certificate(page, handed_over):
    out = handed_over / "out"
    key = (handed_over / "keys" / "log.pub").read_text(encoding="utf-8").strip()

    said = in_the_browser(page, [out / "certificate.pdf", out / "certificate.proof"], key)
    code, answer = by_command(out / "certificate.pdf", "--key", handed_over / "keys" / "log.pub")

    sentence = re.search(r"Record KBW-2026-014 holds: \d+ entries, none changed under head [0-9a-f]{16}\.", said)[0]
    assert code == 0 and sentence in answer["sentence"]
    assert "byte for byte" in said and "Byte for byte" in answer["sentence"]


def test_one_changed_digit_of_the_record_is_named_by_both(page, handed_over, tmp_path):
    raw = (handed_over / "out" / "record.json").read_bytes()
    changed = tmp_path / "record.json"
    changed.write_bytes(raw.replace(b'"verified_v":"7900"', b'"verified_v":"7901"', 1))
    assert changed.read_bytes() != raw

    said = in_the_browser(page, [changed])
    code, answer = by_command(changed)

    event = re.search(r"Entry \d+ \(holiday\.tested\)", said)[0]
    assert code == 4 and event in answer["error"]["message"]


def test_one_changed_byte_of_the_page_is_refused_by_both(page, handed_over, tmp_path):
    out = handed_over / "out"
    key = (handed_over / "keys" / "log.pub").read_text(encoding="utf-8").strip()
    raw = bytearray((out / "certificate.pdf").read_bytes())
    raw[len(raw) // 3] ^= 1
    changed = tmp_path / "certificate.pdf"
    changed.write_bytes(raw)

    said = in_the_browser(page, [changed, out / "certificate.proof"], key)
    code, answer = by_command(changed, "--proof", out / "certificate.proof")

    assert code == 4 and "does not hold" in answer["error"]["message"]
    assert "byte for byte" not in said and "no proof given here names this file" in said
