"""The mixer cover's day at the bench of a test shop, some hours ago: each entry and signature by the person who made it."""

from __future__ import annotations

import os
from datetime import datetime, timedelta
from typing import Any

from ..services.desk.bench import COVER, PROCEDURE, opening, steps, taps
from . import installation
from .installation import PASSWORDS, TestShop, new_shop

ROLE = {"ines": "technician", "tobias": "inspector"}
SHEET_END = 7  # hours from the first line of the sheet to after its last
RELEASED, HALF_WAY, JUST_OPENED = "KBW-2036-001", "KBW-2036-002", "KBW-2036-003"


def shop_with_jobs(jobs: dict[str, int | None] | None = None) -> TestShop:
    """A shop with jobs of these numbers and so many acts of the day each: one released, one half way, one just opened."""
    if jobs is None:
        jobs = {RELEASED: None, HALF_WAY: half_way(), JUST_OPENED: 0}
    real = installation.now
    began = real() - timedelta(hours=SHEET_END)
    installation.now = lambda: began - timedelta(hours=1)
    try:
        shop = new_shop()
        stocked(shop, began)
    finally:
        installation.now = real
    for number, acts in jobs.items():
        play(shop, number, began, upto=acts)
    return shop


def half_way() -> int:
    """How many acts of the day lie before the third layer."""
    return next(n for n, (_, _, kind, body) in enumerate(steps()) if kind == "layer.fused" and body["number"] == 3)


def moved(value: Any, by: timedelta) -> Any:
    """The same with every time of it moved."""
    if isinstance(value, dict):
        return {key: moved(one, by) for key, one in value.items()}
    return value + by if isinstance(value, datetime) else value


def stocked(shop: TestShop, began: datetime) -> str:
    """Instruments, lots and the approved procedure of the sheet, in the shop's register; the procedure's name there."""
    import tomllib

    from soundedge.services.desk import register as desk

    sheet = tomllib.loads((COVER / "job.toml").read_text("utf-8"))
    by = began - sheet["job"]["at"]
    at, manager = began - timedelta(minutes=40), shop.actor("manager")
    for tool in sheet["instrument"]:
        desk.list_instrument(shop.data, manager, moved(tool, by), now=at)
    for lot in sheet["lot"]:
        desk.receive_lot(shop.data, manager, moved(lot, by), now=at)
    because = "The plant's own procedure."
    name = desk.propose_procedure(shop.data, shop.actor("engineer"), PROCEDURE, because=because, id="lp04-1", now=at)
    desk.approve_procedure(shop.data, manager, name, now=at)
    return name


def play(shop: TestShop, number: str, began: datetime, *, upto: int | None = None) -> None:
    """A job of this number with the first acts of the day."""
    from soundedge.services.desk import enter, jobs, sign
    from soundedge.services.desk.photos import keep
    from soundedge.services.desk.register import register

    procedure = next(iter(register(shop.data).procedures))
    jobs.open_job(shop.data, shop.actor("manager"), opening(number, procedure=procedure), id=f"open-{number}", now=began)
    by = began - steps()[0][0] + timedelta(minutes=15)
    for n, (when, person, kind, body) in enumerate(steps()[:upto], 1):
        at, role = when + by, ROLE[person]
        said, actor, now = moved(body, by), shop.actor(role), when + by + timedelta(seconds=20)
        if kind in ("hold_point.signed", "release.signed"):
            answer = sign.sign(shop.data, actor, number, what=body.get("hold_point", "release"), meaning=body["meaning"],
                               passphrase=PASSWORDS[role], on_head=jobs.head(shop.data, number), id=f"{number}-{n}", now=now)
        elif body.get("measured") == "photo":
            outline, card = taps()
            answer = enter.damage(shop.data, actor, number, {
                "id": f"{number}-{n}", "at": at.isoformat(), "damage": body["id"], "stage": body["stage"],
                "photo_sha256": keep(shop.data, (COVER / "as-found.jpg").read_bytes())["sha256"], "photo": "as-found.jpg",
                "outline": outline, "card": card, "x": -60, "y": 35, "kind": "chip", "pit_depth_mm": body["pit_depth_mm"],
            }, now=now)
        else:
            for key, value in said.items():
                if isinstance(value, str) and value in ROLE:
                    said[key] = shop.actor(ROLE[value]).person
            entry = {"id": f"{number}-{n}", "kind": kind, "at": at.isoformat(), "body": said}
            answer = enter.enter(shop.data, actor, number, [entry], now=now)[0]
        assert answer["outcome"] == "stored", (kind, answer)


os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
