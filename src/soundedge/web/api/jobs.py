"""Jobs by single entries: open one, add to it, correct it, sign it, take its certificate away."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from django.http import HttpResponse, JsonResponse
from ninja import Router

from ...basis import strict_json
from ...basis.errors import BenchError, Conflict, Missing, Unreadable
from ...basis.quantity import NotThat, read_instant
from ...basis.sentences import say
from ...services.desk import board, correctable, issue, jobs, sign
from ...services.desk import enter as desk
from ...services.desk.state import plain, state
from ...services.people import accounts
from ..page import MANAGER, READERS, WORKERS
from .door import operation

router = Router(tags=["jobs"])

ID = {"type": "string", "minLength": 1, "maxLength": 120}
HEAD = {"type": "string", "pattern": "^[0-9a-f]{64}$"}
INSTANT = {"type": "string", "format": "date-time"}
NOT_MADE = ("No page of this job as it stands now has been made. Somebody who works on it presses 'Make the page' on the job's "
            "page Release, at a device of the shop; then everybody can take it. The record can be read meanwhile.")
SIGNED_ALREADY = ("Something is signed in this job already. What was reviewed is changed with your password only: "
                  "type it, and send the same again.")
ENTRY = {
    "type": "object",
    "required": ["id", "kind", "at", "body"],
    "additionalProperties": False,
    "properties": {"id": ID, "kind": {"type": "string"}, "at": INSTANT, "body": {"type": "object"}},
}


def body_of(request: Any, *needed: str, also: tuple[str, ...] = ()) -> dict[str, Any]:
    """The body as an object with these keys and no other.

    Raises
    ------
    BenchError
        Not JSON, a key too many or too few, or an ``Idempotency-Key`` that is not the body's id.
    """
    raw = strict_json.loads(request.body, what="The request")
    if not isinstance(raw, dict):
        raise Unreadable("", say("web.request_json_object"))
    for key in needed:
        if key not in raw:
            raise Missing(key, say("web.given_needed", key=key))
    for key in raw:
        if key not in (*needed, *also):
            raise Unreadable(key[:60], say("web.key_known_here", key=key[:60], listed=', '.join((*needed, *also))))
    said = request.headers.get("Idempotency-Key")
    if said is not None and "id" in raw and said.strip('"') != raw["id"]:
        raise Conflict("id", say("web.idempotency_key_id_body"))
    return raw


def moment(raw: Any, field: str) -> datetime:
    """A moment from its text, or a BenchError."""
    try:
        return read_instant(raw)
    except NotThat as bad:
        fault: BenchError = Unreadable(field, str(bad))
        raise fault from None


def text(raw: dict[str, Any], key: str, most: int = 2000) -> str:
    """A text of the body, or a BenchError."""
    value = raw.get(key)
    if not isinstance(value, str) or not value.strip() or len(value) > most:
        raise Unreadable(key, say("web.text_characters", key=key, most=most))
    return value


def listed(raw: dict[str, Any], key: str, most: int) -> list[Any]:
    """A list of the body, or a BenchError."""
    value = raw.get(key)
    if not isinstance(value, list) or len(value) > most:
        raise Unreadable(key, say("web.list_most", key=key, most=most))
    return value


@operation(router, "GET", "/jobs", roles=READERS, summary="The jobs of the shop, those not released first, then the newest")
def all_jobs(request: Any, find: str = "") -> HttpResponse:
    """Number, part, verdict, next step, head of each job; ``find``: words that stand in number, part, tag or polymer."""
    return JsonResponse({"jobs": [line.as_plain() for line in board.listed(request.data, find)]})


@operation(
    router,
    "POST",
    "/jobs",
    roles=MANAGER | {"engineer", "technician"},
    summary="Open a job",
    body_schema={
        "type": "object",
        "required": ["id", "number", "site", "procedure", "part", "lining"],
        "additionalProperties": False,
        "properties": {
            "id": ID,
            "number": ID,
            "site": ID,
            "customer": ID,
            "note": {"type": "string"},
            "procedure": ID,
            "part": {"type": "object"},
            "lining": {"type": "object"},
        },
    },
)
def open_job(request: Any) -> HttpResponse:
    """A new job under an approved procedure; the same id twice is one job."""
    raw = body_of(request, "id", "number", "site", "procedure", "part", "lining", also=("customer", "note"))
    name = text(raw, "id", 100)
    opening = {key: value for key, value in raw.items() if key != "id"}
    number = jobs.open_job(request.data, request.actor, opening, id=name, now=request.now)
    return JsonResponse({"number": number, "address": f"/jobs/{number}/"}, status=201)


@operation(router, "GET", "/jobs/{job}", roles=READERS, summary="One job as it stands: path, what holds it, next move")
def one_job(request: Any, job: str) -> HttpResponse:
    """The judged job."""
    return JsonResponse(plain(state(request.data, job)))


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
        raise Missing("keys", say("web.there_proof"))
    return download(files["certificate.proof"], f"{job}.proof", "text/plain; charset=utf-8")


@operation(
    router,
    "POST",
    "/jobs/{job}/certificate",
    roles=WORKERS,
    summary="Make the certificate or notice of exactly what was seen; then everybody can take it",
    body_schema={
        "type": "object",
        "required": ["id", "on_head"],
        "additionalProperties": False,
        "properties": {"id": ID, "on_head": HEAD},
    },
)
def make_page(request: Any, job: str) -> HttpResponse:
    """The bench's word is written and the page is sealed; the same ``on_head`` sent again makes nothing new."""
    raw = body_of(request, "id", "on_head")
    seen = text(raw, "on_head", 120)
    return JsonResponse(issue.make(request.data, request.actor, job, id=raw["id"], on_head=seen, now=request.now))


