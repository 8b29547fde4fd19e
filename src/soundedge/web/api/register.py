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
from ...services.people import accounts, devices
from ..page import MANAGER, READERS, WORKERS
from .bodies import Approval, ById, Calibration, Confirmation, Confirmed, Instrument, Lot, NewPerson, Proposal
from .door import operation

router = Router(tags=["register"])
_TOOLS, _LOTS = frozenset({"manager", "inspector"}), frozenset({"manager", "technician"})
_WITHDRAW = frozenset({"manager", "inspector", "engineer"})
_PROCEDURES = frozenset({"engineer", "manager"})


def _lists(name: str, things: str, summary: str, plain: Callable[[Any], dict[str, Any]]) -> None:
    """An operation that lists one part of the register, as it stands now."""

    @operation(router, "GET", f"/{name}", roles=READERS, summary=summary)
    def listed(request: Any) -> HttpResponse:
        held = getattr(desk.register(request.data), things).values()
        return JsonResponse({name: [plain(one) for one in held]})


def _once(account: Any, once: str) -> HttpResponse:
    """The one-time password; 202 without it where a second person confirms it first."""
    said = {"id": account.person, "login": account.login}
    return JsonResponse(said | {"one_time_password": once}, status=201) if once else JsonResponse(said, status=202)


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
)
def add_person(request: Any, body: NewPerson) -> HttpResponse:
    """Only a manager, with their password."""
    accounts.check_password(request.user, body.password)
    person = body.plain(but=("login", "password"))
    account, once = accounts.add_person(request.user.shop, person, login=body.login, by=request.actor, now=request.now)
    return JsonResponse({"id": account.person, "login": account.login, "one_time_password": once}, status=201)


@operation(
    router,
    "POST",
    "/people/returns",
    roles=MANAGER,
    summary="Let a person in again whose account was closed; the one-time password is in the answer once",
)
def enable(request: Any, body: ById) -> HttpResponse:
    """Only a manager, with their password and the reason; no session of the person's comes back."""
    account = _account(request, body)
    return _once(account, accounts.enable(account, because=body.because, by=request.actor, now=request.now))


@operation(
    router,
    "POST",
    "/people/resets",
    roles=MANAGER,
    summary="Ask for a new password of a person; where nobody could confirm it, the one-time password is in the answer once",
)
def reset(request: Any, body: ById) -> HttpResponse:
    """Only a manager, with their password and the reason."""
    account = _account(request, body)
    return _once(account, accounts.reset_password(account, because=body.because, by=request.actor, now=request.now))


@operation(
    router,
    "POST",
    "/people/confirmations",
    roles=WORKERS,
    summary="Confirm a new password that another has asked for; the one-time password is in the answer once",
)
def confirm(request: Any, body: Confirmation) -> HttpResponse:
    """Neither who asked nor who is to get it; with the password."""
    account = _account(request, body)
    return _once(account, accounts.confirm(account, by=request.actor, now=request.now))


@operation(router, "POST", "/devices", roles=MANAGER, summary="A code that enrols one device once")
def device_code(request: Any, body: Confirmed) -> HttpResponse:
    """Only a manager, with their password; it holds two days."""
    accounts.check_password(request.user, body.password)
    return JsonResponse({"code": devices.device_code(request.user.shop, by=request.actor, now=request.now)}, status=201)


@operation(router, "POST", "/instruments", roles=_TOOLS, summary="List an instrument")
def instrument(request: Any, body: Instrument) -> HttpResponse:
    """With its newest calibration."""
    return _written(desk.list_instrument(request.data, request.actor, body.plain(), now=request.now))


@operation(router, "POST", "/instruments/calibrations", roles=_TOOLS, summary="A new calibration of an instrument")
def calibration(request: Any, body: Calibration) -> HttpResponse:
    """The older ones stay in the register."""
    return _written(desk.calibrate_instrument(request.data, request.actor, body.plain(), now=request.now))


@operation(router, "POST", "/instruments/withdrawals", roles=_WITHDRAW, summary="Withdraw an instrument, with the password")
def withdraw_instrument(request: Any, body: ById) -> HttpResponse:
    """It is not used any more."""
    accounts.check_password(request.user, body.password)
    return _written(desk.withdraw_instrument(request.data, request.actor, body.id, body.because, now=request.now))


@operation(router, "POST", "/lots", roles=_LOTS, summary="Receive a lot")
def lot(request: Any, body: Lot) -> HttpResponse:
    """Powder, primer, solvent or abrasive."""
    return _written(desk.receive_lot(request.data, request.actor, body.plain(), now=request.now))


@operation(router, "POST", "/lots/withdrawals", roles=_WITHDRAW, summary="Withdraw a lot, with the password")
def withdraw_lot(request: Any, body: ById) -> HttpResponse:
    """It is not used any more."""
    accounts.check_password(request.user, body.password)
    return _written(desk.withdraw_lot(request.data, request.actor, body.id, body.because, now=request.now))


@operation(router, "POST", "/procedures", roles=_PROCEDURES, summary="Propose a procedure: its text as TOML, and why")
def propose(request: Any, body: Proposal) -> HttpResponse:
    """Another person approves it before a job is opened under it."""
    made = desk.propose_procedure(request.data, request.actor, body.text, because=body.because, id=body.id, now=request.now)
    return JsonResponse({"revision": made}, status=201)


@operation(
    router,
    "POST",
    "/procedures/{revision}/approvals",
    roles=_PROCEDURES,
    summary="Approve exactly this text, as a second person",
)
def approve(request: Any, revision: str, body: Approval) -> HttpResponse:
    """With the password; whoever proposed it cannot."""
    held = _held(request, revision)
    accounts.check_password(request.user, body.password)
    return _written(desk.approve_procedure(request.data, request.actor, held.revision, sha256=body.sha256, now=request.now))


def _account(request: Any, body: ById | Confirmation) -> Any:
    """The person's account, once whoever asks has given their own password."""
    account = accounts.person_known(request.user.shop, body.id)
    accounts.check_password(request.user, body.password)
    return account


def _written(entry: Any) -> HttpResponse:
    return JsonResponse({"no": entry.no, "kind": entry.kind, "recorded_at": entry.recorded_at}, status=201)


def _held(request: Any, revision: str) -> Any:
    held = desk.register(request.data).revisions.get(revision)
    if held is None:
        raise Unreadable("revision", say("web.revision_unknown", revision=revision[:60]))
    return held
