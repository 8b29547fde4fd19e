"""What does a certificate cost beside the setting of its very page?

    python bench/report.py

Ours: from the judged job to the PDF, as the desk makes it: view, drawings, photos, tables, page. The peer: the typst library
alone on exactly the sources that ours gave it, in another process. Both set five certificates of one example, each with other
readings; the first warms both up, the median of the others counts. Then the first page of a fresh process, and signing.
"""

import json
import statistics
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from table import row

ROOT = Path(__file__).parents[1]
PAGES = 5
GOAL = 2.5

OURS = """
import json, shutil, sys, time
from datetime import datetime, UTC
from pathlib import Path
import typst
from soundedge.job.judge import judge_job
from soundedge.job.typed import events_of
from soundedge.services.evidence.certificate_page import certificate
from soundedge.services.evidence.records import record_of
from soundedge.services.folder.contents import read_folder

folder, kept, pages = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
compiled, given = typst.compile, []

def keeping(main, **named):
    given.append((shutil.copytree(named["root"], kept / f"page-{len(given)}"), named["timestamp"]))
    return compiled(main, **named)

spent = []
for page in range(pages):
    read = read_folder(folder)
    for film in read.sheet.get("film", []):
        for spot in film.get("spots", []):
            spot["readings_um"] = [one + page for one in spot["readings_um"]]
    events = events_of(read.sheet)
    outcome = judge_job(events, estimates=True)
    record = record_of(events, outcome, now=datetime(2031, 5, 5, page, tzinfo=UTC))
    start = time.perf_counter()
    pdf = certificate(outcome, record, read, code="SE1|" + record.digest)
    spent.append(time.perf_counter() - start)
    typst.compile = keeping
    certificate(outcome, record, read, code="SE1|" + record.digest)
    typst.compile = compiled
print(json.dumps({"spent": spent, "kb": len(pdf) / 1000}))
"""
ALONE = """
import json, sys, time
from pathlib import Path
import typst
kept, fonts, pages = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
face = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[fonts])
spent = []
for page in range(pages):
    folder = kept / f"page-{page}"
    start = time.perf_counter()
    typst.compile(str(folder / "main.typ"), root=str(folder), font_paths=face, ignore_system_fonts=True,
                  pdf_standards=["a-3a"], timestamp=1935800000 + page)
    spent.append(time.perf_counter() - start)
print(json.dumps({"spent": spent}))
"""
SIGNED = """
import time
from datetime import datetime, UTC
from soundedge.report.certificate import certificate_pdf
from tests.report import sample
from soundedge.report.sign import check_pdf, sign_pdf, SigningKey
key = SigningKey(KEY, CERTIFICATE)
first = certificate_pdf(sample.certificate(), {"record.json": sample.RECORD})
sign_pdf(first, key, at=datetime(2031, 5, 5, tzinfo=UTC), reason="R")
start = time.perf_counter()
pdf = certificate_pdf(sample.certificate(number="KBW-2031-099"), {"record.json": sample.RECORD})
alone = time.perf_counter() - start
start = time.perf_counter()
signed = sign_pdf(pdf, key, at=datetime(2031, 5, 6, tzinfo=UTC), reason="Release")
again = time.perf_counter() - start
start = time.perf_counter()
assert check_pdf(signed, CERTIFICATE).to_the_last_byte
print(alone, again, time.perf_counter() - start)
"""


def said(program: str, *given: str) -> str:
    """What a fresh process prints."""
    return subprocess.run([sys.executable, "-c", program, *given], cwd=ROOT, capture_output=True, text=True, check=True).stdout


def main() -> None:
    """Print a line for each example, then one for signing."""
    from soundedge.report.fonts import FOLDER

    for example in ("mixer-cover", "dosing-nozzle", "two-chip-cover"):
        with tempfile.TemporaryDirectory() as name:
            ours = json.loads(said(OURS, f"examples/{example}", name, str(PAGES)))
            alone = json.loads(said(ALONE, name, str(FOLDER), str(PAGES)))
        row(f"certificate, {example}, warm", statistics.median(ours["spent"][1:]), statistics.median(alone["spent"][1:]),
            "typst alone on the same sources", at_most=GOAL, left_out="judging the job, signing the file")
        row(f"certificate, {example}, first", ours["spent"][0], alone["spent"][0],
            "typst alone on the same sources", left_out="start of the process, judging, signing")
    sys.path.insert(0, str(ROOT))
    from soundedge.report.sign import make_key

    key = make_key("Bench", valid_from=datetime(2030, 1, 1, tzinfo=UTC))
    keys = f"KEY, CERTIFICATE = {key.key_pem!r}, {key.certificate_pem!r}\n"
    alone_s, again_s, check_s = map(float, said(keys + SIGNED).split())
    row("certificate signed", alone_s + again_s, alone_s, "the page unsigned")
    row("signed file looked at", check_s, alone_s, "the page set")


if __name__ == "__main__":
    main()
