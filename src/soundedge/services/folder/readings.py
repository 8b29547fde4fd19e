"""Film readings from a file of the bench, and back into one: nothing is lost on either way."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ...basis.errors import Contradiction, NotEnough
from ...basis.sentences import say
from ..files import read_bytes, write_whole


def readings_file(
    path: str | Path, *, unit: str | None = None, decimal: str | None = None, columns: dict[str, Any] | None = None,
    per_spot: int | None = None, typed: bool = False,
) -> dict[str, Any]:
    """The readings of a table, or of a file as a gauge typed it.

    Returns
    -------
    dict
        ``spots`` for the thickness room, ``set_aside`` lines, ``encoding``, ``columns``, ``unit``, ``unit_from``,
        ``decimal``, ``delimiter``, ``preview`` and the ``rows``.

    Raises
    ------
    BenchError
        No file, no text, no unit, no reading column.
    """
    from ...thickness.intake import decode, read_table, read_typed, spots_of

    text, encoding = decode(read_bytes(path, what="The readings", field="readings"))
    if typed:
        table = read_typed(text, unit, decimal)
    else:
        table = read_table(text, columns=columns, unit=unit, decimal=decimal, per_spot=per_spot)
    return {
        "spots": spots_of(table.rows), "set_aside": [aside._asdict() for aside in table.aside], "encoding": encoding,
        "columns": table.columns, "unused": table.unused, "unit": table.unit, "unit_from": table.unit_from,
        "decimal": table.decimal, "delimiter": table.delimiter, "preview": table.preview, "rows": table.rows,
    }


def readings_typed(films_um: Sequence[float], *, per_spot: int | None = None) -> dict[str, Any]:
    """Readings in µm as they were typed, in the shape of ``readings_file``: each a spot of its own, or so many to a spot."""
    from ...thickness.intake import Row

    rows = [Row(place + 1, str(1 + place // (per_spot or 1)), film) for place, film in enumerate(films_um)]
    return as_read({"rows": rows, "aside": []}) | {"encoding": "the command line", "unit_from": "each reading"}


def need_readings(read: dict[str, Any]) -> list[dict[str, Any]]:
    """The spots of ``readings_file``; NotEnough with the first reason when there is none."""
    if not read["spots"]:
        why = say("thickness.first_line_set_aside", why=read["set_aside"][0]["because"]) if read["set_aside"] else ""
        raise NotEnough("readings", say("folder.no_usable_reading", why=why))
    return read["spots"]


def keep_readings(path: str | Path, rows: list[Any]) -> None:
    """Write readings as CSV, whole or not at all; a file that is there already is not overwritten."""
    from ...thickness.intake import write_table

    target = Path(path)
    if target.exists():
        raise Contradiction("out", say("folder.readings_file_exists", file=target))
    write_whole(target, write_table(rows).encode("utf-8"))


def keep_chart(path: str | Path, answer: dict[str, Any], limits: dict[str, float]) -> None:
    """Write the chart of readings as a Vega-Lite specification."""
    import json

    from ...thickness.charts import readings_chart

    spec = readings_chart(answer, limits)  # type: ignore[arg-type]
    write_whole(Path(path), json.dumps(spec, ensure_ascii=False, indent=1).encode("utf-8"))


def as_read(heard: dict[str, Any]) -> dict[str, Any]:
    """What ``gauge.listen`` heard, in the shape of ``readings_file``."""
    from ...thickness.intake import spots_of

    return {
        "spots": spots_of(heard["rows"]), "set_aside": [aside._asdict() for aside in heard["aside"]], "encoding": "the cable",
        "columns": {}, "unused": [], "unit": "", "unit_from": "the line", "decimal": "", "delimiter": "", "preview": [],
        "rows": heard["rows"],
    }
