"""Is one sign read for one word everywhere: by the pages, the certificate and the blank card, from one table?"""

import re
from pathlib import Path

import pytest

from soundedge.basis.signs import PATHS, SAYS, SIGNS, sign_of
from soundedge.report import blank_card, certificate
from soundedge.report.from_job import TITLES, VERDICTS
from soundedge.report.signs import sign_svg
from soundedge.report.view import WORDS

SOURCE = Path(__file__).parents[2] / "src" / "soundedge"


def test_every_sign_is_drawn_once_and_said():
    assert set(PATHS) == set(SAYS) == set(SIGNS.values())
    for sign, path in PATHS.items():
        holders = [file for file in SOURCE.rglob("*") if file.suffix in (".py", ".typ", ".html", ".css", ".js", ".svg")
                   and path[:24] in file.read_text(encoding="utf-8")]
        assert [file.name for file in holders] == ["signs.py"], (sign, holders)


def test_every_outcome_of_a_job_has_its_sign_on_paper_and_it_is_that_of_the_screen():
    assert set(VERDICTS) | set(WORDS.values()) <= set(SIGNS)
    assert set(WORDS) == set(TITLES.values())
    signs = [sign_of(word) for word in ("released", "held", "engineering_review", "rejected")]
    assert signs == ["disc", "dash", "diamond", "square"]


@pytest.mark.parametrize("door", [certificate, blank_card])
def test_paper_draws_them_from_the_table_alone(door):
    assert door.sign_svg is sign_svg
    for sign, path in PATHS.items():
        assert path in sign_svg(sign).decode()


def test_the_templates_name_only_signs_of_the_table():
    """A template reads a sign by its name; no ring, circle or cross of its own stands for a verdict."""
    named = set()
    for file in (SOURCE / "report" / "typ").glob("*.typ"):
        named |= set(re.findall(r"picture/sign-([a-z]+)\.svg", file.read_text(encoding="utf-8")))
        assert "#let ring" not in file.read_text(encoding="utf-8"), file

    assert named <= set(PATHS)
