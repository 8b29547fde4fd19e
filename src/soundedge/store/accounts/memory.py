"""Who signed in a moment ago? Session, account and device of a browser are read once, and known for its next requests.

    a tablet sends a reading each second   → the tables are asked at most every ten seconds
    a person is disabled, a device revoked → the next request of theirs is refused, by every worker of this machine

Whatever writes to these tables, by whichever door, adds a byte to one small file (``PEOPLE_CHANGED``) when it is written and
when it is committed, and every worker looks at the file before it uses what it knows. A host that does not see the file, as its
database is shared with others, asks the tables again after ``FOR_S`` seconds at most. Nobody is remembered as *not* let in.
"""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager, suppress
from typing import Any, TypeVar

from cachetools import LRUCache

FOR_S = 10.0  # own estimate: a person who was disabled on another host may send that much longer
HELD = 2000
TABLES = ("accounts_account", "accounts_device", "accounts_shop", "accounts_signedin")
_Found = TypeVar("_Found")
_held: LRUCache[Hashable, tuple[float, Any, Any]] = LRUCache(HELD)
_lock = threading.Lock()
_here = threading.local()
_changes = 0


def recalled(key: Hashable, ask: Callable[[], _Found | None]) -> _Found | None:
    """What was found under this key a moment ago; else what ``ask`` finds, which is kept. None is asked again each time."""
    now, before = time.monotonic(), _version()
    with _lock:
        found = _held.get(key)
    if found is not None and now < found[0] and found[1] == before:
        return found[2]  # type: ignore[no-any-return]
    fresh = ask()
    with _lock:
        if fresh is not None:
            _held[key] = now + FOR_S, before, fresh
        else:
            _held.pop(key, None)
    return fresh


def forget() -> None:
    """Nothing that is known counts any more, here or in another worker of this machine."""
    global _changes
    with _lock:
        _changes += 1
    with suppress(OSError), open(_file(), "ab") as file:
        file.write(b".")


@contextmanager
def lets_nobody_out() -> Iterator[None]:
    """For writing down what takes nothing from anybody: when a session was last seen, how much a device has sent."""
    _here.quiet = True
    try:
        yield
    finally:
        _here.quiet = False


def watched(execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
    """Runs one statement of Django's; what writes to the tables of people forgets what is known of them."""
    done = execute(sql, params, many, context)
    if not sql.lstrip()[:6].upper() == "SELECT" and any(table in sql for table in TABLES) and not _here.__dict__.get("quiet"):
        forget()
        context["connection"].on_commit(forget)
    return done


def watch(connection: Any, **_signal: Any) -> None:
    """A connection was opened: look at what goes over it."""
    if watched not in connection.execute_wrappers:
        connection.execute_wrappers.append(watched)


def _version() -> tuple[int, int, int]:
    try:
        about = os.stat(_file())
    except OSError:
        return _changes, 0, 0
    return _changes, about.st_size, about.st_mtime_ns


def _file() -> Any:
    from django.conf import settings

    return settings.PEOPLE_CHANGED
