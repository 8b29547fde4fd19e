"""What each role may do at the bench.

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
    "confirm_reset": EVERYBODY,
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

_ACTS = {
    "open_job": say("desk.may_open_job"), "enter": say("desk.may_enter"), "correct_own": say("desk.may_correct_own"),
    "correct": say("desk.may_correct"), "correct_failed": say("desk.may_correct_failed"),
    "sign_hold_point": say("desk.may_sign_hold_point"), "sign_release": say("desk.may_sign_release"),
    "decide": say("desk.may_decide"), "people": say("desk.may_people"), "confirm_reset": say("desk.may_confirm_reset"),
    "devices": say("desk.may_devices"),
    "instruments": say("desk.may_instruments"), "lots": say("desk.may_lots"), "withdraw": say("desk.may_withdraw"),
    "propose_procedure": say("desk.may_propose_procedure"), "approve_procedure": say("desk.may_approve_procedure"),
    "withdraw_procedure": say("desk.may_withdraw_procedure"), "make_page": say("desk.may_make_page"),
    "certificate": say("desk.may_certificate"),
}
_ROLES = {TECHNICIAN: say("desk.technician"), INSPECTOR: say("desk.inspector"), ENGINEER: say("desk.engineer"),
          MANAGER: say("desk.manager"), "auditor": say("desk.auditor")}


class NotYours(Refused):
    """The role does not allow it."""


def check(role: str, action: str) -> None:
    """Raises NotYours when a role may not do it; the sentence says who may."""
    if role not in MAY[action]:
        raise NotYours("role", say("desk.role_may_not", role=said(role), act=_ACTS[action], roles=listed(MAY[action])))


def check_kind(role: str, kind: str) -> None:
    """Raises NotYours when a role may not record this kind."""
    allowed = KINDS[kind].roles
    if role not in allowed:
        raise NotYours("role", say("desk.role_may_not_record", role=said(role), kind=kind, roles=listed(allowed)))


def may_enter(role: str) -> frozenset[str]:
    """The kinds of entry that a role may record."""
    return frozenset(kind for kind, roles in ADDING.items() if role in roles)


def said(role: str) -> str:
    """A role as its reader says it."""
    return _ROLES.get(role, role)


def listed(roles: frozenset[str]) -> list[str]:
    """Roles as their reader says them, in the order of ``ROLES``."""
    return [said(role) for role in ROLES if role in roles]
