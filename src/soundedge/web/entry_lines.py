"""How a written entry is shown: each value under its name in words, in the reader's units; readings of a table in a row each.

>>> row = {"kind": "picture.taken", "lines": [{"label": "file", "value": "cover.jpg", "old": None}]}
>>> [(line["label"], line["value"]) for line in lines_of(row, "metric")]
[('file', 'cover.jpg')]
"""

from __future__ import annotations

import re
from typing import Any

from django.utils.translation import gettext as _

from ..basis.unit_table import in_units
from ..services.desk import correctable
from .templatetags.bench import minute, pointed, words

SUFFIXES = frozenset({"mm", "mm2", "um", "c", "k", "pct", "v", "s", "w", "l", "ml", "kpa", "m2", "cm", "h"})
OF_A_LIST = re.compile(r"(\w+)\.(\d+)\.(.+)")


def lines_of(row: dict[str, Any], units: str) -> list[dict[str, Any]]:
    """The values of an entry (a row of desk/state.py): ``label``, ``value``, ``old`` (None when it was not corrected).

    What stands in a list of groups (the readings of a heat log, the spots of a film) is one line for each group.
    """
    out: list[dict[str, Any]] = []
    group = ""
    for line in row["lines"]:
        if line["label"] == "because":
            continue
        read = _line(row["kind"], line, units)
        found = OF_A_LIST.fullmatch(line["label"])
        if not found:
            group = ""
            out.append(read)
            continue
        name = f"{_(found[1].replace('_', ' '))} {int(found[2]) + 1}"
        word = called(found[3], read["asked"])
        value, old = (None if read[key] is None else f"{word} {read[key]}" for key in ("value", "old"))
        if name != group:
            group = name
            out.append({"label": name, "value": value, "old": old})
        else:
            out[-1]["value"] += f", {value}"
            if old is not None:
                out[-1]["old"] = f"{out[-1]['old']}, {old}" if out[-1]["old"] else old
    return out


def _line(kind: str, line: dict[str, Any], units: str) -> dict[str, Any]:
    """One value of an entry: what it is called, and itself in the reader's units."""
    asked = correctable.question_of(kind, line["label"])
    return {"asked": asked, "label": called(line["label"], asked), "value": said_in(asked, line["value"], units),
            "old": None if line["old"] is None else said_in(asked, line["old"], units)}


def called(path: str, asked: Any) -> str:
    """What a value is called: its path in words, without the unit that stands beside its number anyway."""
    parts = [str(int(part) + 1) if part.isdigit() else part for part in path.split(".")]
    if asked and asked.unit and parts[-1].rpartition("_")[2] in SUFFIXES:
        parts[-1] = parts[-1].rpartition("_")[0] or parts[-1]
    return " · ".join(str(_(part.replace("_", " "))) for part in parts)


def said_in(asked: Any, value: Any, units: str) -> str:
    """A value as it is read: in the reader's units, yes and no in words, a choice without its underscores."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return str(_("yes") if value else _("no"))
    if asked and asked.type.removeprefix("list_") == "number":
        try:
            numbers = [float(part) for part in str(value).split(",")]
        except ValueError:
            return str(value)
        read = [in_units(number, asked.unit, units) for number in numbers]
        texts = [pointed(f"{number:.6g}") for number, _sign in read]
        said = ("; " if any("," in one for one in texts) else ", ").join(texts)
        return f"{said}\u00a0{read[0][1]}".replace("-", "\u2212").strip()
    if asked and asked.type == "time":
        return minute(value)
    if asked and asked.type == "choice":
        return words(value)
    return str(value)
