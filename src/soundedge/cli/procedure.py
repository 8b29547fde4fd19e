"""``soundedge procedure check FILE``: what does this procedure set, and what does it lack?"""

from __future__ import annotations

import json

import click

from ..basis.finding import SCOPES
from ..basis.quantity import shown
from ..services.procedure import check_procedure
from .flags import answer_options, tell


@click.group("procedure")
def command() -> None:
    """Lining procedures: the shop's limits as a file, each with its source."""


@command.command("check")
@click.argument("file", type=click.Path())
@answer_options
def check(file: str, as_json: bool) -> int:
    """Read FILE strictly and list every limit with its source."""
    found = check_procedure(file)
    if as_json:
        tell(json.dumps(found, ensure_ascii=False, indent=1))
        return 0
    head = found["procedure"]
    tell(f"{head['id']}  {head['title']}  edition {head['edition'] or 'not stated'}")
    tell(f"  approved by {head['approver'] or 'nobody'} on {head['approved_on'] or 'no date'}")
    if head["example"]:
        tell("  ! This is an example. It is not a procedure anybody has approved for real work.")
    rule = found["decision"]
    guarded = f" at {rule['probability']:g}, {SCOPES[rule.get('scope', 'all')]}" if rule["rule"] == "guarded" else ""
    tell(f"  decision rule: {rule['rule']}{guarded}")
    for limit in found["limits"]:
        tell(f"  {limit['name']:<46} {shown(limit['value']):>9} {limit['unit']:<6} [{limit['source']}]")
    if found["not_set"]:
        tell(f"  not set: {', '.join(found['not_set'])}")
    return 0
