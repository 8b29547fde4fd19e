"""How does a judged job become a page? Every word of the page comes from here; the page decides nothing."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from ..basis.finding import SCOPES, shown_to
from ..basis.materials import shown_name
from ..basis.on_paper import when, words
from ..basis.procedure import LIMITS
from ..basis.quantity import shown
from ..basis.shape import area_mm2
from ..basis.unit_table import printed
from ..job.case import EVIDENCE
from ..job.judge import Outcome
from ..job.kinds import ELSEWHERE, KINDS, SIGNED
from ..job.kinds.signatures import EscalationDecided
from ..job.rules.places import own_shape, places_on
from ..job.step import Block
from .view import (
    CertificateView,
    Chart,
    Correction,
    FindingRow,
    Hold,
    Picture,
    Section,
    Signature,
    Spot,
    Step,
    Table,
    Title,
    finding_row,
)

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
# What this bench never tests, said on every page: common practice, no source.
NEVER_TESTED = (
    "Bond of the new film to the steel: no pull-off (ISO 4624, ASTM D4541) or knife test (ASTM D6677, not meant for film too "
    "thick to cut through in one stroke) was made on the part.",
    "A thickness reading or a high-voltage test does not prove bond; the high-voltage test finds only film that is "
    "missing where air is present.",
)
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
    charts: dict[str, Sequence[Chart]] | None = None,
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
    photos, drawings : list of Picture
        For "what was found" and "what was done".
    charts : dict
        By section: ``measured``, ``done``.

    Returns
    -------
    CertificateView
    """
    job, case = outcome.job, outcome.case
    opened = job.the("job.opened")
    charts = charts or {}
    return CertificateView(
        number=opened.number,
        title=TITLES[outcome.verdict],
        verdict=VERDICTS[outcome.outcome],
        reason=nice(outcome.because),
        issued_at=issued_at,
        revision=revision,
        issuer=(opened.site,),
        replaces=replaces,
        example_mark=EXAMPLE if case.procedure.example else "",
        facts=_facts(outcome),
        identity=_identity(outcome),
        procedure=_procedure(outcome),
        not_done=tuple(nice(line) for line in outcome.not_done_lines),
        holds=tuple(_hold(block) for block in outcome.blocked_by),
        found=_found(outcome, photos),
        decided=_decided(outcome),
        findings=_findings(outcome),
        done=Section(text=_done_text(outcome), pictures=tuple(drawings), charts=tuple(charts.get("done", ()))),
        steps=tuple(_timeline(outcome)),
        measured=_measured(outcome, charts.get("measured", ())),
        spots=_spots(outcome),
        not_tested=_not_tested(outcome),
        cautions=tuple(dict.fromkeys(c for step in outcome.steps.values() for c in step.cautions)),
        corrections=_corrections(outcome),
        repeats=_repeats(outcome),
        signatures=tuple(_signatures(outcome)),
        instruments=_instruments(outcome),
        lots=_lots(outcome),
        sources=_sources(outcome),
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


def _facts(outcome: Outcome) -> tuple[tuple[str, str], ...]:
    facts = []
    repairs = [r for a in outcome.steps["disposition"].answers for r in a.get("repairs", [])]
    through = {event.body.id: event.body.through for event in outcome.job.of("damage.outlined")}
    for label, kept in (("Bare steel", True), ("Damage in the film", False)):
        areas = [r["bare_area_mm2"] for r in repairs if any(through.get(letter, True) for letter in r["members"]) is kept]
        if areas:
            facts.append((label, f"{shown(round(sum(areas)))} mm²"))
    thickness = outcome.steps["thickness"].answers
    if thickness:
        facts.append(("Thinnest film", f"{shown(round(min(answer['min_um'] for answer in thickness)))} µm"))
    tested = outcome.job.last("holiday.tested")
    if tested:
        facts.append(("Test voltage", f"{shown(tested.body.voltage_v / 1000)} kV"))
    conditions = outcome.steps.get("conditions")
    margin = conditions.answers[0].get("dew_margin_k") if conditions and conditions.answers else None
    if margin is not None:
        facts.append(("Dew margin", f"{margin:.1f} K"))
    return tuple(facts[:4])


def _identity(outcome: Outcome) -> tuple[tuple[str, str], ...]:
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


def _procedure(outcome: Outcome) -> tuple[tuple[str, str], ...]:
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


def _hold(block: Block) -> Hold:
    unit = f" {block.unit}" if block.unit else ""
    value = "" if block.value is None else f"{shown_to(block.value, block.limit or 0.0)}{unit}"
    return Hold(
        rule=words(block.rule),
        value=nice(value),
        limit="" if block.limit is None else nice(f"{shown(block.limit)}{unit}"),
        because=nice(block.because),
        next_move=nice(block.next_move),
    )


def _found(outcome: Outcome, photos: Sequence[Picture]) -> Section | None:
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
            "to steel" if body.through else "not through", pit,
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


def _decided(outcome: Outcome) -> Section:
    step = outcome.steps["disposition"]
    lines = [nice(f"Disposition: {words(step.verdict)}. {step.because}")]
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


def _findings(outcome: Outcome) -> tuple[FindingRow, ...]:
    """Every comparison once; the reason is printed where the answer is not plainly yes."""
    rows: dict[tuple[str, str], FindingRow] = {}
    for step in outcome.steps.values():
        for finding in step.findings:
            row = _pretty(finding_row(finding))
            key = (row.rule, finding.because)
            if finding.verdict == "conforms":
                value = row.value if finding.value is not None else _first_sentence(finding.because)
                row = replace(row, value=value, because="")
            elif finding.value is not None:
                row = replace(row, because=nice(finding.because))
            rows.setdefault(key, row)
    return tuple(rows.values())


def _pretty(row: FindingRow) -> FindingRow:
    return replace(row, value=nice(row.value), limit=nice(row.limit), because=nice(row.because))


def nice(text: str) -> str:
    """Units as they are printed: µm and mm² for the house's um and mm2."""
    return re.sub(r"\bum\b", "µm", re.sub(r"\bmm2\b", "mm²", re.sub(r"\bm2\b", "m²", text)))


def _first_sentence(text: str) -> str:
    return text.split(". ")[0].rstrip(".")[:80]


def _done_text(outcome: Outcome) -> tuple[str, ...]:
    return tuple(
        f"{words(name).capitalize()}: {outcome.steps[name].because}"
        for name in ("hazards", "conditions", "heat", "buildup")
        if name in outcome.steps and outcome.steps[name].because
    )


def _timeline(outcome: Outcome) -> list[Step]:
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


def _measured(outcome: Outcome, charts: Sequence[Chart]) -> Section:
    lines, tables = [], []
    for answer, letter in outcome.steps["thickness"].lettered():
        governing, film = answer["governing"], _film_of(outcome, letter)
        lines.append(
            f"{_of(letter)}Film: {answer['n']} readings {film.body.correction.said if film else ''}, "
            f"mean {answer['mean_um']:.0f} µm, thinnest {answer['min_um']:.0f} µm. "
            f"The rule that governs is {words(governing)}: {_named_by(outcome, answer)}"
        )
        lines += [nice(line) for line in answer.get("proves", [])]
        tables.append(Table(
            ("Rule", "Verdict", "Reason"),
            tuple((words(name) + (" (governs)" if name == governing else ""), words(one["verdict"]), nice(one["because"]))
                  for name, one in answer["by_rule"].items()),
            caption=f"{_of(letter)}The same readings under each published rule",
        ))
    step = outcome.steps["holiday"]
    if step.because:
        lines.append(f"Holiday test: {step.because}")
    for answer, letter in step.lettered():
        tables += [replace(table, caption=_of(letter) + table.caption) for table in _rules_table(answer)]
    return Section(text=tuple(lines), tables=tuple(tables), charts=tuple(charts))


def _of(letter: str) -> str:
    return f"Repair {letter}: " if letter else ""


def _film_of(outcome: Outcome, letter: str) -> Any:
    """The last readings of a repair; of the part where there is only one."""
    mine = [film for film in outcome.job.of("film.measured")
            if not letter or letter in {spot.repair or film.body.repair or letter for spot in film.body.spots}]
    return mine[-1] if mine else None


def _named_by(outcome: Outcome, answer: dict[str, Any]) -> str:
    procedure = outcome.case.procedure
    if procedure.choices.get("governing_rule") == answer["governing"]:
        return f"{procedure.id} names it. The other rules stand beside it for comparison only."
    return answer.get("governing_because", "")


def _rules_table(answer: dict[str, Any]) -> list[Table]:
    """The published rules that give a voltage for this film, beside what was used."""
    rows = tuple(
        (rule["rule"], rule["edition"], f"{rule['voltage_v'] / 1000:.1f} kV", rule.get("made_for", ""))
        for rule in answer.get("rules", [])
        if rule.get("voltage_v") is not None and rule.get("applies", True)
    )
    if not rows:
        return []
    return [Table(("Published rule", "Where", "For this film", "Made for"), rows, numbers=(2,),
                  caption="What published rules would ask for the thickest (or thinnest) film measured")]


def _spots(outcome: Outcome) -> tuple[Spot, ...]:
    out = []
    for event in outcome.job.of("film.measured"):
        for spot in event.body.spots:
            out.append(Spot(spot=f"{event.id} · {spot.id}" if len(outcome.job.of("film.measured")) > 1 else spot.id,
                            where=_where(spot, event.body.repair), readings=tuple(shown(value) for value in spot.readings_um)))
    return tuple(out)


def _where(spot: Any, repair: str | None) -> str:
    letter = spot.repair or repair
    return f"{spot.where}, {letter}" if letter else str(spot.where)


def _not_tested(outcome: Outcome) -> tuple[str, ...]:
    lines = []
    if outcome.missing:
        named = ", ".join(EVIDENCE.get(what, words(what)) for what in outcome.missing)
        lines.append(f"Not measured or not done: {named}.")
    if not outcome.job.of("holiday.tested"):
        lines.append("No high-voltage test was made.")
    for event in outcome.job.of("holiday.tested"):
        if event.body.covered_pct < 100:
            lines.append(f"{100 - event.body.covered_pct:g} % of the zone was not covered by {event.id}.")
    return tuple(dict.fromkeys([*lines, *NEVER_TESTED]))


def _corrections(outcome: Outcome) -> tuple[Correction, ...]:
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


def _repeats(outcome: Outcome) -> tuple[tuple[str, str], ...]:
    job = outcome.job
    films, tests = job.of("film.measured"), job.of("holiday.tested")
    rows = [
        ("Film measured", len(films)), ("Holiday tests", len(tests)),
        ("Holiday tests that found a hole", sum(bool(t.body.holidays) for t in tests)),
        ("Photos refused", len(job.of("survey.refused"))), ("Entries corrected", len(job.corrections)),
        ("Entries voided", len(job.voids)),
    ]
    return tuple((what, str(count)) for what, count in rows)


def _signatures(outcome: Outcome) -> list[Signature]:
    job = outcome.job
    out = []
    for event in job.of(*SIGNED):
        person, said = job.people.get(event.by), KINDS[event.kind].signature
        meaning = said(event.body) if said else ""
        note = ""
        if event.kind == "release.signed" and outcome.verdict != "released":
            note = "asked for; not granted, see what holds the job"
        out.append(Signature(name=job.name_of(event.by), role=person.role if person else "", meaning=meaning,
                             when=when(event.at), note=note))
    return out


def _instruments(outcome: Outcome) -> Table | None:
    rows = tuple(
        (tool.id, words(tool.kind), f"{tool.calibrated_on:%Y-%m-%d}", f"{tool.calibration_due:%Y-%m-%d}",
         tool.certificate or "—")
        for tool in outcome.job.instruments.values()
    )
    return Table(("Instrument", "Kind", "Calibrated", "Due", "Certificate"), rows) if rows else None


def _lots(outcome: Outcome) -> Table | None:
    rows = tuple(
        (lot.id, lot.kind, shown_name(lot.polymer or "") or "—", f"{lot.expires:%Y-%m-%d}",
         f"{lot.opened_on:%Y-%m-%d}" if lot.opened_on else "—")
        for lot in outcome.job.lots.values()
    )
    return Table(("Lot", "Kind", "Polymer", "Expires", "Opened"), rows) if rows else None


def _sources(outcome: Outcome) -> Table | None:
    """Where rules and values come from; clauses of the procedure stand beside their findings already."""
    own = outcome.case.procedure.id
    named = dict.fromkeys(
        source
        for step in outcome.steps.values()
        for source in [finding.source for finding in step.findings]
        if source and not source.startswith(own)
    )
    return Table(("Beside the procedure, rules and values come from",), tuple((name,) for name in named)) if named else None
