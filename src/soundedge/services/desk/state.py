"""How a job stands: what is done, what comes next, what holds it and why.

The judged job is kept in memory by the job's head (kept.py), so several pages that ask for the same job judge it once. Nothing
here decides: the words are those of the job's own steps (job/judge.py). What is added is the order in which a person in the
shop takes them: no layer before the hold points are signed, no heat before the meter has read.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ...job.judge import Outcome
from ...job.kinds import KINDS, STEPS
from ...job.rules.repairs import each_made, own_outlines
from ...job.rules.waived import evidence, printed
from ...job.step import Block
from ...record.entry import NOBODY_BEFORE, Entry
from ...record.rotation import SHOP
from ..cache import Cache
from ..evidence import person_keys, shop_chain
from ..evidence.records import as_it_stands, rules_told
from .book import opened
from .kept import Folded, folded, of_entries
from .new_passwords import signed_soon
from .rows import rows_of
from .shop_place import shop_key_folder

GAPS_NAMED = 12
_DEVICE_ID = re.compile(r"([a-z][a-z0-9]{0,19})-([0-9a-f]{6})-([1-9]\d{0,8})\Z")


@dataclass(frozen=True)
class PathStep:
    """One step of the path.

    ``word`` is the step's own verdict; ``status`` done, next, open, holds or not_needed; ``entries`` its rows.
    """

    name: str
    word: str
    status: str
    because: str
    blocks: list[Block]
    missing: list[str]
    entries: list[dict[str, Any]]


@dataclass(frozen=True)
class State:
    """A job as it stands under ``head``.

    ``rules`` says by which rules it was or is judged when they are not those it was opened under; else it is empty.
    ``events`` are all entries as plain rows, with what was struck; ``gaps``, ``restored`` and ``signed_soon`` are sentences,
    empty when nothing is missing, nothing was restored, and nobody signed within a day of a new password.
    """

    number: str
    outcome: Outcome
    head: str
    events: list[dict[str, Any]]
    path: list[PathStep]
    next_step: str
    next_move: str
    gaps: list[str] = field(default_factory=list)
    restored: list[str] = field(default_factory=list)
    rules: str = ""
    signed_soon: list[str] = field(default_factory=list)

    @property
    def verdict(self) -> str:
        """The job's word."""
        return self.outcome.verdict

    @property
    def because(self) -> str:
        """Why the next step is next, so that reason and next move speak of one thing; empty when the move says it itself."""
        step = next((one for one in self.path if one.name == self.next_step), None)
        if step is None:
            return self.outcome.because
        said = step.blocks[0].because if step.blocks else step.because
        return "" if self.next_move.startswith(said) else said


_restores = Cache(40)


def state(data: Path, job: str, *, estimates: bool = False) -> State:
    """The job as it stands.

    Parameters
    ----------
    estimates : bool
        Ask the models that decide nothing as well (the heat plan): slower, for a page that shows them.

    Raises
    ------
    Unknown
        No such job.
    """
    with opened(data) as ledger:
        return state_in(ledger, data, job, estimates=estimates)


def state_in(ledger: Any, data: Path, job: str, *, estimates: bool = False, keep: bool = True) -> State:
    """As ``state``, where the ledger is open already. ``keep``: in memory, for the next caller."""
    held, shop = folded(ledger, data, job, keep=keep), ledger.head(SHOP)
    with held.lock:
        found: tuple[str, State] | None = held.thought.get(("state", estimates))
        if found is not None and found[0] == shop:
            return found[1]
        outcome, entries = outcome_of(held, estimates=estimates), held.entries
        rows = held.thought.get("rows")
        if rows is None:
            rows = held.thought["rows"] = rows_of(entries, outcome, held.rows_before)
        path, step, move = path_of(outcome, rows, list(unseen_by(entries, outcome).values()))
        made = State(job, outcome, held.head, rows, path, step, move, gaps_in(entries),
                     restored_since(ledger, data, entries[0]), rules_told(entries), signed_soon(ledger, data, entries))
        held.thought["state", estimates] = shop, made
    return made


def judged(data: Path, job: str, entries: Sequence[Entry], *, estimates: bool = False, keep: bool = True) -> Outcome:
    """The judged job of these entries, judged once for each head."""
    held = of_entries(data, job, entries, keep=keep)
    with held.lock:
        return outcome_of(held, estimates=estimates)


