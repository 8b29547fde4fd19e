"""What does the ledger's one table look like, and what makes it append-only?

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
Guards stop mistakes and buggy programs. Who owns the file can drop them; the chain and the witness are for
him. No number in the table is a float.
"""

from __future__ import annotations

APPLICATION_ID = 0x53454C31  # "SEL1"
VERSION = 1

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
}

# name → (what is set, what must be read back)
PRAGMAS = {
    "journal_mode": ("WAL", "wal"),
    "synchronous": ("FULL", 2),  # NORMAL with WAL loses acknowledged rows when the power goes
    "foreign_keys": ("ON", 1),
    "cell_size_check": ("ON", 1),
    "trusted_schema": ("OFF", 0),
    "recursive_triggers": ("ON", 1),
}
