"""How fast is the heat model beside two general-purpose libraries, at the same error below 0.5 K at the bond?

    python bench/heat.py

Processor seconds of this process (other load does not count), best of several for our own, one run for each peer;
the cold process is wall time. Prints ratios; asserts nothing.
"""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import fields
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from soundedge.basis.remembered import forget
from soundedge.heat import compiled
from soundedge.heat.case import Case
from soundedge.heat.doubt import sample
from soundedge.heat.march import Program, march
from soundedge.heat.plan import Window, repair
from tests.heat.peers import fipy_benchmark, skfem_benchmark
from tests.heat.set_up import BENCH_BOND_C, BENCH_S, benchmark


def best(work, times):
    """Smallest processor time of several runs, s, and the last result."""
    took, result = [], None
    for _ in range(times):
        forget()
        start = time.process_time()
        result = work()
        took.append(time.process_time() - start)
    return min(took), result


def main() -> None:
    """Print the table."""
    cold = [sys.executable, "-m", "soundedge", "heat", "--plate", "12mm", "--lining", "0.8mm", "pvdf",
            "--gun", "2000W,500C"]
    walls = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run(cold, capture_output=True, check=False)
        walls.append(time.perf_counter() - start)
    print(f"cold process to the verdict (command line)       {min(walls):7.2f} s wall   wanted < 2 s")

    section, v = benchmark()
    program = Program(end_s=600)
    plain, run = best(lambda: march(section, v, program), 5)
    error = max(abs(run.at(run.bond, t) - c) for t, c in zip(BENCH_S, BENCH_BOND_C))
    print(f"one forward run, NumPy                           {1e3 * plain:7.1f} ms   largest bond error {error:.2f} K")
    case = Case(material="carbon_steel", plate_mm=12, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=500)
    window = Window.of(case, layers=6)
    slow_repair, _ = best(lambda: repair(case, window), 2)
    print(f"a full layered repair, NumPy                     {1e3 * slow_repair:7.0f} ms   wanted <= 2000 ms")
    members, many = 1000, []
    for low in range(0, members, 125):
        many.append(values_of_slice(section, v, sample(members), slice(low, low + 125)))
    ensemble, _ = best(lambda: [march(section, part, program) for part in many], 1)
    share = ensemble / (plain * 1000 / 32)
    print(f"1 000 members, NumPy                             {ensemble:7.2f} s    {share:.2f} x 1 000/32 single runs, wanted 3")

    start = time.perf_counter()
    compiled.wake()
    compiled.march_all(section, v, program)
    print(f"waking numba, import and compile or cache        {time.perf_counter() - start:7.2f} s wall, once")
    fast, run = best(lambda: compiled.march_all(section, v, program), 30)
    error = max(abs(run.at(run.bond, t) - c) for t, c in zip(BENCH_S, BENCH_BOND_C))
    print(f"one forward run, numba                           {1e3 * fast:7.2f} ms   largest bond error {error:.2f} K")
    fast_repair, _ = best(lambda: repair(case, window), 5)
    print(f"a full layered repair, numba                     {1e3 * fast_repair:7.1f} ms   wanted <= 60 ms")
    for name, peer, wanted in (("scikit-fem", skfem_benchmark, 100), ("FiPy", fipy_benchmark, 300)):
        peer(rings=4, slices=2, cells=1, dt=300.0)  # imports and first assembly do not count
        took, (bond, _) = best(lambda peer=peer: peer(dt=4.0), 1)
        error = abs(bond - BENCH_BOND_C[-1])
        print(f"{name:<12} 12 x 6, dt 4 s                        {took:7.2f} s    bond error {error:.2f} K; "
              f"numba {took / fast:.0f} x, NumPy {took / plain:.0f} x faster, wanted {wanted} x")


def values_of_slice(section, v, doubt, which):
    """The benchmark's values with the spread of jet, film and steel of some members."""
    n = len(doubt.h[which])
    out = {f.name: np.repeat(getattr(v, f.name), n, axis=0) for f in fields(v)}
    out["h_gun"] = out["h_gun"] * doubt.h[which][:, None]
    out["k_solid"] = out["k_solid"] * doubt.k_film[which]
    out["film_scale"] = doubt.film[which]
    out["plate_scale"] = doubt.plate[which]
    return type(v)(**out)


if __name__ == "__main__":
    main()
