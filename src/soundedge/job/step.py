"""What does one trade step say about a job, and what of it holds the job?

A step carries the room's question and answer, its findings, and its blocks: each a rule, a value, a limit,
a reason and the next move. What was not measured is listed in ``missing``; it is never assumed good.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Literal

from ..basis.finding import Finding
from .rules.waived import printed

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
    repair: str = ""  # its letter, where several repairs are asked about
    verb: str = ""  # the sort of its next move, where the rule says it (job/acts/point.py)

    def as_plain(self) -> dict[str, Any]:
        """Plain values for ``job.json``."""
        return {
            "step": self.step, "rule": self.rule, "kind": self.kind, "value": self.value, "limit": self.limit,
            "unit": self.unit, "because": self.because, "next_move": self.next_move, "source": self.source,
        } | ({"repair": self.repair} if self.repair else {})


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
    answered_for: list[str] = field(default_factory=list)  # the letter each answer is of, with several repairs; "": of all
    not_done: list[Any] = field(default_factory=list)  # rules.waived.NotDone: accepted though it was not measured

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

    def lacks(self, what: str, needed: bool, because: str, next_move: str, source: str, repair: str = "") -> None:
        """Something was not measured: it is listed, and holds the job when the procedure needs it."""
        self.missing.append(what)
        if needed:
            self.blocks.append(Block(self.name, what, because, next_move, source, absent=True, repair=repair))

    def waive(self, one: Any) -> None:
        """Something was not measured and accepted so: it stays missing, and does not hold the job."""
        if one.fact not in self.missing:
            self.missing.append(one.fact)
        if one not in self.not_done:
            self.not_done.append(one)

    def lettered(self) -> list[tuple[dict[str, Any], str]]:
        """Each answer with the letter of its repair; no letter where it is of all, or of the only one."""
        return list(zip(self.answers, self.answered_for or [""] * len(self.answers), strict=True))

    def as_plain(self) -> dict[str, Any]:
        """Plain values for ``job.json``."""
        return {
            "verdict": self.verdict,
            "because": self.because,
            "findings": [finding.model_dump(mode="json") for finding in self.findings],
            "missing": self.missing,
            "answers": self.answers,
        } | ({"not_done": printed(self.not_done)} if self.not_done else {})


_GRAVEST = ("does_not_conform", "indeterminate", "not_measured")


def together(name: str, parts: list[tuple[str, Step]]) -> Step:
    """One step of several repairs: what all of them say stands once, all else with the letter of its repair in front."""
    verdicts = [part.verdict for _, part in parts]
    step = Step(name, next((word for word in _GRAVEST if word in verdicts), verdicts[0] if verdicts else "not_measured"))
    reasons = {part.because for _, part in parts}
    step.because = reasons.pop() if len(reasons) == 1 else " ".join(
        _of(letter, part.because) for letter, part in parts if part.because)
    for letter, part in parts:
        others = [other for _, other in parts if other is not part]
        step.blocks += [block for block in (
            one if others and all(one in other.blocks for other in others) else
            replace(one, because=_of(letter, one.because), repair=letter) for one in part.blocks) if block not in step.blocks]
        step.findings += [finding for finding in (
            one if others and all(one in other.findings for other in others) else
            one.model_copy(update={"rule": f"{one.rule}, {letter}", "because": _of(letter, one.because)})
            for one in part.findings) if finding not in step.findings]
        for own, all_ in ((part.missing, step.missing), (part.cautions, step.cautions), (part.not_done, step.not_done)):
            all_ += [one for one in own if one not in all_]
        for asked, answer in zip(part.asked, part.answers, strict=True):
            shared = bool(others) and all(asked in other.asked for other in others)
            if not shared or asked not in step.asked:
                step.asked.append(asked)
                step.answers.append(answer)
                step.answered_for.append("" if shared else letter)
    return step


def _of(letter: str, because: str) -> str:
    return f"Repair {letter}: {because}"
