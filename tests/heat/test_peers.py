"""Two general-purpose libraries solve the benchmark on their own; all of us must agree."""

import pytest

from soundedge.heat.march import Program, march

from .peers import fipy_benchmark, skfem_benchmark
from .set_up import BENCH_BOND_C, BENCH_SURFACE_C, benchmark

pytestmark = pytest.mark.usefixtures("by_numpy")


@pytest.mark.slow
@pytest.mark.parametrize("peer", [pytest.param(fipy_benchmark, marks=pytest.mark.release), skfem_benchmark])
def test_a_general_purpose_library_agrees(peer):
    bond, surface = peer(dt=4.0)
    run = march(*benchmark(), Program(end_s=600))

    assert bond == pytest.approx(BENCH_BOND_C[-1], abs=0.8)
    assert surface == pytest.approx(BENCH_SURFACE_C[-1], abs=1.5)
    assert run.bond[-1, 0] == pytest.approx(bond, abs=0.8)
    assert run.surface[-1, 0] == pytest.approx(surface, abs=1.5)
