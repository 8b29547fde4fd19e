"""What ``make test`` and ``make test-all`` run: style and types beside the tests, the ledger first a file, then in PostgreSQL.

    python -m tests              every room and page once, the store's contract in PostgreSQL too
    python -m tests --release    everything, and all that opens a store in PostgreSQL too

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
PYTEST = ("pytest", "-n", "2", "--dist", "worksteal", "--durations=15")


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


def passes(release: bool) -> Iterator[tuple[str, ...]]:
    """The two runs of pytest."""
    if release:
        yield (*PYTEST, "--release")
        pure = (f"--ignore=tests/{room}" for room in (*PURE_ROOMS, "house", "report"))
        yield ("tests.postgres", sys.executable, "-m", *PYTEST, "--release", *pure)
    else:
        yield PYTEST
        yield ("tests.postgres", sys.executable, "-m", *PYTEST, "-m", "store_contract")


def main(release: bool) -> int:
    """Everything that was asked for; 0 when all of it is good, else the first code that was not."""
    began = time.monotonic()
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    code = subprocess.run([sys.executable, "-m", *STYLE], check=False).returncode
    if code:
        return code
    types = subprocess.Popen([sys.executable, "-m", *TYPES], text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        with in_memory():
            for one in passes(release):
                code = code or subprocess.run([sys.executable, "-m", *one], check=False).returncode
        print(types.communicate()[0].strip())
    finally:
        types.kill()
    print(f"{'Everything' if release else 'The change'} was tested in {(time.monotonic() - began) / 60:.1f} minutes.")
    return code or types.returncode


if __name__ == "__main__":
    sys.exit(main("--release" in sys.argv[1:]))
