"""What stands before somebody signs; said the same at the terminal and at the desk."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Self

from ...basis.on_paper import counted
from ...job.judge import Outcome


@dataclass(frozen=True)
class Reviewed:
    """What stands now: the digest to sign on top of, and what a signer should have looked at."""

    job: str
    head: str
    verdict: str
    blocked_by: tuple[str, ...]
    corrections: int
    voids: int
    events: int

    @classmethod
    def of(cls, outcome: Outcome, head: str, events: int, **more: Any) -> Self:
        """What stands by a judged job; ``more`` is what another door shows besides."""
        return cls(
            outcome.job.the("job.opened").number, head, outcome.verdict,
            tuple(f"{block.step} ({block.rule.replace('_', ' ')})" for block in outcome.blocked_by),
            len(outcome.job.corrections), len(outcome.job.voids), events, **more,
        )

    @property
    def lines(self) -> list[str]:
        """As it is shown before the passphrase is asked for."""
        held = f"held by {'; '.join(self.blocked_by)}" if self.blocked_by else "nothing holds it"
        return [
            f"Job {self.job}: {self.verdict.replace('_', ' ')}, {held}.",
            f"{counted(self.events, 'entry', 'entries')}, {counted(self.corrections, 'correction')}, "
            f"{counted(self.voids, 'voided entry', 'voided entries')}; all are printed on the page.",
            f"What you sign: everything up to {self.head}.",
        ]
