"""What stands in the annex: whatever the three pages rest on, entry by entry and rule beside rule.

The part and the procedure in full, what was found and decided, every comparison, every reading, corrections, instruments, lots
and sources. Nothing here is on the first page in other words only: the annex may be left unprinted, never unsealed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from ..basis.finding import SCOPES
from ..basis.materials import shown_name
from ..basis.on_paper import when, words
from ..basis.procedure import LIMITS
from ..basis.quantity import shown
from ..basis.shape import area_mm2
from ..basis.unit_table import printed
from ..job.judge import Outcome
from ..job.kinds import ELSEWHERE, KINDS
from ..job.kinds.signatures import EscalationDecided
from ..job.rules.places import own_shape, places_on
from .view import Correction, FindingRow, Picture, Section, Spot, Step, Table, finding_row, printed_units


def identity(outcome: Outcome) -> tuple[tuple[str, str], ...]:
    job = outcome.job
    opened, part, lining = job.the("job.opened"), job.the("part.identified"), job.the("lining.identified")
    rows = [
        ("Part", f"{part.name} {part.tag}"),
        ("Drawing", part.drawing),
        ("Customer", opened.customer),
        ("Base metal", f"{shown_name(part.material)}, {shown(part.plate_mm)} mm"),
        ("Places", places_on(part)),
        ("Lining", ", ".join(filter(None, (shown_name(lining.polymer), f"{shown(lining.thickness_um)} µm", lining.grade)))),
        ("Lining applied", lining.applied),
        ("Glued sheet", _glued(lining)),
        ("Service", _service(part)),
        ("Last service", part.last_service),
        ("Decontamination", part.decontamination),
        ("Opened", when(job.of("job.opened")[0].at)),
        ("Part values confirmed", part.confirmed),
        ("Note", opened.note),
    ]
    return tuple((label, text) for label, text in rows if text)


def _service(part: Any) -> str:
    """What its owner stated of the part's service; empty where nobody was asked."""
    if part.service is None:
        return ""
    called = {"never": "never in service", "dry": "dry service", "unknown": "not known"}.get(part.service, words(part.service))
    contact = f", last contact {when(part.last_contact)}" if part.last_contact else ""
    return called + contact + (f", stated by {part.service_stated_by}" if part.service_stated_by else "")


def _glued(lining: Any) -> str:
    """Where sheet is glued on the part, and what it bears; empty where nobody said that there is any."""
    if not lining.bonded_sheet:
        return ""
    return lining.bonded_sheet + (f", bears {shown(lining.bonded_c_max)} °C" if lining.bonded_c_max is not None else "")


def procedure(outcome: Outcome) -> tuple[tuple[str, str], ...]:
    procedure = outcome.case.procedure
    rule = procedure.decision
    asked = "the plain value decides (simple)"
    if rule.rule == "guarded":
        asked = f"guarded: right with at least {100 * rule.probability:g} % probability, {SCOPES[rule.scope]}"
    rows = [
        ("Procedure", procedure.id + (" — EXAMPLE" if procedure.example else "")),
        ("Title", procedure.title),
        ("Edition", procedure.edition),
        ("Approved", ", ".join(part for part in (procedure.approver, procedure.approved_on) if part)),
        ("Decision rule", asked),
        ("File digest", outcome.job.the("job.opened").procedure_sha256),
    ]
    return tuple((label, text) for label, text in rows if text)


def found(outcome: Outcome, photos: Sequence[Picture]) -> Section | None:
    rows = []
    placed = {event.id: (event.body.place.said,) for event in outcome.job.of("damage.outlined") if event.body.place}
    none = ("",) if placed else ()
    for event in outcome.job.of("damage.outlined"):
        body = event.body
        shape = own_shape(body)
        u = f" ± {shown(round(2 * body.u_area_mm2, 1))} (k = 2)" if body.u_area_mm2 else ""
        pit = "not measured" if body.pit_depth_mm is None else f"{shown(body.pit_depth_mm)} mm"
        rows.append((
            body.id, *placed.get(event.id, none), words(body.stage), words(body.kind), f"{area_mm2(shape):.0f}{u} mm²",
            body.depth_said, pit,
            "from photo" if body.measured == "photo" else "typed", f"{outcome.job.name_of(event.by)}, {when(event.at)}",
        ))
    for event in outcome.job.of("survey.refused"):
        rows.append((event.body.id, *none, words(event.body.stage), "", "photo refused, no number", "", "",
                     event.body.photo,
                     f"{outcome.job.name_of(event.by)}, {when(event.at)}"))
    if not rows:
        return None
    heads = ("Damage", *(["Place"] if placed else []), "Stage", "Kind", "Area", "Depth", "Pit", "Outline", "By")
    table = Table(heads, tuple(rows))
    return Section(tables=(table, *_budgets(outcome)), pictures=tuple(photos))


