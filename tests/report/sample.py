"""A whole invented certificate and an invented hold notice, for looking at and for the tests.

python -m tests.report.sample out.pdf          the certificate
python -m tests.report.sample out.pdf hold     the hold notice
"""

# The texts below are whole sentences of a page, one to a line.
# ruff: noqa: E501

import io
import math
import sys
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from soundedge.report.plots import bar, film_by_spot, heat
from soundedge.report.view import (
    CertificateView,
    Correction,
    FindingRow,
    Hold,
    Measure,
    Picture,
    Proof,
    Section,
    Signature,
    Spot,
    Step,
    Table,
)

RECORD = b'{"job":"KBW-2031-014","invented":true}'
DIGEST = "9f2c41d07a5be86313c0ffb2d1e94a6c58873e0d2b7741f6a90c5d3be8124f70"


@cache
def photo(width=900, height=640, spot=120):
    """An invented photo: a grey lining with a chip and a scale beside it, as JPEG bytes."""
    from PIL import Image, ImageDraw, ImageFilter

    image = Image.new("RGB", (width, height), (196, 200, 198))
    draw = ImageDraw.Draw(image)
    cx, cy = width * 0.46, height * 0.5
    for grow, colour in ((1.28, (176, 180, 178)), (1.0, (104, 92, 84)), (0.62, (88, 74, 66))):
        points = [
            (
                cx + grow * spot * (1 + 0.16 * math.sin(3 * a) + 0.08 * math.cos(7 * a)) * math.cos(a),
                cy + grow * spot * 0.8 * (1 + 0.12 * math.cos(4 * a)) * math.sin(a),
            )
            for a in [k * math.tau / 90 for k in range(90)]
        ]
        draw.polygon(points, fill=colour)
    image = image.filter(ImageFilter.GaussianBlur(2))
    draw = ImageDraw.Draw(image)
    for k in range(10):
        draw.rectangle(
            (width - 80, 60 + 50 * k, width - 40, 110 + 50 * k), fill=(20, 20, 20) if k % 2 else (250, 250, 250)
        )
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88)
    return out.getvalue()


PLAN_SVG = b"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 520 210" width="520" height="210">
<rect width="520" height="210" fill="white"/>
<circle cx="130" cy="105" r="92" fill="#f3f5f5" stroke="#1a1a1a" stroke-width="1.5"/>
<circle cx="130" cy="105" r="26" fill="none" stroke="#1a1a1a" stroke-width="1" stroke-dasharray="5 4"/>
<ellipse cx="178" cy="74" rx="13" ry="10" fill="#1d4e5f"/>
<ellipse cx="178" cy="74" rx="24" ry="21" fill="none" stroke="#1d4e5f" stroke-width="1.4"/>
<line x1="178" y1="74" x2="262" y2="44" stroke="#5a5a5a" stroke-width="0.8"/>
<g font-family="DejaVu Sans" font-size="12" fill="#1a1a1a">
<text x="268" y="48">A: chip, 412 mm\xc2\xb2 bare</text><text x="268" y="68" fill="#5a5a5a">outer line: repair with feather, 1 380 mm\xc2\xb2</text>
<text x="268" y="112" fill="#5a5a5a">dashed: shaft seat, no repair inside</text><text x="268" y="148">plan of cover KBW-MC-07, lined side up</text></g>
</svg>"""

SECTION_SVG = b"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 520 130" width="520" height="130">
<rect width="520" height="130" fill="white"/>
<rect x="10" y="80" width="500" height="36" fill="#d9d9d9" stroke="#1a1a1a"/>
<path d="M10 50 H150 L200 80 H10 Z M510 50 H370 L320 80 H510 Z" fill="#b9c9cf" stroke="#1a1a1a"/>
<path d="M200 80 L183 70 H337 L320 80 Z" fill="#1d4e5f"/><path d="M183 70 L166.500 60 H353.500 L337 70 Z" fill="#4a7686"/>
<path d="M166.500 60 L150 50 Q260 40 370 50 L353.500 60 Z" fill="#86a5b0"/>
<g font-family="DejaVu Sans" font-size="12" fill="#1a1a1a"><text x="18" y="102">carbon steel, 12 mm</text><text x="18" y="70">ECTFE 0.9 mm</text>
<text x="216" y="28">three layers, dressed flush</text></g></svg>"""


