"""What all friendly commands share: quantities with units in the flags, ``--json``, one way to show an answer."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from typing import Any

import click

from ..basis.errors import BenchError
from ..basis.sentences import told
from ..basis.signs import Sign, sign_of
from ..basis.unit_table import UNITS
from ..basis.units import quantity

# The signs of basis/signs.py in letters that a terminal has.
_MARKS: dict[Sign, str] = {"disc": "●", "arrow": "▶", "box": "▢", "dash": "–", "hourglass": "…", "pencil": "✎", "diamond": "◆",
                           "square": "■"}
_CALLED = {"indeterminate": "too close to call", "conditional": "released on conditions", "temporary": "released for a time"}
_WHY = "soundedge.why"
_PLAIN = {"●": "(o)", "■": "(x)", "◆": "(?)", "▶": "->", "▢": "[ ]", "✎": "(k)", "−": "-", "±": "+/-", "…": "...", "→": "->",
          "≤": "<=", "≥": ">=", "µ": "u", "·": ".", "×": "x", "–": "-", "²": "2", "³": "3"}


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
    """Adds ``--json`` (parameter ``as_json``) and ``--why`` (asked of the context) to a command."""
    why = click.option("--why", is_flag=True, expose_value=False, callback=_keep_why,
                       help="Every rule with its source, and the notes.")
    return click.option("--json", "as_json", is_flag=True, help="Print the whole answer as JSON.")(why(command))


def show(
    answer: dict[str, Any],
    as_json: bool,
    rows: Sequence[tuple[str, str]] = (),
    *,
    title: str = "",
    first: Sequence[str] = (),
    cautions: Sequence[str] = (),
    more: Sequence[tuple[str, str]] = (),
    lines: Sequence[str] = (),
    ahead: int = 0,
    cautions_first: bool = False,
) -> None:
    """Print an answer: the verdict and the next move first, then the values, then the cautions; with ``--why`` all the rest.

    Parameters
    ----------
    answer : dict
        As ``services.ask.ask`` returns it.
    as_json : bool
        Print it as JSON and nothing else.
    rows : list of (label, text)
        The values worth reading, already with their units.
    first : list of str
        Reasons and next moves that are no findings; they stand right below the verdict.
    cautions : list of str
        Printed always, and before anybody goes to the part.
    more : list of (label, text)
        Notes and other rules, for whoever asks why.
    lines : list of str
        What an answer has to say besides, always.
    ahead : int
        So many cautions stand before the verdict: that it is an estimate.
    cautions_first : bool
        The others stand right below the verdict, before any value that could be set.
    """
    if as_json:
        tell(json.dumps(answer, ensure_ascii=False, indent=1))
        return
    for caution in cautions[:ahead]:
        tell(f"! {caution}")
    rest = [f"! {caution}" for caution in cautions[ahead:]]
    findings, verdict = answer.get("findings", []), answer.get("verdict")
    against = [finding for finding in findings if finding["verdict"] != "conforms"]
    if verdict:
        tell(marked(verdict))
    for line in rest if cautions_first else ():
        tell(line)
    if title:
        tell(f"  {title}")
    for finding in against:
        tell(f"  {marked(finding['verdict'])}: {finding['because']}")
        if finding["next_move"]:
            tell(f"    → {finding['next_move']}")
        tell(f"    [{finding['source']}]")
    asked = bool(click.get_current_context().meta.get(_WHY))
    for line in first:
        tell(f"  {line}")
    named = [*rows, *(more if asked else ())]
    width = max((len(label) for label, _ in named), default=0)
    for label, text in rows:
        tell(f"  {label.ljust(width)}  {text}")
    for line in (*(() if cautions_first else rest), *lines):
        tell(line)
    if asked:
        for label, text in more:
            tell(f"  {label.ljust(width)}  {text}")
        for finding in findings:
            tell(f"  {marked(finding['verdict'])}: {finding['because']}")
            tell(f"    [{finding['source']}]")
        for line in answer.get("sources", []):
            tell(f"  from {line}")
    elif findings or more or answer.get("sources"):
        tell("  Rules, notes and sources: the same with --why")


def marked(word: str) -> str:
    """A verdict with its sign: ``● conforms``, ``– not measured``, ``■ does not conform``."""
    return f"{_MARKS[sign_of(word)]} {_CALLED.get(word, word.replace('_', ' '))}"


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


def _keep_why(context: click.Context, _: click.Parameter, why: bool) -> None:
    context.meta[_WHY] = why


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