def outcome_of(held: Folded, *, estimates: bool = False) -> Outcome:
    """The same of entries that are kept; call it under their lock."""
    found: Outcome | None = held.thought.get(("outcome", estimates))
    if found is None:
        found = held.thought["outcome", estimates] = as_it_stands(held.entries, events=held.events, estimates=estimates)
    return found


def plain(held: State) -> dict[str, Any]:
    """The state as plain JSON values."""
    return {
        "number": held.number, "head": held.head, "verdict": held.outcome.verdict,
        "outcome": held.outcome.outcome, "not_done": printed(held.outcome.not_done), "because": held.because,
        "blocked_by": [block.as_plain() for block in held.outcome.blocked_by], "missing": held.outcome.missing,
        "path": [
            {"name": one.name, "word": one.word, "status": one.status, "because": one.because, "missing": one.missing,
             "blocks": [block.as_plain() for block in one.blocks], "entries": [row["id"] for row in one.entries]}
            for one in held.path
        ],
        "next_step": held.next_step, "next_move": held.next_move, "gaps": held.gaps, "restored": held.restored,
        "signed_soon": held.signed_soon,
        "rules": held.rules, "entries": held.events,
    }


# ------------------------------------------------------------------ the path


def path_of(outcome: Outcome, rows: list[dict[str, Any]], unseen: Sequence[Block] = ()) -> tuple[list[PathStep], str, str]:
    """The steps with their status, the one to take next, and the move. ``unseen``: see ``unseen_by``."""
    pending = {name: _pending(outcome, name) for name in STEPS}
    if unseen and not pending["hold_points"]:
        pending["hold_points"] = f"{unseen[0].because} {unseen[0].next_move}"
    following, move = _next(outcome, pending)
    path = []
    of_step: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        of_step.setdefault(KINDS[row["kind"]].step, []).append(row)
    for name in STEPS:
        own = of_step.get(name, [])
        step = outcome.steps.get(name)
        if step is None:
            path.append(PathStep(name, "not_needed", "not_needed", "", [], [], own))
            continue
        blocks = [*step.blocks, *(unseen if name == "hold_points" else ())]
        if any(not block.absent for block in blocks):
            status = "holds"
        elif name == following:
            status = "next"
        elif pending[name]:
            status = "open"
        elif step.verdict == "not_measured" and not step.not_done:
            status = "not_needed" if outcome.verdict == "released" else "open"
        else:
            status = "done"
        path.append(PathStep(name, step.verdict, status, step.because, blocks, list(step.missing), own))
    return path, following, move


def unseen_by(entries: Sequence[Entry], outcome: Outcome) -> dict[tuple[str, str], Block]:
    """Hold point and letter of the repair ("": the only one) → what came into the record only after it was signed, though it is
    said to have been before.

    A tablet that was without network brings its entries later. Whoever has signed meanwhile has not seen them; the rules of
    the job go by the times people state, so the desk asks for the signature again before a release.
    """
    numbers = {entry.id: entry.no for entry in entries}
    found = {}
    for letter, case in each_made(outcome.case, outcome.steps["disposition"]):
        job, of = case.job, f"Repair {letter}: " if letter else ""
        for point in outcome.case.hold_points:
            signed = [event for event in job.of("hold_point.signed") if event.body.hold_point == point]
            later = [event for event in own_outlines(case, evidence(job, point)) if signed
                     and numbers[event.id] > max(numbers[one.id] for one in signed)]
            if later:
                found[point, letter] = Block(
                    "hold_points", f"hold_point_{point}", f"{of}The hold point '{point}' was signed before {later[-1].id} "
                    f"({later[-1].kind}) came into the record, so it was not looked at.", "Look at it and sign again.",
                    outcome.case.rule_book, repair=letter)
    return found


def _pending(outcome: Outcome, name: str) -> str:
    """The next move of a step that is not finished; empty when it is."""
    step = outcome.steps.get(name)
    if step is None:
        return ""
    if name == "hold_points" and step.blocks:
        return f"{step.blocks[0].because} {step.blocks[0].next_move}"
    if step.blocks:
        return step.blocks[0].next_move
    return _before(outcome, name)


