"""Gauge readings from a file: by spot, with what could not be read set aside and shown."""

from __future__ import annotations

import csv
import io
from typing import Any

from ..basis.errors import Missing, NotEnough, Unknown
from .tables import decoded

COLUMNS = ("spot", "where", "x_mm", "y_mm", "reading_um")


def film_readings(
    raw: bytes, *, what: str, field: str, unit: str | None = None, columns: dict[str, str] | None = None
) -> dict[str, Any]:
    """Spots with their readings from the bytes of a CSV; a bad line is kept aside, not lost."""
    text = decoded(raw, what, field)
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 2:
        raise NotEnough(field, f"{what} has no line below its header. Measure, or leave the file out.")
    separator = max(";\t,", key=lines[0].count)
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=separator))
    header = [name.strip().lower() for name in rows[0]]
    if "reading_um" not in header:
        raise Missing(field, f"{what} has no column 'reading_um'. Its first line names: {', '.join(COLUMNS)}.")
    strange = [name for name in header if name not in COLUMNS]
    if strange:
        raise Unknown(field, f"{what} has a column '{strange[0][:40]}' that is not known. Known: {', '.join(COLUMNS)}.")
    spots: dict[str, dict[str, Any]] = {}
    aside = []
    for number, row in enumerate(rows[1:], 2):
        try:
            cells = dict(zip(header, (cell.strip() for cell in row), strict=True))
            value = float(cells["reading_um"].replace(",", ".") if separator != "," else cells["reading_um"])
            name = cells.get("spot") or str(len(spots) + 1)
            spot = spots.setdefault(name, {"id": name, "readings_um": [], "where": cells.get("where") or "repair"})
            for key in ("x", "y"):
                if cells.get(f"{key}_mm"):
                    spot[key] = float(cells[f"{key}_mm"])
            spot["readings_um"].append(value)
        except ValueError:
            aside.append(f"line {number}: {separator.join(row)}"[:200])
    if not spots:
        raise NotEnough(field, f"{what} holds no reading that can be read. Look at its columns.")
    return {"spots": list(spots.values()), "set_aside": aside}
