"""One row per kind of entry: everything the program knows about it from its kind alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ...basis.question import Request
from ...basis.sentences import Sentence

TECHNICIAN, INSPECTOR, ENGINEER, MANAGER = "technician", "inspector", "engineer", "manager"
LOOKING = frozenset({TECHNICIAN, INSPECTOR})
EVERYBODY = frozenset({TECHNICIAN, INSPECTOR, ENGINEER, MANAGER})

# Keys of a body that the bench fills in: not on any form or sheet, and not to be corrected.
WRITTEN_BY_THE_BENCH = ("rules", "program", "estimate", "covers")


def ELSEWHERE(body: Any) -> str:
    """The line of a kind that has its own place on the certificate: head, lists, corrections, the verdict."""
    return ""


def of_repair(body: Any) -> str:
    """Which repair a line on the certificate is of; empty where none is named."""
    letter = getattr(body, "repair", None)
    return f"repair {letter}: " if letter else ""


@dataclass(frozen=True)
class Kind:
    """One kind of entry.

    Parameters
    ----------
    name : str
        In the past tense; an old word never gets a new meaning.
    body : type of Request
        What must be written down with it.
    label : str
        What it is called on pages and on paper.
    line : callable
        Its body in one line on the certificate; ``ELSEWHERE`` where it has a place of its own there.
    section : str
        Its section of the job sheet; empty for what the bench writes itself.
    many, acted : bool
        Whether it may appear there more than once; whether somebody must have done it at a stated time.
    step, page : str
        The step of the path it belongs to, and the page on which it is made, where that is another one.
    roles : set of str
        Who may record it at the bench.
    adds : bool
        Whether it only adds, so that it may be recorded in any order and without network.
    listed : bool
        Whether the bench names it from the shop's register when an entry uses it.
    repair : bool
        Whether it is repair work: whoever did it neither signs a hold point nor releases.
    covered_by, follows : str, tuple of str
        The hold point whose signature covers it; the hold points that are signed before it.
    after_release : bool
        Whether it may still come after the release.
    measured_with : tuple of str
        Kinds of instruments that can have measured it; empty: it names none, or any.
    box : str
        Its box on the blank card and its place there: ``3b``; empty when it is not on the card.
    not_corrected, not_voided : Sentence, optional
        Why it may not be corrected, or voided; empty when it may.
    signature : callable or None
        What a person signed, in words; None when it is no signature and no decision.
    act : str
        The act it records, before which is asked whether it may be done (job/acts).
    part_wide : bool
        Whether it serves every repair of the part, whatever repair is asked about.
    names_repair : bool
        Whether it must name its repair where there are several.
    """

    name: str
    body: type[Request]
    label: str
    line: Callable[[Any], str]
    section: str = ""
    many: bool = True
    acted: bool = True
    step: str = ""
    page: str = ""
    roles: frozenset[str] = frozenset()
    adds: bool = True
    listed: bool = False
    repair: bool = False
    covered_by: str = ""
    follows: tuple[str, ...] = ()
    after_release: bool = False
    measured_with: tuple[str, ...] = ()
    box: str = ""
    not_corrected: Sentence | None = None
    not_voided: Sentence | None = None
    signature: Callable[[Any], str] | None = None
    act: str = ""
    part_wide: bool = False
    names_repair: bool = False


@dataclass(frozen=True)
class Event:
    """One event: its id within the job, kind, who, when they say it happened, and the body."""

    id: str
    kind: str
    by: str
    at: datetime
    body: Any
