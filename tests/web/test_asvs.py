"""Every line of docs/asvs.md names tests that exist, or says with a date why there is none."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LINES = [
    [cell.strip() for cell in line.strip().strip("|").split("|")]
    for line in (ROOT / "docs" / "asvs.md").read_text(encoding="utf-8").splitlines()
    if re.match(r"\| \d+\.\d+\.\d+ ", line)
]


def test_there_are_as_many_lines_as_were_chosen():
    assert len(LINES) >= 75
    assert len({line[0] for line in LINES}) == len(LINES)


@pytest.mark.parametrize("line", LINES, ids=[line[0] for line in LINES])
def test_a_line_names_a_test_that_exists_or_a_dated_reason(line):
    row, level, demand, kept, proof = line
    assert level in ("1", "2", "3") and demand and kept
    named = re.findall(r"`([\w/]+\.py)::(\w+)`", proof)
    for file, name in named:
        text = (ROOT / "tests" / file).read_text(encoding="utf-8")
        assert re.search(rf"^def {name}\(", text, re.MULTILINE), f"{row}: {file} has no {name}"
    if not named:
        assert re.search(r"20\d\d-\d\d-\d\d: .{15,}", proof), f"{row} has neither a test nor a dated reason"
