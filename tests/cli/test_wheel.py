"""Does a wheel run outside the checkout, on the example it carries, and can it be built from the source archive alone?

Nothing is fetched: the packages of the lock are lent to the clean environment from the one the tests run in.
"""

import os
import shutil
import subprocess
import sys
import sysconfig
import tarfile
from pathlib import Path

import pytest

import soundedge

ROOT = Path(__file__).parents[2]
LEFT_OUT = shutil.ignore_patterns(".git", ".venv", "out", "build", "dist", "*.egg-info", "__pycache__", ".*_cache")
OWN = ("PYTHONPATH", "SOUNDEDGE_DATA", "SOUNDEDGE_KEYS")
WHERE = "import soundedge; print(soundedge.__path__[0])"

pytestmark = pytest.mark.slow


def ran(*command, cwd, code=0):
    env = {key: value for key, value in os.environ.items() if key not in OWN}
    done = subprocess.run([str(part) for part in command], cwd=cwd, env=env, capture_output=True, text=True, timeout=500)
    assert done.returncode == code, (command, done.stdout[-2000:], done.stderr[-2000:])
    return done.stdout


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    """The folder with the source archive and the wheel that was built from it."""
    place = tmp_path_factory.mktemp("built")
    shutil.copytree(ROOT, place / "checkout", ignore=LEFT_OUT, symlinks=True)
    ran(sys.executable, "-m", "build", "--no-isolation", "--outdir", place / "dist", place / "checkout", cwd=place)
    return place / "dist"


@pytest.fixture(scope="module")
def clean(built, tmp_path_factory):
    """A new environment that holds the wheel, and a folder outside the checkout."""
    place = tmp_path_factory.mktemp("clean")
    ran(sys.executable, "-m", "venv", "--without-pip", place / "venv", cwd=place)
    bin = place / "venv" / "bin"
    (wheel,) = built.glob("*.whl")
    ran(sys.executable, "-m", "pip", "--python", bin / "python", "install", "--no-index", "--no-deps", wheel, cwd=place)
    own = Path(ran(bin / "python", "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=place).strip())
    lent = dict.fromkeys(sysconfig.get_path(name) for name in ("purelib", "platlib"))
    (own / "lent.pth").write_text("\n".join(lent) + "\n", encoding="utf-8")
    return bin, place


@pytest.mark.release
def test_the_wheel_judges_and_verifies_the_example_that_it_carries(clean):
    bin, place = clean

    assert Path(ran(bin / "python", "-c", WHERE, cwd=place).strip()).is_relative_to(place)
    assert soundedge.__version__ in ran(bin / "soundedge", "--version", cwd=place)
    ran(bin / "soundedge", "job", "example", "first-job", cwd=place)
    said = ran(bin / "soundedge", "job", "run", "first-job", cwd=place)
    assert "released" in said and (place / "first-job" / "out" / "certificate.pdf").read_bytes().startswith(b"%PDF-")
    ran(bin / "soundedge", "verify", "first-job/out/record.json", cwd=place)
    ran(bin / "soundedge", "verify", "first-job/out/certificate.pdf", cwd=place, code=5)  # no keys, so no signature


@pytest.mark.release
def test_the_example_is_not_laid_over_a_job(clean):
    bin, place = clean
    (place / "mine").mkdir()
    (place / "mine" / "job.toml").write_text("# mine\n", encoding="utf-8")

    ran(bin / "soundedge", "job", "example", "mine", cwd=place, code=2)

    assert (place / "mine" / "job.toml").read_text(encoding="utf-8") == "# mine\n"
    assert [file.name for file in (place / "mine").iterdir()] == ["job.toml"]


def test_the_wheel_carries_every_file_of_the_package(clean):
    bin, place = clean
    packed = Path(ran(bin / "python", "-c", WHERE, cwd=place).strip())
    house = Path(soundedge.__file__).parent
    wanted = {file.relative_to(house) for file in house.rglob("*") if file.is_file() and "__pycache__" not in file.parts}

    assert {file for file in wanted if not (packed / file).is_file()} == set()


def test_the_source_archive_carries_tests_examples_and_locks(built):
    (archive,) = built.glob("*.tar.gz")
    with tarfile.open(archive) as opened:
        held = {name.partition("/")[2] for name in opened.getnames()}

    for folder in ("tests", "examples", "docs", "scripts", "bench", "requirements", "packaging"):
        here = {file.relative_to(ROOT).as_posix() for file in (ROOT / folder).rglob("*")
                if file.is_file() and "__pycache__" not in file.parts}
        assert here <= held, (folder, sorted(here - held)[:5])
    assert {"Makefile", "README.md", "LICENSE", "CHANGELOG.md", "pyproject.toml", "setup.py"} <= held
