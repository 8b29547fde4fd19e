"""What may be asked of this room: air and steel, a log of them, and what the prepared surface measured."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from pydantic import model_validator

from ..basis.finding import DecisionRequest
from ..basis.procedure import LIMITS
from ..basis.quantity import Instant, Prose, Quantity, Word
from ..basis.question import Request, no_more_than, refuse
from ..basis.sentences import say
from .salts import Species

AirC = Annotated[float, Quantity("Air temperature", "°C", at_least=-45, at_most=60,
                                 next_move="The dew point formula holds from -45 to 60 °C; check the unit.")]
RhPct = Annotated[float, Quantity("Relative humidity", "%", above=0, at_most=100,
                                  next_move="A hygrometer that shows more is wet: dry it and read again.")]
SteelC = Annotated[float, Quantity("Steel temperature", "°C", at_least=-60, at_most=450,
                                   next_move="Read it again; check the unit.")]
TolK = Annotated[float, Quantity("Tolerance of the thermometer", "K", at_least=0, at_most=10,
                                 next_move="It is a half-width and a difference: 1 °F is 0.56 K.")]
TolRh = Annotated[float, Quantity("Tolerance of the hygrometer", "%", at_least=0, at_most=20,
                                  next_move="It is a half-width in % of relative humidity.")]

DEW_MARGIN_K = 3.0
RH_PCT_MAX = 85.0
LOG_GAP_MIN_MAX = 120.0
LOG_MAX = 5000

class ConditionLimits(Request):
    """The limits of the lining procedure this room judges, by their plain keys. One that is set and was not
    measured is answered ``not_measured``. Margin and humidity have a default wherever their key is left out; an
    explicit null leaves them unjudged."""

    dew_margin_k: Annotated[float, LIMITS["dew_margin_k"]] | None = DEW_MARGIN_K
    rh_pct_max: Annotated[float, LIMITS["rh_pct_max"]] | None = RH_PCT_MAX
    steel_c_min: Annotated[float, LIMITS["steel_c_min"]] | None = None
    steel_c_max: Annotated[float, LIMITS["steel_c_max"]] | None = None
    salts_mg_m2_max: Annotated[float, LIMITS["salts_mg_m2_max"]] | None = None
    profile_um_min: Annotated[float, LIMITS["profile_um_min"]] | None = None
    profile_um_max: Annotated[float, LIMITS["profile_um_max"]] | None = None
    dust_rating_max: Annotated[int, LIMITS["dust_rating_max"]] | None = None
    dust_size_max: Annotated[int, LIMITS["dust_size_max"]] | None = None
    prep_to_layer_min_max: Annotated[float, LIMITS["prep_to_layer_min_max"]] | None = None
    log_gap_min_max: Annotated[float, LIMITS["log_gap_min_max"]] | None = None

    @model_validator(mode="after")
    def _in_order(self) -> ConditionLimits:
        for low, high, unit in (("profile_um_min", "profile_um_max", "um"), ("steel_c_min", "steel_c_max", "°C")):
            least, most = getattr(self, low), getattr(self, high)
            if least is not None and most is not None and least > most:
                raise refuse("contradiction", say("conditions.limits_crossed", low=low, low_value=least, unit=unit, high=high,
                                                  high_value=most))
        return self


class ReadingRequest(Request):
    """One line of the air log."""

    at: Instant
    air_c: AirC
    rh_pct: RhPct
    steel_c: SteelC


class Operation(Request):
    """Work that needed good air: its name, when it began and ended."""

    name: Word
    start: Instant
    end: Instant

    @model_validator(mode="after")
    def _in_order(self) -> Operation:
        if self.end < self.start:
            raise refuse("contradiction", say("conditions.operation_ends_before_start", name=self.name))
        return self


class SaltsRequest(Request):
    """A patch test for soluble salts: the conductivity rise (or reading and blank), the water, the patch; or the
    stated result alone, when nothing else was written down."""

    rise_us_cm: Annotated[float, Quantity("Conductivity rise", "µS/cm", at_least=0, at_most=20000)] | None = None
    reading_us_cm: Annotated[float, Quantity("Conductivity", "µS/cm", at_least=0, at_most=20000)] | None = None
    blank_us_cm: Annotated[float, Quantity("Conductivity of the clean water", "µS/cm", at_least=0, at_most=500)] | None = None
    volume_ml: Annotated[float, Quantity("Extraction water", "ml", at_least=0.5, at_most=250,
                                         next_move="Usual are 15 ml and 3 ml.")] | None = None
    area_mm2: Annotated[float, Quantity("Area under the patch", "mm2", at_least=50, at_most=50000,
                                        next_move="The usual patch covers 1250 mm².")] = 1250.0
    expressed_as: Species = "sodium_chloride"
    stated_mg_m2: Annotated[float, Quantity("Stated salts", "mg/m2", at_least=0, at_most=100000)] | None = None

    @model_validator(mode="after")
    def _one_rise(self) -> SaltsRequest:
        given = [self.rise_us_cm, self.reading_us_cm, self.blank_us_cm, self.volume_ml]
        if self.stated_mg_m2 is not None and given == [None] * 4:
            return self  # a result alone: judged, but not trusted further than it goes
        if self.volume_ml is None:
            raise refuse("missing", say("conditions.volume_missing"))
        if (self.rise_us_cm is None) == (self.reading_us_cm is None):
            raise refuse("missing", say("conditions.salts_reading_missing"))
        if self.reading_us_cm is not None:
            if self.blank_us_cm is None:
                raise refuse("missing", say("conditions.blank_missing"))
            if self.blank_us_cm > self.reading_us_cm:
                raise refuse(
                    "contradiction",
                    say("conditions.clean_water_conducts_better", blank_us_cm=self.blank_us_cm,
                        reading_us_cm=self.reading_us_cm),
                )
        elif self.blank_us_cm is not None:
            raise refuse("contradiction", say("conditions.blank_given_with_rise"))
        return self

    def rise(self) -> float:
        """Conductivity of the extract less that of the clean water. [µS/cm]"""
        if self.rise_us_cm is not None:
            return self.rise_us_cm
        return (self.reading_us_cm or 0.0) - (self.blank_us_cm or 0.0)


class DustRequest(Request):
    """Dust on a pressed tape: quantity rating and size class, each 0 to 5 (ISO 8502-3)."""

    rating: Annotated[int, Quantity("Dust rating", "", at_least=0, at_most=5, whole=True)]
    size: Annotated[int, Quantity("Dust size class", "", at_least=0, at_most=5, whole=True)] | None = None


ProfileUm = Annotated[float, Quantity("Profile", "um", at_least=0, at_most=1000, next_move="1 mil is 25.4 µm; check the unit.")]


class ConditionsRequest(Request):
    """Air and steel now, or as a log; and what the prepared surface measured. What was not measured is left out."""

    air_c: AirC | None = None
    rh_pct: RhPct | None = None
    steel_c: SteelC | None = None
    tol_air_k: TolK = 0.5
    tol_rh_pct: TolRh = 2.0
    tol_steel_k: TolK = 0.5
    series: list[ReadingRequest] | None = None
    operations: Annotated[list[Operation], no_more_than(500, "operations")] = []
    now: Instant | None = None
    prepared_at: Instant | None = None
    first_layer_at: Instant | None = None
    salts: SaltsRequest | None = None
    profile_um: Annotated[list[ProfileUm] | None, no_more_than(500, "profile readings")] = None
    dust: DustRequest | None = None
    limits: ConditionLimits | None = None
    limit_sources: dict[Word, Prose] = {}
    decision: DecisionRequest = DecisionRequest()

    @model_validator(mode="before")
    @classmethod
    def _one_way_of_writing_times(cls, raw: Any) -> Any:
        """Once read, every time is UTC; whether a zone was written is only seen here."""
        zoned: dict[bool, Any] = {}
        for moment in _times(raw):
            has_zone = _has_zone(moment)
            if has_zone is not None:
                zoned.setdefault(has_zone, moment)
        if len(zoned) == 2:
            raise refuse("contradiction", say("conditions.time_zones_mixed", with_zone=zoned[True], without_zone=zoned[False]))
        return raw


def _times(raw: Any) -> list[Any]:
    """Every time in a request as written, in the order of the keys."""
    if not isinstance(raw, dict):
        return []
    found = [raw.get(key) for key in ("now", "prepared_at", "first_layer_at")]
    for key, parts in (("series", ("at",)), ("operations", ("start", "end"))):
        rows = raw.get(key)
        for row in rows if isinstance(rows, list) else ():
            if isinstance(row, dict):
                found += [row.get(part) for part in parts]
    return found


def _has_zone(moment: Any) -> bool | None:
    """Whether a time names its zone; None for what is no time, which is refused by name later."""
    try:
        read = moment if isinstance(moment, datetime) else datetime.fromisoformat(moment.strip())
    except (AttributeError, ValueError):
        return None
    return read.tzinfo is not None
