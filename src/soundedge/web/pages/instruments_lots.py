"""The shop's instruments and lots: list, calibrate, receive, withdraw; and which jobs are affected when one is bad."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from ...basis.errors import BenchError, NotEnough, Unreadable
from ...basis.materials import names
from ...basis.sentences import say
from ...services.desk import board, roles
from ...services.desk import register as desk
from ...services.desk.affected import falls_with_gauge, falls_with_lot
from ...services.desk.entry_fields import fields_of
from ...services.people import accounts
from ..page import READERS, WORKERS, Page

USUAL_TOL_PCT = 3.0  # what a shop asks of a film gauge on the shim when no procedure is meant; common practice
_KINDS = {field.name: field.choices for field in fields_of("instrument.listed")}["kind"]
_LOT_KINDS = {field.name: field.choices for field in fields_of("lot.received")}["kind"]


def instruments_lots(request: Any) -> HttpResponse:
    """The list, and the forms of whoever may use them."""
    return _page(request)


def change(request: Any) -> HttpResponse:
    """One change of the register; what may be is the desk's to say."""
    try:
        _change(request)
    except BenchError as fault:
        return _page(request, wrong=fault.message, given=request.POST, status=403 if isinstance(fault, roles.NotYours) else 422)
    return HttpResponseRedirect(f"/instruments/#{request.POST.get('what', '').split('_')[-1]}s")


def recall(request: Any) -> HttpResponse:
    """What falls with a gauge or a lot; nothing is written down by asking."""
    asked, book = request.GET, desk.register(request.data)
    gauge, lot = asked.get("gauge", "").strip(), asked.get("lot", "").strip()
    found: dict[str, Any] = {"gauge": gauge, "lot": lot, "given": asked, "wrong": "", "answer": None, "standing": None}
    try:
        if gauge:
            found["answer"] = falls_with_gauge(
                request.data,
                gauge,
                tol_pct=_number(asked, "tol_pct") or USUAL_TOL_PCT,
                now=request.now,
                reference_um=_number(asked, "reference_um", film=request.user.units),
                reading_um=_number(asked, "reading_um", film=request.user.units),
            )
        elif lot:
            found["standing"] = falls_with_lot(request.data, lot)
        else:
            raise NotEnough("gauge", say("web.gauge_or_lot_missing"))
    except BenchError as fault:
        found["wrong"] = fault.message
    found |= {"nav": "instruments", "gauges": _gauges(book), "lots": list(book.lots.values()), "usual": USUAL_TOL_PCT}
    return render(request, "instruments/recall.html", found, status=422 if found["wrong"] else 200)


def _page(request: Any, *, wrong: str = "", given: Any = None, status: int = 200) -> HttpResponse:
    book, role = desk.register(request.data), request.actor.role
    writes = request.device is not None
    return render(
        request,
        "instruments/instruments_lots.html",
        {
            "nav": "instruments",
            "book": book,
            "wrong": wrong,
            "given": given or {},
            "kinds": _KINDS,
            "lot_kinds": _LOT_KINDS,
            "polymers": names("polymer"),
            "today": request.now,
            "gauges": _gauges(book),
            "usual": USUAL_TOL_PCT,
            "jobs": board.listed(request.data) if role in roles.ADDING["gauge.checked"] else [],
            "may_list": writes and role in roles.MAY["instruments"],
            "may_lots": writes and role in roles.MAY["lots"],
            "may_withdraw": writes and role in roles.MAY["withdraw"],
            "may_check": writes and role in roles.ADDING["gauge.checked"],
        },
        status=status,
    )


def _gauges(book: Any) -> list[Any]:
    return [one for one in book.instruments.values() if one.listed.kind == "film_gauge"]


def _change(request: Any) -> None:
    form, data, actor, now = request.POST, request.data, request.actor, request.now
    what, name = form.get("what", ""), form.get("id", "").strip()
    if what.startswith("withdraw_"):
        accounts.check_password(request.user, form.get("password", ""))
    if what in ("add_instrument", "calibrate_instrument"):
        body: dict[str, Any] = {
            "id": name,
            "calibrated_on": _day(form, "calibrated_on"),
            "calibration_due": _day(form, "calibration_due"),
        }
        body |= {key: value for key in ("tol_pct", "tol") if (value := _number(form, key)) is not None}
        if form.get("certificate", "").strip():
            body["certificate"] = form["certificate"].strip()
        if what == "add_instrument":
            desk.list_instrument(data, actor, body | {"kind": form.get("kind", "")}, now=now)
        else:
            desk.calibrate_instrument(data, actor, body, now=now)
    elif what == "withdraw_instrument":
        desk.withdraw_instrument(data, actor, name, form.get("because", ""), now=now)
    elif what == "receive_lot":
        lot: dict[str, Any] = {"id": name, "kind": form.get("kind", ""), "expires": _day(form, "expires")}
        lot |= {"polymer": form["polymer"]} if form.get("polymer") else {}
        lot |= {"opened_on": _day(form, "opened_on")} if form.get("opened_on") else {}
        desk.receive_lot(data, actor, lot, now=now)
    elif what == "open_lot":
        desk.open_lot(data, actor, name, _day(form, "opened_on"), now=now)
    elif what == "withdraw_lot":
        desk.withdraw_lot(data, actor, name, form.get("because", ""), now=now)
    else:
        raise Unreadable("what", say("web.act_not_for_tool"))


def _day(form: Any, key: str) -> str:
    text = form.get(key, "").strip()
    return f"{text}T00:00:00Z" if len(text) == 10 else text


def _number(form: Any, key: str, *, film: str = "metric") -> float | None:
    text = form.get(key, "").strip().replace(",", ".")
    if not text:
        return None
    try:
        return float(text) * (25.4 if film == "us" else 1.0)
    except ValueError:
        raise Unreadable(key, say("web.not_a_number", text=text[:40])) from None


PAGES = (
    Page("instruments/", instruments_lots, "instruments_lots", READERS),
    Page("instruments/change/", change, "instruments_change", WORKERS, methods=("POST",)),
    Page("instruments/recall/", recall, "recall", READERS),
)
