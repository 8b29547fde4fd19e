"""A moment, a key and a count as they stand on paper.

>>> words("does_not_conform")
'does not conform'
"""

from __future__ import annotations

from datetime import UTC, datetime

_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")


def when(moment: datetime) -> str:
    """A moment in UTC, to the minute.

    >>> from datetime import timedelta, timezone
    >>> when(datetime(2031, 5, 4, 18, 20, tzinfo=timezone(timedelta(hours=2))))
    '4 May 2031 16:20 UTC'
    """
    utc = moment.astimezone(UTC)
    return f"{utc.day} {_MONTHS[utc.month - 1]} {utc.year} {utc:%H:%M} UTC"


def words(key: str) -> str:
    """A key of the house as a person reads it: ``as_found`` → as found."""
    return key.replace("_", " ")


def counted(n: int, one: str, many: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "entry", "entries"), counted(2, "job")
    ('1 entry', '2 jobs')
    """
    return f"{n} {one if n == 1 else many or one + 's'}"
