"""How fast is the heat model beside two general-purpose libraries, at the same error below 0.5 K at the bond?

scikit-fem twice, with as many time steps as ours: as somebody writes it who knows the library (each form assembled once,
masses lumped: that is the goal's peer), and with everything assembled at each sweep. FiPy with about as many, of 4 s.

    python bench/heat.py

Processor seconds of this process (other load does not count), best of several for our own, one run for each peer;
the cold process is wall time. Prints ratios; asserts nothing.
"""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from table import row

from soundedge.basis.remembered import forget
from soundedge.heat import compiled
from soundedge.heat.case import Case
from soundedge.heat.doubt import sample
from soundedge.heat.march import Program, march
from soundedge.heat.plan import Window, repair
from tests.heat.peers import fipy_benchmark, skfem_benchmark, skfem_lean
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
    row("heat: cold process to the verdict", min(walls), at_most=2.0)

    section, v = benchmark()
    program = Program(end_s=600)
    plain, run = best(lambda: march(section, v, program), 5)
    error = max(abs(run.at(run.bond, t) - c) for t, c in zip(BENCH_S, BENCH_BOND_C))
    print(f"one forward run, NumPy                           {1e3 * plain:7.1f} ms   largest bond error {error:.2f} K")
    case = Case(material="carbon_steel", plate_mm=6, polymer="pvdf", film_mm=0.8, power_w=2000, gun_c=450)
    window = Window.of(case, layers=6)
    slow_repair, laid = best(lambda: repair(case, window), 2)
    assert laid.passes and not np.isnan(laid.run.laid_s).any()
    row("heat: layered repair, 6 layers laid, NumPy", slow_repair, at_most=2.0)
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
    fast_repair, laid = best(lambda: repair(case, window), 5)
    assert laid.passes and not np.isnan(laid.run.laid_s).any()
    row("heat: layered repair, 6 layers laid", fast_repair, at_most=0.030)
    cold_case = replace(case, plate_mm=12, gun_c=500)  # for 100 minutes the gun is held away again and again; no layer is laid
    waited, never = best(lambda: repair(cold_case, window), 3)
    assert np.isnan(never.run.laid_s).all()
    row("heat: repair that never gets hot enough", waited, at_most=0.030)
    steps = np.diff(run.t)
    skfem_lean(steps[:3])  # imports do not count
    for name, peer, aim, left_out in (
        ("scikit-fem, forms once, same steps", lambda: skfem_lean(steps), 20, "layers, and what a gun held away asks of steps"),
        ("scikit-fem, assembled each sweep", lambda: skfem_benchmark(dt=4.0), 100, "the peer is not written to be quick"),
        ("FiPy, dt 4 s", lambda: fipy_benchmark(dt=4.0), 500, "the peer is not written to be quick"),
    ):
        if name.startswith("FiPy"):
            fipy_benchmark(rings=4, slices=2, cells=1, dt=300.0)
        took, (bond, _) = best(peer, 1 if aim > 20 else 3)
        print(f"{name}: bond error {abs(bond - BENCH_BOND_C[-1]):.2f} K; NumPy is {took / plain:.1f} times as quick")
        row("heat: one forward run", fast, took, name, at_least=aim, left_out=left_out)


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
