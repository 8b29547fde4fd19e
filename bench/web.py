"""How long does a tablet wait for "stored" when fifty people record at once, and is anything lost?

    python bench/web.py                 30 s, 50 people at 50 tablets, 10 jobs
    python bench/web.py --minutes 5     the whole figure

Each person has an account, a session and an enrolled tablet of his own, and sends one event a second to one of the jobs, one
photo of about 1 MB a minute, and opens the page of his job once a minute, over his own kept-alive connection, to the bench as
it is started for a shop (gunicorn, 2 workers × 16 threads, ledger with every commit synced). Every tenth tablet is without
network for 10 s of each 30 s: what was recorded meanwhile waits and is sent together, as its outbox does. In the same run the
same number of clients asks a bare Django view (no session, no database; the same server and settings) for the same at the same
pace: that is what a web framework takes on this machine by itself. Afterwards every acknowledged event is looked for in the
records, and the ledger is verified.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

GOAL_MS = 150.0
AWAY_EVERY, AWAY_S, ROUND_S = 10, 10, 30  # every tenth tablet is away for the first 10 s of each 30 s
LATE_S = 3.0  # from the moment of an event (whole seconds) to when it was written down: more than waiting for an answer
ROOT = Path(__file__).parents[1]
GUNICORN = Path(sys.executable).with_name("gunicorn")
BARE = """
import django
from django.conf import settings
settings.configure(SECRET_KEY="x" * 50, ALLOWED_HOSTS=["*"], ROOT_URLCONF=__name__, MIDDLEWARE=[])
django.setup()
from django.core.wsgi import get_wsgi_application
from django.http import JsonResponse
from django.urls import path
def taken(request):
    return JsonResponse({"size": len(request.body)})
