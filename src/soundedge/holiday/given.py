"""What may be said in a request to this room? The pieces all its forms share.

Every number has its fence here: 25 in a µm field is refused because it is surely 25 mil.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator
from pydantic_core import core_schema

from ..basis.errors import BenchError, Contradiction, Unreadable
from ..basis.materials import Polymer
from ..basis.procedure import Procedure, read_procedure
from ..basis.quantity import NotThat, Prose, Quantity, Word, shown
from ..basis.question import Request, read, refuse
from ..basis.sentences import say
from .rules import Branch
from .strength import Strength

LIST_MAX = 200

_FILM = Quantity("Film", "um", at_least=100, at_most=20_000,
                 next_move="Film is in µm: 25 mil is 635 µm, 0.8 mm is 800 µm.")
_VOLTS = Quantity("Test voltage", "V", at_least=5, at_most=60_000,
                  next_move="Voltages are in V: 4 kV is 4000 V.")
FilmMicrometres = Annotated[float, _FILM]
Volts = Annotated[float, _VOLTS]
LelPct = Annotated[float, Quantity("Vapour, as a share of the lower explosive limit,", "%", at_least=0, at_most=100,
                                   next_move="Read the gas meter again, in % of LEL.")]
AreaM2 = Annotated[float, Quantity("Swept area", "m2", at_least=1e-6, at_most=10_000,
                                   next_move="It is in m²; 1 m² is 1 000 000 mm².")]
Micrometres = Annotated[float, Quantity("A length along the path", "um", at_least=0, at_most=5_000,
                                        next_move="It is in µm; check the unit.")]


class Film(Request):
    """Thinnest and thickest film of the zone, as measured; the nominal where a rule asks for it. µm."""

    min: FilmMicrometres
    max: FilmMicrometres
    nominal: FilmMicrometres | None = None

    @model_validator(mode="after")
    def _in_order(self) -> Film:
        if self.min > self.max:
            raise refuse("contradiction", say("holiday.film_range_crossed", thinnest_um=self.min, thickest_um=self.max))
        return self


class StrengthPoint(Request):
    """Dielectric strength at one thickness, as the maker states it."""

    kv_mm: Annotated[float, Quantity("Dielectric strength", "kV/mm", at_least=0.05, at_most=400,
                                     next_move="It is in kV/mm: 1000 V/mil is 39.4 kV/mm.")]
    at_um: Annotated[float, Quantity("Thickness of the tested specimen", "um", at_least=5, at_most=20_000,
                                     next_move="It is in µm: 3 mm is 3000 µm.")]


class Air(Request):
    """Air where the test is made. Pressure as it is there, or the height above the sea."""

    c: Annotated[float, Quantity("Air temperature", "°C", at_least=-40, at_most=70,
                                 next_move="It is in °C; check the unit.")] = 20.0
    kpa: Annotated[float, Quantity("Air pressure", "kPa", at_least=45, at_most=110,
                                   next_move="It is in kPa, not reduced to sea level: 1013 hPa is 101.3 kPa.")
                   ] | None = None
    altitude_m: Annotated[float, Quantity("Height above the sea", "m", at_least=-500, at_most=6000,
                                          next_move="It is in m; 1000 ft is 305 m.")] | None = None
    rh_pct: Annotated[float, Quantity("Relative humidity", "%", above=0, at_most=100,
                                      next_move="A hygrometer that shows more is wet: dry it and read again.")
                      ] | None = None

    @model_validator(mode="after")
    def _one_pressure(self) -> Air:
        if self.kpa is not None and self.altitude_m is not None:
            raise refuse("contradiction", say("holiday.pressure_and_altitude"))
        return self


class State(Request):
    """What is known of the film's state; each true one speaks against the test."""

    immersed: bool = False
    conductive_filler: bool = False
    wet: bool = False
    carbon_black: bool = False
    antistatic_grade: bool = False
    conductive_primer: bool = False
    solvent: bool = False
    fabric_backed: bool = False


