"""How is this repair built: layers, powder, placements, and what is sanded off again?

>>> from ..basis.question import answer
>>> said = answer(FORMS, {
...     "circle_mm": {"d": 30}, "depth_um": 900, "feather_mm": 15, "target_um": 900, "layer_max_um": 300,
...     "powder": {"polymer": "ectfe", "density_kg_m3": 1680, "packing": 0.5, "loss_fraction": 0.2}})
>>> said.layers, said.layer_um, said.removal_um, said.coverage_pct
(4, 262.5, 150.0, 100.0)
>>> said.fused_volume_mm3, said.powder_g, said.powder_ml_loose
(1908.5175, 4.0079, 4.7713)
"""

from __future__ import annotations

from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, model_validator

from ..basis.errors import OutOfRange, Unreadable
from ..basis.finding import Finding, judge
from ..basis.quantity import Prose, Quantity, Word
from ..basis.question import Answer, Form, Request, refuse
from ..basis.sentences import say
from ..basis.shape import Circle, Ellipse, Outline

_UM = "Film is in µm (1 mil = 25.4 µm); check the unit."
Depth = Annotated[float, Quantity("Depth of the spot", "um", at_least=20, at_most=10000, next_move=_UM)]
Target = Annotated[float, Quantity("Film to reach", "um", at_least=20, at_most=10000, next_move=_UM)]
LayerMax = Annotated[float, Quantity("Thickest layer", "um", at_least=20, at_most=3000, next_move=_UM)]
Overbuild = Annotated[float, Quantity("Overbuild", "um", at_least=0, at_most=3000, next_move=_UM)]
Feather = Annotated[float, Quantity("Feather", "mm", at_least=0, at_most=500)]
PlacementD = Annotated[float, Quantity("Diameter of one placement", "mm", at_least=1, at_most=300,
                                       next_move="It is the patch the outlet heats or the powder covers, in mm.")]
Overlap = Annotated[float, Quantity("Overlap", "", at_least=0, at_most=0.9,
                                    next_move="It is a share of the diameter: 0.2 is 20 %.")]
Density = Annotated[float, Quantity("Density", "kg/m3", at_least=800, at_most=2500,
                                    next_move="1.68 g/cm³ is 1680 kg/m³; check the unit.")]
Packing = Annotated[float, Quantity("Packing of the loose powder", "", at_least=0.05, at_most=1,
                                    next_move="It is the solid share of the bed: about 0.35 to 0.6.")]
Loss = Annotated[float, Quantity("Loss fraction", "", at_least=0, at_most=0.95,
                                 next_move="It is a share of the powder weighed out: 0.2 is 20 %.")]


class PowderRequest(Request):
    """The powder. Its density is looked up by polymer when it is not given."""

    polymer: Word
    density_kg_m3: Density | None = None
    packing: Packing = 0.5
    loss_fraction: Loss = 0.2


class BuildupRequest(Request):
    """One repair. Exactly one of outline, circle, ellipse is its bare steel as prepared."""

    outline_mm: Outline | None = None
    circle_mm: Circle | None = None
    ellipse_mm: Ellipse | None = None
    holes_mm: list[Outline] = []
    depth_um: Depth
    feather_mm: Feather
    target_um: Target | None = None  # the depth, when left out
    layer_max_um: LayerMax
    overbuild_um: Overbuild = 150.0
    powder: PowderRequest | None = None
    placement_d_mm: PlacementD = 12.0
    overlap_fraction: Overlap = 0.2
    title: Prose | None = None
    drawing: bool = False

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        given = [k for k in ("outline_mm", "circle_mm", "ellipse_mm") if getattr(self, k) is not None]
        if len(given) != 1:
            raise refuse("contradiction" if given else "missing",
                         say("buildup.repair_shape_count", given=given or say("basis.no_shape")))
        return self


class PlacementAnswer(BaseModel):
    """One placement: centre and radius in mm, its ring (0 outermost), its place in the order."""

    model_config = ConfigDict(extra="forbid")

    x: float
    y: float
    r_mm: float
    ring: int
    order: int


class LayerAnswer(BaseModel):
    """One layer: number from the steel, film above the steel after it, powder for it."""

    model_config = ConfigDict(extra="forbid")

    number: int
    top_um: float
    loose_um: float | None
    powder_g: float | None


