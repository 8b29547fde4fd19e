"""All commands of the bench, each imported only when it is asked for."""

from __future__ import annotations

from importlib import import_module
from typing import Any

import click

from ..basis.errors import BenchError
from ..basis.sentences import say
from .flags import fail, tell

# command → (module, one line). Modules are imported only when their command is asked for.
COMMANDS = {
    "job": ("job", "Open, run and show a job folder."),
    "verify": ("verify", "Check certificates and records, offline."),
    "record": ("record", "Rebuild or export the record."),
    "key": ("key", "Make, show and rotate the shop's keys."),
    "witness": ("witness", "Let a second place keep what the ledger was."),
    "backup": ("backup", "Copy the data folder, and bring it back."),
    "serve": ("serve", "Open the bench for browsers and tablets."),
    "shop": ("shop", "The shops of an installation, and who may come in."),
    "database": ("database", "PostgreSQL instead of files: prepare, show, move."),
    "doctor": ("doctor", "Saved, verified, backed up, witnessed?"),
    "procedure": ("procedure", "Check a lining procedure file."),
    "ask": ("ask", "Ask a room: JSON in, JSON out."),
    "card": ("card", "Print the target card for photos."),
    "survey": ("survey", "Measure damage from a photo."),
    "disposition": ("disposition", "May this damage be spot-repaired?"),
    "conditions": ("conditions", "May this steel be worked on now?"),
    "hazards": ("hazards", "Vapour, fume, burns, fire watch: estimates."),
    "heat": ("heat", "What the steel does under the hot-air gun."),
    "buildup": ("buildup", "Layers, powder and where to place it."),
    "thickness": ("thickness", "What the film readings prove."),
    "holiday": ("holiday", "A test voltage that finds holes and harms nothing."),
    "instruments": ("instruments", "Gauge checks, suspect readings, studies."),
}


class Bench(click.Group):
    """The group of all commands; each is imported only when it is used."""

    def list_commands(self, ctx: Any) -> list[str]:
        """All commands in the order of the job."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, name: str) -> click.Command | None:
        """The command, or None when there is none of that name."""
        if name not in COMMANDS:
            return None
        return import_module(f".{COMMANDS[name][0]}", __package__).command

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The list of commands, without waking their modules."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, line) for name, (_, line) in COMMANDS.items()])


@click.group(cls=Bench, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="soundedge", prog_name="soundedge")
def bench() -> None:
    """The bench for people who spot-repair and prove thick protective linings on steel parts.

    Start with an example: soundedge job run examples/mixer-cover --out out/mixer-cover
    """


def run(arguments: list[str]) -> int:
    """Run one command; its exit code. No traceback for anything a person typed."""
    as_json = "--json" in arguments or arguments[:1] == ["ask"]
    try:
        result = bench.main(args=arguments, prog_name="soundedge", standalone_mode=False)
        return result if isinstance(result, int) else 0
    except BenchError as error:
        return fail(error, as_json=as_json)
    except click.exceptions.Exit as leave:
        return leave.exit_code
    except click.Abort:
        tell(say("cli.stopped"), error=True)
        return 130
    except click.ClickException as error:
        if as_json:
            return fail(BenchError("", say("cli.usage", message=error.format_message().rstrip('.'))), as_json=True)
        error.show()
        return 2
    except BrokenPipeError:
        return 0
