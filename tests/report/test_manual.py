"""Does the manual page show what happens?"""

import re
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "report.md"


def test_what_the_manual_shows_runs_and_answers_as_shown():
    text = PAGE.read_text(encoding="utf-8")
    blocks = re.findall(r"```python\n(.*?)```", text, re.S)
    room: dict = {}

    for block in blocks:
        exec(compile(block, "docs/report.md", "exec"), room)

    assert room["pdf"].startswith(b"%PDF-1.7")
    shown = re.search(r"# '(Unchanged since .*)'", text)[1]
    assert room["check_pdf"](room["signed"], room["key"].certificate_pem).sentence == shown


def test_the_figures_the_manual_gives_are_those_of_the_code():
    from soundedge.report import pictures, sign

    text = PAGE.read_text(encoding="utf-8")

    assert pictures.PIXELS_MAX == 60_000_000 and "60 million points" in text
    assert pictures.LONGEST_PX == 1500 and "1500 points" in text
    assert sign.KEY_BITS == 3072 and "RSA-3072" in text
