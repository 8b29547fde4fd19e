"""Write the table of known limits into docs/procedure.md from the code that reads them.

    python scripts/limits_page.py            writes the table
    python scripts/limits_page.py --check    ends with 1 when the page on disk says something else
"""

import sys
from pathlib import Path

from soundedge.basis.procedure import LIMITS

PAGE = Path(__file__).parents[1] / "docs" / "procedure.md"
BEGIN, END = "<!-- limits: made by scripts/limits_page.py -->", "<!-- end of limits -->"


def table() -> str:
    """Every limit a procedure may set: key, name, unit, fence."""
    lines = ["| limit | what it is | unit | read as a slip beyond |", "|---|---|---|---|"]
    lines += [f"| `{key}` | {q.name} | {q.unit or '—'} | {q.rule()} |" for key, q in LIMITS.items()]
    return "\n".join(lines)


def page(text: str) -> str:
    """The page with its table made anew."""
    before, rest = text.split(BEGIN)
    return f"{before}{BEGIN}\n\n{table()}\n\n{END}{rest.split(END)[1]}"


if __name__ == "__main__":
    held = PAGE.read_text(encoding="utf-8")
    if "--check" in sys.argv[1:]:
        sys.exit(0 if page(held) == held else 1)
    PAGE.write_text(page(held), encoding="utf-8")
