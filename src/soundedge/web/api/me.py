"""Who am I to the bench?"""

from __future__ import annotations

from typing import Any

from django.middleware.csrf import get_token
from ninja import Router, Schema

from ..page import READERS
from .door import operation

router = Router(tags=["people"])


class Me(Schema):
    """The signed-in person."""

    person: str
    name: str
    role: str
    shop: str
    device: str | None
    units: str
    language: str
    csrf: str


@operation(router, "GET", "/me", roles=READERS, answers=Me, summary="Who is signed in, in which shop, on which device")
def me(request: Any) -> dict[str, Any]:
    """The signed-in person, their shop and this device."""
    user = request.user
    return {
        "person": user.person,
        "name": user.name,
        "role": user.role,
        "shop": user.shop.slug,
        "device": request.device.name if request.device else None,
        "units": user.units,
        "language": user.language,
        "csrf": get_token(request),
    }
