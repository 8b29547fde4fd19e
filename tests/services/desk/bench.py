"""A shop of the Kelderbeck Basin Works for the tests: people, keys, instruments, lots, a procedure; and the mixer cover's work
as single entries, each by the person who did it."""

import atexit
import copy
import json
import shutil
import tempfile
import tomllib
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from unittest import mock

from soundedge.job.kinds import SECTIONS
from soundedge.services.desk import book, enter, heat_plan, jobs, sign
from soundedge.services.desk import register as reg
from soundedge.services.desk.actor import Actor
from soundedge.services.desk.photos import keep
from soundedge.services.desk.shop_place import new_shop
from soundedge.services.desk.state import state
from soundedge.services.folder.contents import read_folder

from ...hand import copied
from ..shopfloor import cheap_passphrases

ROOT = Path(__file__).parents[3]
COVER = ROOT / "examples" / "mixer-cover"
PROCEDURE = (ROOT / "examples" / "procedures" / "kbw-lp-04.toml").read_text(encoding="utf-8")
DAY = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)
NUMBER = "KBW-2026-014"
WORDS = {name: f"four ordinary words of {name}" for name in ("ines", "tobias", "amara", "odile", "jonas")}
INES, TOBIAS = Actor("ines", "Ines Marlow", "technician", "d1"), Actor("tobias", "Tobias Renn", "inspector", "d2")
AMARA, ODILE = Actor("amara", "Amara Quist", "engineer", "d1"), Actor("odile", "Odile Brandt", "manager", "d2")
JONAS, NORA = Actor("jonas", "Jonas Feld", "inspector", "d2"), Actor("nora", "Nora Vale", "auditor", None)
EVERYBODY = (INES, TOBIAS, AMARA, ODILE, JONAS, NORA)
QUALIFIED = {"qualified_until": "2026-11-30T00:00:00Z", "qualified_for": ["ectfe", "etfe"]}


def at(text):
    """A time of that day."""
    hour, minute = map(int, text.split(":"))
    return DAY.replace(hour=hour, minute=minute)


@cache
def _made(with_keys):
    """Made once: keys take seconds. (shops folder, keys folder)"""
    import os

    base = Path(tempfile.mkdtemp(prefix="soundedge-test-desk-"))
    atexit.register(shutil.rmtree, base, ignore_errors=True)
    before = os.environ.get("SOUNDEDGE_KEYS")
    os.environ["SOUNDEDGE_KEYS"] = str(base / "keys")
    try:
        data = new_shop(base, "lining-shop", "Kelderbeck Basin Works", DAY)
        reg.enrol_person(data, ODILE, person(ODILE), now=DAY)
        for actor in EVERYBODY:
            if actor is not ODILE:
                reg.enrol_person(data, ODILE, person(actor), now=DAY)
        for name in ("d1", "d2"):
            reg.enrol_device(data, ODILE, name, f"tablet {name}", now=DAY)
        sheet = tomllib.loads((COVER / "job.toml").read_text())
        for tool in sheet["instrument"]:
            reg.list_instrument(data, ODILE, tool, now=DAY)
        for lot in sheet["lot"]:
            reg.receive_lot(data, ODILE, lot, now=DAY)
        name = reg.propose_procedure(data, AMARA, PROCEDURE, because="the plant's own procedure", id="lp04-1", now=DAY)
        reg.approve_procedure(data, ODILE, name, now=DAY)
        if with_keys:
            with cheap_passphrases():
                for person_id, words in WORDS.items():
                    reg.seal_key(data, person_id, words, now=DAY)
    finally:
        if before is None:
            del os.environ["SOUNDEDGE_KEYS"]
        else:
            os.environ["SOUNDEDGE_KEYS"] = before
    return base


def person(actor):
    return {"id": actor.person, "name": actor.name, "role": actor.role, "certificate": f"KBW-Q-{actor.person}"} | (
        QUALIFIED if actor.role in ("technician", "inspector") else {}
    )


def a_shop(tmp, monkeypatch=None):
    """A data folder of its own for one test; ``SOUNDEDGE_KEYS`` is set when monkeypatch is given."""
    base = copied(_made(True), tmp / "bench")
    if monkeypatch is not None:
        monkeypatch.setenv("SOUNDEDGE_KEYS", str(base / "keys"))
    return base / "shops" / "lining-shop"


def opening(number=NUMBER, **more):
    sheet = tomllib.loads((COVER / "job.toml").read_text())
    return {
        "number": number,
        "site": "Kelderbeck Basin Works, lining shop",
        "procedure": "KBW-LP-04",
        "part": sheet["part"],
        "lining": sheet["lining"],
    } | more


