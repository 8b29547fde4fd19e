"""A bench of its own, with no account yet and a clock that can be moved: ``python -m tests.web.own_bench FOLDER HOURS_AGO``.

It prints its address and the code of the first start. Each number on its standard input moves its clock on by so many
minutes. A repair takes most of a day, because a fire watch does; a test does not.
"""

from __future__ import annotations

import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ..postgres import OWNER_URL, another

ROOT = Path(__file__).parents[2]


class OwnBench:
    """The bench in a process of its own, seen from a test."""

    def __init__(self, folder: Path, hours_ago: float) -> None:
        self.folder, self.behind = folder, timedelta(hours=hours_ago)
        command = [sys.executable, "-m", "tests.web.own_bench", str(folder), str(hours_ago)]
        given = os.environ | (another() if OWNER_URL in os.environ else {})  # a database with nobody in it
        self.process = subprocess.Popen(command, cwd=ROOT, text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=given)
        self.url, self.code = self.process.stdout.readline().split()

    @property
    def now(self) -> datetime:
        """What its clock shows."""
        return datetime.now(UTC) - self.behind

    def later(self, minutes: float) -> None:
        """Move its clock on."""
        self.process.stdin.write(f"{minutes}\n")
        self.process.stdin.flush()
        self.process.stdout.readline()
        self.behind -= timedelta(minutes=minutes)

    def stop(self) -> None:
        """End it."""
        self.process.stdin.close()
        self.process.wait(20)


def main(folder: str, hours_ago: str) -> None:
    """Serve until standard input ends."""
    from .installation import Live, set_up

    set_up(Path(folder))
    behind = [timedelta(hours=float(hours_ago))]

    class Moved(datetime):
        @classmethod
        def now(cls, tz=None):
            return datetime.now(tz) - behind[0]

    import soundedge.services.desk.heat_plan
    import soundedge.web.api.jobs
    import soundedge.web.middleware
    from soundedge.services.people import accounts

    for module in (soundedge.web.middleware, soundedge.web.api.jobs, soundedge.services.desk.heat_plan):
        module.datetime = Moved
    live = Live()
    print(live.url, accounts.first_start_code(Moved.now(UTC)), flush=True)
    for line in sys.stdin:
        behind[0] -= timedelta(minutes=float(line))
        print("moved", flush=True)
    live.stop()


if __name__ == "__main__":
    main(*sys.argv[1:])
