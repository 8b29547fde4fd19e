"""From a job folder to a certificate: gather the folder, think in ``job``, keep the record, show the page."""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ...basis.errors import Contradiction, RecordBroken, Unreadable
from ...basis.quantity import read_instant
from ...basis.sentences import say
from ...job.acts.door import may_at
from ...job.acts.may import May
from ...job.judge import judge_job, with_estimate
from ...job.typed import events_of
from ...record.entry import Entry
from ...record.verify import verify
from ...store.durable import sync_folder, write_durably
from ..evidence.sealing import PROOF, ready, seal
from ..evidence.shop_chain import restored_since
from ..files import read_bytes, write_together, write_whole
from .contents import read_folder

Told = Callable[[str], None]
TEMPLATES = Path(__file__).with_name("templates")


def run_job(
    folder: Path, out: Path, *, data: Path | None = None, now: datetime | None = None, tell: Told = lambda line: None
) -> dict[str, Any]:
    """Judge a job folder and write ``certificate.pdf``, ``record.json`` and ``job.json`` to ``out``.

    Parameters
    ----------
    folder : Path
        Holds ``job.toml`` and the files it names.
    out : Path
        Made when it is not there. Files in it are replaced as wholes; a released record that would change is
        moved to ``superseded-N/`` first and named on the new page.
    data : Path, optional
        The shop's data folder: entries are kept in its ledger and only ever added.
    now : datetime, optional
        When it is recorded; the clock if left out.
    tell : callable
        Told one line before each longer piece of work.

    Returns
    -------
    dict
        The content of ``job.json``.

    Raises
    ------
    BenchError
        The folder cannot be used; nothing was written.
    """
    from ..evidence.certificate_page import certificate
    from ..evidence.keep_job import as_kept, keep, kept_of
    from ..evidence.records import record_of

    now = now or datetime.now(UTC)
    read = read_folder(folder, tell=tell)
    events = events_of(read.sheet)
    number = next(event.body.number for event in events if event.kind == "job.opened")
    before = kept_of(data, number) if data is not None else _released(out, number)
    events = as_kept(events, before)
    events, outcome = with_estimate(events, judge_job(events), kept={entry.id for entry in before})
    keys = ready(data, outcome.job.the("job.opened").number)
    earlier = None
    if data is not None:
        record = keep(data, read, events, outcome, now=now)
    else:
        record = record_of(events, outcome, now=now)
        earlier = _earlier(out, record, outcome)
        if earlier:
            now = earlier.issued_at or now
            record = record_of(events, outcome, now=now, revision=earlier.revision, supersedes=earlier.certificate)
    tell(say("folder.setting_certificate"))
    replaces = earlier.said if earlier else ""
    restored = restored_since(data, outcome.job.the("job.opened").number) if data is not None else []
    try:
        sealed = seal(
            lambda code, inside: certificate(outcome, record, read, replaces=replaces, code=code, inside=inside,
                                             restored=restored),
            outcome, record, now=now, data=data, keys=keys,
        )
    except OSError as error:
        raise Unreadable("out", say("folder.certificate_not_set", why=error.strerror or error)) from None
    if sealed.said:
        tell(sealed.said)
    acts = may_at(events, None, done=False).as_plain()["acts"]
    plain = outcome.as_plain() | {"acts": acts, "record_sha256": record.digest, "certificate": record.certificate}
    _write(out, {"record.json": record.raw, **sealed.files, "job.json": _json(plain)}, earlier)
    return plain


def may_folder(folder: Path, *, at: str | None = None, act: str | None = None, repair: str | None = None,
               given: Mapping[str, Any] | None = None) -> May:
    """What may be done now, by the entries in a job folder up to ``at`` (that of the last entry if left out).

    Raises
    ------
    BenchError
        The folder cannot be used, or there is no such act or time.
    """
    events = events_of(read_folder(folder).sheet)
    events, _ = with_estimate(events, judge_job(events, estimates=False))
    return may_at(events, at, act=act, repair=repair, given=given)


def show_job(path: Path) -> dict[str, Any]:
    """Judge a recorded job again: ``path`` is an output folder or a record.json.

    Raises
    ------
    RecordBroken
        The record does not hold.
    """
    from ..evidence.records import replayed

    file = path / "record.json" if path.is_dir() else path
    raw = read_bytes(file, what="The record", field="record", size_max_bytes=200_000_000)
    return replayed(raw, estimates=True).as_plain()


def new_job(folder: Path, *, procedure: Path | None = None) -> list[str]:
    """Lay out a folder with an empty sheet and tables; nothing that is there is touched.

    Raises
    ------
    Unreadable
        The folder holds a sheet already.
    """
    if (folder / "job.toml").exists():
        raise Unreadable("folder", say("folder.folder_has_a_job", folder=folder))
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Unreadable("folder", say("folder.out_not_made", folder=folder, why=error.strerror)) from None
    made = {
        "job.toml": (TEMPLATES / "job.toml").read_bytes(),
        "film.csv": b"spot,where,x_mm,y_mm,reading_um\n",
        "heat.csv": b"time_s,reading_c,aimed_at,emissivity_set\n",
        "air.csv": b"at,air_c,rh_pct,steel_c\n",
    }
    if procedure is not None:
        made["procedure.toml"] = read_bytes(procedure, what="The procedure", field="procedure")
    for name, raw in made.items():
        if not (folder / name).exists():
            write_whole(folder / name, raw)
    return [str(folder / name) for name in made]


