"""Can the cards be worked by: one page beside the gun, two pages for a pen in a glove?"""

from datetime import UTC, datetime

import pytest

from soundedge.basis.errors import NotEnough, OutOfRange
from soundedge.report.blank_card import BlankCard, blank_card_pdf
from soundedge.report.view import Table
from soundedge.report.work_card import WorkCard, work_card_pdf

from . import looking

NOON = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)


def work_card(stages=6, never=3, **changes):
    values = dict(
        number="KBW-2031-014",
        part="Mixer cover KBW-MC-07",
        made_at=NOON,
        set_points=(
            ("Gun air", "480 °C"),
            ("Preheat of the steel", "at least 140 °C"),
            ("Film surface, not above", "260 °C"),
        ),
        stages=Table(
            ("No.", "Stage", "Until"),
            tuple((str(n + 1), f"Stage word {n}", "gloss over the whole spot") for n in range(stages)),
        ),
        never=tuple(f"Never number {n}: switch the heat off." for n in range(never)),
        cautions=("Heat gloves and extraction.",),
    )
    values.update(changes)
    return WorkCard(**values)


def test_a_work_card_shows_all_set_points_stages_and_what_is_never_done():
    card = work_card()
    pdf = work_card_pdf(card)
    text = looking.text_of(pdf)

    assert looking.pages(pdf) == 1
    for words in (
        [w for pair in card.set_points for w in pair]
        + [w for row in card.stages.rows for w in row]
        + list(card.never + card.cautions)
    ):
        assert "".join(words.split()) in looking.joined(pdf)
    assert "Computed temperatures are estimates." in text
    assert "made 4 May 2031 12:00 UTC" in text


def test_a_full_work_card_is_shrunk_to_stay_one_page_and_loses_nothing():
    pdf = work_card_pdf(work_card(stages=22, never=8))

    assert looking.pages(pdf) == 1
    assert "Stage word 21" in looking.text_of(pdf) and "Never number 7" in looking.text_of(pdf)


def test_a_work_card_says_never_safe():
    assert "safe" not in looking.text_of(work_card_pdf(work_card())).lower()


def test_a_dated_card_is_archival_and_an_undated_one_says_so():
    assert "<pdfaid:part>3</pdfaid:part>" in looking.metadata(work_card_pdf(work_card()))
    undated = work_card_pdf(work_card(made_at=None))
    assert "pdfaid" not in looking.metadata(undated)
    assert undated == work_card_pdf(work_card(made_at=None))


def test_a_work_card_without_anything_to_do_is_refused():
    with pytest.raises(NotEnough, match="Plan the heat first"):
        work_card_pdf(WorkCard("N-1"))


@pytest.mark.parametrize("layers, spots, readings", [(6, 6, 5), (5, 8, 8), (7, 6, 3), (1, 1, 1)])
def test_a_blank_card_has_two_pages_whatever_is_asked_for(layers, spots, readings):
    pdf = blank_card_pdf(BlankCard("N-1", layers=layers, spots=spots, readings=readings, made_at=NOON))

    assert looking.pages(pdf) == 2
    assert looking.whole(pdf)[0]


def test_a_blank_card_asks_for_what_the_job_sheet_asks():
    text = looking.text_of(blank_card_pdf(BlankCard("KBW-2031-014", tag="KBW-MC-07", hint_cool="max 40")))

    for words in (
        "job number",
        "KBW-2031-014",
        "KBW-MC-07",
        "humidity, %",
        "steel, °C",
        "profile, µm",
        "salts, mg/m²",
        "dust rating",
        "% LEL",
        "lot",
        "emissivity",
        "fire watch until",
        "gauge on shim, before",
        "gauge on shim, after",
        "voltage set, V",
        "measured, V",
        "coupon",
        "part earthed",
        "holes found",
        "what I reviewed",
        "not measured",
        "max 40",
    ):
        assert words in text, words


@pytest.mark.parametrize("asked", [{"layers": 0}, {"spots": 9}, {"readings": 9}, {"layers": 7, "spots": 7}])
def test_more_lines_than_the_card_has_room_for_are_refused(asked):
    with pytest.raises(OutOfRange, match="second card"):
        blank_card_pdf(BlankCard(**asked))


def test_boxes_are_large_enough_for_a_glove():
    """No box of the tables is lower than 10 mm: measured on the drawn page, line to line."""
    import numpy as np

    page = looking.printed(blank_card_pdf(BlankCard()), dots=127)[1]  # 5 points a mm
    ink = np.array(page.convert("L")) < 128
    column = ink[:, (27 * 5) : (28 * 5)].all(axis=1)  # inside the first column of the layer table
    lines = [n for n in range(1, len(column)) if column[n] and not column[n - 1]]
    gaps = np.diff(lines[1:7]) / 5

    assert len(gaps) == 5 and gaps.min() >= 10.0
