"""All benches, one after the other, and at the end one table: work, ours, peer, ratio, goal. `python bench/table.py [NAME …]`

A bench says what it found with one call for each figure that has a goal, and prints what it likes besides:

    row("photo to the plane, full size", 0.41, 0.43, "OpenCV decodes and detects", at_most=1.0)     # ours ÷ peer
    row("heat, one forward run", 0.0013, 0.031, "scikit-fem, same steps", at_least=20)              # peer ÷ ours
    row("layered repair", 0.028, at_most=0.030)                                                     # no peer: the figure itself
    row("append", 5200, 9100, "bare SQLite commit", "/s", at_least=0.55)                            # a rate: ours ÷ peer

A goal that is not met stands in the table as such; the exit code speaks only of benches that fail.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).parent
ROWS = "SOUNDEDGE_BENCH_ROWS"
UNITS = {"s": ((1.0, "s"), (1e-3, "ms"), (1e-6, "µs")), "MB": ((1000.0, "GB"), (1.0, "MB"))}


def row(
    work: str, ours: float, peer: float | None = None, by: str = "", unit: str = "s", *,
    at_most: float | None = None, at_least: float | None = None, left_out: str = "",
) -> None:
    """One figure for the table.

    Parameters
    ----------
    ours, peer : float
        In ``unit``: ``s`` (processor or wall, as the bench says), ``MB``, or a rate, ``/s``.
    by : str
        Who the peer is and what it does.
    at_most, at_least : float, optional
        The goal, one of the two or none: for the ratio, and without a peer for ``ours``. Of times, ``at_most`` asks how long
        ours takes in peers, ``at_least`` how often ours is as quick.
    left_out : str
        What the comparison does not show.
    """
    assert at_most is None or at_least is None, work
    quick = at_least is not None and unit == "s"
    ratio = None if peer is None else peer / ours if quick else ours / peer
    held = ours if ratio is None else ratio
    goal, met = "—", "—"
    for sign, aim, holds in (("≤", at_most, lambda: held <= at_most), ("≥", at_least, lambda: held >= at_least)):
        if aim is not None:
            goal = f"{sign} {aim:g}" if peer is not None else f"{sign} {shown(aim, unit)}"
            met = "yes" if holds() else "NO"
    found = {
        "work": work, "ours": shown(ours, unit), "peer": f"{shown(peer, unit)}  {by}" if peer is not None else "—",
        "ratio": "—" if ratio is None else f"{ratio:.3g}", "goal": goal, "met": met, "left_out": left_out,
    }
    if os.environ.get(ROWS):
        with open(os.environ[ROWS], "a", encoding="utf-8") as file:
            file.write(json.dumps(found, ensure_ascii=False) + "\n")
    print("»", "; ".join(f"{name} {found[name]}" for name in ("work", "ours", "peer", "ratio", "goal", "met")), flush=True)


def shown(value: float, unit: str) -> str:
    """A figure in the size of unit that suits it.

    >>> shown(0.00129, "s"), shown(2900, "MB"), shown(5200, "/s")
    ('1.29 ms', '2.9 GB', '5200 /s')
    """
    for size, name in UNITS.get(unit, ()):
        if abs(value) >= size:
            return f"{value / size:.3g} {name}"
    return f"{value:.0f} {unit}" if unit not in UNITS else f"{value:.3g} {unit}"


def table(rows: list[dict[str, str]]) -> str:
    """The rows under each other, and what each leaves out below."""
    names = ("work", "ours", "peer", "ratio", "goal", "met")
    wide = {name: max(len(name), *(len(one[name]) for one in rows)) for name in names}
    lines = ["  ".join(f"{one[name]:<{wide[name]}}" for name in names).rstrip() for one in (dict(zip(names, names)), *rows)]
    out = [lines[0], "  ".join("-" * wide[name] for name in names), *lines[1:]]
    left: dict[str, dict[str, None]] = {}
    for one in rows:
        if one["left_out"]:
            left.setdefault(one["left_out"], {})[one["work"]] = None
    said = [f"  {', '.join(works)}: {what}" for what, works in left.items()]
    return "\n".join([*out, *(["", "What they leave out:", *said] if said else [])])


def main(wanted: list[str]) -> int:
    """Run the benches, or those that are named; 1 when one of them failed."""
    files = [file for file in sorted(HERE.glob("*.py")) if file.name != "table.py" and (not wanted or file.stem in wanted)]
    failed = []
    with tempfile.TemporaryDirectory(prefix="soundedge-rows-") as place:
        rows = Path(place) / "rows"
        rows.touch()
        for file in files:
            begun = time.perf_counter()
            print(f"== bench/{file.name}", flush=True)
            if subprocess.run([sys.executable, file], env=os.environ | {ROWS: str(rows)}, check=False).returncode:
                failed.append(file.name)
            print(f"   ({time.perf_counter() - begun:.0f} s)", flush=True)
        found = [json.loads(line) for line in rows.read_text(encoding="utf-8").splitlines()]
    if found:
        print(f"\n{table(found)}")
    if failed:
        print(f"\nFailed: {', '.join(failed)}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
