"""May I sand the film, how much may go, and where does it stop?

    repair 1240 to 1890 µm, limits 1000 and 1800, u 20 µm, film 31 °C   → go: down by 90 µm, 200 µm at most where it is thin
    the zone was not measured                                            → measure it first
    old film beside the overlap                                          → it is not touched
"""

from __future__ import annotations

from collections.abc import Iterator

from ...basis.sentences import say
from ..rules.out_of_limits import moves, out_of_limits
from .gauging import cold
from .moment import Moment
from .orders import standing
from .point import Point, Until
from .sparking import ZONES


def sand(now: Moment) -> Iterator[Point | Until]:
    """Film dressed back in one zone; everything read or tested there before dies with it."""
    yield from standing(now, "A2.2")
    zone = str(now.given.get("zone") or "repair")
    if zone == ZONES[-1]:
        yield Point("A8.5", "Q", "zone", "failing", say("acts.sand_parent"), "stop", say("acts.sand_parent_leave"), "engineer",
                    source=now.case.rule_book)
        return
    yield from cold(now, "A8.3")
    sanded = [event.at for event in now.of("film.sanded") if event.body.zone == zone]
    fresh = now.film is not None and (not sanded or now.film.at >= sanded[-1])
    answers = now.step("thickness").answers if fresh else []
    spots = [spot for answer in answers for spot in answer["spots"] if spot["where"] == zone and spot["readings_um"]]
    if not spots:
        yield Point("A8.1", "Q", "film", "missing", say("acts.zone_not_measured", zone=zone), "measure",
                    say("acts.sand_measure"), "inspector", source=now.case.rule_book)
        return
    yield from _allowance(now, spots)


def _allowance(now: Moment, spots: list[dict[str, object]]) -> Iterator[Point]:
    """The stop line: what may go at the thinnest place, twice the uncertainty kept back; and what must go where it is thick."""
    (least, source), (most, _) = now.limit("film_um_min"), now.limit("film_um_max")
    u_um = max((finding.u or 0.0 for finding in now.step("thickness").findings), default=0.0)
    films = [um for spot in spots for um in spot["readings_um"]]  # type: ignore[attr-defined]
    left = min(films) - (least or 0.0) - 2 * u_um
    thick = [one for one in out_of_limits({"spots": spots, "sanity": []}, None, most) if one.way == "thick"]
    if thick:
        told = moves(now.job, thick, films, least, most, u_um)
        yield Point("A8.2", "Q", "film", "failing", say("acts.sand_thick", highest=max(films), most=most), "correct",
                    told[-1].what, "technician", "informs", value=max(films), unit="um", limit=most, source=source)
    elif left <= 0:
        yield Point("A8.2", "Q", "film", "failing", say("acts.sand_none", lowest=min(films), least=least), "ask_engineer",
                    say("acts.sand_leave"), "engineer", value=min(films), unit="um", limit=least, source=source)
    else:
        yield Point("A8.2", "Q", "film", "odd", say("acts.sand_line", left=round(left)), "read_again", say("acts.sand_then"),
                    "technician", "informs", value=round(left), unit="um", limit=least, source=source)
