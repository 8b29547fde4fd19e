"""What does a job cost beside the setting of its page alone? ``python bench/job.py``

Whole processes both: ``soundedge job run`` of an example, and a process that only sets the same certificate from a
view that lies ready. The target is at most 8 ×.
"""

from __future__ import annotations

import pickle
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from table import row

ROOT = Path(__file__).parents[1]
SET_ALONE = """
import pickle, sys
from soundedge.report.certificate import certificate_pdf
view, attachments = pickle.load(open(sys.argv[1], "rb"))
open(sys.argv[2], "wb").write(certificate_pdf(view, attachments))
"""
ROUNDS = 3


def seconds(command: list[str]) -> float:
    """Shortest wall time of a whole process over a few rounds. [s]"""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        done = subprocess.run(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
        assert done.returncode in (0, 3), done.returncode
        times.append(time.perf_counter() - start)
    return min(times)


def the_view(folder: Path) -> tuple[object, dict[str, bytes]]:
    """The view and attachments of an example's certificate, as the job service makes them."""
    from soundedge.job.judge import judge_job
    from soundedge.job.typed import events_of
    from soundedge.services.evidence import certificate_page
    from soundedge.services.evidence.records import record_of
    from soundedge.services.folder.contents import read_folder

    read = read_folder(folder)
    events = events_of(read.sheet)
    outcome = judge_job(events)
    record = record_of(events, outcome, now=datetime(2026, 11, 1, tzinfo=UTC))
    held: list[object] = []
    kept = certificate_page.certificate_pdf
    certificate_page.certificate_pdf = lambda view, attachments: held.extend((view, attachments)) or b""  # type: ignore[assignment]
    try:
        certificate_page.certificate(outcome, record, read)
    finally:
        certificate_page.certificate_pdf = kept
    return held[0], held[1]  # type: ignore[return-value]


def main() -> None:
    """Print one line per example: job run, page alone, ratio."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        for example in ("mixer-cover", "dosing-nozzle", "pump-casing", "thin-edge-cover"):
            ready = place / f"{example}.view"
            ready.write_bytes(pickle.dumps(the_view(ROOT / "examples" / example)))
            command = [sys.executable, "-m", "soundedge", "job", "run", f"examples/{example}", "--out", str(place / example)]
            run = seconds(command)
            alone = seconds([sys.executable, "-c", SET_ALONE, str(ready), str(place / "alone.pdf")])
            row(f"job run, {example}", run, alone, "a process that sets its page alone", at_most=8,
                left_out="reading the folder, photo, plan and verdicts are ours alone")


if __name__ == "__main__":
    main()
