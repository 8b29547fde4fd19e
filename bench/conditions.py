"""How quick is the air room, beside general-purpose peers in the same run? ``python bench/conditions.py``

Two ratios: the whole process ``soundedge ask conditions`` beside a process that only imports pydantic, and dew points
a second beside psychrolib.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable

from table import row

REQUEST = b'{"air_c":21.4,"rh_pct":63,"steel_c":18.9,"limits":{"dew_margin_k":3.0,"rh_pct_max":85}}'
ASK = [sys.executable, "-m", "soundedge", "ask", "conditions"]
PEERS = {
    "import pydantic": [sys.executable, "-c", "import pydantic"],
    "one pydantic model": [sys.executable, "-c", "from pydantic import BaseModel\nclass M(BaseModel):\n    air_c: float"],
}
ROUNDS = 15
READINGS = [(10 + 0.0025 * (i % 10000), 30 + 0.005 * (i % 10000)) for i in range(10000)]


def process_s(command: list[str]) -> float:
    """Wall time of one process. [s]"""
    start = time.perf_counter()
    subprocess.run(command, input=REQUEST, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def best_s(work: Callable[[], object], rounds: int = 5) -> float:
    """Shortest of several runs. [s]"""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def processes() -> None:
    """The whole process, taken in turn with its peers so that a busy machine slows all alike."""
    commands = {"soundedge ask conditions": ASK, **PEERS}
    times: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(ROUNDS):
        for name, command in commands.items():
            times[name].append(process_s(command))
    best = {name: min(taken) for name, taken in times.items()}
    for name, seconds in best.items():
        print(f"{name:<28} {1000 * seconds:7.1f} ms")
    for name in PEERS:
        row("soundedge ask conditions, whole process", best["soundedge ask conditions"], best[name], name,
            left_out="the peers read and answer nothing")


def rates() -> None:
    """Dew points a second: one by one and as arrays, beside psychrolib in the same two ways it can be used."""
    import numpy as np
    import psychrolib
    from arrays.dew_points import dew_points_c

    from soundedge.conditions.dew_point import dew_point_c

    psychrolib.SetUnitSystem(psychrolib.SI)
    air, rh = (np.array(column) for column in zip(*READINGS))
    psychrolib.GetTDewPointFromRelHum(20.0, 0.6)  # it may compile at its first call
    few = READINGS[:1000]
    ours = len(READINGS) / best_s(lambda: [dew_point_c(t, h) for t, h in READINGS])
    arrays = len(READINGS) / best_s(lambda: dew_points_c(air, rh))
    theirs = len(few) / best_s(lambda: [psychrolib.GetTDewPointFromRelHum(t, h / 100) for t, h in few])
    print(f"dew points, one by one       {ours:12.0f} /s")
    print(f"dew points, arrays           {arrays:12.0f} /s")
    print(f"psychrolib, one by one       {theirs:12.0f} /s")
    row("dew points, one by one", ours, theirs, "psychrolib, one by one", "/s", at_least=1.0,
        left_out="psychrolib inverts a finer formula by iteration; ours has a closed inverse")


if __name__ == "__main__":
    processes()
    rates()
