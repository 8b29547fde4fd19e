"""The server: one laptop answers a shop's tablets, some of them slow, and stops without leaving anything behind.

gunicorn with threads: a few processes, each with a pool of threads. What it is told here beyond its own defaults:

* A connection costs no thread before its first byte. From then on its head must come within 10 s, its body within 4 min.
* A connection is closed by the thread that answered it; gunicorn's own main loop would wait 2 s for a client that stays.
* One address holds at most half of a process's threads with requests that are still coming in, and at most 100
  connections. So one broken tablet, or one that means harm, leaves the other half to everybody else.
* Ctrl-C and SIGTERM let requests finish (8 s at most), then everything is gone.
* Nothing a proxy would write into headers is believed; the client is the other end of the socket.
* No answer says which server gave it.
"""

from __future__ import annotations

import contextlib
import logging
import os
import signal
import socket
import ssl
import struct
import threading
import time
from collections import deque
from functools import partial
from pathlib import Path
from selectors import EVENT_READ
from typing import Any
from weakref import WeakSet

from gunicorn.app.base import BaseApplication
from gunicorn.arbiter import Arbiter
from gunicorn.glogging import Logger
from gunicorn.http import wsgi
from gunicorn.workers.gthread import ThreadWorker

from ..services.people import serve, tls

HEAD_S, BODY_S, IDLE_S, PARKED_S = 10.0, 240.0, 20, 30.0
CONNECTIONS, PER_ADDRESS = 400, 100
GRACE_S, SILENT_S, KEEP_S = 8, 60, 15


def run(
    listening: socket.socket,
    *,
    workers: int,
    threads: int,
    log: Path | None = None,
    certificate: tuple[Path, Path] | None = None,
) -> int:
    """Answer on a bound socket until a signal stops it.

    Parameters
    ----------
    workers, threads : int
        Processes, and threads in each.
    log : Path, optional
        Where the log's lines go; standard error when left out.
    certificate : (Path, Path), optional
        The server's certificate and its key: TLS is spoken, and nothing else.

    Returns
    -------
    int
        0 when it stopped in order.
    """
    master = os.getpid()
    serve.write_lines(log)
    bench = Bench(listening, workers=workers, threads=threads, log=log, certificate=certificate)
    try:
        Quiet(bench).run()
    except SystemExit as leave:
        code = leave.code if isinstance(leave.code, int) else 1
        if os.getpid() != master:
            logging.shutdown()
            os._exit(code)  # a worker that has had its grace: no thread, an open stream say, holds it back
        return code
    return 0


class Bench(BaseApplication):
    """The bench as gunicorn runs it: all settings from here, none from files or the environment."""

    def __init__(self, listening: socket.socket, *, workers: int, threads: int, log: Path | None,
                 certificate: tuple[Path, Path] | None) -> None:
        self.log_file = log
        self.chosen: dict[str, Any] = {
            "bind": [f"fd://{listening.detach()}"],
            "workers": workers, "threads": threads, "worker_class": Patient, "worker_connections": CONNECTIONS,
            "timeout": SILENT_S, "graceful_timeout": GRACE_S, "keepalive": KEEP_S, "backlog": 512,
            "limit_request_line": 4094, "limit_request_fields": 60, "limit_request_field_size": 8190,
            "forwarded_allow_ips": "", "secure_scheme_headers": {}, "forwarder_headers": "", "header_map": "drop",
            "proxy_protocol": "off", "preload_app": False, "control_socket_disable": True, "proc_name": "soundedge",
            "logger_class": Lines, "post_worker_init": self.woken,
        }
        if certificate:
            context = Contexts(*certificate)
            self.chosen |= {"certfile": str(certificate[0]), "keyfile": str(certificate[1]),
                            "ssl_context": lambda _config, _default: context.now()}
        super().__init__()

    def load_config(self) -> None:
        """Everything in ``chosen``."""
        for name, value in self.chosen.items():
            self.cfg.set(name, value)

    def load(self) -> Any:
        """The application, loaded in each worker by its name."""
        from .wsgi import application

        serve.write_lines(self.log_file)  # Django's own setting of the log came with it
        return application

    def woken(self, worker: Any) -> None:
        """Called in each worker once: Ctrl-C is the master's affair; the heat estimates are woken beside the first requests."""
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        threading.Thread(target=serve.wake, name="wake", daemon=True).start()


class Quiet(Arbiter):
    """gunicorn's master; Ctrl-C stops as gently as SIGTERM does."""

    def handle_int(self) -> None:
        """Stop, and let requests finish."""
        raise StopIteration

    def handle_hup(self) -> None:
        """A closed terminal stops the bench too; there is nothing to reload."""
        raise StopIteration


class Contexts:
    """The TLS context; made again when the certificate's file was, so a renewed one counts without a new start."""

    def __init__(self, certificate: Path, key: Path) -> None:
        self._files, self._lock = (certificate, key), threading.Lock()
        self._seen, self._context = self._stamp(), tls.server_context(certificate, key)

    def now(self) -> ssl.SSLContext:
        """The context to speak with."""
        stamp = self._stamp()
        if stamp != self._seen:
            with self._lock, contextlib.suppress(Exception):  # half-written: the old one goes on, the next call tries again
                self._context, self._seen = tls.server_context(*self._files), stamp
        return self._context

    def _stamp(self) -> tuple[int, ...]:
        try:
            return tuple(file.stat().st_mtime_ns for file in self._files)
        except OSError:
            return ()


class Lines(Logger):
    """gunicorn's log through the house's: one line of JSON, no query, no header, no body."""

    def setup(self, cfg: Any) -> None:
        """No handler of its own."""
        super().setup(cfg)
        for log in (self.error_log, self.access_log):
            for handler in list(log.handlers):
                log.removeHandler(handler)
            log.propagate = True
        self.error_log.setLevel(logging.INFO)

    def access(self, resp: Any, req: Any, environ: Any, request_time: Any) -> None:
        """One answered request."""
        import structlog

        status = str(resp.status).split(maxsplit=1)[0]
        structlog.get_logger("soundedge.request").info(
            "request", method=environ.get("REQUEST_METHOD"), path=environ.get("PATH_INFO"), status=int(status),
            sent=getattr(resp, "sent", 0), ms=round(request_time.total_seconds() * 1000), client=environ.get("REMOTE_ADDR"),
        )


class Unnamed(wsgi.Response):
    """An answer as gunicorn writes it, without the line that names gunicorn."""

    def default_headers(self) -> list[str]:
        """Status, date, connection."""
        return [line for line in super().default_headers() if not line.startswith("Server:")]


wsgi.Response = Unnamed  # each worker makes its answers by this name


class Patient(ThreadWorker):
    """gunicorn's threads, but no client can hold them by being slow."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.share = max(1, self.cfg.threads // 2)
        self.coming: dict[str, dict[Any, float | None]] = {}  # address → connection → until when it must have come in
        self.parked: deque[tuple[Any, float]] = deque()
        self.open: WeakSet[Any] = WeakSet()
        self.guarded = threading.Lock()

    def enqueue_req(self, conn: Any) -> None:
        """A connection wants a thread: a new one waits for its first byte, one of a greedy address for its turn."""
        if conn.initialized or conn.data_ready:
            self._submit(conn)
            return
        if sum(_address(one) == _address(conn) and one.sock.fileno() != -1 for one in self.open) >= PER_ADDRESS:
            self._drop(conn)
            return
        self.open.add(conn)
        for option in (socket.SO_RCVTIMEO, socket.SO_SNDTIMEO):
            conn.sock.setsockopt(socket.SOL_SOCKET, option, struct.pack("ll", IDLE_S, 0))
        conn.sock.setblocking(False)
        conn.set_timeout()
        self.pending_conns.append(conn)
        self.poller.register(conn.sock, EVENT_READ, partial(self.on_pending_socket_readable, conn))

    def handle(self, conn: Any) -> Any:
        """In a thread: the head's time begins."""
        self._until(conn, HEAD_S)
        try:
            kept = super().handle(conn)
            if not kept:
                self._take_leave(conn)
            return kept
        finally:
            self._came_in(conn)

    def handle_request(self, req: Any, conn: Any) -> Any:
        """The head is there; a body has its own time."""
        if any(name in ("CONTENT-LENGTH", "TRANSFER-ENCODING") and value.strip() != "0" for name, value in req.headers):
            self._until(conn, BODY_S)
        else:
            self._came_in(conn)
        return super().handle_request(req, conn)

    def murder_pending(self) -> None:
        """Each second: connections that take too long are cut, and waiting ones are accepted."""
        super().murder_pending()
        now = time.monotonic()
        with self.guarded:
            late = [conn for held in self.coming.values() for conn, until in held.items() if until is not None and until < now]
        for conn in late:
            with contextlib.suppress(OSError, ValueError):
                socket.socket.shutdown(conn.sock, socket.SHUT_RD)  # not TLS's own: its thread is in the midst of reading
        self._let_in()
        while self.parked and self.parked[0][1] < now:
            self._drop(self.parked.popleft()[0])

    def _take_leave(self, conn: Any) -> None:
        """Close here, in the thread: waiting up to 2 s for the other end would hold up everybody in the main loop."""
        with self.guarded:
            greedy = len(self.coming.get(_address(conn), ())) >= self.share
        with contextlib.suppress(OSError, ValueError):
            conn.close(graceful=not greedy)
        conn.close = lambda graceful=False: None

    def _submit(self, conn: Any) -> None:
        with self.guarded:
            held = self.coming.setdefault(_address(conn), {})
            free = len(held) < self.share
            if free:
                held[conn] = None
        if free:
            super().enqueue_req(conn)
        else:
            self.parked.append((conn, time.monotonic() + PARKED_S))

    def _let_in(self) -> None:
        waiting, self.parked = self.parked, deque()
        for conn, until in waiting:
            with self.guarded:
                free = len(self.coming.get(_address(conn), ())) < self.share
            if free:
                self._submit(conn)
            else:
                self.parked.append((conn, until))

    def _until(self, conn: Any, seconds: float) -> None:
        with self.guarded:
            self.coming.setdefault(_address(conn), {})[conn] = time.monotonic() + seconds

    def _came_in(self, conn: Any) -> None:
        with self.guarded:
            held = self.coming.get(_address(conn), {})
            held.pop(conn, None)
            if not held:
                self.coming.pop(_address(conn), None)
        if self.parked:
            self.method_queue.defer(self._let_in)

    def _drop(self, conn: Any) -> None:
        self.nr_conns -= 1
        conn.close()


def _address(conn: Any) -> str:
    return str(conn.client[0]) if conn.client else ""
