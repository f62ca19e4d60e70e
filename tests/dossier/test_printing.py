"""The PDF is tagged, or says how to print instead."""

from __future__ import annotations

import builtins
import contextlib
import re
import shutil
import subprocess
import zlib

import pytest

import runoff
from runoff.dossier.printing import pdf_bytes


@pytest.mark.parametrize(
    ("error", "message"),
    [
        (
            ImportError("no weasyprint"),
            r'^the PDF needs WeasyPrint \(pip install "runoff\[pdf\]"\); or open the HTML file in a browser',
        ),
        (
            OSError("cannot load library 'libpango-1.0-0'\nmore"),
            r"^the PDF needs the Pango library, which is missing here \(cannot load library 'libpango-1\.0-0'\); open the HTML "
            r"file in a browser and print it to PDF: it carries its own page layout$",
        ),
    ],
)
def test_a_missing_pdf_writer_says_how_to_print(monkeypatch, error, message):
    found = builtins.__import__

    def refuse(name, *arguments, **options):
        if name == "weasyprint":
            raise error
        return found(name, *arguments, **options)

    monkeypatch.setattr(builtins, "__import__", refuse)
    with pytest.raises(runoff.RunoffError, match=message):
        pdf_bytes("<p></p>")


@pytest.fixture(scope="module")
def pdf(sample, tmp_path_factory):
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError) as error:
        pytest.skip(f"WeasyPrint or its Pango library is missing: {str(error).splitlines()[0]}")
    path = tmp_path_factory.mktemp("pdf") / "dossier.pdf"
    path.write_bytes(pdf_bytes(sample.text))
    return path


def inflated(path) -> bytes:
    """Return the file with its compressed parts readable."""
    content = path.read_bytes()
    parts = [content]
    for found in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", content, flags=re.DOTALL):
        with contextlib.suppress(zlib.error):
            parts.append(zlib.decompress(found[1]))
    return b"\n".join(parts)


def tool(name: str, *arguments: str) -> str:
    if shutil.which(name) is None:
        pytest.skip(f"{name} (poppler) is not installed")
    return subprocess.run([name, *arguments], check=True, capture_output=True, text=True).stdout


def test_the_pdf_is_tagged_with_title_and_language(pdf):
    info = tool("pdfinfo", str(pdf))
    assert "Tagged:          yes" in info
    assert "Title:           Stormwater capture dossier: House on the quay" in info
    assert b"/Lang (en)" in inflated(pdf)
    assert b"pdfuaid:part" in inflated(pdf)


def test_every_figure_of_the_pdf_has_words(pdf, sample):
    figures = [line for line in tool("pdfinfo", "-struct", str(pdf)).splitlines() if line.strip().startswith("Figure")]
    assert len(figures) == sample.text.count("<img ")
    assert inflated(pdf).count(b"/Alt ") >= len(figures)


def test_the_pdf_holds_the_sections_and_page_numbers(pdf):
    text = tool("pdftotext", "-layout", str(pdf), "-")
    pages = text.count("\f")
    assert f"Page 1 of {pages}" in text and f"Page {pages} of {pages}" in text
    assert "15. Provenance, and how to check this dossier" in text


def test_the_same_pdf_again(pdf, sample):
    assert pdf_bytes(sample.text) == pdf.read_bytes()


def test_the_pdf_asks_for_nothing_outside():
    pytest.importorskip("weasyprint", exc_type=(ImportError, OSError))
    with pytest.raises(BaseException, match="example"):
        pdf_bytes('<html lang="en"><title>x</title><p><img alt="x" src="https://example.invalid/x.png"></p></html>')
