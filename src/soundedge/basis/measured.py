"""What is a number worth when it comes from an instrument?

>>> Measured(900.0, 18.0).expanded()
36.0
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .errors import OutOfRange
from .sentences import say


@dataclass(frozen=True)
class Measured:
    """A number in the unit its name says, with its standard uncertainty ``u`` in the same unit.

    ``value`` is any finite float and ``u`` is finite and at least 0 (OutOfRange otherwise).
    """

    value: float
    u: float = 0.0

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise OutOfRange("value", say("basis.value_not_finite", value=self.value))
        if not (math.isfinite(self.u) and self.u >= 0):
            raise OutOfRange("u", say("basis.uncertainty_negative", u=self.u))

    def expanded(self, k: float = 2.0) -> float:
        """Expanded uncertainty U = k·u (JCGM 100:2008, 6.2.1)."""
        return k * self.u


def together(*parts: float) -> float:
    """Root of the sum of squares of independent standard uncertainties (JCGM 100:2008, 5.1.2).

    >>> together(3.0, 4.0)
    5.0
    """
    return math.hypot(*parts) if parts else 0.0
