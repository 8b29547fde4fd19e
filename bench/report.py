"""What does a whole certificate cost beside the least page typst can make?

    python bench/report.py

Both are compiled in this run, each in fresh processes; the ratio is what to look at, not the seconds.
"""

import statistics
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).parents[1]

HELLO = """
import typst, time
start = time.perf_counter()
pdf = typst.compile(b"Hello", ignore_system_fonts=True)
print(time.perf_counter() - start)
"""
WHOLE = """
import time
start = time.perf_counter()
from soundedge.report.certificate import certificate_pdf
from tests.report import sample
view = sample.certificate(**{changes})
pdf = certificate_pdf(view, {{"record.json": sample.RECORD}})
cold = time.perf_counter() - start
again = time.perf_counter()
certificate_pdf(sample.certificate(number="KBW-2031-099", **{changes}), {{"record.json": sample.RECORD}})
print(cold, time.perf_counter() - again, len(pdf))
"""
SIGNED = """
import time
from datetime import datetime, UTC
start = time.perf_counter()
from soundedge.report.certificate import certificate_pdf
from tests.report import sample
pdf = certificate_pdf(sample.certificate(), {"record.json": sample.RECORD})
alone = time.perf_counter() - start
from soundedge.report.sign import check_pdf, make_key, sign_pdf, SigningKey
key = SigningKey(KEY, CERTIFICATE)
start = time.perf_counter()
signed = sign_pdf(pdf, key, at=datetime(2031, 5, 5, tzinfo=UTC), reason="Release")
cold = time.perf_counter() - start
start = time.perf_counter()
pdf = certificate_pdf(sample.certificate(number="KBW-2031-099"), {"record.json": sample.RECORD})
alone_again = time.perf_counter() - start
start = time.perf_counter()
signed = sign_pdf(pdf, key, at=datetime(2031, 5, 6, tzinfo=UTC), reason="Release")
again = time.perf_counter() - start
start = time.perf_counter()
assert check_pdf(signed, CERTIFICATE).to_the_last_byte
print(alone, cold, alone_again, again, time.perf_counter() - start)
"""


def measured(program, times=5):
    """Medians of the numbers a program prints, and of its whole wall time, over some fresh processes."""
    rows = []
    for _ in range(times):
        start = time.perf_counter()
        said = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
        rows.append([*map(float, said.stdout.split()), time.perf_counter() - start])
    return [statistics.median(column) for column in zip(*rows)]


def main():
    hello, hello_wall = measured(HELLO)
    print(f"typst, one word:                 {hello * 1000:7.0f} ms   (whole process {hello_wall * 1000:.0f} ms)")
    for name, changes in (
        ("certificate, no photo, no chart", "dict(found=None, done=None, measured=None)"),
        ("certificate, 2 photos, 2 charts", "dict()"),
        ("the same with 400 readings     ", "dict(spots=sample.spots(50, 8))"),
    ):
        cold, warm, size, wall = measured(WHOLE.format(changes=changes))
        print(f"{name}: {cold * 1000:7.0f} ms cold, {warm * 1000:5.0f} ms again   "
              f"(whole process {wall * 1000:.0f} ms, {size / 1000:.0f} kB)   "
              f"{cold / hello:5.1f} × one word; whole process {wall / hello_wall:.1f} ×")
    sys.path.insert(0, str(ROOT))
    from soundedge.report.sign import make_key

    key = make_key("Bench", valid_from=datetime(2030, 1, 1, tzinfo=UTC))
    alone, cold, alone_again, again, check, _ = measured(
        f"KEY, CERTIFICATE = {key.key_pem!r}, {key.certificate_pem!r}\n" + SIGNED
    )
    print(f"signing, first in a process:     {cold * 1000:7.0f} ms   {(alone + cold) / alone:.2f} × the page")
    print(f"signing, after that:             {again * 1000:7.0f} ms   {(alone_again + again) / alone_again:.2f} × the page")
    print(f"looking at a signed file:        {check * 1000:7.0f} ms   {check / alone_again:.2f} × the page")


if __name__ == "__main__":
    main()
