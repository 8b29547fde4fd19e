"""Questions before and after the readings: how many and where, what a rule lets pass, how thin the thinnest may be."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, model_validator

from ..basis.errors import OutOfRange
from ..basis.quantity import Quantity
from ..basis.question import Answer, Request, refuse
from ..basis.sentences import say
from ..basis.shape import Circle, Outline, SizeMm, area_mm2
from ..basis.sources import cite
from . import extreme, plan, risk

SIZE_MAX_MM = 20000  # as basis/shape.py takes a diameter

_UM = "Film is in micrometres (1 mil = 25.4 µm); check the unit."
FilmUm = Annotated[float, Quantity("Film", "um", at_least=0, at_most=20_000, next_move=_UM)]
SpreadUm = Annotated[float, Quantity("A spread of film", "um", above=0, at_most=5000, next_move=_UM)]
Chance = Annotated[float, Quantity("A chance", "", above=0, below=1, next_move="5 % is 0.05.")]
POINTS_MAX = 5000


class ThinSpotRequest(Request):
    """Readings to find a round thin spot of a given diameter, on an outline; or for a small repair."""

    model_config = ConfigDict(defer_build=True)

    thin_spot_d_mm: SizeMm
    outline_mm: Outline | None = None
    repair: Circle | None = None
    feather_mm: SizeMm = 15.0
    miss: Chance = 0.05
    pattern: Literal["square", "triangular"] = "square"

    @model_validator(mode="after")
    def _somewhere(self) -> ThinSpotRequest:
        if (self.outline_mm is None) == (self.repair is None):
            raise refuse("contradiction", say("thickness.outline_and_repair"))
        return self


class PointAnswer(BaseModel):
    """A place to read."""

    model_config = ConfigDict(extra="forbid", defer_build=True)

    where: str
    x: float
    y: float


class ThinSpotAnswer(Answer):
    """Where to read, and what the chance is to miss a thin spot all the same."""

    model_config = ConfigDict(defer_build=True)

    spacing_mm: float
    grid_points: int
    random_points: int
    area_mm2: float
    points: list[PointAnswer]
    miss_by_diameter: dict[str, float]
    because: str
    cautions: list[str]


def plan_readings(request: ThinSpotRequest) -> ThinSpotAnswer:
    """A grid over the outline, or the rings of a small repair."""
    d, miss = request.thin_spot_d_mm, request.miss
    spacing = plan.spacing_for(d, miss=miss, pattern=request.pattern)
    if request.repair is not None:
        across = request.repair.d + 2 * request.feather_mm
        if across > SIZE_MAX_MM:
            raise OutOfRange("feather_mm", say("thickness.repair_too_large", across_mm=across, most_mm=SIZE_MAX_MM))
        whole = Circle(x=request.repair.x, y=request.repair.y, d=across)
        outline = whole.outline(64)
    else:
        assert request.outline_mm is not None
        outline = request.outline_mm
    area = area_mm2(outline)
    cell = spacing**2 * (1.0 if request.pattern == "square" else 3**0.5 / 2)
    count = max(1, round(area / cell))
    points = []
    if request.repair is not None:
        r = request.repair
        points = [PointAnswer(where=ring.where, x=x, y=y)
                  for ring in plan.repair_plan(r.x, r.y, r.d, request.feather_mm) for x, y in ring.points]
    elif count <= POINTS_MAX:
        points = [PointAnswer(where="grid", x=x, y=y) for x, y in plan.grid_points(outline, spacing, request.pattern)]
    because = (f"A {request.pattern} grid {spacing:.3g} mm apart misses a round thin spot of {d:g} mm with a chance of "
               f"{100 * miss:g} %.")
    if request.repair is not None:
        because += (f" On repair and overlap that would be about {count} readings. The rings of the house rule below are "
                    f"{len(points)}; they watch the middle, the overlap and the old lining, not every thin spot.")
    elif count > POINTS_MAX:
        because += f" That is about {count} points, too many to list; look for a larger spot or use the holiday test."
    return ThinSpotAnswer(
        spacing_mm=spacing, grid_points=len(points) if request.repair is None and points else count,
        random_points=plan.random_points_for(d, area, miss=miss), area_mm2=area, points=points,
        miss_by_diameter={f"{f * d:g}": 1 - plan.hit_chance(f * d / 2 / spacing, request.pattern) for f in (0.25, 0.5, 1, 2)},
        because=because,
        cautions=["A magnetic probe averages over several millimetres: a thin spot smaller than its foot, or a "
                  "pinhole, is not "
                  "found by any number of readings. The holiday test looks for those.",
                  "The chance holds for a grid laid at random, away from edges: " + cite("gilbert_1987") + "."],
    )


class CountsRequest(Request):
    """How many readings each rule asks for on an area."""

    model_config = ConfigDict(defer_build=True)

    counts_for_m2: Annotated[float, Quantity("Inspected area", "m2", above=0, at_most=1e6)]


class CountsAnswer(Answer):
    """Readings asked for by rule."""

    model_config = ConfigDict(defer_build=True)

    sspc_pa_2: dict[str, int]
    iso_19840: dict[str, int]
    cautions: list[str]


def count_readings(request: CountsRequest) -> CountsAnswer:
    """The counts of SSPC-PA 2 and ISO 19840."""
    pa, iso = plan.pa2_counts(request.counts_for_m2), plan.iso_counts(request.counts_for_m2)
    return CountsAnswer(
        sspc_pa_2={"areas": pa.areas, "spots": pa.spots, "readings": pa.readings},
        iso_19840={"readings": iso.readings, "repeats": iso.repeats},
        cautions=["Counts made for tanks and bridges say little on a cover: a repair is smaller than one spot. Plan "
                  "by the thin "
                  "spot that must not be missed."] if request.counts_for_m2 < 1 else [],
    )


class RiskRequest(Request):
    """Films a process makes, a gauge, and limits: how often does the rule err?"""

    model_config = ConfigDict(defer_build=True)

    risk: Literal["film"]
    mean_um: FilmUm
    sd_um: SpreadUm
    u_um: SpreadUm
    min_um: FilmUm | None = None
    max_um: FilmUm | None = None
    probability: Annotated[float, Quantity("Probability of a right decision", "", above=0.5, below=1)] = 0.95

    @model_validator(mode="after")
    def _limited(self) -> RiskRequest:
        if self.min_um is None and self.max_um is None:
            raise refuse("missing", say("thickness.plan_limit_missing"))
        if self.min_um is not None and self.max_um is not None and self.min_um >= self.max_um:
            raise refuse("contradiction", say("thickness.plan_limits_crossed", min_um=self.min_um, max_um=self.max_um))
        return self


class RiskLine(BaseModel):
    """One way of deciding: accepted between these films; consumer's and producer's risk as shares of all films."""

    model_config = ConfigDict(extra="forbid", defer_build=True)

    accept_min_um: float | None
    accept_max_um: float | None
    consumer: float
    producer: float
    out_of_accepted: float | None


class RiskAnswer(Answer):
    """Simple and guarded acceptance side by side; ``out`` is the share of films that miss the limits."""

    model_config = ConfigDict(defer_build=True)

    out: float
    simple: RiskLine
    guarded: RiskLine
    because: str


def weigh_risk(request: RiskRequest) -> RiskAnswer:
    """Global risks of simple and of guarded acceptance (JCGM 106:2012, 9.5)."""
    inf = float("inf")
    low = -inf if request.min_um is None else request.min_um
    high = inf if request.max_um is None else request.max_um
    guard = risk.guarded_limit(0.0, request.u_um, request.probability)
    lines = []
    for w in (0.0, guard):
        r = risk.risks(mean=request.mean_um, sd=request.sd_um, u=request.u_um, low=low, high=high, accept_low=low + w,
                       accept_high=high - w)
        lines.append((r, RiskLine(
            accept_min_um=None if request.min_um is None else low + w,
            accept_max_um=None if request.max_um is None else high - w,
            consumer=r.consumer, producer=r.producer, out_of_accepted=r.out_of_accepted)))
    return RiskAnswer(
        out=lines[0][0].out, simple=lines[0][1], guarded=lines[1][1],
        because=f"Of 10 000 films {1e4 * lines[0][0].out:.0f} are out of limits. Simple acceptance lets "
        f"{1e4 * lines[0][1].consumer:.0f} of them pass and holds {1e4 * lines[0][1].producer:.0f} good ones; guarded "
        "acceptance "
        f"{1e4 * lines[1][1].consumer:.0f} and {1e4 * lines[1][1].producer:.0f}.",
    )


class ExtremeRequest(Request):
    """Lowest readings of equal blocks, and how many such blocks the whole area has."""

    model_config = ConfigDict(defer_build=True)

    block_minima_um: list[FilmUm]
    blocks_in_all: Annotated[float, Quantity("Blocks in the whole area", "", at_least=1, at_most=1e6)]


class ExtremeAnswer(Answer):
    """The minimum of the whole area: median and the film it exceeds with 95 %."""

    model_config = ConfigDict(defer_build=True)

    location_um: float
    scale_um: float
    minimum_median_um: float
    minimum_95_um: float
    return_period: float
    because: str
    cautions: list[str]


def estimate_minimum(request: ExtremeRequest) -> ExtremeAnswer:
    """Extreme value estimate of the thinnest place.

    Raises
    ------
    NotEnough
        Fewer than five blocks, or all alike.
    """
    law = extreme.gumbel_of_minima(request.block_minima_um)
    whole = law.of_blocks(request.blocks_in_all)
    period = request.blocks_in_all / len(request.block_minima_um)
    cautions = ["An estimate. It holds for one homogeneous film read without choosing, in blocks so large that "
                "neighbours know "
                "nothing of each other. A repair edge or a missed stroke is a different film. Source of the rule: "
                + cite("hse_rr016") + "."]
    if period > 500:
        cautions.append("The whole is more than 500 times what was read; read more.")
    if len(request.block_minima_um) < 10:
        cautions.append(f"{len(request.block_minima_um)} blocks carry little: the 95 % figure may be far off.")
    return ExtremeAnswer(
        location_um=law.location, scale_um=law.scale, minimum_median_um=whole.quantile(0.5), minimum_95_um=whole.quantile(0.05),
        return_period=period,
        because=f"The thinnest of {request.blocks_in_all:g} blocks is estimated at {whole.quantile(0.5):.0f} µm "
                "(median); with "
        f"95 % it is above {whole.quantile(0.05):.0f} µm.",
        cautions=cautions,
    )