def heat_chart():
    """The heat log against the two limits."""
    return heat(
        [(k * 15.0, round(20 + 232 * (1 - math.exp(-k / 11)) - (4 if k > 40 else 0), 1), "film") for k in range(58)],
        fusion_c=240.0, surface_c=260.0,
    ).encode()


def film_chart(spots):
    """Every reading by spot, with the limits."""
    return film_by_spot(
        [(s.spot, s.where, [float(r) for r in s.readings]) for s in spots], low_um=800.0, high_um=1400.0
    ).encode()


def spots(count=6, each=9):
    """Invented gauge readings: the same ones on every call."""
    return tuple(
        Spot(
            f"{n + 1}",
            ("repair", "repair", "overlap", "parent")[n % 4],
            tuple(f"{940 + (n * 37 + k * 53) % 170}" for k in range(each)),
            "Second round after dressing; the first round stands in the corrections." if n == 1 else "",
        )
        for n in range(count)
    )


def certificate(**changes):
    """The invented certificate, every part filled."""
    measured = spots()
    values = dict(
        number="KBW-2031-014",
        revision="A",
        title="Certificate of repair",
        verdict="Released",
        reason="Every limit of the procedure is met by measurement; two persons signed, neither for their own work.",
        issued_at=datetime(2031, 5, 5, 9, 40, tzinfo=UTC),
        issuer=("Kelderbeck Basin Works \N{EN DASH} lining shop", "Basin Road 4, Kelderbeck Basin"),
        replaces="KBW-2031-014, 4 May 2031",
        example_mark="EXAMPLE: invented plant, procedure not approved for work",
        scope=(
            ("Part", "Mixer cover KBW-MC-07"),
            ("Steel, lining", "12 mm carbon steel, ECTFE 900 \N{MICRO SIGN}m"),
            ("Place", "A: 2 o'clock, 190 mm from the middle"),
            ("Size", "found 305 \N{PLUS-MINUS SIGN} 14 mm\N{SUPERSCRIPT TWO}, prepared 412 \N{PLUS-MINUS SIGN} 18 mm\N{SUPERSCRIPT TWO}"),
        ),
        looks=(
            Picture(PLAN_SVG, "Plan of the cover: A near the upper right.", "Where on the lined side"),
            Picture(photo(), "A chip that reaches the steel.", "As found 08:15, chip to the steel"),
            Picture(photo(spot=150), "The same place after grinding.", "Prepared 07:50, ground back"),
        ),
        proofs=(
            Proof("Decide", (Measure("Bare steel", "412 \N{PLUS-MINUS SIGN} 18 mm\N{SUPERSCRIPT TWO}", "at most 650", "conforms",
                                     bar(412, 18, None, 650)),)),
            Proof("Prepare", (
                Measure("Steel above dew point, least", "4.6 \N{PLUS-MINUS SIGN} 1.0 K", "at least 3", "conforms", bar(4.6, 1.0, 3, None)),
                Measure("Profile of the steel", "62 \N{MICRO SIGN}m", "40 to 90", "conforms", bar(62, 0, 40, 90)),
            )),
            Proof("Heat", (Measure("Shortest time above fusion", "190 s", "at least 30", "conforms", bar(190, 10, 30, None)),)),
            Proof("Film", (Measure("Thinnest, 54 in all", "940 \N{PLUS-MINUS SIGN} 30 \N{MICRO SIGN}m", "at least 800", "conforms",
                                   bar(940, 30, 800, None)),)),
            Proof("Spark test", (Measure("Voltage; no hole found", "6.4 kV", "5.1 to 9.0", "conforms", bar(6.4, 0, 5.1, 9.0)),)),
        ),
        people=("Repaired by Ines Marrow. Procedure approved by nobody: it is an example.",),
        identity=(
            ("Part", "Mixer cover"),
            ("Tag", "KBW-MC-07"),
            ("Site", "Kelderbeck Basin Works, hall 2"),
            ("Customer", "Dosing section"),
            ("Steel", "Carbon steel, 12 mm plate"),
            ("Lining", "ECTFE, 0.9 mm"),
            ("Last service", "Hydrochloric acid 20 %, rinsed and neutralised"),
            ("Received", "3 May 2031 08:10 UTC"),
            ("Work done", "4 to 5 May 2031"),
            ("Earlier repairs", "1, at 210 mm from this one"),
        ),
        procedure=(
            ("Procedure", "Example spot repair of ECTFE"),
            ("Edition", "3 of 12 January 2031"),
            ("Approved by", "nobody: it is an example"),
            ("Decision rule", "guarded, 95 %"),
        ),
        found=Section(
            text=(
                "One chip reaching the steel, 28 mm long, with lifted film on its lower side. After grinding back to the sound edge the bare "
                "area grew from 305 to 412 mm\N{SUPERSCRIPT TWO}; the decision was taken again on the larger figure.",
            ),
            tables=(
                Table(
                    (
                        "Defect",
                        "Kind",
                        "As found, mm\N{SUPERSCRIPT TWO}",
                        "As prepared, mm\N{SUPERSCRIPT TWO}",
                        "u, mm\N{SUPERSCRIPT TWO}",
                        "How measured",
                    ),
                    (("A", "chip", "305", "412", "9", "photo with scale, corrected for tilt"),),
                    numbers=(2, 3, 4),
                ),
            ),
            pictures=(
                Picture(
                    photo(),
                    "A chip in a grey lining, brown steel in the middle, a black and white scale to the right.",
                    "As found, 3 May 2031. Original: sha256 41d0\N{HORIZONTAL ELLIPSIS}77aa",
                ),
                Picture(
                    photo(spot=150),
                    "The same place after grinding, a little larger, with a smooth bevel.",
                    "As prepared, 4 May 2031. Original: sha256 9b3e\N{HORIZONTAL ELLIPSIS}02c1",
                ),
                Picture(
                    PLAN_SVG,
                    "Plan of the cover with defect A near the upper right and the shaft seat in the middle.",
                    "Plan with the keep-out of the shaft seat",
                ),
            ),
        ),
        decided=Section(
            text=("Repair by procedure. The area counted is the bare steel as prepared, with its uncertainty.",)
        ),
        findings=(
            FindingRow(
                "bare area",
                "412 mm\N{SUPERSCRIPT TWO} (u 9)",
                "at most 650 mm\N{SUPERSCRIPT TWO}",
                "conforms",
                "Bare area is 412 mm\N{SUPERSCRIPT TWO}; it must be at most 650 mm\N{SUPERSCRIPT TWO}.",
                "procedure 4.2",
            ),
            FindingRow(
                "dew margin",
                "4.6 K (u 0.5)",
                "at least 3 K",
                "conforms",
                "Steel 4.6 K above the dew point before the first layer.",
                "procedure 5.1",
            ),
            FindingRow(
                "soluble salts",
                "12 mg/m\N{SUPERSCRIPT TWO}",
                "at most 20 mg/m\N{SUPERSCRIPT TWO}",
                "conforms",
                "One patch beside the spot.",
                "procedure 5.3",
            ),
            FindingRow(
                "film, every reading",
                "940 to 1109 \N{MICRO SIGN}m",
                "800 to 1400 \N{MICRO SIGN}m",
                "conforms",
                "54 of 54 readings inside.",
                "procedure 7.1",
            ),
            FindingRow(
                "holiday test",
                "no holiday at 6.4 kV",
                "none allowed",
                "conforms",
                "Window 5.1 to 9.0 kV; the drilled coupon was found at this setting.",
                "procedure 8.2",
            ),
        ),
        steps=(
            Step("3 May 08:10", "Ines Marrow", "Received and identified", "Cleaning note 311 seen"),
            Step("4 May 07:30", "Ines Marrow", "Ground to the sound edge", "Feather 15 mm, grit 80"),
            Step("4 May 07:55", "Tomas Reed", "Surface signed", "Profile 62 \N{MICRO SIGN}m, dust 1"),
            Step(
                "4 May 08:20",
                "Ines Marrow",
                "Layer 1 fused",
                "gloss at 9 min, probe on the back 246 \N{DEGREE SIGN}C",
                "P-311",
            ),
            Step("4 May 08:52", "Ines Marrow", "Layer 2 fused", "gloss at 7 min", "P-311"),
            Step("4 May 09:25", "Ines Marrow", "Layer 3 fused", "gloss at 7 min", "P-311"),
            Step("4 May 13:40", "Tomas Reed", "High-voltage test", "one holiday at the rim: failed"),
            Step(
                "4 May 14:30", "Ines Marrow", "Rim dressed, layer 4 fused", "repeat of the failed place only", "P-311"
            ),
            Step("5 May 08:05", "Tomas Reed", "High-voltage test", "no holiday; coupon hole found before and after"),
        ),
        done=Section(
            pictures=(
                Picture(
                    SECTION_SVG,
                    "Section: steel, old lining with a bevel on both sides, three new layers between.",
                    "The repair in section, not to scale",
                ),
            ),
        ),
        film=Section(
            text=("54 readings, each inside the limits; thinnest 940 \N{MICRO SIGN}m. Tested at 6.4 kV: no hole found.",),
            pictures=(
                Picture(
                    film_chart(measured),
                    "54 readings of film at six spots, all between 940 and 1110 micrometres, limits 800 and 1400.",
                    "Every film reading, with the limits",
                ),
            ),
        ),
        heat=Section(
            pictures=(
                Picture(
                    heat_chart(),
                    "Surface temperature over 14 minutes: it rises to 248 degrees and stays between 240 and 260.",
                    "Heat log of layer 1, infrared on the film (emissivity 0.95). An estimate of the bond line is not a measurement; the gloss and the back probe decide.",
                ),
            ),
            tables=(Table(("Layer", "Fused", "By"), (("1", "08:20", "Ines Marrow"), ("2", "08:52", "Ines Marrow"))),),
        ),
        measured=Section(
            tables=(
                Table(
                    ("Quantity", "Value", "u", "Instrument"),
                    (
                        ("air", "21.4 \N{DEGREE SIGN}C", "0.5", "H2"),
                        ("relative humidity", "58 %", "2", "H2"),
                        ("steel", "17.9 \N{DEGREE SIGN}C", "0.5", "T4"),
                        ("test voltage at the electrode", "6.38 kV", "0.1", "V1"),
                    ),
                    numbers=(1, 2),
                ),
            ),
        ),
        spots=measured,
        not_tested=(
            "Bond strength on the part: it can only be tested by destroying the repair. A witness plate of the same day was peeled.",
            "The lining outside the repair, its overlap and 50 mm around it.",
            "Behaviour in service. The certificate speaks of the day of the test.",
        ),
        cautions=(
            "Before the part goes back: ground it while it is filled and emptied; the lining is an insulator and can hold a charge.",
            "Heating this lining above 260 \N{DEGREE SIGN}C gives off acid fumes. Any later hot work on the part needs a permit.",
        ),
        corrections=(
            Correction(
                "film-1",
                "spots.1.readings_um.3",
                "96",
                "966",
                "Digit lost when the card was typed in; the gauge memory shows 966.",
                "Tomas Reed",
                "5 May 2031 08:31 UTC",
            ),
        ),
        repeats=(
            ("Failed tests", "1 (holiday at the rim, 4 May 13:40)"),
            ("Repeated layers", "1"),
            ("Voided entries", "0"),
            ("Late entries", "2, from paper cards"),
        ),
        signatures=(
            Signature(
                "Tomas Reed",
                "inspector",
                "I saw the prepared surface and the values stand for it.",
                "4 May 2031 07:55 UTC",
                what="Surface",
            ),
            Signature(
                "Tomas Reed",
                "inspector",
                "I made the high-voltage test and read the film at every spot.",
                "5 May 2031 08:35 UTC",
                what="Film and spark",
            ),
            Signature(
                "Ada Voss",
                "engineer",
                "I reviewed the whole record with its corrections and release the part.",
                "5 May 2031 09:40 UTC",
                what="Release",
            ),
        ),
        instruments=Table(
            ("Id", "Kind", "Calibrated", "Due", "Certificate", "Tolerance"),
            (
                ("G7", "film gauge", "11 Jan 2031", "11 Jan 2032", "C-8841", "3 %"),
                ("H2", "air meter", "2 Mar 2031", "2 Mar 2032", "C-8907", "0.5 K, 2 %"),
                ("T4", "steel probe", "2 Mar 2031", "2 Mar 2032", "C-8908", "0.5 K"),
                ("V1", "holiday detector", "20 Feb 2031", "20 Feb 2032", "C-8893", "5 %"),
            ),
        ),
        lots=Table(
            ("Lot", "Kind", "Polymer", "Opened", "Expires"),
            (
                ("P-311", "powder", "ECTFE", "28 Apr 2031", "30 Nov 2031"),
                ("S-20", "solvent", "", "2 May 2031", "1 May 2033"),
            ),
        ),
        sources=Table(
            ("Number", "Value", "Source", "Read"),
            (
                ("decision rule", "guarded at 95 %", "JCGM 106:2012, 8.3", "second hand"),
                ("dew margin", "3 K", "the shop's procedure, edition 3", "first hand"),
                ("air gap", "5.1 kV", "uniform-field breakdown of air over 1.1 mm", "second hand"),
                ("feather", "15 mm", "common practice, no source", ""),
            ),
        ),
        record_digest=DIGEST,
        record_facts=(
            ("Entries", "64"),
            ("First entry", "3 May 2031 08:10 UTC"),
            ("Last entry", "5 May 2031 09:40 UTC"),
        ),
        how_to_verify=(
            "The file record.json inside this PDF holds every entry. Each entry carries the digest of the one before; the last digest is the one printed here.",
            "Run: soundedge verify KBW-2031-014-A.pdf. It answers in one sentence, without a network.",
            "The paper is checked by comparing the digest at the foot of each page with the one in the shop's book.",
        ),
        qr_text=f"KBW-2031-014-A {DIGEST}",
    )
    values.update(changes)
    return CertificateView(**values)


