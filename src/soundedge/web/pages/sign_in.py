"""Signing in and out: sign in, change the password, first start, enrol the device at hand, sign out."""

from __future__ import annotations

import hashlib
from typing import Any

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters

from ...basis.errors import BenchError
from ...basis.sentences import Sentence, say
from ...services.people import accounts, devices
from ..middleware import DEVICE_COOKIE
from ..page import OPEN, READERS, WORKERS, Page
from .refused import refusal_page


@sensitive_post_parameters("password")
def sign_in(request: Any) -> HttpResponse:
    """Name and password; the same answer for a wrong name and a wrong password."""
    nowhere = request.GET.get("next", "")
    if request.user.is_authenticated and request.method == "GET":
        return HttpResponseRedirect(_there(request, nowhere))
    wrong = False
    if request.method == "POST":
        name, password = request.POST.get("login", "").strip().casefold(), request.POST.get("password", "")
        account = None
        if accounts.can_be_login(name):  # no account is called otherwise, and a database may not hold it
            counted = devices.counted_under(name, request.COOKIES.get(DEVICE_COOKIE, ""))
            account = authenticate(request, username=name, login=counted, password=password[: accounts.PASSWORD_MAX])
        if account is not None:
            accounts.forget_wrong(counted)
            begin(request, account)
            return HttpResponseRedirect("/password/" if account.one_time else _there(request, request.POST.get("next", "")))
        if getattr(request, "axes_locked_out", False):
            return locked(request, {})
        wrong = True
    return render(request, "sign_in/sign_in.html", {"wrong": wrong, "next": nowhere}, status=401 if wrong else 200)


def begin(request: Any, account: Any) -> None:
    """A new session with a new key; what was in the old one is gone."""
    request.session.flush()
    login(request, account, backend="soundedge.store.accounts.backend.Accounts")
    device = devices.device_with(account.shop, request.COOKIES.get(DEVICE_COOKIE, ""))
    request.session["began_at"] = request.now.isoformat()
    request.session["device_label"] = device.label if device else ""


def locked(request: HttpRequest, credentials: Any = None, *args: Any, **kwargs: Any) -> HttpResponse:
    """Too many wrong passwords."""
    return refusal_page(request, 429, say("people.signin_locked"), "locked")


def sign_out(request: Any) -> HttpResponse:
    """End the session here. Entries that wait on this device stay on it."""
    logout(request)
    response = HttpResponseRedirect(settings.LOGIN_URL)
    response.headers["Clear-Site-Data"] = '"cache"'
    return response


@sensitive_post_parameters("old", "new")
def password(request: Any) -> HttpResponse:
    """A password of one's own."""
    wrong: Sentence | None = None
    if request.method == "POST":
        try:
            accounts.change_password(request.user, request.POST.get("old", ""), request.POST.get("new", ""), now=request.now)
        except BenchError as fault:
            wrong = fault.message
        else:
            request.user.sessions.all().delete()
            begin(request, request.user)
            return HttpResponseRedirect("/")
    return render(
        request, "sign_in/password.html", {"wrong": wrong, "one_time": request.user.one_time}, status=422 if wrong else 200
    )


@sensitive_post_parameters("password")
def first_start(request: Any) -> HttpResponse:
    """The first shop, its first manager and this device, with the code that the start printed."""
    wrong: Sentence | None = None
    given = {key: request.POST.get(key, "") for key in ("code", "shop_name", "slug", "name", "login", "device_label")}
    if request.method == "POST":
        try:
            account, token = accounts.first_start(
                given["code"],
                slug=given["slug"],
                shop_name=given["shop_name"],
                name=given["name"],
                login=given["login"],
                password=request.POST.get("password", ""),
                device_label=given["device_label"],
                now=request.now,
            )
        except BenchError as fault:
            wrong = fault.message
        else:
            begin(request, account)
            return with_device(HttpResponseRedirect("/"), token)
    return render(request, "sign_in/first_start.html", {"wrong": wrong, "given": given}, status=422 if wrong else 200)


def device(request: Any) -> HttpResponse:
    """Enrol the device at hand: with a manager's code, or by a manager in person, with their password."""
    wrong: Sentence | None = None
    if request.method == "POST":
        label = request.POST.get("label", "")
        try:
            if request.actor.role == "manager" and not request.POST.get("code"):
                accounts.check_password(request.user, request.POST.get("password", ""))
                _, token = devices.enrol_device(request.user.shop, label, by=request.actor, now=request.now)
            else:
                _, token = devices.enrol_with_code(
                    request.user.shop, request.POST.get("code", ""), label, by=request.actor, now=request.now
                )
        except BenchError as fault:
            wrong = fault.message
        else:
            return with_device(HttpResponseRedirect("/"), token)
    return render(request, "sign_in/device.html", {"wrong": wrong}, status=422 if wrong else 200)


def with_device(response: HttpResponse, token: str) -> HttpResponse:
    """The device keeps its secret for five years; only the bench can read it."""
    response.set_cookie(DEVICE_COOKIE, token, max_age=5 * 366 * 24 * 3600, secure=True, httponly=True, samesite="Lax", path="/")
    return response


def mine(request: Any) -> HttpResponse:
    """One's own units, language and sessions."""
    user = request.user
    if request.method == "POST":
        if request.POST.get("end"):
            for row in user.sessions.exclude(session_key=request.session.session_key):
                if _called(row) == request.POST["end"]:
                    row.delete()
        else:
            units, language = request.POST.get("units", ""), request.POST.get("language", "")
            user.units = units if units in ("metric", "us") else user.units
            user.language = language if language in ("en", "de") else user.language
            user.save(update_fields=["units", "language"])
        return HttpResponseRedirect("/mine/")
    sessions = [
        {
            "end": _called(row),
            "began_at": row.began_at,
            "device_label": row.device_label,
            "here": row.session_key == request.session.session_key,
        }
        for row in user.sessions.order_by("-began_at")
    ]
    return render(request, "sign_in/mine.html", {"sessions": sessions})


def _called(row: Any) -> str:
    """A name for a session that does not give its key away."""
    return hashlib.sha256(row.session_key.encode()).hexdigest()[:16]


def _there(request: HttpRequest, wanted: str) -> str:
    """The page that was asked for, when it is one of ours."""
    if wanted.startswith("/") and url_has_allowed_host_and_scheme(wanted, allowed_hosts=None):
        return wanted
    return "/"


PAGES = (
    Page("sign-in/", sign_in, "sign_in", OPEN, methods=("GET", "POST")),
    Page("sign-out/", sign_out, "sign_out", READERS, methods=("POST",), device=False, one_time=True),
    Page("password/", password, "password", READERS, methods=("GET", "POST"), device=False, one_time=True),
    Page("first-start/", first_start, "first_start", OPEN, methods=("GET", "POST")),
    Page("device/", device, "device", READERS, methods=("GET", "POST"), posts=WORKERS, device=False),
    Page("mine/", mine, "mine", READERS, methods=("GET", "POST"), device=False),
)
