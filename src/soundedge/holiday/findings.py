"""Which limits does this film's test meet, each with its reason and the next move?"""

from __future__ import annotations

from ..basis.finding import Finding, judge
from ..basis.quantity import shown
from ..basis.sources import cite
from .answers import Piece
from .cautions import vapour_finding
from .gap import MODELS
from .given import FilmRequest
from .plain import judge_plain
from .setting import Setting
from .state import Obstacle
from .window import WET_SPONGE_UM, Window, suggested_v

SPONGE_V_MAX = 100.0


def is_sponge_voltage(volts: float | None) -> bool:
    """A battery voltage for the wet sponge, at most 100 V; it wets the hole instead of jumping it."""
    return volts is not None and volts <= SPONGE_V_MAX


def film_findings(
    request: FilmRequest, held: Setting, w: Window, method: str, split: list[Piece], against: list[Obstacle]
) -> list[Finding]:
    """Every finding of one film, what speaks against the test first."""
    out = [one.finding() for one in against]
    if request.lel_pct is not None:
        procedure = request.procedure
        out.append(vapour_finding(
            request.lel_pct, procedure.value("lel_pct_max") if procedure else None,
            procedure.cite("lel_pct_max") if procedure else "",
        ))
    if method == "wet_sponge":
        out.append(_sponge(request))
        if is_sponge_voltage(request.stated_voltage_v):
            return out
    if held.governing is not None:
        out += _own_rule_silent(request, held)
    out.append(_window(request, held, w, split))
    return out + _stated(request, held, w, split)


def _sponge(request: FilmRequest) -> Finding:
    volts = request.stated_voltage_v
    film = request.film_um
    source = cite("astm_d5162", "scope: above 0.5 mm (20 mil)")
    because = f"The film is {shown(film.max)} µm at most; film up to {shown(WET_SPONGE_UM)} µm is for the wet sponge."
    if volts is None:
        return Finding(
            rule="method", value=None, limit=SPONGE_V_MAX, sense="at_most", unit="V", as_written="not_measured",
            verdict="not_measured", because=because,
            next_move="Test it with the wet sponge at 67.5 V or what the maker says.", source=source,
        )
    if is_sponge_voltage(volts):
        return judge_plain("method", volts, limit=SPONGE_V_MAX, sense="at_most", unit="V", source=source,
                           name="The wet-sponge voltage", next_move="Lower it.")
    return Finding(
        rule="method", value=volts, limit=SPONGE_V_MAX, sense="at_most", unit="V", as_written="does_not_conform",
        verdict="indeterminate",
        because=f"{because} High voltage, {shown(volts)} V, may damage it; one edition (ASTM G62-23) allows it from "
                "250 µm.",
        next_move="Use the wet sponge, or get the maker's word for high voltage in writing.", source=source,
    )


def _own_rule_silent(request: FilmRequest, held: Setting) -> list[Finding]:
    own, film = held.governing, request.film_um
    assert own is not None
    used = own.film_used_um(film.min, film.max, film.nominal)
    if own.voltage_v(used) is not None:
        return []
    return [Finding(
        rule="governing_rule", value=used, limit=None, sense="at_most", unit="um", as_written="not_measured",
        verdict="indeterminate",
        because=f"The rule that governs, {own.name}, gives no voltage for {shown(used)} µm.",
        next_move="Enter the row of your licensed edition as 'own_rule', or name a rule that covers this film.",
        source=own.source,
    )]


def _window(request: FilmRequest, held: Setting, w: Window, split: list[Piece]) -> Finding:
    film = request.film_um
    if w.high_v is None:
        return Finding(
            rule="window", value=None, limit=w.low_v, sense="at_least", unit="V", as_written="not_measured",
            verdict="indeterminate",
            because="No dielectric strength is known for this film, so the highest voltage that leaves sound film "
                    f"alone is not known. The lowest that finds holes is {w.low_v:.0f} V.",
            next_move=f"Get the maker's dielectric strength at about {shown(film.min)} µm.",
            source=held.strength_source,
        )
    found = judge(
        "window", w.high_v, limit=w.low_v, sense="at_least", u=None, unit="V", source=held.source_at(film.min),
        next_move="", name="The highest voltage the thinnest film may bear",
    )
    both = (f"to be sure of a hole through the thickest film, {shown(film.max)} µm, takes {w.low_v:.0f} V, and the thinnest "
            f"film, {shown(film.min)} µm, may bear {w.high_v:.0f} V")
    if w.settable:
        return found.model_copy(update={"because":
            f"Between {w.low_v:.0f} V, which jumps a hole through {shown(film.max)} µm, and {w.high_v:.0f} V, which the "
            f"thinnest film, {shown(film.min)} µm, may bear, there is room."})
    if not w.empty:
        return found.model_copy(update={
            "verdict": "indeterminate", "next_move": no_setting_move(w, split),
            "because": f"The window is narrower than a detector can be set to, 5 %: {both}."})
    return found.model_copy(update={
        "verdict": "indeterminate" if w.by_coupon else "does_not_conform", "next_move": no_setting_move(w, split),
        "because": f"The window is empty: {both} only."})


