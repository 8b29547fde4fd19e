"""The friendly command: four questions, the two accidents in its help."""

import json
import re

import pytest

from soundedge.cli.main import main


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main(["hazards", *arguments])
    out, err = capsys.readouterr()
    return left.value.code, out, err


def test_a_wipe_in_a_casing(capsys):
    code, out, _ = run(capsys, "--solvent", "acetone", "--ml", "6", "--space", "80l", "--air", "20C", "--json")

    assert code == 3 and json.loads(out)["lel_pct"] == pytest.approx(98.3, abs=0.1)


def test_a_hand_on_warm_metal(capsys):
    code, out, _ = run(capsys, "--surface", "bare_metal", "--temperature", "58C", "--contact", "1s", "--json")

    assert code == 0 and json.loads(out)["burn_threshold_c"] == 65


def test_a_polymer_under_the_gun(capsys):
    code, out, _ = run(capsys, "--polymer", "ectfe", "--gun", "450C", "--temperature", "340C")

    assert code == 3 and "hazardous fume" in out


def test_a_permit_and_a_fire_watch(capsys):
    code, out, _ = run(capsys, "--permit", "2031-05-04T08:00Z", "2031-05-04T16:00Z", "--hot-work-ended",
                       "2031-05-04T14:10Z", "--now", "2031-05-04T15:20Z")

    assert code == 0 and "fire watch until" in out


@pytest.mark.parametrize("arguments", [
    ("--solvent", "acetone", "--ml", "0.1", "--space", "1m3"),
    ("--surface", "plastic", "--temperature", "40C", "--contact", "1s"),
    ("--polymer", "pvdf", "--temperature", "200C"),
    ("--hot-work-ended", "2031-05-04T14:10Z", "--now", "2031-05-04T15:40Z"),
])
def test_even_a_good_answer_says_estimate_first_and_never_safe(capsys, arguments):
    code, out, _ = run(capsys, *arguments)

    assert code == 0 and out.startswith("! Estimate") and "decide" in out.splitlines()[0]
    assert not re.search(r"\bsafe(ly)?\b", out.lower())


@pytest.mark.parametrize("arguments, words", [
    ((), "'solvent'"),
    (("--solvent", "thinner", "--ml", "6", "--space", "80l"), "thinner"),
    (("--solvent", "acetone", "--ml", "6", "--space", "80"), "without a unit"),
    (("--surface", "bare_metal"), "temperature_c"),
    (("--hot-work-ended", "2031-05-04T14:10Z"), "now"),
])
def test_what_cannot_be_used_is_said_in_one_line(capsys, arguments, words):
    code, out, err = run(capsys, *arguments)

    assert code == 2 and words in err and out == ""


def test_the_help_tells_of_both_accidents(capsys):
    _, out, _ = run(capsys, "--help")

    assert "2020" in out and "2007" in out and "heat gun is hot work" in " ".join(out.split())
