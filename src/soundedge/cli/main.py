"""``soundedge``: which command, and how does it end?

    0   done, and what was asked for holds
    2   the request cannot be used; the message says why and what to do
    3   an answer that holds the job, or a measurement that was refused
    4   a certificate or record that does not say what it said
    5   a certificate whose record holds, and nothing shows that the page belongs to it

``soundedge ask ROOM`` is answered here without waking the other commands: it is asked by programs, often.
"""

from __future__ import annotations

import gc
import os
import sys


def main(argv: list[str] | None = None) -> None:
    """Run one command and leave with its exit code."""
    arguments = sys.argv[1:] if argv is None else argv
    if arguments[:1] == ["ask"] and len(arguments) == 2 and not arguments[1].startswith("-"):
        _ask(arguments[1], alone=argv is None)
    from .bench import run

    sys.exit(run(arguments))


def _ask(room: str, *, alone: bool) -> None:
    """One answer and out. In a process of its own (``alone``) nothing is swept up behind it: collecting the garbage
    of an answer that is already written costs a fifth of the whole (bench/conditions.py)."""
    if alone:
        gc.disable()
    from .door import answer_stdin

    code = answer_stdin(room)
    if alone:
        for stream in (sys.stdout, sys.stderr):
            if stream is not None:
                stream.flush()
        os._exit(code)
    sys.exit(code)