def no_setting_move(w: Window, split: list[Piece]) -> str:
    """What to do where no setting is sure: zones worth masking, the lower end with a coupon's proof, or the maker."""
    if split:
        parts = "; ".join(f"{p.from_um:.0f} to {p.to_um:.0f} µm at {p.suggested_v:.0f} V" for p in split)
        return f"Split the zones and test each at its own voltage, electrode kept inside it: {parts}."
    if w.by_coupon:
        return (f"Lower end of the window with coupon proof: the least voltage from {w.floor_v:.0f} V on that sparks "
                "through a pinhole in a coupon of the thickest film and leaves one of the thinnest film whole. Or ask the "
                "maker for the strength at this thickness. Zones narrower than that are no advice.")
    return ("Change the method: some of this film has no window even alone. Ask the maker for the strength at this "
            "thickness, or prove the zone by thickness readings and the wet sponge.")


def _stated(request: FilmRequest, held: Setting, w: Window, split: list[Piece]) -> list[Finding]:
    volts, film = request.stated_voltage_v, request.film_um
    source = gap_source() if w.low_v == w.air_gap_v else (
        held.governing.source if held.governing and held.fixed_v != w.low_v else held.fixed_source
    )
    wanted = suggested_v(w.low_v, w.high_v)
    move = f"Set {wanted:.0f} V, measured at the electrode." if wanted else (
        "Raise it to the lowest voltage, after asking the maker for the highest." if w.high_v is None
        else no_setting_move(w, split)
    )
    if volts is None:
        if w.high_v is None:
            return []
        return [judge("test_voltage_low", None, limit=w.low_v, sense="at_least", unit="V", source=source,
                      name="The test voltage", next_move=move).model_copy(
            update={"because": f"No test voltage was stated; it must be at least {w.low_v:.0f} V.", "next_move": move})]
    low = judge_plain("test_voltage_low", volts, limit=w.low_v, sense="at_least", unit="V", source=source,
                      name="The test voltage", next_move=move)
    if w.floor_v <= volts < w.low_v:
        low = low.model_copy(update={"verdict": "indeterminate", "next_move": coupon_move(volts, film.max, wanted), "because":
            f"{shown(volts)} V lies between what the lowest and the highest published model ask for over "
            f"{shown(film.max)} µm of air, {held.air.lowest_v(film.max):.0f} and {w.air_gap_v:.0f} V with the tables' "
            "class and the weather: it may jump the hole or not."})
    elif low.verdict != "conforms":
        why = (f"the air in a hole through {shown(film.max)} µm needs {w.floor_v:.0f} V by the lowest published model and "
               f"{w.air_gap_v:.0f} V by the highest" if w.low_v == w.air_gap_v
               else f"the procedure's rule asks for {w.low_v:.0f} V")
        low = low.model_copy(update={"because":
            f"{shown(volts)} V is too low: {why}. It finds holes through film up to "
            f"{held.air.bridged_um(volts):.0f} µm only, so a test at this voltage is void, not passed."})
    if w.high_v is None:
        return [low]
    high = judge_plain("test_voltage_high", volts, limit=w.high_v, sense="at_most", unit="V",
                       source=held.source_at(film.min), name="The test voltage", next_move=move)
    if high.verdict != "conforms":
        high = high.model_copy(update={"because":
            f"{shown(volts)} V is too high: over the thinnest film, {shown(film.min)} µm, it is "
            f"{volts / film.min:.3g} kV/mm, and {w.high_v / film.min:.3g} kV/mm may be used. It can burn sound film."})
    return [low, high]


def coupon_move(volts: float, thickest_um: float, wanted_v: float | None) -> str:
    """What proves a voltage on which the published models disagree."""
    other = f" Or set {wanted_v:.0f} V, measured at the electrode." if wanted_v else ""
    return (f"Prove it on a coupon with a pinhole through film of {shown(thickest_um)} µm: the hole must spark at "
            f"{shown(volts)} V.{other}")


def gap_source() -> str:
    """Where the lowest voltage comes from: the models, and the tables whose class stands on top."""
    return "; ".join([*(cite(key) for key in MODELS), cite("iec_60052", "class of ±3 %")])
