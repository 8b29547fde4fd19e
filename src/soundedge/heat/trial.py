"""How hard does this gun really heat, by one afternoon with three plates, and how sure is that?

Each plate is marched as it lay under the gun and fitted to its probe's readings. What one plate cannot know (its own steel,
the air's true temperature) keeps its prior; what differs from plate to plate, aim and draught among it, is the gun's width.
Jet strength and air temperature cannot be told apart, their product can: the factor is referred to the air of the label.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .case import Case, Doubt, values
from .march import Program, march
from .section import Section

U_PROBE_K, U_PROBE_SHARE = 1.5, 0.01
"""Contact probe on the back: its own error and what its foot loses, K and share of the rise (own estimate)."""
U_STEEL, U_AIR_K = 0.045, 40.0
"""Heat of a plate by its steel and thickness, share; air against the label, K: as in ``doubt.PRIORS``."""
REFER_C = 200.0
"""Surface at which the product of jet and air is kept: between gloss and limit, where it decides."""
LEAST_WIDTH = 0.05
"""No trial makes the next repair surer than this: another aim, another day (own estimate)."""
PAINT = 0.95
STEP = 0.05


@dataclass(frozen=True)
class Plate:
    """One plate as tried: readings of the middle of its back, s from the gun's start and °C."""

    material: str
    plate_mm: float
    side_mm: float
    times_s: tuple[float, ...]
    readings_c: tuple[float, ...]


@dataclass(frozen=True)
class Tried:
    """What the afternoon gave. ``width`` is of the logarithm of ``factor``; ``misfit_k``: of each plate, root mean square."""

    factor: float
    width: float
    each: tuple[float, ...]
    misfit_k: tuple[float, ...]
    between: float


def fit(gun: Case, plates: Sequence[Plate]) -> Tried:
    """The gun's factor on the model's jet, and its width.

    Parameters
    ----------
    gun : Case
        Power, air, outlet, distance and the air around; its part and film are not looked at.
    plates : list of Plate
        One or more, each with at least 4 readings; from two on the width holds what differs between them.

    Notes
    -----
    Least squares over ln f and the steel of every plate and one temperature of the air, with their priors as further
    residuals. Between n plates the width is Student's: t(n − 1) at 84 % times their standard deviation.
    """
    from scipy.optimize import least_squares
    from scipy.stats import t as student

    n = len(plates)
    sections = [_section(gun, plate) for plate in plates]
    held: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

    def both(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        key = x.tobytes()
        if key not in held:
            held.clear()
            held[key] = _residuals(gun, plates, sections, x)
        return held[key]

    found = least_squares(lambda x: both(x)[0], np.zeros(2 * n + 1), jac=lambda x: both(x)[1], x_scale=[0.2] * n + [
        0.05] * n + [30.0], max_nfev=12, xtol=1e-4)
    covariance = np.linalg.inv(found.jac.T @ found.jac)
    logs, air_k = found.x[:n], float(found.x[-1])
    mean = np.zeros(2 * n + 1)
    mean[:n], mean[-1] = 1.0 / n, 1.0 / (gun.gun_c - REFER_C)  # the product of jet and air over a hot surface
    between = float(np.std(logs, ddof=1)) if n > 1 else 0.0
    far = float(student.ppf(0.8413, n - 1)) if n > 1 else 0.0
    width = math.sqrt(float(mean @ covariance @ mean) + (far * between) ** 2 * (1.0 + 1.0 / n) + LEAST_WIDTH**2)
    drive = 1.0 + air_k / (gun.gun_c - REFER_C)
    rest = both(found.x)[0]
    misfits, at = [], 0
    for plate in plates:
        part = rest[at:at + len(plate.times_s)] * _sigma(plate, gun.ambient_c)
        misfits.append(float(np.sqrt(np.mean(part**2))))
        at += len(plate.times_s)
    return Tried(float(np.exp(logs.mean())) * drive, width, tuple(float(np.exp(x)) * drive for x in logs), tuple(misfits),
                 between)


def _section(gun: Case, plate: Plate) -> Section:
    return _as_case(gun, plate).section(dish=False, rings=12, slices=3)


def _as_case(gun: Case, plate: Plate) -> Case:
    """A plate as the model takes it: the disc of the same area, with a coat of black paint for a film."""
    return gun.but(material=plate.material, plate_mm=plate.plate_mm, radius_mm=plate.side_mm / math.sqrt(math.pi),
                   spot_d_mm=20.0, film_mm=0.05, start_c=plate.readings_c[0] if plate.times_s[0] == 0 else gun.ambient_c,
                   back="free", h_factor=1.0, h_doubt=None)


def _sigma(plate: Plate, around_c: float) -> np.ndarray:
    return np.hypot(U_PROBE_K, U_PROBE_SHARE * np.abs(np.array(plate.readings_c) - around_c))


def _residuals(gun: Case, plates: Sequence[Plate], sections: Sequence[Section], x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """What is left between probe and model, in its own uncertainties, then the priors; and how each moves with ``x``."""
    n = len(plates)
    rest, slope = [], []
    for i, (plate, section) in enumerate(zip(plates, sections)):
        steps = np.array([[0.0, 0, 0], [STEP, 0, 0], [0, STEP, 0], [0, 0, 20.0]])
        log_h, steel, air = (np.array([x[i], x[n + i], x[-1]]) + steps).T
        told, sigma = _told(gun, plate, section, np.exp(log_h), np.exp(steel), air), _sigma(plate, gun.ambient_c)
        rest.append((told[0] - np.array(plate.readings_c)) / sigma)
        part = np.zeros((len(sigma), 2 * n + 1))
        for column, row, step in ((i, 1, STEP), (n + i, 2, STEP), (2 * n, 3, 20.0)):
            part[:, column] = (told[row] - told[0]) / step / sigma
        slope.append(part)
    prior = np.diag([1.0 / U_STEEL] * n + [1.0 / U_AIR_K])
    rest.append(prior @ x[n:])
    slope.append(np.hstack([np.zeros((n + 1, n)), prior]))
    return np.concatenate(rest), np.vstack(slope)


def _told(gun: Case, plate: Plate, section: Section, h: np.ndarray, steel: np.ndarray, air_k: np.ndarray) -> np.ndarray:
    """Back of the plate at the times of its readings, one row for each member, °C."""
    case = _as_case(gun, plate)
    plain = Doubt.none(len(h))
    numbers = replace(values(case, section, replace(plain, h=h, rc_steel=steel, air_k=air_k)),
                      e_film=np.full(len(h), PAINT))
    run = march(section, numbers, Program(end_s=plate.times_s[-1] + 1.0, share=0.08, longest_s=15.0))
    return np.array([np.interp(plate.times_s, run.t, run.back[:, i]) for i in range(len(h))])