class Path(Request):
    """What lengthens the spark's way or sharpens the electrode; told beside the window as an estimate."""

    lift_off_um: Micrometres = 0.0
    roughness_um: Micrometres = 0.0
    slant_deg: Annotated[float, Quantity("Slant of the hole", "°", at_least=0, at_most=75)] = 0.0
    tip_radius_um: Annotated[float, Quantity("Radius of a wire tip", "um", at_least=5, at_most=2000,
                                             next_move="It is in µm; a fine brush wire has 50 to 100.")] | None = None


class RuleRow(Request):
    """One row of a table: this voltage from one thickness to another."""

    from_um: Annotated[float, Quantity("Start of a row", "um", at_least=0, at_most=20_000)]
    to_um: Annotated[float, Quantity("End of a row", "um", above=0, at_most=20_000)]
    voltage_v: Volts

    @model_validator(mode="after")
    def _in_order(self) -> RuleRow:
        if self.from_um >= self.to_um:
            raise refuse("contradiction", say("holiday.row_runs_backwards", from_um=self.from_um, to_um=self.to_um))
        return self


class RulePiece(Request):
    """One piece of a formula: factor · (film in unit)^power V, up to a thickness."""

    factor: Annotated[float, Quantity("Factor of the formula", "", at_least=0.01, at_most=1e6)]
    power: Annotated[float, Quantity("Power of the formula", "", at_least=0, at_most=2)] = 0.5
    unit: Literal["um", "mm", "mil"] = "mil"
    up_to_um: Annotated[float, Quantity("Where the piece ends", "um", above=0, at_most=20_000)] | None = None


class OwnRule(Request):
    """The shop's own rule, such as the table of a standard it holds a licence for. It governs."""

    rule: Word
    edition: Word | None = None
    source: Prose
    takes: Literal["max", "nominal", "min"] = "max"
    rows: list[RuleRow] = []
    pieces: list[RulePiece] = []
    voltage_max_v: Volts | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> OwnRule:
        if bool(self.rows) == bool(self.pieces):
            raise refuse("contradiction" if self.rows else "missing", say("holiday.own_rule_rows_or_pieces"))
        if len(self.rows) > LIST_MAX or len(self.pieces) > LIST_MAX:
            raise refuse("out_of_range", say("holiday.own_rule_too_long", most=LIST_MAX))
        ordered = sorted(self.rows, key=lambda row: row.from_um)
        for one, after in pairwise(ordered):
            if after.from_um < one.to_um:
                raise refuse("contradiction", say("holiday.own_rule_rows_overlap", at_um=after.from_um))
            if after.voltage_v < one.voltage_v:
                raise refuse("contradiction", say("holiday.own_rule_voltage_falls", thinner_v=shown(one.voltage_v),
                                                  thicker_v=shown(after.voltage_v)))
        open_ends = [piece for piece in self.pieces if piece.up_to_um is None]
        if self.pieces and (len(open_ends) != 1 or self.pieces[-1].up_to_um is not None):
            raise refuse("contradiction", say("holiday.own_rule_last_piece"))
        ends = [piece.up_to_um for piece in self.pieces[:-1] if piece.up_to_um is not None]
        if ends != sorted(set(ends)):
            raise refuse("contradiction", say("holiday.own_rule_pieces_unsorted"))
        drawn = [Branch(piece.factor, piece.power, piece.unit, piece.up_to_um) for piece in self.pieces]
        for piece, next_piece in pairwise(drawn):
            if piece.up_to_um and next_piece.voltage_v(piece.up_to_um) < piece.voltage_v(piece.up_to_um):
                raise refuse("contradiction", say("holiday.own_rule_piece_falls", at_um=piece.up_to_um))
        return self


