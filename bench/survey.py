"""How long from a 12-megapixel photo to the plane and the flattened window, against OpenCV alone?

    python bench/survey.py

Peers, in the same run, decoding the same bytes and detecting the same marks, nothing else: OpenCV at full size; and OpenCV that
detects at half size, as anybody in a hurry would. A clean photo and one from a dark hall (noise, blur, a weaker JPEG). Then the
snapping of a tapped outline. Medians of alternating runs, so that a busy machine slows all of them.
"""

from __future__ import annotations

import contextlib
import statistics
import sys
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
from table import row

from soundedge.basis.remembered import forget
from soundedge.survey.outline import curve_through
from soundedge.survey.seen import see
from soundedge.survey.snap import snap
from tests.survey import render

ROUNDS = 9
FULL = "OpenCV, decode and detect, full size"
LEFT_OUT = "the peers stop at the marks' corners, to a pixel; no plane, lens, sub-pixel sides or flattened window"


def opencv_alone(data: bytes) -> int:
    """Decode and detect at full size, with the library's own settings."""
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, _, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
    return len(corners)


def opencv_half(data: bytes) -> int:
    """Decode at full size, as the window needs, and detect at half size."""
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    grey = cv2.resize(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    corners, _, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(grey)
    return len(corners)


def ours(data: bytes):
    """Head check, decode, detect, sub-pixel sides, plane with lens, pose, flattened window."""
    seen = see(data)
    assert seen.flat.colour.size
    return seen


def timed(work, *given) -> float:
    """Milliseconds of one run."""
    forget()
    start = time.perf_counter()
    work(*given)
    return 1000 * (time.perf_counter() - start)


def main() -> None:
    """Print the figures."""
    for name, changed, quality in (("clean", {}, 90), ("noisy", {"noise": 14.0, "blur_px": 1.6, "exposure": 0.6}, 80)):
        scene = render.Scene(seed=12, distance_mm=250, tilt_deg=20, **changed)
        picture, truth = render.draw(scene)
        data = render.photo_bytes(picture, quality)
        seen = ours(data)
        print(f"{name}: {scene.width_px} x {scene.height_px}, {len(data) / 1e6:.1f} MB JPEG, median of {ROUNDS}; of 16 marks "
              f"OpenCV finds {opencv_alone(data)}, at half size {opencv_half(data)}, ours {len(seen.marks)}")
        assert len(seen.marks) == 16
        taps = seen.plane.to_card(np.array(render.taps(truth)))
        ring = np.array(curve_through([tuple(p) for p in taps.tolist()]))
        flat = seen.flat
        times: dict[str, list[float]] = {"full": [], "half": [], "ours": [], "edge": []}
        for _ in range(ROUNDS):
            times["full"].append(timed(opencv_alone, data))
            times["half"].append(timed(opencv_half, data))
            times["ours"].append(timed(ours, data))
            times["edge"].append(timed(snap, flat, ring))
        took = {key: statistics.median(each) / 1000 for key, each in times.items()}
        work = f"photo to plane and window, {name}"
        row(work, took["ours"], took["full"], FULL, at_most=1.0, left_out=LEFT_OUT)
        row(work, took["ours"], took["half"], "OpenCV, decode, detect at half size", at_most=1.5, left_out=LEFT_OUT)
        row(f"snapping a 12-tap outline, {name}", took["edge"], took["full"], FULL, at_most=0.3)
    name, worst = slowest_refusal()
    row(f"slowest refusal of a bad file ({name})", worst / 1000, at_most=2.0)


def slowest_refusal() -> tuple[str, float]:
    """The bad file of tests/survey/test_bad_input.py that takes longest to refuse, and how long. [ms]"""
    from soundedge.basis.errors import BenchError
    from soundedge.survey.photo import decode
    from tests.survey.test_bad_input import BAD

    times = {}
    for name, (make, _) in BAD.items():
        data = make()
        start = time.perf_counter()
        with contextlib.suppress(BenchError):
            decode(data, name="The photo")
        times[name] = 1e3 * (time.perf_counter() - start)
    return max(times.items(), key=lambda one: one[1])


if __name__ == "__main__":
    main()
