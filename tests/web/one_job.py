"""A job of the Kelderbeck Basin Works, opened at the bench as a shop would: instruments, lots and procedure in the register."""

from pathlib import Path

PROCEDURE = Path(__file__).parents[2] / "examples" / "procedures" / "kbw-lp-04.toml"
PART = {"name": "Mixer cover", "tag": "MC-207", "material": "carbon_steel", "plate_mm": 12, "lined_area_mm2": 480000}
LINING = {"polymer": "ectfe", "thickness_um": 1200}


def opened(shop, number, **part):
    """The number of a fresh job of this shop, ``part``: what its part has besides; its register is filled the first time."""
    from soundedge.services.desk import jobs
    from soundedge.services.desk import register as desk

    from .installation import now

    book = desk.register(shop.data)
    if not book.procedures:
        proposed = desk.propose_procedure(
            shop.data,
            shop.actor("engineer"),
            PROCEDURE.read_text(encoding="utf-8"),
            because="The plant's procedure for ECTFE covers.",
            id="proposed-lp04",
            now=now(),
        )
        desk.approve_procedure(shop.data, shop.actor("manager"), proposed, now=now())
        for one in (
            {"id": "G7", "kind": "film_gauge", "tol_pct": 1, "tol": 0},
            {"id": "H2", "kind": "air_meter"},
            {"id": "P3", "kind": "steel_probe"},
            {"id": "V1", "kind": "holiday_detector"},
            {"id": "L2", "kind": "vapour_meter"},
            {"id": "S1", "kind": "salt_meter"},
            {"id": "R1", "kind": "profile_gauge"},
            {"id": "I4", "kind": "infrared"},
        ):
            desk.list_instrument(
                shop.data,
                shop.actor("manager"),
                one
                | {
                    "calibrated_on": "2026-06-01T00:00:00Z",
                    "calibration_due": "2027-06-01T00:00:00Z",
                    "certificate": f"C-{one['id']}",
                },
                now=now(),
            )
        desk.receive_lot(
            shop.data,
            shop.actor("manager"),
            {"id": "P-311", "kind": "powder", "polymer": "ectfe", "expires": "2027-09-01T00:00:00Z"},
            now=now(),
        )
    procedure = next(iter(desk.register(shop.data).procedures))
    return jobs.open_job(
        shop.data,
        shop.actor("manager"),
        {"number": number, "site": "Kelderbeck Basin Works", "procedure": procedure, "part": PART | part, "lining": LINING},
        id=f"open-{number}",
        now=now(),
    )
