"""What does the ledger's one table look like in a file, and what makes it append-only?

One row is one event of one job. ``entry`` holds its exact bytes, as they stand in the job's record.json;
every other column is derived from them:

    seq     1, 2, 3, … without a gap, over all jobs, in the order of arrival
    job     the job's number            no   the event's number in its job       id   its own name there
    leaf    SHA-256(0x00 ‖ entry): the event's leaf in the shop's tree (RFC 6962)
    link    SHA-256(link of the row before ‖ leaf): the running chain over all jobs

Why two chains. A stranger holds the record of *one* job and must be able to check it alone: so each job is
its own chain of ``prev``, and nothing in it needs the other jobs. But a whole job, taken out, leaves every
other job's chain sound: so all rows are chained again by ``link`` and stand as leaves in one tree, whose
root a checkpoint signs. Removing a job, its last event or the newest rows changes root and size, and a
witness who keeps the checkpoint sees it.

The table is guarded in three places: nothing may be updated or deleted, and a row is inserted only as the
next one (without the insert guard ``INSERT OR REPLACE`` would write over a row unseen by the other two).
Guards stop mistakes and buggy programs. The owner of the file can drop them; the chain and the witness are
there for that case. No number in the table is a float.

A fourth guard keeps duties apart, whatever program writes: no judgement "released" goes in under the release of somebody
who did repair work on that job or answered its engineering review. It holds what job/steps/hold_points.py and rule R1 of
record/replay.py hold, and nothing more:

    the release   the last ``release.signed`` in time that was not voided; what others signed before does not count
    repair work   any entry of a repair step under their name, including one that was voided
    the review    any ``escalation.decided`` under their name, unless somebody else has voided it

A file of format 1 gets this guard when it is opened; nothing else in it changes.
"""

from __future__ import annotations

APPLICATION_ID = 0x53454C31  # "SEL1"
VERSION = 2
OWN_WORK = "nobody releases his own work"
REPAIR_STEPS = ("surface.prepared", "layer.fused", "heat.logged", "hot_work.ended")

TABLE = """
CREATE TABLE ledger (
  seq INTEGER PRIMARY KEY,
  job TEXT NOT NULL,
  no INTEGER NOT NULL,
  id TEXT NOT NULL,
  entry BLOB NOT NULL,
  leaf BLOB NOT NULL CHECK (length(leaf) = 32),
  link BLOB NOT NULL CHECK (length(link) = 32),
  UNIQUE (job, no),
  UNIQUE (job, id)
) STRICT
""".strip()

def said(row: str, *keys: str) -> str:
    """SQLite's words for what an entry says under a key; as text."""
    return f"json_extract(CAST({row}.entry AS TEXT), '$.{'.'.join(keys)}')"


def moment(at: str) -> str:
    """A time of an entry as text that sorts as the time does: always six digits behind the second. SQL of both stores."""
    return f"substr(rtrim({at}, 'Z') || CASE WHEN {at} LIKE '%.%' THEN '000000' ELSE '.000000' END, 1, 26)"


def _voided(row: str, by_another_than: str = "") -> str:
    other = f" AND {said('v', 'by')} <> {by_another_than}" if by_another_than else ""
    return (f"EXISTS (SELECT 1 FROM ledger AS v WHERE v.job = NEW.job AND v.no > {row}.no\n"
            f"      AND {said('v', 'kind')} = 'entry.voided' AND {said('v', 'body', 'entry')} = {row}.id{other})")


_STEPS = ", ".join(f"'{kind}'" for kind in REPAIR_STEPS)
_RELEASER = f"""(
    SELECT {said('r', 'by')} FROM ledger AS r
    WHERE r.job = NEW.job AND {said('r', 'kind')} = 'release.signed' AND NOT {_voided('r')}
    ORDER BY {moment(said('r', 'at'))} DESC, r.no DESC LIMIT 1)"""

GUARDS = {
    "ledger_no_update": """
CREATE TRIGGER ledger_no_update BEFORE UPDATE ON ledger
BEGIN SELECT RAISE(ABORT, 'the ledger is only added to'); END
""".strip(),
    "ledger_no_delete": """
CREATE TRIGGER ledger_no_delete BEFORE DELETE ON ledger
BEGIN SELECT RAISE(ABORT, 'the ledger is only added to'); END
""".strip(),
    "ledger_only_next": """
CREATE TRIGGER ledger_only_next BEFORE INSERT ON ledger
WHEN NEW.seq IS NOT (SELECT coalesce(max(seq), 0) + 1 FROM ledger)
  OR NEW.no IS NOT (SELECT coalesce(max(no), 0) + 1 FROM ledger WHERE job = NEW.job)
  OR EXISTS (SELECT 1 FROM ledger WHERE job = NEW.job AND id = NEW.id)
BEGIN SELECT RAISE(ABORT, 'the ledger takes only the next entry'); END
""".strip(),
    "ledger_own_work": f"""
CREATE TRIGGER ledger_own_work BEFORE INSERT ON ledger
WHEN CASE WHEN json_valid(CAST(NEW.entry AS TEXT))
  THEN {said('NEW', 'kind')} = 'job.judged' AND {said('NEW', 'body', 'verdict')} = 'released' END
  AND EXISTS (SELECT 1 FROM ledger AS w WHERE w.job = NEW.job AND {said('w', 'by')} = {_RELEASER}
    AND ({said('w', 'kind')} IN ({_STEPS})
      OR {said('w', 'kind')} = 'escalation.decided' AND NOT {_voided('w', said('w', 'by'))}))
BEGIN SELECT RAISE(ABORT, '{OWN_WORK}'); END
""".strip(),
}

# format → the guards it came with; a format that is not named came with all
BEFORE = {1: ("ledger_no_update", "ledger_no_delete", "ledger_only_next")}

# name → (what is set, what must be read back)
PRAGMAS = {
    "journal_mode": ("WAL", "wal"),
    "synchronous": ("FULL", 2),  # NORMAL with WAL loses acknowledged rows when the power goes
    "foreign_keys": ("ON", 1),
    "cell_size_check": ("ON", 1),
    "recursive_triggers": ("ON", 1),
}
