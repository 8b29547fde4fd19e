"""What the bench itself writes down; it changes nothing of the job."""

from __future__ import annotations

from typing import Literal

from ...basis.quantity import Word
from ...basis.question import Request
from ...basis.sentences import say
from .kind import ELSEWHERE, Kind
from .values import Edition


class JobJudged(Request):
    """What the rules made of the job: the word, every rule that holds it, and the edition of the rules (``rules``, 1 when left
    out); ``outcome`` is the finer word where it is another. Written by the bench, not typed."""

    certificate: Word
    verdict: Literal["released", "held", "engineering_review", "rejected"]
    blocked_by: list[Word] = []
    supersedes: Word | None = None
    rules: Edition | None = None
    outcome: Literal["released_with_waivers", "conditional", "temporary", "not_here", "strip_and_reline", "scrap"] | None = None


class CertificateIssued(Request):
    """A finished page: the digest of its PDF and of the record it carries. Written by the bench, not typed."""

    certificate: Word
    pdf_sha256: Word
    record_sha256: Word


_WROTE = say("kinds.bench_wrote_it")

KINDS = (
    Kind("job.judged", JobJudged, "Job judged", ELSEWHERE, not_corrected=_WROTE, not_voided=_WROTE),
    Kind("certificate.issued", CertificateIssued, "Certificate issued", ELSEWHERE, not_corrected=_WROTE, not_voided=_WROTE),
)
