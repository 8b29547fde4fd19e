"""The Django app's name."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """Shops, accounts, devices, sessions."""

    name = "soundedge.store.accounts"
    label = "accounts"
    default_auto_field = "django.db.models.BigAutoField"
