"""Write docs/sources.md from the tables themselves: every source with its mark, every material value with its source.

    python scripts/sources_page.py            writes the page
    python scripts/sources_page.py --check    ends with 1 when the page on disk says something else
    python scripts/sources_page.py --counts   prints how many constants of each room were read, chosen or remembered
"""

import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from soundedge.basis.materials import Material, Value, materials
from soundedge.basis.quantity import shown
from soundedge.basis.sources import MARKS, sources
from soundedge.hazards.solvents import solvents
from soundedge.holiday.rules import rules as voltage_rules
from soundedge.thickness.rule_book import rules as film_rules

PAGE = Path(__file__).parents[1] / "docs" / "sources.md"
FUME = ("fume_c", "toxic_fume_c")
STRENGTH = ("dielectric_strength_kv_mm", "dielectric_strength_thin_kv_mm")
# What a verdict is held against where neither procedure nor request says otherwise; a voltage rule decides only where one of
# them names it.
DECIDE = ("fusion_c", "surface_limit_c", "fume_c", *STRENGTH, "lel_pct", "autoignition_c", "exposure_twa_ppm")


class Constant(NamedTuple):
    """One number of the tables: the room that uses it, how it was come by, and whether a verdict is held against it."""

    room: str
    name: str
    mark: str
    decides: bool


def constants() -> Iterator[Constant]:
    """Every number of the tables. What is reckoned from another one is not counted again; a rule without a number is none."""
    for one in materials().values():
        for name, values in ((one.key, one.values), *((f"{one.key}.{c}", v) for c, v in one.other_classes.items())):
            for what, value in values.items():
                if not value.derived:
                    yield Constant(_room(what), f"{name}.{what}", value.read, what in DECIDE or _ends(one, what, value))
    yield Constant("heat", "melt conducts", "memory", False)
    yield Constant("heat", "melted above the end of melting", "own judgement", True)
    for solvent in solvents().values():
        for what, value in solvent.values.items():
            yield Constant("hazards", f"{solvent.key}.{what}", value.read, what in DECIDE)
    for rule in voltage_rules():
        if rule.branches or rule.range_v:
            yield Constant("holiday", rule.id, next((m for m in MARKS if f"({m})" in rule.source), "first hand"), False)
    for key, film_rule in film_rules().items():
        yield Constant("thickness", key, film_rule.read, True)


def _room(what: str) -> str:
    if what in FUME:
        return "hazards"
    return "holiday" if what in STRENGTH or what == "relative_permittivity" else "heat"


def _ends(one: Material, what: str, value: Value) -> bool:
    """Where no figure of flow is held, the end of melting stands behind the coldest bond allowed."""
    return what == "melt_to_c" and one.values.get(what) is value and one.values["fusion_c"].derived


def counts() -> list[str]:
    """The constants by room and mark, as a table; behind the stroke those that a verdict is held against."""
    held = list(constants())
    rooms = sorted({one.room for one in held})
    lines = [f"| room | {' | '.join(MARKS)} | all | from memory |", f"|---|{'---|' * (len(MARKS) + 2)}"]
    for room in (*rooms, "all"):
        here = [one for one in held if room in (one.room, "all")]
        every, decide = Counter(one.mark for one in here), Counter(one.mark for one in here if one.decides)
        share = [f"{100 * c['memory'] / max(c.total(), 1):.0f} %" for c in (every, decide)]
        cells = [f"{every[mark]} / {decide[mark]}" for mark in MARKS]
        lines.append(f"| {room} | {' | '.join(cells)} | {every.total()} / {decide.total()} | {' / '.join(share)} |")
    return lines


def page() -> str:
    """The whole page as text."""
    held = sources()
    marks = {mark: sum(s.read == mark for s in held.values()) for mark in MARKS}
    lines = [
        "# Sources and materials",
        "",
        "Made by `python scripts/sources_page.py` from the tables of the rooms; do not type here.",
        "",
        f"{len(held)} sources: {marks['first hand']} read first hand, {marks['second hand']} second hand, "
        f"{marks['memory']} from memory. A value from memory wants the print before it decides anything.",
        "",
        "## Constants of the tables, by room",
        "",
        "All, and behind the stroke those that a verdict is held against where procedure and request say nothing. Numbers that "
        "stand in the program beside their formula are not in it: the burn thresholds of ISO 13732-1 (from memory, but for 1 "
        "and 10 minutes on metal and plastic), the widths of the model's doubt (own estimates), the formulas of the air gap.",
        "",
        *counts(),
        "",
        "## Sources",
        "",
        "| key | title | edition | read |",
        "|---|---|---|---|",
    ]
    lines += [f"| `{s.key}` | {_cell(s.title)} | {_cell(s.edition) or '—'} | {s.read} |" for s in held.values()]
    lines += ["", "## Materials", "", "| material | property | value | at | source | read |", "|---|---|---|---|---|---|"]
    for m in materials().values():
        for what, v in sorted(m.values.items()):
            span = f" ({shown(v.low)} to {shown(v.high)})" if v.low is not None and v.high is not None else ""
            cells = (_cell(m.name), f"`{what}`", f"{shown(v.value)}{span}", _cell(v.at) or "—", f"`{v.source}`", v.read)
            lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "/").split())


if __name__ == "__main__":
    if "--counts" in sys.argv[1:]:
        sys.stdout.write("\n".join(counts()) + "\n")
        sys.exit(0)
    if "--check" in sys.argv[1:]:
        sys.exit(0 if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page() else 1)
    PAGE.write_text(page(), encoding="utf-8")
