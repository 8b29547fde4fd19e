"""``soundedge key new|show|show-paper|from-paper|rotate``: the shop's keys, kept outside the data folder and every backup."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from ..basis.sentences import say
from .flags import tell
from .people import DATA, DATA_IF_ANY, KEYS, passphrase, passphrases, two_people


@click.group("key")
def command() -> None:
    """The keys that sign checkpoints and certificates. SOUNDEDGE_KEYS names their folder."""


@command.command("new")
@click.argument("name", required=False)
@click.option("--shop", default="", help="Who signs, as it stands in the certificate; NAME when left out.")
@click.option("--person", default=None, help="Make a key for a person instead, sealed with a passphrase.")
@click.option("--passphrase-file", "file", type=click.Path(), default=None, help="Her passphrase; asked for otherwise.")
@KEYS
@DATA_IF_ANY
def new(name: str | None, shop: str, person: str | None, file: str | None, keys: str | None, data: str | None) -> int:
    """Make the log's key and the certificate's key; NAME is the log's name, like kelderbeck-basin.example/ledger."""
    from ..basis.errors import Missing
    from ..services.evidence import key_files, keyring, person_keys

    folder = key_files.key_folder(keys)
    if person is not None:
        made = person_keys.new_person(person, passphrase(person, file, new=True), folder=folder)
        tell(f"Key of {person} made in {folder}. Public fingerprint {made.fingerprint}. Nobody can bring the passphrase back.")
        return 0
    if name is None:
        raise Missing("name", say("cli.log_unnamed"))
    held = keyring.new(name, now=datetime.now(UTC), shop=shop, folder=folder, data=Path(data) if data else None)
    _show(held)
    tell("Now: print the paper copy (soundedge key show-paper) and lock it away; give two people a key each (soundedge key new "
        "--person NAME); hand the fingerprints to your customers by another way than with the certificates.")
    return 0


@command.command("show")
@KEYS
@DATA_IF_ANY
def show(keys: str | None, data: str | None) -> int:
    """Show the public keys and fingerprints: what a stranger needs, nothing secret."""
    from ..services.evidence import key_files, keyring

    _show(keyring.load(key_files.key_folder(keys), data=Path(data) if data else None))
    return 0


@command.command("show-paper")
@KEYS
def show_paper(keys: str | None) -> int:
    """Print the log's key for the envelope in the cabinet. Whoever reads it can sign for the shop."""
    from ..services.evidence import key_files, keyring

    tell(say("cli.paper_secret"), error=True)
    click.echo(keyring.paper(keyring.load(key_files.key_folder(keys))), nl=False)
    return 0


@command.command("from-paper")
@click.argument("file", type=click.Path(), default="-")
@KEYS
@DATA_IF_ANY
def from_paper(file: str, keys: str | None, data: str | None) -> int:
    """Bring the log's key back from its paper copy, typed into FILE (or on standard input)."""
    from ..services.evidence import key_files, keyring
    from ..services.files import read_text

    text = sys.stdin.read(10_000) if file == "-" else read_text(Path(file), what="The paper copy", field="file")
    key = keyring.from_paper(text, folder=key_files.key_folder(keys), data=Path(data) if data else None)
    tell(f"Key {key.name} is back; compare its fingerprint with the certificates: {key.fingerprint}")
    tell(f"The certificate's key is not on the paper. If it is gone too, make a new one: soundedge key new {key.name}")
    return 0


@command.command("trust")
@click.argument("file", type=click.Path())
@KEYS
def trust(file: str, keys: str | None) -> int:
    """Take an older public key of this log back from FILE: for when the keys' folder was lost and a new key made."""
    from ..services.evidence import key_files, keyring
    from ..services.files import read_text

    found = keyring.trust(read_text(Path(file), what="The public key", field="file"), folder=key_files.key_folder(keys))
    for key in found:
        tell(f"Trusted for what it signed: {key.name}, fingerprint {key.fingerprint}. Compare it with an old certificate.")
    return 0


@command.command("rotate")
@two_people
@KEYS
@DATA
def rotate(by: tuple[str, ...], files: tuple[str, ...], because: str, keys: str | None, data: str) -> int:
    """Make a new log key. Two people sign it with their passphrases; the old one stays good for what it signed."""
    from ..services.evidence.key_rotation import rotate_keys

    held = rotate_keys(Path(data), passphrases(by, files), because, now=datetime.now(UTC), keys=keys)
    tell(f"The new key counts from now on, signed by {by[0]} and {by[1]}.")
    _show(held)
    tell("Print the new paper copy (soundedge key show-paper), tear up the old one, hand out the new fingerprint.")
    return 0


def _show(held: object) -> None:
    from ..services.evidence.keyring import lines

    for line in lines(held):  # type: ignore[arg-type]
        tell(line)