def blank_card(path: Path, *, number: str = "") -> None:
    """Write the card to fill in with a pen where there is no network and no dry hand, to be typed in later."""
    from ...report.blank_card import BlankCard, blank_card_pdf

    write_whole(path, blank_card_pdf(BlankCard(number=number)))


@dataclass(frozen=True)
class _Earlier:
    """A released record that stands in the output folder already.

    When it says the same as the new one, the new one takes over its moment (``issued_at``), revision and what it
    replaces, so that the bytes stay the same. Otherwise it is kept in ``superseded-N`` (``number``) and replaced.
    """

    certificate: str | None
    revision: str
    said: str
    number: int | None = None
    issued_at: datetime | None = None


def _earlier(out: Path, record: Any, outcome: Any) -> _Earlier | None:
    from ..evidence.records import same_content

    file = out / "record.json"
    if not file.is_file():
        return None
    raw = read_bytes(file, what="The earlier record", size_max_bytes=200_000_000)
    job, last = _judgement(raw, file)
    if last.body.get("verdict") != "released":
        return None
    number = outcome.job.the("job.opened").number
    if job != number:
        raise Contradiction("out", say("folder.folder_has_another_release", folder=out, other=job, job=number))
    said = str(last.body["certificate"])
    if outcome.verdict == "released" and same_content(raw, record.raw):
        before = last.body.get("supersedes")
        return _Earlier(before, said.removeprefix(number).lstrip("-"), _replaced(out, before) if before else "",
                        issued_at=read_instant(last.at))
    place = max(_numbers(out), default=0) + 1
    digest = hashlib.sha256(raw).hexdigest()
    return _Earlier(said, chr(ord("A") + place - 1) if place <= 26 else f"R{place}", _replaces(said, digest, place), place)


def _released(out: Path, number: str) -> list[Entry]:
    """The entries of this job's record in the output folder, when it is a released one; none else."""
    file = out / "record.json"
    if not file.is_file():
        return []
    raw = read_bytes(file, what="The earlier record", size_max_bytes=200_000_000)
    job, last = _judgement(raw, file)
    return list(verify(raw).entries()) if job == number and last.body.get("verdict") == "released" else []


def _judgement(raw: bytes, file: Path) -> tuple[str, Any]:
    """Job and judgement of a record that stands in the way; one that does not hold is not written over."""
    try:
        held = verify(raw)
    except RecordBroken as fault:
        raise Unreadable("out", say("folder.out_is_not_a_record", file=file, why=fault.message)) from None
    entries = [entry for entry in held.entries() if entry.kind == "job.judged"]
    if not entries:
        raise Unreadable("out", say("folder.record_without_judgement", file=file))
    return held.job, entries[-1]


def _numbers(out: Path) -> list[int]:
    names = (path.name.removeprefix("superseded-") for path in out.glob("superseded-*"))
    return [int(name) for name in names if name.isdecimal() and len(name) < 6]


def _replaces(certificate: str, digest: str, place: int) -> str:
    return f"Replaces certificate {certificate}, record {digest}, which is kept in superseded-{place}/."


def _replaced(out: Path, certificate: str) -> str:
    """What was said when this certificate was replaced, found again by the record that was kept."""
    for place in sorted(_numbers(out), reverse=True):
        file = out / f"superseded-{place}" / "record.json"
        if not file.is_file():
            continue
        raw = read_bytes(file, what="A replaced record", size_max_bytes=200_000_000)
        if _judgement(raw, file)[1].body.get("certificate") == certificate:
            return _replaces(certificate, hashlib.sha256(raw).hexdigest(), place)
    return f"Replaces certificate {certificate}."


def _write(out: Path, files: dict[str, bytes], earlier: _Earlier | None) -> None:
    kept = out / f"superseded-{earlier.number}" if earlier and earlier.number else None
    copied = False
    try:
        out.mkdir(parents=True, exist_ok=True)
        if kept:
            kept.mkdir()
            copied = True
            write_durably({kept / name: (out / name).read_bytes() for name in {*files, PROOF} if (out / name).exists()})
            sync_folder(out)
    except (OSError, ValueError) as error:
        if kept and copied:
            shutil.rmtree(kept, ignore_errors=True)
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("out", say("folder.out_not_made", folder=out, why=reason)) from None
    try:
        write_together({out / name: raw for name, raw in files.items()})
    except Unreadable:
        if kept:
            shutil.rmtree(kept, ignore_errors=True)  # a copy: what was to be replaced stands where it stood
        raise
    if PROOF not in files:
        with contextlib.suppress(OSError):
            (out / PROOF).unlink(missing_ok=True)  # it would prove another page than the one beside it


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()
