"""Jobs by single entries: open one, add to it, correct it, sign it, take its certificate away."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.http import HttpResponse, JsonResponse
from ninja import Router

from ...basis.errors import BenchError, Missing
from ...basis.quantity import read_instant
from ...basis.sentences import say
from ...services.desk import board, correctable, issue, jobs, sign
from ...services.desk import enter as desk
from ...services.desk.may import may_on
from ...services.desk.state import plain, state
from ...services.people import accounts
from ..page import MANAGER, READERS, WORKERS
from ..reader import in_words
from .bodies import Batch, Correction, Damage, Decision, Opening, Seen, Signature, Voiding
from .door import operation

router = Router(tags=["jobs"])

NOT_MADE = say("web.page_not_made")


@operation(router, "GET", "/jobs", roles=READERS, summary="The jobs of the shop, those not released first, then the newest")
def all_jobs(request: Any, find: str = "") -> HttpResponse:
    """Number, part, verdict, next step, head of each job; ``find``: words that stand in number, part, tag or polymer."""
    return JsonResponse({"jobs": [line.as_plain() for line in board.listed(request.data, find)]})


@operation(router, "POST", "/jobs", roles=MANAGER | {"engineer", "technician"}, summary="Open a job")
def open_job(request: Any, body: Opening) -> HttpResponse:
    """A new job under an approved procedure; the same id twice is one job."""
    number = jobs.open_job(request.data, request.actor, body.plain(but=("id",)), id=body.id, now=request.now)
    return JsonResponse({"number": number, "address": f"/jobs/{number}/"}, status=201)


@operation(router, "GET", "/jobs/{job}", roles=READERS, summary="One job as it stands: path, what holds it, next move")
def one_job(request: Any, job: str) -> HttpResponse:
    """The judged job."""
    return JsonResponse(plain(state(request.data, job)))


@operation(router, "GET", "/jobs/{job}/may", roles=READERS,
           summary="Before the act: may it be done, and if not, what is the one next move?")
def may_now(request: Any, job: str, at: str | None = None, act: str | None = None, repair: str | None = None) -> HttpResponse:
    """Every act still to come, or one by its name, with all open points; those done, each at its own time.

    ``at``: the moment, ISO 8601 with its zone; that of the last entry if left out. The answer is that of
    ``soundedge job may --json``.
    """
    return JsonResponse(may_on(request.data, job, at=at, act=act, repair=repair).as_plain())


@operation(
    router,
    "GET",
    "/jobs/{job}/record.json",
    roles=READERS,
    summary="The job's record, its exact bytes",
    produces="application/json",
)
def record(request: Any, job: str) -> HttpResponse:
    """The bytes that the chain and every signature stand on."""
    return download(jobs.record(request.data, job), f"{job}.record.json", "application/json")


@operation(
    router,
    "GET",
    "/jobs/{job}/certificate.pdf",
    roles=READERS,
    summary="Certificate or hold notice as PDF",
    produces="application/pdf",
)
def certificate(request: Any, job: str) -> HttpResponse:
    """As it was made of the job as it stands; 422 when it was not. Nothing is written."""
    return download(_page_of(request, job).pdf, f"{job}.pdf", "application/pdf")


@operation(
    router, "GET", "/jobs/{job}/certificate.proof", roles=READERS, summary="The proof beside the PDF", produces="text/plain"
)
def proof(request: Any, job: str) -> HttpResponse:
    """With it every single byte of the PDF is checked."""
    files = _page_of(request, job).files
    if "certificate.proof" not in files:
        raise Missing("keys", say("web.proof_missing"))
    return download(files["certificate.proof"], f"{job}.proof", "text/plain; charset=utf-8")


@operation(
    router,
    "POST",
    "/jobs/{job}/certificate",
    roles=WORKERS,
    summary="Make the certificate or notice of exactly what was seen; then everybody can take it",
)
def make_page(request: Any, job: str, body: Seen) -> HttpResponse:
    """The bench's word is written and the page is sealed; the same ``on_head`` sent again makes nothing new."""
    return JsonResponse(issue.make(request.data, request.actor, job, id=body.id, on_head=body.on_head, now=request.now))


@operation(router, "POST", "/jobs/{job}/entries", roles=WORKERS, summary="Add entries; each has its own outcome")
def entries(request: Any, job: str, body: Batch) -> HttpResponse:
    """Additive entries: always taken when they can be read, in the order in which they come."""
    answered = desk.enter(request.data, request.actor, job, body.entries, now=request.now)
    behind = 0
    if body.sent_at is not None:
        behind = round((read_instant(body.sent_at) - datetime.now(UTC)).total_seconds())
    return JsonResponse({"entries": in_words(answered), "head": jobs.head(request.data, job), "clock_offset_s": behind})


