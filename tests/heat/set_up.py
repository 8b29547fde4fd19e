"""Small parts for the checks: a plate or a film under plain boundary conditions, with nothing else switched on."""

import numpy as np

from soundedge.heat.march import Program, Values, march
from soundedge.heat.section import cut

STEEL = (50.0, 7850.0, 490.0)
FILM = (0.2, 1780.0, 1400.0)


def values_of(section, *, h=0.0, air=20.0, start=20.0, around=20.0, steel=STEEL, film=FILM, melt=(900.0, 901.0), latent=0.0,
              melt_k=None, melt_c=None, e=0.0, e_back=0.0, h_back=0.0, rim=0.0, members=1):
    """Values with every loss off unless asked for; ``h`` and ``air`` a number or one per ring."""
    one = np.ones(members)

    def line(x):
        return np.ones((members, section.rings)) * np.asarray(x, dtype=float)

    k, rho, c = film
    return Values(
        start_c=one * start, ambient_c=one * around, k_steel=one * steel[0], rc_steel=one * steel[1] * steel[2],
        plate_scale=one, film_scale=one, k_solid=one * k, k_melt=one * (melt_k or k), rc_solid=one * rho * c,
        rc_melt=one * rho * (melt_c or c), latent=one * rho * latent, melt_from_c=one * melt[0], melt_to_c=one * melt[1],
        k_powder=one * 0.05, e_film=one * e, e_bare=one * e, e_back=one * e_back, h_idle=one * 0.0, h_rim=one * rim,
        h_gun=line(h), air_gun=line(air), h_back=line(h_back), air_back=line(around),
        h_back_off=one * h_back)


def plate(*, mm, slices, rings=2, radius=100.0):
    """A bare plate: its film is a skin of nothing."""
    return cut(plate_mm=mm, radius_mm=radius, spot_d_mm=20, film_mm=1e-6, dish=False, rings=rings, slices=slices,
               old_cells=1, even=True)


def filmed(*, mm, slices, film_mm, cells, rings=2, radius=100.0):
    """A plate with a whole film."""
    return cut(plate_mm=mm, radius_mm=radius, spot_d_mm=20, film_mm=film_mm, dish=False, rings=rings, slices=slices,
               old_cells=cells, even=True)


def flux(q):
    """A constant flux as the march takes it: hardly any transfer from unthinkably hot air."""
    return {"h": 1e-4, "air": q / 1e-4}


BENCH_S = (10, 30, 60, 120, 180, 240, 300, 400, 500, 600)
BENCH_BOND_C = (24.840, 30.593, 37.340, 47.926, 56.223, 63.173, 69.273, 78.264, 86.316, 93.720)
BENCH_SURFACE_C = (122.02, 128.46, 133.66, 141.73, 148.02, 153.25, 157.83, 164.52, 170.46, 175.91)


def benchmark(rings=16, slices=4, cells=3, even=False):
    """The common benchmark: 20 mm steel, R 150, 0.8 mm film that melts at 160 to 176 °C, a jet, radiation, losses; its
    reference solution is an implicit BDF2 on 220 x 84 cells, dt 0.25 s (successive grids agree to 0.001 K)."""
    section = cut(plate_mm=20, radius_mm=150, spot_d_mm=30, film_mm=0.8, dish=False, rings=rings, slices=slices,
                  old_cells=cells, even=even)
    r = section.middles_mm * 1e-3
    values = values_of(
        section, h=69 * (1 + (r / 0.06) ** 2) ** -0.75, air=20 + 480 / (1 + (r / 0.136) ** 2), melt=(160.0, 176.0),
        latent=55e3, melt_c=1900.0, e=0.9, e_back=0.8, h_back=6.0, rim=10.0)
    return section, values


__all__ = ["FILM", "STEEL", "Program", "benchmark", "filmed", "flux", "march", "plate", "values_of"]
