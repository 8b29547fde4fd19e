"""Is every row looked at, in both orders, and does that need no more memory for a large ledger than for a small one?"""

import hashlib
import tracemalloc
from datetime import UTC, datetime

import pytest

from soundedge.basis.errors import RecordBroken
from soundedge.record.entry import NOBODY_BEFORE, Said, placed, recorded_text, statement
from soundedge.record.tree import leaf_hash
from soundedge.store.row_check import BY_ARRIVAL, BY_JOB, check_rows

NOW = datetime(2031, 5, 4, 13, 0, tzinfo=UTC)


def entries_of(job, count):
    """The bytes of a job's entries, one after the other."""
    prev = NOBODY_BEFORE
    for no in range(1, count + 1):
        said = Said(f"air-{no}", "air.read", "ines", NOW, {"air_c": "19.8", "remark": "dry wind from the north, " * 8})
        entry = placed(statement(job, said), no=no, prev=prev, recorded_at=recorded_text(NOW))
        prev = entry.digest
        yield no, entry.id, entry.raw


def rows_of(jobs, each):
    """The rows of so many jobs, each of so many entries, one job behind the other; none is kept."""
    return chained((f"KBW-{number:05d}", *entry) for number in range(jobs) for entry in entries_of(f"KBW-{number:05d}", each))


def chained(entries):
    """Rows with the number, hash and link that follow from (job, no, id, entry)."""
    link = bytes(32)
    for seq, (job, no, name, raw) in enumerate(entries, 1):
        leaf = leaf_hash(raw)
        link = hashlib.sha256(link + leaf).digest()
        yield seq, job, no, name, raw, leaf, link


def both(rows, by_job=None):
    """What ``check_rows`` reads: ``rows`` in the order of arrival; by job the same, or others."""
    sorted_rows = sorted(rows, key=lambda row: (row[1], row[2])) if by_job is None else by_job
    return lambda order: iter({BY_ARRIVAL: rows, BY_JOB: sorted_rows}[order])


def test_jobs_that_came_in_turns_hold():
    own = {job: list(entries_of(job, 4)) for job in ("KBW-1", "KBW-2")}
    rows = list(chained((job, *own[job][turn]) for turn in range(4) for job in own))

    assert check_rows(both(rows)) == f"The ledger holds: 8 entries of 2 jobs, chained to {rows[-1][6].hex()[:16]}"
    assert check_rows(both([])) == f"The ledger holds: 0 entries of 0 jobs, chained to {'0' * 16}"


def test_entries_of_a_job_that_arrived_in_another_order_than_their_numbers_are_found():
    """Each number, hash and link is made anew: only that the second came before the first tells it."""
    own = list(entries_of("KBW-1", 3))
    rows = list(chained(("KBW-1", *own[place]) for place in (1, 0, 2)))

    with pytest.raises(RecordBroken, match="Job KBW-1"):
        check_rows(both(rows))


@pytest.mark.parametrize("how", ["one less", "a job less", "one twice", "one of another job", "all but the last again"])
def test_an_index_that_leads_to_other_rows_than_the_table_holds_is_found(how):
    rows = list(rows_of(3, 4))
    other = list(rows)
    if how == "one less":
        del other[7]
    elif how == "a job less":
        del other[4:8]
    elif how == "one twice":
        other.insert(5, other[5])
    elif how == "one of another job":
        other[5] = other[9]
    else:
        other += other[:4]

    with pytest.raises(RecordBroken, match="gives other rows of it"):
        check_rows(both(rows, other))


def test_columns_that_name_another_entry_are_told_by_their_row():
    rows = list(rows_of(2, 4))
    for place, column, value in ((5, 1, "KBW-9"), (5, 2, 7), (5, 3, "x")):
        row = list(rows[place])
        row[column] = value
        with pytest.raises(RecordBroken, match=r"Row 6 .*its columns name another entry"):
            check_rows(both([*rows[:place], tuple(row), *rows[place + 1:]]))


def peak_bytes(work):
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_ten_times_the_entries_need_no_more_memory_than_one_hash_for_each_job():
    few, many = ((lambda jobs=jobs: check_rows(lambda order: rows_of(jobs, 20))) for jobs in (20, 200))
    few()  # what is loaded and remembered once is not counted

    small, large = peak_bytes(few), peak_bytes(many)

    size = sum(len(row[4]) for row in rows_of(180, 20))
    assert size > 1_500_000
    assert large - small < size / 20, (small, large)  # 180 hashes with their job numbers are some 40 kB
