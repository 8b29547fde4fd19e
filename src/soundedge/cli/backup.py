"""``soundedge backup make|restore|drill|declare-restore|export``: copies that were opened before anybody relies on them."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from ..basis.sentences import say
from .flags import tell
from .people import DATA, KEYS, passphrases, two_people


class _FolderFirst(click.Group):
    """``soundedge backup FOLDER`` is ``soundedge backup make FOLDER``."""

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """The named command, or ``make`` for what is no command's name."""
        if args and args[0] not in self.commands:
            return "make", self.commands["make"], args
        return super().resolve_command(ctx, args)

    def parse_args(self, ctx: Any, args: list[str]) -> Any:
        """Options in front belong to ``make`` as well."""
        if args and args[0] not in self.commands and args[0] not in ("-h", "--help"):
            args = ["make", *args]
        return super().parse_args(ctx, args)


@click.group("backup", cls=_FolderFirst)
def command() -> None:
    """Copy the data folder, bring it back, and try whether that works. Keys are never copied.

    soundedge backup FOLDER is short for soundedge backup make FOLDER.
    """


@command.command("make")
@click.argument("folder", type=click.Path())
@KEYS
@DATA
def make(folder: str, keys: str | None, data: str) -> int:
    """Copy ledger, files and settings to FOLDER; the copy is opened and verified before this says done."""
    from ..services.evidence import backup

    tell(backup.make(Path(data), Path(folder), now=datetime.now(UTC), keys=_keys(keys, data)).said)
    return 0


@command.command("restore")
@click.argument("source", type=click.Path())
@click.argument("to", type=click.Path())
@KEYS
def restore(source: str, to: str, keys: str | None) -> int:
    """Bring the backup in SOURCE back to TO, a new folder; then say how it stands to every witness.

    Exit 0 when it continues what every witness has seen, 3 when somebody has seen more: two people then declare it.
    """
    from ..services.evidence import backup, key_files

    copy, found = backup.restore(Path(source), Path(to), keys_folder=key_files.key_folder(keys))
    tell(f"Restored to '{to}': {copy.counts} as of {copy.made_at}, verified.")
    tell(found.said)
    if found.fault is not None:
        tell(say("evidence.read_only").strip())
    return 3 if found.fault is not None else 0


@command.command("drill")
@click.argument("folder", type=click.Path())
def drill(folder: str) -> int:
    """Restore the backup in FOLDER to a temporary place, verify it, delete it, and say how long it took."""
    from ..services.evidence import backup

    copy, seconds = backup.drill(Path(folder))
    tell(f"The backup of {copy.made_at} can be brought back: {copy.counts} restored and "
         f"verified in {seconds:.1f} s, then deleted.")
    return 0


@command.command("declare-restore")
@two_people
@KEYS
@DATA
def declare(by: tuple[str, ...], files: tuple[str, ...], because: str, keys: str | None, data: str) -> int:
    """Two people declare that this older ledger counts from now on; kept as an entry with their names and the reason."""
    from ..services.evidence import backup, key_files, keyring

    held = keyring.load(key_files.key_folder(keys), data=Path(data))
    tell(backup.declare(Path(data), passphrases(by, files), because, keys=held, now=datetime.now(UTC)))
    return 0


@command.command("export")
@click.argument("folder", type=click.Path())
@KEYS
@DATA
def export(folder: str, keys: str | None, data: str) -> int:
    """Write the whole log, every record, the checkpoint and the public keys to FOLDER, for somebody who checks all of it."""
    from ..services.evidence import backup

    tell(backup.export(Path(data), Path(folder), keys=_keys(keys, data)))
    return 0


def _keys(keys: str | None, data: str) -> Any:
    from ..services.evidence import key_files, keyring

    place = key_files.key_folder(keys)
    return keyring.load(place, data=Path(data)) if keyring.there(place) else None
