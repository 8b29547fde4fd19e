"""A comparison whose uncertainty nobody stated: the plain value decides, and the reason says so."""

from __future__ import annotations

from typing import Any

from ..basis.finding import Finding, judge

PLAIN = "Its uncertainty is not known: the plain value decides."


def judge_plain(rule: str, value: float | None, **how: Any) -> Finding:
    """``basis.finding.judge`` without an uncertainty and so without a probability.

    >>> found = judge_plain("test_voltage", 4000.0, limit=3900.0, sense="at_least", unit="V", source="x", next_move="")
    >>> found.p_conforms, found.because.endswith(PLAIN)
    (None, True)
    >>> found.because.count("uncertainty")
    1
    """
    return said_plain(judge(rule, value, u=None, **how))


def said_plain(found: Finding) -> Finding:
    """The same finding, its reason naming that no uncertainty is known; one without a value stays as it is."""
    if found.value is None or found.because.endswith(PLAIN):
        return found
    said = found.because.removesuffix(f" {PLAIN.split(':')[0]}.")
    return found.model_copy(update={"because": f"{said} {PLAIN}"})
