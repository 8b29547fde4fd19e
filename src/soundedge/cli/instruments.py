"""``soundedge instruments checks.json``: what falls when the gauge fails its closing check?

The file holds a request of the instruments room: checks and readings, a study, a chart or a capability.
"""

from __future__ import annotations

from typing import Any

import click

from ..basis.strict_json import loads
from ..services.ask import ask
from ..services.files import read_bytes
from .flags import answer_options, quantity_type, show, tell


@click.command("instruments")
@click.argument("file", required=False, type=click.Path())
@click.option("--check", "checks", nargs=2, multiple=True, metavar="REFERENCE READING",
              help="A check now: 1000um 1004um; may be repeated.")
@click.option("--tol-pct", type=float, default=3.0, show_default=True, help="Tolerance of the check, ± % of the "
                                                                            "reference.")
@answer_options
def command(file: str | None, checks: tuple[tuple[str, str], ...], tol_pct: float, as_json: bool) -> int:
    """Gauge checks and what falls with them; repeatability studies, control charts, capability.

    FILE is a request of the room as JSON; --check judges a gauge on its shims without a file.
    """
    if file is not None:
        request = loads(read_bytes(file, what="The request", field="file"))
    else:
        film = quantity_type("film_um", "A check")
        request = {"tol_pct": tol_pct, "checks": [
            {"instrument": "the gauge", "at": "2000-01-01T00:00:00Z", "reference_um": film.convert(a, None, None),
             "reading_um": film.convert(b, None, None)} for a, b in checks]}
    answer = ask("instruments", request)
    rows = _rows(answer)
    if file is None:
        for finding in answer["findings"]:
            finding["because"] = finding["because"].replace(" at 2000-01-01 00:00", "")
        rows = []
    show(answer, as_json, rows, cautions=answer.get("cautions", []))
    if not as_json and (file is not None or not checks) and answer.get("because"):
        tell(f"  {answer['because']}")
        if answer.get("next_move"):
            tell(f"    → {answer['next_move']}")
    return 0 if answer["verdict"] == "conforms" else 3


def _rows(answer: dict[str, Any]) -> list[tuple[str, str]]:
    if "suspect" in answer:
        rows = [("suspect readings", ", ".join(answer["suspect"][:20]) or "none"),
                ("jobs held", ", ".join(answer["jobs_held"]) or "none"),
                ("certificates held", ", ".join(answer["certificates_held"]) or "none"),
                ("not proven yet", ", ".join(answer["unproven"][:20]) or "none")]
        rows += [(f"last good check, {name}", at or "never") for name, at in answer["last_good"].items()]
        rows += [(f"look at {t['rank']}", f"{t['job']}: lowest {t['min_um']:.0f} µm, corrected "
                                          f"{t['corrected_min_um']:.0f} µm")
                 for t in answer["triage"]]
        rows += [(f"calibration, {line['instrument']}", f"due {line['due_on'][:10]}") for line in answer["calibration"]]
        return rows
    if "grr" in answer:
        return [(name, f"{answer[key]:.4g}") for name, key in (
            ("repeatability", "repeatability"), ("reproducibility", "reproducibility"), ("both", "grr"), ("part to "
                                                                                                          "part", "part"),
            ("total", "total"))] + [("classes told apart", str(answer["ndc"]))]
    if "charts" in answer:
        return [(c["kind"], f"{c['low']:.6g} | {c['centre']:.6g} | {c['high']:.6g}") for c in answer["charts"]]
    return [("Cpk", f"{answer['cpk']:.3f} ({answer['cpk_limits'][0]:.3f} to {answer['cpk_limits'][1]:.3f})"),
            ("Cp", "-" if answer["cp"] is None else f"{answer['cp']:.3f}")]
