"""Does a gas reading stand at a moment of heat or spark, and if not, why?

    gas read 08:40, acetone wiped 09:10, heat at 09:15          → missing: the reading is from before the solvent
    gas read three days ago, a permit for today, heat now        → old: it stands for the permit's shift
    an enclosed place, 15 min in the procedure, read 20 min ago  → old

In an open hall a reading stands for the permit's shift, until solvent is used; in an enclosed place for as many minutes as the
procedure says (``gas_age_min_max``). Where no permit is in force the permit itself is what is missing.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from ...basis.procedure import LEL_PCT_MAX
from ..case import Case, clock
from ..fold import Job
from ..kinds import Event

LEL_SOURCE = "29 CFR 1915.13: below 10 % of the lower explosive limit"


@dataclass(frozen=True)
class Gas:
    """``state``: stands, not_asked (nobody needs a reading), missing, old, or high (measured, and too much)."""

    state: Literal["stands", "not_asked", "missing", "old", "high"]
    because: str = ""
    share_pct: float | None = None
    limit_pct: float = LEL_PCT_MAX


def enclosed(job: Job, moment: datetime) -> bool:
    """Whether the permit or the opening that counts at that moment says that the place is enclosed."""
    said = [e.body.place for e in job.of("permit.issued", "part.opened") if e.at <= moment and e.body.place is not None]
    return bool(said) and said[-1] == "enclosed"


def permit_at(job: Job, moment: datetime) -> Event | None:
    """The permit in force at a moment; of several the one that runs longest."""
    held = [e for e in job.of("permit.issued") if e.at <= moment <= e.body.until]
    return max(held, key=lambda e: e.body.until, default=None)


def share_of(read: Event) -> float:
    """What the meter showed, in % of the explosive limit of the gas that is there."""
    return float(read.body.lel_pct * (read.body.factor or 1.0))


def since_solvent(job: Job, moment: datetime) -> list[Event]:
    """The readings up to a moment that came after the last solvent; one typed for the same minute does not say it was after."""
    solvents = [e.at for e in job.of("solvent.used") if e.at <= moment]
    return [e for e in job.of("vapour.read") if e.at <= moment and (not solvents or e.at > solvents[-1])]


def gas_at(case: Case, moment: datetime, *, required: bool, spark: bool = False) -> Gas:
    """The gas reading for heat or spark at a moment.

    Parameters
    ----------
    case : Case
    moment : datetime
        When heat or spark was switched on.
    required : bool
        Whether a reading is needed even where no solvent was used and the place is open.
    spark : bool
        Whether the procedure's limit for sparks holds, where it sets one.
    """
    job = case.job
    solvents = [e for e in job.of("solvent.used") if e.at <= moment]
    every = [e for e in job.of("vapour.read") if e.at <= moment]
    after = since_solvent(job, moment)
    close = enclosed(job, moment)
    if not after:
        if not (solvents or required or close):
            return Gas("not_asked")
        since = "between the last solvent and" if solvents else "before"
        what = "spark" if spark else "heat"
        return Gas("missing", f"Flammable gas was not measured {since} the {what} at {clock(moment)}."
                   + (f" The reading of {clock(every[-1].at)} came before the solvent of {clock(solvents[-1].at)}."
                      if every else ""))
    read, limit = after[-1], _limit(case, spark)
    factor, share = read.body.factor or 1.0, share_of(read)
    if share > limit:
        shown = f"{read.body.lel_pct:g} %" if factor == 1 else f"{read.body.lel_pct:g} %, times {factor:g} {share:.3g} %,"
        return Gas("high", f"The meter read {shown} of the explosive limit at {clock(read.at)}; at most {limit:g} % is "
                   "allowed.", share, limit)
    if not (solvents or required or close):
        return Gas("stands", share_pct=share, limit_pct=limit)
    why = _died(case, read, moment, close)
    return Gas("old" if why else "stands", why, share, limit)


def _limit(case: Case, spark: bool) -> float:
    named = case.procedure.value("spark_lel_pct_max") if spark else None
    if named is None:
        named = case.procedure.value("lel_pct_max")
    return LEL_PCT_MAX if named is None else named


def _died(case: Case, read: Event, moment: datetime, close: bool) -> str:
    """Why a reading no longer stands; empty while it does."""
    if close:
        minutes = case.procedure.value("gas_age_min_max")
        age = (moment - read.at) / timedelta(minutes=1)
        if minutes is None or age <= minutes:
            return ""
        return (f"The gas reading of {clock(read.at)} was {age:.0f} min old at {clock(moment)}; in an enclosed place it stands "
                f"for {minutes:g} min.")
    held = permit_at(case.job, moment)
    if held is None:
        return ""
    longest = case.procedure.value("permit_min_max")
    shift = held.body.until - held.at if longest is None else timedelta(minutes=longest)
    if read.at >= min(held.at, held.body.until - shift):
        return ""
    return (f"The gas reading of {clock(read.at)} is older than the shift of permit {held.body.number}, in force at "
            f"{clock(moment)}.")
