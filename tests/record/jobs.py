"""Invented jobs for the tests of the record: Kelderbeck Basin Works, Ines repairs, Tobias inspects, Amara decides."""

from datetime import UTC, datetime, timedelta

from soundedge.record.write import Said, write

DAY = datetime(2031, 5, 4, 6, 40, tzinfo=UTC)
NOW = datetime(2031, 5, 4, 13, 0, tzinfo=UTC)


def fact(number: int, kind: str, by: str, body: dict, id: str | None = None) -> Said:
    return Said(id or f"e{number}", kind, by, DAY + timedelta(minutes=10 * number), body)


def released(job: str = "KBW-2031-014") -> list[Said]:
    """A whole job, done in order and released by somebody who did none of it."""
    steps = [
        ("job.opened", "sheet", {"number": job, "procedure": {"hold_points": ["disposition", "surface", "film", "holiday"]}}),
        ("part.identified", "sheet", {"name": "mixer cover", "tag": "MC-7", "plate_mm": 12}),
        ("lining.identified", "sheet", {"polymer": "ectfe", "thickness_um": 1250.0}),
        ("person.named", "sheet", {"id": "ines", "name": "Ines Marlow", "role": "technician"}),
        ("person.named", "sheet", {"id": "tobias", "name": "Tobias Renn", "role": "inspector",
                                   "qualified_until": "2031-11-30T00:00:00Z", "qualified_for": ["ectfe"]}),
        ("person.named", "sheet", {"id": "amara", "name": "Amara Okoye", "role": "engineer"}),
        ("instrument.listed", "sheet", {"id": "G7", "kind": "film_gauge", "calibrated_on": "2031-01-20T00:00:00Z",
                                        "calibration_due": "2032-01-20T00:00:00Z"}),
        ("damage.outlined", "ines", {"id": "A", "stage": "as_found"}),
        ("air.read", "ines", {"air_c": 19.8, "rh_pct": 52, "steel_c": 18.6, "remark": "Überschlag 3 µS/cm, „trocken“"}),
        ("surface.prepared", "ines", {"method": "Ground back to the sound edge\nblown with dry air"}),
        ("damage.outlined", "ines", {"id": "A", "stage": "as_prepared"}),
        ("surface.checked", "tobias", {"profile_um": 74.0}),
        ("hold_point.signed", "tobias", {"hold_point": "disposition", "meaning": "may be repaired"}),
        ("hold_point.signed", "tobias", {"hold_point": "surface", "meaning": "clean and rough"}),
        ("layer.fused", "ines", {"number": 1, "lot": "P-311"}),
        ("layer.fused", "ines", {"number": 2, "lot": "P-311"}),
        ("hot_work.ended", "ines", {"fire_watch_until": "2031-05-04T10:55:00Z", "watched_by": "ines"}),
        ("film.measured", "tobias", {"instrument": "G7", "spots": [{"id": "s1", "readings_um": [1251.0, 1249.5, 1302.25]}]}),
        ("hold_point.signed", "tobias", {"hold_point": "film", "meaning": "thick enough"}),
        ("holiday.tested", "tobias", {"voltage_v": 8000, "grounded": True, "holidays": []}),
        ("hold_point.signed", "tobias", {"hold_point": "holiday", "meaning": "no hole"}),
        ("release.signed", "tobias", {"meaning": "released"}),
        ("job.judged", "bench", {"certificate": job, "verdict": "released", "blocked_by": []}),
    ]
    return [fact(n, kind, by, body) for n, (kind, by, body) in enumerate(steps)]


def record(facts=None, job: str = "KBW-2031-014", now=NOW):
    return write(job, facts if facts is not None else released(job), now=now)
