"""What was looked at, probed and tested on the part besides film and spark: identity, cleanness of product, edge, steel, bond.

None of these has a default that says *good*: what was not looked at is left out and stays unknown.
"""

from __future__ import annotations

from typing import Annotated, Literal

from ...basis.materials import Polymer
from ...basis.on_paper import when, words
from ...basis.quantity import Instant, Prose, Quantity, Word, shown
from ...basis.question import Request
from .kind import EVERYBODY, LOOKING, Kind, of_repair
from .values import FilmC, Ph, WidthMm


class DecontaminationStated(Request):
    """The owner's statement that the part was cleaned of product: numbered, for this tag, of a day; typed from the paper.

    ``service`` is what the owner states there of its service, where the job was opened without it.
    """

    number: Word
    tag: Word
    stated_on: Instant
    media: Prose | None = None
    method: Prose | None = None
    residual_hazard: Prose | None = None
    signed_by: Word | None = None
    service: Literal["never", "dry", "in_contact", "immersed"] | None = None


class PhRead(Request):
    """pH at the opened edge after ten minutes under a damp strip, that of the rinse water, and whether anything weeps there.

    ``weeping`` is left out when nobody looked; ``after`` says what came before the reading.
    """

    repair: Word | None = None
    edge_ph: Ph | None = None
    rinse_ph: Ph | None = None
    weeping: Literal["none_seen", "seen"] | None = None
    after: Literal["rinse", "warm_soak"] | None = None


class EdgeProbed(Request):
    """The rim probed all round with a blunt blade: the largest lift, and how far the bond is lost beyond the visible edge."""

    repair: Word | None = None
    lift_mm: WidthMm
    undercut_mm: WidthMm | None = None
    places: Prose | None = None


class PolymerTested(Request):
    """How the polymer of the lining was identified, and what it was found to be; none when the test leaves it open."""

    how: Literal["record", "melting", "laboratory", "infrared", "density"]
    polymer: Polymer | None = None
    melt_from_c: FilmC | None = None
    melt_to_c: FilmC | None = None
    document: Word | None = None


class WallMeasured(Request):
    """Steel left where it rusted or pitted, and the least that the drawing asks for."""

    repair: Word | None = None
    wall_mm: Annotated[float, Quantity("Steel left", "mm", above=0, at_most=500)]
    least_mm: Annotated[float, Quantity("Least steel by the drawing", "mm", above=0, at_most=500)] | None = None
    document: Word | None = None


class ProbeRead(Request):
    """A contact probe on the part before or during heat: where, and what it showed."""

    repair: Word | None = None
    place: Literal["spot", "coldest", "hottest_lining", "back"] = "spot"
    probe_c: Annotated[float, Quantity("Probe", "°C", at_least=-60, at_most=450)]
    instrument: Word | None = None


class VisualLooked(Request):
    """A look at the prepared spot, at a layer, or at the finished film: accepted or not, and what was seen."""

    repair: Word | None = None
    stage: Literal["before", "layer", "end"]
    layer: Annotated[int, Quantity("Layer number", "", at_least=1, at_most=200, whole=True)] | None = None
    accepted: bool
    seen: Prose | None = None


class BondTested(Request):
    """A bond test on a plate made beside the repair; never on the repair itself."""

    plate: Word
    repairs: list[Word] = []
    method: Literal["peel", "knife", "pull_off", "section"]
    accepted: bool
    strength_mpa: Annotated[float, Quantity("Pull-off strength", "MPa", at_least=0, at_most=100)] | None = None
    rating: Annotated[int, Quantity("Knife rating", "", at_least=0, at_most=10, whole=True)] | None = None
    parted: Prose | None = None


def _ph(body: PhRead) -> str:
    told = [f"edge pH {shown(body.edge_ph)}" if body.edge_ph is not None else "edge pH not read",
            f"rinse water {shown(body.rinse_ph)}" if body.rinse_ph is not None else "",
            f"weeping {words(body.weeping)}" if body.weeping else "not looked for weeping"]
    return ", ".join(part for part in told if part)


def _accepted(yes: bool) -> str:
    return "accepted" if yes else "not accepted"


KINDS = (
    Kind("decontamination.stated", DecontaminationStated, "Decontamination stated",
         lambda b: f"{b.number} of {when(b.stated_on)} for {b.tag}" + (f", {words(b.service)} in service" if b.service else "")
                   + (f", {b.residual_hazard}" if b.residual_hazard else ""),
         part_wide=True, section="decontaminated", step="disposition", roles=EVERYBODY, box="7b"),
    Kind("ph.read", PhRead, "Edge read for pH", _ph, names_repair=True,
         section="ph", step="disposition", roles=LOOKING, box="7c"),
    Kind("edge.probed", EdgeProbed, "Edge probed",
         lambda b: f"{of_repair(b)}lift {shown(b.lift_mm)} mm, undercut "
                   + (f"{shown(b.undercut_mm)} mm" if b.undercut_mm is not None else "not measured"),
         names_repair=True, section="probed", step="disposition", roles=LOOKING, box="7d"),
    Kind("polymer.tested", PolymerTested, "Polymer identified",
         lambda b: f"{b.polymer or 'left open'}, by {words(b.how)}" + (f", {b.document}" if b.document else ""),
         section="polymer", step="disposition", roles=EVERYBODY, box="7e"),
    Kind("wall.measured", WallMeasured, "Steel measured",
         lambda b: f"{of_repair(b)}{shown(b.wall_mm)} mm left" + (f", drawing {shown(b.least_mm)} mm" if b.least_mm else ""),
         names_repair=True, section="wall", step="disposition", roles=LOOKING, box="7f"),
    Kind("probe.read", ProbeRead, "Probe read", lambda b: f"{of_repair(b)}{words(b.place)} {shown(b.probe_c)} °C",
         names_repair=True, section="probe", step="heat", roles=LOOKING, measured_with=("steel_probe", "infrared"), box="7g"),
    Kind("visual.looked", VisualLooked, "Looked at",
         lambda b: f"{of_repair(b)}{words(b.stage)}" + (f" {b.layer}" if b.layer else "") + f", {_accepted(b.accepted)}"
                   + (f": {b.seen}" if b.seen else ""),
         names_repair=True, section="look", step="buildup", roles=LOOKING, after_release=True, box="7h"),
    Kind("bond.tested", BondTested, "Bond tested on a plate",
         lambda b: f"plate {b.plate}, {words(b.method)}, {_accepted(b.accepted)}" + (f": {b.parted}" if b.parted else ""),
         section="bond", step="thickness", roles=LOOKING, box="7i"),
)
