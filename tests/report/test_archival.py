"""Which rules of PDF/A-3 and PDF/UA-1 can be looked at here, before and after signing?

No validator of the archival standard is at hand. The typesetter checks what it writes; these tests look at the rules a
reader of the file can see, on the unsigned and on the signed page. Clauses: ISO 19005-3 (from memory), ISO 14289-1.
"""

import io
import re
from datetime import UTC, datetime

import pypdf
import pytest

from soundedge.report import typeset
from soundedge.report.certificate import certificate_pdf
from soundedge.report.sign import make_key, sign_pdf

from . import looking, sample

KEY = make_key("Kelderbeck Basin Works lining shop", valid_from=datetime(2025, 1, 1, tzinfo=UTC))


def unsigned():
    return certificate_pdf(sample.certificate(), {"record.json": sample.RECORD, "shop.pub": b"key"})


def signed():
    return sign_pdf(unsigned(), KEY, at=datetime(2031, 5, 5, 9, 41, tzinfo=UTC), reason="Release")


@pytest.fixture(scope="module", params=[unsigned, signed], ids=["unsigned", "signed"])
def pdf(request):
    return request.param()


def everything(pdf):
    """Every object of the file that can be reached."""
    seen, waiting = set(), [pypdf.PdfReader(io.BytesIO(pdf)).trailer]
    while waiting:
        thing = waiting.pop()
        if isinstance(thing, pypdf.generic.IndirectObject):
            if thing.idnum in seen:
                continue
            seen.add(thing.idnum)
            thing = thing.get_object()
        if isinstance(thing, pypdf.generic.DictionaryObject):
            yield thing
            waiting += [value for key, value in thing.raw_items()] if hasattr(thing, "raw_items") else list(thing.values())
        elif isinstance(thing, pypdf.generic.ArrayObject):
            waiting += list(thing)


def test_nothing_in_it_acts_or_hides(pdf):
    """6.1.3 no encryption; 6.5, 6.6 no scripts, launches, media; 6.1.7 no stream outside the file, no LZW."""
    raw = list(everything(pdf))

    assert len(raw) > 100
    assert "/Encrypt" not in pypdf.PdfReader(io.BytesIO(pdf)).trailer
    for thing in raw:
        assert thing.get("/S") not in ("/JavaScript", "/Launch", "/Sound", "/Movie", "/ImportData", "/ResetForm", "/Hide")
        assert "/JS" not in thing and "/AA" not in thing and "/OpenAction" not in thing
        filters = thing.get("/Filter", [])
        assert "/LZWDecode" not in (filters if isinstance(filters, list) else [filters])
        if isinstance(thing, pypdf.generic.StreamObject):
            assert "/F" not in thing and "/FFilter" not in thing


def test_every_file_inside_has_names_a_kind_and_its_relation(pdf):
    """6.8: F, UF, AFRelationship in the specification, Subtype in the stream; 6.8 note: a modification date."""
    specs = [thing for thing in everything(pdf) if thing.get("/Type") == "/Filespec"]

    assert {str(spec["/UF"]) for spec in specs} == {"record.json", "shop.pub"}
    for spec in specs:
        assert spec["/F"] == spec["/UF"] and spec["/AFRelationship"] in ("/Source", "/Supplement")
        inside = spec["/EF"]["/F"].get_object()
        assert inside["/Subtype"] and inside["/Params"]["/Size"] == len(inside.get_data())


def test_every_annotation_can_be_printed_and_needs_no_look_of_its_own(pdf):
    """6.3.2, 6.3.3: the print flag set, hidden and no-view not; an appearance unless the rectangle is empty."""
    for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
        for found in page.get("/Annots", []):
            note = found.get_object()
            flags = int(note["/F"])
            x0, y0, x1, y1 = map(float, note["/Rect"])
            assert flags & 4 and not flags & (1 | 2 | 32)
            assert "/AP" in note or (x0 == x1 and y0 == y1)


def test_the_form_asks_no_reader_to_redraw_it(pdf):
    """6.4.1: NeedAppearances absent or false, no XFA."""
    form = pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"].get("/AcroForm", {})

    assert not form.get("/NeedAppearances", False) and "/XFA" not in form


def test_both_descriptions_of_the_file_agree(pdf):
    """6.6.2.3: the information dictionary and the XMP packet say the same."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    info, xmp = reader.metadata, looking.metadata(pdf)

    assert f">{info.title}<" in xmp
    assert info.creation_date == datetime(2031, 5, 5, 9, 40, tzinfo=UTC)
    for name in re.findall(r"<xmp:(?:Create|Modify)Date>([^<]+)<", xmp):
        assert datetime.fromisoformat(name) == info.creation_date
    if info.modification_date is not None:
        assert info.modification_date == info.creation_date


def test_all_letters_can_be_read_back_as_characters(pdf):
    """6.2.11.7 (level A and U): every font tells which characters it draws."""
    _, said, _ = looking.run(pdf, "pdffonts", "FILE")

    for line in said.splitlines()[2:]:
        assert line.split()[-3] == "yes", line  # the column "uni"


@pytest.mark.parametrize("view", [sample.certificate, sample.hold_notice])
def test_the_page_also_passes_the_typesetters_checks_for_access(view, monkeypatch):
    """ISO 14289-1 (PDF/UA-1): not claimed in the file, because an invisible signature would break the claim."""
    monkeypatch.setattr(typeset, "STANDARDS", ("a-3a", "ua-1"))

    said = looking.metadata(certificate_pdf(view()))

    assert "pdfuaid:part" in said and "pdfaid:part" in said


def test_headings_follow_one_another_without_a_gap(pdf):
    """ISO 14289-1, 7.4.2: one title, then sections below it."""
    kinds = [str(thing["/S"]) for thing in everything(pdf) if str(thing.get("/S", "")).startswith("/H")]

    assert kinds.count("/H1") == 1
    assert set(kinds) == {"/H1", "/H2"}
