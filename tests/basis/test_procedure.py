"""Is a procedure read strictly, and does every limit keep its source?"""

import tomllib
from pathlib import Path

import pytest

from soundedge.basis.errors import BenchError, Missing, OutOfRange, Unknown, Unreadable
from soundedge.basis.procedure import LIMITS, load_procedure, plain_procedure, read_procedure

HEAD = '[procedure]\nid = "X-1"\n'
EXAMPLES = sorted((Path(__file__).parents[2] / "examples" / "procedures").glob("*.toml"))


def a_limit(key="feather_mm", value="15", unit="mm", source="X-1, 5.1"):
    return HEAD + f'[limits.{key}]\nvalue = {value}\nunit = "{unit}"\nsource = "{source}"\n'


def test_a_limit_keeps_its_source():
    assert load_procedure(a_limit()).cite("feather_mm") == "X-1, 5.1"


@pytest.mark.parametrize(
    "text, error, words",
    [
        (HEAD + "[limits]\nfeather_mm = 15\n", Missing, "no source"),
        (a_limit(source=""), Missing, "no source"),
        (a_limit(unit="in"), OutOfRange, "Convert it"),
        (a_limit(key="feathr_mm"), Unknown, "not a limit"),
        (a_limit(value="-3"), OutOfRange, "at least 0"),
        (a_limit(value='"fifteen"'), OutOfRange, "must be a number"),
        (a_limit(value="nan"), OutOfRange, "finite"),
        ("[limits", Unreadable, "not TOML"),
        ("", Missing, "[procedure]"),
        (HEAD + "[surprise]\nx = 1\n", Unknown, "surprise"),
        (HEAD + '[decision]\nrule = "hopeful"\n', Unknown, "simple"),
    ],
)
def test_each_fault_is_named(text, error, words):
    with pytest.raises(error) as caught:
        load_procedure(text)

    assert words in caught.value.message


@pytest.mark.parametrize(
    "given", ['"2031-02-30"', '"20310115"', '"15.01.2031"', '"spring 2031"', "2031-01-15T08:00:00Z", "2031", "true"])
def test_a_day_of_approval_is_a_date_and_in_a_record_what_stood_there(given):
    text = HEAD + f"approved_on = {given}\n"
    with pytest.raises(Unreadable, match=r"which is no date. Write the day of approval as 2031-01-15") as caught:
        load_procedure(text)
    assert caught.value.field == "procedure.approved_on"

    kept = load_procedure(text, kept=True)
    assert kept.approved_on == str(tomllib.loads(text)["procedure"]["approved_on"])
    assert read_procedure(plain_procedure(kept), from_record=True) == kept
    with pytest.raises(Unreadable):
        read_procedure(plain_procedure(kept))


@pytest.mark.parametrize(("given", "read"), [('"2031-01-15"', "2031-01-15"), ("2031-01-15", "2031-01-15"), ('""', "")])
def test_a_date_in_quotes_or_without_is_the_same_date(given, read):
    assert load_procedure(HEAD + f"approved_on = {given}\n").approved_on == read


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_reads_and_says_it_is_one(path):
    procedure = load_procedure(path.read_text(encoding="utf-8"))

    assert procedure.example
    assert all(limit.source for limit in procedure.limits.values())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_there_and_back(path):
    procedure = load_procedure(path.read_text(encoding="utf-8"))

    assert read_procedure(plain_procedure(procedure)) == procedure


def test_bare_limits_are_taken_from_a_request():
    procedure = read_procedure({"bare_area_mm2_max": 900})

    assert (procedure.value("bare_area_mm2_max"), procedure.cite("bare_area_mm2_max")) == (900, "the request")


@pytest.mark.parametrize("raw", [None, 3, "x", [], {"limits": 3}, {"limits": {"feather_mm": None}}, {"decision": []},
                                 {"procedure": []}, {"limits": {"feather_mm": {"value": True}}}])
def test_nothing_makes_it_fall_over(raw):
    try:
        read_procedure(raw)
    except BenchError as fault:
        assert fault.message
    else:
        assert raw == {}


def test_every_limit_has_a_fence():
    assert all(q.at_most is not None or q.below is not None for q in LIMITS.values())


@pytest.mark.parametrize("raw", [
    {"limits": {"feather_mm": {"value": 5, "unit": "é" * 5000, "source": "x"}}},
    {"limits": {"feather_mm": {"value": 5, "é" * 5000: 1}}},
    {"limits": {"é" * 5000: 1}},
    {"é" * 5000: 1},
    {"procedure": {"é" * 5000: 1}},
])
def test_a_message_never_echoes_a_long_text_whole(raw):
    with pytest.raises(BenchError) as refused:
        read_procedure(raw)

    assert refused.value.message.count("é") < 70 and refused.value.field.count("é") < 70
