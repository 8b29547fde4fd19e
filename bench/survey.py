"""How long from a 12-megapixel photo to the plane and the flattened window, against OpenCV alone?

    python bench/survey.py

Peer, in the same run: OpenCV decoding the same bytes and detecting the same marks at full size, nothing else. Then
the snapping of a tapped outline, as a share of the peer. Medians of alternating runs, so that a busy machine slows both.
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
from soundedge.basis.remembered import forget
from soundedge.survey.outline import curve_through
from soundedge.survey.seen import see
from soundedge.survey.snap import snap
from tests.survey import render

ROUNDS = 9


def opencv_alone(data: bytes) -> int:
    """Decode and detect at full size, with the library's own settings."""
    picture = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, _, _ = cv2.aruco.ArucoDetector(dictionary).detectMarkers(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY))
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
    scene = render.Scene(seed=12, distance_mm=250, tilt_deg=20)
    picture, truth = render.draw(scene)
    data = render.photo_bytes(picture, 90)
    seen = ours(data)
    assert opencv_alone(data) == 16 and len(seen.marks) == 16
    taps = seen.plane.to_card(np.array(render.taps(truth)))
    ring = np.array(curve_through([tuple(p) for p in taps.tolist()]))
    flat = seen.flat
    alone, whole, edge = [], [], []
    for _ in range(ROUNDS):
        alone.append(timed(opencv_alone, data))
        whole.append(timed(ours, data))
        edge.append(timed(snap, flat, ring))
    peer, mine, snapping = (statistics.median(times) for times in (alone, whole, edge))
    print(f"photo {scene.width_px} x {scene.height_px}, {len(data) / 1e6:.1f} MB JPEG, median of {ROUNDS}")
    print(f"OpenCV alone, decode and detect          {peer:7.1f} ms")
    print(f"photo to plane and flattened window      {mine:7.1f} ms   ratio {mine / peer:.2f} (goal at most 1.5)")
    print(f"snapping a 12-tap outline                {snapping:7.1f} ms   ratio {snapping / peer:.2f} (goal at most 0.3)")
    name, worst = slowest_refusal()
    print(f"slowest refusal of a bad file            {worst:7.1f} ms   {name} (goal at most 2000)")


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