def hold_notice():
    """The invented hold notice: two things hold the job, most parts are empty."""
    full = certificate()
    return certificate(
        number="KBW-2031-015",
        revision="",
        title="Hold notice",
        verdict="Held",
        replaces="",
        reason="Two rules of the procedure hold the job. Nothing is wrong with the part that cannot be put right.",
        holds=(
            Hold(
                "Dew margin",
                "2.1 K (u 0.5 K)",
                "at least 3 K",
                "The steel is only 2.1 K above the dew point; a film of water may stand on it unseen.",
                "Warm the part by 2 K or dry the air, then read air and steel again.",
            ),
            Hold(
                "Qualification",
                "lapsed 1 April 2031",
                "valid on the day",
                "Ines Marrow was not qualified for ECTFE on the day of layer 1.",
                "Let a qualified person repeat the layer, or renew the qualification and ask the engineer.",
            ),
        ),
        decided=None,
        findings=full.findings[:2],
        done=None,
        steps=full.steps[:3],
        measured=None,
        spots=(),
        corrections=(),
        repeats=(),
        signatures=(),
        proofs=(),
        film=None,
        heat=None,
        lots=None,
        sources=None,
    )


if __name__ == "__main__":
    from soundedge.report.certificate import certificate_pdf

    chosen = hold_notice() if "hold" in sys.argv[2:] else certificate()
    Path(sys.argv[1]).write_bytes(certificate_pdf(chosen, {"record.json": RECORD}))
