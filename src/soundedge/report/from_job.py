"""How does a judged job become a page? Every word of the page comes from here; the page decides nothing."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from ..job.judge import Outcome
from . import annex, page_film, page_heat, page_one
from .view import CertificateView, Picture, Section, Title, printed_units

TITLES: dict[str, Title] = {
    "released": "Certificate of repair",
    "held": "Hold notice",
    "engineering_review": "Engineering review",
    "rejected": "Rejection",
}
VERDICTS = {
    "released": "Released", "released_with_waivers": "Released with waivers", "conditional": "Released on conditions",
    "temporary": "Released for a time", "held": "Held", "engineering_review": "Engineering review", "rejected": "Rejected",
    "not_here": "Rejected: not here", "strip_and_reline": "Rejected: strip and reline", "scrap": "Rejected: scrap",
}
EXAMPLE = "EXAMPLE — made under an example procedure of an invented plant; not a release of anything."


def certificate_view(
    outcome: Outcome,
    *,
    issued_at: datetime,
    record_digest: str,
    record_facts: Sequence[tuple[str, str]] = (),
    revision: str = "",
    replaces: str = "",
    photos: Sequence[Picture] = (),
    looks: Sequence[Picture] = (),
    film: Sequence[Picture] = (),
    drawings: Sequence[Picture] = (),
    qr_text: str = "",
) -> CertificateView:
    """The page of a judged job.

    Parameters
    ----------
    outcome : Outcome
    issued_at : datetime
        The document's date; no clock is read here.
    record_digest : str
        SHA-256 of the record, lower-case hex.
    looks : list of Picture
        For the first page: map of the part, then what was found, prepared and finished.
    film : list of Picture
        For the second page: map of film and layers in section.
    photos, drawings : list of Picture
        For "what was found" and "what was done" in the annex.

    Returns
    -------
    CertificateView
    """
    opened, released = outcome.job.the("job.opened"), outcome.verdict == "released"
    film_page, heat_page = page_film.film_page(outcome, film), page_heat.heat_page(outcome)
    return CertificateView(
        number=opened.number,
        title=TITLES[outcome.verdict],
        verdict=VERDICTS[outcome.outcome],
        reason=printed_units(outcome.because),
        issued_at=issued_at,
        word=outcome.outcome,
        revision=revision,
        issuer=(opened.site,),
        replaces=replaces,
        example_mark=EXAMPLE if outcome.case.procedure.example else "",
        scope=page_one.scope(outcome),
        looks=tuple(looks),
        not_done=tuple(printed_units(line) for line in outcome.not_done_lines),
        holds=page_one.holds(outcome),
        proofs=page_one.proofs(outcome) if released else (),
        several=any(len(step.answers) > 1 and any(step.answered_for) for step in outcome.steps.values()),
        signatures=tuple(page_one.signatures(outcome)),
        people=page_one.people(outcome),
        not_tested=page_one.not_tested(outcome),
        film=film_page,
        heat=heat_page,
        identity=annex.identity(outcome),
        procedure=annex.procedure(outcome),
        found=annex.found(outcome, photos),
        decided=annex.decided(outcome),
        findings=annex.findings(outcome),
        done=Section(text=annex.done_text(outcome), pictures=tuple(drawings)),
        steps=tuple(annex.timeline(outcome)),
        measured=Section(tables=page_film.rules_beside(outcome)),
        spots=annex.spots(outcome),
        cautions=tuple(dict.fromkeys(c for step in outcome.steps.values() for c in step.cautions)),
        corrections=annex.corrections(outcome),
        repeats=annex.repeats(outcome),
        instruments=annex.instruments(outcome),
        lots=annex.lots(outcome),
        sources=annex.sources(outcome),
        record_digest=record_digest,
        record_facts=tuple(record_facts),
        how_to_verify=(
            "This page carries its whole record as the attachment record.json. Anybody can check both with: "
            "soundedge verify certificate.pdf",
            "The check recomputes every link of the record, judges the job again by its own procedure and compares "
            "the result with this page. It does not prove that a typed number was read rightly, nor that nothing has changed "
            "since: the shop's ledger tells whether this page still counts.",
        ),
        qr_text=qr_text,
    )
