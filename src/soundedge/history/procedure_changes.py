"""What changes from one revision of a procedure to another?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ..basis.procedure import LIMITS, Procedure


@dataclass(frozen=True)
class Difference:
    """One thing in which two procedures differ; None where one of them says nothing."""

    key: str
    old: Any
    new: Any
    unit: str = ""


def compare_procedures(one: Procedure, other: Procedure) -> list[Difference]:
    """What changes from one procedure to another: limits with their units, the decision, choices and the head.

    >>> from ..basis.procedure import read_procedure
    >>> compare_procedures(read_procedure({"feather_mm": 15}), read_procedure({"feather_mm": 20}))
    [Difference(key='feather_mm', old=15.0, new=20.0, unit='mm')]
    """
    found: list[Difference] = []
    for key in ("id", "title", "edition", "approver", "approved_on", "example"):
        _differ(found, key, getattr(one, key), getattr(other, key))
    for key in ("rule", "probability", "scope"):
        _differ(found, f"decision.{key}", getattr(one.decision, key), getattr(other.decision, key))
    for key, rule in LIMITS.items():
        _differ(found, key, one.value(key), other.value(key), rule.unit)
        if key in one.limits and key in other.limits:
            for part in ("source", "edition", "approver"):
                _differ(found, f"{key}.{part}", getattr(one.limits[key], part), getattr(other.limits[key], part))
    for key in dict.fromkeys((*one.choices, *other.choices)):
        _differ(found, key, one.choices.get(key), other.choices.get(key))
    return found


def _differ(found: list[Difference], key: str, old: Any, new: Any, unit: str = "") -> None:
    if old != new:
        found.append(Difference(key, old, new, unit))
