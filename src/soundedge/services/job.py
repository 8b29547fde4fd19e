"""From a job folder to a certificate: gather the folder, think in ``job``, keep the record, show the page."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from ..basis.errors import Unreadable
from ..job.judge import judge_job
from ..job.typed import events_of
from .files import read_bytes, write_whole
from .folder import read_folder
from .seal import PROOF, ready, seal

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
    from .pages import certificate
    from .records import record_of

    now = now or datetime.now(UTC)
    read = read_folder(folder, tell=tell)
    events = events_of(read.sheet)
    outcome = judge_job(events)
    keys = ready(data, outcome.job.the("job.opened").number)
    earlier = None
    if data is not None:
        from .ledger import keep

        record = keep(data, read, events, outcome, now=now)
    else:
        record = record_of(events, outcome, now=now)
        earlier = _earlier(out, record)
        if earlier:
            record = record_of(events, outcome, now=now, revision=earlier.revision, supersedes=earlier.certificate)
    tell("Setting the certificate …")
    replaces = earlier.said if earlier else ""
    sealed = seal(
        lambda code, inside: certificate(outcome, record, read, replaces=replaces, code=code, inside=inside),
        outcome, record, now=now, data=data, keys=keys,
    )
    if sealed.said:
        tell(sealed.said)
    plain = outcome.as_plain() | {"record_sha256": record.digest, "certificate": record.certificate}
    _write(out, {"record.json": record.raw, **sealed.files, "job.json": _json(plain)}, earlier)
    return plain


def show_job(path: Path) -> dict[str, Any]:
    """Judge a recorded job again: ``path`` is an output folder or a record.json.

    Raises
    ------
    RecordBroken
        The record does not hold.
    """
    from .records import outcome_of

    file = path / "record.json" if path.is_dir() else path
    raw = read_bytes(file, what="The record", field="record", size_max_bytes=200_000_000)
    return outcome_of(raw).as_plain()


def new_job(folder: Path, *, procedure: Path | None = None) -> list[str]:
    """Lay out a folder with an empty sheet and tables; nothing that is there is touched.

    Raises
    ------
    Unreadable
        The folder holds a sheet already.
    """
    if (folder / "job.toml").exists():
        raise Unreadable("folder", f"'{folder}' holds a job.toml already. Choose another folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Unreadable("folder", f"'{folder}' cannot be made: {error.strerror}. Choose another place.") from None
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


class _Earlier:
    """A released record that stands in the output folder already and says something else."""

    def __init__(self, digest: str, certificate: str, revision: str, number: int) -> None:
        self.certificate = certificate
        self.revision = revision
        self.number = number
        self.said = f"Replaces certificate {certificate}, record {digest}, which is kept in superseded-{number}/."


def _earlier(out: Path, record: Any) -> _Earlier | None:
    from .records import same_content

    file, told = out / "record.json", out / "job.json"
    if not file.is_file() or not told.is_file():
        return None
    raw = read_bytes(file, what="The earlier record", size_max_bytes=200_000_000)
    try:
        before = json.loads(told.read_text(encoding="utf-8"))
        if before["verdict"] != "released" or same_content(raw, record.raw):
            return None
        digest, certificate = str(before["record_sha256"]), str(before["certificate"])
    except (ValueError, KeyError, TypeError):
        return None
    number = 1 + sum(1 for _ in out.glob("superseded-*"))
    return _Earlier(digest, certificate, chr(ord("A") + number - 1) if number <= 26 else f"R{number}", number)


def _write(out: Path, files: dict[str, bytes], earlier: _Earlier | None) -> None:
    try:
        out.mkdir(parents=True, exist_ok=True)
        if earlier:
            kept = out / f"superseded-{earlier.number}"
            kept.mkdir()
            for name in {*files, PROOF}:
                if (out / name).exists():
                    shutil.copy2(out / name, kept / name)
        if PROOF not in files:
            (out / PROOF).unlink(missing_ok=True)  # it would prove another page than the one beside it
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise Unreadable("out", f"'{out}' cannot be made: {reason}. Choose another place.") from None
    for name, raw in files.items():
        write_whole(out / name, raw)


def _json(value: Any) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()