@operation(router, "POST", "/jobs/{job}/damage", roles=WORKERS, summary="Damage measured from a photo that was sent")
def damage(request: Any, job: str, body: Damage) -> HttpResponse:
    """The outline is measured, then entered as damage.outlined, or as survey.refused with the reasons."""
    return JsonResponse(in_words(desk.damage(request.data, request.actor, job, body.plain(), now=request.now)))


def _page_of(request: Any, job: str) -> Any:
    """What was made; reading makes none."""
    found = issue.at_hand(request.data, job, now=request.now)
    if found is None:
        raise Missing("certificate", NOT_MADE)
    return found


@operation(
    router,
    "POST",
    "/jobs/{job}/corrections",
    roles=WORKERS,
    summary="Correct a value: the old one stays, the new one counts; with the password once something is signed in the job",
)
def correct(request: Any, job: str, body: Correction) -> HttpResponse:
    """Only on exactly what was looked at."""
    _password_if_signed(request, job, body)
    change = {"entry": body.entry, "field": body.field, "old": body.old, "new": body.new, "because": body.because}
    return JsonResponse(in_words(desk.correct(request.data, request.actor, job, change, id=body.id, at=_at(request, body),
                                              on_head=body.on_head, now=request.now)))


@operation(
    router,
    "POST",
    "/jobs/{job}/voids",
    roles=WORKERS,
    summary="An entry that must not count, with the reason; with the password once something is signed in the job",
)
def void(request: Any, job: str, body: Voiding) -> HttpResponse:
    """Only on exactly what was looked at."""
    _password_if_signed(request, job, body)
    struck = {"entry": body.entry, "because": body.because}
    return JsonResponse(desk.void(request.data, request.actor, job, struck, id=body.id, at=_at(request, body),
                                  on_head=body.on_head, now=request.now))


@operation(
    router,
    "POST",
    "/jobs/{job}/signatures",
    roles=frozenset({"inspector", "manager"}),
    summary="Sign a hold point or the release on exactly what was reviewed",
)
def signature(request: Any, job: str, body: Signature) -> HttpResponse:
    """With the password; a release makes the certificate too."""
    accounts.check_password(request.user, body.password)
    answer = sign.sign(request.data, request.actor, job, what=body.what, meaning=body.meaning, passphrase=body.password,
                       on_head=body.on_head, id=body.id, now=request.now, repair=body.repair,
                       on_covers=body.on_covers)
    if body.what == "release":
        try:  # the certificate is made with the release, so that an auditor can take it; the release stands without it
            issue.certify(request.data, job, release=body.id, now=request.now)
        except BenchError as fault:
            answer = answer | {"page": in_words(fault.message)}
    return JsonResponse(answer)


@operation(
    router,
    "POST",
    "/jobs/{job}/decisions",
    roles=frozenset({"engineer"}),
    summary="The engineer's answer where the procedure does not allow the repair as it stands",
)
def decision(request: Any, job: str, body: Decision) -> HttpResponse:
    """With the password."""
    accounts.check_password(request.user, body.password)
    return JsonResponse(sign.decide(request.data, request.actor, job, decision=body.decision, because=body.because,
                                    passphrase=body.password, on_head=body.on_head, id=body.id, now=request.now,
                                    instruction=body.instruction, number=body.number, limits=body.limits,
                                    expires=body.expires, accepted_by=body.accepted_by))


def _password_if_signed(request: Any, job: str, body: Correction | Voiding) -> None:
    """A page that others have overtaken changes nothing and is told so; it is not asked for a password first."""
    if body.password is not None:
        accounts.check_password(request.user, body.password)
        return
    held = state(request.data, job)
    if held.head == body.on_head and correctable.stands_signed(held.outcome.job):
        raise Missing("password", say("web.password_for_signed"))


def _at(request: Any, body: Correction | Voiding) -> datetime:
    return read_instant(body.at) if body.at is not None else request.now.replace(microsecond=0)


def download(data: bytes, name: str, kind: str) -> HttpResponse:
    """A file to keep: never shown in the page's own context."""
    plain_name = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)[:120]
    answer = HttpResponse(data, content_type=kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="{plain_name}"'
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer
