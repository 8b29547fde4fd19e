"""A small bench for browser tests: the real templates and scripts, the API in memory, and every fault on demand."""

# ruff: noqa: E501  (pages and scripts stand here as they are)
from __future__ import annotations

import hashlib
import json
import re
import threading
import time
from datetime import UTC, datetime
from html import escape
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import soundedge.web
from soundedge.services.desk.entry_fields import pages_of_kinds

WEB = Path(soundedge.web.__file__).parent
POLICY = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; worker-src 'self'; "
          "manifest-src 'self'; form-action 'self'")
TYPES = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml", ".png": "image/png"}
JOB = "KBW-2031-014"
AIR = """<entry-form kind="air.read" job="{job}"><form class="sheet"><h2>Air and steel</h2>
<label for="air">Air <span class="unit">[°C]</span></label>
<input id="air" name="air_c" data-type="number" inputmode="decimal" required>
<label for="meter">Meter</label><input id="meter" name="meter" data-keep>
<button type="submit">Write it down</button><output></output></form></entry-form>"""


def rendered(name: str, **given: str) -> str:
    """A template with its English words; these pages ask no more of the template language."""
    text = (WEB / "templates" / name).read_text(encoding="utf-8")
    text = re.sub(r"{% comment %}.*?{% endcomment %}", "", text, flags=re.S)
    text = re.sub(r"""{% translate (["'])(.*?)\1 %}""", r"\2", text)
    text = re.sub(r"{% static '(.*?)' %}", r"/static/\1", text)
    text = text.replace("{% kinds_for_scripts %}", escape(json.dumps(pages_of_kinds())))
    text = re.sub(r"{% include [\"'](outbox/_outbox.html)[\"'].*?%}", lambda m: rendered(m[1], **given), text)
    return re.sub(r"{{ ([\w.]+).*?}}", lambda m: given.get(m[1], ""), text)


