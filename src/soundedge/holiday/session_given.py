"""What may a request say about a part's zones, and about a test that was made?"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import model_validator

from ..basis.quantity import Instant, Prose, Quantity, Word, shown
from ..basis.question import Request, refuse
from ..basis.sentences import say
from ..basis.shape import CoordinateMm, Outline
from .coverage import inside, simple
from .given import LIST_MAX, AreaM2, Film, FilmMicrometres, Ground, State, Volts

TRACK_POINTS_MAX = 10_000


class Zone(Request):
    """One zone: its name, what it is, its thinnest and thickest film, and the voltage stated for it. Its own
    ``state`` stands for the part's, as when a new patch lies in a lining that was in service."""

    id: Word
    kind: Literal["patch", "overlap", "parent", "other"] = "other"
    film_um: Film
    stated_voltage_v: Volts | None = None
    area_m2: AreaM2 | None = None
    state: State | None = None


class ZonesRequest(Ground):
    """Several zones of one part. ``stated_voltage_v`` is one voltage meant for all of them."""

    zones: list[Zone]
    stated_voltage_v: Volts | None = None

    @model_validator(mode="after")
    def _told_apart(self) -> ZonesRequest:
        check_zone_ids([zone.id for zone in self.zones])
        return self


def check_zone_ids(ids: list[str]) -> None:
    """Refuse no zone, too many zones, and one name used twice."""
    if not ids:
        raise refuse("missing", say("holiday.zone_missing"))
    if len(ids) > LIST_MAX:
        raise refuse("out_of_range", say("holiday.too_many_zones", n=len(ids), most=LIST_MAX))
    for number, one in enumerate(ids):
        if one in ids[:number]:
            raise refuse("contradiction", say("holiday.zone_twice", zone=one))


class SessionHead(Request):
    """Who tested what, when, with which instrument."""

    id: Word
    part: Word | None = None
    by: Word | None = None
    at: Instant | None = None
    instrument: Word | None = None


class TestedZone(Zone):
    """A zone as it was tested. ``earlier_passes`` counts high-voltage passes over it before this session."""

    outline_mm: Outline | None = None
    earlier_passes: Annotated[int, Quantity("Earlier passes", "", at_least=0, at_most=1000, whole=True)] = 0


class Grounding(Request):
    """The earth check: made by touching bare metal or a known hole, or by resistance."""

    checked: bool
    resistance_ohm: Annotated[float, Quantity("Resistance of the earth lead", "ohm", at_least=0, at_most=1e9)
                              ] | None = None


class ElectrodeCheck(Request):
    """What the dial said and what a high-voltage meter read at the electrode, on the lining; of one ``instrument`` only."""

    set_v: Volts
    measured_v: Volts
    at: Instant | None = None
    instrument: Word | None = None


class Coupon(Request):
    """A coupon with a drilled hole: its film, the voltage measured at the electrode, and whether it sparked."""

    film_um: FilmMicrometres
    voltage_v: Volts
    found: bool
    hole_mm: Annotated[float, Quantity("Drilled hole", "mm", above=0, at_most=10,
                                       next_move="A needle hole of 22 gauge is 0.7 mm.")] | None = None
    instrument: Word | None = None


class Track(Request):
    """One stroke of the electrode: the middle of its way, and its contact width across the travel, mm."""

    points_mm: list[list[CoordinateMm]]
    width_mm: Annotated[float, Quantity("Contact width of the electrode", "mm", at_least=1, at_most=2000)]

    @model_validator(mode="after")
    def _a_way(self) -> Track:
        if not 2 <= len(self.points_mm) <= 5000:
            raise refuse("not_enough" if len(self.points_mm) < 2 else "out_of_range",
                         say("holiday.track_length", n=len(self.points_mm)))
        if any(len(point) != 2 for point in self.points_mm):
            raise refuse("unreadable", say("holiday.track_point_not_a_pair"))
        if len({tuple(point) for point in self.points_mm}) < 2:
            raise refuse("not_enough", say("holiday.track_of_one_place"))
        return self


