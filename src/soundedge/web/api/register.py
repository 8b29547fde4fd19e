"""The shop's register: people, devices, instruments, lots, procedures. Read by everybody, changed by whom the desk lets.

Each change is an event of the shop's own chain. Changes of people and devices, and approvals, need the person's password
again, as on the pages. A one-time password or code is in the answer once and kept nowhere.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse, JsonResponse
from ninja import Router
from pydantic import BaseModel

from ...basis.errors import Unreadable
from ...basis.sentences import say
from ...services.desk import register as desk
from ...services.people import accounts
from ..page import MANAGER, READERS
from .door import operation
from .jobs import ID, INSTANT, body_of, text

router = Router(tags=["register"])
_DIGEST = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
_TOOLS, _LOTS = frozenset({"manager", "inspector"}), frozenset({"manager", "technician"})
_WITHDRAW = frozenset({"manager", "inspector", "engineer"})
_PROCEDURES = frozenset({"engineer", "manager"})
_QUALIFICATION = ("qualified_until", "qualified_for", "qualified_plate_mm_min", "qualified_plate_mm_max", "certificate")
_PERSON = ("id", "name", "role", *_QUALIFICATION)


def _lists(name: str, things: str, summary: str, plain: Callable[[Any], dict[str, Any]]) -> None:
    """An operation that lists one part of the register, as it stands now."""

    @operation(router, "GET", f"/{name}", roles=READERS, summary=summary)
    def listed(request: Any) -> HttpResponse:
        held = getattr(desk.register(request.data), things).values()
        return JsonResponse({name: [plain(one) for one in held]})


def _revision(one: Any) -> dict[str, Any]:
    keys = ("revision", "id", "title", "edition", "word", "sha256", "because", "proposed_by", "approved_by", "withdrawn_by")
    return {key: getattr(one, key) for key in keys}


def _plain(body: BaseModel) -> dict[str, Any]:
    return body.model_dump(mode="json")


_lists("people", "people", "Everybody of the shop", lambda one: _plain(one.named) | {"disabled": one.disabled})
_lists(
    "devices",
    "devices",
    "The shop's devices",
    lambda one: {"id": one.id, "name": one.name, "revoked": one.revoked_at is not None},
)
_lists(
    "instruments",
    "instruments",
    "The shop's instruments with their newest calibrations",
    lambda one: _plain(one.listed) | {"withdrawn": one.withdrawn},
)
_lists("lots", "lots", "The shop's lots", lambda one: _plain(one.received) | {"withdrawn": one.withdrawn})
_lists("procedures", "revisions", "Every revision of the shop's lining procedures", _revision)


@operation(router, "GET", "/procedures/{revision}", roles=READERS, summary="One revision with its text and limits")
def procedure(request: Any, revision: str) -> HttpResponse:
    """The text as it was proposed, and every limit with its source."""
    held = _held(request, revision)
    return JsonResponse(_revision(held) | {"text": held.text, "limits": desk.limits_of(held)})


@operation(
    router,
    "POST",
    "/people",
    roles=MANAGER,
    summary="Add a person with an account; the one-time password is in the answer once",
    body_schema={
        "type": "object",
        "required": ["id", "name", "role", "login", "password"],
        "additionalProperties": False,
        "properties": {
            "id": ID,
            "name": ID,
            "role": ID,
            "login": ID,
            "password": {"type": "string"},
            "qualified_until": INSTANT,
            "qualified_for": {"type": "array", "items": {"type": "string"}},
            "qualified_plate_mm_min": {"type": "number"},
            "qualified_plate_mm_max": {"type": "number"},
            "certificate": ID,
        },
    },
)
def add_person(request: Any) -> HttpResponse:
    """Only a manager, with his password."""
    raw = body_of(request, "id", "name", "role", "login", "password", also=_QUALIFICATION)
    accounts.check_password(request.user, text(raw, "password", 200))
    for key in ("id", "name", "role", "login"):
        text(raw, key, 120)
    person = {key: raw[key] for key in _PERSON if key in raw}
    account, once = accounts.add_person(request.user.shop, person, login=raw["login"], by=request.actor, now=request.now)
    return JsonResponse({"id": account.person, "login": account.login, "one_time_password": once}, status=201)


@operation(
    router,
    "POST",
    "/people/returns",
    roles=MANAGER,
    summary="Let a person in again who was let in no more; the one-time password is in the answer once",
    body_schema={
        "type": "object",
        "required": ["id", "because", "password"],
        "additionalProperties": False,
        "properties": {"id": ID, "because": {"type": "string"}, "password": {"type": "string"}},
    },
)
def enable(request: Any) -> HttpResponse:
    """Only a manager, with his password and the reason; no session of the person's comes back."""
    raw = body_of(request, "id", "because", "password")
    account = accounts.person_known(request.user.shop, text(raw, "id", 120))
    accounts.check_password(request.user, text(raw, "password", 200))
    once = accounts.enable(account, because=text(raw, "because"), by=request.actor, now=request.now)
    return JsonResponse({"id": account.person, "login": account.login, "one_time_password": once}, status=201)