class PaperBench:
    """``fault(method, path, n)`` names what goes wrong: drop | lose | hang | a status | an event to wait for | None."""

    def __init__(self) -> None:
        self.person, self.name, self.role = "ines", "Ines", "technician"
        self.closed: set[str] = set()  # whose account is disabled
        self.made_ago = 0.0  # seconds by which the bench's clock is ahead of the device's
        self.body, self.units = AIR.format(job=JOB), "metric"
        self.stored: dict[tuple[str, str], dict] = {}
        self.order: list[str] = []
        self.by: dict[str, str] = {}
        self.answers: dict[str, dict] = {}  # air_c → error, for "refused"
        self.photos: dict[str, bytes] = {}
        self.posts: list[tuple[str, bytes]] = []
        self.deciding: tuple[int, dict] = (200, {"outcome": "stored", "no": 9})
        self.offset, self.token, self.fault, self.dead = 0, "t1", lambda *_: None, False
        self.lock = threading.Lock()
        self.asked = 0
        bench = self

        class Handler(BaseHTTPRequestHandler):
            def log_message(self, *_):
                pass

            def do_GET(self):
                bench.take(self, "GET")

            def do_POST(self):
                bench.take(self, "POST")

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        self.at = f"http://localhost:{self.server.server_port}"
        self.thread = threading.Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
        self.thread.start()

    def stop(self) -> None:
        self.server.shutdown()
        self.server.server_close()

    def take(self, handler, method: str) -> None:
        raw = handler.rfile.read(int(handler.headers.get("Content-Length") or 0))
        path = handler.path.split("?")[0]
        with self.lock:
            self.asked += 1
            fault = "drop" if self.dead else self.fault(method, path, self.asked)
        if fault == "drop":
            return
        if fault == "hang":
            time.sleep(1.2)
            return
        try:
            if isinstance(fault, int):
                self.send(handler, fault, {"status": fault, "detail": f"It is {fault} here.", "kind": "trouble"})
                return
            with self.lock:
                answer = self.answer(handler, method, path, raw)
            if isinstance(fault, threading.Event):
                fault.wait(20)
            if fault != "lose":
                self.send(handler, *answer)
        except (BrokenPipeError, ConnectionResetError):
            pass

    def send(self, handler, status, body, kind="", headers=()) -> None:
        if isinstance(body, (dict, list)):
            kind = kind or ("application/json" if status < 400 else "application/problem+json")
            body = json.dumps(body).encode()
        handler.send_response(status)
        for name, value in (("Content-Type", kind), ("Content-Length", str(len(body))), ("Content-Security-Policy", POLICY),
                            ("Cache-Control", "no-store"), *headers):
            handler.send_header(name, value)
        handler.end_headers()
        handler.wfile.write(body)

    def answer(self, handler, method, path, raw):
        if method == "POST":
            self.posts.append((path, raw))
        if path.startswith("/api/"):
            return self.api(handler, method, path, raw)
        if path.startswith("/static/"):
            file = WEB / path[1:]
            return (200, file.read_bytes(), TYPES[file.suffix]) if file.is_file() else (404, b"", "text/plain")
        if path == "/sw.js":
            return 200, (WEB / "static/outbox/sw.js").read_bytes(), "text/javascript", [("Service-Worker-Allowed", "/")]
        if path == "/manifest.webmanifest":
            return 200, b"{}", "application/manifest+json"
        if path == "/offline/":
            return 200, rendered("outbox/offline.html", csrf_token=self.token, build="1").encode(), "text/html; charset=utf-8"
        if path == "/sign-out/":
            self.person = ""
            return 200, b"<!doctype html><html lang=en><title>Sign in</title><h1>Signed out</h1></html>", "text/html; charset=utf-8"
        if path == "/sign-in/":
            return 200, b"<!doctype html><html lang=en><title>Sign in</title><h1>Sign in</h1></html>", "text/html; charset=utf-8"
        if not self.person:
            return 302, b"", "text/plain", [("Location", "/sign-in/")]
        return 200, self.page().encode(), "text/html; charset=utf-8"

    def page(self) -> str:
        meta = {"csrf": self.token, "build": "1", "person": self.person, "shop": "kelderbeck", "device": "tablet-2", "units": self.units,
                "kept-at": datetime.fromtimestamp(time.time() + self.made_ago, UTC).isoformat()}
        head = "".join(f'<meta name="{name}" content="{value}">' for name, value in meta.items())
        return (f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{JOB}</title>{head}<meta name="viewport" '
                'content="width=device-width, initial-scale=1"><link rel="stylesheet" href="/static/sheet.css"></head><body>'
                f'<header class="top"><p class="name"><a href="/"><span class="mark"></span>Sound Edge</a></p><p class="who">{self.name}</p>'
                f'{rendered("outbox/_outbox.html", **{"actor.name": self.name, "actor.role": self.role})}</header><main><h1>{JOB}</h1>{self.body}'
                '<form method="post" action="/sign-out/"><button>Sign out</button></form></main></body></html>')

    def api(self, handler, method, path, raw):
        if not self.person:
            return 401, {"status": 401, "kind": "signed_out", "detail": "You are not signed in."}
        if method == "POST" and handler.headers.get("X-CSRFToken") != self.token:
            return 403, {"status": 403, "kind": "csrf", "detail": "The page is too old."}
        if path == "/api/v1/me":
            return 200, {"person": self.person, "name": self.name, "shop": "kelderbeck", "device": "tablet-2"}
        if path == "/api/v1/people":
            return 200, {"people": [{"id": one, "disabled": one in self.closed} for one in ("ines", "tom")]}
        if path == "/api/v1/photos":
            digest = hashlib.sha256(raw).hexdigest()
            self.photos[digest] = raw
            return 200, {"sha256": digest}
        said = json.loads(raw)
        job = path.split("/")[4]
        if path.endswith("/entries"):
            outcomes = [self.enter(job, one) for one in said["entries"]]
            return 200, {"entries": outcomes, "head": "0" * 64, "clock_offset_s": self.offset}
        if path.endswith("/damage"):
            return 200, self.enter(job, {"id": said.pop("id"), "kind": "damage", "at": said.pop("at"), "body": said})
        return self.deciding

    def enter(self, job, one):
        held = self.stored.get((job, one["id"]))
        if held is not None:
            same = held == one
            return {"id": one["id"], "outcome": "duplicate" if same else "conflict",
                    "error": None if same else {"kind": "conflict", "field": "id", "message": "Another entry has this id."}}
        error = self.answers.get(str(one["body"].get("air_c")))
        if error:
            return {"id": one["id"], "outcome": error[0], "error": {"kind": "out_of_range", "field": "air_c", "message": error[1]}}
        self.stored[job, one["id"]] = one
        self.order.append(one["id"])
        self.by[one["id"]] = self.person
        return {"id": one["id"], "outcome": "stored", "no": len(self.order), "error": None}


def until(page, script, wanted=True, seconds=60.0):
    """Ask the page until it says what is wanted: a strict policy forbids waiting by a string inside it."""
    end = time.monotonic() + seconds
    got = None
    while time.monotonic() < end:
        try:
            got = page.evaluate(script)
        except Exception as fault:  # the page is being loaded anew
            got = str(fault)
        if got == wanted:
            return
        time.sleep(0.04)
    raise AssertionError(f"{script} gave {got!r}, not {wanted!r}")


WAITING = "import('/static/outbox/outbox.js').then(m => m.outbox.count()).then(c => c.total)"
FLUSH = "import('/static/outbox/outbox.js').then(m => m.outbox.flush())"
PUT = """v => import('/static/outbox/outbox.js').then(m => m.outbox.put({job: v.job, kind: 'air.read', body: {air_c: v.air_c}}))
  .then(i => i.id)"""
