"""The kinds of damage that every room knows by the same words."""

from __future__ import annotations

from typing import Literal

DamageKind = Literal[
    "chip", "crack", "blister", "lifted_edge", "corrosion", "gouge", "cut", "scratch", "pinhole", "disbond", "stain",
    "swelling", "burn", "thin_area", "wear", "earlier_repair", "other",
]
