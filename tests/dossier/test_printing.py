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
from runoff.dossier import verify_dossier
from runoff.dossier.pdf_files import attached_page
from runoff.dossier.printing import pdf_bytes
from runoff.dossier.verifying import Outcome

pytestmark = pytest.mark.usefixtures("remade_once")


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
def pdf(quick, tmp_path_factory):
    """Return the PDF of the dossier of a few years: the same sections, pictures and forms as of thirty."""
    try:
        import weasyprint  # noqa: F401
    except (ImportError, OSError) as error:
        pytest.skip(f"WeasyPrint or its Pango library is missing: {str(error).splitlines()[0]}")
    path = tmp_path_factory.mktemp("pdf") / "dossier.pdf"
    path.write_bytes(pdf_bytes(quick.text))
    return path


def inflated(path) -> bytes:
    """Return the file with its compressed parts readable."""
    content = path.read_bytes()
    parts = [content]
    for found in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", content, flags=re.DOTALL):
        with contextlib.suppress(zlib.error):
            # a part whose last byte is a carriage return loses it to the line end: its text is whole, its checksum is not
            parts.append(zlib.decompressobj().decompress(found[1]))
    return b"\n".join(parts)


def tool(name: str, *arguments: str) -> str:
    if shutil.which(name) is None:
        pytest.skip(f"{name} is not installed (Debian: poppler-utils, qpdf)")
    return subprocess.run([name, *arguments], check=True, capture_output=True, text=True).stdout


def test_the_pdf_is_tagged_with_title_and_language(pdf):
    info = tool("pdfinfo", str(pdf))
    assert "Tagged:          yes" in info
    assert "Title:           Stormwater capture dossier: House on the quay" in info
    assert b"/Lang (en)" in inflated(pdf)
    assert b"pdfuaid:part" in inflated(pdf)


def test_an_outside_checker_finds_the_file_sound(pdf):
    assert "No syntax or stream encoding errors found" in tool("qpdf", "--check", str(pdf))


def test_every_figure_of_the_pdf_has_words(pdf, quick):
    figures = [line for line in tool("pdfinfo", "-struct", str(pdf)).splitlines() if line.strip().startswith("Figure")]
    assert len(figures) == quick.text.count("<img ") >= 10
    assert inflated(pdf).count(b"/Alt ") >= len(figures)


def test_the_pdf_holds_the_sections_and_page_numbers(pdf):
    text = tool("pdftotext", "-layout", str(pdf), "-")
    pages = text.count("\f")
    assert f"Page 1 of {pages}" in text and f"Page {pages} of {pages}" in text
    assert "16. Provenance" in text


def test_the_reader_is_spared(pdf):
    """Six pages without design storms, then an annex of at most eight, and none half empty but the last."""
    pages = tool("pdftotext", "-bbox", str(pdf), "-").split("<page ")[1:]
    begins = next(at for at, page in enumerate(pages, start=1) if ">Annex</word>" in page and ">Method</word>" in page)
    # its heading may follow the last lines of the front on the same page
    assert begins <= 7 and len(pages) - begins + 1 <= 8
    for page in pages[:-1]:
        tall = float(re.search(r'height="([\d.]+)"', page)[1])
        lowest = max(y for y in map(float, re.findall(r'yMax="([\d.]+)"', page)) if y < tall - 15.0 / 25.4 * 72.0)
        assert lowest > tall / 2.0


def test_the_pdf_asks_for_nothing_outside():
    pytest.importorskip("weasyprint", exc_type=(ImportError, OSError))
    with pytest.raises(BaseException, match="example"):
        pdf_bytes('<html lang="en"><title>x</title><p><img alt="x" src="https://example.invalid/x.png"></p></html>')


def with_other_words(raw: bytes) -> bytes:
    """Return the file with the text of its first page moved."""
    for found in re.finditer(rb"stream\r?\n(.*?)\r?\nendstream", raw, flags=re.DOTALL):
        with contextlib.suppress(zlib.error):
            page = zlib.decompress(found[1])
            if b"BT\n" in page:
                other = page.replace(b"BT\n", b"BT\n1 0 0 1 9 9 Tm\n", 1)
                return raw[: found.start(1)] + zlib.compress(other) + raw[found.end(1) :]
    raise AssertionError("the file has no page with text")


def test_the_pdf_is_checked_like_the_page(quick, pdf, tmp_path, monkeypatch):
    """It carries the page, and pages that were changed are found; a drainage sheet shows that it prints to the same bytes."""
    assert attached_page(pdf.read_bytes(), "pdf") == quick.text
    printed = []
    # twelve pages take long to print: what the page prints is known
    monkeypatch.setattr("runoff.dossier.verifying.pdf_bytes", lambda text: printed.append(text) or pdf.read_bytes())
    assert verify_dossier(pdf).outcome is Outcome.REPRODUCES
    assert printed == [quick.text]
    changed = tmp_path / "changed.pdf"
    changed.write_bytes(with_other_words(pdf.read_bytes()))
    verdict = verify_dossier(changed)
    assert verdict.outcome is Outcome.DIFFERS
    assert "the PDF is not what its attached page prints: its pages were changed" in verdict.faults


def test_a_pdf_printed_elsewhere_says_what_was_not_compared(pdf, monkeypatch):
    monkeypatch.setattr("runoff.dossier.verifying.printed_with", lambda raw, where: where)
    monkeypatch.setattr("runoff.dossier.verifying.pdf_bytes", lambda text: b"%PDF-other")
    verdict = verify_dossier(pdf)
    assert verdict.outcome is Outcome.PICTURES_NOT_COMPARED
    assert any("other fonts and were not compared" in note for note in verdict.notes)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"%PDF-1.7\n", "carries no attached page"),
        (
            b"%PDF-1.7\n<</Type /EmbeddedFile /Filter /FlateDecode /Length 9>>\nstream\nnothing..\nendstream",
            "cannot be unpacked",
        ),
        (
            b"%PDF-1.7\n<</Type /EmbeddedFile /Filter /FlateDecode /Length 99999999>>\nstream\n"
            + zlib.compress(bytes(50_000_000), 9),
            "unpacks to more than 20 MB",
        ),
    ],
)
def test_strange_pdfs_are_refused(tmp_path, content, words):
    path = tmp_path / "x.pdf"
    path.write_bytes(content)
    with pytest.raises(runoff.RunoffError, match=words):
        verify_dossier(path)


def test_a_missing_pdf_writer_is_told_before_any_work(monkeypatch, tmp_path):
    def missing():
        raise runoff.RunoffError("the PDF needs WeasyPrint")

    monkeypatch.setattr("runoff.dossier.handing_in.require_pdf", missing)
    monkeypatch.setattr("runoff.dossier.handing_in.gather", lambda *_, **__: pytest.fail("it was worked out before"))
    with pytest.raises(runoff.RunoffError, match="needs WeasyPrint"):
        runoff.write_dossier(runoff.open_sample_roof("cups"), runoff.open_sample(), tmp_path / "x.pdf")
