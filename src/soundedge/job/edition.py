"""By which rules is a job judged, and what is said about a record that was judged by others?

A change of the rules that changes verdicts is a new edition. A record names the edition: ``job.opened`` the one it was opened
under, ``job.judged`` the one each judgement was made by; without the key it is 1. The code keeps only the rules of the
current edition: what an earlier one judged is checked for everything else but not judged again.

>>> judged_by({"verdict": "released"}), judged_by({"verdict": "released", "rules": 3})
(1, 3)
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from .. import __version__
from ..basis.sentences import Sentence, say

RULES_EDITION = 3
PROGRAM = {1: "0.1", 2: "0.2", 3: "0.3"}  # edition of the rules → the version of this program that judges by them


def opening() -> dict[str, Any]:
    """What ``job.opened`` says of the rules and of the program that opens the job."""
    return {"rules": RULES_EDITION, "program": __version__}


def judged_by(body: Mapping[str, Any]) -> int:
    """The edition that the body of a ``job.judged`` or ``job.opened`` names."""
    named = body.get("rules")
    return 1 if named is None else int(named)


def judged_here(edition: int) -> bool:
    """Whether this program can judge by that edition."""
    return edition == RULES_EDITION


def told(edition: int) -> Sentence:
    """What is said instead of judging again, when the edition is not the current one.

    >>> told(1)
    'It was judged by rules edition 1; judging again needs version 0.1 of this program.'
    """
    if edition in PROGRAM:
        return say("job.judged_by_edition", edition=edition, version=PROGRAM[edition])
    return say("job.judged_by_newer_edition", edition=edition, known=max(PROGRAM))
