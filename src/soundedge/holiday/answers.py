"""What does the room answer about a film? The answer's parts, as they leave by every door."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from ..basis.finding import Finding, Verdict
from ..basis.question import Answer

Method = Literal["high_voltage", "wet_sponge", "not_applicable"]
Position = Literal["too_low", "between_models", "inside", "too_high"]
Against = Literal["below", "inside", "above", "unknown"]


Status = Literal["passed", "failed", "void", "incomplete", "unproven"]


class _Plain(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class RuleAnswer(_Plain):
    """What one published rule asks for here. ``voltage_v`` is None where it gives no number."""

    rule: str
    id: str
    edition: str
    voltage_v: float | None
    range_v: list[float] | None
    film_um_used: float
    takes: str
    applies: bool
    governs: bool
    against_window: Against
    stress_kv_mm: float | None
    made_for: str
    says: str
    source: str


class Stated(_Plain):
    """What the stated voltage does. ``position`` is None when the upper side is unknown or no gap must be jumped;
    ``between_models`` when the published models disagree whether it jumps, and a coupon must tell.

    ``bridges_um``: the longest straight hole it can be relied on to jump. ``residual_least_um``,
    ``residual_most_um``: how thin the film left under a blind hole must be for it to be found.
    """

    voltage_v: float
    position: Position | None
    of_air_gap_pct: float
    stress_kv_mm: float
    bridges_um: float
    residual_least_um: float | None
    residual_most_um: float | None
    stored_mj_m2: float | None
    proves: str


class StrengthUsed(_Plain):
    """The strength behind ``high_v``: kind is given, procedure, held (our table) or none.

    ``estimate``: the points do not carry the value, a published thickness law does; ``kv_mm`` is then the careful end
    of its band and ``kv_mm_most`` the other.
    """

    kind: str
    kv_mm: float | None
    kv_mm_most: float | None
    estimate: bool | None
    at_um: float
    between_points: bool | None
    fraction: float
    fraction_source: str
    breakdown_v: float | None
    source: str


class AirUsed(_Plain):
    """The air the voltages are for, and what the lowest voltage has on top of the highest model.

    ``class_pct``: what the tables behind the models are good for. ``weather_pct``: pressure and humidity that were
    not read.
    """

    c: float
    kpa: float
    density: float
    humidity_factor: float | None
    class_pct: float
    weather_pct: float


class GapModel(_Plain):
    """One published breakdown model over the thickest film, for the air as stated."""

    id: str
    voltage_v: float
    source: str


class Estimate(_Plain):
    """Estimates beside the window. They never move it; a coupon with a drilled hole decides."""

    path_um: float
    path_v: float
    tip_radius_um: float | None
    tip_v: float | None
    area_factor: float | None
    high_area_v: float | None
    decided_by: str = "a coupon of the thickest film with a drilled hole"


class Piece(_Plain):
    """One part of a split zone with its own window."""

    from_um: float
    to_um: float
    low_v: float
    high_v: float
    suggested_v: float


class Note(_Plain):
    """Something to know that is not a limit."""

    name: str
    because: str
    next_move: str


class FilmAnswer(Answer):
    """The window, every rule beside it, and what the stated voltage proves. Cautions come first.

    ``air_gap_v`` is the highest of ``models`` with the tables' class and the weather. From ``proven_from_v`` (the
    lowest of them, or the procedure's demand) up to ``low_v`` a setting counts only with a coupon's proof.
    """

    cautions: list[str]
    verdict: Verdict
    method: Method
    low_v: float
    high_v: float | None
    window_empty: bool | None
    air_gap_v: float
    proven_from_v: float
    models: list[GapModel]
    low_from: str
    high_from: str
    suggested_v: float | None
    stated: Stated | None
    rules: list[RuleAnswer]
    split: list[Piece]
    strength: StrengthUsed
    air: AirUsed
    estimate: Estimate
    notes: list[Note]
    zone: str | None
    film_um: dict[str, float]
    sheet: dict[str, object] = {}


class OneVoltage(_Plain):
    """A voltage and the zones that may be tested with it."""

    voltage_v: float
    low_v: float
    high_v: float
    zones: list[str]


class ZonesAnswer(Answer):
    """Every zone's window, the fewest settings that serve them, and whether one voltage would do for all."""

    cautions: list[str]
    verdict: Verdict
    zones: list[FilmAnswer]
    low_v: float
    high_v: float | None
    one_voltage_serves_all: bool | None
    settings: list[OneVoltage]
    without_setting: list[str]
    notes: list[Note]
    sheet: dict[str, object]


class Place(_Plain):
    """A place on the part, mm, with its area where it has one."""

    x: float | None
    y: float | None
    area_mm2: float | None = None
    note: str = ""


class ZoneResult(_Plain):
    """What the session proves about one zone. ``void`` lists why its test counts for nothing."""

    zone: str
    kind: str
    status: Status
    verdict: Verdict
    because: str
    next_move: str
    void: list[str]
    voltage_v: float | None
    low_v: float
    high_v: float | None
    passes_so_far: int
    covered_pct: float | None
    left_out: list[Place]
    sparks: list[Place]
    stored_mj: float | None
    findings: list[Finding]


class Again(_Plain):
    """One thing to do again, and only there."""

    zone: str
    x: float | None
    y: float | None
    why: Literal["repair", "test"]
    next_move: str


class SessionAnswer(Answer):
    """Zone by zone: passed, failed, void, incomplete or unproven; and what must be done again, only there."""

    cautions: list[str]
    verdict: Verdict
    session: str
    zones: list[ZoneResult]
    again: list[Again]
    leave_alone: list[str]
    sheet: dict[str, object]