class _ProcedureRule:
    """A lining procedure as plain values, read by the house's own reader. Its 'strength' becomes a list of
    ``StrengthPoint`` (or one list for each polymer), its 'holiday_rule' a name or an ``OwnRule``."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> core_schema.CoreSchema:
        def take(value: Any, info: core_schema.ValidationInfo) -> Procedure:
            from_record = bool((info.context or {}).get("decimal_strings"))
            procedure = read_procedure(value, from_record=from_record)
            choices = dict(procedure.choices)
            if "strength" in choices:
                choices["strength"] = _strengths(choices["strength"], from_record)
            if "holiday_rule" in choices and not isinstance(choices["holiday_rule"], (str, OwnRule)):
                choices["holiday_rule"] = _inside("procedure.holiday_rule", OwnRule, choices["holiday_rule"], from_record)
            return replace(procedure, choices=choices)

        return core_schema.with_info_plain_validator_function(take)

    def __get_pydantic_json_schema__(self, schema: Any, handler: Any) -> dict[str, Any]:
        return {"type": "object", "description": "A lining procedure: {\"limits\": {…}}"}


def _strengths(given: Any, from_record: bool) -> Any:
    if isinstance(given, dict):
        return {polymer: _strength_list(one, from_record) for polymer, one in given.items()}
    return _strength_list(given, from_record)


def _strength_list(given: Any, from_record: bool) -> list[StrengthPoint]:
    field = "procedure.strength"
    if not isinstance(given, list) or not 1 <= len(given) <= LIST_MAX:
        raise Unreadable(field, say("holiday.strength_not_a_list"))
    points = [one if isinstance(one, StrengthPoint) else _inside(field, StrengthPoint, one, from_record) for one in given]
    try:
        Strength.of((point.at_um, point.kv_mm) for point in points)
    except NotThat as bad:
        raise Contradiction(field, bad.message) from None
    return points


def _inside(field: str, model: type[Request], given: Any, from_record: bool) -> Any:
    try:
        return read(model, given, from_record=from_record)
    except BenchError as fault:
        fault.field = f"{field}.{fault.field}".rstrip(".")
        raise


ProcedureGiven = Annotated[Procedure, _ProcedureRule()]


class Ground(Request):
    """What all forms of this room share: the film's material, the air, the electrode, the governing rule."""

    polymer: Polymer | None = None
    strength: list[StrengthPoint] = []
    strength_fraction: Annotated[float, Quantity("Usable share of the strength", "", at_least=0.01, at_most=1,
                                                 next_move="0.5 is usual.")] | None = None
    electrode: Literal["wire_brush", "conductive_rubber", "spring"] = "wire_brush"
    air: Air = Air()
    state: State = State()
    path: Path = Path()
    procedure: ProcedureGiven | None = None
    rule: Word | None = None
    own_rule: OwnRule | None = None
    lel_pct: LelPct | None = None
    weibull_beta: Annotated[float, Quantity("Weibull shape of the strength", "", at_least=1, at_most=100)] = 10.0

    @model_validator(mode="after")
    def _one_rule(self) -> Ground:
        if self.rule is not None and self.own_rule is not None:
            raise refuse("contradiction", say("holiday.rule_and_own_rule"))
        if len(self.strength) > LIST_MAX:
            raise refuse("out_of_range", say("holiday.too_many_strengths", most=LIST_MAX))
        if self.strength:
            try:
                Strength.of((point.at_um, point.kv_mm) for point in self.strength)
            except NotThat as bad:
                raise refuse("contradiction", bad.message) from None
        limits = self.procedure.limits if self.procedure else {}
        held = limits.get("strength_fraction")
        if self.strength_fraction is not None and held is not None and held.value != self.strength_fraction:
            raise refuse("contradiction", say("holiday.strength_fraction_set_twice", asked=shown(self.strength_fraction),
                                              set=shown(held.value)))
        return self


class FilmRequest(Ground):
    """One film: thinnest and thickest, what it is made of, the air, and the voltage somebody states."""

    film_um: Film
    stated_voltage_v: Volts | None = None
    area_m2: AreaM2 | None = None
    zone: Word | None = Field(default=None, description="What the zone is called on the test sheet")