def opened(data, number=NUMBER):
    return jobs.open_job(data, ODILE, opening(number), id=f"open-{number}", now=at("06:40"))


@cache
def _sheet():
    return read_folder(COVER).sheet


@cache
def steps():
    """(when, by, kind, body) of everything on the mixer cover's sheet that people did, in order of time."""
    found = []
    for rank, (name, kind) in enumerate(SECTIONS.items()):
        if not kind.acted or name not in _sheet():
            continue
        entries = _sheet()[name]
        for entry in entries if isinstance(entries, list) else [entries]:
            body = {key: value for key, value in entry.items() if key not in ("at", "by")}
            found.append((entry["at"], rank, entry["by"], kind.name, body))
    found.sort(key=lambda one: one[:2])
    return [(when, by, kind, body) for when, _, by, kind, body in found]


def who(name):
    return {one.person: one for one in EVERYBODY}[name]


def photo(data):
    raw = (COVER / "as-found.jpg").read_bytes()
    return keep(data, raw)["sha256"]


def taps():
    return json.loads((COVER / "as-found.clicks.json").read_text()), json.loads((COVER / "card.json").read_text())


def do(data, when, by, kind, body, number, job=NUMBER):
    """One act of the sheet at the desk; gives the answer."""
    actor, now = who(by), when + timedelta(seconds=20)
    name = f"{actor.device}-a1b2c3-{number}"
    if kind in ("hold_point.signed", "release.signed"):
        return sign.sign(
            data,
            actor,
            job,
            what=body.get("hold_point", "release"),
            repair=body.get("repair"),
            meaning=body["meaning"],
            passphrase=WORDS[by],
            on_head=jobs.head(data, job),
            id=name,
            now=now,
        )
    if body.get("measured") == "photo":
        outline, card = taps()
        asked = {
            "id": name,
            "at": when.isoformat(),
            "damage": body["id"],
            "stage": body["stage"],
            "photo_sha256": photo(data),
            "photo": "as-found.jpg",
            "outline": outline,
            "card": card,
            "x": -60,
            "y": 35,
            "kind": "chip",
            "pit_depth_mm": body["pit_depth_mm"],
        }
        return enter.damage(data, actor, job, asked, now=now)
    return enter.enter(data, actor, job, [{"id": name, "kind": kind, "at": when.isoformat(), "body": body}], now=now)[0]


def everything(kind, body):
    return False


def play(data, *, upto=None, job=NUMBER, skip=everything):
    """The mixer cover's day at the desk; gives the answers. Where only the job was opened, it is put there as it was played
    before: same acts, same keys, same bytes."""
    upto = len(steps()) if upto is None else upto
    if (job, skip) != (NUMBER, everything) or _link(data) != _link(_day(0)[0]):
        return _acts(data, 0, upto, job, skip)
    before, answers = _day(upto)
    put_down(data)
    shutil.rmtree(data)
    copied(before, data)
    return copy.deepcopy(answers)


def _acts(data, first, upto, job=NUMBER, skip=everything):
    numbers, answers = {}, []
    for place, (when, by, kind, body) in enumerate(steps()[:upto]):
        if skip(kind, body):
            continue
        device = who(by).device
        numbers[device] = numbers.get(device, 0) + 1
        if place >= first:
            answers.append(do(data, when, by, kind, body, numbers[device], job))
    return answers


_days = {}  # acts → (data folder, their answers)


def _day(upto):
    """The shop after so many acts, from the longest part of the day that was played before."""
    if upto not in _days:
        played = max((n for n in _days if n < upto), default=None)
        base = Path(tempfile.mkdtemp(prefix=f"soundedge-test-day-{upto}-"))
        atexit.register(shutil.rmtree, base, ignore_errors=True)
        data = base / "shops" / "lining-shop"
        if played is None:
            copied(_made(True) / "shops" / "lining-shop", data)
            opened(data)
            _days[0] = (data, [])
            return _day(upto)
        copied(_days[played][0], data)
        with mock.patch.object(heat_plan, "ESTIMATE_WAIT_S", 60):  # a busy machine is no fault of the entry's
            _days[upto] = (data, _days[played][1] + _acts(data, played, upto))
        put_down(data)
    return _days[upto]


def put_down(data):
    """Nobody holds its ledger open any more."""
    held = book._mine.__dict__.get("ledgers", {}).pop(str(data), None)
    if held:
        held[1].close()


def _link(data):
    with book.opened(data) as ledger:
        return ledger.link()


def standing(data, job=NUMBER):
    return state(data, job)
