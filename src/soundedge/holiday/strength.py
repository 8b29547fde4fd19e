"""What voltage does sound film of this thickness withstand, according to the maker or a table?

Strength in kV/mm falls as film gets thicker, so a value is worth something only with the thickness it was measured
at. Between two given thicknesses a power law runs through them. Beyond them, and between two that lie far apart,
the published range of that law's exponent gives a band; its careful end is used, its other end is told.

>>> ectfe = Strength.of([(3000.0, 14.5)])
>>> round(ectfe.at(635.0), 1), round(ectfe.breakdown_v(635.0)), round(ectfe.most_at(635.0), 1)
(25.4, 16103, 30.0)

Film thinner than any lining says nothing about one, however strong it is:

>>> lining_points([(25.4, 260.0), (3180.0, 21.0)])
[(3180.0, 21.0)]
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

from ..basis.quantity import NotThat
from ..basis.sentences import say

# Exponents a of E ~ t^−a between published strengths of lining polymers at two thicknesses: ECTFE 0.36; ETFE, FEP
# and PFA 0.51 to 0.54; PVDF 0.58 to 0.67 (source strength_exponents).
LAW_LEAST, LAW_MOST = 0.36, 0.67
# Two points up to this ratio apart carry the line between them.
NEAR = 4.0
# Thinner film is no lining: its strength is carried to none.
LINING_FROM_UM = 100.0
# Thickness up to which a specimen is film; what was measured on it caps what the law makes of a plate.
FILM_TO_UM = 1000.0
# The cap where no film of the polymer was measured: the upper figure of an instrument manual for coatings.
COATING_KV_MM = 30.0
# Electrode of the usual short-time test on sheet, ASTM D149: 2 inches across.
TEST_AREA_M2 = math.pi * 0.0254**2


@dataclass(frozen=True)
class Strength:
    """Dielectric strength of one material: points (thickness µm, kV/mm), thinnest first, and what caps the law."""

    points: tuple[tuple[float, float], ...]
    cap_kv_mm: float = COATING_KV_MM

    @classmethod
    def of(cls, points: Iterable[tuple[float, float]], cap_kv_mm: float = COATING_KV_MM) -> Strength:
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
        return cls(ordered, cap_kv_mm)

    def at(self, film_um: float) -> float:
        """Strength at a film thickness, kV/mm: the careful end of what the points and the law allow.

        Thinner than every point: flat where the thinnest is film itself, 1 mm and less; up from a plate with exponent
        0.36, at most to the cap. Between two up to four times apart: E = E1·(t/t1)^−a through both; further apart not
        above what the thicker one gives with exponent 0.36, nor below what the thinner film bears as it is. Thicker
        than every point: down with 0.67, or with the last two points' exponent where it is steeper.
        """
        thick, thick_kv = self.points[-1]
        if film_um <= self.points[0][0]:
            return self._thinner(LAW_LEAST, film_um)
        if film_um >= thick:
            return _law(thick, thick_kv, max(LAW_MOST, self._last_exponent()), film_um)
        t1, e1, t2, e2 = self._span(film_um)
        line = _law(t1, e1, _exponent(t1, e1, t2, e2), film_um)
        if t2 / t1 <= NEAR:
            return line
        return min(line, max(_law(t2, e2, LAW_LEAST, film_um), e1 * t1 / film_um))

    def most_at(self, film_um: float) -> float:
        """The other end of the band, kV/mm; equal to ``at`` where the points carry the value."""
        thick, thick_kv = self.points[-1]
        if film_um <= self.points[0][0]:
            return self._thinner(LAW_MOST, film_um)
        if film_um >= thick:
            return _law(thick, thick_kv, LAW_LEAST, film_um)
        t1, e1, t2, e2 = self._span(film_um)
        return _law(t1, e1, _exponent(t1, e1, t2, e2), film_um)

    def breakdown_v(self, film_um: float) -> float:
        """Voltage that punctures sound film, V: strength times thickness (1 kV/mm is 1 V/µm)."""
        return self.at(film_um) * film_um

    def by_law(self, film_um: float) -> bool:
        """Whether the published law makes the value: not at a point, between two near ones, or flat from film."""
        if any(film_um == at for at, _ in self.points):
            return False
        if film_um < self.points[0][0]:
            return self.points[0][0] > FILM_TO_UM
        if film_um > self.points[-1][0]:
            return True
        t1, _, t2, _ = self._span(film_um)
        return t2 / t1 > NEAR

    def _thinner(self, exponent: float, film_um: float) -> float:
        thin, thin_kv = self.points[0]
        if thin <= FILM_TO_UM:
            return thin_kv
        return min(_law(thin, thin_kv, exponent, film_um), max(thin_kv, self.cap_kv_mm))

    def _span(self, film_um: float) -> tuple[float, float, float, float]:
        return next((t1, e1, t2, e2) for (t1, e1), (t2, e2) in pairwise(self.points) if film_um <= t2)

    def _last_exponent(self) -> float:
        if len(self.points) < 2:
            return 0.0
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
        thin_um, thin_kv = self.points[0]
        most = voltage_v / thin_kv
        if most > thin_um:
            low, high = thin_um, 1.0e7
            for _ in range(200):
                middle = (low + high) / 2.0
                low, high = (middle, high) if self.breakdown_v(middle) < voltage_v else (low, middle)
            most = (low + high) / 2.0
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


def lining_points(points: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """The points that say something about a lining: (at_um, kv_mm) at 100 µm and more."""
    return [(at_um, kv_mm) for at_um, kv_mm in points if at_um >= LINING_FROM_UM]


def film_cap(points: Iterable[tuple[float, float]]) -> float:
    """The highest strength measured on film of a polymer, 100 µm to 1 mm, kV/mm; 30 where there is none.

    >>> film_cap([(25.4, 260.0), (254.0, 79.0), (3180.0, 21.0)]), film_cap([(3175.0, 10.2)])
    (79.0, 30.0)
    """
    return max((kv for at, kv in lining_points(points) if at <= FILM_TO_UM), default=COATING_KV_MM)


def _law(at_um: float, kv_mm: float, exponent: float, film_um: float) -> float:
    return float(kv_mm * (film_um / at_um) ** -exponent)


def _exponent(t1: float, e1: float, t2: float, e2: float) -> float:
    return -math.log(e2 / e1) / math.log(t2 / t1)
