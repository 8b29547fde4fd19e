"""Solvent, flammable gas and the hot-work permit."""

from __future__ import annotations

from typing import Annotated, Literal

from ...basis.on_paper import when
from ...basis.quantity import Instant, Prose, Quantity, Word, shown
from ...basis.question import Request
from .kind import EVERYBODY, LOOKING, TECHNICIAN, Kind
from .values import AirC, Percent


class SolventUsed(Request):
    """Solvent wiped in or near the part: how much, in what space."""

    solvent: Word
    ml: Annotated[float, Quantity("Solvent", "ml", above=0, at_most=100000)]
    space_l: Annotated[float, Quantity("Space", "l", above=0, at_most=1e7)]
    air_c: AirC = 20.0
    air_changes_per_h: Annotated[float, Quantity("Air changes", "1/h", at_least=0, at_most=1000)] = 0.0
    mixing_factor: Annotated[float, Quantity("Mixing factor", "", at_least=1, at_most=20)] = 3.0


class VapourRead(Request):
    """What the flammable-gas meter showed before heat was switched on."""

    lel_pct: Percent
    instrument: Word | None = None
    places: list[Word] | None = None
    factor: Annotated[float, Quantity("Factor of the meter for this vapour", "", at_least=0.1, at_most=20)] | None = None
    oxygen_pct: Percent | None = None


class MeterBumped(Request):
    """The gas meter tried on gas of a known share: what the gas was, and what it showed."""

    instrument: Word
    given_pct: Annotated[float, Quantity("Share of the known gas", "%", above=0, at_most=100)]
    shown_pct: Percent


class PermitIssued(Request):
    """The hot-work permit: number and end, and whether the place is an open hall or an enclosed space.

    ``residual_hazard``: what site safety says there of a hazard that the decontamination left.
    """

    number: Word
    until: Instant
    place: Literal["open_hall", "enclosed"] | None = None
    residual_hazard: Prose | None = None


def _permit(body: PermitIssued) -> str:
    left = f", hazard left: {body.residual_hazard}" if body.residual_hazard else ""
    return f"{body.number}, until {when(body.until)}{left}"


KINDS = (
    Kind("solvent.used", SolventUsed, "Solvent used",
         lambda b: f"{shown(b.ml)} ml {b.solvent} in {shown(b.space_l)} l, {shown(b.air_changes_per_h)} air changes/h",
         section="solvent", act="wipe", part_wide=True, step="hazards", roles=frozenset({TECHNICIAN}), box="3d"),
    Kind("vapour.read", VapourRead, "Flammable gas read", lambda b: f"{shown(b.lel_pct)} % of the lower explosive limit",
         section="vapour", part_wide=True, step="hazards", roles=LOOKING, measured_with=("vapour_meter",), box="3e"),
    Kind("meter.bumped", MeterBumped, "Gas meter tried",
         lambda b: f"{b.instrument}: gas of {shown(b.given_pct)} %, shown {shown(b.shown_pct)} %",
         section="bump", part_wide=True, step="hazards", roles=LOOKING, measured_with=("vapour_meter",), box="7r"),
    Kind("permit.issued", PermitIssued, "Hot-work permit", _permit,
         section="permit", part_wide=True, step="hazards", roles=EVERYBODY, box="3a"),
)
