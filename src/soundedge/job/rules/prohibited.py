"""What does the procedure forbid outright, and may anybody lift it in the job?

    [[prohibited]]
    what = "repair of blisters"          # words of the job in it are compared: a kind of damage, a polymer
    where = "nozzle"                     # a word of the part's name, tag or drawing, or a kind of keep-out that is reached
    service = "hydrofluoric acid"        # never, dry, in_contact, immersed; or every word of what the owner said it held
    clause = "clause 5.9"
    override = "none"                    # engineer, engineer_and_owner; none when left out

A clause applies when everything it names is met; what it leaves out is met by every part. What the part was in, and nobody
stated, is unknown, and unknown is asked: it is not *no*.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Literal, get_args

from ...basis.damage import DamageKind
from ...basis.errors import Unknown, Unreadable
from ...basis.materials import names
from ...basis.procedure import Procedure
from ...basis.sentences import say
from ..fold import Job
from .stated import stated_service

Override = Literal["none", "engineer", "engineer_and_owner"]
KEYS = ("what", "where", "service", "clause", "override")
SERVICE = ("never", "dry", "in_contact", "immersed")
KEEP_OUTS = ("sealing_face", "edge", "radius", "weld", "seat")
_EVERYWHERE = {"any", "anywhere", "every", "everywhere", "all"}
_SMALL = {"a", "an", "and", "at", "for", "in", "of", "on", "or", "the", "to", "with"}
_KINDS = tuple(kind for kind in get_args(DamageKind) if kind != "other")


@dataclass(frozen=True)
class Clause:
    """One prohibition that applies here. ``sure`` is false where the service it names was never stated."""

    what: str
    source: str
    override: Override
    sure: bool = True


def check(procedure: Procedure) -> None:
    """Every clause says what it forbids, in text, and nothing else than the known keys.

    Raises
    ------
    Unreadable, Unknown
        Not a list of tables of text; a key or an override that is not known.
    """
    given = procedure.choices.get("prohibited", [])
    if not isinstance(given, list) or not all(isinstance(one, dict) and one.get("what") for one in given):
        raise Unreadable("procedure.prohibited", say("job.prohibited_not_tables"))
    for one in given:
        if not all(isinstance(value, str) for value in one.values()):
            raise Unreadable("procedure.prohibited", say("job.prohibited_not_tables"))
        stray = next((key for key in one if key not in KEYS), None)
        if stray is not None:
            raise Unknown(f"procedure.prohibited.{stray[:40]}",
                          say("job.prohibited_key_unknown", key=stray[:40], known=", ".join(KEYS)))
        override, known = one.get("override", "none"), get_args(Override)
        if override not in known:
            raise Unknown("procedure.prohibited.override",
                          say("job.prohibited_override_unknown", value=override[:40], known=", ".join(known)))


def forbidden(job: Job, procedure: Procedure, repairs: list[dict[str, Any]]) -> list[Clause]:
    """The prohibitions that apply to this job; ``repairs`` as the disposition found them, for what lies near them."""
    out = []
    for one in procedure.choices.get("prohibited", []):
        service = _service(one.get("service"), job)
        if _what(one["what"], job) and _where(one.get("where"), job, repairs) and service is not False:
            book = ", ".join(part for part in (procedure.id, one.get("clause", "")) if part)
            out.append(Clause(one["what"], book, one.get("override", "none"), service is True))
    return out


def _what(said: str, job: Job) -> bool:
    """Whether the kinds of damage and the polymers that it names are those of this job; naming none, it is any repair."""
    words = _words(said)
    kinds = {kind for kind in _KINDS if set(_words(kind)) <= set(words)}
    polymers = {polymer for polymer in names("polymer") if set(_words(polymer)) <= set(words)}
    found = {event.body.kind for event in job.of("damage.outlined")}
    return (not kinds or bool(kinds & found)) and (not polymers or job.the("lining.identified").polymer in polymers)


def _where(said: str | None, job: Job, repairs: list[dict[str, Any]]) -> bool:
    if said is None or set(_words(said)) & _EVERYWHERE:
        return True
    kind = "_".join(_words(said))
    if kind in KEEP_OUTS:
        return any(one.get("nearest_keep_out") == kind and one.get("min_keep_out_mm") == 0 for one in repairs)
    part = job.the("part.identified")
    return bool(set(_words(said)) & set(_words(f"{part.name} {part.tag} {part.drawing or ''}")))


def _service(said: str | None, job: Job) -> bool | None:
    """Whether the part was in the service that is named; None where nobody said what it was in."""
    if said is None:
        return True
    part, stated = job.the("part.identified"), stated_service(job)
    state = "_".join(_words(said))
    if state in SERVICE:
        return None if stated in (None, "unknown") else stated == state
    if stated == "never":
        return False
    told = " ".join([part.last_service or "", *(e.body.media or "" for e in job.of("decontamination.stated"))])
    return set(_words(said)) <= set(_words(told)) if told.strip() else None


def _words(text: str) -> list[str]:
    """The words of a text, in lower case and without a plural's s; ``MC-7`` is one word.

    >>> _words("Repair of lifted edges on MC-7")
    ['repair', 'lifted', 'edge', 'mc-7']
    """
    words = re.findall(r"[^\W_]+(?:[-./][^\W_]+)*", text.casefold().replace("_", " "))
    return [word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word for word in words
            if word not in _SMALL]
