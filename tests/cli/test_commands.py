"""Do the commands of the walking path end with the right code and one sentence, and never with a traceback?"""

import json
import re
import shutil

import pytest

from ..commands import process, run
from ..job.sheets import EXAMPLES


def one_sentence(done):
    lines = done.stderr.decode().strip().splitlines()
    assert done.returncode == 2 and done.stdout == b""
    assert len(lines) == 1 and len(lines[0]) > 20, lines
    return lines[0]


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(EXAMPLES / "procedures", tmp_path / "procedures")
    shutil.copytree(EXAMPLES / "dosing-nozzle", tmp_path / "job")
    return tmp_path / "job"


def test_a_job_that_is_not_there(tmp_path):
    assert "no job folder" in one_sentence(run("job", "run", tmp_path / "nowhere"))


def test_the_same_as_json(tmp_path):
    done = run("job", "run", tmp_path / "nowhere", "--json")

    assert done.returncode == 2
    assert set(json.loads(done.stdout)["error"]) == {"kind", "field", "message", "id", "params"}


def test_a_broken_sheet_writes_nothing(folder):
    (folder / "job.toml").write_text("[job")

    assert "not TOML" in one_sentence(run("job", "run", folder))
    assert not (folder / "out").exists()


def test_an_out_that_is_a_file(folder, tmp_path):
    (tmp_path / "file").write_text("mine")

    done = run("job", "run", folder, "--out", tmp_path / "file")

    assert done.returncode == 2 and b"cannot be made" in done.stderr
    assert (tmp_path / "file").read_text() == "mine"


@pytest.mark.slow
def test_a_held_job_and_its_files_verified_shown_and_broken(folder, tmp_path):
    out = tmp_path / "out"
    held = run("job", "run", folder, "--out", out, "--json")
    told = json.loads(held.stdout)
    assert held.returncode == 3 and told["verdict"] == "held"
    assert told == json.loads((out / "job.json").read_text(encoding="utf-8"))
    assert {"verdict", "blocked_by", "steps", "missing"} <= set(told)

    good = run("verify", out / "certificate.pdf", out / "record.json")
    assert good.returncode == 5 and len(good.stdout.decode().strip().splitlines()) == 2  # the page is not signed
    assert run("verify", out / "record.json").returncode == 0

    shown = run("job", "show", out)
    assert shown.returncode == 3 and b"held" in shown.stdout

    raw = (out / "record.json").read_bytes()
    (out / "record.json").write_bytes(raw.replace(b'"rh_pct"', b'"rh_pcT"', 1))
    bad = run("verify", out / "certificate.pdf", out / "record.json")
    assert bad.returncode == 4 and b"Entry" in bad.stdout and b"record.json" in bad.stdout
    assert run("job", "show", out).returncode == 4
    both = run("verify", "--json", out / "record.json", out / "certificate.pdf")
    found = json.loads(both.stdout)
    assert both.returncode == 4 and found[0]["error"]["kind"] == "record_broken" and "sentence" in found[1]
    assert run("verify", out / "record.json", out / "nothing.json").returncode == 4


def test_verify_of_something_that_is_not_there(tmp_path):
    assert run("verify", tmp_path / "nothing.pdf").returncode == 2


def test_a_new_job_and_a_second_one_in_its_place(tmp_path):
    first = run("job", "new", tmp_path / "a", "--procedure", EXAMPLES / "procedures" / "kbw-lp-04.toml")
    assert first.returncode == 0
    assert {p.name for p in (tmp_path / "a").iterdir()} == {"job.toml", "film.csv", "heat.csv", "air.csv", "procedure.toml"}

    assert "already" in one_sentence(run("job", "new", tmp_path / "a"))
    assert run("job", "run", tmp_path / "a").returncode in (2, 3)


def test_a_new_job_with_a_procedure_that_is_not_there(tmp_path):
    one_sentence(run("job", "new", tmp_path / "a", "--procedure", tmp_path / "none.toml"))


def test_the_example_procedure_is_listed():
    done = run("procedure", "check", EXAMPLES / "procedures" / "kbw-lp-04.toml")

    assert done.returncode == 0 and b"clause 5.2" in done.stdout and b"example" in done.stdout


