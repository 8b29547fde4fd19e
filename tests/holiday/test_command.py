"""``soundedge holiday`` from a terminal."""

import json

import pytest
from click.testing import CliRunner

from soundedge.basis.errors import Unreadable
from soundedge.cli.holiday import command

USUAL = ["--film", "620um:880um", "--polymer", "ectfe", "--strength", "20kV/mm@750um", "--stated", "5kV",
         "--altitude", "300m"]


def run(*arguments):
    result = CliRunner().invoke(command, list(arguments), standalone_mode=False)
    if result.exception:
        raise result.exception
    return result.output


def test_cautions_are_printed_before_any_voltage():
    text = run(*USUAL)

    assert text.index("pacemaker") < text.index("4900 V") < text.index("lowest that finds holes")
    assert "● conforms" in text and "3828 V" in text and "6200 V" in text
    assert "1250√mil" in run(*USUAL, "--why")


def test_json_is_the_answer_of_the_room():
    found = json.loads(run(*USUAL, "--json"))

    assert found["stated"]["position"] == "inside"


def test_mil_kv_and_fahrenheit_are_taken():
    found = json.loads(run("--film", "25mil", "--strength", "508V/mil@30mil", "--stated", "2kV", "--air", "68F", "--json"))

    assert found["film_um"] == {"min": 635.0, "max": 635.0}
    assert found["strength"]["kv_mm"] == pytest.approx(20)
    assert found["air"]["c"] == pytest.approx(20)
    assert found["stated"]["position"] == "too_low"


@pytest.mark.parametrize("arguments", [
    ("--film", "620:880"), ("--film", "620um:700um:800um"), ("--film", "620um:880um", "--strength", "20kV/mm"),
    ("--film", "620um:880um", "--strength", "20@750um"), ("--film", "620um:880um", "--strength", "muchkV/mm@750um"),
    ("--film", "620um:880um", "--stated", "4000"),
])
def test_a_number_without_its_unit_is_refused(arguments):
    with pytest.raises(Unreadable):
        run(*arguments)