urlpatterns = [path("", taken)]
application = get_wsgi_application()
"""


def main() -> int:
    """Both servers, one after the other, in one run."""
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--minutes", type=float, default=0.5)
    asked.add_argument("--clients", type=int, default=50)
    asked.add_argument("--jobs", type=int, default=10)
    asked.add_argument("--photo-every-s", type=float, default=60)
    asked.add_argument("--page-every-s", type=float, default=60)
    given = asked.parse_args()
    place = Path(tempfile.mkdtemp(prefix="soundedge-bench-"))
    os.environ |= {
        "SOUNDEDGE_ROOT": str(place / "installation"),
        "SOUNDEDGE_KEYS": str(place / "keys"),
        "DJANGO_SETTINGS_MODULE": "soundedge.web.settings",
    }
    sys.path.insert(0, str(ROOT))
    try:
        shop, tablets = prepared(place, given.clients, given.jobs)
        ours = run(["soundedge.web.wsgi:application"], tablets, given)
        (place / "bare.py").write_text(BARE, encoding="utf-8")
        nobody = [Tablet(number, {"Host": "localhost"}, None, f"d{number + 1}") for number in range(given.clients)]
        bare = run(["--chdir", str(place), "bare:application"], nobody, given)
        return report(given, shop, sorted({one.job for one in tablets}), ours, bare)
    finally:
        shutil.rmtree(place, ignore_errors=True)


@dataclass(frozen=True)
class Tablet:
    """One person at one device: what his browser sends with each request, and the job he works on; None: the bare view."""

    number: int
    headers: dict[str, str]
    job: str | None
    device: str

    def away(self, second: int) -> bool:
        """Whether there is no network in this second."""
        return self.number % AWAY_EVERY == AWAY_EVERY - 1 and second % ROUND_S < AWAY_S


def prepared(place: Path, clients: int, jobs: int):
    """A shop with its jobs, and for every tablet a person who is signed in at it."""
    from soundedge.services.people import accounts
    from tests.web.installation import browser, new_shop, now, set_up
    from tests.web.one_job import opened

    set_up(place)
    shop = new_shop()
    numbers = [opened(shop, f"KBW-2036-5{n:02d}") for n in range(jobs)]
    manager, tablets = shop.actor("manager"), []
    for number in range(clients):
        word = f"{chr(97 + number // 26)}{chr(97 + number % 26)}"
        person = {"id": f"tech-{word}", "name": f"Tove Brandt {word.upper()}", "role": "technician", "certificate": f"C-{word}",
                  "qualified_until": "2036-01-01T00:00:00Z", "qualified_for": ["ectfe"]}
        login, password = f"{word}.{shop.slug}", f"{word} quiet harbour lamps"
        account, one_time = accounts.add_person(shop.row, person, login=login, by=manager, now=now())
        accounts.change_password(account, one_time, password, now=now())
        device, token = accounts.enrol_device(shop.row, f"tablet {word}", by=manager, now=now())
        client, job = browser(), numbers[number % jobs]
        client.cookies["__Host-device"] = token
        answer = client.post("/sign-in/", {"login": login, "password": password})
        assert answer.status_code == 302, answer.content.decode()[-600:]
        csrf = re.search(r'name="csrf" content="([^"]+)"', client.get(f"/jobs/{job}/").content.decode())[1]
        cookies = "; ".join(f"{name}={one.value}" for name, one in client.cookies.items())
        tablets.append(Tablet(number, {"Cookie": cookies, "X-CSRFToken": csrf, "Host": "localhost"}, job, device.name))
    return shop, tablets


class Seen:
    """What one run saw: waits in seconds, answers that were not good, what was acknowledged."""

    def __init__(self) -> None:
        self.waits: list[float] = []
        self.photo_waits: list[float] = []
        self.page_waits: list[float] = []
        self.together_waits: list[float] = []
        self.wrong: list[str] = []
        self.faults = 0
        self.acknowledged: set[tuple[str, str]] = set()
        self.without_network: set[tuple[str, str]] = set()
        self.cpu_s = 0.0
        self.lock = threading.Lock()

    def note(
        self, waits: list[float], wait: float, status: int, answer: bytes, what: str, good: tuple[int, ...] = (200,)
    ) -> bool:
        """One answer; whether it was good."""
        with self.lock:
            waits.append(wait)
            self.faults += status >= 500
            if status not in good:
                self.wrong.append(f"{what}: {status} {answer[:200]!r}")
        return status in good


def run(application: list[str], tablets: list[Tablet], given) -> Seen:
    """Start the server, let every tablet work, stop it."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [
            GUNICORN,
            "--bind",
            f"127.0.0.1:{port}",
            "--workers",
            "2",
            "--worker-class",
            "gthread",
            "--threads",
            "16",
            "--keep-alive",
            "30",
            "--log-level",
            "warning",
            *application,
        ]
    )
    try:
        wait_for(port, application)
        seen, begin = Seen(), time.monotonic() + 1
        spent = cpu_s(server.pid)
        threads = [
            threading.Thread(target=work, args=(one, port, begin, given, seen)) for one in tablets
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        seen.cpu_s = cpu_s(server.pid) - spent
        return seen
    finally:
        server.terminate()
        server.wait(20)


def cpu_s(pid: int) -> float:
    """Seconds of processor time that a server's processes have used so far (Linux)."""
    ticks = 0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            parts = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if pid in (int(parts[1]), int(stat.parent.name)):
            ticks += int(parts[11]) + int(parts[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def wait_for(port: int, application: list[str]) -> None:
    """Until the server answers; a minute at most."""
    for _ in range(240):
        try:
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
            line.request("GET", "/sign-in/" if "soundedge" in application[-1] else "/", headers={"Host": "localhost"})
            if line.getresponse().status == 200:
                return
        except OSError:
            pass
        time.sleep(0.25)
    raise SystemExit("The server did not start.")


def work(one: Tablet, port: int, begin: float, given, seen: Seen) -> None:
    """One tablet: an event each second at its own place in the second, photo and page now and then, times without network."""
    chance = random.Random(one.number)
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    offset = chance.random()
    photo_at, page_at = chance.random() * given.photo_every_s, chance.random() * given.page_every_s
    waiting: list[dict] = []
    seconds = int(given.minutes * 60)
    for second in range(seconds):
        time.sleep(max(0.0, begin + second + offset - time.monotonic()))
        waiting.append(an_event(f"{one.device}-{one.number:06x}-{second + 1}", chance))
        if one.away(second) and second < seconds - 1:
            continue
        send(one, line, port, waiting, seen)
        waiting = []
        if second >= photo_at:
            photo_at += given.photo_every_s
            said = ask(line, port, "POST", "/api/v1/photos" if one.job else "/", one.headers, photo(chance), "image/jpeg")
            seen.note(seen.photo_waits, *said, "photo", (200, 201))
        if second >= page_at:
            page_at += given.page_every_s
            said = ask(line, port, "GET", f"/jobs/{one.job}/conditions/" if one.job else "/", one.headers)
            seen.note(seen.page_waits, *said, "page")


def an_event(name: str, chance: random.Random) -> dict:
    """A reading of air and steel, made now."""
    at = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    body = {"air_c": round(20 + chance.random(), 1), "rh_pct": 55, "steel_c": 19.5, "instrument": "H2"}
    return {"id": name, "kind": "air.read", "at": at, "body": body}


def send(one: Tablet, line: http.client.HTTPConnection, port: int, events: list[dict], seen: Seen) -> None:
    """What was recorded since the last time, in one request; what is answered as stored is noted."""
    if len(events) > 1 and one.job:
        with seen.lock:
            seen.without_network |= {(one.job, each["id"]) for each in events[:-1]}
    address = f"/api/v1/jobs/{one.job}/entries" if one.job else "/"
    said = ask(line, port, "POST", address, one.headers, json.dumps({"entries": events}).encode())
    if seen.note(seen.waits if len(events) == 1 else seen.together_waits, *said, "entries") and one.job:
        answers = json.loads(said[2])["entries"]
        with seen.lock:
            seen.acknowledged |= {(one.job, each["id"]) for each in answers if each["outcome"] in ("stored", "duplicate")}
            seen.wrong += [str(each)[:200] for each in answers if each["outcome"] not in ("stored", "duplicate")]


_photo: list[bytes] = []


def photo(chance: random.Random) -> bytes:
    """A JPEG of about 1 MB; its last pixels differ so that it is another file each time."""
    if not _photo:
        import cv2
        import numpy as np

        picture = np.random.default_rng(1).integers(0, 255, (1000, 1400, 3), np.uint8)
        _photo.append(cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, 80])[1].tobytes())
    comment = chance.randbytes(16).hex().encode()
    raw = _photo[0]
    return raw[:2] + b"\xff\xfe" + (len(comment) + 2).to_bytes(2, "big") + comment + raw[2:]


def ask(
    line: http.client.HTTPConnection, port: int, method: str, address: str, headers: dict[str, str], body: bytes = b"",
    kind: str = "application/json",
) -> tuple[float, int, bytes]:
    """One request; seconds waited, status, answer. A broken line is opened again once, as a browser does."""
    began = time.monotonic()
    for again in (False, True):
        try:
            line.request(method, address, body or None, headers | ({"Content-Type": kind} if body else {}))
            answer = line.getresponse()
            raw = answer.read()
            return time.monotonic() - began, answer.status, raw
        except (OSError, http.client.HTTPException) as fault:
            line.close()
            if again:
                return time.monotonic() - began, 0, repr(fault).encode()
    raise AssertionError


def report(given, shop, numbers: list[str], ours: Seen, bare: Seen) -> int:
    """The figures, side by side; 1 when something was lost, refused or too late."""
    from soundedge.services.desk import jobs
    from soundedge.services.evidence.ledger_place import open_ledger

    kept, late = set(), set()
    for job in numbers:
        for event in json.loads(jobs.record(shop.data, job))["events"]:
            kept.add((job, event["id"]))
            behind = datetime.fromisoformat(event["recorded_at"]) - datetime.fromisoformat(event["at"])
            if event["kind"] == "air.read" and behind.total_seconds() > LATE_S:
                late.add((job, event["id"]))
    lost = ours.acknowledged - kept
    print(f"{given.clients} people, each at a tablet, {len(numbers)} jobs, {given.minutes * 60:.0f} s, 1 event/s each, "
          f"a photo every {given.photo_every_s:.0f} s, a page every {given.page_every_s:.0f} s")
    for name, seen in (("the bench", ours), ("bare Django view", bare)):
        for what in ("waits", "together_waits", "photo_waits", "page_waits"):
            waits = sorted(getattr(seen, what))
            said = {"waits": "events", "together_waits": "sent together", "photo_waits": "photos", "page_waits": "pages"}[what]
            print(f"  {name:16} {said:13} {len(waits):6d}  p50 {at(waits, 0.5):6.1f} ms  p95 {at(waits, 0.95):6.1f} ms  "
                  f"p99 {at(waits, 0.99):6.1f} ms")
    each = [f"{1000 * seen.cpu_s / max(1, len(seen.waits)):.1f} ms" for seen in (ours, bare)]
    print(f"  processor time of the server for each event, all else with it: the bench {each[0]}, the bare view {each[1]}")
    ratio = at(sorted(ours.waits), 0.95) / max(at(sorted(bare.waits), 0.95), 1e-6)
    print(f"  p95 of the bench is {ratio:.1f} × the bare view's (goal: at most {GOAL_MS:.0f} ms)")
    print(f"  acknowledged {len(ours.acknowledged)}, lost {len(lost)}, answers 5xx {ours.faults}, "
          f"answers that were not good {len(ours.wrong)}")
    print(f"  written down more than {LATE_S:.0f} s after they were made: {len(late & ours.without_network)} of the "
          f"{len(ours.without_network)} that waited without network, {len(late - ours.without_network)} of the others")
    for one in ours.wrong[:5]:
        print(f"    {one}")
    with open_ledger(shop.data, make=False) as ledger:
        print(f"  {ledger.verify()}")
    return 1 if lost or ours.wrong or at(sorted(ours.waits), 0.95) > GOAL_MS else 0


def at(waits: list[float], share: float) -> float:
    """A quantile in milliseconds."""
    return 1000 * waits[min(len(waits) - 1, int(share * len(waits)))] if waits else 0.0


if __name__ == "__main__":
    sys.exit(main())
