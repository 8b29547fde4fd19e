"""Files that somebody brings, broken at random: is each read or refused in a sentence, and soon?

``python -m tests.evidence.parsers [SECONDS]`` for each parser (60 when left out). Good files are cut, doubled, overwritten and
salted with words that parsers know. An answer is a value or one of the bench's refusals; anything else, and whatever takes more
than five seconds, is a fault.
"""

from __future__ import annotations

import logging
import lzma
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soundedge.basis import strict_json
from soundedge.basis.errors import BenchError
from soundedge.basis.procedure import load_procedure
from soundedge.record.checkpoint import make_checkpoint, open_checkpoint, read_checkpoint
from soundedge.record.claim import make_claim, read_claim
from soundedge.record.keys import key_of, paper_copy, read_paper_copy
from soundedge.record.note import read_key
from soundedge.record.proof import check_proof, make_proof
from soundedge.record.tree import leaf_hash
from soundedge.record.verify import verify
from soundedge.report.sign import check_pdf
from soundedge.services.evidence.check_document import Given
from soundedge.services.evidence.verify import verify_bytes
from soundedge.services.folder.contents import read_folder
from soundedge.survey.photo import decode
from soundedge.thickness import intake

HERE = Path(__file__).parents[2]
EXAMPLE = HERE / "examples" / "mixer-cover"
GOLDEN = HERE / "tests" / "record" / "golden"
SEED, NAME = bytes(range(32)), "kelderbeck-basin.example/ledger"
SLOW_S = 5.0
WORDS = (b"0 -1 1e999 NaN 99999999999999999999 true null [ ] { } << >> ( ) \" ' , ; : = # \\ \n \r\n \t \0 \xff \xef\xbb\xbf "
         b"\xe2\x80\xae 1 0 R endobj stream xref trailer %%EOF /Type SE1| \x89PNG IDAT \xff\xd9 \xff\xda T00:00:00Z 2031-02-30 "
         b"[[ ]] inf 0x1F 1_000 \\ud800 \\u0000").split(b" ")


@dataclass
class Tally:
    """What became of one parser's files."""

    tries: int = 0
    read: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    faults: list[str] | None = None

    @property
    def bad(self) -> int:
        return len(self.faults or ())


def _text(work: Callable[[str], Any]) -> Callable[[bytes], Any]:
    return lambda raw: work(raw.decode("utf-8", "replace"))


def _folder(raw: bytes, name: str, folder: Path) -> Any:
    good = (EXAMPLE / name).read_bytes()
    (folder / name).write_bytes(raw)
    try:
        return read_folder(folder)
    finally:
        (folder / name).write_bytes(good)


def parsers(place: Path) -> dict[str, tuple[Callable[[bytes], Any], list[bytes]]]:
    """Each parser with the good files that are broken; ``place`` is an empty folder."""
    def golden(pattern: str) -> list[bytes]:
        return [lzma.decompress(file.read_bytes()) for file in sorted(GOLDEN.glob(pattern))]

    for folder in (EXAMPLE, EXAMPLE.parent / "procedures"):
        shutil.copytree(folder, place / folder.name)
    for file in EXAMPLE.parent.glob("*.toml"):
        shutil.copy(file, place)
    job = place / EXAMPLE.name
    sheet = (job / "job.toml").read_bytes()
    records = sorted(golden("*.json.xz"), key=len)[:4]
    pages = [page for page in golden("*.pdf.xz")][:2]
    events = [entry.raw for entry in verify(records[0]).entries()]
    leaves = [leaf_hash(raw) for raw in events]
    note = make_checkpoint(NAME, leaves, SEED)
    proof = make_proof(events[-1], len(events) - 1, leaves, note)
    claim = make_claim(read_checkpoint(note.split("\n\n")[0] + "\n"), SEED, certificate="KBW-1-A", part="cover",
                       verdict="released", date="2031-05-04", released_by="Tobias Renn", record="5a" * 32)
    log = key_of(NAME, SEED)
    tables = [(EXAMPLE / "film.csv").read_bytes(), b"spot;film [um]\n1;1023,5\n2;990,1\n",
              "Pt\tT1 [µm]\n1\t1001\n".encode("utf-16")]
    return {
        "JSON": (lambda raw: strict_json.loads(raw, what="The file"),
                 [b'{"a": [1, -2.5e3, "\\u00e9"], "b": {"c": null}}', *records[:1]]),
        "procedure": (_text(load_procedure),
                      [file.read_bytes() for file in sorted((HERE / "examples/procedures").glob("*.toml"))]),
        "job sheet": (lambda raw: _folder(raw, "job.toml", job), [sheet]),
        "record": (verify, records),
        "any document": (lambda raw: verify_bytes(raw, "the file", at_hand=Given()), [*records[:2], *pages]),
        "PDF signature": (check_pdf, pages),
        "proof": (lambda raw: check_proof(raw, [log]), [proof.encode()]),
        "checkpoint": (lambda raw: open_checkpoint(raw, [log]), [note.encode()]),
        "square code": (_text(lambda text: read_claim(text, [log])), [claim.encode()]),
        "public key": (_text(read_key), [log.text.encode()]),
        "paper key": (_text(read_paper_copy), [paper_copy(NAME, SEED).encode()]),
        "photo": (decode, [(EXAMPLE / "as-found.jpg").read_bytes()]),
        "film table": (lambda raw: intake.read_table(intake.decode(raw)[0], unit="um"), tables),
        "typed film": (_text(lambda text: intake.read_typed(text, "um")), [b"1001 998,5\n1.02 mm\t40 mil"]),
        "heat table": (lambda raw: _folder(raw, "heat.csv", job), [(EXAMPLE / "heat.csv").read_bytes()]),
    }


