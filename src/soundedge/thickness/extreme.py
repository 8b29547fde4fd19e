"""How thin may the thinnest place of the whole area be, from readings on a part of it?

An estimate, and easy to misuse: it needs readings of *one* homogeneous film, taken without choosing, and places so
far apart that they know nothing of each other. A repair edge, a drip or a missed stroke is a different film and no
formula of this page sees it.

>>> g = gumbel_of_minima([470, 455, 462, 448, 466, 459, 451, 472, 444, 463])
>>> round(g.location, 3), round(g.scale, 4), round(g.quantile(0.01), 2)
(463.338, 7.6865, 427.98)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from ..basis.errors import NotEnough
from ..basis.sentences import say
from .moments import mean, sd


class Gumbel(NamedTuple):
    """Extreme value law for minima: P(minimum ≤ t) = 1 − exp(−exp((t − location)/scale))."""

    location: float
    scale: float

    def quantile(self, p: float) -> float:
        """The film below which a block's minimum falls with probability p."""
        return self.location + self.scale * math.log(-math.log1p(-p))

    def of_blocks(self, blocks: float) -> Gumbel:
        """The law of the minimum of ``blocks`` blocks together: the location falls by scale·ln(blocks)."""
        return Gumbel(self.location - self.scale * math.log(blocks), self.scale)


def gumbel_of_minima(minima: Sequence[float]) -> Gumbel:
    """Maximum likelihood fit to the lowest reading of each block.

    At least five blocks that are not all alike (NotEnough otherwise). The scale solves
    δ = Σ x·e^(x/δ)/Σ e^(x/δ) − x̄, the location is δ·ln(mean e^(x/δ)); started from the moments δ = s√6/π.
    """
    if len(minima) < 5:
        raise NotEnough("minima", say("thickness.too_few_blocks", n=len(minima)))
    centre, spread = mean(minima), sd(minima)
    if not spread:
        raise NotEnough("minima", say("thickness.minima_alike"))
    x = [value - centre for value in minima]
    top = max(x)

    def slope(delta: float) -> float:
        e = [math.exp((v - top) / delta) for v in x]
        return delta - math.fsum(v * w for v, w in zip(x, e)) / math.fsum(e)

    low = high = spread * math.sqrt(6) / math.pi
    while slope(low) > 0:
        low /= 2
    while slope(high) < 0:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if slope(middle) < 0 else (low, middle)
    delta = (low + high) / 2
    location = centre + top + delta * math.log(math.fsum(math.exp((v - top) / delta) for v in x) / len(x))
    return Gumbel(location, delta)
