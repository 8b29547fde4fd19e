"""Do three pages hold what a reader needs, at the same place every time, for every part of the demonstration?

The words and boxes of page 1 are held as a golden file. After a change that is meant: `python -m tests.report.test_pages`.
"""

import json
import re
import sys
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import pytest

from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.report.certificate import certificate_pdf
from soundedge.report.page_one import PROOFS, proofs
from soundedge.services.evidence.certificate_page import certificate
from soundedge.services.evidence.records import record_of
from soundedge.services.folder.contents import read_folder

from . import looking, sample

ROOT = Path(__file__).parents[2]
GOLDEN = Path(__file__).parent / "page_one.golden.json"
EXAMPLES = sorted(file.parent.name for file in ROOT.glob("examples/*/job.toml"))


def page_one(pdf):
    """Every line of the first page: left and top in mm, to half a millimetre, and its words."""
    _, told, _ = looking.run(pdf, "pdftotext", "-bbox-layout", "-f", "1", "-l", "1", "FILE", "-")
    lines = []
    for left, top, inside in re.findall(r'<line xMin="([\d.]+)" yMin="([\d.]+)"[^>]*>(.*?)</line>', told, re.DOTALL):
        words = " ".join(re.findall(r">([^<]+)</word>", inside))
        lines.append([*(round(float(one) / 72 * 25.4 * 2) / 2 for one in (left, top)), words])
    return sorted(lines, key=lambda line: (line[1], line[0]))


@cache
def made(example):
    """The judged job of an example, and its page."""
    read = read_folder(ROOT / "examples" / example)
    events = events_of(read.sheet)
    outcome = judge_job(events)
    record = record_of(events, outcome, now=datetime(2031, 5, 5, tzinfo=UTC))
    return outcome, certificate(outcome, record, read, code="SE1|" + "x" * 300)


def pages_of(pdf):
    """How many pages it says it has before the annex, and in it."""
    found = re.search(r"page 1 of (\d+)(?:, annex (\d+))?", text_of_page(pdf, 1))
    return int(found[1]), int(found[2] or 0)


def text_of_page(pdf, number):
    return looking.run(pdf, "pdftotext", "-layout", "-f", str(number), "-l", str(number), "FILE", "-")[1]


def test_the_words_and_boxes_of_page_one_stand_where_they_always_stood():
    pages = {name: page_one(certificate_pdf(view)) for name, view in
             (("certificate", sample.certificate()), ("hold notice", sample.hold_notice()))}

    assert pages == json.loads(GOLDEN.read_text(encoding="utf-8"))


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES)
def test_every_part_has_three_pages_at_most_and_a_notice_one(example):
    outcome, pdf = made(example)
    first, annex = pages_of(pdf)

    assert first + annex == looking.pages(pdf) and annex >= 1
    assert first <= 3 if outcome.verdict == "released" else first == 1
    assert [number for number in range(1, first + annex + 1) if not text_of_page(pdf, number).strip()] == []


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES)
def test_page_one_says_what_holds_and_by_what(example):
    """A release: five proofs, each with its limit, and every signature. Anything else: what holds it and what to do."""
    outcome, pdf = made(example)
    text = " ".join(text_of_page(pdf, 1).split())

    assert outcome.job.the("job.opened").number in text and outcome.job.the("part.identified").tag in text
    for event in outcome.job.of("hold_point.signed", "release.signed"):
        assert outcome.job.name_of(event.by) in text and f"{event.at:%H:%M} UTC" in text
    assert "What was not proved" in text and "Check it yourself" in text
    if outcome.verdict == "released":
        for proof, step, _ in PROOFS:
            assert (proof in text) or step not in outcome.steps  # a cut that is only dressed was never heated
        rows = [row for proof in proofs(outcome) for row in proof.rows]
        joined = "".join(text.split())
        assert all("".join(words.split()) in joined for row in rows for words in (row.value, row.limit)), rows
        assert any(row.bar for row in rows) and "What holds it" not in text
    else:
        assert text.count("Next: ") == len(outcome.blocked_by) > 0
        assert "Measured against the limits" not in text


@pytest.mark.slow
@pytest.mark.parametrize("example", EXAMPLES)
def test_nothing_of_a_part_is_printed_outside_the_margins_and_every_page_is_whole(example):
    _, pdf = made(example)

    assert looking.whole(pdf)[0]
    for picture in looking.printed(pdf, dots=40):
        width, height = picture.size
        edge = round(18 / 210 * width)
        for strip in ((0, 0, edge, height), (width - edge, 0, width, height)):
            assert picture.convert("L").crop(strip).getextrema()[0] > 200


@pytest.mark.slow
def test_a_released_page_shows_map_and_both_looks():
    """Each picture of page 1 has words for who cannot see it."""
    from soundedge.report.page_looks import looks

    outcome, _ = made("two-chip-cover")
    shown = looks(outcome, {}, None)

    assert [picture.caption.split()[0] for picture in shown] == ["Where.", "As", "Prepared"]
    assert all("Damage A" in picture.alt or "A" in picture.alt for picture in shown)
    assert all(picture.data.startswith(b"<svg") for picture in shown)


if __name__ == "__main__":
    told = {"certificate": page_one(certificate_pdf(sample.certificate())),
            "hold notice": page_one(certificate_pdf(sample.hold_notice()))}
    rows = {name: ",\n".join(f"  {json.dumps(line, ensure_ascii=False)}" for line in lines) for name, lines in told.items()}
    said = ",\n".join(f" {json.dumps(name)}: [\n{lines}\n ]" for name, lines in rows.items())
    GOLDEN.write_text(f"{{\n{said}\n}}\n", encoding="utf-8")
    sys.stdout.write(f"{GOLDEN}\n")