def _budgets(outcome: Outcome) -> list[Table]:
    """Where the uncertainty of an area measured from a photo comes from, largest part first."""
    columns = []
    for event in outcome.job.of("damage.outlined"):
        told = event.body.survey or {}
        if told.get("budget"):
            parts = {str(row["name"]): float(row["u_pct"]) for row in told["budget"]}
            columns.append((f"{event.body.id}, {words(event.body.stage)}", parts))
    if not columns:
        return []
    names = sorted({name for _, parts in columns for name in parts}, key=lambda n: -max(p.get(n, 0.0) for _, p in columns))
    rows = tuple((words(name), *(f"{parts[name]:.2f} %" if name in parts else "—" for _, parts in columns)) for name in names)
    return [Table(("Part of the area's uncertainty", *(name for name, _ in columns)), rows,
                  caption="Standard uncertainties of areas from photos, as shares of the area",
                  numbers=tuple(range(1, len(columns) + 1)))]


def decided(outcome: Outcome) -> Section:
    step = outcome.steps["disposition"]
    lines = [printed_units(f"Disposition: {words(step.verdict)}. {step.because}")]
    tables = []
    for answer in step.answers:
        rows = []
        for repair in answer.get("repairs", []):
            footprint, keep_out = repair.get("footprint_area_mm2"), repair.get("min_keep_out_mm")
            rows.append((
                " + ".join(repair["members"]), words(str(repair.get("stage", ""))), f"{repair['bare_area_mm2']:.0f} mm²",
                "—" if footprint is None else f"{footprint:.0f} mm²",
                "—" if keep_out is None else f"{keep_out:.0f} mm",
                "—" if repair.get("same_spot_repairs") is None else str(repair["same_spot_repairs"]),
                words(str(repair.get("verdict", ""))),
            ))
        if rows:
            tables.append(Table(("Repair", "Stage", "Area", "Footprint", "To keep-out", "Earlier here", "Verdict"),
                                tuple(rows), numbers=(2, 3, 4, 5)))
    for event in outcome.job.of("escalation.decided"):
        text = f"{outcome.job.name_of(event.by)}, {when(event.at)}: {words(event.body.decision)}. {event.body.because}"
        lines.append(text + _written(event.body))
    return Section(text=tuple(lines), tables=tuple(tables))


def _written(body: EscalationDecided) -> str:
    """A written instruction in one line: number, steps, the limits it replaces, how long, and which owner accepted it."""
    limits = ", ".join(f"{LIMITS[key].name.lower()} {shown(value)} {printed(LIMITS[key].unit)}".rstrip()
                       for key, value in (body.limits or {}).items())
    named = f" Instruction{f' {body.number}' if body.number else ''}"
    parts = [f"{named}: {body.instruction}" if body.instruction else f"{named}." if body.number else "",
             f" It replaces: {limits}." if limits else "", f" It ends {when(body.expires)}." if body.expires else "",
             f" Accepted by {body.accepted_by.rstrip('.')}." if body.accepted_by else ""]
    return "".join(parts)


def findings(outcome: Outcome) -> tuple[FindingRow, ...]:
    """Every comparison once; the reason is printed where the answer is not plainly yes, a long source by its number."""
    rows: dict[tuple[str, str], FindingRow] = {}
    numbers = {name: f"source {n}" for n, name in enumerate(_named(outcome), 1)}
    for step in outcome.steps.values():
        for finding in step.findings:
            row = _pretty(finding_row(finding))
            row = replace(row, source=numbers.get(row.source, row.source))
            key = (row.rule, finding.because)
            if finding.verdict == "conforms":
                value = row.value if finding.value is not None else _first_sentence(finding.because)
                row = replace(row, value=value, because="")
            elif finding.value is not None:
                row = replace(row, because=printed_units(finding.because))
            rows.setdefault(key, row)
    return tuple(rows.values())


