"""What is on the written test sheet? Plain headings, labels and texts that a report can print."""

from __future__ import annotations

from typing import Any

from ..basis.quantity import instant_text, shown
from .answers import FilmAnswer, SessionAnswer, ZonesAnswer
from .session_given import SessionRequest

VERDICT_WORDS = {
    "conforms": "conforms",
    "does_not_conform": "does not conform",
    "indeterminate": "too close to call, or not known",
    "not_measured": "not measured",
}
_METHOD = {
    "high_voltage": "high-voltage spark test",
    "wet_sponge": "wet sponge, low voltage",
    "not_applicable": "no voltage test is applicable",
}


def film_sheet(answer: FilmAnswer, *, electrode: str, polymer: str | None) -> dict[str, Any]:
    """The sheet for one film: ``{"title", "cautions", "sections": [{"heading", "rows": [[label, text]]}]}``.

    Lines to fill in by hand hold an empty text. Cautions come before every voltage.
    """
    film = answer.film_um
    return {
        "title": "Holiday test sheet" + (f": {answer.zone}" if answer.zone else ""),
        "cautions": list(answer.cautions),
        "sections": [
            {"heading": "Film and air", "rows": [
                ["Film", f"{shown(film['min'])} to {shown(film['max'])} µm "
                         f"({film['min'] / 25.4:.1f} to {film['max'] / 25.4:.1f} mil)"],
                ["Polymer", polymer or "not stated"],
                ["Air", f"{shown(answer.air.c)} °C, {answer.air.kpa:.1f} kPa, relative density {answer.air.density:.3f}"],
                ["Electrode", electrode.replace("_", " ")],
                ["Method", _METHOD[answer.method]],
            ]},
            {"heading": "Voltage", "rows": [
                ["Lowest that finds holes", f"{answer.low_v:.0f} V, from {answer.low_from}"],
                *([["Only with a coupon's proof", f"{answer.proven_from_v:.0f} to {answer.low_v:.0f} V: the published models "
                                                  "disagree whether it jumps a hole through the thickest film"]]
                  if answer.proven_from_v < answer.low_v else []),
                ["Highest that leaves sound film alone",
                 "not known" if answer.high_v is None else f"{answer.high_v:.0f} V, from {answer.high_from}"],
                ["Suggested setting", "none" if answer.suggested_v is None else f"{answer.suggested_v:.0f} V"],
                ["Stated", "none" if answer.stated is None else f"{shown(answer.stated.voltage_v)} V"],
                ["What it proves", "" if answer.stated is None else answer.stated.proves],
                ["Verdict on the voltage", VERDICT_WORDS[answer.verdict]],
            ]},
            {"heading": "Published rules", "rows": [
                [f"{one.rule} ({one.edition})", _rule_text(one.voltage_v, one.range_v, one.applies, one.governs)]
                for one in answer.rules
            ]},
            {"heading": "Findings", "rows": [
                [VERDICT_WORDS[finding.verdict], f"{finding.because} {finding.next_move}".strip()]
                for finding in answer.findings
            ]},
            {"heading": "To be filled in at the part", "rows": [
                [label, ""] for label in (
                    "Instrument and serial number", "Earth checked (ohm)", "Voltage measured at the electrode (V)",
                    "Coupon: film, hole, found or not", "Travel speed (m/s)", "Passes over each place",
                    "Covered (sketch)", "Sparks by location", "Tested by, date", "Witnessed by, date",
                )
            ]},
        ],
    }


def _rule_text(volts: float | None, range_v: list[float] | None, applies: bool, governs: bool) -> str:
    if volts is not None:
        text = f"{volts:.0f} V"
    elif range_v:
        text = f"{range_v[0]:.0f} to {range_v[1]:.0f} V"
    else:
        text = "no number"
    return text + ("" if applies else ", made for other film") + (", governs" if governs else "")


def zones_sheet(answer: ZonesAnswer) -> dict[str, Any]:
    """The sheet for several zones: what to set where, then each zone's own rows."""
    sections = [{"heading": "Settings", "rows": [
        [f"Zone {', '.join(one.zones)}", f"{one.voltage_v:.0f} V (window {one.low_v:.0f} to {one.high_v:.0f} V)"]
        for one in answer.settings
    ] + [[f"Zone {name}", "no voltage: see its findings"] for name in answer.without_setting]}]
    for one in answer.zones:
        for part in one.sheet["sections"]:  # type: ignore[attr-defined]
            if part["heading"] in ("Film and air", "Voltage", "Findings"):
                sections.append({"heading": f"Zone {one.zone}: {part['heading'].lower()}", "rows": part["rows"]})
    return {"title": "Holiday test sheet, zone by zone", "cautions": list(answer.cautions), "sections": sections}


def session_sheet(answer: SessionAnswer, request: SessionRequest) -> dict[str, Any]:
    """The sheet of a test that was made: how it was proven, then zone by zone with its result."""
    head, earth = request.session, request.grounding
    checks = "; ".join(f"dial {shown(c.set_v)} V, measured {shown(c.measured_v)} V" for c in request.electrode_voltage)
    coupons = "; ".join(
        f"{shown(c.film_um)} µm at {shown(c.voltage_v)} V: {'found' if c.found else 'not found'}" for c in request.coupons
    )
    ohm = "" if earth is None or earth.resistance_ohm is None else f", {shown(earth.resistance_ohm)} ohm"
    sections: list[dict[str, Any]] = [{"heading": "Session", "rows": [
        ["Session", head.id],
        ["Part", head.part or "not stated"],
        ["Tested by", head.by or "not stated"],
        ["When", instant_text(head.at) if head.at else "not stated"],
        ["Instrument", head.instrument or "not stated"],
        ["Electrode", request.electrode.replace("_", " ")],
        ["Earth", "not checked" if earth is None or not earth.checked else f"checked{ohm}"],
        ["Voltage at the electrode", checks or "not measured"],
        ["Coupon with a drilled hole", coupons or "none"],
        ["Verdict", VERDICT_WORDS[answer.verdict]],
    ]}]
    for one in answer.zones:
        rows = [
            ["Result", f"{one.status}. {one.because}"],
            ["Next", one.next_move],
            ["Window", f"{one.low_v:.0f} V to " + ("not known" if one.high_v is None else f"{one.high_v:.0f} V")],
            ["Voltage", "not measured" if one.voltage_v is None else f"{one.voltage_v:.0f} V"],
            ["Covered", "not stated" if one.covered_pct is None else f"{one.covered_pct:.1f} %"],
            ["Passes so far", str(one.passes_so_far)],
        ]
        rows += [["Spark", _place_text(spark.x, spark.y, spark.note)] for spark in one.sparks]
        sections.append({"heading": f"Zone {one.zone}", "rows": rows})
    return {"title": f"Holiday test record {head.id}", "cautions": list(answer.cautions), "sections": sections}


def _place_text(x: float | None, y: float | None, note: str) -> str:
    where = "place not stated" if x is None or y is None else f"({shown(x)}, {shown(y)}) mm"
    return f"{where} {note}".strip()
