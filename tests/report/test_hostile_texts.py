"""Can a text somebody typed do more than be printed?"""

import re
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from soundedge.report.certificate import certificate_pdf
from soundedge.report.fonts import advances, drawable, width_em
from soundedge.report.plots import bar
from soundedge.report.typeset import BREAK, breakable, fitted
from soundedge.report.view import (
    WORDS,
    CertificateView,
    Correction,
    FindingRow,
    Hold,
    Measure,
    Picture,
    Proof,
    Section,
    Signature,
    Spot,
    Step,
    Table,
)

from ..tries import tries
from . import looking, sample

NOON = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)

MARKUP = [
    '#read("/etc/passwd")',
    "#panic(1)",
    "#{ 1 + 1 }",
    "$x^2$ costs $5",
    "*bold* _thin_ `code`",
    "@label <label>",
    "= Heading",
    "- item",
    "+ item",
    "/ term: x",
    "\\u{41} \\# \\",
    "// gone",
    "/* gone */",
    "[x](y)",
    "]]#",
    "\"quoted\" 'single'",
    "https://example.org/a",
    "~ -- --- ...",
    '#import "@preview/x:1.0.0"',
    "<script>alert(1)</script>",
    "%PDF-1.7 endobj",
    "{{ x }}",
    "&amp; &#35;",
    '"}, "title": "Forged',
    "#(\n)",
    "#set page(width: 1cm)",
]


def everywhere(words):
    """A view with the same text in every place a text can stand."""
    cells = (words,) * 3
    table = Table((words, words, words), (cells, cells), caption=words, numbers=(1,))
    part = Section((words,), (table,), (Picture(sample.PLAN_SVG, words, words),))
    return CertificateView(
        number=words,
        revision=words,
        title="Hold notice",
        verdict=words,
        reason=words,
        issued_at=NOON,
        issuer=(words, words),
        replaces=words,
        example_mark=words,
        scope=((words, words),) * 3,
        looks=(Picture(sample.PLAN_SVG, words, words),) * 2,
        proofs=(Proof(words, (Measure(words, words, words, bar=bar(1.0, 0.1, 0.5, None)),)),),
        people=(words,),
        film=part,
        heat=part,
        identity=((words, words),) * 3,
        procedure=((words, words),),
        holds=(Hold(words, words, words, words, words),),
        found=part,
        decided=part,
        findings=(FindingRow(*(words,) * 6),),
        done=part,
        steps=(Step(*(words,) * 5),),
        measured=part,
        spots=(Spot(words, words, (words, "940"), words),),
        readings_are=words,
        not_tested=(words,),
        cautions=(words,),
        corrections=(Correction(*(words,) * 7),),
        repeats=((words, words),),
        signatures=(Signature(*(words,) * 6),),
        instruments=table,
        lots=table,
        sources=table,
        record_digest="ab" * 32,
        record_facts=((words, words),),
        how_to_verify=(words,),
        qr_text=words,
        extra=((words, part),),
    )


def test_markup_is_printed_as_typed_in_every_place():
    for words in MARKUP:
        pdf = certificate_pdf(everywhere(words))
        printed = looking.joined(pdf)

        assert printed.count("".join(words.split())) > 40, words
        assert "root:x:" not in printed


def test_markup_in_a_title_ends_in_the_metadata_as_text():
    words = "A</dc:title><x>&\"'"

    said = looking.metadata(certificate_pdf(CertificateView(words, "Hold notice", "Held", "Reason.", NOON)))

    assert "A&lt;/dc:title&gt;" in said
    assert "<x>" not in said


@pytest.mark.parametrize(
    "words, shown",
    [
        ("\N{FIRE}\N{WRENCH} hot", "[U+1F525][U+1F527] hot"),
        ("\u6f0f\u70b9", "[U+6F0F][U+70B9]"),
        ("bell\x07 null\x00 escape\x1b", "bell[U+0007] null[U+0000] escape[U+001B]"),
        ("release\u202ednettiw", "release[U+202E]dnettiw"),
        ("one\u200btwo\u2066three", "one[U+200B]two[U+2066]three"),
        ("\ue000 \uf8ff private", "[U+E000] [U+F8FF] private"),
        ("half \ud800 pair", "half [U+D800] pair"),
        ("tab\there", "tab here"),
        ("soft\u00adhyphen", "soft[U+00AD]hyphen"),
    ],
)
def test_what_cannot_be_drawn_or_seen_is_written_out(words, shown):
    assert drawable(words) == shown
    pdf = certificate_pdf(CertificateView("N-1", "Hold notice", "Held", words, NOON))
    assert "".join(shown.split()) in looking.joined(pdf)


@pytest.mark.parametrize(
    "words",
    ["\u05e9\u05dc\u05d5\u05dd", "\u0633\u0644\u0627\u0645", "Grüße, Åre, Łódź", "Ωμέγα", "Ремонт", "½ ≥ ≤ ± µ ² °"],
)
def test_other_scripts_are_printed_as_they_are(words):
    assert drawable(words) == words
    pdf = certificate_pdf(everywhere(words))
    assert looking.whole(pdf)[0]
    if not any("\u0590" <= c <= "\u06ff" for c in words):  # joined letters come out of a PDF in their joined forms
        assert "".join(words.split()) in looking.joined(pdf)


def test_nothing_outside_is_read_by_a_drawing():
    for inside in (
        b'<image href="/etc/passwd"/>',
        b"<image xlink:href='http://example.org/a.png'/>",
        b"<script>1</script>",
        b"<style>@import 'x';</style>",
        b'<rect style="fill:url(http://example.org)"/>',
        b"<foreignObject/>",
    ):
        drawing = (
            b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">' + inside + b"</svg>"
        )
        with pytest.raises(Exception, match="outside itself"):
            certificate_pdf(sample.certificate(found=Section(pictures=(Picture(drawing, "a"),))))


