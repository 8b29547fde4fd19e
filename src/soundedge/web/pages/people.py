"""The people of this shop: their role, what they are qualified for and until when, and their devices. A manager makes changes
and types their password for each; each change is an event of the shop's own chain."""

from __future__ import annotations

import hashlib
from typing import Any

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from ...basis.errors import BenchError, Conflict, Unreadable
from ...basis.materials import names
from ...basis.sentences import say
from ...basis.unit_table import in_units, shown_in
from ...services.desk.entry_fields import held_as
from ...services.desk.register import may_confirm, register
from ...services.people import accounts, devices
from ..page import MANAGER, READERS, WORKERS, Page
from ..reader import in_words

ROLES = ("technician", "inspector", "engineer", "manager", "auditor")
PLATES = ("qualified_plate_mm_min", "qualified_plate_mm_max")


def people(request: Any) -> HttpResponse:
    """Everybody, and every device."""
    shop = request.user.shop
    book = register(request.data)
    held = {account.person: account for account in shop.accounts.all()}
    rows = [
        {"person": one, "account": held.get(one.id), "plates": [getattr(one.named, name) for name in PLATES],
         "asked": _asked(request, book, one.id)}
        for one in book.people.values()
    ]
    return render(
        request,
        "people/people.html",
        {
            "nav": "people",
            "rows": rows,
            "devices": [(one, _name(book, one.enrolled_by), _name(book, book.devices[one.name].typed_by))
                        for one in shop.devices.order_by("enrolled_at")],
            "manages": request.actor.role == "manager",
            "fresh_code": request.session.pop("fresh_code", None),
        },
    )


def add(request: Any) -> HttpResponse:
    """A new person with an account; their one-time password is shown once."""
    wrong, made = "", None
    if request.method == "POST":
        try:
            accounts.check_password(request.user, request.POST.get("password", ""))
            account, one_time = accounts.add_person(
                request.user.shop, _person(request), login=request.POST.get("login", ""), by=request.actor, now=request.now
            )
            made = {"account": account, "one_time": one_time}
        except BenchError as fault:
            wrong = fault.message
    return _form(request, wrong, made, request.POST if request.method == "POST" else {}, {"new": True})


def one(request: Any, person: str) -> HttpResponse:
    """One person: role and qualification, a new one-time password, account closed or opened, disabled or enabled again."""
    book = register(request.data)
    if person not in book.people:
        raise Http404
    account = accounts.person_known(request.user.shop, person)
    wrong, made, stale = "", None, False
    if request.method == "POST":
        what = request.POST.get("what", "")
        try:
            accounts.check_password(request.user, request.POST.get("password", ""))
            because = request.POST.get("because", "").strip()
            now_seen = _seen(book.people[person])
            if what == "change" and request.POST.get("seen") != now_seen:
                stale = True
                raise Conflict("person", say("web.person_moved", name=book.people[person].name))
            if what == "change":
                changed = _person(request, person, book.people[person].named)
                accounts.change_person(account, changed, by=request.actor, now=request.now)
            elif what == "reset":
                made = _made(account, accounts.reset_password(account, because=because, by=request.actor, now=request.now))
            elif what == "enable":
                made = _made(account, accounts.enable(account, because=because, by=request.actor, now=request.now))
            elif what == "disable":
                accounts.disable(account, because=because, by=request.actor, now=request.now)
            elif what == "unlock":
                accounts.unlock(account)
            else:
                raise Unreadable("what", say("web.act_not_for_person"))
        except BenchError as fault:
            wrong = fault.message
        if not wrong and made is None:
            return HttpResponseRedirect("/people/")
    standing = book.people[person]
    typed = wrong and not stale and request.POST.get("what") == "change"
    given = (
        request.POST
        if typed
        else {
            "id": standing.id,
            "name": standing.name,
            "role": standing.role,
            "certificate": standing.certificate or "",
            "qualified_until": f"{standing.qualified_until:%Y-%m-%d}" if standing.qualified_until else "",
            "qualified_for": standing.qualified_for,
        }
        | {name: _plate(getattr(standing.named, name), request.user.units) for name in PLATES}
    )
    seen = request.POST.get("seen") if typed else _seen(standing)  # what is typed again is as old as before
    more = {"new": False, "person": standing, "account": account, "seen": seen,
            "disabled_by": _name(book, standing.disabled_by), "asked": _asked(request, book, person)}
    return _form(request, wrong, made, given, more, status=409 if stale else 422)


