"""Who has to confirm somebody's new password? Whoever gives it has it first, and could sign with it before its owner comes.

A manager asks (``person.reset_asked``); another person, where the shop has one, writes ``person.key_reset`` or, of somebody who
was disabled, ``person.enabled``, with ``asked_by``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from ..basis.errors import Conflict, Refused
from ..basis.sentences import say

ASKED_FOR = timedelta(days=7)  # own estimate: as long as a one-time password holds
SECOND_AFTER = timedelta(days=1)  # own estimate: nobody is enrolled and confirms at once


@dataclass(frozen=True)
class Asked:
    """A new password that somebody asked for a person: ``what`` is the kind that would be written when it is confirmed."""

    what: str
    by: str
    at: datetime
    because: str

    def stands(self, at: datetime) -> bool:
        """Whether it may still be confirmed."""
        return at - self.at <= ASKED_FOR


def seconds(people: Mapping[str, Any], by: str, person: str, at: datetime) -> list[Any]:
    """Who could confirm a new password that ``by`` asked for ``person``: anybody else with a key of their own, who does more
    than look and has been of the shop for a day."""
    return [one for one in people.values() if one.id not in (by, person) and one.key and not one.disabled
            and one.role != "auditor" and at - one.enrolled_at >= SECOND_AFTER]


def check_second(people: Mapping[str, Any], person: Any, kind: str, asked_by: str | None, *, by: str, at: datetime) -> None:
    """Refuse a new password that is one person's word where the shop has a second, or that the wrong one confirms.

    Raises
    ------
    Refused
        A second person has to confirm it; or who confirms asked for it, is to get it, or is none who may.
    Conflict
        Nobody asked for it, or too long ago.
    """
    if not asked_by:
        others = seconds(people, by, person.id, at)
        if others:
            raise Refused("by", say("history.second_person", name=person.name, others=", ".join(one.name for one in others)))
        return
    asked = person.asked
    if asked is None or not asked.stands(at) or (asked.by, f"person.{asked.what}") != (asked_by, kind):
        raise Conflict("id", say("history.nothing_asked", name=person.name))
    if by not in [one.id for one in seconds(people, asked.by, person.id, at)]:
        raise Refused("by", say("history.not_the_second", name=person.name))
