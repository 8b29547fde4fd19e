"""``soundedge verify FILE…``: certificates and records, offline; one plain sentence each."""

from __future__ import annotations

import json
from pathlib import Path

import click

from ..basis.errors import BenchError, RecordBroken
from .flags import answer_options, in_words, tell


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

    Exit 0 when all hold, 4 when one does not say what it said (it is named) or, by the ledger at hand, does not count any
    more, 2 when a file cannot be used.
    """
    from ..services.evidence.check_document import given
    from ..services.evidence.verify import verify_file, write_page

    if page:
        write_page(Path(page))
        tell(f"{page}: open it in a browser and choose the files there.", error=as_json)
    elif not files:
        raise click.UsageError("Name a certificate or a record to check.")
    at_hand = given(keys, proof=proof, witness=witness, data=data)
    results, code = [], 0
    for file in files:
        try:
            found = verify_file(file, at_hand=at_hand)
        except BenchError as fault:
            code = max(code, fault.exit_code)
            found = {"file": file} | fault.as_json()
        results.append(found)
        if found.get("counts") is False:
            code = max(code, RecordBroken.exit_code)
        if not as_json:
            mark = "" if found.get("counts") is not False else "✕ "
            why = in_words(found["error"]["message"]) if "error" in found else ""
            tell(f"✕ {file}: {why}" if why else f"{mark}{file}: {found['sentence']}")
    if as_json:
        tell(json.dumps(results, ensure_ascii=False, indent=1))
    return code