def _before(outcome: Outcome, name: str) -> str:
    """What the rules ask for only afterwards, and a person has to do beforehand."""
    case, job = outcome.case, outcome.job
    layers = job.of("layer.fused")
    if name == "hazards" and not layers and job.of("damage.outlined"):
        if case.requires("permit") and not job.of("permit.issued"):
            return "No heat without a hot-work permit: enter its number and end."
        solvents, read = job.of("solvent.used"), job.of("vapour.read")
        if (case.requires("vapour_reading") or solvents) and (not read or (solvents and read[-1].at < solvents[-1].at)):
            return "Read the flammable-gas meter after the last solvent and before heat."
    return ""


def _next(outcome: Outcome, pending: dict[str, str]) -> tuple[str, str]:
    """The first step that holds, taken as the work goes."""
    signatures = outcome.steps.get("hold_points")
    points = {block.rule: block for block in reversed(signatures.blocks)} if signatures is not None else {}
    layers = outcome.job.of("layer.fused")

    def unsigned(*names: str) -> tuple[str, str] | None:
        for one in names:
            block = points.get(f"hold_point_{one}")
            if block is not None:
                return "hold_points", f"{block.because} {block.next_move}"
        return None

    for name in ("survey", "disposition", "conditions"):
        if pending[name]:
            return name, pending[name]
    early = unsigned("disposition", "surface") if not layers else None
    if early:
        return early
    building = outcome.steps.get("buildup")
    if layers and building is not None and building.blocks:
        return "buildup", pending["buildup"]
    for name in ("hazards", "heat", "buildup"):
        if pending[name]:
            return name, pending[name]
    for step, move in _measuring(outcome):
        return step, move
    for name in ("thickness", "instruments"):
        if pending[name]:
            return name, pending[name]
    film = unsigned("film") if not outcome.job.of("holiday.tested") else None
    if film:
        return film
    for name in ("holiday", "hold_points", "release"):
        if pending[name]:
            return name, pending[name]
    return "", ""


def _measuring(outcome: Outcome) -> list[tuple[str, str]]:
    """Before the film is measured: cold enough, and the gauge checked on a shim."""
    case, job = outcome.case, outcome.job
    layers = job.of("layer.fused")
    if job.of("film.measured") or not layers:
        return []
    last = layers[-1].at
    out = []
    if case.requires("cooling") and not any(e.at >= last for e in job.of("film.cooled")):
        limit = case.procedure.value("cool_c_max", 40.0)
        out.append(("thickness", f"Let the film cool to {limit:g} °C, read its temperature, then measure."))
    if case.requires("gauge_check_before") and not any(e.at >= last for e in job.of("gauge.checked")):
        out.append(("instruments", "Check the film gauge on a shim, then measure."))
    return out


# ------------------------------------------------------------------ gaps, restores


def gaps_in(entries: Sequence[Entry]) -> list[str]:
    """Numbers of a device that are missing between those that have come: something it has recorded is not here."""
    seen: dict[tuple[str, str], set[int]] = {}
    for entry in entries:
        found = _DEVICE_ID.match(entry.id)
        if found:
            seen.setdefault((found[1], found[2]), set()).add(int(found[3]))
    out = []
    for (device, outbox), numbers in seen.items():
        most = max(numbers)
        lacking: list[int] = []
        total = most - len(numbers)
        for number in range(1, most):
            if len(lacking) >= GAPS_NAMED or len(lacking) >= total:
                break
            if number not in numbers:
                lacking.append(number)
        if lacking:
            named = ", ".join(map(str, lacking)) + (" …" if total > len(lacking) else "")
            out.append(f"Device {device} ({outbox}) has sent up to number {most}, but not {named}. Bring it into the network; "
                       "what was discarded on it stays a gap.")
    return out


def restored_since(ledger: Any, data: Path, first: Entry) -> list[str]:
    """The restores that two people have declared since a job was opened, as sentences."""
    return [one.sentence for one in restores(ledger, data) if one.at >= first.recorded_at]


def restores(ledger: Any, data: Path) -> list[shop_chain.Restored]:
    """All restores of this ledger that two people have declared."""
    head = ledger.head(SHOP)
    if head == NOBODY_BEFORE:
        return []
    key = (str(data), head)
    found = _restores.get(key)
    if found is None:
        entries = list(ledger.record(SHOP).entries)
        found = shop_chain.restores(entries, person_keys.person_keys(shop_key_folder(data))) if any(
            entry.kind == "ledger.restored" for entry in entries) else []
        _restores.put(key, found)
    return list(found)
