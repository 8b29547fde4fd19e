"""``soundedge``: which command, and how does it end?

    0   done, and what was asked for holds
    2   the request cannot be used; the message says why and what to do
    3   an answer that holds the job, or a measurement that was refused
    4   a certificate or record that does not say what it said

``soundedge ask ROOM`` is answered here without waking the other commands: it is asked by programs, often.
"""

from __future__ import annotations

import sys


def main(argv: list[str] | None = None) -> None:
    """Run one command and leave with its exit code."""
    arguments = sys.argv[1:] if argv is None else argv
    if arguments[:1] == ["ask"] and len(arguments) == 2 and not arguments[1].startswith("-"):
        from .door import answer_stdin

        sys.exit(answer_stdin(arguments[1]))
    from .bench import run

    sys.exit(run(arguments))
