"""A film out of limits: what next? It depends on where it lies, which way it is out, and whether it may still be heated.

    repair 960 µm against 1000, looks good          → one more layer; first a new permit, if it ended
    repair 1890 µm against 1800, thinnest 1240       → sand down by 90 µm; at the thinnest place at most 200 µm may go
    old film 940 µm, touched by nobody               → the engineer: map it, grind and build nothing; the repair's result stands

One reading among others at a place that is out is read again first; two that agree there decide (common practice, no
source). What no gauge can have read, a film of nothing or five alike, is read again with another probe.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

from ...basis.sentences import Sentence, say
from ..case import digits
from ..fold import Job
from ..kinds import Event

SOURCE = "own judgement"
_IMPOSSIBLE = ("negative", "unit", "repeats")
Way = Literal["thin", "thick", "impossible"]


@dataclass(frozen=True)
class Out:
    """One place out of limits, with its reading that is farthest out; ``sure``: read more than once."""

    spot: str
    where: str
    way: Way
    film_um: float
    sure: bool = True


@dataclass(frozen=True)
class Move:
    """What to do, of which sort, and by whom."""

    what: str
    verb: Literal["measure", "read_again", "correct", "ask_engineer"]


def out_of_limits(answer: dict[str, Any], least_um: float | None, most_um: float | None,
                  again: Sequence[str] = ()) -> list[Out]:
    """The places with a corrected reading beyond a limit; ``again`` names those that were read before on this film.

    >>> spots = [{"id": "R1", "where": "repair", "readings_um": [960.0, 962.0]}]
    >>> out_of_limits({"spots": spots, "sanity": []}, 1000, 1800)
    [Out(spot='R1', where='repair', way='thin', film_um=960.0, sure=True)]
    """
    odd = {spot for note in answer["sanity"] if note["check"] in _IMPOSSIBLE for spot in note["spots"]}
    found = []
    for spot in answer["spots"]:
        films = spot["readings_um"]
        thin = [um for um in films if least_um is not None and um < least_um]
        thick = [um for um in films if most_um is not None and um > most_um]
        if not (thin or thick):
            continue
        way: Way = "impossible" if spot["id"] in odd else "thin" if thin else "thick"
        sure = spot["id"] in again or len(films) == 1 or len(thin or thick) > 1
        found.append(Out(spot["id"], spot["where"], way, min(thin) if thin else max(thick), sure))
    return found


def moves(job: Job, out: Sequence[Out], films: Sequence[float], least_um: float | None, most_um: float | None,
          u_um: float) -> list[Move]:
    """What to do about each sort of place, what is read again first; ``films`` are all readings of repair and overlap."""
    told = []
    if _of(out, way="impossible"):
        told.append(Move(say("acts.out_probe", spots=_named(out, way="impossible")), "read_again"))
    unsure = [one for one in out if not one.sure and one.way != "impossible"]
    if unsure:
        told.append(Move(say("acts.out_again", spots=", ".join(one.spot for one in unsure)), "read_again"))
    for where in ("repair", "overlap"):
        if _of(out, way="thin", where=where):
            told += _thin(job, _named(out, way="thin", where=where), where)
    for where in ("repair", "overlap"):
        thick = _of(out, way="thick", where=where)
        if thick and most_um is not None:
            down = max(one.film_um for one in thick) - most_um
            left = min(films) - (least_um or 0.0) - 2 * u_um
            blanks = {"spots": _named(thick), "down": round(down), "aim": round(down + 2 * u_um),
                      "line": say("acts.out_line", left=round(left)) if left > 0 else say("acts.out_no_line")}
            sanded = say("acts.out_sand", **blanks) if where == "repair" else say("acts.out_feather", **blanks)
            told.append(Move(sanded, "correct"))
    parent = _of(out, way="thin", where="parent")
    if parent and _sanded(job, "parent"):
        told.append(Move(say("acts.out_new_damage", spots=_named(parent)), "correct"))
    elif parent:
        told.append(Move(say("acts.out_parent", spots=_named(parent)), "ask_engineer"))
    return told


def _thin(job: Job, spots: str, where: str) -> list[Move]:
    """New film that is too thin: one more layer, unless bond or look are bad."""
    bad = _bad(job)
    if bad is not None:
        return [Move(say("acts.out_cut", spots=spots, because=bad), "correct")]
    moment = max(event.at for event in job.events)
    layer = say("acts.out_layer", spots=spots) if where == "repair" else say("acts.out_layer_feathered", spots=spots)
    told = [Move(layer, "correct")]
    permits = job.of("permit.issued")
    if not any(event.at <= moment <= event.body.until for event in permits):
        last = max(permits, key=lambda event: event.body.until, default=None)
        told.append(Move(say("acts.out_permit_none") if last is None else
                         say("acts.out_permit", number=last.body.number, until=digits(last.body.until)), "correct"))
    return told


def _bad(job: Job) -> Sentence | None:
    """Why the new film is not built upon: its last look, its rim or its plate was bad."""
    looks = [event for event in job.of("visual.looked") if event.body.stage != "before"]
    if looks and not looks[-1].body.accepted:
        return say("acts.out_look_bad", at=digits(looks[-1].at))
    layers, probed, tested = job.of("layer.fused"), job.last("edge.probed"), job.last("bond.tested")
    if probed is not None and layers and probed.at > layers[0].at and probed.body.lift_mm > 0:
        return say("acts.out_rim_lifts", lift=probed.body.lift_mm)
    if tested is not None and not tested.body.accepted:
        return say("acts.out_bond_bad", plate=tested.body.plate)
    return None


def together(told: Sequence[Move]) -> str:
    """All the moves as one text, in their order; what follows on a second reading waits for it."""
    first, rest = told[0], told[1:]
    if not rest:
        return first.what
    if first.verb == "read_again":
        return say("acts.out_if", first=first.what, rest=together(rest))
    return say("acts.out_and", first=first.what, rest=together(rest))


def last_change(job: Job) -> Event | None:
    """What last changed the film: a layer, or sanding."""
    found = job.of("layer.fused", "film.sanded")
    return found[-1] if found else None


def read_before(job: Job, film: Event) -> list[str]:
    """The places of this film that were read before, since a layer or sanding last changed it."""
    changed = last_change(job)
    return [spot.id for event in job.of("film.measured")
            if event.id != film.id and event.at <= film.at and (changed is None or event.at >= changed.at)
            for spot in event.body.spots if spot.readings_um]


def _sanded(job: Job, zone: str) -> bool:
    return any(event.body.zone == zone for event in job.of("film.sanded"))


def _of(out: Sequence[Out], *, way: str, where: str = "") -> list[Out]:
    return [one for one in out if one.way == way and where in ("", one.where)]


def _named(out: Sequence[Out], *, way: str = "", where: str = "") -> str:
    return ", ".join(one.spot for one in out if way in ("", one.way) and where in ("", one.where))
