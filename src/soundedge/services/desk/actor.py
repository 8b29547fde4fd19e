"""Who acts at the bench: a person of the shop's register, in his role, at a device."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Actor:
    """The person's id in the register, his name, his role, and the name of the device he holds (None: not enrolled)."""

    person: str
    name: str
    role: str
    device: str | None = None
