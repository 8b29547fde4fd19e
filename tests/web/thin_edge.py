"""The example job of the thin edge, entered through the desk: 872 µm at R4, everything else good."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from soundedge.job.judge import Outcome, judge_job
from soundedge.job.typed import events_of
from soundedge.record.canonical import plain
from soundedge.services.evidence.records import body_said
from soundedge.services.folder.contents import read_folder

EXAMPLES = Path(__file__).parents[2] / "examples"
NUMBER = "KBW-2026-027"
LEFT_TO_THE_DESK = (
    "job.opened",
    "part.identified",
    "lining.identified",
    "person.named",
    "instrument.listed",
    "lot.received",
    "hold_point.signed",
    "release.signed",
)
NOW = datetime(2026, 6, 11, 12, 0, tzinfo=UTC)


def on_paper() -> Outcome:
    """The example's folder, judged."""
    return judge_job(events_of(read_folder(EXAMPLES / "thin-edge-cover", tell=lambda line: None).sheet))


def opened(shop: Any, *, until: str = "holiday.tested", number: str = NUMBER, now: datetime = NOW) -> str:
    """The job in this shop with all entries before the first of kind ``until``; gives its number. The register is filled the
    first time."""
    from soundedge.services.desk import enter, jobs
    from soundedge.services.desk import register as desk

    manager, engineer = shop.actor("manager"), shop.actor("engineer")
    early = now - timedelta(hours=8)
    events = on_paper().job.events
    standing = desk.register(shop.data).procedures
    if standing:
        revision = next(iter(standing))
    else:
        text = (EXAMPLES / "procedures/kbw-lp-04.toml").read_text("utf-8")
        revision = desk.propose_procedure(shop.data, engineer, text, because="First edition in this shop", now=early)
        desk.approve_procedure(shop.data, manager, revision, now=early)
        for event in events:
            if event.kind == "instrument.listed":
                desk.list_instrument(shop.data, manager, numbers(plain(body_said(event.body))), now=early)
            if event.kind == "lot.received":
                desk.receive_lot(shop.data, manager, numbers(plain(body_said(event.body))), now=early)
    bodies = {event.kind: plain(body_said(event.body)) for event in events}
    jobs.open_job(
        shop.data,
        manager,
        {
            "number": number,
            "site": "Kelderbeck Basin Works, lining shop",
            "procedure": revision,
            "part": numbers(bodies["part.identified"]),
            "lining": numbers(bodies["lining.identified"]),
        },
        id=f"open-{number}",
        now=early,
    )
    written = []
    for event in sorted(events, key=lambda one: one.at):
        if event.kind == until:
            break
        if event.kind in LEFT_TO_THE_DESK:
            continue
        body = numbers(plain(body_said(event.body)))
        if event.kind == "damage.outlined" and body.get("survey"):
            body = {
                key: body[key]
                for key in ("id", "stage", "kind", "outline_mm", "u_area_mm2", "pit_depth_mm")
                if key in body
            }
        written.append(
            (
                event.by,
                {"id": f"paper-{len(written) + 1}", "kind": event.kind, "at": event.at.isoformat(), "body": body},
            )
        )
    for role in ("technician", "inspector"):
        own = [entry for by, entry in written if (by == "ines") == (role == "technician")]
        for answer in enter.enter(shop.data, shop.actor(role), number, own, now=now):
            assert answer["outcome"] == "stored", answer
    return number


def numbers(value: Any) -> Any:
    """Decimal strings of a record as numbers, as a form gives them."""
    if isinstance(value, dict):
        return {key: numbers(one) for key, one in value.items()}
    if isinstance(value, list):
        return [numbers(one) for one in value]
    if isinstance(value, str):
        try:
            return float(value)
        except ValueError:
            return value
    return value
