"""``soundedge buildup`` from a terminal: the flags, the drawings, the exit code."""

import json

import pytest

from soundedge.cli.main import main

USUAL = ("--circle", "30mm", "--depth", "900um", "--feather", "15mm", "--layer-max", "300um")


def run(capsys, *words):
    with pytest.raises(SystemExit) as ended:
        main(["buildup", *words])
    printed = capsys.readouterr()
    return ended.value.code, printed.out, printed.err


def test_the_usual_spot_by_flags(capsys):
    code, out, _ = run(capsys, *USUAL, "--polymer", "ectfe", "--json")
    said = json.loads(out)

    assert code == 0
    assert said["layers"] == 4 and said["coverage_pct"] == 100.0 and said["powder_g"] > 3


def test_the_drawings_are_written_side_by_side(tmp_path, capsys):
    code, out, _ = run(capsys, *USUAL, "--svg", str(tmp_path / "spot.svg"), "--title", "Cover <7>")

    assert code == 0 and "4 of 262.5 µm" in out
    assert "Cover &lt;7&gt;" in (tmp_path / "spot.svg").read_text(encoding="utf-8")
    assert "<desc>Section" in (tmp_path / "spot-section.svg").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    "words, said",
    [((), "No spot is given"), (("--circle", "30mm"), "--depth is not given"), (("--circle", "30"), "without a unit"),
     ((*USUAL, "--svg", "nowhere/there/x.svg"), "could not be written")],
)
def test_what_cannot_be_used_ends_with_two_and_a_sentence(tmp_path, monkeypatch, capsys, words, said):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(capsys, *words)

    assert code == 2 and said in err
