"""May this zone be tested with voltage at all? Old film that was in service, and film that conducts, say nothing honest.

    overlap and parent of a lining from acid        → not by the general rule: only the new patch
    the same, with the owner's letter, or a voltage for old film in the procedure   → at that voltage
    a lining with carbon in it                      → no test of continuity means anything
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ...basis.sources import cite
from ..case import Case
from .service import service_of
from .waived import Ground

OLD = ("overlap", "parent")  # the patch alone is new film
SOURCE = cite("nace_sp0188_2006", "1.4")


def in_service(case: Case) -> bool:
    """Whether the old film was in contact with product, as far as anybody said."""
    return bool(case.job.the("lining.identified").immersed) or service_of(case) in ("in_contact", "immersed")


def letter_given(tests: Iterable[Any]) -> bool:
    """Whether the owner's or maker's letter allows each of these tests on old film."""
    held = list(tests)
    return bool(held) and all(test.letter for test in held)


def ground(case: Case, zone: str, *, lettered: bool = False) -> Ground | None:
    """Why voltage says nothing about a zone; None where it may be tested."""
    if case.job.the("lining.identified").conductive_filler:
        return "conductive"
    if zone in OLD and in_service(case) and not lettered and case.procedure.value("old_film_v_max") is None:
        return "in_service"
    return None
