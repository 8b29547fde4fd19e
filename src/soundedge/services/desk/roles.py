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

TECHNICIAN, INSPECTOR, ENGINEER, MANAGER = "technician", "inspector", "engineer", "manager"
ROLES = (TECHNICIAN, INSPECTOR, ENGINEER, MANAGER, "auditor")


def _only(*roles: str) -> frozenset[str]:
    return frozenset(roles)


_EVERY = _only(TECHNICIAN, INSPECTOR, ENGINEER, MANAGER)
_LOOKING = _only(TECHNICIAN, INSPECTOR)

# The kinds that only add; everybody may add them in any order, so they need no network when they are made.
KINDS: dict[str, frozenset[str]] = {
    "repair.recalled": _EVERY,
    "damage.outlined": _only(TECHNICIAN, INSPECTOR, ENGINEER),
    "picture.taken": _EVERY,
    "air.read": _LOOKING,
    "solvent.used": _only(TECHNICIAN),
    "vapour.read": _LOOKING,
    "permit.issued": _EVERY,
    "surface.prepared": _only(TECHNICIAN),
    "surface.checked": _LOOKING,
    "heat.planned": _only(TECHNICIAN, ENGINEER),
    "heat.logged": _only(TECHNICIAN),
    "layer.fused": _only(TECHNICIAN),
    "hot_work.ended": _only(TECHNICIAN),
    "film.cooled": _LOOKING,
    "gauge.checked": _LOOKING,
    "film.measured": _LOOKING,
    "holiday.tested": _LOOKING,
}

MAY: dict[str, frozenset[str]] = {
    "open_job": _only(TECHNICIAN, ENGINEER, MANAGER),
    "enter": _EVERY,
    "correct_own": _EVERY,
    "correct": _only(INSPECTOR, ENGINEER),
    "correct_failed": _only(ENGINEER),
    "sign_hold_point": _only(INSPECTOR),
    "sign_release": _only(INSPECTOR, MANAGER),
    "decide": _only(ENGINEER),
    "people": _only(MANAGER),
    "devices": _only(MANAGER),
    "instruments": _only(MANAGER, INSPECTOR),
    "lots": _only(MANAGER, TECHNICIAN),
    "withdraw": _only(MANAGER, INSPECTOR, ENGINEER),
    "propose_procedure": _only(ENGINEER, MANAGER),
    "approve_procedure": _only(MANAGER, ENGINEER),
    "withdraw_procedure": _only(MANAGER, ENGINEER),
    "make_page": _EVERY,
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
    if role not in KINDS[kind]:
        raise NotYours("role", say("desk.you_may_record", role=_a(role), kind=kind, kinds=_who(KINDS[kind])))


def may_enter(role: str) -> frozenset[str]:
    """The kinds of entry that a role may record."""
    return frozenset(kind for kind, roles in KINDS.items() if role in roles)


def _a(role: str) -> str:
    return f"{'an' if role[:1] in 'aei' else 'a'} {role}"


def _who(roles: frozenset[str]) -> str:
    named = [f"{_a(role)}" for role in ROLES if role in roles]
    text = named[0] if len(named) == 1 else f"{', '.join(named[:-1])} or {named[-1]}"
    return text[:1].upper() + text[1:]
