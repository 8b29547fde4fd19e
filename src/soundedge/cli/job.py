"""``soundedge job new|example|run|show``: from a folder with a sheet to a certificate, or to a plain list of what holds it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from .flags import answer_options, in_words, marked, tell

_EXIT = {"released": 0, "released_with_waivers": 0, "conditional": 6, "temporary": 6}  # 3 for all others


@click.group("job")
def command() -> None:
    """One repair, from the typed sheet to the certificate."""


@command.command("new")
@click.argument("folder", type=click.Path())
@click.option("--procedure", type=click.Path(), help="The lining procedure to copy into the folder.")
def new(folder: str, procedure: str | None) -> int:
    """Lay out FOLDER with an empty job sheet and the tables to fill."""
    from ..services.folder.job import new_job

    for name in new_job(Path(folder), procedure=Path(procedure) if procedure else None):
        tell(f"  {name}")
    tell(f"Fill in {Path(folder) / 'job.toml'}, then: soundedge job run {folder} --out out/{Path(folder).name}")
    return 0


@command.command("example")
@click.argument("folder", type=click.Path())
def example(folder: str) -> int:
    """Lay out FOLDER with a worked job of an invented plant: sheet, photo, tables and procedure, ready to run."""
    from ..services.folder.example import lay_example

    for name in lay_example(Path(folder)):
        tell(f"  {name}")
    tell(f"Now: soundedge job run {folder}")
    return 0


@command.command("blank")
@click.option("--out", type=click.Path(dir_okay=False), required=True, help="Where the card goes (PDF).")
@click.option("--number", default="", help="Job number to print on it.")
def blank(out: str, number: str) -> int:
    """Print the blank job card: big boxes for a pen in gloves, to be typed in later."""
    from ..services.folder.job import blank_card

    blank_card(Path(out), number=number)
    tell(f"{out}: print it double-sided; what is not measured stays empty.")
    return 0


@command.command("run")
@click.argument("folder", type=click.Path())
@click.option("--out", type=click.Path(), default=None, help="Where the certificate goes; FOLDER/out if left out.")
@click.option("--data", type=click.Path(), default=None, envvar="SOUNDEDGE_DATA",
              help="The shop's ledger. With it entries are only ever added, and changes need corrections.")
@answer_options
def run(folder: str, out: str | None, data: str | None, as_json: bool) -> int:
    """Judge the job in FOLDER and write certificate.pdf, record.json and job.json.

    Exit 0 when it is released, also with waivers; 6 when it is released on conditions or for a time; 3 when something holds it;
    2 when the sheet cannot be used.
    """
    from ..services.folder.job import run_job

    target = Path(out) if out else Path(folder) / "out"
    outcome = run_job(Path(folder), target, data=Path(data) if data else None, tell=lambda line: tell(line, error=True))
    if as_json:
        tell(json.dumps(outcome, ensure_ascii=False, indent=1))
    else:
        _show(outcome)
        names = ("certificate.pdf", "certificate.proof", "record.json", "job.json")
        made = [name for name in names if (target / name).is_file()]
        tell(f"Written to {target}: {', '.join(made)}")
    return _EXIT.get(outcome["outcome"], 3)


@command.command("may")
@click.argument("folder", type=click.Path())
@click.option("--act", default=None, help="Only this act: wipe, grind, heat_on, first_layer, next_layer, spark_on …")
@click.option("--repair", default=None, help="Only this repair, by its letter.")
@click.option("--at", default=None, help="The moment, ISO 8601 with its zone; that of the last entry if left out.")
@click.option("--given", multiple=True, metavar="KEY=VALUE", help="What the act's own entry would say: solvent=acetone, ml=4.")
@answer_options
def may(folder: str, act: str | None, repair: str | None, at: str | None, given: tuple[str, ...], as_json: bool) -> int:
    """Before the act: may it be done now, and if not, what is to be done first? Exit 0, also when the answer is no."""
    from ..services.folder.job import may_folder

    found = may_folder(Path(folder), at=at, act=act, repair=repair, given=typed_pairs(given))
    if as_json:
        tell(json.dumps(found.as_plain(), ensure_ascii=False, indent=1))
        return 0
    tell(in_words(found.say))
    for one in found.acts:
        _show_act(one)
    tell(in_words(found.not_asked))
    return 0


def typed_pairs(pairs: tuple[str, ...]) -> dict[str, Any]:
    """``ml=4`` as {"ml": 4.0}; what is no number stays text."""
    held: dict[str, Any] = {}
    for pair in pairs:
        key, _, value = pair.partition("=")
        try:
            held[key.strip()] = float(value)
        except ValueError:
            held[key.strip()] = value.strip()
    return held


def _show_act(one: Any) -> None:
    name = " ".join(part for part in (one.act, one.zone or one.hold_point, one.repair) if part).replace("_", " ")
    until = f" until {one.until.at:%Y-%m-%d %H:%M} UTC" if one.until is not None and one.answer != "no" else ""
    tell(f"  {marked(one.answer)}: {name}{until}")
    for point in one.points:
        if point.weight != "informs":
            tell(f"    {point.rule} {in_words(point.because)}")
            tell(f"      → {in_words(point.what)} [{point.by.replace('_', ' ')}]")


@command.command("sign")
@click.argument("folder", type=click.Path())
@click.argument("what", metavar="HOLD_POINT|release")
@click.option("--by", "person", required=True, help="Who signs: the id of a [[person]] of the sheet, who has a key.")
@click.option("--meaning", required=True, help="What the signature means; it is printed with name and time.")
@click.option("--repair", default=None, help="The letter of the repair that is signed for, where there are several.")
@click.option("--passphrase-file", type=click.Path(), default=None, help="The signer's passphrase; asked for when left out.")
@click.option("--data", type=click.Path(), required=True, envvar="SOUNDEDGE_DATA", help="The shop's ledger.")
def sign(folder: str, what: str, person: str, meaning: str, repair: str | None, passphrase_file: str | None, data: str) -> int:
    """Show what stands, then sign it with a person's own key: disposition, surface, film, holiday or release."""
    from datetime import UTC, datetime

    from ..services.folder.sign_sheet import review
    from ..services.folder.sign_sheet import sign as put
    from .people import passphrase

    reviewed = review(Path(folder), Path(data), now=datetime.now(UTC))
    for line in reviewed.lines:
        tell(line)
    tell(f"Meaning: {meaning}")
    word = passphrase(person, passphrase_file)
    event = put(Path(folder), Path(data), reviewed, person=person, passphrase=word, what=what, meaning=meaning,
                now=datetime.now(UTC), repair=repair)
    tell(f"Signed as {event.id}. It stands in the ledger and on the sheet.")
    return 0


