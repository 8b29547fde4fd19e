"""How do readings come over a cable from a gauge, each with the moment it came in?"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from ..basis.errors import Missing, Unreadable
from ..basis.sentences import say

SILENCE_S = 600.0


def listen(
    port: str,
    *,
    pattern: str,
    unit: str | None = None,
    decimal: str = ".",
    baud: int = 9600,
    readings: int | None = None,
    seconds: float | None = None,
    heard: Callable[[Any], None] | None = None,
) -> dict[str, Any]:
    """Read a serial line until enough readings came, the time is over, or the cable is pulled.

    Parameters
    ----------
    port : str
        Name of the serial port.
    pattern : str
        How the gauge writes a line: ``{spot} {value} {unit}``; see ``thickness.cable.LinePattern``.
    unit, decimal : str
        Of the numbers, when the line has none.
    readings, seconds
        When to stop; without either after ten minutes of silence.
    heard : callable, optional
        Called with each reading as it comes.

    Returns
    -------
    dict
        ``rows`` (each with ``at``), ``aside`` and ``ended``: "enough", "time", "silence" or "unplugged".

    Raises
    ------
    Missing
        The port is not there.
    Unreadable
        The port is busy or cannot be set.
    """
    import serial

    from ..thickness.cable import LinePattern, Lines

    lines = Lines(LinePattern(pattern, unit, decimal))
    try:
        cable = serial.Serial(port, baudrate=baud, timeout=0.2)
    except (serial.SerialException, OSError, ValueError) as error:
        kind = Missing if "No such file" in str(error) or "could not open" in str(error) else Unreadable
        raise kind("port", say("services.port_not_opened", port=port[:100], why=str(error))) from None
    rows: list[Any] = []
    begun = last = time.monotonic()
    ended = ""
    with cable:
        while not ended:
            try:
                data = cable.read(max(1, cable.in_waiting))
            except (serial.SerialException, OSError):
                data, ended = b"", "unplugged"
            now = time.monotonic()
            if data:
                last = now
                at = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
                for row in lines.feed(data, at):
                    rows.append(row)
                    if heard:
                        heard(row)
            if readings is not None and len(rows) >= readings:
                ended = "enough"
            elif seconds is not None and now - begun >= seconds:
                ended = "time"
            elif not ended and now - last > SILENCE_S:
                ended = "silence"
    rows += lines.close(datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"))
    return {"rows": rows, "aside": lines.aside, "ended": ended}