def broken(good: bytes, dice: random.Random) -> bytes:
    """A file that was good, changed in one to five places."""
    raw = bytearray(good)
    for _ in range(dice.randint(1, 5)):
        here = dice.randrange(len(raw) + 1)
        way = dice.randrange(7)
        if way == 0 and raw:
            raw[min(here, len(raw) - 1)] ^= 1 << dice.randrange(8)
        elif way == 1:
            raw[here:here + dice.randint(0, 4)] = dice.choice(WORDS)
        elif way == 2:
            del raw[here:here + dice.randint(1, 1 + len(raw) // 4)]
        elif way == 3:
            there = dice.randrange(len(raw) + 1)
            raw[here:here] = raw[there:there + dice.randint(1, 300)]
        elif way == 4:
            raw[here:here] = dice.choice(WORDS) * dice.choice((1, 2, 50, 3000))
        elif way == 5 and dice.random() < 0.2:
            del raw[here:]
        else:
            digits = [n for n in range(here, min(here + 400, len(raw))) if chr(raw[n]).isdigit()]
            if digits:
                raw[dice.choice(digits)] = ord(dice.choice("0123456789-.e"))
    return bytes(raw)


def tried(work: Callable[[bytes], Any], good: list[bytes], dice: random.Random, *, seconds: float = 0.0,
          times: int = 0) -> Tally:
    """Break and read files for so long, or so often."""
    tally, end = Tally(faults=[]), time.monotonic() + seconds
    while tally.tries < times or time.monotonic() < end:
        raw = broken(dice.choice(good), dice)
        tally.tries += 1
        began = time.monotonic()
        try:
            work(raw)
            tally.read += 1
        except BenchError as fault:
            tally.refused += 1
            if not fault.message:
                tally.faults.append(f"no sentence: {raw[:300]!r}")
        except Exception as error:
            tally.faults.append(f"{type(error).__name__}: {str(error)[:120]} of {raw[:300]!r}")
        took = time.monotonic() - began
        tally.slowest_s = max(tally.slowest_s, took)
        if took > SLOW_S:
            tally.faults.append(f"{took:.1f} s for {raw[:300]!r}")
    return tally


def main() -> int:
    """Print one line for each parser; 1 when one of them fell over or hung."""
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    logging.disable(logging.CRITICAL)
    bad = 0
    print(f"{'parser':16s} {'tries':>8s} {'read':>8s} {'refused':>8s} {'slowest':>9s}  faults")
    with tempfile.TemporaryDirectory() as place:
        for name, (work, good) in parsers(Path(place)).items():
            tally = tried(work, good, random.Random(f"{name} 2031"), seconds=seconds)
            bad += tally.bad
            print(f"{name:16s} {tally.tries:8d} {tally.read:8d} {tally.refused:8d} {tally.slowest_s:7.2f} s  {tally.bad}",
                  flush=True)
            for said in (tally.faults or [])[:5]:
                print(f"    {said}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
