"""How does an installation come to its tables? Django set up once, every migration applied."""

from __future__ import annotations

import os

from .setting import root


def ready() -> None:
    """Django set up for this process; needed before accounts are asked for anything."""
    import django
    from django.apps import apps

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "soundedge.web.settings")
    if not apps.ready:
        django.setup()


def migrate() -> None:
    """Every table as this version needs it; nothing is done when it is so already."""
    root().mkdir(parents=True, exist_ok=True)
    ready()
    from django.core.management import call_command

    call_command("migrate", verbosity=0, interactive=False)
