"""Does the command line speak its reader's language and units to people, and to programs always English and SI?"""

import json

import pytest

from soundedge.cli.bench import run
from soundedge.cli.flags import tell
from soundedge.services.people.setting import reader


@pytest.mark.parametrize(("setting", "language", "units"), [
    ({}, "en", "metric"),
    ({"LANG": "de_DE.UTF-8"}, "de", "metric"),
    ({"LANG": "C.UTF-8", "SOUNDEDGE_UNITS": "us"}, "en", "us"),
    ({"LANG": "en_GB.UTF-8", "LC_ALL": "de_AT"}, "de", "metric"),
    ({"LANG": "de_DE.UTF-8", "SOUNDEDGE_LANGUAGE": "en"}, "en", "metric"),
    ({"LANG": "pt_BR.UTF-8", "SOUNDEDGE_UNITS": "furlongs"}, "en", "metric"),
])
def test_who_reads_is_read_from_the_setting(monkeypatch, setting, language, units):
    for name in ("SOUNDEDGE_LANGUAGE", "SOUNDEDGE_UNITS", "LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in setting.items():
        monkeypatch.setenv(name, value)

    assert reader() == (language, units)


@pytest.fixture
def german_in_us_units(monkeypatch):
    monkeypatch.setenv("SOUNDEDGE_LANGUAGE", "de")
    monkeypatch.setenv("SOUNDEDGE_UNITS", "us")


def test_a_refusal_is_said_to_a_person_in_their_language(german_in_us_units, capsys):
    assert run(["buildup", "--circle", "30mm"]) == 2

    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "--depth fehlt und wird gebraucht. Mit der Einheit angeben.\n"


def test_a_program_gets_english_with_id_and_parameters(german_in_us_units, capsys):
    assert run(["buildup", "--circle", "30mm", "--json"]) == 2

    assert json.loads(capsys.readouterr().out) == {"error": {
        "kind": "missing", "field": "--depth", "message": "--depth is not given and is needed. Write it with its unit.",
        "id": "cli.flag_missing", "params": {"flag": "--depth"}}}


def test_a_number_is_said_in_the_units_of_the_setting(german_in_us_units, capsys):
    from soundedge.basis.sentences import say

    tell(say("cli.heard", spot="P-7", film_um=762.0), error=True)
    tell(say("cli.heard", spot="P-7", film_um=762.0))

    said = capsys.readouterr()
    assert (said.err, said.out) == ("  P-7: 30 mil\n", "  P-7: 762 µm\n")
