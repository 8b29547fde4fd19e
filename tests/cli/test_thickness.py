"""The thickness and instruments commands as they are typed."""

import json

import pytest

from soundedge.cli.main import main

CSV = "spot;DFT [mil];where\n1;47,6;repair\n1;46,9;repair\n1;48,8;repair\n2;53,1;overlap\n2;51,6;overlap\n2;35,7;overlap\n"


@pytest.fixture
def readings(tmp_path):
    path = tmp_path / "readings.csv"
    path.write_text(CSV, encoding="utf-8")
    return path


def run(capsys, *words):
    with pytest.raises(SystemExit) as left:
        main([str(word) for word in words])
    out = capsys.readouterr()
    return left.value.code, out.out, out.err


def test_mean_good_one_low_holds_the_part_and_names_the_rule(capsys, readings):
    code, out, _ = run(capsys, "thickness", readings, "--min", "1000um", "--max", "1800um", "--nominal", "1100um")

    assert code == 3 and out.splitlines()[0].endswith("does not conform") and "The lowest reading" in out.splitlines()[1]
    assert "every reading" in out and "measure again" in out and "sspc_pa_2" not in out
    code, why, _ = run(capsys, "thickness", readings, "--min", "1000um", "--max", "1800um", "--nominal", "1100um", "--why")
    assert code == 3 and "sspc_pa_2" in why and "ninety_ten" in why


def test_readings_may_be_typed_behind_the_command(capsys):
    """48.4 mil are 1229 µm by the definition of the inch (25.4 mm)."""
    code, out, _ = run(capsys, "thickness", "1262um", "1240um", "48.4mil", "--min", "1000um", "--json")
    answer = json.loads(out)
    assert code == 0 and answer["n"] == 3 and answer["min_um"] == pytest.approx(48.4 * 25.4)

    code, out, _ = run(capsys, "thickness", "1262", "940", "--unit", "um", "--per-spot", "2", "--min", "1000um")
    assert code == 3 and "2 in 1 spots" in out
    assert run(capsys, "thickness", "1262", "940", "--min", "1000um")[0] == 2  # no unit


def test_another_rule_may_govern_and_mil_is_mil(capsys, readings):
    code, out, _ = run(capsys, "thickness", readings, "--min", "40mil", "--governing", "sspc_pa_2", "--json")

    answer = json.loads(out)
    assert code == 0 and answer["verdict"] == "conforms" and answer["governing"] == "sspc_pa_2"
    assert answer["min_um"] == pytest.approx(35.7 * 25.4)


def test_a_preview_judges_nothing(capsys, readings):
    code, out, _ = run(capsys, "thickness", readings, "--preview")

    assert code == 0 and "DFT [mil]" in out and "conform" not in out


def test_a_line_set_aside_is_shown_and_holds(capsys, tmp_path):
    path = tmp_path / "r.csv"
    path.write_text("spot,reading um\n1,1200\n1,12OO\n1,1210\n1,1190\n")

    code, out, _ = run(capsys, "thickness", path, "--min", "1000um")

    assert code == 3 and "line 3 set aside" in out


def test_chart_and_readings_are_written_once(capsys, readings, tmp_path):
    chart, out = tmp_path / "chart.json", tmp_path / "out.csv"

    run(capsys, "thickness", readings, "--min", "1000um", "--chart", chart, "--out", out)

    assert json.loads(chart.read_text())["$schema"].endswith("v6.json") and out.read_text().startswith("spot,reading_um")
    code, _, err = run(capsys, "thickness", readings, "--min", "1000um", "--out", out)
    assert code == 2 and "never overwritten" in err


@pytest.mark.parametrize("words, said", [
    (["--min", "1000"], "without a unit"),
    ([], "No film limit"),
    (["--min", "1000um", "--profile", "25um", "--base-metal", "12um"], "never both"),
    (["--min", "1000um", "--unit", "mm"], "Which is it"),
    (["--min", "1000um", "--column", "reading"], "reading=T1"),
])
def test_a_wrong_word_is_refused_with_the_next_move(capsys, readings, words, said):
    code, _, err = run(capsys, "thickness", readings, *words)

    assert code == 2 and said in err


def test_a_file_that_is_not_there(capsys):
    code, _, err = run(capsys, "thickness", "nowhere.csv", "--min", "1000um")

    assert code == 2 and "nowhere.csv" in err


def test_a_gauge_on_its_shims(capsys):
    assert run(capsys, "instruments", "--check", "1000um", "1004um")[0] == 0
    code, out, _ = run(capsys, "instruments", "--check", "1000um", "1004um", "--check", "500um", "540um")
    assert code == 3 and "8 %" in out
    assert run(capsys, "instruments")[0] == 3


def test_a_request_file_of_the_instruments_room(capsys, tmp_path):
    path = tmp_path / "checks.json"
    path.write_text(json.dumps({
        "checks": [{"instrument": "G7", "at": "2031-05-04T07:00:00Z", "reference_um": 1000, "reading_um": 1004},
                   {"instrument": "G7", "at": "2031-05-04T16:00:00Z", "reference_um": 1000, "reading_um": 1062}],
        "readings": [{"id": "r1", "instrument": "G7", "at": "2031-05-04T09:00:00Z", "job": "J-2", "value_um": 1040}]}))

    code, out, _ = run(capsys, "instruments", path)

    assert code == 3 and "J-2" in out and "Hold J-2" in out
