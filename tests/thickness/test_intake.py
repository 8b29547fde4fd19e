"""Readings from tables, typed, pasted and over a cable: none is lost, none is guessed."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soundedge.basis.errors import BenchError
from soundedge.basis.question import answer
from soundedge.thickness.ask import FORMS
from soundedge.thickness.cable import LinePattern, Lines
from soundedge.thickness.intake import (
    Row,
    decode,
    harmless,
    number,
    read_table,
    read_typed,
    split_unit,
    spots_of,
    write_table,
)

from ..tries import tries


def films(text, **more):
    return [round(row.value_um, 3) for row in read_table(text, **more).rows]


def test_the_head_names_the_unit():
    assert films("spot,DFT (µm)\n1,1200\n") == [1200]
    assert films("spot;Film [mil]\n1;43,3\n") == [1099.82]
    assert films("spot\treading_mm\n1\t1.25\n") == [1250]


def test_the_option_names_the_unit_and_may_not_contradict_the_head():
    assert films("spot,reading\n1,40\n", unit="mil") == [1016]
    with pytest.raises(BenchError, match="Which is it"):
        read_table("spot,reading [um]\n1,40\n", unit="mil")
    with pytest.raises(BenchError, match="no unit"):
        read_table("spot,reading\n1,40\n")


def test_a_unit_beside_the_number_is_believed():
    assert films("spot,reading\n1,40 mil\n1,1100 µm\n2,1.2mm\n") == [1016, 1100, 1200]


def test_a_line_that_cannot_be_read_is_kept_with_its_number_and_reason():
    table = read_table("spot,reading um\n1,1200\n1,12OO\n1,-5\n1,\n2,1210\n2,1 200\n")

    assert [row.line for row in table.rows] == [2, 6]
    assert [(a.line, a.because.split("'")[-1].strip()) for a in table.aside] == [
        (3, "is not a number."), (4, "is negative; film is not."), (5, "There is no reading on this line."),
        (7, "is not a number.")]


def test_the_decimal_sign_is_never_guessed_wrongly():
    assert films("spot;reading um\n1;1200,5\n2;1100\n") == [1200.5, 1100]
    table = read_table("spot;reading um\n1;1200,5\n2;1.100\n")
    assert len(table.rows) == 1 and "point" in table.aside[0].because
    with pytest.raises(BenchError, match="both"):
        read_table("spot,reading um\n1,1200\n", decimal=",")


def test_columns_may_be_named_and_several_may_hold_readings():
    text = "Pt,T1,T2,T3,Zone\nA,1200,1210,,repair\nB,1100,1105,1111,overlap\n"
    columns = {"spot": "Pt", "reading": ["T1", "T2", "T3"], "where": "Zone"}

    spots = spots_of(read_table(text, columns=columns, unit="um").rows)

    assert spots == [{"id": "A", "readings_um": [1200, 1210], "where": "repair", "area": "1"},
                     {"id": "B", "readings_um": [1100, 1105, 1111], "where": "overlap", "area": "1"}]
    with pytest.raises(BenchError, match="no column 'T9'"):
        read_table(text, columns={"reading": "T9"}, unit="um")
    with pytest.raises(BenchError, match="not a meaning"):
        read_table(text, columns={"colour": "T1"}, unit="um")
    with pytest.raises(BenchError, match="No column is known"):
        read_table("a,b\n1,2\n", columns={"spot": "a"}, unit="um")


def test_a_table_without_a_head():
    assert films("1200\n1210\n", unit="um") == [1200, 1210]
    assert [r.spot for r in read_table("1200\n1210\n1190\n1180\n", unit="um", per_spot=3).rows] == ["1", "1", "1", "2"]
    assert [(r.spot, r.value_um) for r in read_table("A7,1200,1210\nA8,1190\n", unit="um").rows] == [
        ("A7", 1200), ("A7", 1210), ("A8", 1190)]


def test_places_times_and_strange_zones():
    table = read_table("spot,reading um,x,y,at,where\n1,1200,10,20,2031-05-04 09:12,repair\n2,1200,1o,20,,repair\n"
                       "3,1200,1,2,yesterday,repair\n4,1200,1,2,,roof\n")

    assert (table.rows[0].x, table.rows[0].y, table.rows[0].at) == (10, 20, "2031-05-04 09:12")
    assert len(table.rows) == 1 and [a.line for a in table.aside] == [3, 4, 5]


def test_bytes_are_decoded_by_name():
    assert decode("Ø;µm".encode("utf-8-sig")) == ("Ø;µm", "utf-8-sig")
    assert decode("µm".encode("cp1252")) == ("µm", "cp1252")
    assert decode("1;2".encode("utf-16"))[1] == "utf-16"
    for raw in (b"\x81\x8d", b"\x89PNG\r\n\x1a\n\x00\x00"):
        with pytest.raises(BenchError, match="not text"):
            decode(raw)


def test_what_is_written_can_be_read_again_and_runs_nothing():
    rows = [Row(1, '=cmd|"/c calc"!A1', 1200.5), Row(2, "+1", 1100.0), Row(3, "Spot, 3", 1e-3, "overlap", "@a", 1.5, -2.0)]

    text = write_table(rows)

    for line in list(csv.reader(io.StringIO(text)))[1:]:
        for i in (0, 2, 3, 6):
            assert not line[i].startswith(("=", "+", "-", "@", "\t", "\r"))
    again = read_table(text).rows
    assert [(r.spot, r.value_um, r.where, r.area, r.x, r.y) for r in again] == [
        (r.spot, r.value_um, r.where, r.area, r.x, r.y) for r in rows]


@tries(80)
@given(st.lists(st.tuples(st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=12),
                          st.floats(0.001, 20_000)), min_size=1, max_size=5))
def test_any_spot_name_survives_the_way_out_and_in(pairs):
    rows = [Row(i, name.strip() or "1", round(value, 9)) for i, (name, value) in enumerate(pairs)]

    again = read_table(write_table(rows)).rows

    assert [r.value_um for r in again] == [r.value_um for r in rows]


@tries(200)
@given(st.text(max_size=200), st.sampled_from([None, "um", "mil"]), st.sampled_from([None, ",", "."]))
def test_any_text_is_read_or_kept_aside_or_refused(text, unit, decimal):
    try:
        table = read_table(text, unit=unit, decimal=decimal)
    except BenchError as bad:
        assert bad.message
        return
    assert all(row.value_um >= 0 for row in table.rows)


@pytest.mark.parametrize("text, value", [("1200", 1200), (" 43,3 ", 43.3), ("1.2e3", 1200), ("−3", -3), (".5", 0.5)])
def test_numbers(text, value):
    assert number(text, "," if "," in text else ".") == (value, "")


@pytest.mark.parametrize("text", ["", "12OO", "1 200", "1,2,3", "nan", "inf", "0x10", "1_000", "1e999", "٣"])
def test_what_is_no_number(text):
    assert number(text)[1]


def test_a_gauge_that_types_and_a_clipboard():
    assert [r.value_um for r in read_typed("1200 µm\n43.3 mil\n1.25mm\n").rows] == pytest.approx([1200, 1099.82, 1250])
    assert [r.value_um for r in read_typed("1200 1210\t1190\r\n", "um").rows] == [1200, 1210, 1190]
    table = read_typed("1200 um 13OO um 1100")
    assert len(table.rows) == 1 and len(table.aside) == 2 and "no unit" in table.aside[1].because


def feed(pattern, *pieces, **more):
    stream = Lines(LinePattern(pattern, **more))
    rows = [row for piece in pieces for row in stream.feed(piece, "2031-05-04T09:12:00Z")]
    return rows + stream.close(), stream.aside


@pytest.mark.parametrize("end", [b"\r\n", b"\n", b"\r"])
def test_lines_of_a_cable_with_any_ending_and_any_cut(end):
    whole = end.join([b"N=1 T= 1200 um", b"N=2 T=43.3 mil", b"noise", b"N=3 T=1190 um", b""])
    for cut in range(1, len(whole)):
        rows, aside = feed("N={spot} T={value} {unit}", whole[:cut], whole[cut:])
        assert [(r.spot, round(r.value_um, 2)) for r in rows] == [("1", 1200), ("2", 1099.82), ("3", 1190)]
        assert [a.text for a in aside] == ["noise"] and rows[0].at == "2031-05-04T09:12:00Z"


def test_a_line_without_end_is_cut_and_kept_aside_once():
    rows, aside = feed("{value} {unit}", b"x" * 3000, b"y" * 3000 + b"\n1200 um\n")

    assert [r.value_um for r in rows] == [1200] and len(aside) == 1 and "does not end" in aside[0].because


def test_signs_in_a_pattern_stand_for_themselves():
    rows, _ = feed("(a+)+ $ {value}*", b"(a+)+ $ 1200*\n", unit="um")
    assert [r.value_um for r in rows] == [1200]


@pytest.mark.parametrize("pattern, unit, words", [
    ("T=", "um", "no {value}"), ("{value} {value}", "um", "twice"), ("{value} {colour}", "um", "not a place"),
    ("{value}", None, "unit"), ("{value}", "furlong", "not a unit"), ("x" * 201 + "{value}", "um", "characters"),
])
def test_a_pattern_that_cannot_work_is_refused(pattern, unit, words):
    with pytest.raises(BenchError, match=words.replace("{", r"\{")):
        LinePattern(pattern, unit).compiled()


@tries(100)
@given(st.lists(st.binary(max_size=40), max_size=6))
def test_any_bytes_on_the_cable_are_rows_or_kept_aside(pieces):
    rows, aside = feed("{spot} {value} {unit}", *pieces)

    assert all(row.value_um >= 0 for row in rows) and all(a.because for a in aside)


def test_the_table_question_shows_a_preview():
    found = answer(FORMS, {"table": "spot;DFT [mil];who\n1;43,3;RA\n2;4o;RA\n"})

    assert found.columns == {"spot": ["spot"], "reading": ["DFT [mil]"]} and found.unused == ["who"]
    assert (found.decimal, found.delimiter, found.unit, found.unit_from) == (",", ";", "mil", "the head")
    assert found.readings == 1 and found.set_aside[0].line == 3
    assert answer(FORMS, {"table": "1200 um 1190 um", "typed": True}).readings == 2


def test_formulas_are_made_harmless():
    assert [harmless(c) for c in ("=1", "+1", "-1", "@a", "\tx", "Spot 1")] == ["'=1", "'+1", "'-1", "'@a", "'\tx", "Spot 1"]


@pytest.mark.parametrize("cell", ["1" + " " * 300_000 + "x", "[" * 300_000, "(" * 300_000, "1 um" * 90_000, "\u00b5" * 300_000])
def test_a_cell_of_hundreds_of_thousands_of_signs_is_answered_and_does_not_hang(cell):
    for text in (f"spot;film [um]\n1;{cell}\n2;1001\n", f"spot{cell};film [um]\n1;1001\n"):
        try:
            read_table(text, unit="um")
        except BenchError as told:
            assert len(told.message) < 2000
    assert split_unit("43.3  mil ") == ("43.3", "mil") and split_unit(cell)[0]
