"""Write docs/sources.md from the tables themselves: every source with its mark, every material value with its source.

    python scripts/sources_page.py            writes the page
    python scripts/sources_page.py --check    ends with 1 when the page on disk says something else
"""

import sys
from pathlib import Path

from soundedge.basis.materials import materials
from soundedge.basis.quantity import shown
from soundedge.basis.sources import sources

PAGE = Path(__file__).parents[1] / "docs" / "sources.md"


def page() -> str:
    """The whole page as text."""
    held = sources()
    counts = {mark: sum(s.read == mark for s in held.values()) for mark in ("first hand", "second hand", "memory")}
    lines = [
        "# Sources and materials",
        "",
        "Made by `python scripts/sources_page.py` from `sources.toml` and `materials.toml` of the basis; do not type here.",
        "",
        f"{len(held)} sources: {counts['first hand']} read first hand, {counts['second hand']} second hand, "
        f"{counts['memory']} from memory. A value from memory wants the print before it decides anything.",
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
    if "--check" in sys.argv[1:]:
        sys.exit(0 if PAGE.is_file() and PAGE.read_text(encoding="utf-8") == page() else 1)
    PAGE.write_text(page(), encoding="utf-8")
