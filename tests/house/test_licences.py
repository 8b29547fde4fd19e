"""May this be handed on? What it needs at run time has a licence that allows it, and what lies in it carries its own notice.

The libraries are installed beside the program, each with its own notice; only the letters of the printed page lie in it.
LGPL stands for a library that is used and can be exchanged, as those are; GPL and AGPL would reach over the whole.
"""

import re
from importlib import metadata
from pathlib import Path

import pytest

HERE = Path(__file__).parents[2]
LOCKED = sorted(set(re.findall(r"^([A-Za-z0-9_.-]+)==", (HERE / "requirements" / "run.lock").read_text("utf-8"), re.M)))
GOOD = re.compile(r"\b(MIT|BSD|Apache|PSF|Python Software Foundation|MPL|Mozilla Public|ISC|Zlib|HPND|Unlicense|LGPL)\b")
OVER_ALL = re.compile(r"(?<!L)\bA?GPL|GNU (Affero )?General Public|\bSSPL|Commons Clause|Non-?Commercial", re.I)
FOREIGN = (".ttf", ".otf", ".woff", ".woff2", ".wasm", ".min.js", ".min.css")


def licence_of(name):
    about = metadata.metadata(name)
    said = [about.get("License-Expression") or "", (about.get("License") or "")[:60]]
    return " ".join([*said, *(one for one in about.get_all("Classifier") or () if one.startswith("License"))]).strip()


def allowed(said):
    return bool(GOOD.search(said)) and not OVER_ALL.search(said)


@pytest.mark.parametrize("name", LOCKED)
def test_what_it_needs_has_a_licence_that_lets_it_be_handed_on(name):
    try:
        said = licence_of(name)
    except metadata.PackageNotFoundError:
        pytest.skip("not for this system")

    assert allowed(said), f"{name}: {said or 'says none'}"


@pytest.mark.parametrize(("said", "may"), [
    ("GPL-3.0-or-later", False), ("License :: OSI Approved :: GNU General Public License v3 (GPLv3)", False),
    ("AGPL-3.0", False), ("", False), ("Proprietary", False), ("LGPL-3.0-only", True), ("MIT OR Apache-2.0", True)])
def test_a_licence_that_reaches_over_the_whole_is_seen(said, may):
    assert allowed(said) is may


def test_what_others_made_and_lies_in_it_has_its_notice_beside_it():
    files = [file for file in (HERE / "src").rglob("*") if file.name.endswith(FOREIGN)]

    assert files and {file.name for file in files if not (file.parent / "LICENSE.txt").is_file()} == set()
