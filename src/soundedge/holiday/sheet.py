"""What stands on the written test sheet? Plain headings, labels and texts that a report can print."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ..basis.quantity import shown

if TYPE_CHECKING:
    from .answers import FilmAnswer

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

    Lines to be filled by hand hold an empty text. Cautions stand before every voltage.
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
