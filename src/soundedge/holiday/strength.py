"""What voltage does sound film of this thickness withstand, according to the maker or a table?

Strength in kV/mm falls as film gets thicker, so a value is worth something only with the thickness it
was measured at. Between two given thicknesses a power law runs through them; outside them the strength
is never taken higher than at the nearest given one.

>>> ectfe = Strength.of([(25.4, 80.0), (3000.0, 14.5)])
>>> round(ectfe.at(635.0), 1), round(ectfe.breakdown_v(635.0))
(25.3, 16051)
>>> thin_only = Strength.of([(25.4, 80.0)])
>>> round(thin_only.at(635.0), 1)          # not 80
16.0
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from ..basis.quantity import NotThat
from ..basis.sentences import say

# Exponent used to come *down* from the thickest given point when it stands alone: data on lining
# polymers give 0.36 to 0.58 (ECTFE 0.36, ETFE 0.51, FEP 0.53, PVDF 0.58).
LONE_EXPONENT = 0.5
# Electrode of the usual short-time test on sheet, ASTM D149: 2 inches across.
TEST_AREA_M2 = math.pi * 0.0254**2


@dataclass(frozen=True)
class Strength:
    """Dielectric strength of one material: points (thickness µm, kV/mm), thinnest first."""

    points: tuple[tuple[float, float], ...]

    @classmethod
    def of(cls, points: Iterable[tuple[float, float]]) -> Strength:
        """From (at_um, kv_mm) pairs in any order.

        Raises
        ------
        NotThat
            No point; one thickness given twice; or a strength that falls faster than thickness grows,
            so that thicker film would break at a lower voltage.
        """
        ordered = tuple(sorted(points))
        if not ordered:
            raise NotThat("missing", say("holiday.strength_missing"))
        for (thin, thin_kv), (thick, thick_kv) in pairwise(ordered):
            if thin == thick:
                raise NotThat("contradiction", say("holiday.strength_twice", at_um=thin))
            if thick_kv * thick < thin_kv * thin:
                raise NotThat("contradiction", say("holiday.strength_falls_too_fast", thin_kv_mm=thin_kv, thin_um=thin,
                                                   thick_kv_mm=thick_kv, thick_um=thick))
        return cls(ordered)

    def at(self, film_um: float) -> float:
        """Strength at a film thickness, kV/mm.

        Thinner than every point: the strength of the thinnest point, though thin film is stronger.
        Between two: E = E1·(t/t1)^−a through both. Thicker than every point: down with the last
        exponent, or with 0.5 when there is one point only; never up.
        """
        thinnest, thickest = self.points[0], self.points[-1]
        if film_um <= thinnest[0]:
            return thinnest[1]
        if film_um >= thickest[0]:
            return float(thickest[1] * (film_um / thickest[0]) ** -max(self.exponent_beyond(), 0.0))
        for (t1, e1), (t2, e2) in zip(self.points, self.points[1:]):
            if film_um <= t2:
                return float(e1 * (film_um / t1) ** -_exponent(t1, e1, t2, e2))
        raise AssertionError("a thickness between the first and the last point lies in one of the spans")

    def breakdown_v(self, film_um: float) -> float:
        """Voltage that punctures sound film, V: strength times thickness (1 kV/mm is 1 V/µm)."""
        return self.at(film_um) * film_um

    def exponent_beyond(self) -> float:
        """The exponent a of E ~ t^−a used for film thicker than every point."""
        if len(self.points) < 2:
            return LONE_EXPONENT
        (t1, e1), (t2, e2) = self.points[-2:]
        return _exponent(t1, e1, t2, e2)

    def covers(self, film_um: float) -> bool:
        """Whether the thickness lies at or between given points."""
        return self.points[0][0] <= film_um <= self.points[-1][0]

    def residual_um(self, voltage_v: float) -> tuple[float, float]:
        """How thin the film left under a blind hole must be before the voltage breaks it.

        Returns (least, most), µm: ``most`` takes the strength flat below the thinnest point, ``least`` lets
        it rise towards thin film with exponent 0.5. A blind defect thicker than ``most`` stays hidden;
        one between the two may. The air above it must break too.

        t_r solves V = E(t_r)·t_r; for E = E0·(t/t0)^−a that is t_r = (V / (E0·t0^a))^(1/(1 − a)).

        >>> [round(t) for t in Strength.of([(3180.0, 10.2)]).residual_um(2000.0)]
        [12, 196]
        """
        low, high = 0.0, 1.0e6
        for _ in range(200):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.breakdown_v(middle) < voltage_v else (low, middle)
        most = (low + high) / 2.0
        thin_um, thin_kv = self.points[0]
        least = min(most, (voltage_v / (thin_kv * math.sqrt(thin_um))) ** 2)
        return least, most


def area_factor(area_m2: float, weibull_beta: float) -> float:
    """How much weaker the weakest spot of a swept area is than a test specimen: (A0/A)^(1/β), at most 1.

    Parameters
    ----------
    area_m2 : float
        Swept area, m².
    weibull_beta : float
        Weibull shape of breakdown strength; 8 to 10 for good film.

    Notes
    -----
    Weakest-link scaling from the ASTM D149 electrode, A0 = 0.0020 m². An estimate: β is rarely known.

    >>> round(area_factor(1.0, 10.0), 2)
    0.54
    """
    return float(min(1.0, (TEST_AREA_M2 / area_m2) ** (1.0 / weibull_beta)))


def _exponent(t1: float, e1: float, t2: float, e2: float) -> float:
    return -math.log(e2 / e1) / math.log(t2 / t1)
