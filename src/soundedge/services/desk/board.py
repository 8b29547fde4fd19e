"""The board: which jobs there are and how each stands, one line a job."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from ...record.rotation import SHOP
from ..cache import Cache
from .book import opened
from .state import state_in

LINES_HELD = 5000  # jobs that are not released; a line takes about 1 kB
RELEASED = "Every step is recorded and conforms, and the release is signed."
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

    ``find``: words that must all stand in number, part, tag or polymer, capitals or not; without one every job. A job that ends
    with the bench's own word of release is one row of the store's; only the others are judged.
    """
    with opened(data) as ledger:
        lines = [_line(ledger, data, row) for row in ledger.lines()]
    words = find.casefold().split()
    found = [one for one in lines if all(word in one.words for word in words)]
    found.sort(key=lambda one: one.last_at, reverse=True)
    return sorted(found, key=lambda one: one.verdict == "released")


def heads(data: Path) -> dict[str, str]:
    """Every job with the digest of its last entry."""
    with opened(data) as ledger:
        return {job: head for job, head in ledger.heads().items() if job != SHOP}


def moved(data: Path, known: Mapping[str, str]) -> list[JobLine]:
    """The lines of the jobs that have another head than is known."""
    with opened(data) as ledger:
        return [_line(ledger, data, row) for row in ledger.lines() if known.get(row[0]) != row[2]]


def read_ahead(ledger: Any, data: Path) -> Iterator[str]:
    """Judge the jobs that are not released, newest entry first, and keep only their lines; the number of each once it is."""
    rows = sorted((row for row in ledger.lines() if _released(row) is None), key=lambda row: row[3], reverse=True)
    for row in rows[:LINES_HELD]:
        _judged(ledger, data, row[0], keep_state=False)
        yield row[0]


def _line(ledger: Any, data: Path, row: tuple[Any, ...]) -> JobLine:
    return _released(row) or _judged(ledger, data, row[0])


def _released(row: tuple[Any, ...]) -> JobLine | None:
    """A row of the store as a line of the board; None where the job must be judged to be told."""
    job, events, head, last_at, part, tag, polymer, word, outcome = row
    return JobLine(job, part, tag, polymer, word, RELEASED, "", last_at, events, head, outcome) if word == "released" else None


def _judged(ledger: Any, data: Path, job: str, *, keep_state: bool = True) -> JobLine:
    """A job that is not released, as a line of the board: judged when its head has moved."""
    head = ledger.head(job)
    key = (str(data), job, head)
    found = _lines.get(key)
    if found is not None:
        return found  # type: ignore[no-any-return]
    held = state_in(ledger, data, job, keep=keep_state)
    last, outcome = ledger.record(job).entries[-1], held.outcome
    part, polymer = outcome.job.the("part.identified"), outcome.job.the("lining.identified").polymer
    made = JobLine(job, part.name, part.tag, polymer, outcome.verdict, held.because or held.next_move, held.next_step,
                   last.recorded_at, last.no, last.digest, outcome.outcome)
    _lines.put((str(data), job, last.digest), made)
    return made
