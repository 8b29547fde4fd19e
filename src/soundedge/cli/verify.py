"""``soundedge verify FILE…``: certificates and records, offline; one plain sentence each."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from ..basis.errors import BenchError, RecordBroken
from .flags import answer_options, in_words, tell

UNTIED = 5  # the record inside holds; nothing shows that the page belongs to it
WORST_LAST = (0, UNTIED, 2, 3, RecordBroken.exit_code)


@click.command("verify")
@click.argument("files", nargs=-1, type=click.Path())
@click.option("--key", "keys", multiple=True, help="The shop's public key (log.pub) or certificate (certificate.pem), from "
                                                   "elsewhere; may be given twice.")
@click.option("--proof", type=click.Path(), default=None, help="The certificate.proof; the one beside the PDF when left out.")
@click.option("--witness", type=click.Path(), default=None, help="A folder where somebody keeps the log's checkpoint.")
@click.option("--data", type=click.Path(), default=None, envvar="SOUNDEDGE_DATA",
              help="The shop's data folder: its ledger is asked whether anything has come since.")
@click.option("--page", type=click.Path(dir_okay=False), default=None,
              help="Write the one-file page that checks the same in a browser, without network, and without this program.")
@answer_options
def command(
    files: tuple[str, ...], keys: tuple[str, ...], proof: str | None, witness: str | None, data: str | None, page: str | None,
    as_json: bool,
) -> int:
    """Check FILES: certificate.pdf, record.json, log.jsonl, or the text of a square code (SE1|…).

    Each sentence says what was checked and what was not: with more at hand (--key, --proof, --witness, --data) more is.

    Exit 0 when all hold and every certificate is the shop's own page, by its signature, its proof or the ledger at hand;
    5 when a record inside a page holds but nothing shows that the page belongs to it; 4 when one does not hold (it is named)
    or, by the ledger at hand, does not count any more; 2 when a file cannot be used. The worst of several counts, 4 before 2
    before 5.
    """
    from ..services.evidence.check_document import given
    from ..services.evidence.verify import verify_file, write_page

    if page:
        write_page(Path(page))
        tell(f"{page}: open it in a browser and choose the files there.", error=as_json)
    elif not files:
        raise click.UsageError("Name a certificate or a record to check.")
    at_hand = given(keys, proof=proof, witness=witness, data=data)
    results, codes = [], [0]
    for file in files:
        try:
            found = verify_file(file, at_hand=at_hand)
        except BenchError as fault:
            codes.append(fault.exit_code)
            found = {"file": file} | fault.as_json()
        results.append(found)
        gone, untied = found.get("counts") is False, found.get("page_proved") is False
        codes += [RecordBroken.exit_code] * gone + [UNTIED] * untied
        if not as_json:
            tell(f"■ {file}: {in_words(found['error']['message'])}" if "error" in found
                 else f"{'■ ' if gone else '– ' if untied else ''}{file}: {_sentence(found)}")
    if as_json:
        tell(json.dumps(results, ensure_ascii=False, indent=1))
    return max(codes, key=WORST_LAST.index)


def _sentence(found: dict[str, Any]) -> str:
    """What was found, beginning in the reader's own language where the page is not proved."""
    why, sentence = found.get("page_because", ""), str(found["sentence"])
    return in_words(why) + sentence.removeprefix(why) if why and sentence.startswith(why) else sentence
