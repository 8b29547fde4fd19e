"""What was looked at, probed or tried, and was bad? It holds the job and the acts it would spoil, under every procedure.

    blade lifts the rim by 2 mm, nothing else wrong           → no heat: grind back to where nothing lifts
    the record says ECTFE, a shaving melted at 168 to 173 °C  → stop: fuse nothing until somebody knows what it is
    layer 2 not accepted, nobody looked again                 → no layer 3
    gas meter showed 38 % on gas of 50 %, then read 0 %       → the 0 % counts for nothing: another meter

A later look, probe or trial of the same thing that is good ends it, unless heat or spark was on meanwhile: then the engineer
decides in writing. What nobody looked at holds only where the procedure asks for it (``edge_probed``, ``visual``, ``bond``,
``meter_bump``, ``polymer_known``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Literal

from ...basis.materials import material
from ...basis.sentences import Sentence, say
from ..case import Case, clock
from ..kinds import KINDS, Event
from ..step import BlockKind
from .instruction import instructions

LIFT_MM_MAX = 0.0  # own judgement: a rim that lifts at all is no sound edge
BUMP_TOL_PCT = 10.0
BUMP_SOURCE = "common practice, no source: within 10 % of the known gas"
SHIFT = timedelta(hours=12)  # own judgement: no shift is longer; the date says nothing of a night shift
OXYGEN_PCT = (19.5, 23.5)
OXYGEN_SOURCE = "29 CFR 1910.146(b): below 19.5 or above 23.5 % is a hazardous atmosphere"
PRACTICE = "common practice, no source"
JUDGED = "own judgement"
HEAT = ("heat_on", "first_layer", "next_layer", "restart")

# What an entry did (its row in job/kinds) → the act asked before it. What holds the first layer holds every next one too.
_DONE = {"heat_on": "heat_on", "layer": "next_layer", "spark_on": "spark_on"}
_REDONE = ("film", "voltage")  # a test on film that was not read afresh is made again, and proves nothing meanwhile

Verb = Literal["measure", "read_again", "correct", "ask_engineer", "stop"]


@dataclass(frozen=True)
class Bad:
    """One fact that was found bad or, with ``absent``, that the procedure asks for and nobody looked at."""

    fact: str
    step: str
    acts: tuple[str, ...]
    rule: str
    because: Sentence
    what: Sentence
    verb: Verb = "correct"
    cls: Literal["P", "X", "Q"] = "Q"
    kind: BlockKind = "held"
    source: str = PRACTICE
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    repair: str = ""
    absent: bool = False


def seen(case: Case, step: str | None = None) -> list[Bad]:
    """Everything of this kind that stands in the entries of the case; of one step of the path, or of all."""
    found = (*_edge(case), *_polymer(case), *_wall(case), *_looks(case), *_bond(case), *_meter(case), *_oxygen(case),
             *_sanded(case), *_probe(case))
    return [one for one in found if step is None or one.step == step]


def seen_then(case: Case, step: str) -> list[Bad]:
    """What was bad, or missing though asked for, when heat or spark was on, and was found good only afterwards.

    A later good reading does not undo it. It stands until the engineer has answered it in writing.
    """
    now = {(one.fact, one.repair) for one in seen(case)}
    found: dict[tuple[str, str], Bad] = {}
    for event in case.job.events:
        act = _DONE.get(KINDS[event.kind].act)
        if act is None or any(one.at >= event.at for one in instructions(case.part_job)):
            continue
        letter = getattr(event.body, "repair", None) or ""
        for one in seen(_as_known_at(case, event), step):
            mine = not letter or not one.repair or one.repair == letter
            if mine and act in one.acts and one.fact not in _REDONE and (one.fact, one.repair) not in now:
                found.setdefault((one.fact, one.repair), replace(
                    one, absent=False, kind="engineering_review", verb="ask_engineer",
                    because=say("seen.then", at=clock(event.at), because=one.because), what=say("seen.then_ask")))
    return list(found.values())


def _as_known_at(case: Case, done: Event) -> Case:
    """The case with what was recorded up to the time of an act."""
    known = tuple(event for event in case.job.events
                  if event.id != done.id and (event.at <= done.at or not KINDS[event.kind].acted))
    return replace(case, job=replace(case.job, events=known))


def _built(case: Case) -> list[str]:
    """The letters of the repairs that layers name, where they name several; else one, for the only one."""
    named = sorted({event.body.repair for event in case.job.of("layer.fused") if event.body.repair})
    return named if len(named) > 1 else [""]


def _not_asked_of(case: Case, letter: str, events: Iterable[Event]) -> bool:
    """Whether none of these entries is of that repair."""
    return not any(not letter or event.body.repair in (None, letter) for event in events)


def _on(repair: str | None) -> Sentence | str:
    return say("seen.of_repair", repair=repair) if repair else ""


def _latest(events: Iterable[Event]) -> list[Event]:
    """The last entry of each repair."""
    return list({event.body.repair: event for event in events}.values())


def _edge(case: Case) -> Iterator[Bad]:
    acts = ("sign", *HEAT)
    for event in _latest(case.job.of("edge.probed")):
        body, most = event.body, case.procedure.value("edge_lift_mm_max")
        limit = LIFT_MM_MAX if most is None else most
        source = JUDGED if most is None else case.procedure.cite("edge_lift_mm_max")
        if body.lift_mm > limit:
            yield Bad("edge_sound", "disposition", acts, "A4.6",
                      say("seen.edge_lifts", on=_on(body.repair), lift=body.lift_mm, limit=limit), say("seen.edge_grind"),
                      cls="X", source=source, value=body.lift_mm, limit=limit, unit="mm", repair=body.repair or "")
        wide = case.procedure.value("undercut_mm_max")
        if wide is not None and body.undercut_mm is not None and body.undercut_mm > wide:
            yield Bad("undercut", "disposition", ("grind", *acts), "A2.6",
                      say("seen.undercut", on=_on(body.repair), undercut=body.undercut_mm, limit=wide),
                      say("seen.ask_engineer"), verb="ask_engineer", kind="engineering_review",
                      source=case.procedure.cite("undercut_mm_max"), value=body.undercut_mm, limit=wide, unit="mm",
                      repair=body.repair or "")
    for letter in _built(case) if case.requires("edge_probed") else ():
        if _not_asked_of(case, letter, case.job.of("edge.probed")):
            yield Bad("edge_sound", "disposition", HEAT, "A4.6", say("seen.edge_unprobed", on=_on(letter)),
                      say("seen.edge_probe"), verb="measure", source=case.rule_book, repair=letter, absent=True)


def _polymer(case: Case) -> Iterator[Bad]:
    held, tests = case.job.the("lining.identified"), case.job.of("polymer.tested")
    lining = held.polymer
    acts = ("grind", *HEAT)
    if not tests:
        if case.requires("polymer_known"):
            yield Bad("polymer_known", "disposition", acts, "A2.4", say("seen.polymer_untested"), say("seen.polymer_test"),
                      verb="measure", cls="P", source=case.rule_book, absent=True)
        return
    record, body = material(lining), tests[-1].body
    low, high = body.melt_from_c, body.melt_to_c
    begins, ends = record.melts(held.melt_class)
    other = None
    if body.polymer is not None and body.polymer != lining:
        other = say("seen.polymer_other", record=record.name, how=body.how.replace("_", " "), found=material(body.polymer).name)
    elif low is not None and high is not None and begins is not None and ends is not None and (
            high < begins.value or low > ends.value):
        other = say("seen.polymer_melts", record=record.name, begins=begins.value, ends=ends.value, low=low, high=high)
    if other is not None:
        yield Bad("polymer_known", "disposition", acts, "A2.4", other, say("seen.polymer_stop"), verb="stop", cls="P",
                  kind="engineering_review")


def _wall(case: Case) -> Iterator[Bad]:
    for event in _latest(case.job.of("wall.measured")):
        body = event.body
        if body.least_mm is not None and body.wall_mm < body.least_mm:
            yield Bad("wall", "disposition", ("grind", *HEAT), "A2.7",
                      say("seen.wall_thin", on=_on(body.repair), wall=body.wall_mm, least=body.least_mm),
                      say("seen.ask_engineer"), verb="ask_engineer", kind="engineering_review",
                      source=body.document or PRACTICE, value=body.wall_mm, limit=body.least_mm, unit="mm",
                      repair=body.repair or "")


def _looks(case: Case) -> Iterator[Bad]:
    looks = case.job.of("visual.looked")
    last = {(event.body.repair, event.body.stage, event.body.layer): event for event in looks}
    for (repair, stage, number), event in last.items():
        over = _laid_over(case, looks, event) if stage == "layer" else None
        refused = _turned(case, looks, event) if stage == "end" else None
        if refused is not None:
            yield Bad("visual", "thickness", ("sign", "release"), "A12.4",
                      say("seen.look_turned", on=_on(repair), first=clock(refused.at), at=clock(event.at)),
                      say("seen.look_turned_say"), verb="read_again", repair=repair or "")
        if event.body.accepted and over is None:
            continue
        told = {"on": _on(repair), "at": clock(event.at), "seen": f": {event.body.seen.rstrip('.')}" if event.body.seen else ""}
        if stage == "before":
            if not any(one.at > event.at for one in case.job.of("surface.prepared")):  # prepared again since
                yield Bad("visual", "conditions", HEAT, "A4.6", say("seen.look_before", **told), say("seen.look_again"),
                          repair=repair or "")
        elif over is not None:
            yield Bad("visual", "buildup", ("next_layer", "restart"), "A6.2",
                      say("seen.look_covered", number=number or 0, over=over.body.number, **told), say("seen.look_covered_ask"),
                      verb="ask_engineer", kind="engineering_review", repair=repair or "")
        elif stage == "layer":
            yield Bad("visual", "buildup", ("next_layer", "restart", "measure_film"), "A6.2",
                      say("seen.look_layer", number=number or 0, **told), say("seen.look_cut_out"), cls="X",
                      repair=repair or "")
        else:
            yield Bad("visual", "thickness", ("measure_film", "spark_on", "sign", "release"), "A12.4",
                      say("seen.look_end", **told), say("seen.look_cut_out"), repair=repair or "")
    for letter in _built(case) if case.requires("visual") and case.job.of("layer.fused") else ():
        changed = [event.at for event in case.job.of("layer.fused", "film.sanded")
                   if not letter or event.body.repair in (None, letter)]
        ends = [event for event in looks if event.body.stage == "end" and event.at >= max(changed)]
        if _not_asked_of(case, letter, ends):
            yield Bad("visual", "thickness", ("release",), "A13.3", say("seen.look_missing", on=_on(letter)),
                      say("seen.look_do"), verb="measure", source=case.rule_book, repair=letter, absent=True)


def _turned(case: Case, looks: list[Event], last: Event) -> Event | None:
    """A refused look at the finished film that was accepted later with no work between and no word of what became of it."""
    mine = [one for one in looks if (one.body.repair, one.body.stage) == (last.body.repair, "end") and one.at < last.at]
    if not (last.body.accepted and last.body.seen is None and mine) or mine[-1].body.accepted:
        return None
    worked = case.job.of("layer.fused", "film.sanded", "surface.prepared", "solvent.used", "heat.started")
    return None if any(mine[-1].at < one.at <= last.at for one in worked) else mine[-1]


def _laid_over(case: Case, looks: list[Event], last: Event) -> Event | None:
    """The layer laid over one while it was not accepted."""
    same = [one for one in looks if (one.body.repair, one.body.stage, one.body.layer)
            == (last.body.repair, "layer", last.body.layer)]
    for look in same:
        if look.body.accepted:
            continue
        good = next((one.at for one in same if one.at > look.at and one.body.accepted), None)
        for layer in case.job.of("layer.fused"):
            if layer.at > look.at and (good is None or layer.at < good) and look.body.repair in (None, layer.body.repair) \
                    and layer.body.number > (look.body.layer or 0):
                return layer
    return None


def _bond(case: Case) -> Iterator[Bad]:
    for event in {event.body.plate: event for event in case.job.of("bond.tested")}.values():
        body = event.body
        if not body.accepted:
            yield Bad("bond", "thickness", ("sign", "release"), "A13.3",
                      say("seen.bond_failed", plate=body.plate, how=body.method.replace("_", " "),
                          parted=f": {body.parted.rstrip('.')}" if body.parted else ""),
                      say("seen.bond_ask"), verb="ask_engineer", kind="engineering_review",
                      repair=body.repairs[0] if len(body.repairs) == 1 else "")
    tested = [event.body.repairs for event in case.job.of("bond.tested")]  # a plate that names none stands for all
    for letter in _built(case) if case.requires("bond") and case.job.of("layer.fused") else ():
        if not any(not letter or not of or letter in of for of in tested):
            yield Bad("bond", "thickness", ("release",), "A13.3", say("seen.bond_missing", on=_on(letter)),
                      say("seen.bond_test"), verb="measure", source=case.rule_book, repair=letter, absent=True)


def _meter(case: Case) -> Iterator[Bad]:
    """The last gas reading, by the last trial of its meter before it."""
    read = case.job.last("vapour.read")
    if read is None or read.body.instrument is None:
        return
    meter, said = read.body.instrument, case.procedure.value("bump_tol_pct")
    tol = BUMP_TOL_PCT if said is None else said
    source = BUMP_SOURCE if said is None else case.procedure.cite("bump_tol_pct")
    acts = ("grind", "spark_on", *HEAT)
    tried = [event for event in case.job.of("meter.bumped") if event.body.instrument == meter]
    before = [event for event in tried if event.at <= read.at]
    if before or tried:
        last = (before or tried)[-1].body
        if abs(last.shown_pct - last.given_pct) > last.given_pct * tol / 100:
            yield Bad("meter_bump", "hazards", acts, "A4.3",
                      say("seen.meter_off", meter=meter, shown=last.shown_pct, given=last.given_pct, tol=tol,
                          read=clock(read.at)),
                      say("seen.meter_other"), verb="measure", cls="P", source=source, value=last.shown_pct,
                      limit=last.given_pct, unit="%")
            return
    if case.requires("meter_bump") and not any(read.at - event.at <= SHIFT for event in before):
        yield Bad("meter_bump", "hazards", acts, "A4.3", say("seen.meter_untried", meter=meter, read=clock(read.at)),
                  say("seen.meter_try"), verb="measure", cls="P", source=case.rule_book, absent=True)


def _oxygen(case: Case) -> Iterator[Bad]:
    read = [event for event in case.job.of("vapour.read") if event.body.oxygen_pct is not None]
    if read and not OXYGEN_PCT[0] <= read[-1].body.oxygen_pct <= OXYGEN_PCT[1]:
        yield Bad("oxygen", "hazards", ("open_part", "wipe", "grind", "spark_on", *HEAT), "A4.3",
                  say("seen.oxygen", pct=read[-1].body.oxygen_pct, at=clock(read[-1].at)), say("seen.oxygen_air"), cls="P",
                  source=OXYGEN_SOURCE, value=read[-1].body.oxygen_pct, limit=OXYGEN_PCT[0], unit="%")


def _sanded(case: Case) -> Iterator[Bad]:
    """Film that was dressed after it was read, or after it was tested."""
    for event in {(event.body.repair, event.body.zone): event for event in case.job.of("film.sanded")}.values():
        body, told = event.body, {"zone": event.body.zone, "on": _on(event.body.repair), "at": clock(event.at)}
        read = _last_of(case, "film.measured", body.repair, body.zone)
        if read is not None and read.at < event.at:
            yield Bad("film", "thickness", ("spark_on", "sign", "release"), "A8",
                      say("seen.sanded_after_film", done=clock(read.at), **told), say("seen.sanded_again_film"), verb="measure",
                      source=JUDGED, repair=body.repair or "")
        tested = _last_of(case, "holiday.tested", body.repair, body.zone)
        if tested is not None and tested.at < event.at:
            yield Bad("voltage", "holiday", ("sign", "release"), "A8",
                      say("seen.sanded_after_voltage", done=clock(tested.at), **told), say("seen.sanded_again_voltage"),
                      verb="measure", source=JUDGED, repair=body.repair or "")


def _last_of(case: Case, kind: str, repair: str | None, zone: str) -> Event | None:
    """The last readings, or test, of this zone of this repair."""
    return next((one for one in reversed(case.job.of(kind)) if _covers(one, repair, zone)), None)


def _covers(event: Event, repair: str | None, zone: str) -> bool:
    """Whether readings or a test were of this zone of this repair."""
    body = event.body
    if event.kind == "film.measured":
        return any(spot.where == zone and (repair is None or spot.repair in (None, repair)) for spot in body.spots)
    return (not body.zones or zone in body.zones) and (repair is None or body.repair in (None, repair))


def _probe(case: Case) -> Iterator[Bad]:
    """The hottest old lining, read before there was a layer: at the start of its melting range it is baked again."""
    first = case.job.first_layer_at()
    lining = case.job.the("lining.identified")
    begins, _ = material(lining.polymer).melts(lining.melt_class)
    read = [event for event in case.job.of("probe.read")
            if event.body.place == "hottest_lining" and (first is None or event.at < first)]
    if begins is None or not read:
        return
    hottest = max(read, key=lambda event: event.body.probe_c)
    if hottest.body.probe_c >= begins.value:
        yield Bad("part_start", "heat", HEAT, "A4.8",
                  say("seen.lining_melts", probe=hottest.body.probe_c, at=clock(hottest.at), melts=begins.value),
                  say("seen.ask_engineer"), verb="ask_engineer", kind="engineering_review", source=begins.source,
                  value=hottest.body.probe_c, limit=begins.value, unit="°C", repair=hottest.body.repair or "")