class BuildupAnswer(Answer):
    """Section, powder and plan of one repair. Masses and volumes are estimates; scale and film gauge decide."""

    layers: int
    layer_um: float
    built_um: float
    removal_um: float
    removal_most_um: float
    bare_area_mm2: float
    footprint_area_mm2: float
    fused_volume_mm3: float
    fill_mm3: float
    taper_mm3: float
    overbuild_mm3: float
    density_kg_m3: float | None
    density_source: str | None
    fused_g: float | None
    powder_g: float | None
    powder_ml_loose: float | None
    layer_plan: list[LayerAnswer]
    placements: list[PlacementAnswer]
    coverage_pct: float
    spill_mm: float
    outline_mm: list[tuple[float, float]]
    footprint_mm: list[tuple[float, float]]
    footprint_holes_mm: list[list[tuple[float, float]]]
    cautions: list[str]
    section_svg: str | None = None
    plan_svg: str | None = None


def buildup(asked: BuildupRequest) -> BuildupAnswer:
    """Plan one repair in section and in plan.

    Raises
    ------
    Unreadable, OutOfRange, Contradiction, Unknown
        An outline that crosses itself; too many placements or layers; a build that does not reach the
        target; a polymer whose density is neither given nor held.
    """
    from .placements import place
    from .section import disc_volumes, grown, layers, powder, volumes

    target_um = asked.depth_um if asked.target_um is None else asked.target_um
    plan = layers(depth_um=asked.depth_um, target_um=target_um, overbuild_um=asked.overbuild_um,
                  layer_max_um=asked.layer_max_um)
    bare = _bare(asked)
    sizes = {"depth_um": asked.depth_um, "feather_mm": asked.feather_mm, "overbuild_um": asked.overbuild_um}
    if asked.circle_mm is not None and not asked.holes_mm:
        v = disc_volumes(asked.circle_mm.d, **sizes)
    else:
        v = volumes(bare, **sizes)
    footprint = grown(bare, asked.feather_mm)
    placed = place(footprint, d_mm=asked.placement_d_mm, overlap=asked.overlap_fraction)
    density, where = _density(asked.powder)
    p = None
    if asked.powder is not None and density is not None:
        p = powder(v.fused_mm3, plan.layer_um, density_kg_m3=density, packing=asked.powder.packing,
                   loss_fraction=asked.powder.loss_fraction)
    answer = BuildupAnswer(
        findings=_findings(asked, target_um, plan.layer_um, placed.coverage_pct),
        layers=plan.count,
        layer_um=round(plan.layer_um, 4),
        built_um=plan.built_um,
        removal_um=round(plan.removal_um, 6),
        removal_most_um=round(plan.removal_most_um, 6),
        bare_area_mm2=round(v.bare_mm2, 4),
        footprint_area_mm2=round(v.footprint_mm2, 4),
        fused_volume_mm3=round(v.fused_mm3, 4),
        fill_mm3=round(v.fill_mm3, 4),
        taper_mm3=round(v.taper_mm3, 4),
        overbuild_mm3=round(v.overbuild_mm3, 4),
        density_kg_m3=density,
        density_source=where,
        fused_g=None if p is None else round(p.fused_g, 4),
        powder_g=None if p is None else round(p.powder_g, 4),
        powder_ml_loose=None if p is None else round(p.loose_ml, 4),
        layer_plan=[
            LayerAnswer(
                number=n, top_um=round(plan.layer_um * n, 3),
                loose_um=None if p is None else round(p.loose_layer_um, 1),
                powder_g=None if p is None else round(p.powder_g / plan.count, 4),
            )
            for n in range(1, plan.count + 1)
        ],
        placements=[
            PlacementAnswer(x=round(s.x, 4) + 0.0, y=round(s.y, 4) + 0.0, r_mm=placed.r_mm, ring=s.ring, order=n)
            for n, s in enumerate(placed.spots, 1)
        ],
        coverage_pct=placed.coverage_pct,
        spill_mm=round(placed.spill_mm, 3),
        outline_mm=_points(bare.exterior),
        footprint_mm=_points(footprint.exterior),
        footprint_holes_mm=[_points(ring) for ring in footprint.interiors],
        cautions=_cautions(placed.spill_mm, asked.powder is not None),
    )
    if asked.drawing:
        from .drawing import plan_svg, section_svg

        answer.section_svg = section_svg(
            d_mm=2 * (v.bare_mm2 / 3.141592653589793) ** 0.5, feather_mm=asked.feather_mm, depth_um=asked.depth_um,
            overbuild_um=asked.overbuild_um, layers=plan.count, layer_um=answer.layer_um,
            removal_um=answer.removal_um, title=asked.title or "Repair in section",
        )
        answer.plan_svg = plan_svg(
            outline=answer.outline_mm, holes=[_points(ring) for ring in bare.interiors], footprint=answer.footprint_mm,
            footprint_holes=answer.footprint_holes_mm,
            placements=[(s.x, s.y, s.r_mm, s.order, s.ring) for s in answer.placements],
            title=asked.title or "Placement plan",
        )
    return answer