@operation(
    router,
    "POST",
    "/jobs/{job}/entries",
    roles=WORKERS,
    summary="Add entries; each has its own outcome",
    body_schema={
        "type": "object",
        "required": ["entries"],
        "additionalProperties": False,
        "properties": {"sent_at": INSTANT, "entries": {"type": "array", "maxItems": 200, "items": ENTRY}},
    },
)
def entries(request: Any, job: str) -> HttpResponse:
    """Additive entries: always taken when they can be read, in the order in which they come."""
    raw = body_of(request, "entries", also=("sent_at",))
    said = listed(raw, "entries", 200)
    answered = desk.enter(request.data, request.actor, job, said, now=request.now)
    behind = 0
    if raw.get("sent_at") is not None:
        behind = round((moment(raw["sent_at"], "sent_at") - datetime.now(UTC)).total_seconds())
    return JsonResponse({"entries": answered, "head": jobs.head(request.data, job), "clock_offset_s": behind})


@operation(
    router,
    "POST",
    "/jobs/{job}/damage",
    roles=WORKERS,
    summary="Damage measured from a photo that was sent",
    body_schema={
        "type": "object",
        "required": ["id", "at", "damage", "stage", "photo_sha256", "outline", "card"],
        "additionalProperties": False,
        "properties": {
            "id": ID,
            "at": INSTANT,
            "damage": ID,
            "stage": {"enum": ["as_found", "as_prepared"]},
            "kind": {"enum": ["chip", "crack", "blister", "lifted_edge", "corrosion"]},
            "photo_sha256": HEAD,
            "photo": ID,
            "outline": {"type": "object"},
            "card": {"type": "object"},
            "x": {"type": "number"},
            "y": {"type": "number"},
            "through": {"type": "boolean"},
            "pit_depth_mm": {"type": ["number", "null"]},
        },
    },
)
def damage(request: Any, job: str) -> HttpResponse:
    """The outline is measured, then entered as damage.outlined, or as survey.refused with the reasons."""
    raw = body_of(
        request,
        "id",
        "at",
        "damage",
        "stage",
        "photo_sha256",
        "outline",
        "card",
        also=("photo", "x", "y", "through", "pit_depth_mm", "kind"),
    )
    return JsonResponse(desk.damage(request.data, request.actor, job, raw, now=request.now))


def _page_of(request: Any, job: str) -> Any:
    """What was made; reading makes none."""
    found = issue.at_hand(request.data, job, now=request.now)
    if found is None:
        raise Missing("certificate", NOT_MADE)
    return found


