"""Which limits does this shop's lining procedure set, who approved them, and where do they come from?

There is no universal limit for a spot repair, so every limit is data. A procedure is a TOML file (or
the same as JSON in a request):

    [procedure]
    id = "KBW-LP-04"
    title = "Spot repair of ECTFE powder linings"
    edition = "3"
    approver = "R. Adeyemi, lining engineer"
    approved_on = "2031-01-15"
    example = true                       # an example is never mistaken for a procedure

    [decision]
    rule = "guarded"                     # or "simple"
    probability = 0.95
    scope = "all"                        # all readings together, or "each" place by itself

    [limits.bare_area_mm2_max]
    value = 900
    unit = "mm2"
    source = "KBW-LP-04, clause 5.2"

In a request a limit may also stand as a bare number (``{"limits": {"bare_area_mm2_max": 900}}``), or the
whole procedure as a flat object of limits; its source is then "the request".

>>> p = load_procedure('[procedure]\\nid="X"\\n[limits.feather_mm]\\nvalue=15\\nunit="mm"\\nsource="X, 5.1"\\n')
>>> p.value("feather_mm"), p.cite("feather_mm")
(15.0, 'X, 5.1')
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from .errors import BenchError, Missing, OutOfRange, Unknown, Unreadable
from .finding import SIMPLE, Decision
from .quantity import NotThat, Quantity
from .sentences import say
from .unit_table import printed

_MM2 = "Area limits are in mm² (1 in² = 645.16 mm²); check the unit."
_UM = "Film limits are in µm (1 mil = 25.4 µm); check the unit."

# Share of the lower explosive limit at which heat is allowed where a procedure sets none, in %: 29 CFR 1915.13.
LEL_PCT_MAX = 10.0

# Every limit a procedure may set: its name in words, its unit, and a fence against the wrong unit.
LIMITS: dict[str, Quantity] = {
    # disposition
    "bare_area_mm2_max": Quantity("Largest bare area", "mm2", above=0, at_most=1e6, next_move=_MM2),
    "footprint_area_mm2_max": Quantity("Largest footprint", "mm2", above=0, at_most=1e7, next_move=_MM2),
    "repairs_per_part_max": Quantity("Repairs per part", "", at_least=0, at_most=1000, whole=True),
    "same_spot_repairs_max": Quantity("Repairs at the same spot", "", at_least=0, at_most=100, whole=True),
    "same_spot_radius_mm": Quantity("Radius of the same spot", "mm", at_least=0, at_most=2000),
    "feather_mm": Quantity("Feather", "mm", at_least=0, at_most=500),
    "keep_out_mm": Quantity("Keep-out distance", "mm", at_least=0, at_most=2000),
    "stop_line_mm_min": Quantity("Least growth left before the keep-out", "mm", at_least=0, at_most=500),
    "edge_lift_mm_max": Quantity("Lift of the rim under a blade", "mm", at_least=0, at_most=50),
    "undercut_mm_max": Quantity("Bond lost beyond the visible edge", "mm", at_least=0, at_most=500),
    "merge_gap_factor": Quantity("Merge gap factor", "", at_least=0, at_most=20),
    "pit_depth_mm_max": Quantity("Deepest pit", "mm", at_least=0, at_most=50),
    "plate_mm_max": Quantity("Thickest plate for hot-air repair", "mm", above=0, at_most=500),
    "repaired_share_pct_max": Quantity("Repaired share of the lined area", "%", above=0, at_most=100),
    "edge_ph_min": Quantity("Lowest pH at the edge of a part from service", "", at_least=0, at_most=14),
    "edge_ph_max": Quantity("Highest pH at the edge of a part from service", "", at_least=0, at_most=14),
    "edge_ph_from_rinse_max": Quantity("pH at the edge from that of the rinse water", "", at_least=0, at_most=14),
    # conditions
    "dew_margin_k": Quantity("Margin above the dew point", "K", at_least=0, at_most=30),
    "rh_pct_max": Quantity("Highest relative humidity", "%", above=0, at_most=100),
    "steel_c_min": Quantity("Coldest steel", "°C", at_least=-40, at_most=100),
    "steel_c_max": Quantity("Warmest steel", "°C", at_least=0, at_most=300),
    "salts_mg_m2_max": Quantity("Soluble salts", "mg/m2", above=0, at_most=1000,
                                next_move="1 µg/cm² is 10 mg/m²; check the unit."),
    "profile_um_min": Quantity("Shallowest profile", "um", at_least=0, at_most=500, next_move=_UM),
    "profile_um_max": Quantity("Deepest profile", "um", above=0, at_most=1000, next_move=_UM),
    "dust_rating_max": Quantity("Dust rating", "", at_least=0, at_most=5, whole=True),
    "dust_size_max": Quantity("Dust size class", "", at_least=0, at_most=5, whole=True),
    "prep_to_layer_min_max": Quantity("Time from preparation to the first layer", "min", above=0, at_most=10080),
    "hold_margin_k_min": Quantity("Margin above the dew point while bare steel waits", "K", at_least=0, at_most=30),
    "hold_rh_pct_max": Quantity("Highest humidity while bare steel waits", "%", above=0, at_most=100),
    "log_gap_min_max": Quantity("Longest gap between air readings", "min", above=0, at_most=1440),
    "air_age_min_max": Quantity("Oldest air reading before an act", "min", above=0, at_most=1440),
    # hazards
    "lel_pct_max": Quantity("Share of the lower explosive limit", "%", above=0, at_most=50),
    "spark_lel_pct_max": Quantity("Share of the lower explosive limit before a spark", "%", above=0, at_most=50),
    "bump_tol_pct": Quantity("Agreement of the gas meter with known gas", "%", above=0, at_most=50),
    "gas_age_min_max": Quantity("Oldest gas reading in an enclosed place", "min", above=0, at_most=1440),
    "wipe_steel_c_max": Quantity("Warmest steel that may be wiped with solvent", "°C", at_least=0, at_most=100),
    "fire_watch_min": Quantity("Fire watch after hot work", "min", at_least=0, at_most=1440),
    "permit_min_max": Quantity("Longest hot-work permit", "min", above=0, at_most=2880),
    # buildup
    "target_um": Quantity("Film to build", "um", at_least=50, at_most=10000, next_move=_UM),
    "layer_um_max": Quantity("Thickest layer", "um", at_least=20, at_most=2000, next_move=_UM),
    "overbuild_um": Quantity("Overbuild for dressing", "um", at_least=0, at_most=2000, next_move=_UM),
    # heat
    "surface_c_max": Quantity("Hottest polymer surface", "°C", at_least=60, at_most=600),
    "fusion_c_min": Quantity("Coldest bond that fuses", "°C", at_least=60, at_most=450),
    "pause_min_max": Quantity("Longest time with the heat off that is no pause", "min", above=0, at_most=1440),
    "pause_abrade_min_max": Quantity("Longest pause after which film need not be abraded", "min", above=0, at_most=20160),
    "dwell_s_min": Quantity("Time above fusion per layer", "s", at_least=0, at_most=3600),
    "cool_c_max": Quantity("Warmest film that may be measured", "°C", at_least=0, at_most=100),
    "preheat_below_melt_k": Quantity("Preheat of a whole part below melting", "K", at_least=0, at_most=200),
    "part_start_c_max": Quantity("Warmest part at the start of the heat", "°C", at_least=0, at_most=400),
    # thickness
    "film_um_min": Quantity("Thinnest film", "um", at_least=50, at_most=10000, next_move=_UM),
    "film_um_max": Quantity("Thickest film", "um", at_least=50, at_most=20000, next_move=_UM),
    "film_um_nominal": Quantity("Nominal film", "um", at_least=50, at_most=20000, next_move=_UM),
    # holiday
    "strength_fraction": Quantity("Usable share of the dielectric strength", "", above=0, at_most=1),
    "holiday_v_min": Quantity("Test voltage the procedure demands", "V", at_least=5, at_most=60000,
                              next_move="Voltages are in V, not kV; check the unit."),
    "old_film_v_max": Quantity("Highest test voltage on old film from service", "V", at_least=5, at_most=60000,
                               next_move="Voltages are in V, not kV; check the unit."),
    "travel_m_s_max": Quantity("Fastest electrode travel", "m/s", above=0, at_most=5),
    "sponge_to_spark_min": Quantity("Shortest time from a wet sponge to high voltage", "min", above=0, at_most=1440),
    "repeats_max": Quantity("High-voltage passes over one place", "", at_least=1, at_most=50, whole=True),
    # release
    "temporary_days_max": Quantity("Longest temporary repair", "d", above=0, at_most=3660),
    # instruments
    "gauge_tol_pct": Quantity("Gauge tolerance on the shim", "%", above=0, at_most=50),
    "gauge_margin_pct_min": Quantity("Gauge range and shims beyond the film", "%", at_least=0, at_most=100),
    "calibration_days_max": Quantity("Days between calibrations", "d", above=0, at_most=3660),
}

# Choices a procedure may make that are not limits. Each is plain text or a table its room reads.
CHOICES = ("required", "governing_rule", "thickness_rules", "restriction_level", "strength", "solvents", "holiday_rule",
           "hold_points", "polymers", "powder", "retention", "prohibited")
_TEXTS = ("prohibited",)  # nothing but text: a clause "5.10" is no number


@dataclass(frozen=True)
class Limit:
    """One limit with where it comes from."""

    value: float
    source: str
    edition: str = ""
    approver: str = ""


@dataclass(frozen=True)
class Procedure:
    """A lining procedure: who approved what.

    ``approved_on``: a date as 2031-01-15, or empty; in a record of an earlier version any words that stood there.
    ``example`` marks one that ships with the house.
    """

    id: str = "the request"
    title: str = ""
    edition: str = ""
    approver: str = ""
    approved_on: str = ""
    example: bool = False
    decision: Decision = SIMPLE
    limits: dict[str, Limit] = field(default_factory=dict)
    choices: dict[str, Any] = field(default_factory=dict)

    def value(self, key: str, default: float | None = None) -> float | None:
        """The limit's number in the unit its name says, or ``default`` when this procedure sets none."""
        return self.limits[key].value if key in self.limits else default

    def need(self, key: str) -> float:
        """The limit's number; Missing when this procedure sets none."""
        if key not in self.limits:
            raise Missing(key, say("basis.procedure_limit_missing", procedure=self.id, key=key, name=LIMITS[key].name.lower()))
        return self.limits[key].value

    def cite(self, key: str) -> str:
        """Where the limit comes from, for a finding."""
        limit = self.limits.get(key)
        if limit is None:
            return f"{self.id} sets none"
        return ", ".join(part for part in (limit.source, limit.edition) if part)


