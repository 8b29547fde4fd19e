"""Gauge readings from a file: by spot, with every line that could not be read set aside and shown."""

from __future__ import annotations

from typing import Any

from ..basis.errors import BenchError, NotEnough
from ..basis.sentences import say


def film_readings(
    raw: bytes, *, what: str, field: str, unit: str | None = None, columns: dict[str, Any] | None = None
) -> dict[str, Any]:
    """Spots with their readings in µm from the bytes of a table.

    Parameters
    ----------
    unit : "um", "mil" or "mm", optional
        Of the readings, where the head of the table does not say.
    columns : dict, optional
        Meaning → head: ``{"reading": "T1", "spot": "Pt"}``; well-known heads are recognised.

    Returns
    -------
    dict
        ``spots`` as the thickness room takes them, in the order of the table, and ``set_aside``: texts of the lines
        that could not be used, each with its number and reason.

    Raises
    ------
    BenchError
        No readable column or unit, or no reading at all.
    """
    from ..thickness.intake import decode, read_table

    try:
        table = read_table(decode(raw)[0], columns=columns, unit=unit)
    except BenchError as fault:
        raise type(fault)(f"{field}.{fault.field}", say("basis.at_place", place=what, why=fault.message)) from None
    if not table.rows:
        why = say("thickness.first_line_set_aside", why=table.aside[0].because) if table.aside else ""
        raise NotEnough(field, say("services.no_usable_reading", what=what, why=why))
    spots: dict[str, dict[str, Any]] = {}
    for row in table.rows:
        spot = spots.setdefault(row.spot, {"id": row.spot, "readings_um": [], "where": row.where})
        for key, value in (("x", row.x), ("y", row.y)):
            if value is not None:
                spot.setdefault(key, value)
        spot["readings_um"].append(row.value_um)
    aside = [f"line {line.line}: {line.because} ({line.text[:120]})" for line in table.aside]
    return {"spots": list(spots.values()), "set_aside": aside}
