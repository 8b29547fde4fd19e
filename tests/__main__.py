"""What ``make test`` and ``make test-all`` run: style, types beside the tests, the ledger a file and in PostgreSQL.

    python -m tests              every room and page once, the store's contract in PostgreSQL beside it
    python -m tests --release    everything, then all that opens a store in PostgreSQL too

Compiled modules are kept, whatever the machine says: the tests start hundreds of processes.
Tests write thousands of small files and wait for each to be on the disk. Where there is room in memory (/dev/shm) they lie
there: what a disk loses is asked of a disk of the tests' own (tests/evidence), not of this machine's.
"""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from .house.plan import PURE_ROOMS

MEMORY, ROOM = Path("/dev/shm"), 6 * 10**9
STYLE = ("ruff", "check", "src", "tests", "bench", "scripts")
TYPES = ("mypy", "src/soundedge")
PYTEST = ("pytest", "--durations=15")
BY_TWO = ("-n", "2", "--dist", "worksteal")
IN_POSTGRES = ("tests.postgres", sys.executable, "-m", *PYTEST)
TESTS = Path(__file__).parent


@contextmanager
def in_memory() -> Iterator[None]:
    """Temporary files lie in memory when it has room for them; gone afterwards."""
    if not MEMORY.is_dir() or shutil.disk_usage(MEMORY).free < ROOM:
        yield
        return
    place = Path(tempfile.mkdtemp(prefix="se-tests-", dir=MEMORY))
    place.chmod(0o711)  # PostgreSQL's own user walks through
    before, os.environ["TMPDIR"] = os.environ.get("TMPDIR"), str(place)
    try:
        yield
    finally:
        os.environ.pop("TMPDIR") if before is None else os.environ.update(TMPDIR=before)
        shutil.rmtree(place, ignore_errors=True)


def passes(release: bool) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The two runs of pytest: the ledger a file, and in PostgreSQL."""
    if release:
        pure = (f"--ignore=tests/{room}" for room in (*PURE_ROOMS, "house", "report"))
        return (*PYTEST, *BY_TWO, "--release"), (*IN_POSTGRES, *BY_TWO, "--release", *pure)
    return (*PYTEST, *BY_TWO), (*IN_POSTGRES, "-m", "store_contract", *with_mark("store_contract"))


def with_mark(mark: str) -> list[str]:
    """The files of tests in which a mark stands: pytest need not read the others to leave them out."""
    return sorted(str(file) for file in TESTS.rglob("test_*.py") if f"mark.{mark}" in file.read_text("utf-8"))


def compile_once() -> None:
    """In a fresh clone one process compiles what all of them read, while the types are looked at; else each would."""
    if not any(TESTS.glob("*/__pycache__/*-pytest-*.pyc")):
        subprocess.run([sys.executable, "-m", "pytest", "--collect-only"], stdout=subprocess.DEVNULL, check=False)


class Beside:
    """A program that runs beside the others; what it says is shown when it is waited for."""

    def __init__(self, *module: str) -> None:
        self.said = tempfile.TemporaryFile("w+", encoding="utf-8")
        self.process = subprocess.Popen(
            [sys.executable, "-m", *module], stdin=subprocess.DEVNULL, stdout=self.said, stderr=subprocess.STDOUT)

    def code(self) -> int:
        """How it ended, once it has; what it said is printed."""
        code = self.process.wait()
        self.said.seek(0)
        print(self.said.read().strip(), flush=True)
        return code

    def stop(self) -> None:
        """End it, if it still runs."""
        self.process.terminate()
        self.process.wait()


def main(release: bool) -> int:
    """Everything that was asked for; 0 when all of it is good, else the first code that was not."""
    began = time.monotonic()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    code = subprocess.run([sys.executable, "-m", *STYLE], check=False).returncode
    if code:
        return code
    on_file, in_postgres = passes(release)
    with in_memory():
        others = [Beside(*TYPES)]
        try:
            compile_once()
            if not release:  # half of its time it waits for PostgreSQL
                others.append(Beside(*in_postgres))
            code = subprocess.run([sys.executable, "-m", *on_file], check=False).returncode
            if release and not code:
                code = subprocess.run([sys.executable, "-m", *in_postgres], check=False).returncode
            for one in others:
                code = one.code() or code
        finally:
            for one in others:
                one.stop()
    print(f"{'Everything' if release else 'The change'} was tested in {(time.monotonic() - began) / 60:.1f} minutes.")
    return code


if __name__ == "__main__":
    sys.exit(main("--release" in sys.argv[1:]))
