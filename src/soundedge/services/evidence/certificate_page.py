"""Turns a judged job into the PDF that is handed over: photos, drawings and charts gathered, then set."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...basis.errors import BenchError
from ...job.judge import Outcome
from ...report.certificate import certificate_pdf
from ...report.from_job import certificate_view
from ...report.page_looks import looks
from ...report.plots import film_map
from ...report.view import Picture
from ..pictures import shown_copy
from .originals import Originals
from .records import Record


def certificate(
    outcome: Outcome, record: Record, files: Originals, *, replaces: str = "", code: str = "",
    inside: Mapping[str, bytes] | None = None, restored: Sequence[str] = (), times: Sequence[str] = (),
    signed_soon: Sequence[str] = (),
) -> bytes:
    """The certificate, hold notice, review or rejection as PDF, with ``record.json`` (and what else is given) inside.

    ``code`` is the text of the square code; none when it is empty. ``restored`` are the restores of the ledger that were
    declared since the job was opened; ``times`` says how the entries' times came about, when not from a sheet; ``signed_soon``
    which signatures were given within a day of a new password.
    """
    number = outcome.job.the("job.opened").number
    revision = record.certificate.removeprefix(number).lstrip("-")
    sections, plans = _drawings(outcome)
    view = certificate_view(
        outcome,
        issued_at=record.issued_at,
        record_digest=record.digest,
        record_facts=_record_facts(outcome, record, restored, times, signed_soon),
        revision=revision,
        replaces=replaces,
        looks=_looks(outcome, files),
        film=[*_map(outcome), *sections],
        photos=_photos(outcome, files),
        drawings=plans,
        qr_text=code,
    )
    return certificate_pdf(view, {"record.json": record.raw, **(inside or {})})


def _record_facts(
    outcome: Outcome, record: Record, restored: Sequence[str], times: Sequence[str], signed_soon: Sequence[str]
) -> list[tuple[str, str]]:
    """What a reader should know of the record: how many entries, its head, and times that cannot be."""
    facts = [("Entries", str(record.count)), ("Head", record.head),
             ("Times", " ".join(times) or "as the people gave them; all were typed in and written down at the time of issue")]
    facts += [("Ledger restored", sentence) for sentence in restored]
    facts += [("New password", sentence) for sentence in signed_soon]
    ahead = [event.id for event in outcome.job.events if event.at > record.issued_at]
    if ahead:
        facts.append(("Times ahead of the clock", f"{len(ahead)} entries claim a time after they were written down: "
                                                  f"{', '.join(ahead[:6])}{' …' if len(ahead) > 6 else ''}"))
    return facts


def _photos(outcome: Outcome, files: Originals) -> list[Picture]:
    pictures = []
    for event in (*outcome.job.replaced, *outcome.job.of("damage.outlined")):
        digest = event.body.photo_sha256
        if digest and digest in files.shown:
            stage = event.body.stage.replace("_", " ")
            what = f"{event.body.id}, {stage}"
            pictures.append(Picture(
                files.shown[digest], f"Rectified photo of damage {what}, with outline and millimetre grid",
                f"{what}: rectified from {event.body.photo}, grid 10 mm. Original SHA-256 {digest[:16]}…", 80,
            ))
    for event in outcome.job.of("picture.taken"):
        raw = files.originals.get(event.body.sha256)
        if raw is not None:
            pictures.append(Picture(shown_copy(raw, event.body.file), event.body.caption, event.body.caption, 80))
    return pictures


def _looks(outcome: Outcome, files: Originals) -> list[Picture]:
    """For the first page: the map, as found and prepared, and the last photo of the finished film."""
    shown = {(event.body.id, event.body.stage): files.shown[event.body.photo_sha256]
             for event in (*outcome.job.replaced, *outcome.job.of("damage.outlined"))
             if event.body.photo_sha256 and event.body.photo_sha256 in files.shown}
    last = max((event.at for event in outcome.job.of("layer.fused", "film.sanded")), default=None)
    for event in reversed(outcome.job.of("picture.taken")):
        raw = files.originals.get(event.body.sha256)
        if raw is not None and last is not None and event.at >= last:
            return looks(outcome, shown, (shown_copy(raw, event.body.file), event.body.caption, event.at))
    return looks(outcome, shown, None)


def _drawings(outcome: Outcome) -> tuple[list[Picture], list[Picture]]:
    """Layers in section, for the page of film; placements in plan, for the annex, and there too the sections of several."""
    from ...buildup.ask import FORMS

    step = outcome.steps.get("buildup")
    sections: list[Picture] = []
    plans: list[Picture] = []
    if not outcome.job.of("layer.fused"):
        return sections, plans  # nothing was built; the plan belongs on the work card
    for number, request in enumerate(step.asked if step else [], 1):
        drawn: Any = outcome.case.ask(FORMS, request | {"drawing": True})
        letter = step.answered_for[number - 1] if step and step.answered_for else ""
        of = f" of repair {letter or number}" if step and len(step.asked) > 1 else ""
        if drawn.section_svg:
            section = Picture(drawn.section_svg.encode(), f"Section{of}: {drawn.layers} layers from the steel up",
                              f"Section{of}, heights drawn larger", 120)
            (plans if of else sections).append(section)
        if drawn.plan_svg:
            plans.append(Picture(drawn.plan_svg.encode(), f"Plan{of}: placements in working order, from the outside inwards",
                                 f"Plan{of}: placements in working order"))
    return sections, plans


def _map(outcome: Outcome) -> list[Picture]:
    """Film between the readings over the footprint of the repair, when enough places were written down."""
    from ...job.steps.thickness import map_question
    from ...thickness.ask import FORMS

    thickness = outcome.steps["thickness"]
    request = map_question(outcome.case, thickness, outcome.steps["disposition"]) if thickness.answers else None
    if request is None:
        return []
    try:
        plain = outcome.case.ask(FORMS, request).model_dump(mode="json")
    except BenchError:
        return []  # the readings do not carry a map; they stand in their table
    said = f"Estimate from the thinnest reading of each spot: thinnest place about {plain['film_min_um']:.0f} µm"
    return [Picture(film_map(plain).encode(), f"Map of film over the footprint of the repair. {said}.",
                    f"{said}; numbered crosses are where a further reading tells most. Only a reading decides.", half=True)]