@command.command("show")
@click.argument("path", type=click.Path())
@answer_options
def show(path: str, as_json: bool) -> int:
    """Show a judged job again from its record: PATH is an output folder or a record.json."""
    from ..services.folder.job import show_job

    outcome = show_job(Path(path))
    if as_json:
        tell(json.dumps(outcome, ensure_ascii=False, indent=1))
    else:
        _show(outcome)
    return _EXIT.get(outcome["outcome"], 3)


def _show(outcome: dict[str, Any]) -> None:
    tell(f"{outcome['job']}: {marked(outcome['outcome'])}")
    tell(f"  {outcome['because']}")
    for one in outcome.get("not_done", []):
        tell(f"  {one['said']}")
    if outcome["blocked_by"]:
        tell("What holds it:")
    for block in outcome["blocked_by"]:
        tell(f"  {block['step'].replace('_', ' ')} · {block['rule'].replace('_', ' ')}")
        tell(f"    {block['because']}")
        tell(f"    → {block['next_move']}")
        tell(f"    [{block['source']}]")
    if outcome["missing"]:
        tell(f"Not measured or not done: {', '.join(what.replace('_', ' ') for what in outcome['missing'])}")
    tell("Steps:")
    width = max(len(name) for name in outcome["steps"])
    for name, step in outcome["steps"].items():
        tell(f"  {name.replace('_', ' ').ljust(width)}  {marked(step['verdict'])}")
