"""How long does a tablet wait for "stored" when fifty of them record at once, and is anything lost?

    python bench/web.py                 30 s, 50 tablets
    python bench/web.py --minutes 5     the whole figure

Each tablet sends one event a second and one photo of about 1 MB a minute, over its own kept-alive connection, to the bench
as it is started for a shop (gunicorn, 2 workers × 16 threads, ledger with every commit synced). In the same run the same
number of clients asks a bare Django view (no session, no database; the same server and settings) at the same pace: that is
what a web framework takes on this machine by itself. Afterwards the ledger is verified and every acknowledged event is
looked for in it.
"""

from __future__ import annotations

import argparse
import http.client
import json
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime
from pathlib import Path

GOAL_MS = 150.0
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
    asked.add_argument("--photo-every-s", type=float, default=60)
    given = asked.parse_args()
    place = Path(tempfile.mkdtemp(prefix="soundedge-bench-"))
    os.environ |= {
        "SOUNDEDGE_ROOT": str(place / "installation"),
        "SOUNDEDGE_KEYS": str(place / "keys"),
        "DJANGO_SETTINGS_MODULE": "soundedge.web.settings",
    }
    sys.path.insert(0, str(ROOT))
    try:
        shop, tablets, job = prepared(place, given.clients)
        ours = run(["soundedge.web.wsgi:application"], tablets, job, given)
        (place / "bare.py").write_text(BARE, encoding="utf-8")
        bare = run(["--chdir", str(place), "bare:application"], [None] * given.clients, None, given)
        return report(given, shop, job, ours, bare)
    finally:
        shutil.rmtree(place, ignore_errors=True)


def prepared(place: Path, clients: int):
    """A shop with a job and a signed-in session for every tablet."""
    from tests.web.installation import new_shop, set_up
    from tests.web.one_job import opened

    set_up(place)
    shop = new_shop()
    job = opened(shop, "KBW-2036-500")
    client = shop.client("technician")
    client.get("/")
    cookies = "; ".join(f"{name}={one.value}" for name, one in client.cookies.items())
    import re

    token = re.search(r'name="csrf" content="([^"]+)"', client.get(f"/jobs/{job}/").content.decode())[1]
    cookies = "; ".join(f"{name}={one.value}" for name, one in client.cookies.items())
    return shop, [{"Cookie": cookies, "X-CSRFToken": token, "Host": "localhost"}] * clients, job


class Seen:
    """What one run saw: waits in seconds, answers that were not good, what was acknowledged."""

    def __init__(self) -> None:
        self.waits: list[float] = []
        self.photo_waits: list[float] = []
        self.wrong: list[str] = []
        self.acknowledged: set[str] = set()
        self.cpu_s = 0.0
        self.lock = threading.Lock()


def run(application: list[str], tablets: list, job: str | None, given) -> Seen:
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
            threading.Thread(target=tablet, args=(number, port, headers, job, begin, given, seen))
            for number, headers in enumerate(tablets)
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


def tablet(number: int, port: int, headers: dict | None, job: str | None, begin: float, given, seen: Seen) -> None:
    """One tablet: an event each second at its own place in the second, a photo each minute."""
    chance = random.Random(number)
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    offset = chance.random()
    photo_at = chance.random() * given.photo_every_s
    for second in range(int(given.minutes * 60)):
        time.sleep(max(0.0, begin + second + offset - time.monotonic()))
        name = f"d1-{number:06x}-{second + 1}"
        body = {
            "entries": [
                {
                    "id": name,
                    "kind": "air.read",
                    "at": datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
                    "body": {"air_c": round(20 + chance.random(), 1), "rh_pct": 55, "steel_c": 19.5, "instrument": "H2"},
                }
            ]
        }
        address = f"/api/v1/jobs/{job}/entries" if job else "/"
        wait, status, answer = ask(line, port, address, json.dumps(body).encode(), "application/json", headers)
        with seen.lock:
            seen.waits.append(wait)
            if status != 200:
                seen.wrong.append(f"{status} {answer[:200]!r}")
            elif job and json.loads(answer)["entries"][0]["outcome"] == "stored":
                seen.acknowledged.add(name)
            elif job:
                seen.wrong.append(answer[:200].decode())
        if second >= photo_at:
            photo_at += given.photo_every_s
            raw = photo(chance)
            wait, status, answer = ask(line, port, "/api/v1/photos" if job else "/", raw, "image/jpeg", headers)
            with seen.lock:
                seen.photo_waits.append(wait)
                if status not in (200, 201):
                    seen.wrong.append(f"photo {status} {answer[:200]!r}")


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


def ask(line: http.client.HTTPConnection, port: int, address: str, body: bytes, kind: str, headers: dict | None):
    """One POST; seconds waited, status, answer. A broken line is opened again once, as a browser does."""
    began = time.monotonic()
    for again in (False, True):
        try:
            line.request("POST", address, body, {"Content-Type": kind, **(headers or {"Host": "localhost"})})
            answer = line.getresponse()
            raw = answer.read()
            return time.monotonic() - began, answer.status, raw
        except (OSError, http.client.HTTPException) as fault:
            line.close()
            if again:
                return time.monotonic() - began, 0, repr(fault).encode()
    raise AssertionError


def report(given, shop, job: str, ours: Seen, bare: Seen) -> int:
    """The figures, side by side; 1 when something was lost, refused or too late."""
    from soundedge.services.desk import jobs

    record = json.loads(jobs.record(shop.data, job))
    kept = {event["id"] for event in record["events"]}
    lost = ours.acknowledged - kept
    print(f"{given.clients} tablets, {given.minutes * 60:.0f} s, 1 event/s each, a photo every {given.photo_every_s:.0f} s")
    for name, seen in (("the bench", ours), ("bare Django view", bare)):
        waits = sorted(seen.waits)
        print(
            f"  {name:18} {len(waits):6d} events  p50 {at(waits, 0.5):6.1f} ms  p95 {at(waits, 0.95):6.1f} ms  "
            f"p99 {at(waits, 0.99):6.1f} ms   photos {len(seen.photo_waits)}, p95 {at(sorted(seen.photo_waits), 0.95):.0f} ms"
        )
    each = [f"{1000 * seen.cpu_s / max(1, len(seen.waits)):.1f} ms" for seen in (ours, bare)]
    print(f"  processor time of the server for each event: the bench {each[0]}, the bare view {each[1]}")
    ratio = at(sorted(ours.waits), 0.95) / max(at(sorted(bare.waits), 0.95), 1e-6)
    print(f"  p95 of the bench is {ratio:.1f} × the bare view's (goal: at most {GOAL_MS:.0f} ms)")
    print(f"  acknowledged {len(ours.acknowledged)}, lost {len(lost)}, answers that were not good {len(ours.wrong)}")
    for one in ours.wrong[:5]:
        print(f"    {one}")
    return 1 if lost or ours.wrong or at(sorted(ours.waits), 0.95) > GOAL_MS else 0


def at(waits: list[float], share: float) -> float:
    """A quantile in milliseconds."""
    return 1000 * waits[min(len(waits) - 1, int(share * len(waits)))] if waits else 0.0


if __name__ == "__main__":
    sys.exit(main())