def _bare(asked: BuildupRequest) -> Any:
    from shapely import is_valid_reason
    from shapely.geometry import Polygon

    from .section import disc, oval, refuse_tangle

    if asked.circle_mm is not None:
        c = asked.circle_mm
        field, shape = "circle_mm", disc(c.d, c.x, c.y)
    elif asked.ellipse_mm is not None:
        e = asked.ellipse_mm
        field, shape = "ellipse_mm", oval(e.a, e.b, e.angle_deg, e.x, e.y)
    else:
        field, shape = "outline_mm", Polygon(asked.outline_mm or [])
        if not shape.is_valid:
            at = is_valid_reason(shape).partition("[")[2].rstrip("]").split()
            near = say("basis.near", x=float(at[0]), y=float(at[1])) if len(at) >= 2 else ""
            raise Unreadable(field, say("buildup.outline_crosses_itself", near=near))
    if asked.holes_mm:
        cut = Polygon(shape.exterior, [list(h) for h in asked.holes_mm])
        if not cut.is_valid:
            raise Unreadable("holes_mm", say("buildup.hole_outside_outline", why=is_valid_reason(cut).split("[")[0].lower()))
        shape = cut
    refuse_tangle(shape, max(asked.feather_mm, asked.placement_d_mm / 2), what=say("buildup.the_outline"), field=field)
    if shape.area < 1e-3:
        raise OutOfRange(field, say("buildup.bare_area_too_small", area_mm2=shape.area))
    return shape


def _density(given: PowderRequest | None) -> tuple[float | None, str | None]:
    """The density given, or the one held for the polymer, with where it comes from."""
    from ..basis.materials import material
    from ..basis.sources import cite

    if given is None:
        return None, None
    if given.density_kg_m3 is not None:
        return given.density_kg_m3, "the request"
    held = material(given.polymer, kind="polymer").held("density_kg_m3")
    return held.value, cite(held.source, held.where)


def _findings(asked: BuildupRequest, target_um: float, layer_um: float, coverage_pct: float) -> list[Finding]:
    from ..basis.sources import cite

    practice = cite("common_practice")
    return [
        judge("layer", layer_um, limit=asked.layer_max_um, sense="at_most", unit="µm", source="the request",
              name="Every layer", next_move="Use one more layer."),
        judge("film_built", asked.depth_um + asked.overbuild_um, limit=target_um, sense="at_least", unit="µm",
              source="the request", name="Film as built over bare steel", next_move="Give more overbuild."),
        judge("coverage", coverage_pct, limit=100.0, sense="at_least", unit="%", source=practice,
              name="Share of the footprint under the placements", next_move="Use a larger overlap."),
    ]


def _cautions(spill_mm: float, with_powder: bool) -> list[str]:
    said = ["Each layer is fused clear and flat before the next; white grains mean too cold. A gauge reading after cooling "
            "decides the film, not this plan."]
    if spill_mm > 0.05:
        said.append(f"The outermost placements reach {spill_mm:.1f} mm past the footprint: mask and shield there.")
    if with_powder:
        said.append("The mass is an estimate; weigh what is used. Hot fluoropolymer gives off harmful fume: extraction on, "
                    "no tobacco on the place.")
    return said


def _points(ring: Any) -> list[tuple[float, float]]:
    return [(round(x, 6), round(y, 6)) for x, y in list(ring.coords)[:-1]]


FORMS: tuple[Form, ...] = (Form("buildup", BuildupRequest, BuildupAnswer, buildup),)
