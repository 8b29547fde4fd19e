"""The lining procedures of this shop: what each sets and from where, two revisions side by side, a new one proposed by one
person and approved by another. No procedure, no repair."""

from __future__ import annotations

import secrets
from typing import Any

from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from ...basis.errors import BenchError
from ...services.desk import register as desk
from ...services.people import accounts
from ..page import READERS, Page

PROPOSERS = frozenset({"engineer", "manager"})


def procedures(request: Any) -> HttpResponse:
    """Every procedure with its revisions."""
    book = desk.register(request.data)
    return render(
        request,
        "procedures/procedures.html",
        {
            "nav": "procedures",
            "procedures": list(book.procedures.values()),
            "proposals": list(book.proposals.values()),
            "proposes": request.actor.role in PROPOSERS,
            "me": request.actor.person,
        },
    )


def revision(request: Any, revision: str) -> HttpResponse:
    """One revision: every limit with its source, the text itself, and how it differs from another."""
    book = desk.register(request.data)
    held = book.revisions.get(revision)
    if held is None:
        raise Http404
    others = [one for one in book.revisions.values() if one.id == held.id and one.revision != revision]
    other = book.revisions.get(request.GET.get("with", ""))
    wrong = ""
    if request.method == "POST":
        try:
            _decide(request, held)
            return HttpResponseRedirect(f"/procedures/{revision}/")
        except BenchError as fault:
            wrong = fault.message
    return render(
        request,
        "procedures/revision.html",
        {
            "nav": "procedures",
            "held": held,
            "set": desk.limits_of(held),
            "others": others,
            "other": other,
            "wrong": wrong,
            "differences": desk.compare(other, held) if other else None,
            "proposes": request.actor.role in PROPOSERS,
            "approves": request.actor.role in PROPOSERS and held.proposed_by != request.actor.person and not held.approved_by,
        },
        status=422 if wrong else 200,
    )


def edit(request: Any) -> HttpResponse:
    """A new revision, from the text of an older one or from nothing."""
    book = desk.register(request.data)
    start = book.revisions.get(request.GET.get("from", ""))
    text, wrong = (start.text if start else ""), ""
    because = request.POST.get("because", "")
    if request.method == "POST":
        text = request.POST.get("text", "").replace("\r\n", "\n")
        try:
            made = desk.propose_procedure(
                request.data, request.actor, text, because=because, id=f"proposed-{secrets.token_hex(8)}", now=request.now
            )
            return HttpResponseRedirect(f"/procedures/{made}/")
        except BenchError as fault:
            wrong = fault.message
    return render(
        request,
        "procedures/edit.html",
        {"nav": "procedures", "text": text, "because": because, "wrong": wrong, "start": start},
        status=422 if wrong else 200,
    )


def _decide(request: Any, held: Any) -> None:
    accounts.check_password(request.user, request.POST.get("password", ""))
    if request.POST.get("what") == "withdraw":
        desk.withdraw_procedure(
            request.data, request.actor, held.revision, because=request.POST.get("because", ""), now=request.now
        )
    else:
        desk.approve_procedure(request.data, request.actor, held.revision, now=request.now)


PAGES = (
    Page("procedures/", procedures, "procedures", READERS),
    Page("procedures/new/", edit, "procedure_edit", PROPOSERS, methods=("GET", "POST")),
    Page("procedures/<slug:revision>/", revision, "procedure", READERS, methods=("GET", "POST"), posts=PROPOSERS),
)
