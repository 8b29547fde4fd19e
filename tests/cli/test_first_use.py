"""What is used first was made ready at set-up: in front of a user nothing is compiled for later, and nothing is fetched."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
WAKE = "from soundedge.heat.compiled import wake; wake()"
COUNTED = WAKE + "; import json; from soundedge.heat import compiled; s = compiled._compiled.stats; " \
    "print(json.dumps([sum(s.cache_hits.values()), sum(s.cache_misses.values()), __import__('numba').config.CPU_NAME]))"


def on_its_own(place):
    """Before a command: no network, where this machine lets us (as root it does)."""
    tried = subprocess.run(["unshare", "-n", "true"], capture_output=True, check=False) if shutil.which("unshare") else None
    return ["unshare", "-n"] if tried is not None and tried.returncode == 0 else []


def env(place, **more):
    """The environment of somebody whose own folder is empty and cannot be written to by mistake without being seen."""
    home = place / "home"
    home.mkdir(exist_ok=True)
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("SOUNDEDGE_", "XDG_"))}
    return kept | {"HOME": str(home), "TMPDIR": str(place), **more}


def left_in(folder):
    return sorted(str(file.relative_to(folder)) for file in folder.rglob("*") if file.is_file())


def test_every_set_up_compiles_the_heat_estimates_before_anybody_asks():
    for file in ("scripts/setup.sh", "packaging/Containerfile", "packaging/soundedge.service"):
        assert WAKE in (ROOT / file).read_text(encoding="utf-8"), file
    for file in ("packaging/Containerfile", "packaging/soundedge.service"):  # where the bench may write while it runs
        assert re.search(r"NUMBA_CACHE_DIR=/var/cache/soundedge\b", (ROOT / file).read_text(encoding="utf-8")), file


@pytest.mark.slow
def test_what_was_compiled_once_is_taken_as_it_lies_on_any_processor(tmp_path):
    """Second process: one hit for each way of calling, no compiling; and the code is that of no processor in particular."""
    run = [sys.executable, "-c", COUNTED]
    first, again = (json.loads(subprocess.run(run, env=env(tmp_path, NUMBA_CACHE_DIR=str(tmp_path / "compiled")), text=True,
                                              capture_output=True, check=True, cwd=ROOT).stdout) for _ in range(2))
    assert first == [0, 1, "generic"]
    assert again == [1, 0, "generic"]
    made = left_in(tmp_path / "compiled")
    assert len(made) == 2 and all("compiled.loops" in name for name in made)


@pytest.mark.slow
def test_a_first_job_fetches_nothing_and_leaves_nothing_in_the_users_folder(tmp_path):
    """A whole job (photo, charts, page, square code) and a heat estimate by somebody whose machine has no network."""
    shutil.copytree(ROOT / "examples" / "mixer-cover", tmp_path / "examples" / "mixer-cover")
    shutil.copytree(ROOT / "examples" / "procedures", tmp_path / "examples" / "procedures")
    alone = on_its_own(tmp_path)
    for words, codes in (
        (["job", "run", "examples/mixer-cover", "--out", "out"], (0, 3)),
        (["heat", "--plate", "12mm", "--lining", "0.8mm", "pvdf", "--gun", "2000W,500C"], (0, 3)),
    ):
        done = subprocess.run([*alone, sys.executable, "-m", "soundedge", *words], cwd=tmp_path, env=env(tmp_path),
                              capture_output=True, text=True, check=False)
        assert done.returncode in codes, (words, done.stdout[-2000:], done.stderr[-2000:])
    assert (tmp_path / "out" / "certificate.pdf").read_bytes().startswith(b"%PDF-")
    assert left_in(tmp_path / "home") == []
    assert [name for name in left_in(tmp_path) if not name.startswith(("examples/", "out/"))] == []