class Pass(Request):
    """One pass over a zone at one dial setting. What it covered: tracks, or a share judged by eye. ``earthed`` stands before
    the session's ``grounding``; checks and coupons of another ``instrument`` prove nothing for it."""

    zone: Word
    set_v: Volts
    travel_m_s: Annotated[float, Quantity("Electrode travel", "m/s", above=0, at_most=5,
                                          next_move="It is in m/s: 1 ft/s is 0.305 m/s.")] | None = None
    tracks: list[Track] = []
    covered_pct: Annotated[float, Quantity("Covered share", "%", at_least=0, at_most=100)] | None = None
    instrument: Word | None = None
    earthed: bool | None = None

    @model_validator(mode="after")
    def _one_map(self) -> Pass:
        if self.tracks and self.covered_pct is not None:
            raise refuse("contradiction", say("holiday.pass_tracks_and_share"))
        if len(self.tracks) > 2000:
            raise refuse("out_of_range", say("holiday.too_many_tracks", n=len(self.tracks)))
        return self


class Spark(Request):
    """A place that sparked."""

    zone: Word
    x: CoordinateMm | None = None
    y: CoordinateMm | None = None
    note: Prose | None = None

    @model_validator(mode="after")
    def _a_place(self) -> Spark:
        if (self.x is None) != (self.y is None):
            raise refuse("missing", say("holiday.spark_half_placed"))
        return self


class SessionRequest(Ground):
    """A test as it was made."""

    session: SessionHead
    zones: list[TestedZone]
    grounding: Grounding | None = None
    electrode_voltage: list[ElectrodeCheck] = []
    coupons: list[Coupon] = []
    passes: list[Pass] = []
    sparks: list[Spark] = []
    pulse_hz: Annotated[float, Quantity("Pulses of the set", "1/s", at_least=1, at_most=10_000)] | None = None
    contact_mm: Annotated[float, Quantity("Contact of the electrode along the travel", "mm", above=0, at_most=2000)
                          ] | None = None

    @model_validator(mode="after")
    def _hangs_together(self) -> SessionRequest:
        names = [zone.id for zone in self.zones]
        check_zone_ids(names)
        drawn = sum(len(track.points_mm) for one in self.passes for track in one.tracks)
        if drawn > TRACK_POINTS_MAX:
            raise refuse("out_of_range", say("holiday.too_many_track_points", n=drawn, most=TRACK_POINTS_MAX))
        for what, held in (("electrode_voltage", self.electrode_voltage), ("coupons", self.coupons),
                           ("passes", self.passes), ("sparks", self.sparks)):
            if len(held) > 10 * LIST_MAX:
                raise refuse("out_of_range", say("holiday.list_too_long", key=what, n=len(held), most=10 * LIST_MAX))
        for what, name in [("A pass", one.zone) for one in self.passes] + [("A spark", s.zone) for s in self.sparks]:
            if name not in names:
                raise refuse("unknown", say("holiday.zone_not_given", key=what, zone=name, known=', '.join(names[:20])))
        for zone in self.zones:
            if zone.outline_mm is not None and not simple(zone.outline_mm):
                raise refuse("contradiction", say("holiday.zone_outline_crosses_itself", zone=zone.id))
        outlines = {zone.id: zone.outline_mm for zone in self.zones}
        for one in self.passes:
            if one.tracks and outlines[one.zone] is None:
                raise refuse("missing", say("holiday.pass_zone_without_outline", zone=one.zone))
        for spark in self.sparks:
            outline = outlines[spark.zone]
            if outline is not None and spark.x is not None and spark.y is not None:
                if not inside(outline, spark.x, spark.y):
                    raise refuse("contradiction", say("holiday.spark_outside_zone", x=shown(spark.x), y=shown(spark.y),
                                                      zone=spark.zone))
        return self
