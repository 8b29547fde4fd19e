"""What stands on a certificate, as plain values?

The job is mapped to a ``CertificateView``; the page prints it and decides nothing. Every part is optional
except the number, the title and the verdict: what is left out is not printed, and what was not done belongs in
``not_tested``. All values are texts as they are to be printed, with their units.

>>> from datetime import UTC
>>> view = CertificateView(number="KBW-2031-014", title="Hold notice", verdict="Held",
...                        reason="The dew-point margin is 2.1 K; it must be at least 3 K.",
...                        issued_at=datetime(2031, 5, 4, 16, 20, tzinfo=UTC))
>>> view.full_number, view.sign
('KBW-2031-014', 'dash')
>>> printed_units("687 mm2 of 1200 um")
'687 mm² of 1200 µm'
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from ..basis.finding import Finding, shown_to
from ..basis.on_paper import words
from ..basis.quantity import shown
from ..basis.signs import Sign, sign_of
from .plots import Bar

Title = Literal["Certificate of repair", "Hold notice", "Engineering review", "Rejection"]

# The word of each title, where no finer one is given.
WORDS: dict[str, str] = {
    "Certificate of repair": "released", "Hold notice": "held", "Engineering review": "engineering_review",
    "Rejection": "rejected",
}


@dataclass(frozen=True)
class Table:
    """A table: header and rows of texts. ``numbers`` are the columns set flush right; first column is 0."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    caption: str = ""
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A photo (JPEG, PNG) or a drawing (SVG) as bytes. ``alt`` says what it shows, for people who cannot see it.

    ``width_mm`` is the most it takes. Left out, a drawing has its own size and a photo the width there is; a drawing
    is never made so small that its letters cannot be read. ``half``: two stand beside each other.
    """

    data: bytes
    alt: str
    caption: str = ""
    width_mm: float | None = None
    half: bool = False


@dataclass(frozen=True)
class Section:
    """A part of the page under one of the fixed headings: sentences, then pictures and tables."""

    text: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True)
class Measure:
    """One value against its limit: words, the verdict's key (``conforms``) and, where there is a number, its bar."""

    label: str
    value: str
    limit: str
    verdict: str = "not_measured"
    bar: Bar | None = None


@dataclass(frozen=True)
class Proof:
    """One of the five things that a repair stands on, with its values against their limits."""

    name: str
    rows: tuple[Measure, ...] = ()


@dataclass(frozen=True)
class FindingRow:
    """One comparison as printed: the rule, the value, the limit, the verdict word and the reason."""

    rule: str
    value: str
    limit: str
    verdict: str
    because: str = ""
    source: str = ""


@dataclass(frozen=True)
class Step:
    """One line of the time line."""

    at: str
    who: str
    what: str
    detail: str = ""
    lot: str = ""


@dataclass(frozen=True)
class Spot:
    """All gauge readings at one spot, each as the gauge showed it."""

    spot: str
    where: str
    readings: tuple[str, ...]
    note: str = ""


@dataclass(frozen=True)
class Hold:
    """One thing that holds the job, and the way out."""

    rule: str
    value: str
    limit: str
    because: str
    next_move: str


@dataclass(frozen=True)
class Correction:
    """A value that was written wrong: old and new stay readable."""

    entry: str
    field: str
    old: str
    new: str
    reason: str
    who: str
    when: str


@dataclass(frozen=True)
class Signature:
    """Printed name, role, time and meaning, as 21 CFR 11.50(a) asks for; ``what`` was signed, and how it counts."""

    name: str
    role: str
    meaning: str
    when: str
    note: str = ""
    what: str = ""
    verdict: str = "signed"


@dataclass(frozen=True)
class CertificateView:
    """A whole certificate, hold notice, review or rejection.

    ``issued_at`` is the document's date: no clock is read. ``word`` is the key of the verdict's finer word, for its sign.
    ``scope``, ``identity`` and ``procedure`` are (label, value) pairs: on the first page, and in full in the annex. ``looks``
    are the map of the part and what was found, prepared and finished, at most four beside each other. ``film`` is the second
    page and ``heat`` the third; without a release they stand in the annex, and the notice is one page. ``several``: a proof is
    of the repair nearest to its limit. ``people`` says who repaired.
    ``example_mark`` (a sentence) is printed on every page; use it whenever the procedure is an example.
    ``repeats`` are (what, count) pairs: failed tests, repeated layers, voided entries, late entries.
    ``record_digest`` is lower-case hex. ``qr_text`` becomes a QR code beside the verification words.
    ``extra`` are further (heading, section) pairs, printed before the signatures.
    """

    number: str
    title: Title
    verdict: str
    reason: str
    issued_at: datetime
    word: str = ""
    revision: str = ""
    issuer: tuple[str, ...] = ()
    replaces: str = ""
    example_mark: str = ""
    scope: tuple[tuple[str, str], ...] = ()
    looks: tuple[Picture, ...] = ()
    proofs: tuple[Proof, ...] = ()
    several: bool = False
    people: tuple[str, ...] = ()
    film: Section | None = None
    heat: Section | None = None
    identity: tuple[tuple[str, str], ...] = ()
    procedure: tuple[tuple[str, str], ...] = ()
    not_done: tuple[str, ...] = ()
    holds: tuple[Hold, ...] = ()
    found: Section | None = None
    decided: Section | None = None
    findings: tuple[FindingRow, ...] = ()
    done: Section | None = None
    steps: tuple[Step, ...] = ()
    measured: Section | None = None
    spots: tuple[Spot, ...] = ()
    readings_are: str = "Gauge readings in µm, each as the gauge showed it."
    not_tested: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    corrections: tuple[Correction, ...] = ()
    repeats: tuple[tuple[str, str], ...] = ()
    signatures: tuple[Signature, ...] = ()
    instruments: Table | None = None
    lots: Table | None = None
    sources: Table | None = None
    record_digest: str = ""
    record_facts: tuple[tuple[str, str], ...] = ()
    how_to_verify: tuple[str, ...] = ()
    qr_text: str = ""
    extra: tuple[tuple[str, Section], ...] = ()

    @property
    def full_number(self) -> str:
        """Number and revision letter together: ``KBW-2031-014-A``."""
        return f"{self.number}-{self.revision}" if self.revision else self.number

    @property
    def sign(self) -> Sign:
        """The sign of the verdict, the same as on the screen (basis/signs.py)."""
        return sign_of(self.word or WORDS[self.title])


def printed_units(text: str) -> str:
    """Units as they are printed: µm, mm² and m² for the house's um, mm2 and m2."""
    return re.sub(r"\bum\b", "µm", re.sub(r"\bmm2\b", "mm²", re.sub(r"\bm2\b", "m²", text)))


def finding_row(finding: Finding) -> FindingRow:
    """A finding as a printed row."""
    unit = f" {finding.unit}" if finding.unit else ""
    value = "not measured"
    if finding.value is not None:
        value = (shown(finding.value) if finding.limit is None else shown_to(finding.value, finding.limit)) + unit
        value += f" (u {finding.u:.2g}{unit})" if finding.u else ""
    side = {"at_least": "at least", "at_most": "at most"}[finding.sense]
    limit = "none given" if finding.limit is None else f"{side} {shown(finding.limit)}{unit}"
    return FindingRow(
        rule=words(finding.rule), value=value, limit=limit, verdict=words(finding.verdict),
        because=finding.because, source=finding.source,
    )
