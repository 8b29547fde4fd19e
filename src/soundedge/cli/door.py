"""The plainest door: JSON on standard input, JSON on standard output, one exit code."""

from __future__ import annotations

import json
import sys

from ..basis.errors import BenchError
from ..basis.strict_json import SIZE_MAX_BYTES, loads
from ..services.ask import ask, room_named


def answer_stdin(room: str) -> int:
    """Read a request, write the answer or the error.

    Returns 0 with an answer, 2 with ``{"error": …}``, 3 when a measurement is refused.
    """
    try:
        room_named(room)
        answer = ask(room, loads(sys.stdin.buffer.read(SIZE_MAX_BYTES + 1)))
    except BenchError as error:
        _write(error.as_json())
        return error.exit_code
    _write(answer)
    return 3 if answer.get("refused") else 0


def _write(value: object) -> None:
    try:
        sys.stdout.buffer.write((json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode())
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        # nobody reads any more; closing stdout quietly keeps the interpreter from complaining at its end
        sys.stdout = None  # type: ignore[assignment]