@pytest.mark.parametrize(
    "text",
    ["", "x", "[procedure]\nid = 'X'\n[limits.feather_mm]\nvalue = 15\n", "[procedure]\nid = 3\n[limits]\nmoon = 1\n",
     "[procedure]\nid = 'X'\n[limits.feather_mm]\nvalue = nan\nunit = 'mm'\nsource = 'x'\n",
     "[procedure]\nid = 'X'\n[limits.film_um_min]\nvalue = 40\nunit = 'mil'\nsource = 'x'\n",
     "[procedure]\nid = 'X'\nid = 'Y'\n", "limits = 3\n[procedure]\nid = 'X'\n", "x = " + "9" * 5000],
)
def test_a_procedure_that_cannot_be_used(tmp_path, text):
    (tmp_path / "p.toml").write_text(text)

    one_sentence(run("procedure", "check", tmp_path / "p.toml"))


@pytest.mark.parametrize(
    "given",
    [b"", b"{", b"\xff", b"null", b"[]", b'{"air_c": NaN}', b'{"air_c": 1, "air_c": 2}', b'{"air_c": 1e999}',
     b'{"air_c": "warm", "rh_pct": 50, "steel_c": 20}', b'{"air_c": 20, "rh_pct": 150, "steel_c": 20}',
     b'{"air_c": 20, "rh_pct": 50, "steel_c": 20, "mood": 1}', b"[" * 100_000, b'"\\ud800"', b'{"air_c":' + b"9" * 5000 + b"}",
     b"\xef\xbb\xbf{}", b'{"air_c": 20, "rh_pct": 50}'],
)
def test_ask_with_what_cannot_be_used(given):
    done = process("ask", "conditions", given=given)

    assert done.returncode == 2
    assert json.loads(done.stdout)["error"]["message"]


def test_ask_a_room_that_is_not_there():
    done = process("ask", "attic", given=b"{}")

    assert done.returncode == 2 and "attic" in json.loads(done.stdout)["error"]["message"]


def test_ask_answers_and_shows_its_schema():
    done = process("ask", "conditions", given=b'{"air_c":21.4,"rh_pct":63,"steel_c":18.9}')
    assert done.returncode == 0 and json.loads(done.stdout)["verdict"]

    schema = process("ask", "conditions", "--schema")
    assert schema.returncode == 0 and set(json.loads(schema.stdout)) == {"request", "answer"}


@pytest.mark.parametrize("arguments", [["nothing"], ["job"], ["job", "fly"], ["ask"], ["verify"], ["job", "run"], ["--what"]])
def test_a_command_that_is_not_there(arguments):
    assert run(*arguments).returncode == 2


def test_help_of_everything():
    done = run("--help")
    assert done.returncode == 0 and b"verify" in done.stdout


def test_a_terminal_that_knows_only_ascii(folder):
    import os

    done = process("job", "run", folder, "--out", folder / "out", env=os.environ | {"PYTHONIOENCODING": "ascii"})

    assert done.returncode == 3 and done.stdout.isascii()


ASKED = {
    "conditions": ["--air", "70F", "--rh", "83%", "--steel", "62F"],
    "holiday": ["--film", "1050um:1420um", "--polymer", "ectfe"],
    "hazards": ["--solvent", "acetone", "--ml", "6", "--space", "80l", "--air", "20C"],
    "disposition": ["--circle", "40mm", "--procedure", EXAMPLES / "procedures" / "kbw-lp-04.toml"],
}


@pytest.mark.parametrize("room", ASKED)
def test_the_terminal_answers_first_keeps_every_caution_and_says_why_when_asked(room):
    """A verdict of four words or the engineer's; rules with their sources only behind --why."""
    short, why, plain = (run(room, *ASKED[room], *more).stdout.decode() for more in ([], ["--why"], ["--json"]))
    answer, first = json.loads(plain), re.sub(r"^\W+", "", short.splitlines()[room == "hazards"])  # an estimate says so first

    assert first in ("conforms", "does not conform", "not measured", "engineering review")
    assert all(caution in short for caution in answer["cautions"]) and answer["cautions"]
    against = [one for one in answer["findings"] if one["verdict"] != "conforms"]
    assert all(one["because"] in short and one["next_move"] in short for one in against)
    good = [one for one in answer["findings"] if one not in against]
    assert answer["findings"] and not any(one["because"] in short for one in good)
    assert all(one["source"] in why for one in answer["findings"]) and "--why" in short.splitlines()[-1]
