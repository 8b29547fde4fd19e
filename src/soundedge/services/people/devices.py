"""How a tablet is enrolled to record for a shop, and how much it may send.

A device is enrolled once, with a code from a manager or by a manager who sits at it; it holds a secret of its own. Each
enrolment is an event of the shop's own chain (desk/register.py); the rows here only let it in.
"""

from __future__ import annotations

import secrets
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from ...basis.errors import NotEnough, Refused, Unreadable
from ...basis.sentences import say
from ..desk import register
from ..desk.actor import Actor
from .one_time import code, digest_of, use_code
from .setting import data_of

if TYPE_CHECKING:
    from ...store.accounts.models import Device, Shop

CODE_DAYS = 2  # own estimate
PHOTO_BYTES_DAY = 5_000_000_000  # own estimate: 200 of the largest photos a day from one device


class Closed(Refused):
    """Too many wrong passwords, or too many photos of one device: none is looked at for a while."""

    kind = "locked"


def device_code(shop: Shop, *, by: Actor, now: datetime) -> str:
    """A code with which one device is enrolled once."""
    from ...store.accounts.models import OneTimeCode

    text = code(3)
    OneTimeCode.objects.create(
        purpose="device", shop=shop, code_sha256=digest_of(text), made_by=by.person, until=now + timedelta(days=CODE_DAYS)
    )
    return text


def enrol_with_code(shop: Shop, typed: str, label: str, *, by: Actor, now: datetime) -> tuple[Device, str]:
    """Enrol the device at hand with a manager's code: in that manager's name, with who typed it beside it."""
    from django.db import transaction

    with transaction.atomic():
        given = use_code("device", typed, now, shop=shop)
        gave = given.made_by or by.person
        typed_by = by.person if by.person != gave else ""
        return enrol_device(shop, label, by=Actor(gave, by.name, by.role, None), now=now, typed_by=typed_by)


def enrol_device(shop: Shop, label: str, *, by: Actor, now: datetime, typed_by: str = "") -> tuple[Device, str]:
    """A device of the shop, and the secret it keeps."""
    from django.db import transaction

    from ...store.accounts.models import Device

    label = " ".join(label.split())[:120]
    if not label:
        raise NotEnough("label", say("people.device_unnamed"))
    if not label.isprintable():
        raise Unreadable("label", say("people.device_name_unprintable"))
    token = secrets.token_urlsafe(32)
    with transaction.atomic():
        number = 1 + Device.objects.filter(shop=shop).count()
        device = Device.objects.create(
            shop=shop, name=f"d{number}", label=label, token_sha256=digest_of(token), enrolled_at=now, enrolled_by=by.person
        )
        register.enrol_device(data_of(shop), by, device.name, label, now=now, typed_by=typed_by)
    return device, token


def device_with(shop: Shop, token: str) -> Device | None:
    """The enrolled device that holds this secret, or None."""
    from ...store.accounts.memory import recalled
    from ...store.accounts.models import Device

    if not token:
        return None
    digest = digest_of(token)
    return recalled(("device", shop.pk, digest),
                    lambda: Device.objects.filter(shop=shop, token_sha256=digest, revoked_at=None).first())


def counted_under(login: str, token: str) -> str:
    """What wrong passwords for a sign-in name are counted under: the name, and at an enrolled device of the shop that as well.

    So nobody elsewhere shuts out the technician at the tablet, and nobody at the tablet shuts them out elsewhere. Nobody can
    type such a count: a sign-in name has no colon.
    """
    from ...store.accounts.models import Device

    held = token and Device.objects.filter(token_sha256=digest_of(token), revoked_at=None, shop__accounts__login=login).first()
    return f"{held.shop_id}.{held.name}:{login}" if held else login


def photos_left(device: Device, *, now: datetime) -> int:
    """Bytes of photos that the device may still send today (UTC).

    Raises
    ------
    Closed
        It has sent as many as a device may; its readings are taken all the same.
    """
    from ...store.accounts.models import Device

    today = Device.objects.filter(pk=device.pk, photos_on=now.astimezone(UTC).date())
    sent = today.values_list("photo_bytes", flat=True).first() or 0
    if sent >= PHOTO_BYTES_DAY:
        raise Closed(
            "photo",
            say("people.device_photos_full", sent_gb=sent / 1000000000.0, most_gb=PHOTO_BYTES_DAY / 1000000000.0),
        )
    return PHOTO_BYTES_DAY - sent


def photo_taken(device: Device, size: int, *, now: datetime) -> None:
    """Count a photo of ``size`` bytes with those of the day; one sent again counts again."""
    from django.db.models import F

    from ...store.accounts.memory import lets_nobody_out
    from ...store.accounts.models import Device

    today = now.astimezone(UTC).date()
    row = Device.objects.filter(pk=device.pk)
    with lets_nobody_out():
        if not row.filter(photos_on=today).update(photo_bytes=F("photo_bytes") + size):
            row.update(photos_on=today, photo_bytes=size)


def revoke_device(device: Device, *, because: str, by: Actor, now: datetime) -> None:
    """Revoke a device: from the next request on it may not record any more."""
    register.revoke_device(data_of(device.shop), by, device.name, because, now=now)
    device.revoked_at = now
    device.save(update_fields=["revoked_at"])
