"""The friendly command: units in the flags, the log as CSV, faults by line."""

import json

import pytest

from soundedge.cli.main import main


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main(["conditions", *arguments])
    out, err = capsys.readouterr()
    return left.value.code, out, err


def test_fahrenheit_flags_give_the_houses_own_numbers(capsys):
    code, out, _ = run(capsys, "--air", "70F", "--rh", "63", "--steel", "66F", "--json")
    answer = json.loads(out)

    assert code == 0 and answer["verdict"] == "conforms"
    assert answer["dew_margin_k"] == pytest.approx(5.1, abs=0.05)


def test_a_margin_of_5_f_is_a_difference(capsys):
    _, out, _ = run(capsys, "--air", "70F", "--rh", "63", "--steel", "66F", "--margin", "5F", "--json")

    assert json.loads(out)["findings"][0]["limit"] == pytest.approx(2.778, abs=1e-3)


def test_steel_too_cold_leaves_with_3_and_the_next_move(capsys):
    code, out, _ = run(capsys, "--air", "21C", "--rh", "78", "--steel", "18C")

    assert code == 3 and "Warm the steel" in out


@pytest.mark.parametrize("arguments, words", [
    (("--air", "70", "--rh", "63", "--steel", "66F"), "without a unit"),
    (("--air", "70F", "--rh", "63"), "steel_c"),
    (("--air", "70F", "--rh", "163", "--steel", "66F"), "163"),
    (("--salts", "6"), "volume_ml"),
])
def test_what_cannot_be_used_is_said_in_one_line(capsys, arguments, words):
    code, out, err = run(capsys, *arguments)

    assert code == 2 and words in err and "Traceback" not in err and out == ""


def test_salts_from_the_patch(capsys):
    code, out, _ = run(capsys, "--air", "21C", "--rh", "50", "--steel", "20C", "--salts", "6", "--water", "15ml",
                       "--salts-max", "20", "--json")

    assert code == 3 and json.loads(out)["salts_mg_m2"] == pytest.approx(36)


HEAD = "at,air_c,rh_pct,steel_c\n"


def test_an_air_log_gives_its_intervals(capsys, tmp_path):
    log = tmp_path / "log.csv"
    log.write_text(HEAD + "2031-05-04T08:00Z,18,60,17\n2031-05-04T09:00Z,19,60,17\n2031-05-04T12:00Z,19,60,17\n")
    code, out, _ = run(capsys, "--series", str(log), "--json")

    assert [i["state"] for i in json.loads(out)["intervals"]] == ["good", "unknown"]
    assert code == 0


@pytest.mark.parametrize("text, words", [
    ("time,air\n", "must begin with"),
    ("", "must begin with"),
    (HEAD, "empty list"),
    (HEAD + "2031-05-04T08:00Z,18,60\n", "Line 2"),
    (HEAD + "2031-05-04T08:00Z,18,60,17,9\n", "Line 2"),
    (HEAD + "2031-05-04T08:00Z,18,wet,17\n", "rh_pct is 'wet'"),
    (HEAD + "2031-05-04T08:00Z,18,nan,17\n", "finite"),
    (HEAD + "eight,18,60,17\n", "2031-05-04T09:12:00Z"),
    (HEAD + '2031-05-04T08:00Z,"18,60,17\n', "not CSV"),
])
def test_a_bad_log_is_refused_by_line(capsys, tmp_path, text, words):
    log = tmp_path / "log.csv"
    log.write_text(text)
    code, out, err = run(capsys, "--series", str(log))

    assert code == 2 and words in err and out == ""
