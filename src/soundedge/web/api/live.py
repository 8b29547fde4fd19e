"""What moves while a page is open: the board's stream, and the checkpoint that a device keeps as a witness.

A stream holds a thread of the server. So only a few run at once and each ends after a while; a browser that finds none
free is told what stands now and comes again later, which is polling. It comes by itself, so it keeps no session awake
(middleware.py); and it tells nothing any more once the session has ended.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from django.http import HttpResponse, JsonResponse, StreamingHttpResponse
from ninja import Router

from ...basis.errors import Unreadable
from ...basis.sentences import say
from ...services.desk import board, jobs
from ...services.desk.device_witness import seen_since
from ...services.people import accounts
from ..page import READERS
from .door import operation

router = Router(tags=["live"])
STREAMS, STREAM_S, LOOK_S, AGAIN_MS = 4, 25, 1.0, 10_000  # a quarter of a process's 16 threads; own estimate
_free = threading.BoundedSemaphore(STREAMS)


@operation(
    router, "GET", "/stream", roles=READERS, summary="Server-sent events: jobs that moved on", produces="text/event-stream"
)
def stream(request: Any) -> HttpResponse:
    """Events ``job`` {number, head, verdict} and ``checkpoint`` {size}."""
    user, session = request.user, request.session.session_key
    held = _free.acquire(blocking=False)
    told = _events(request.data, held, lambda: accounts.still_in(user, session))
    answer = StreamingHttpResponse(told, content_type="text/event-stream; charset=utf-8")
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Accel-Buffering"] = "no"
    return answer


@operation(
    router, "GET", "/checkpoint", roles=READERS, summary="The ledger as it stands, proved against what a device has seen"
)
def checkpoint(request: Any, since: int = 0) -> HttpResponse:
    """Size, root, consistency proof, signed note."""
    if not 0 <= since < 2**53:
        raise Unreadable("since", say("web.since", since=since))
    return JsonResponse(seen_since(request.data, since))


def _events(data: Path, held: bool, still_in: Callable[[], bool]) -> Iterator[bytes]:
    try:
        known = board.heads(data)
        size = jobs.size(data)
        yield f"retry: {AGAIN_MS if not held else 1000}\n\n".encode() + _event("checkpoint", {"size": size})
        if not held:
            return
        end = time.monotonic() + STREAM_S
        while time.monotonic() < end:
            time.sleep(LOOK_S)
            now = jobs.size(data)
            if now == size:
                yield b": still here\n\n"  # finds out that the browser has gone
                continue
            if not still_in():
                return
            size = now
            for line in board.moved(data, known):
                known[line.number] = line.head
                yield _event("job", {"number": line.number, "head": line.head, "verdict": line.verdict})
            yield _event("checkpoint", {"size": size})
    finally:
        if held:
            _free.release()


def _event(name: str, data: dict[str, Any]) -> bytes:
    return f"event: {name}\ndata: {json.dumps(data, ensure_ascii=False)}\n\n".encode()
