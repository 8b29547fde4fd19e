"""``soundedge disposition`` from a terminal: the flags, the file, the exit code."""

import json

import pytest

from soundedge.cli.main import main

PROCEDURE = """
[procedure]
id = "KBW-LP-99"
example = true
[limits.bare_area_mm2_max]
value = 900
unit = "mm2"
source = "KBW-LP-99, 1"
[limits.feather_mm]
value = 15
unit = "mm"
source = "KBW-LP-99, 2"
"""


def run(capsys, *words):
    with pytest.raises(SystemExit) as ended:
        main(["disposition", *words])
    printed = capsys.readouterr()
    return ended.value.code, printed.out, printed.err


@pytest.fixture
def folder(tmp_path, monkeypatch):
    (tmp_path / "kbw.toml").write_text(PROCEDURE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_small_circle_is_repaired_and_a_large_one_held(folder, capsys):
    code, out, _ = run(capsys, "--procedure", "kbw.toml", "--circle", "30mm")
    assert code == 0 and "repair by procedure" in out and "is an example" in out

    code, out, _ = run(capsys, "--procedure", "kbw.toml", "--circle", "2in@10mm,0mm")
    assert code == 3 and "engineering review" in out and "KBW-LP-99, 1" in out


def test_a_request_file_finds_its_procedure_beside_it(folder, capsys):
    request = {"procedure": "kbw.toml", "defects": [{"id": "A", "ellipse_mm": {"a": 40, "b": 20}}]}
    (folder / "request.json").write_text(json.dumps(request), encoding="utf-8")

    code, out, _ = run(capsys, "request.json", "--json")

    assert code == 0 and json.loads(out)["repairs"][0]["members"] == ["A"]


def test_places_are_said_by_clock_and_radius_or_by_angle_and_length(folder, capsys):
    """3 o'clock at 120 mm is x 120, y 0; in a bore of 200 mm, 359° and 1° lie beside each other."""
    code, out, _ = run(capsys, "--procedure", "kbw.toml", "--circle", "10mm@3:00,120mm", "--json")
    assert code == 0 and json.loads(out)["repairs"][0]["centroid_mm"] == [120.0, 0.0]

    bore = ("--procedure", "kbw.toml", "--bore", "200mm", "--json")
    code, out, _ = run(capsys, *bore, "--circle", "10mm@359deg,50mm", "--circle", "10mm@1deg,50mm")
    assert code == 0 and json.loads(out)["repairs"][0]["members"] == ["A", "B"]

    code, _, err = run(capsys, "--procedure", "kbw.toml", "--bore", "200mm", "--circle", "10mm@20:00,50mm")
    assert code == 2 and "20:00" in err


@pytest.mark.parametrize(
    "words, said",
    [((), "Nothing to judge"), (("--procedure", "kbw.toml", "--circle", "30"), "without a unit"),
     (("--procedure", "kbw.toml", "--ellipse", "30mm"), "62mmx31mm"), (("gone.json",), "no file 'gone.json'"),
     (("--procedure", "kbw.toml", "--circle", "30mm@4mm"), "two lengths")],
)
def test_what_cannot_be_used_ends_with_two_and_a_sentence(folder, capsys, words, said):
    code, _, err = run(capsys, *words)

    assert code == 2 and said in err
