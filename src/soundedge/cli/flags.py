"""What all friendly commands share: quantities with units in the flags, ``--json``, one way to show an answer."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from typing import Any

import click

from ..basis.errors import BenchError
from ..basis.sentences import told
from ..basis.unit_table import UNITS
from ..basis.units import quantity

VERDICT_SHOWN = {
    "conforms": "● conforms",
    "does_not_conform": "✕ does not conform",
    "indeterminate": "◐ too close to call",
    "not_measured": "○ not measured",
}
_PLAIN = {"●": "(o)", "✕": "(x)", "◐": "(?)", "○": "( )", "−": "-", "±": "+/-", "…": "...", "→": "->", "≤": "<=",
          "≥": ">=", "µ": "u", "·": ".", "×": "x", "–": "-", "²": "2", "³": "3"}


class QuantityType(click.ParamType):
    """A flag that takes a number with its unit and hands on the house's own number."""

    def __init__(self, kind: str, what: str) -> None:
        self.kind = kind
        self.what = what
        self.name = " | ".join(unit for unit in list(UNITS[kind])[:2] if unit) or "number"

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        """The typed text in the house's unit; BenchError Unreadable otherwise."""
        if isinstance(value, (int, float)):
            return float(value)
        return quantity(value, self.kind, what=self.what)


def quantity_type(kind: str, what: str) -> QuantityType:
    """A click type for one kind of quantity of ``basis.units.UNITS``: ``quantity_type("temperature_c", "Air")``."""
    return QuantityType(kind, what)


def answer_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Adds ``--json`` (parameter ``as_json``) to a command."""
    return click.option("--json", "as_json", is_flag=True, help="Print the whole answer as JSON.")(command)


def show(
    answer: dict[str, Any],
    as_json: bool,
    rows: Sequence[tuple[str, str]] = (),
    *,
    title: str = "",
    cautions: Sequence[str] = (),
) -> None:
    """Print an answer: verdict first, then the named values, then each finding with its reason and next move.

    Parameters
    ----------
    answer : dict
        As ``services.ask.ask`` returns it.
    as_json : bool
        Print it as JSON and nothing else.
    rows : list of (label, text)
        The values worth reading, already with their units.
    cautions : list of str
        Printed before everything else.
    """
    if as_json:
        tell(json.dumps(answer, ensure_ascii=False, indent=1))
        return
    for caution in cautions:
        tell(f"! {caution}")
    if title:
        tell(title)
    verdict = answer.get("verdict")
    if verdict:
        tell(f"{VERDICT_SHOWN.get(verdict, verdict.replace('_', ' '))}")
    width = max((len(label) for label, _ in rows), default=0)
    for label, text in rows:
        tell(f"  {label.ljust(width)}  {text}")
    for finding in answer.get("findings", []):
        tell(f"  {VERDICT_SHOWN[finding['verdict']]}: {finding['because']}")
        if finding["verdict"] != "conforms" and finding["next_move"]:
            tell(f"    → {finding['next_move']}")
        tell(f"    [{finding['source']}]")
    for line in answer.get("sources", []):
        tell(f"  from {line}")


def tell(text: str, *, error: bool = False) -> None:
    """One line to the terminal, in letters it has; never a crash on a narrow code page. What goes to stderr is for a person."""
    if error:
        text = in_words(text)
    stream = sys.stderr if error else sys.stdout
    encoding = stream.encoding or "ascii"
    try:
        text.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        for sign, plain in _PLAIN.items():
            text = text.replace(sign, plain)
        text = text.encode("ascii", "replace").decode("ascii")
    click.echo(text, err=error)


def fail(error: BenchError, *, as_json: bool) -> int:
    """Print an error the one way it leaves the house and return its exit code."""
    if as_json:
        tell(json.dumps(error.as_json(), ensure_ascii=False))
    else:
        tell(error.message, error=True)
    return error.exit_code


def in_words(message: str) -> str:
    """A sentence in the language and units of whoever sits at the terminal."""
    from ..services.people.setting import reader

    return str(told(message, *reader()))
