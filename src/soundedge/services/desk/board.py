"""The board: which jobs there are and how each stands, one line a job."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from ...record.rotation import SHOP
from ..cache import Cache
from .book import opened
from .state import state_in

LINES_HELD = 5000  # a line takes about 1 kB
_lines = Cache(LINES_HELD)


@dataclass(frozen=True)
class JobLine:
    """A job on the board."""

    number: str
    part: str
    tag: str
    polymer: str
    verdict: str
    because: str
    next_step: str
    last_at: str
    events: int
    head: str
    outcome: str = ""

    @property
    def words(self) -> str:
        """The words a search finds it by, in lower case."""
        return f"{self.number} {self.part} {self.tag} {self.polymer}".casefold()

    def as_plain(self) -> dict[str, Any]:
        """Plain values."""
        return asdict(self)


def listed(data: Path, find: str = "") -> list[JobLine]:
    """The jobs of the shop: those not yet released first, then the released; newest entry first in each.

    ``find``: words that must all stand in number, part, tag or polymer, capitals or not; without one every job.
    """
    with opened(data) as ledger:
        lines = [line(ledger, data, job) for job in ledger.jobs() if job != SHOP]
    words = find.casefold().split()
    found = [one for one in lines if all(word in one.words for word in words)]
    found.sort(key=lambda one: one.last_at, reverse=True)
    return sorted(found, key=lambda one: one.verdict == "released")


def line(ledger: Any, data: Path, job: str, *, keep_state: bool = True) -> JobLine:
    """One job as a line of the board. One that ends with the bench's own word of release is not judged again."""
    head = ledger.head(job)
    key = (str(data), job, head)
    found = _lines.get(key)
    if found is not None:
        return found  # type: ignore[no-any-return]
    entries = list(ledger.record(job).entries)
    bodies = {entry.kind: entry.body for entry in reversed(entries) if entry.kind in ("part.identified", "lining.identified")}
    last = entries[-1]
    if last.kind == "job.judged" and last.body.get("verdict") == "released":
        word, because, step = "released", "Every step is recorded and conforms, and the release is signed.", ""
        finer = str(last.body.get("outcome", word))
        names = bodies["part.identified"].get("name", ""), bodies["part.identified"].get("tag", "")
        polymer = bodies["lining.identified"].get("polymer", "")
    else:
        held = state_in(ledger, data, job, keep=keep_state)
        word, because, step = held.outcome.verdict, held.because or held.next_move, held.next_step
        finer = held.outcome.outcome
        part = held.outcome.job.the("part.identified")
        names, polymer = (part.name, part.tag), held.outcome.job.the("lining.identified").polymer
    made = JobLine(job, *names, polymer, word, because, step, last.recorded_at, last.no, last.digest, finer)
    _lines.put((str(data), job, last.digest), made)
    return made
