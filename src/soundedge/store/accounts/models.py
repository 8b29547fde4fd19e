"""What must be known before somebody may sign in: their shop, their account, the device they hold, and for how long.

An account belongs to one shop and to one person of that shop's register; what the person did stands in the
ledger under their id, never here. Rows here may change; nothing that is evidence is kept in them.

    Shop ── Account ── SignedIn (one row per session)
      └──── Device        OneTimeCode (first start, device)
"""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models

from .sessions import SignedIn as SignedIn

ROLES = ("technician", "inspector", "engineer", "manager", "auditor")
UNITS = ("metric", "us")
LANGUAGES = ("en", "de")


class Shop(models.Model):
    """A shop of this installation. ``slug`` names its folder; nothing of one shop is seen from another."""

    slug = models.SlugField(max_length=40, unique=True)
    name = models.CharField(max_length=120)
    opened_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.name


class Accounts(BaseUserManager):
    """How accounts are found and made."""

    def get_by_natural_key(self, username: str | None) -> Any:
        """By login, the case of its letters not minded."""
        return self.get(login=(username or "").strip().casefold())


class Account(AbstractBaseUser):
    """One way in for one person of one shop. There is no account that stands above the shops."""

    login = models.CharField(max_length=80, unique=True)
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="accounts")
    person = models.CharField(max_length=40)
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=12, choices=[(role, role) for role in ROLES])
    units = models.CharField(max_length=6, default="metric", choices=[(unit, unit) for unit in UNITS])
    language = models.CharField(max_length=5, default="en", choices=[(tongue, tongue) for tongue in LANGUAGES])
    is_active = models.BooleanField(default=True)
    one_time = models.BooleanField(default=True)  # the password was given by somebody else and must be changed
    one_time_until = models.DateTimeField(null=True, blank=True)
    password_at = models.DateTimeField()
    made_by = models.CharField(max_length=40)

    objects = Accounts()
    USERNAME_FIELD = "login"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints: ClassVar[list[Any]] = [
            models.UniqueConstraint(fields=["shop", "person"], name="one_account_per_person"),
        ]


class Device(models.Model):
    """A tablet, phone or laptop that may record for a shop. ``token_sha256`` is of a secret only the device holds."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="devices")
    name = models.CharField(max_length=12)  # d1, d2 …: the beginning of every entry's id that it makes
    label = models.CharField(max_length=120)
    token_sha256 = models.CharField(max_length=64, unique=True)
    enrolled_at = models.DateTimeField()
    enrolled_by = models.CharField(max_length=40)
    revoked_at = models.DateTimeField(null=True, blank=True)
    photos_on = models.DateField(null=True, blank=True)  # the day (UTC) of which photo_bytes speaks
    photo_bytes = models.BigIntegerField(default=0)

    class Meta:
        constraints: ClassVar[list[Any]] = [models.UniqueConstraint(fields=["shop", "name"], name="one_name_per_device")]


class OneTimeCode(models.Model):
    """A code that opens one thing once: the first start of an installation, or a new device of a shop."""

    purpose = models.CharField(max_length=12, choices=[("first", "first"), ("device", "device")])
    shop = models.ForeignKey(Shop, null=True, blank=True, on_delete=models.CASCADE)
    code_sha256 = models.CharField(max_length=64, unique=True)
    made_by = models.CharField(max_length=40, blank=True)
    until = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
