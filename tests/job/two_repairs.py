"""The released cover with a second chip, B, repaired the same day: every entry of A once more, for B, by the same people."""

import copy
from datetime import timedelta

from .sheets import sheet

# As far from A as the chip B lies: A is at -60, 35, B at 100, -150.
ACROSS, DOWN = 160, -185
LATER = timedelta(minutes=2)  # what is done of B is done after that of A
OF_EACH = ("layer", "heat_log", "film", "holiday", "sign")


def two(names: bool = True) -> dict:
    """The sheet of both repairs; ``names``: whether the entries say which one they are of."""
    typed = sheet()
    chip = typed["damage"][1]
    for stage, d in ((0, 12), (1, 20)):
        first = typed["damage"][stage]
        typed["damage"].append({"at": first["at"] + LATER, "by": first["by"], "id": "B", "stage": first["stage"],
                                "kind": chip["kind"], "pit_depth_mm": 0.1, "circle_mm": {"x": 100, "y": -150, "d": d}})
    for section in OF_EACH:
        typed[section] = [one for entry in typed[section] for one in _twice(section, entry, names)]
    for log in typed["heat_log"]:
        log["readings"] = copy.deepcopy(log["readings"])
    return typed


def _twice(section: str, entry: dict, names: bool) -> list[dict]:
    of_a, of_b = copy.deepcopy(entry), copy.deepcopy(entry)
    of_b["at"] += LATER
    for spot in of_b.get("spots", ()) if section == "film" else ():
        if "x" in spot:
            spot["x"], spot["y"] = spot["x"] + ACROSS, spot["y"] + DOWN
    if not names:
        return [of_a, of_b]
    return [of_a | {"repair": "A"}, of_b | {"repair": "B"}]


def of(typed: dict, section: str, letter: str) -> list[dict]:
    """The entries of one repair in a section."""
    return [entry for entry in typed[section] if entry.get("repair") == letter]


def without(typed: dict, letter: str) -> dict:
    """The sheet without a single entry that names this repair."""
    for section in OF_EACH:
        typed[section] = [entry for entry in typed[section] if entry.get("repair") != letter]
    return typed