def _pretty(row: FindingRow) -> FindingRow:
    return replace(row, value=printed_units(row.value), limit=printed_units(row.limit), because=printed_units(row.because))


def _first_sentence(text: str) -> str:
    return text.split(". ")[0].rstrip(".")[:80]


def done_text(outcome: Outcome) -> tuple[str, ...]:
    return tuple(
        f"{words(name).capitalize()}: {outcome.steps[name].because}"
        for name in ("hazards", "conditions", "heat", "buildup")
        if name in outcome.steps and outcome.steps[name].because
    )


def timeline(outcome: Outcome) -> list[Step]:
    return [
        Step(at=when(event.at), who=outcome.job.name_of(event.by), what=KINDS[event.kind].label,
             detail=_detail(event), lot=getattr(event.body, "lot", "") or "")
        for event in outcome.job.events
        if KINDS[event.kind].line is not ELSEWHERE
    ]


def _detail(event: Any) -> str:
    """What an entry says in one line, and the answer that was given where a value of it was odd."""
    answer = getattr(event.body, "confirmed", None)
    return KINDS[event.kind].line(event.body) + (f"; confirmed: {answer}" if answer else "")


def spots(outcome: Outcome) -> tuple[Spot, ...]:
    out = []
    for event in outcome.job.of("film.measured"):
        for spot in event.body.spots:
            out.append(Spot(spot=f"{event.id} · {spot.id}" if len(outcome.job.of("film.measured")) > 1 else spot.id,
                            where=_where(spot, event.body.repair), readings=tuple(shown(value) for value in spot.readings_um)))
    return tuple(out)


def _where(spot: Any, repair: str | None) -> str:
    letter = spot.repair or repair
    return f"{spot.where}, {letter}" if letter else str(spot.where)


def corrections(outcome: Outcome) -> tuple[Correction, ...]:
    job = outcome.job
    out = [
        Correction(entry=e.body.entry, field=e.body.field, old=str(e.body.old), new=str(e.body.new), reason=e.body.because,
                   who=job.name_of(e.by), when=when(e.at))
        for e in job.corrections
    ]
    out += [
        Correction(entry=e.body.entry, field="(whole entry)", old="stood", new="void", reason=e.body.because,
                   who=job.name_of(e.by), when=when(e.at))
        for e in job.voids
    ]
    return tuple(out)


def repeats(outcome: Outcome) -> tuple[tuple[str, str], ...]:
    job = outcome.job
    films, tests = job.of("film.measured"), job.of("holiday.tested")
    rows = [
        ("Film measured", len(films)), ("Holiday tests", len(tests)),
        ("Holiday tests that found a hole", sum(bool(t.body.holidays) for t in tests)),
        ("Photos refused", len(job.of("survey.refused"))), ("Entries corrected", len(job.corrections)),
        ("Entries voided", len(job.voids)),
    ]
    return tuple((what, str(count)) for what, count in rows)


def instruments(outcome: Outcome) -> Table | None:
    rows = tuple(
        (tool.id, words(tool.kind), f"{tool.calibrated_on:%Y-%m-%d}", f"{tool.calibration_due:%Y-%m-%d}",
         tool.certificate or "—")
        for tool in outcome.job.instruments.values()
    )
    return Table(("Instrument", "Kind", "Calibrated", "Due", "Certificate"), rows) if rows else None


def lots(outcome: Outcome) -> Table | None:
    rows = tuple(
        (lot.id, lot.kind, shown_name(lot.polymer or "") or "—", f"{lot.expires:%Y-%m-%d}",
         f"{lot.opened_on:%Y-%m-%d}" if lot.opened_on else "—")
        for lot in outcome.job.lots.values()
    )
    return Table(("Lot", "Kind", "Polymer", "Expires", "Opened"), rows) if rows else None


def sources(outcome: Outcome) -> Table | None:
    """Where rules and values come from, by number; clauses of the procedure stand beside their findings already."""
    named = _named(outcome)
    rows = tuple((str(n), name) for n, name in enumerate(named, 1))
    return Table(("Source", "Beside the procedure, rules and values come from"), rows) if named else None


def _named(outcome: Outcome) -> list[str]:
    own = outcome.case.procedure.id
    return list(dict.fromkeys(
        source
        for step in outcome.steps.values()
        for source in [finding.source for finding in step.findings]
        if source and not source.startswith(f"{own}, clause")
    ))
