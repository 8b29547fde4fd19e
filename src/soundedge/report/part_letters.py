"""Where does a name go on a drawing, so that it lies on no other?

>>> letters = Letters((0.0, 0.0, 100.0, 100.0), [])
>>> letters.room((10.0, 10.0, 20.0, 20.0), "A", 5.0, 1.0)[2], letters.room((10.0, 10.0, 20.0, 20.0), "B", 5.0, 1.0)[2]
('start', 'end')
"""

from __future__ import annotations

from dataclasses import dataclass

from .part_frame import Box

LETTER_WIDE = 0.66  # of the size, a middling letter


@dataclass
class Letters:
    """The letters of one drawing: its box, and the boxes that are taken. ``room`` takes another."""

    box: Box
    taken: list[Box]

    def room(self, of: Box, said: str, size: float, away: float, *, inside: bool = False) -> tuple[float, float, str]:
        """Where a name goes: x, y, anchor. To the right, left, above, below of its thing, or in it; the first free place."""
        west, north, east, south = of
        mu, mv, low = (west + east) / 2, (north + south) / 2, size * 0.36
        beside = [(east + away, mv + low, "start"), (west - away, mv + low, "end"), (mu, north - away, "middle"),
                  (mu, south + away + size * 0.72, "middle")]
        corners = [(east + away / 2, north - away / 2, "start"), (east + away / 2, south + away / 2 + size * 0.7, "start"),
                   (west - away / 2, north - away / 2, "end"), (west - away / 2, south + away / 2 + size * 0.7, "end")]
        within = [(mu, mv + low, "middle"), (mu, north + size * 1.1, "middle"), (mu, south - size * 0.4, "middle")]
        tries = [*within, *beside, *corners] if inside else [*beside, *corners]
        tries += [(u, v + step * size, anchor) for step in (1, -1, 2, -2) for u, v, anchor in tries[:2]]
        fits = [one for one in tries if self._holds(letter_box(one[0], one[1], said, size, one[2]))]
        free = (one for one in fits if self._free(letter_box(one[0], one[1], said, size, one[2])))
        chosen = next(free, (fits or tries)[0])
        self.taken.append(letter_box(chosen[0], chosen[1], said, size, chosen[2]))
        return chosen

    def _holds(self, box: Box) -> bool:
        return box[0] >= self.box[0] and box[2] <= self.box[2] and box[1] >= self.box[1] and box[3] <= self.box[3]

    def _free(self, box: Box) -> bool:
        return not any(box[0] < b[2] and b[0] < box[2] and box[1] < b[3] and b[1] < box[3] for b in self.taken)


def letter_box(u: float, v: float, said: str, size: float, anchor: str) -> Box:
    """The box of a text that stands at (u, v), y downwards."""
    wide = len(said) * size * LETTER_WIDE
    west = {"start": u, "middle": u - wide / 2, "end": u - wide}[anchor]
    return west, v - size * 0.75, west + wide, v + size * 0.2