def _deciding(
    name: str,
    needed: tuple[str, ...],
    roles: frozenset[str],
    summary: str,
    work: Any,
    also: tuple[str, ...] = ("at", "instruction"),
) -> None:
    properties = {
        key: ID if key in ("id", "entry", "field", "what", "decision") else HEAD if key == "on_head" else {} for key in needed
    }

    @operation(
        router,
        "POST",
        f"/jobs/{{job}}/{name}",
        roles=roles,
        summary=summary,
        body_schema={
            "type": "object",
            "required": list(needed),
            "additionalProperties": False,
            "properties": properties | {key: INSTANT if key == "at" else {"type": "string"} for key in also},
        },
    )
    def decide(request: Any, job: str) -> HttpResponse:
        raw = body_of(request, *needed, also=also)
        for key in ("id", "on_head"):
            text(raw, key, 120)
        if "password" in raw:
            accounts.check_password(request.user, text(raw, "password", 200))
        elif _touches_what_is_signed(request, job, raw["on_head"]):
            raise Missing("password", SIGNED_ALREADY)
        return JsonResponse(work(request, job, raw))


def _touches_what_is_signed(request: Any, job: str, on_head: str) -> bool:
    """A page that others have overtaken changes nothing and is told so; it is not asked for a password first."""
    held = state(request.data, job)
    return held.head == on_head and correctable.stands_signed(held.outcome.job)


def _correct(request: Any, job: str, raw: dict[str, Any]) -> dict[str, Any]:
    body = {key: raw[key] for key in ("entry", "field", "old", "new", "because")}
    return desk.correct(
        request.data, request.actor, job, body, id=raw["id"], at=_at(request, raw), on_head=raw["on_head"], now=request.now
    )


def _void(request: Any, job: str, raw: dict[str, Any]) -> dict[str, Any]:
    body = {key: raw[key] for key in ("entry", "because")}
    return desk.void(
        request.data, request.actor, job, body, id=raw["id"], at=_at(request, raw), on_head=raw["on_head"], now=request.now
    )


def _sign(request: Any, job: str, raw: dict[str, Any]) -> dict[str, Any]:
    answer = sign.sign(
        request.data,
        request.actor,
        job,
        what=text(raw, "what", 40),
        meaning=text(raw, "meaning"),
        passphrase=raw["password"],
        on_head=raw["on_head"],
        id=raw["id"],
        now=request.now,
    )
    if raw["what"] != "release":
        return answer
    try:  # the certificate is made with the release, so that an auditor can take it; the release stands without it
        issue.certify(request.data, job, release=raw["id"], now=request.now)
    except BenchError as fault:
        return answer | {"page": fault.message}
    return answer


def _decide(request: Any, job: str, raw: dict[str, Any]) -> dict[str, Any]:
    return sign.decide(
        request.data,
        request.actor,
        job,
        decision=text(raw, "decision", 40),
        because=text(raw, "because"),
        instruction=raw.get("instruction"),
        passphrase=raw["password"],
        on_head=raw["on_head"],
        id=raw["id"],
        now=request.now,
    )


def _at(request: Any, raw: dict[str, Any]) -> datetime:
    return moment(raw["at"], "at") if "at" in raw else request.now.replace(microsecond=0)


_deciding(
    "corrections",
    ("id", "on_head", "entry", "field", "old", "new", "because"),
    WORKERS,
    "Correct a value: the old one stays, the new one counts; with the password once something is signed in the job",
    _correct,
    ("at", "password"),
)
_deciding(
    "voids",
    ("id", "on_head", "entry", "because"),
    WORKERS,
    "An entry that must not count, with the reason; with the password once something is signed in the job",
    _void,
    ("at", "password"),
)
_deciding(
    "signatures",
    ("id", "on_head", "what", "meaning", "password"),
    frozenset({"inspector", "manager"}),
    "Sign a hold point or the release on exactly what was reviewed",
    _sign,
)
_deciding(
    "decisions",
    ("id", "on_head", "decision", "because", "password"),
    frozenset({"engineer"}),
    "The engineer's answer where the procedure does not allow the repair as it stands",
    _decide,
)


def download(data: bytes, name: str, kind: str) -> HttpResponse:
    """A file to keep: never shown in the page's own context."""
    plain_name = "".join(c if c.isascii() and (c.isalnum() or c in "-_.") else "_" for c in name)[:120]
    answer = HttpResponse(data, content_type=kind)
    answer.headers["Content-Disposition"] = f'attachment; filename="{plain_name}"'
    answer.headers["Content-Security-Policy"] = "sandbox; default-src 'none'"
    return answer
