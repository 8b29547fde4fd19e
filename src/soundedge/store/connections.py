"""Connections to the database, reused so that not every page makes a new one.

A connection that was given back lies here for a while and is taken again by whoever opens a ledger next, of any shop: nothing
of one use is left on it for the next. One that the server has closed meanwhile is noticed by the first question asked on it.

    db = taken(url) or made(url)
    given_back(url, db)
"""

from __future__ import annotations

import atexit
import os
import threading
import time
from contextlib import suppress
from typing import Any

import psycopg
from psycopg.pq import TransactionStatus

IDLE_MAX, IDLE_S = 8, 60.0

_lock = threading.Lock()
_idle: list[tuple[str, int, float, psycopg.Connection[Any]]] = []


def made(url: str) -> psycopg.Connection[Any]:
    """A new connection. Nothing is prepared on the server, so a pooler may change it between transactions."""
    return psycopg.connect(url, autocommit=True, connect_timeout=10, prepare_threshold=None, application_name="soundedge")


def taken(url: str) -> psycopg.Connection[Any] | None:
    """An idle connection for this address, or None."""
    with _lock:
        _drop_old()
        for place in range(len(_idle) - 1, -1, -1):
            if _idle[place][:2] == (url, os.getpid()):
                return _idle.pop(place)[3]
    return None


def given_back(url: str, db: psycopg.Connection[Any]) -> None:
    """Keep it for the next, if it is as good as new; else close it."""
    with suppress(psycopg.Error):
        if not db.closed and db.info.transaction_status == TransactionStatus.IDLE:
            db.execute("RESET ALL")
            with _lock:
                _drop_old()
                if len(_idle) < IDLE_MAX:
                    _idle.append((url, os.getpid(), time.monotonic(), db))
                    return
    with suppress(psycopg.Error):
        db.close()


def forget_all() -> None:
    """Close what lies idle."""
    with _lock:
        while _idle:
            _closed(_idle.pop())


def _drop_old() -> None:
    while _idle and (time.monotonic() - _idle[0][2] > IDLE_S):
        _closed(_idle.pop(0))


def _closed(one: tuple[str, int, float, psycopg.Connection[Any]]) -> None:
    if one[1] == os.getpid():  # what a parent process has opened is the parent's to close
        with suppress(psycopg.Error):
            one[3].close()


atexit.register(forget_all)
