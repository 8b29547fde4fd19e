"""Two machines open one shop's bench on one PostgreSQL; one is torn away under load. Is anything lost, and does work go on?

Each host has its own folders. The second gets the database's address and ``host.secret``, carried by hand, and nothing else.
"""

import http.client
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest

from ...postgres import another

pytestmark = [pytest.mark.store_contract, pytest.mark.postgres_only, pytest.mark.slow]

REPO = Path(__file__).parents[3]
PEOPLE = 4


class Host:
    """One machine: its folders, and how it calls the bench."""

    def __init__(self, place, database):
        self.root, self.keys = place / "installation", place / "keys"
        self.environment = {**os.environ, **database, "SOUNDEDGE_ROOT": str(self.root), "SOUNDEDGE_KEYS": str(self.keys),
                            "PYTHONUNBUFFERED": "1"}
        self.place = place

    def run(self, *words, code=0):
        done = subprocess.run([sys.executable, "-m", *words], env=self.environment, cwd=REPO, capture_output=True, text=True)
        assert done.returncode == code, (words, done.stdout, done.stderr)
        return done.stdout

    @contextmanager
    def serving(self):
        out, err = self.place / "said", self.place / "err"
        with open(out, "wb") as says, open(err, "wb") as logs:
            process = subprocess.Popen(
                [sys.executable, "-m", "soundedge", "serve", "--root", str(self.root), "--port", "0", "--workers", "1",
                 "--threads", "4"], env=self.environment, cwd=REPO, stdout=says, stderr=logs, start_new_session=True)
        self.process = process
        try:
            for _ in range(1200):
                if "  stop  " in out.read_text(encoding="utf-8") or process.poll() is not None:
                    break
                time.sleep(0.05)
            assert process.poll() is None, err.read_text(encoding="utf-8")[-3000:]
            self.port = int(re.search(r"port (\d+)\.", out.read_text(encoding="utf-8"))[1])
            yield self
        finally:
            self.tear_away()

    def tear_away(self):
        """Every process of the bench is gone at once, as with the machine's plug."""
        with suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(20)

    def ask(self, person, method, path, body=b"", kind="application/json"):
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            line.request(method, path, body or None, person["headers"] | ({"Content-Type": kind} if body else {}))
            answer = line.getresponse()
            return answer.status, answer.read()
        finally:
            line.close()


@pytest.fixture
def two(tmp_path):
    """Both hosts, what the first one has made, and the sentence of sharing."""
    database = another()
    first, second = Host(tmp_path / "first", database), Host(tmp_path / "second", database)
    first.place.mkdir()
    made = json.loads(first.run("tests.services.people.first_host", str(first.place), str(PEOPLE)))
    said = first.run("soundedge", "database", "share", "--root", str(first.root))
    assert "host.secret" in said
    second.keys.mkdir(mode=0o700, parents=True)
    shutil.copy2(first.keys / "host.secret", second.keys / "host.secret")
    return first, second, made


def an_entry(name):
    at = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    return {"id": name, "kind": "air.read", "at": at,
            "body": {"air_c": 20.5, "rh_pct": 55, "steel_c": 19.5, "instrument": "H2"}}


def a_photo():
    import cv2
    import numpy as np

    return cv2.imencode(".jpg", np.random.default_rng(7).integers(0, 255, (600, 800, 3), np.uint8))[1].tobytes()


def test_a_host_torn_away_under_load_loses_nothing_acknowledged_and_sessions_go_on_at_the_other(two):
    first, second, made = two
    entries = f"/api/v1/jobs/{made['job']}/entries"
    acknowledged, refused, lock, torn = set(), [], threading.Lock(), threading.Event()

    def work(person, number):
        """Entry after entry to the first host; when it does not answer, the same entry to the second: as the outbox does."""
        after = 0
        for turn in count():
            name = f"{person['device'].replace(' ', '-')}-{number}-{turn}"
            body = json.dumps({"entries": [an_entry(name)]}).encode()
            while True:
                host = second if torn.is_set() or (number % 2 and turn % 2) else first
                try:
                    status, raw = host.ask(person, "POST", entries, body)
                except (OSError, http.client.HTTPException):
                    torn.wait(30)
                    continue
                break
            with lock:
                if status == 200 and json.loads(raw)["entries"][0]["outcome"] in ("stored", "duplicate"):
                    acknowledged.add(name)
                else:
                    refused.append((status, raw[:300]))
            after += torn.is_set()
            if after >= 3:
                return

    with first.serving(), second.serving():
        status, raw = first.ask(made["people"][0], "POST", "/api/v1/photos", a_photo(), "image/jpeg")
        assert status in (200, 201), raw
        digest = json.loads(raw)["sha256"]
        workers = [threading.Thread(target=work, args=(person, number)) for number, person in enumerate(made["people"])]
        for one in workers:
            one.start()
        while len(acknowledged) < 8 * PEOPLE and not refused:
            time.sleep(0.01)
        first.tear_away()
        torn.set()
        for one in workers:
            one.join(120)

        assert refused == []
        status, raw = second.ask(made["people"][0], "GET", f"/api/v1/jobs/{made['job']}/record.json")
        kept = [event["id"] for event in json.loads(raw)["events"]]
        assert status == 200 and acknowledged <= set(kept) and len(kept) == len(set(kept))
        assert len(acknowledged) >= 11 * PEOPLE
        assert second.ask(made["people"][0], "GET", f"/jobs/{made['job']}/")[0] == 200
        assert second.ask(made["people"][0], "GET", f"/api/v1/photos/{digest}/original")[1] == a_photo()
    said = second.run("soundedge", "database", "shared", "--root", str(second.root))
    assert "1 shops and 1 photos" in said
