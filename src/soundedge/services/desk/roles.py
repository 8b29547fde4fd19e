"""What may a person do at the bench, by his role?

technician   repair work and everything that is recorded with it
inspector    looks and measures, signs hold points and the release; never does repair work
engineer     answers where the procedure does not allow it; plans heat; proposes procedures
manager      opens jobs; people, devices, instruments, lots; approves procedures; may release
auditor      reads everything and changes nothing
"""

from __future__ import annotations

from ...basis.errors import Refused
from ...basis.sentences import say
from ...job.kinds import KINDS
from ...job.kinds.kind import ENGINEER, EVERYBODY, INSPECTOR, MANAGER, TECHNICIAN

ROLES = (TECHNICIAN, INSPECTOR, ENGINEER, MANAGER, "auditor")


def _only(*roles: str) -> frozenset[str]:
    return frozenset(roles)


# The kinds that only add; everybody may add them in any order, so they need no network when they are made.
ADDING: dict[str, frozenset[str]] = {kind.name: kind.roles for kind in KINDS.values() if kind.adds and kind.roles}

MAY: dict[str, frozenset[str]] = {
    "open_job": _only(TECHNICIAN, ENGINEER, MANAGER),
    "enter": EVERYBODY,
    "correct_own": EVERYBODY,
    "correct": _only(INSPECTOR, ENGINEER),
    "correct_failed": _only(ENGINEER),
    "sign_hold_point": KINDS["hold_point.signed"].roles,
    "sign_release": KINDS["release.signed"].roles,
    "decide": KINDS["escalation.decided"].roles,
    "people": _only(MANAGER),
    "devices": _only(MANAGER),
    "instruments": _only(MANAGER, INSPECTOR),
    "lots": _only(MANAGER, TECHNICIAN),
    "withdraw": _only(MANAGER, INSPECTOR, ENGINEER),
    "propose_procedure": _only(ENGINEER, MANAGER),
    "approve_procedure": _only(MANAGER, ENGINEER),
    "withdraw_procedure": _only(MANAGER, ENGINEER),
    "make_page": EVERYBODY,
    "certificate": frozenset(ROLES),
}

_WORDS = {
    "open_job": "open a job", "enter": "record anything", "correct_own": "correct an entry",
    "correct": "correct another's entry",
    "correct_failed": "correct or void what fails", "sign_hold_point": "sign a hold point", "sign_release": "sign the release",
    "decide": "answer the engineering review", "people": "change people", "devices": "change devices",
    "instruments": "change instruments", "lots": "change lots", "withdraw": "withdraw an instrument or a lot",
    "propose_procedure": "propose a procedure", "approve_procedure": "approve a procedure",
    "withdraw_procedure": "withdraw a procedure", "make_page": "make the page of a job", "certificate": "read a certificate",
}


class NotYours(Refused):
    """The role does not allow it."""


def check(role: str, action: str) -> None:
    """Raises NotYours when a role may not do it; the sentence says who may."""
    if role not in MAY[action]:
        raise NotYours("role", say("desk.you_may", role=_a(role), words=_WORDS[action], may=_who(MAY[action])))


def check_kind(role: str, kind: str) -> None:
    """Raises NotYours when a role may not record this kind."""
    allowed = KINDS[kind].roles
    if role not in allowed:
        raise NotYours("role", say("desk.you_may_record", role=_a(role), kind=kind, kinds=_who(allowed)))


def may_enter(role: str) -> frozenset[str]:
    """The kinds of entry that a role may record."""
    return frozenset(kind for kind, roles in ADDING.items() if role in roles)


def _a(role: str) -> str:
    return f"{'an' if role[:1] in 'aei' else 'a'} {role}"


def _who(roles: frozenset[str]) -> str:
    named = [f"{_a(role)}" for role in ROLES if role in roles]
    text = named[0] if len(named) == 1 else f"{', '.join(named[:-1])} or {named[-1]}"
    return text[:1].upper() + text[1:]
