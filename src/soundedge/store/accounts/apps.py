"""The Django app's name."""

from django.apps import AppConfig


class AccountsConfig(AppConfig):
    """Shops, accounts, devices, sessions."""

    name = "soundedge.store.accounts"
    label = "accounts"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Whatever is written to the tables of people is seen (memory.py)."""
        from django.db.backends.signals import connection_created

        from .memory import watch

        connection_created.connect(watch, dispatch_uid="soundedge.accounts.memory")