def confirm(request: Any, person: str) -> HttpResponse:
    """The second person's word for somebody's new password, which is then shown to them once."""
    book = register(request.data)
    if person not in book.people:
        raise Http404
    asked = _asked(request, book, person)
    if asked is None:
        return render(request, "people/confirm.html", {"nav": "people", "person": book.people[person]})
    account = accounts.person_known(request.user.shop, person)
    wrong, made = "", None
    if request.method == "POST":
        try:
            accounts.check_password(request.user, request.POST.get("password", ""))
            made = _made(account, accounts.confirm(account, by=request.actor, now=request.now))
        except BenchError as fault:
            wrong = fault.message
    context = {"nav": "people", "wrong": wrong, "made": made, "asked": asked, "person": book.people[person]}
    return render(request, "people/confirm.html", context, status=422 if wrong else 200)


def device_code(request: Any) -> HttpResponse:
    """A code for one new device, shown once."""
    try:
        accounts.check_password(request.user, request.POST.get("password", ""))
    except BenchError as fault:
        request.session["fresh_code"] = {"wrong": in_words(fault.message)}
    else:
        request.session["fresh_code"] = {"code": devices.device_code(request.user.shop, by=request.actor, now=request.now)}
    return HttpResponseRedirect("/people/#devices")


def device_revoke(request: Any, name: str) -> HttpResponse:
    """Revoke a device: it may not record any more."""
    device = request.user.shop.devices.filter(name=name, revoked_at=None).first()
    if device is None:
        raise Http404
    try:
        accounts.check_password(request.user, request.POST.get("password", ""))
        devices.revoke_device(device, because=request.POST.get("because", "").strip(), by=request.actor, now=request.now)
    except BenchError as fault:
        request.session["fresh_code"] = {"wrong": in_words(fault.message)}
    return HttpResponseRedirect("/people/#devices")


def _seen(person: Any) -> str:
    """What a page shows of a person, in short: a page that is older than the last change says another."""
    return hashlib.sha256(person.named.model_dump_json().encode()).hexdigest()[:16]


def _asked(request: Any, book: Any, person: str) -> dict[str, Any] | None:
    """A new password that stands asked for somebody, and whether the reader may confirm it."""
    asked = book.people[person].asked
    if asked is None or not asked.stands(request.now):
        return None
    return {"by": _name(book, asked.by), "at": asked.at, "because": asked.because, "back": asked.what == "enabled",
            "may": may_confirm(book, request.actor, person, now=request.now)}


def _made(account: Any, once: str) -> dict[str, Any] | None:
    return {"account": account, "one_time": once} if once else None


def _name(book: Any, person: str) -> str:
    return book.people[person].name if person in book.people else person


def _form(request: Any, wrong: str, made: Any, given: Any, more: dict[str, Any], *, status: int = 422) -> HttpResponse:
    chosen = given.getlist("qualified_for") if hasattr(given, "getlist") else given.get("qualified_for", [])
    context = {
        "nav": "people",
        "wrong": wrong,
        "made": made,
        "given": given,
        "roles": ROLES,
        "polymers": [(polymer, polymer in chosen) for polymer in names("polymer")],
        "length": shown_in("mm", request.user.units),
    }
    return render(request, "people/person.html", context | more, status=status if wrong else 200)


def _plate(value: float | None, units: str) -> str:
    return "" if value is None else f"{in_units(value, 'mm', units)[0]:.4g}"


def _person(request: Any, person: str = "", held: Any = None) -> dict[str, Any]:
    form = request.POST
    out: dict[str, Any] = {
        "id": person or form.get("id", "").strip(),
        "name": form.get("name", "").strip(),
        "role": form.get("role", ""),
    }
    if form.get("certificate", "").strip():
        out["certificate"] = form["certificate"].strip()
    if form.get("qualified_until"):
        out["qualified_until"] = f"{form['qualified_until']}T23:59:59Z"
    if form.getlist("qualified_for"):
        out["qualified_for"] = form.getlist("qualified_for")
    for name in PLATES:
        typed, before = form.get(name, "").strip(), getattr(held, name, None)
        if typed and typed == _plate(before, request.user.units):
            out[name] = before  # as it was shown: 10 mm do not become 0.3937 in and then 9.99998 mm
        elif typed:
            out[name] = held_as("Plate thickness", typed, "mm", request.user.units)
    return out


PAGES = (
    Page("people/", people, "people", READERS),
    Page("people/add/", add, "person_add", MANAGER, methods=("GET", "POST")),
    Page("people/<slug:person>/", one, "person", MANAGER, methods=("GET", "POST")),
    Page("people/<slug:person>/confirm/", confirm, "person_confirm", WORKERS, methods=("GET", "POST")),
    Page("devices/code/", device_code, "device_code", MANAGER, methods=("POST",)),
    Page("devices/<slug:name>/revoke/", device_revoke, "device_revoke", MANAGER, methods=("POST",)),
)
