"""How does each entry of a job stand in a list: who, when, what was said, and what was corrected or voided in it?

>>> [(line["label"], line["value"]) for line in _lines_of({"body": {"air_c": "19.8", "spots": ["a", "b"]}, "corrections": []})]
[('air_c', '19.8'), ('spots', 'a, b')]
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

from ...basis.quantity import read_instant
from ...job.judge import Outcome
from ...record.entry import Entry
from .correctable import LEFT_OUT

LATE = timedelta(minutes=15)
_CHANGES = ("entry.corrected", "entry.voided")


def rows_of(entries: Sequence[Entry], outcome: Outcome, known: Sequence[dict[str, Any]] = ()) -> list[dict[str, Any]]:
    """Every entry as plain values, in the order of the record, with what was corrected and voided in it.

    ``known``: the rows of the first of these entries, made when there were no more. They stand while nothing that came later
    changes an entry or names somebody.
    """
    later = entries[len(known):]
    if known and not any(entry.kind in (*_CHANGES, "person.named") for entry in later):
        return [*known, *_made(later, outcome)]
    return _made(entries, outcome)


def _made(entries: Sequence[Entry], outcome: Outcome) -> list[dict[str, Any]]:
    changed: dict[str, list[dict[str, Any]]] = {}
    rows: list[dict[str, Any]] = []
    for entry in entries:
        about: dict[str, Any] = {"no": entry.no, "id": entry.id, "by": entry.by,
                                 "by_name": outcome.job.name_of(entry.by), "at": entry.at,
                                 "because": str(entry.body.get("because", ""))}
        if entry.kind in _CHANGES:
            changed.setdefault(str(entry.body.get("entry")), []).append(about | {"kind": entry.kind, "body": entry.body})
        late = read_instant(entry.recorded_at) - read_instant(entry.at) > LATE
        rows.append(about | {
            "kind": entry.kind, "recorded_at": entry.recorded_at, "late": late, "body": entry.body,
            "signed": entry.sig["key"] if entry.sig else "",
        })
    for row in rows:
        own = changed.get(row["id"], [])
        row["corrections"] = [one for one in own if one["kind"] == "entry.corrected"]
        row["voided"] = next((one for one in own if one["kind"] == "entry.voided"), None)
        if row["voided"]:
            row["because"] = row["voided"]["because"]
        row["lines"] = _lines_of(row)
    return rows


def _lines_of(row: dict[str, Any]) -> list[dict[str, Any]]:
    old = {str(one["body"]["field"]): one["body"] for one in reversed(row["corrections"])}  # the first old value
    new = {str(one["body"]["field"]): one["body"] for one in row["corrections"]}
    said = dict(_flat(row["body"], ""))
    lines = []
    for path, value in said.items():
        if path == "because" or path.split(".")[-1] == "because":
            continue
        changed = path in new
        lines.append({"label": path, "value": new[path]["new"] if changed else value,
                      "old": old[path]["old"] if changed else None})
    lines += [{"label": path, "value": body["new"], "old": old[path]["old"]} for path, body in new.items() if path not in said]
    return lines


def _flat(node: Any, path: str) -> list[tuple[str, Any]]:
    if path and path.split(".")[-1] in LEFT_OUT:
        return []
    if isinstance(node, dict):
        return [pair for key, inner in node.items() for pair in _flat(inner, f"{path}.{key}".lstrip("."))]
    if isinstance(node, list):
        if all(not isinstance(one, (dict, list)) for one in node):
            return [(path, ", ".join(str(one) for one in node))] if node else []
        return [pair for place, inner in enumerate(node) for pair in _flat(inner, f"{path}.{place}")]
    return [(path, node)]