@operation(
    router,
    "POST",
    "/devices",
    roles=MANAGER,
    summary="A code that enrols one device once",
    body_schema={
        "type": "object",
        "required": ["password"],
        "additionalProperties": False,
        "properties": {"password": {"type": "string"}},
    },
)
def device_code(request: Any) -> HttpResponse:
    """Only a manager, with his password; it holds two days."""
    raw = body_of(request, "password")
    accounts.check_password(request.user, text(raw, "password", 200))
    return JsonResponse({"code": accounts.device_code(request.user.shop, by=request.actor, now=request.now)}, status=201)


def _changes(
    name: str, roles: frozenset[str], summary: str, work: Any, needed: tuple[str, ...], also: tuple[str, ...] = ()
) -> None:
    """An operation that changes the register and answers with the event's number."""
    properties = {key: INSTANT if key.endswith(("_on", "_due", "expires")) else {} for key in (*needed, *also)}

    @operation(
        router,
        "POST",
        name,
        roles=roles,
        summary=summary,
        body_schema={
            "type": "object",
            "required": list(needed),
            "additionalProperties": False,
            "properties": properties | {"id": ID},
        },
    )
    def change(request: Any) -> HttpResponse:
        raw = body_of(request, *needed, also=also)
        if "password" in needed:
            accounts.check_password(request.user, text(raw, "password", 200))
        entry = work(request, raw)
        return JsonResponse({"no": entry.no, "kind": entry.kind, "recorded_at": entry.recorded_at}, status=201)


_changes(
    "/instruments",
    _TOOLS,
    "List an instrument",
    lambda request, raw: desk.list_instrument(request.data, request.actor, raw, now=request.now),
    ("id", "kind", "calibrated_on", "calibration_due"),
    ("certificate", "tol_pct", "tol"),
)
_changes(
    "/instruments/calibrations",
    _TOOLS,
    "A new calibration of an instrument",
    lambda request, raw: desk.calibrate_instrument(request.data, request.actor, raw, now=request.now),
    ("id", "calibrated_on", "calibration_due"),
    ("certificate", "tol_pct", "tol"),
)
_changes(
    "/instruments/withdrawals",
    _WITHDRAW,
    "An instrument is used no more, with the password",
    lambda request, raw: desk.withdraw_instrument(
        request.data, request.actor, text(raw, "id", 120), text(raw, "because"), now=request.now
    ),
    ("id", "because", "password"),
)
_changes(
    "/lots",
    _LOTS,
    "Receive a lot",
    lambda request, raw: desk.receive_lot(request.data, request.actor, raw, now=request.now),
    ("id", "kind", "expires"),
    ("polymer", "opened_on"),
)
_changes(
    "/lots/withdrawals",
    _WITHDRAW,
    "A lot is used no more, with the password",
    lambda request, raw: desk.withdraw_lot(
        request.data, request.actor, text(raw, "id", 120), text(raw, "because"), now=request.now
    ),
    ("id", "because", "password"),
)


@operation(
    router,
    "POST",
    "/procedures",
    roles=_PROCEDURES,
    summary="Propose a procedure: its text as TOML, and why",
    body_schema={
        "type": "object",
        "required": ["id", "text", "because"],
        "additionalProperties": False,
        "properties": {"id": ID, "text": {"type": "string"}, "because": {"type": "string"}},
    },
)
def propose(request: Any) -> HttpResponse:
    """Another person approves it before a job is opened under it."""
    raw = body_of(request, "id", "text", "because")
    made = desk.propose_procedure(
        request.data,
        request.actor,
        text(raw, "text", 200_000),
        because=text(raw, "because"),
        id=text(raw, "id", 60),
        now=request.now,
    )
    return JsonResponse({"revision": made}, status=201)


@operation(
    router,
    "POST",
    "/procedures/{revision}/approvals",
    roles=_PROCEDURES,
    summary="Approve exactly this text, as a second person",
    body_schema={
        "type": "object",
        "required": ["sha256", "password"],
        "additionalProperties": False,
        "properties": {"sha256": _DIGEST, "password": {"type": "string"}},
    },
)
def approve(request: Any, revision: str) -> HttpResponse:
    """With the password; whoever proposed it cannot."""
    raw = body_of(request, "sha256", "password")
    held = _held(request, revision)
    accounts.check_password(request.user, text(raw, "password", 200))
    entry = desk.approve_procedure(request.data, request.actor, held.revision, sha256=text(raw, "sha256", 64), now=request.now)
    return JsonResponse({"no": entry.no, "kind": entry.kind, "recorded_at": entry.recorded_at}, status=201)


def _held(request: Any, revision: str) -> Any:
    held = desk.register(request.data).revisions.get(revision)
    if held is None:
        raise Unreadable("revision", say("web.there_revision_shop", revision=revision[:60]))
    return held