def test_an_entity_bomb_in_a_drawing_is_refused():
    bomb = b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><svg>&b;</svg>'

    with pytest.raises(Exception, match="outside itself"):
        certificate_pdf(sample.certificate(found=Section(pictures=(Picture(bomb, "a"),))))


def test_a_letter_the_page_lacks_inside_a_drawing_does_not_break_the_page():
    letters = "\N{FIRE} \u6f0f x"
    drawing = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90 20"><text y="12">{letters}</text></svg>'.encode()

    pdf = certificate_pdf(sample.certificate(found=Section(pictures=(Picture(drawing, "a"),))))

    assert looking.whole(pdf)[0]


def test_the_font_widths_are_those_of_another_reader():
    """Against fontTools' reading of the same file."""
    ttf = pytest.importorskip("fontTools.ttLib")
    from soundedge.report.fonts import FOLDER, WIDEST

    font = ttf.TTFont(FOLDER / WIDEST)
    metrics, units = font["hmtx"].metrics, font["head"].unitsPerEm
    theirs = {code: metrics[glyph][0] / units for code, glyph in font.getBestCmap().items()}

    assert advances() == theirs


printable = st.text(max_size=40) | st.sampled_from(MARKUP) | st.text(st.characters(codec="ascii"), max_size=200)
anything = st.text(st.characters(), max_size=30)


@given(anything)
@tries(300)
def test_a_drawable_text_stays_as_it_is_when_made_drawable_again(words):
    once = drawable(words)

    assert drawable(once) == once
    assert BREAK not in once
    assert all(char == "\n" or ord(char) in advances() for char in once)


@given(printable, st.floats(1, 40))
@tries(200)
def test_places_to_break_change_no_letter_and_leave_no_piece_too_wide(words, room):
    text = drawable(words)
    broken = breakable(text, room)

    assert broken.replace(BREAK, "") == text
    for word in broken.split():
        assert BREAK in word or width_em(word) <= room or len(re.sub(r"\W", "", word)) <= 1 or len(word) == 1


@given(st.lists(st.lists(printable, min_size=1, max_size=6), min_size=1, max_size=6))
@tries(150)
def test_columns_share_the_whole_width_and_lose_no_cell(rows):
    columns = max(map(len, rows))

    table = fitted(["H"] * columns, rows, width_em_total=50)

    assert sum(table["columns"]) == pytest.approx(1, abs=1e-4)
    assert min(table["columns"]) > 0
    for row, given_row in zip(table["rows"], rows):
        assert [cell.replace(BREAK, "") for cell in row] == [drawable(c) for c in given_row] + [""] * (
            columns - len(given_row)
        )


tables = st.integers(1, 5).flatmap(
    lambda n: st.builds(
        Table,
        st.tuples(*[printable] * n),
        st.lists(st.tuples(*[printable] * n), max_size=5).map(tuple),
        caption=printable,
        numbers=st.sets(st.integers(0, n - 1)).map(tuple),
    )
)
sections = st.builds(Section, st.lists(printable, max_size=3).map(tuple), st.lists(tables, max_size=2).map(tuple))
pairs = st.lists(st.tuples(printable, printable), max_size=4).map(tuple)


def several(kind, count):
    return st.lists(st.builds(kind, *[printable] * count), max_size=3).map(tuple)


views = st.builds(
    CertificateView,
    number=printable,
    title=st.sampled_from(sorted(WORDS)),
    verdict=printable,
    reason=printable,
    issued_at=st.datetimes(datetime(1900, 1, 2), datetime(2200, 1, 1), timezones=st.just(UTC)),
    revision=printable,
    issuer=st.lists(printable, max_size=3).map(tuple),
    replaces=printable,
    example_mark=printable,
    scope=pairs,
    proofs=st.lists(st.builds(Proof, printable, several(Measure, 3)), max_size=2).map(tuple),
    people=st.lists(printable, max_size=2).map(tuple),
    film=st.none() | sections,
    heat=st.none() | sections,
    identity=pairs,
    procedure=pairs,
    holds=several(Hold, 5),
    found=st.none() | sections,
    decided=st.none() | sections,
    findings=several(FindingRow, 6),
    done=st.none() | sections,
    steps=several(Step, 5),
    measured=st.none() | sections,
    spots=st.lists(
        st.builds(Spot, printable, printable, st.lists(printable, max_size=8).map(tuple), printable), max_size=4
    ).map(tuple),
    not_tested=st.lists(printable, max_size=3).map(tuple),
    cautions=st.lists(printable, max_size=3).map(tuple),
    corrections=several(Correction, 7),
    repeats=pairs,
    signatures=several(Signature, 6),
    instruments=st.none() | tables,
    lots=st.none() | tables,
    sources=st.none() | tables,
    record_digest=st.just("") | st.text("0123456789abcdef", min_size=64, max_size=64),
    record_facts=pairs,
    how_to_verify=st.lists(printable, max_size=3).map(tuple),
    qr_text=st.text(max_size=60),
    extra=st.lists(st.tuples(printable, sections), max_size=2).map(tuple),
)


@pytest.mark.slow
@given(views, st.binary(max_size=200))
@tries(60, suppress_health_check=list(HealthCheck))
def test_any_view_becomes_a_valid_archival_page(view, record):
    pdf = certificate_pdf(view, {"record.json": record})

    ok, why = looking.whole(pdf)
    assert ok, why
    assert looking.attached(pdf) == {"record.json": record}
    assert "<pdfaid:part>3</pdfaid:part>" in looking.metadata(pdf)
    assert all(embedded == "yes" for _, embedded in looking.fonts_of(pdf))
