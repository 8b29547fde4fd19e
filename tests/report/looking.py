"""Other people's eyes on a PDF: poppler, qpdf and pypdf, none of them ours."""

import io
import re
import subprocess
import tempfile
from pathlib import Path

import pypdf


def run(pdf, *command):
    """What a command says about the file; ``FILE`` in the command stands for it."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "page.pdf")
        file.write_bytes(pdf)
        said = subprocess.run(
            [str(file) if part == "FILE" else part for part in command], capture_output=True, timeout=60
        )
        return said.returncode, said.stdout.decode("utf-8", "replace"), said.stderr.decode("utf-8", "replace")


def text_of(pdf):
    """The text of all pages by pdftotext, white space made single."""
    code, out, err = run(pdf, "pdftotext", "-layout", "FILE", "-")
    assert code == 0, err
    return " ".join(out.split())


def joined(pdf):
    """The same without any white space: what a long word broken over lines is compared in."""
    _, out, _ = run(pdf, "pdftotext", "FILE", "-")
    return re.sub(r"\s", "", out)


def fonts_of(pdf):
    """(name, embedded) of every font by pdffonts."""
    code, out, err = run(pdf, "pdffonts", "FILE")
    assert code == 0, err
    rows = [line.split() for line in out.splitlines()[2:]]
    return [(row[0], row[-5]) for row in rows]


def attached(pdf):
    """Name → bytes of every file inside, by pypdf."""
    return {name: parts[0] for name, parts in pypdf.PdfReader(io.BytesIO(pdf)).attachments.items()}


def detached(pdf, name):
    """The bytes of one file inside, by pdfdetach."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "page.pdf")
        file.write_bytes(pdf)
        out = Path(folder, "out")
        subprocess.run(
            ["pdfdetach", "-savefile", name, "-o", str(out), str(file)], check=True, capture_output=True, timeout=60
        )
        return out.read_bytes()


def pages(pdf):
    return len(pypdf.PdfReader(io.BytesIO(pdf)).pages)


def metadata(pdf):
    """The XMP packet as text."""
    return pypdf.PdfReader(io.BytesIO(pdf)).trailer["/Root"]["/Metadata"].get_data().decode()


def whole(pdf):
    """True when qpdf finds nothing wrong with the structure."""
    code, out, err = run(pdf, "qpdf", "--check", "FILE")
    return code == 0 and "No syntax or stream encoding errors" in out, out + err


def printed(pdf, *, dots=70, gray=True):
    """Every page as a picture by pdftoppm."""
    from PIL import Image

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder, "page.pdf")
        file.write_bytes(pdf)
        subprocess.run(
            ["pdftoppm", "-r", str(dots), *(["-gray"] if gray else []), str(file), str(Path(folder, "p"))],
            check=True,
            capture_output=True,
            timeout=120,
        )
        return [Image.open(io.BytesIO(p.read_bytes())) for p in sorted(Path(folder).glob("p-*"))]
