"""Who acts at the bench: a person of the shop's register, in their role, at a device."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Actor:
    """The person's id in the register, name, role, and the name of the device they hold (None: not enrolled)."""

    person: str
    name: str
    role: str
    device: str | None = None
