"""What does one trade step say about a job, and what of it holds the job?

A step carries the room's question and answer, its findings, and its blocks: each a rule, a value, a limit,
a reason and the next move. What was not measured is listed in ``missing``; it is never assumed good.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

from ..basis.finding import Finding

BlockKind = Literal["held", "engineering_review", "rejected"]


@dataclass(frozen=True)
class Block:
    """One thing that holds the job. ``kind`` says what the job becomes while it applies; ``absent`` that
    nothing was found wrong, the thing is only not there yet."""

    step: str
    rule: str
    because: str
    next_move: str
    source: str
    kind: BlockKind = "held"
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    absent: bool = False

    def as_plain(self) -> dict[str, Any]:
        """Plain values for ``job.json``."""
        return {
            "step": self.step, "rule": self.rule, "kind": self.kind, "value": self.value, "limit": self.limit,
            "unit": self.unit, "because": self.because, "next_move": self.next_move, "source": self.source,
        }


@dataclass
class Step:
    """One trade step of a job: verdict in the room's own word, findings, blocks and what is missing."""

    name: str
    verdict: str = "not_measured"
    because: str = ""
    findings: list[Finding] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    asked: list[dict[str, Any]] = field(default_factory=list)
    answers: list[dict[str, Any]] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)

    def hold(self, rule: str, because: str, next_move: str, source: str, kind: BlockKind = "held", **numbers: Any) -> None:
        """Add a block."""
        self.blocks.append(Block(self.name, rule, because, next_move, source, kind, **numbers))

    def hold_on(self, findings: Iterable[Finding], kind: BlockKind = "held") -> None:
        """Keep findings; each that does not conform becomes a block with its own reason."""
        for finding in findings:
            self.findings.append(finding)
            if finding.verdict != "conforms":
                self.blocks.append(
                    Block(
                        self.name, finding.rule, finding.because, finding.next_move, finding.source,
                        kind if finding.verdict == "does_not_conform" else "held",
                        finding.value, finding.limit, finding.unit,
                    )
                )

    def lacks(self, what: str, needed: bool, because: str, next_move: str, source: str) -> None:
        """Something was not measured: it is listed, and holds the job when the procedure needs it."""
        self.missing.append(what)
        if needed:
            self.blocks.append(Block(self.name, what, because, next_move, source, absent=True))

    def as_plain(self) -> dict[str, Any]:
        """Plain values for ``job.json``."""
        return {
            "verdict": self.verdict,
            "because": self.because,
            "findings": [finding.model_dump(mode="json") for finding in self.findings],
            "missing": self.missing,
            "answers": self.answers,
        }
