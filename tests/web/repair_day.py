"""The repair of the mixer cover at the bench of a test shop, at times counted back from now; up to any of its entries."""

from datetime import timedelta

from .installation import now
from .one_job import opened

ELLIPSE = {"x": -60, "y": 35, "a": 35, "b": 25, "angle_deg": 20}
GUN = {"power_w": 3000, "air_c": 520, "outlet_mm": 34, "distance_mm": 50}
# kind, role, minutes before now, body
DAY = (
    (
        "damage.outlined",
        "technician",
        200,
        {"id": "A", "stage": "as_found", "ellipse_mm": ELLIPSE, "u_area_mm2": 8, "pit_depth_mm": 0.1},
    ),
    ("air.read", "technician", 190, {"air_c": 19.8, "rh_pct": 52, "steel_c": 18.6, "instrument": "H2"}),
    ("permit.issued", "inspector", 180, {"number": "HW-206", "until": 240}),
    ("surface.prepared", "technician", 150, {"method": "Ground back to the sound edge, blasted with a pencil"}),
    (
        "damage.outlined",
        "technician",
        145,
        {"id": "A", "stage": "as_prepared", "ellipse_mm": ELLIPSE, "u_area_mm2": 8, "pit_depth_mm": 0.15},
    ),
    (
        "surface.checked",
        "inspector",
        140,
        {"profile_um": 74, "salt_us_cm": 1.6, "salt_water_ml": 15, "dust_rating": 1, "dust_size": 2},
    ),
    ("solvent.used", "technician", 130, {"solvent": "acetone", "ml": 6, "space_l": 4000, "air_c": 20, "air_changes_per_h": 6}),
    ("air.read", "technician", 125, {"air_c": 20.4, "rh_pct": 56, "steel_c": 18.4, "instrument": "H2"}),
    ("air.read", "technician", 95, {"air_c": 20.9, "rh_pct": 61, "steel_c": 18.3, "instrument": "H2"}),
    ("vapour.read", "inspector", 90, {"lel_pct": 0, "instrument": "L2"}),
    ("heat.planned", "technician", 88, {"gun": GUN, "back": "second_gun", "part_start_c": 180, "ambient_c": 20}),
    ("layer.fused", "technician", 70, {"number": 1, "lot": "P-311"}),
    ("layer.fused", "technician", 60, {"number": 2, "lot": "P-311"}),
    (
        "heat.logged",
        "technician",
        30,
        {
            "instrument": "I4",
            "readings": [
                {"time_s": 0, "reading_c": 231, "aimed_at": "polymer"},
                {"time_s": 60, "reading_c": 236, "aimed_at": "back_contact"},
                {"time_s": 120, "reading_c": 268, "aimed_at": "polymer"},
                {"time_s": 180, "reading_c": 255, "aimed_at": "back_contact"},
                {"time_s": 240, "reading_c": 281, "aimed_at": "polymer"},
                {"time_s": 300, "reading_c": 262, "aimed_at": "back_contact"},
            ],
        },
    ),
    ("hot_work.ended", "technician", 20, {"fire_watch_until": 45, "watched_by": "tech"}),
)


def job_at_work(shop, number, *, before="", count=None):
    """A job with the entries of the day before the first of kind ``before`` (all of them when it is empty)."""
    from soundedge.services.desk import enter

    name, today = opened(shop, number), now()
    for n, (kind, role, ago, body) in enumerate(DAY[:count], 1):
        if kind == before:
            break
        said = {
            key: (today + timedelta(minutes=value)).isoformat() if key in ("until", "fire_watch_until") else value
            for key, value in body.items()
        }
        entry = {"id": f"day-{n}", "kind": kind, "at": (today - timedelta(minutes=ago)).isoformat(), "body": said}
        answer = enter.enter(shop.data, shop.actor(role), name, [entry], now=today)[0]
        assert answer["outcome"] == "stored", (kind, answer)
    return name
