"""How does a finished job become the page a stranger can check years later?

A ``CertificateView`` and the record's bytes go in, one PDF/A-3a comes out: at most three pages and an annex, readable on paper,
with the record inside it. The same view and the same attachments give the same bytes, on every day and in every process.

    page 1   verdict, scope, map, before and after, five proofs against their limits, signatures, square code; or what holds it
    page 2   film and voltage            page 3   heat, climate, timeline            (of a release)
    annex    rules beside each other, readings, sources, cautions, how to check
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from ..basis.errors import Unreadable
from ..basis.on_paper import when, words
from ..basis.sentences import say
from ..basis.signs import LOUD, SAYS, sign_of
from .fonts import drawable, width_em
from .pictures import fitting_mm, kind_of, readable_mm, settable
from .signs import sign_svg
from .typeset import breakable, fitted, running, typeset
from .view import CertificateView, Measure, Picture, Section, Table

PAGE_MM = 170.0  # text width on A4
TABLE_PT = 9.0  # as `rows` in house.typ sets them
_PT_PER_MM = 72 / 25.4
_READING_EM_MAX = 16.0
_LOOKS_MAX = 4

def certificate_pdf(view: CertificateView, attachments: Mapping[str, bytes] | None = None) -> bytes:
    """Set the view on paper and carry the attachments inside.

    Parameters
    ----------
    view : CertificateView
    attachments : mapping
        File name → bytes. ``record.json`` is marked as the source of the page.

    Returns
    -------
    bytes
        PDF 1.7, PDF/A-3a: fonts embedded, tagged, pictures described for people who cannot see them.

    Raises
    ------
    Unreadable
        A picture or chart that cannot be set, an attachment without a plain name, a digest that is not
        lower-case hex, a date without a time zone.
    """
    if view.record_digest and not re.fullmatch(r"[0-9a-f]{16,128}", view.record_digest):
        raise Unreadable("record_digest", say("report.digest_form", digest=view.record_digest[:80]))
    if view.issued_at.tzinfo is None:
        raise Unreadable("issued_at", say("report.issue_date_without_zone"))
    files: dict[str, bytes] = {}
    data: dict[str, Any] = {
        "title": running(view.title),
        "verdict": running(view.verdict),
        "reason": running(view.reason),
        "sign": view.sign,
        "sign_said": SAYS[view.sign],
        "loud": view.sign in LOUD,
        "asked": view.title == "Engineering review",
        "released": view.title == "Certificate of repair",
        "full_number": running(view.full_number),
        "issued": when(view.issued_at),
        "issuer": [running(line) for line in view.issuer],
        "replaces": running(_replaces(view.replaces)),
        "example_mark": running(view.example_mark),
        "signed_line": _signed_line(view),
        "scope": _pairs(view.scope),
        "looks": _looks(view.looks, files),
        "proofs": [{"name": running(proof.name), "rows": [_measure(row) for row in proof.rows]} for proof in view.proofs],
        "several": view.several,
        "people": [running(line) for line in view.people],
        "identity": _pairs(view.identity),
        "procedure": _pairs(view.procedure),
        "not_done": [running(line) for line in view.not_done],
        "holds": [{key: running(getattr(hold, key)) for key in ("rule", "value", "limit", "because", "next_move")}
                  for hold in view.holds],
        "film": _section(view.film, "film", files),
        "heat": _section(view.heat, "heat", files),
        "found": _section(view.found, "found", files),
        "decided": _section(view.decided, "decided", files),
        "findings": _findings(view),
        "done": _section(view.done, "done", files),
        "steps": _filled(("When", "Who", "What", "How", "Lot"),
                         [(s.at, s.who, s.what, s.detail, s.lot) for s in view.steps]),
        "measured": _section(view.measured, "measured", files),
        **_spots(view),
        "not_tested": [running(line) for line in view.not_tested],
        "cautions": [running(line) for line in view.cautions],
        "corrections": _table(("Entry", "Field", "Old", "New", "Reason", "Who", "When"),
                              [(c.entry, c.field, c.old, c.new, c.reason, c.who, c.when) for c in view.corrections]),
        "repeats": _pairs(view.repeats),
        "extra": [{"heading": running(heading), **(_section(part, f"extra{n}", files) or {})}
                  for n, (heading, part) in enumerate(view.extra)],
        "signatures": [{"sign": sign_of(s.verdict), "said": words(s.verdict), **{
            key: breakable(drawable(getattr(s, key)), room) for key, room in
            (("what", 12.0), ("name", 15.0), ("role", 15.0), ("meaning", 26.0), ("when", 16.0), ("note", 26.0))}}
            for s in view.signatures],
        "annex": _has_annex(view),
        "instruments": _given(view.instruments),
        "lots": _given(view.lots),
        "sources": _given(view.sources, size_pt=8.0),
        "record_digest": view.record_digest,
        "record_digest_breakable": breakable(view.record_digest, 20.0),
        "record_facts": _pairs(view.record_facts),
        "how_to_verify": [running(line) for line in view.how_to_verify],
        "qr": bool(view.qr_text),
        "qr_alt": drawable(f"QR code that holds: {view.qr_text}"),
    }
    for sign in {view.sign, *(sign_of(s.verdict) for s in view.signatures),
                 *(sign_of(row.verdict) for proof in view.proofs for row in proof.rows)}:
        files[f"sign-{sign}.svg"] = sign_svg(sign)
    if view.qr_text:
        files["qr.svg"] = qr_svg(view.qr_text)
    return typeset(
        "certificate.typ", data, title=f"{view.title} {view.full_number}", made_at=view.issued_at, files=files,
        attachments=attachments, subject=f"{view.verdict}. {view.reason}",
    )


def qr_svg(text: str) -> bytes:
    """The text as a QR code, black on white, with its quiet zone."""
    import io

    import segno

    out = io.BytesIO()
    try:
        segno.make_qr(text, error="m", boost_error=False).save(
            out, kind="svg", border=4, xmldecl=False, svgclass=None, lineclass=None, light="white", omitsize=True
        )
    except ValueError:
        raise Unreadable("qr_text", say("report.qr_text_too_long", n=len(text))) from None
    return out.getvalue()


def _em(mm: float, size_pt: float) -> float:
    return mm * _PT_PER_MM / size_pt


def _table(header: Sequence[str], rows: Sequence[Sequence[str]], size_pt: float = TABLE_PT) -> dict[str, Any]:
    return fitted(header, rows, width_em_total=_em(PAGE_MM, size_pt))


def _filled(header: Sequence[str], rows: Sequence[Sequence[str]]) -> dict[str, Any]:
    """A table without the columns that are empty from top to bottom."""
    kept = [n for n in range(len(header)) if n == 0 or any(row[n] for row in rows)]
    return _table([header[n] for n in kept], [[row[n] for n in kept] for row in rows])


def _given(table: Table | None, size_pt: float = TABLE_PT) -> dict[str, Any] | None:
    if table is None:
        return None
    return {
        **_table(table.header, table.rows, size_pt), "numbers": list(table.numbers), "caption": running(table.caption)
    }


def _findings(view: CertificateView) -> dict[str, Any]:
    rows = [(f.rule, f.value, f.limit, f.verdict, f"{f.because} ({f.source})" if f.because and f.source else
             f.because or f.source) for f in view.findings]
    return _table(("Rule", "Value", "Limit", "Verdict", "Why (source)"), rows)


def _pairs(pairs: Sequence[tuple[str, str]]) -> list[list[str]]:
    return [[breakable(drawable(key), 10.5), breakable(drawable(value), 14.0)] for key, value in pairs]


def _narrow(text: str) -> str:
    return breakable(drawable(text), 15.0)


def _measure(row: Measure) -> dict[str, Any]:
    bar = row.bar
    return {
        "sign": sign_of(row.verdict), "said": words(row.verdict), "label": breakable(drawable(row.label), 20.0),
        "value": breakable(drawable(row.value), 15.0), "limit": breakable(drawable(row.limit), 14.0),
        "bar": None if bar is None or (bar.low is None and bar.high is None)
        else {"at": bar.at, "u": bar.u, "low": bar.low, "high": bar.high},
    }


def _looks(pictures: Sequence[Picture], files: dict[str, bytes]) -> list[dict[str, Any]]:
    assert len(pictures) <= _LOOKS_MAX, f"{len(pictures)} pictures; the first page has room for four"
    out = []
    for n, picture in enumerate(pictures, 1):
        ending, content = settable(picture.data, f"look {n}")
        files[f"look-{n}.{ending}"] = content
        out.append({"file": f"look-{n}.{ending}", "alt": drawable(picture.alt) or "A picture without words.",
                    "caption": breakable(drawable(picture.caption), 12.0)})
    return out


def _signed_line(view: CertificateView) -> str:
    if not view.signatures:
        return "Nobody has signed." if view.title == "Certificate of repair" else ""
    if view.title != "Certificate of repair":
        return ""  # under any other verdict the sentence would read as if the signer had signed that verdict
    last = view.signatures[-1]
    return running(f"Signed by {last.name}, {last.role}: {last.meaning} {last.when}".strip())


def _has_annex(view: CertificateView) -> bool:
    released = view.title == "Certificate of repair"
    return any((view.identity, view.procedure, view.found, view.decided, view.findings, view.measured, view.spots, view.steps,
                view.done, view.corrections, view.repeats, view.extra, view.cautions, view.instruments, view.lots, view.sources,
                view.record_facts, view.how_to_verify, not released and (view.film or view.heat)))


def _replaces(text: str) -> str:
    return text if not text or text.lower().startswith("replaces") else f"Replaces {text}"


def _section(part: Section | None, name: str, files: dict[str, bytes]) -> dict[str, Any] | None:
    if part is None:
        return None
    pictures = []
    photos = [kind_of(picture.data) != "svg" for picture in part.pictures]
    for n, picture in enumerate(part.pictures, 1):
        ending, content = settable(picture.data, f"{name} picture {n}")
        files[f"{name}-{n}.{ending}"] = content
        half = picture.half or (photos[n - 1] and sum(photos) > 1 and (picture.width_mm or 0) <= PAGE_MM / 2)
        tall = 60.0 if picture.half else 46.0 if half else 90.0
        fits = fitting_mm(ending, content, (PAGE_MM - 6) / 2 if half else PAGE_MM, tall)
        least = 0.0 if picture.half else readable_mm(ending, content)
        pictures.append({
            "file": f"{name}-{n}.{ending}", "alt": drawable(picture.alt) or "A picture without words.",
            "caption": _narrow(picture.caption) if half else running(picture.caption),
            "width_mm": round(min(fits, max(picture.width_mm or PAGE_MM, least)), 2),
            "half": half,
        })
    return {
        "text": [running(line) for line in part.text],
        "tables": [_given(table) for table in part.tables],
        "pictures": pictures,
    }


def _spots(view: CertificateView) -> dict[str, Any]:
    widest = max((width_em(drawable(r)) for spot in view.spots for r in spot.readings), default=2.0)
    names = max((width_em(drawable(spot.spot)) for spot in view.spots), default=2.0)
    places = max((width_em(drawable(spot.where)) for spot in view.spots), default=2.0)
    total = _em(PAGE_MM, TABLE_PT)

    def share(need: float) -> float:
        """Of the 6 parts the readings have: enough for the word, at most as much as a quarter of the page."""
        return round(min(max((need * 1.15 + 1.8) / (total - 16) * 6, 0.5), 2.0), 3)

    first, second = share(names), share(places)
    room = total / (first + second + 6)
    return {
        "spots": [{
            "spot": breakable(drawable(s.spot), (first * room - 1.8) / 1.12),
            "where": breakable(drawable(s.where), second * room - 1.8),
            "readings": [breakable(drawable(r), _READING_EM_MAX) for r in s.readings],
            "note": running(s.note),
        } for s in view.spots],
        "spot_share": first,
        "where_share": second,
        "reading_em": round(max(widest + 0.6, 2.6), 2),
        "readings_are": running(view.readings_are),
    }
