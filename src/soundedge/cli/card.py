"""``soundedge card``: print the target card that is laid round the damage before the photo."""

from __future__ import annotations

from pathlib import Path

import click

from ..services.survey import card_file, card_self_test
from .flags import tell


@click.command("card")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="File to write: card.pdf or card.svg.")
@click.option("--sheet", type=click.Choice(["small", "large", "strips", "corner"]), default="small", show_default=True,
              help="Which card: 60 mm window, 110 mm window, two strips, or one for corners.")
@click.option("--serial", default="", help="The shop's own number for this card, printed on it.")
@click.option("--self-test", is_flag=True, help="Draw every card, find it again, and compare corner by corner.")
def command(out: Path | None, sheet: str, serial: str, self_test: bool) -> int:
    """Write a target card for photos of damage (A4, print at 100 %)."""
    if self_test:
        worst = card_self_test()
        for name, off_px in worst.items():
            tell(f"{name}: every corner found in its order, at most {off_px:.3f} px from where it was drawn")
    if out is not None:
        card_file(out, sheet=sheet, serial=serial[:40])
        tell(f"{out}: {sheet} card. Print at 100 %, measure both 100 mm bars with a steel rule, type what you read.")
    if out is None and not self_test:
        raise click.UsageError("Nothing to do: name a file with --out card.pdf, or ask for --self-test.")
    return 0
