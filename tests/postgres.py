"""A PostgreSQL of one's own for the tests: made, started, prepared, used, stopped and thrown away.

    python -m tests.postgres python -m pytest        runs the command with the ledger in PostgreSQL

Each process of the tests takes a database of its own in it, and so does each bench that is to have no account yet
(``another``): what one does to its tables holds up nobody else.

The cluster lies in a temporary folder, listens on a socket there and on no port, syncs as a shop's would (fsync on), and is
ended with the command whatever happens: it is told to end when the process that started it dies. PostgreSQL does not run as
root; then it runs as the system's user ``postgres``.
"""

from __future__ import annotations

import ctypes
import os
import pwd
import re
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

OWNER_URL = "SOUNDEDGE_TEST_OWNER_URL"
APP_URL = "SOUNDEDGE_DATABASE_URL"
APP, OWNER = "soundedge_app", "soundedge_owner"
BLANK = "blank"  # prepared, nobody in it, never connected to: a pattern for others


@dataclass
class Cluster:
    """A running PostgreSQL: where it lies, and the process."""

    place: Path
    server: subprocess.Popen[bytes]

    def url(self, role: str) -> str:
        return f"postgresql:///soundedge?host={self.place}&user={role}"

    def stop(self, *, at_once: bool = False) -> None:
        """End it; ``at_once`` as when the plug is pulled on the server's process: nothing is written any more."""
        if self.server.poll() is None:
            self.server.send_signal(signal.SIGQUIT if at_once else signal.SIGINT)
            try:
                self.server.wait(30)
            except subprocess.TimeoutExpired:
                self.server.kill()
                self.server.wait(30)

    def start_again(self, *, without: str = "") -> None:
        self.server = _started(self.place, without)


def binaries() -> Path | None:
    """Where PostgreSQL's programs lie: the newest of Debian's, or what is on the path."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda file: int(file.parts[-3]))
    if found:
        return found[-1].parent
    there = shutil.which("initdb")
    return Path(there).resolve().parent if there else None


@contextmanager
def cluster() -> Iterator[Cluster]:
    """A cluster with the database ``soundedge``, prepared for the ledger; gone afterwards."""
    from soundedge.store.postgres_schema import prepare

    programs = binaries()
    if programs is None:
        raise SystemExit("PostgreSQL's programs are not here. Install Debian's package: apt-get install postgresql")
    short = len(tempfile.gettempdir()) < 60  # a socket's whole path has 107 bytes
    place = Path(tempfile.mkdtemp(prefix="se-pg-", dir=None if short else "/tmp"))
    running = None
    try:
        if os.getuid() == 0:
            who = _user()
            os.chown(place, who.pw_uid, who.pw_gid)
        made = subprocess.run(
            [programs / "initdb", "-D", place / "data", "-U", "postgres", "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8",
             "--data-checksums", "--no-sync", "--no-instructions"], capture_output=True, cwd="/", **_as_user())
        if made.returncode:
            raise SystemExit(f"PostgreSQL could not be made ready: {made.stderr.decode(errors='replace').strip()[-400:]}")
        running = Cluster(place, _started(place))
        _roles(running)
        prepare(running.url(OWNER), APP)
        yield running
    finally:
        if running is not None:
            running.stop()
        shutil.rmtree(place, ignore_errors=True)


def another() -> dict[str, str]:
    """A prepared database with nobody in it, in the cluster of this run: the environment that names it."""
    import psycopg

    name = f"se_{secrets.token_hex(6)}"
    with psycopg.connect(os.environ[OWNER_URL], dbname="postgres", autocommit=True) as db:
        db.execute(f"CREATE DATABASE {name} TEMPLATE {BLANK}")
    return {key: beside(name, os.environ[key]) for key in (APP_URL, OWNER_URL)}


def beside(name: str, url: str) -> str:
    """The address of another database of the same cluster, for the same role."""
    return re.sub(r"(?<=///)\w+", name, url)


def _started(place: Path, without: str = "") -> subprocess.Popen[bytes]:
    programs = binaries()
    assert programs is not None
    settings = {"listen_addresses": "", "unix_socket_directories": str(place), "fsync": "on", "synchronous_commit": "on",
                "full_page_writes": "on", "shared_buffers": "64MB", "max_connections": "100", "log_min_messages": "fatal"}
    with open(os.devnull, "wb") as nowhere:
        server = subprocess.Popen(
            [programs / "postgres", "-D", place / "data",
             *(f"--{name}={value}" for name, value in settings.items() if name != without)],
            stdin=subprocess.DEVNULL, stdout=nowhere, stderr=nowhere, cwd="/", preexec_fn=_end_with_me, **_as_user())
    import psycopg

    for _ in range(600):
        try:
            psycopg.connect(f"postgresql:///postgres?host={place}&user=postgres", connect_timeout=5).close()
            return server
        except psycopg.OperationalError:
            if server.poll() is not None:
                break
            time.sleep(0.05)
    server.kill()
    raise SystemExit("PostgreSQL was made ready but did not start.")


def _roles(running: Cluster) -> None:
    import psycopg

    with psycopg.connect(f"postgresql:///postgres?host={running.place}&user=postgres", autocommit=True) as db:
        db.execute(f"CREATE ROLE {OWNER} LOGIN CREATEROLE CREATEDB")
        db.execute(f"CREATE DATABASE soundedge OWNER {OWNER}")


def _pattern(running: Cluster) -> None:
    import psycopg

    with psycopg.connect(f"postgresql:///postgres?host={running.place}&user={OWNER}", autocommit=True) as db:
        db.execute(f"CREATE DATABASE {BLANK} TEMPLATE soundedge")


def _end_with_me() -> None:
    """Told to end (fast) when the parent dies, also by kill -9. And no Ctrl-C of the terminal: the parent stops it."""
    os.setsid()
    ctypes.CDLL(None).prctl(1, signal.SIGINT)


def _user() -> pwd.struct_passwd:
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    raise SystemExit("PostgreSQL does not run as root, and there is no other user here to run it as.")


def _as_user() -> dict[str, object]:
    if os.getuid() != 0:
        return {}
    who = _user()
    return {"user": who.pw_uid, "group": who.pw_gid, "extra_groups": []}


def main(command: list[str]) -> int:
    """Run a command with the ledger in a PostgreSQL of its own; the command's exit code."""
    if not command:
        print(__doc__)
        return 2
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    from soundedge.services.people.installation import prepare_database as prepare

    with cluster() as running:
        prepare(running.url(OWNER), APP)  # the accounts' tables too
        _pattern(running)
        print(f"PostgreSQL of its own for this run ({binaries()}), fsync on.", flush=True)
        named = {APP_URL: running.url(APP), OWNER_URL: running.url(OWNER)}
        child = subprocess.Popen(command, env=os.environ | named)
        try:
            return child.wait()
        except BaseException:
            child.send_signal(signal.SIGINT)
            child.wait(60)
            raise


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
