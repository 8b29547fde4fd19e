"""The invented shop of the demonstration, ready to be opened in a browser: people with one-time passwords, instruments,
lots, procedures, the example jobs, and one job in the middle of its work.

    python scripts/demo_shop.py out/bench out/keys examples/*/

Everybody and everything in it is invented (Kelderbeck Basin Works). The passwords are made here and printed;
``make demo`` keeps what was printed beside the shop, for ``make sign-in``.
"""

from __future__ import annotations

import os
import secrets
import sys
import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

BENCH = Path(sys.executable).with_name("soundedge")
SLUG, NAME = "kelderbeck-basin", "Kelderbeck Basin Works, lining shop"
PEOPLE = (
    {"id": "mara", "name": "Mara Lindqvist", "role": "manager"},
    {"id": "ines", "name": "Ines Marlow", "role": "technician", "certificate": "KBW-Q-112"},
    {"id": "tobias", "name": "Tobias Renn", "role": "inspector", "certificate": "KBW-Q-087"},
    {"id": "amara", "name": "Amara Okoye", "role": "engineer"},
    {"id": "aron", "name": "Aron Vega", "role": "auditor"},
)
INSTRUMENTS = (
    ("G7", "film_gauge", 3),
    ("H2", "air_meter", 0),
    ("SP3", "steel_probe", 0),
    ("HD3", "holiday_detector", 0),
    ("V1", "vapour_meter", 0),
    ("IR4", "infrared", 0),
    ("SM2", "salt_meter", 0),
    ("PG1", "profile_gauge", 0),
)


def main(root: str, keys: str, folders: list[str]) -> int:
    """Make the shop and print how to open it."""
    os.environ |= {"SOUNDEDGE_ROOT": str(Path(root).resolve()), "SOUNDEDGE_KEYS": str(Path(keys).resolve())}
    from soundedge.services.desk import register as desk
    from soundedge.services.people import accounts, devices, installation
    from soundedge.services.procedure import procedure_named

    now = datetime.now(UTC)
    installation.migrate()
    shop = accounts.open_shop(SLUG, NAME, now=now)
    data = accounts.data_of(shop)
    passwords, actors = [], {}
    for person in PEOPLE:
        person = dict(person)
        if person["role"] in ("technician", "inspector"):
            person |= {"qualified_until": f"{now.year + 1}-01-31T00:00:00Z", "qualified_for": ["ectfe", "etfe"]}
        account, once = accounts.add_person(shop, person, login=person["id"], by=actors.get("mara"), now=now)
        actors[person["id"]] = accounts.actor_of(account)
        passwords.append((person["id"], once, f"{person['name']}, {person['role']}"))
    for name, kind, tol in INSTRUMENTS:
        desk.list_instrument(
            data,
            actors["mara"],
            {
                "id": name,
                "kind": kind,
                "calibrated_on": f"{now - timedelta(days=90):%Y-%m-%d}T00:00:00Z",
                "calibration_due": f"{now + timedelta(days=275):%Y-%m-%d}T00:00:00Z",
                "certificate": f"CAL-{name}",
                "tol_pct": tol,
            },
            now=now,
        )
    for lot in (
        {"id": "P-311", "kind": "powder", "polymer": "ectfe"},
        {"id": "P-402", "kind": "powder", "polymer": "etfe"},
        {"id": "S-19", "kind": "solvent"},
    ):
        desk.receive_lot(data, actors["mara"], lot | {"expires": f"{now.year + 1}-09-01T00:00:00Z"}, now=now)
    for file in sorted({(Path(folder) / procedure_named(Path(folder))).resolve() for folder in folders}):
        made = desk.propose_procedure(
            data,
            actors["amara"],
            file.read_text(encoding="utf-8"),
            because="The plant's own procedure (example).",
            id=f"proposed-{file.stem}",
            now=now,
        )
        desk.approve_procedure(data, actors["mara"], made, now=now)
    begun(data, actors, now)
    codes = [devices.device_code(shop, by=actors["mara"], now=now) for _ in range(3)]
    tell(root, keys, passwords, codes)
    return 0


def begun(data: Path, actors: dict[str, Any], now: datetime) -> None:
    """A job in the middle of its work: the chip measured on its photo, air logged, ground back; nothing signed yet."""
    from soundedge.basis import strict_json
    from soundedge.services.desk import enter, jobs, photos

    folder = Path("examples/mixer-cover")
    sheet = tomllib.loads((folder / "job.toml").read_text(encoding="utf-8"))
    part = {key: value for key, value in sheet["part"].items()} | {"tag": "MC-9"}
    number = jobs.open_job(
        data,
        actors["mara"],
        {
            "number": f"KBW-{now:%Y}-201",
            "site": "Kelderbeck Basin Works, lining shop",
            "customer": "Kelderbeck Basin Works, dosing hall",
            "procedure": "KBW-LP-04",
            "part": part,
            "lining": sheet["lining"],
        },
        id=f"open-{secrets.token_hex(6)}",
        now=now,
    )
    at = (now - timedelta(minutes=40)).replace(microsecond=0)
    photo = photos.keep(data, (folder / "as-found.jpg").read_bytes())
    taps = strict_json.loads((folder / "as-found.clicks.json").read_text(encoding="utf-8"))
    card = strict_json.loads((folder / "card.json").read_text(encoding="utf-8"))
    enter.damage(
        data,
        actors["ines"],
        number,
        {
            "id": "demo-000001-1",
            "at": stamp(at),
            "damage": "A",
            "stage": "as_found",
            "photo_sha256": photo["sha256"],
            "photo": "as-found.jpg",
            "outline": taps,
            "card": card,
            "x": 40.0,
            "y": 25.0,
        },
        now=now,
    )
    said = enter.enter(
        data,
        actors["ines"],
        number,
        [
            {
                "id": "demo-000001-2",
                "kind": "air.read",
                "at": stamp(at + timedelta(minutes=10)),
                "body": {"air_c": 19.6, "rh_pct": 58, "steel_c": 17.9, "instrument": "H2"},
            },
            {
                "id": "demo-000001-3",
                "kind": "air.read",
                "at": stamp(at + timedelta(minutes=25)),
                "body": {"air_c": 20.1, "rh_pct": 61, "steel_c": 18.2, "instrument": "H2"},
            },
        ],
        now=now,
    )
    assert all(one["outcome"] == "stored" for one in said), said


def stamp(moment: datetime) -> str:
    """As the record writes it."""
    return moment.isoformat().replace("+00:00", "Z")


def tell(root: str, keys: str, passwords: list[tuple[str, str, str]], codes: list[str]) -> None:
    """How to open it, on paper."""
    print("The bench in a browser, with the demonstration shop (http://localhost:8741):")
    print(f"    SOUNDEDGE_KEYS={keys} .venv/bin/soundedge serve --root {root}")
    print("Sign in with a one-time password; each holds seven days and is changed at the first sign-in:")
    for login, once, who in passwords:
        print(f"    {login:8} {once}   {who}")
    print(f"A device records only when it is enrolled; each of these codes enrols one: {', '.join(codes)}")
    print("For tablets in the shop: the same with --tls --host 0.0.0.0 (docs/serve.md).")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2], sys.argv[3:]))