def load_procedure(text: str, *, what: str = "The procedure", kept: bool = False) -> Procedure:
    """Read a procedure from its TOML text; every limit there needs a source.

    Parameters
    ----------
    kept : bool
        The text was taken in earlier, perhaps by a version that let the date of approval be any words.

    Raises
    ------
    Unreadable, Missing, Unknown, OutOfRange
        Bad TOML; a limit without value, unit or source; an unknown key; a value beyond its fence; no date where one belongs.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unreadable("procedure", say("basis.not_toml", what=what, why=error)) from None
    except RecursionError:
        raise Unreadable("procedure", say("basis.nested_too_deep", what=what)) from None
    except ValueError as error:  # a number of thousands of digits
        raise Unreadable("procedure", say("basis.file_unreadable", what=what, why=str(error)[:120])) from None
    if "procedure" not in raw or not isinstance(raw["procedure"], dict) or not raw["procedure"].get("id"):
        raise Missing("procedure.id", say("basis.procedure_id_missing", what=what))
    return _read(raw, sources_needed=True, from_record=False, any_date=kept)


def read_procedure(raw: Any, *, from_record: bool = False) -> Procedure:
    """Read a procedure from plain values: nested as in the file, or flat limits alone."""
    return _read(raw, sources_needed=False, from_record=from_record, any_date=from_record)


def _read(raw: Any, *, sources_needed: bool, from_record: bool, any_date: bool) -> Procedure:
    if isinstance(raw, Procedure):
        return raw
    if not isinstance(raw, dict):
        raise Unreadable("procedure", say("basis.procedure_not_an_object"))
    if raw and all(key in LIMITS for key in raw):
        raw = {"limits": raw}
    unknown = sorted(set(raw) - {"procedure", "decision", "limits", *CHOICES}, key=lambda key: (key in LIMITS, str(key)))
    if unknown:
        raise Unknown(f"procedure.{_cut(unknown[0])}", say("basis.procedure_part_unknown", key=_cut(unknown[0])))
    head = raw.get("procedure", {})
    if not isinstance(head, dict):
        raise Unreadable("procedure", say("basis.procedure_not_a_table"))
    stray = sorted(set(head) - {"id", "title", "edition", "approver", "approved_on", "example"})
    if stray:
        raise Unknown(f"procedure.{_cut(stray[0])}", say("basis.procedure_key_unknown", key=_cut(stray[0])))
    for key in ("id", "title", "edition", "approver", "approved_on"):
        if key in head and not isinstance(head[key], str):
            head = head | {key: str(head[key])[:200]}
    approved_on = head.get("approved_on", "")[:40]
    if approved_on and not any_date and not _is_date(approved_on):
        raise Unreadable("procedure.approved_on", say("basis.procedure_date", given=approved_on))
    given = raw.get("limits", {})
    if not isinstance(given, dict):
        raise Unreadable("procedure.limits", say("basis.limits_not_a_table"))
    return Procedure(
        id=head.get("id", "the request")[:120],
        title=head.get("title", "")[:400],
        edition=head.get("edition", "")[:120],
        approver=head.get("approver", "")[:200],
        approved_on=approved_on,
        example=head.get("example", False) is True,
        decision=_decision(raw.get("decision", {}), from_record),
        limits={key: _limit(key, value, sources_needed, from_record) for key, value in given.items()},
        choices={key: _numbers(raw[key]) if from_record and key not in _TEXTS else raw[key] for key in CHOICES if key in raw},
    )


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


_DECIMAL = re.compile(r"-?\d{1,40}(\.\d{1,40})?([eE][+-]?\d{1,2})?\Z", re.ASCII)


def _numbers(node: Any) -> Any:
    """A record's decimal strings as the numbers that were written down."""
    if isinstance(node, dict):
        return {key: _numbers(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_numbers(value) for value in node]
    return float(node) if isinstance(node, str) and _DECIMAL.match(node) else node


def plain_procedure(procedure: Procedure) -> dict[str, Any]:
    """The way back: plain values that ``read_procedure`` reads to the same procedure."""
    return {
        "procedure": {
            "id": procedure.id, "title": procedure.title, "edition": procedure.edition,
            "approver": procedure.approver, "approved_on": procedure.approved_on, "example": procedure.example,
        },
        "decision": procedure.decision.asked(),
        "limits": {
            key: {"value": limit.value, "unit": LIMITS[key].unit, "source": limit.source, "edition": limit.edition,
                  "approver": limit.approver}
            for key, limit in procedure.limits.items()
        },
        **procedure.choices,
    }


def read_limit(key: str, given: Any, *, decimal_strings: bool = False) -> float:
    """A limit's number where another document sets it: alone in the unit its name says, or as ``{value, unit}``.

    >>> read_limit("bare_area_mm2_max", 1200), read_limit("film_um_min", {"value": 900, "unit": "µm"})
    (1200.0, 900.0)
    """
    return _limit(str(key), given, False, decimal_strings).value


def _limit(key: str, given: Any, sources_needed: bool, from_record: bool) -> Limit:
    spot = f"procedure.limits.{_cut(key)}"
    if key not in LIMITS:
        raise Unknown(spot, say("basis.limit_unknown", key=_cut(key), known=', '.join(LIMITS)))
    rule = LIMITS[key]
    if isinstance(given, dict):
        stray = sorted(set(given) - {"value", "unit", "source", "edition", "approver", "note"})
        if stray:
            raise Unknown(f"{spot}.{_cut(stray[0])}", say("basis.limit_key_unknown", key=_cut(stray[0])))
        if "value" not in given:
            raise Missing(f"{spot}.value", say("basis.limit_value_missing", key=key, unit=printed(rule.unit)))
        if "unit" in given and _same_unit(given["unit"]) != _same_unit(rule.unit):
            raise OutOfRange(
                f"{spot}.unit", say("basis.limit_unit_differs", key=key, unit=_cut(given['unit']),
                                    house_unit=printed(rule.unit) or '1')
            )
        if sources_needed and "unit" not in given and rule.unit:
            raise Missing(f"{spot}.unit", say("basis.limit_unit_missing", key=key, unit=rule.unit))
        if sources_needed and not given.get("source"):
            raise Missing(f"{spot}.source", say("basis.limit_clause_missing", key=key))
        value, source = given["value"], str(given.get("source") or "the request")[:400]
        edition, approver = str(given.get("edition") or "")[:120], str(given.get("approver") or "")[:200]
    else:
        if sources_needed:
            raise Missing(f"{spot}.source", say("basis.limit_source_missing", key=key))
        value, source, edition, approver = given, "the request", "", ""
    try:
        return Limit(rule.read(value, decimal_strings=from_record), source, edition, approver)
    except NotThat as bad:
        raise OutOfRange(spot, bad.message) from None


def _decision(given: Any, from_record: bool) -> Decision:
    from .finding import DecisionRequest
    from .question import read

    if not isinstance(given, dict):
        raise Unreadable("procedure.decision", say("basis.decision_not_a_table"))
    try:
        asked: DecisionRequest = read(DecisionRequest, given, from_record=from_record)
        return asked.plain()
    except BenchError as fault:
        fault.field = f"procedure.decision.{fault.field}".rstrip(".")
        raise


def _cut(text: Any) -> str:
    """What was written, short enough to stand in a sentence."""
    shown = str(text)
    return shown if len(shown) <= 60 else shown[:59] + "…"


def _same_unit(unit: Any) -> str:
    return str(unit).replace("²", "2").replace("µ", "u").replace("μ", "u").replace("°", "").strip()
