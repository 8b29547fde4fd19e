"""Many who ask for photos at once: one is unpacked at a time, each person has a few, and an entry has its own turn."""

import fcntl
import json
import os
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import pytest

from soundedge.services.desk import photo_turn, photos
from soundedge.services.desk.photo_turn import MEASURED, SHOWN, Waiting, entered, looked_at
from soundedge.survey import seen

from . import bench

FIND = {"find_card": True, "card": {}}


@pytest.fixture
def data(tmp_path, monkeypatch):
    return bench.a_shop(tmp_path, monkeypatch)


@contextmanager
def another_process_looks(data):
    """Another process of the bench has its turn, until the end of the block."""
    with open(data / ".photo-looked", "wb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield


def until(true):
    end = time.monotonic() + 60
    while not true():
        assert time.monotonic() < end
        time.sleep(0.01)


def test_of_twenty_four_searches_at_once_three_are_made_one_after_the_other(data, monkeypatch):
    photo, at_once, most, decode = bench.photo(data), [], [], seen.decode

    def watched(*given, **more):
        at_once.append(1)
        most.append(len(at_once))
        try:
            return decode(*given, **more)
        finally:
            at_once.pop()

    def asked(_):
        try:
            return photos.survey(data, photo, FIND, person="cato")["sheet"]
        except Waiting as told:
            refused.append(told.message)
            return None

    refused = []
    monkeypatch.setattr(seen, "decode", watched)
    with ThreadPoolExecutor(24) as pool:
        with another_process_looks(data):
            answers = [pool.submit(asked, n) for n in range(24)]
            until(lambda: len(refused) == 24 - MEASURED)
            with entered(data):  # no entry waits for those who only look
                assert not most
        found = [one.result() for one in answers]

    assert len(most) == MEASURED and max(most) == 1
    assert [one for one in found if one] == ["small"] * MEASURED
    assert set(refused) == {f"{MEASURED} of your photos are being looked at already. Wait for one of them, then ask again."}
    assert photos.survey(data, photo, FIND, person="cato")["sheet"] == "small"


def test_the_photos_of_one_person_leave_the_turn_of_another_and_a_page_of_pictures(data):
    with ThreadPoolExecutor(20) as pool, another_process_looks(data):
        def held(person, most, seconds=0.0):
            with looked_at(data, person, most):
                return True

        waiting = [pool.submit(held, "cato", MEASURED) for _ in range(MEASURED)]
        waiting += [pool.submit(held, "cato", SHOWN) for _ in range(SHOWN)]
        until(lambda: sum(photo_turn._asked.values()) == MEASURED + SHOWN)
        for most in (MEASURED, SHOWN):
            with pytest.raises(Waiting):
                held("cato", most)
        waiting += [pool.submit(held, "ines", MEASURED)]
        until(lambda: sum(photo_turn._asked.values()) == MEASURED + SHOWN + 1)

    assert all(one.result() for one in waiting) and not photo_turn._asked


def test_a_disk_that_takes_no_new_file_still_shows_one_photo_at_a_time(data, monkeypatch):
    opened = os.open

    def full(path, *more, **named):
        if ".photo-" in str(path):
            raise OSError(28, "No space left on device")
        return opened(path, *more, **named)

    monkeypatch.setattr(photo_turn.os, "open", full)
    late = threading.Event()

    def second():
        with looked_at(data, "ines", SHOWN):
            late.set()

    with ThreadPoolExecutor(1) as pool:
        with looked_at(data, "cato", SHOWN):
            pool.submit(second)
            until(lambda: len(photo_turn._asked) == 2)
            assert not late.is_set()
    assert late.is_set()


MANY = """
import json, resource, sys, threading
from pathlib import Path
from soundedge.services.desk import photos
from soundedge.services.desk.photo_turn import Waiting
import cv2, numpy, PIL.Image
def peak():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
before, said = peak(), []
def ask(digest):
    try:
        answer = photos.survey(Path(sys.argv[1]), digest, {"find_card": True}, person="cato")
        said.append([one["check"] for one in answer["refused"]])
    except Waiting:
        said.append("waits")
asked = [threading.Thread(target=ask, args=(digest,)) for digest in sys.argv[2:]]
for one in asked: one.start()
for one in asked: one.join()
print(json.dumps({"mb": peak() - before, "said": said}))
"""


@pytest.mark.release
def test_twenty_four_searches_in_the_largest_photos_stay_within_three_hundred_megabytes(data):
    import cv2
    import numpy as np

    noise = np.random.default_rng(8).integers(0, 255, (750, 1000, 3), dtype=np.uint8)
    large = cv2.resize(noise, (8000, 6000), interpolation=cv2.INTER_CUBIC)
    digests = []
    for number in range(24):
        large[:100, :100] = number * 10
        digests.append(photos.keep(data, cv2.imencode(".jpg", large, [cv2.IMWRITE_JPEG_QUALITY, 60])[1].tobytes())["sha256"])

    run = subprocess.run([sys.executable, "-c", MANY, str(data), *digests], capture_output=True, text=True, check=True)
    found = json.loads(run.stdout)

    assert len(set(digests)) == len(found["said"]) == 24
    looked, waits = (found["said"].count(one) for one in (["no_card"], "waits"))
    assert looked >= MEASURED and looked + waits == 24
    assert found["mb"] < 300, found
