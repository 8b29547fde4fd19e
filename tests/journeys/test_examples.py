"""Every example, from the folder to a certificate that is read back: what the README promises, as a user does it."""

import json
import math
import re
import shutil
import subprocess
import unicodedata

import pytest

from ..commands import process
from ..commands import run as command
from ..job.sheets import EXAMPLES, sheet

# example → (verdict, the rule that holds it)
EXPECTED = {
    "mixer-cover": ("released", None),
    "hypochlorite-nozzle": ("released", None),
    "gouged-cover": ("released", None),
    "dosing-nozzle": ("held", "dew_margin"),
    "pump-casing": ("engineering_review", "bare_area"),
    "thin-edge-cover": ("rejected", "every_reading"),
    "cold-bond-cover": ("held", "bond_fusion"),
    "thin-parent-casing": ("held", "split_zones"),
    "usual-voltage-cover": ("held", "holiday_void"),
    "two-chip-cover": ("released", None),
    "suction-bore": ("released", None),
}


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Each example run once, when it is first asked for."""
    held = {}

    def run(name):
        if name not in held:
            out = tmp_path_factory.mktemp(name)
            held[name] = (command("job", "run", EXAMPLES / name, "--out", out), out)
        return held[name]

    return run


def printed(pdf):
    """The words of a PDF as pdftotext reads them, cell by cell; pypdf where there is none."""
    if shutil.which("pdftotext"):
        text = subprocess.run(["pdftotext", "-raw", str(pdf), "-"], capture_output=True, check=True).stdout.decode()
    else:
        from pypdf import PdfReader

        text = "\n".join(page.extract_text() for page in PdfReader(pdf).pages)
    return re.sub(r"\s+", " ", unicodedata.normalize("NFKC", text).replace("\u00ad", ""))


def test_every_example_is_expected_here():
    assert {p.parent.name for p in EXAMPLES.glob("*/job.toml")} == set(EXPECTED)


@pytest.mark.slow
@pytest.mark.parametrize("name", EXPECTED)
def test_an_example_gives_its_verdict_and_a_certificate_that_verifies(runs, name):
    verdict, rule = EXPECTED[name]
    done, out = runs(name)
    told = json.loads((out / "job.json").read_text(encoding="utf-8"))

    assert told["verdict"] == verdict
    assert done.returncode == (0 if verdict == "released" else 3)
    assert sorted(p.name for p in out.iterdir()) == ["certificate.pdf", "job.json", "record.json"]
    rules = [block["rule"] for block in told["blocked_by"]]
    assert rule in rules if rule else rules == []
    assert command("verify", out / "record.json").returncode == 0
    page = command("verify", out / "certificate.pdf")  # no keys were made, so the page is not signed
    assert page.returncode == 5 and b"nothing shows that this page belongs to it. The page is not signed." in page.stdout


@pytest.mark.slow
def test_the_certificate_of_the_released_cover_says_everything(runs):
    _, out = runs("mixer-cover")
    text, typed = printed(out / "certificate.pdf"), sheet("mixer-cover")

    for spot in typed["film"][0]["spots"]:
        assert spot["id"] in text
        for reading in spot["readings_um"]:
            assert f"{reading:g}" in text, (spot["id"], reading)
    for person in typed["person"]:
        assert person["name"] in text
    for tool in typed["instrument"]:
        assert tool["id"] in text
    for lot in {layer["lot"] for layer in typed["layer"]}:
        assert lot in text
    for sign in typed["sign"]:
        assert sign["meaning"].rstrip(".") in text
    assert typed["job"]["number"] in text and typed["part"]["tag"] in text
    assert "not proved" in text.lower()
    assert "example" in text.lower()


@pytest.mark.slow
def test_the_page_of_a_gouge_says_nothing_of_bare_steel(runs):
    _, out = runs("gouged-cover")
    text = printed(out / "certificate.pdf")

    assert "gouge, not through" in text and "Bare steel" not in text and "Bare area" not in text


@pytest.mark.slow
def test_the_page_of_the_bore_says_where_the_chips_lie_and_joins_them_across_its_seam(runs):
    """A at 356° and B at 3°: 7/360 · π · 300 mm = 18.3 mm from middle to middle. Prepared to 12 and 10 mm: hull 299 mm²."""
    _, out = runs("suction-bore")
    text = printed(out / "certificate.pdf")
    told = json.loads((out / "job.json").read_text(encoding="utf-8"))
    (repair,) = told["steps"]["disposition"]["answers"][0]["repairs"]

    assert "356°, 60 mm along" in text and "3°, 62 mm along" in text and "0° is the arrow on top" in text
    assert repair["members"] == ["A", "B"]
    # two circles of radius 6 and 5, s apart: half of each, and the trapezium between them along the tangents
    s = math.hypot(7 / 360 * math.pi * 300, 2)
    lean = math.asin(1 / s)
    hull = 11 * s * math.cos(lean) + 36 * (math.pi / 2 + lean) + 25 * (math.pi / 2 - lean)
    assert repair["bare_area_mm2"] == pytest.approx(hull, rel=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["dosing-nozzle", "pump-casing", "thin-edge-cover"])
def test_what_holds_a_job_stands_on_its_page(runs, name):
    _, out = runs(name)
    text = printed(out / "certificate.pdf")
    told = json.loads((out / "job.json").read_text(encoding="utf-8"))

    for block in told["blocked_by"]:
        assert " ".join(block["because"].split()[:6]) in text, block["because"]


@pytest.mark.slow
def test_from_a_new_folder_to_a_page_as_the_readme_says(tmp_path):
    """The example's own sheet typed into a fresh folder, with the procedure copied beside it."""
    new = process("job", "new", tmp_path / "mine", "--procedure", EXAMPLES / "procedures" / "kbw-lp-04.toml")
    assert new.returncode == 0
    for file in (EXAMPLES / "dosing-nozzle").iterdir():
        shutil.copy(file, tmp_path / "mine" / file.name)
    typed = tmp_path / "mine" / "job.toml"
    text = typed.read_text(encoding="utf-8").replace("../procedures/kbw-lp-04.toml", "procedure.toml")
    typed.write_text(text, encoding="utf-8")

    assert process("job", "run", tmp_path / "mine").returncode == 3
    assert process("verify", tmp_path / "mine" / "out" / "certificate.pdf").returncode == 5
    assert process("verify", tmp_path / "mine" / "out" / "record.json").returncode == 0


def test_the_blank_card_is_printed_for_the_pen(tmp_path):
    """Where there is no network the card is filled in by hand and typed in later."""
    out = tmp_path / "blank.pdf"
    done = command("job", "blank", "--out", out, "--number", "KBW-2026-040")
    text = subprocess.run(["pdftotext", "-layout", str(out), "-"], capture_output=True, text=True, check=True).stdout

    assert done.returncode == 0 and "KBW-2026-040" in text
