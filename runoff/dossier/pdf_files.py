"""The page that a PDF of ours carries, read back without trusting the file."""

from __future__ import annotations

import re
import zlib

from runoff.errors import RunoffError

#: What one part of a PDF may unpack to, and all of them together, bytes.
MOST_PART, MOST_ALL = 20_000_000, 60_000_000
#: Name of the attached page.
ATTACHED = "page.html"
_STREAM = re.compile(rb"<<((?:[^<>]|<<|>>|<[0-9A-Fa-f]*>){0,4000}?)>>\s*stream\r?\n")
_LENGTH = re.compile(rb"/Length (\d{1,9})\b")
_FONT = re.compile(rb"/FontName\s*/(?:[A-Z]{6}\+)?([^\s/<>\[\]()]{1,80})")
_PRODUCER = re.compile(rb"/Producer\s*\(([^()]{1,80})\)")


def is_pdf(raw: bytes) -> bool:
    """Tell a PDF by its first bytes."""
    return raw[:5] == b"%PDF-"


def attached_page(raw: bytes, where: str) -> str:
    """Return the page attached to a PDF.

    Raises
    ------
    RunoffError
        When there is none, more than one, or it is larger than an honest one.
    """
    pages = [body for head, body in _streams(raw, where) if b"/EmbeddedFile" in head]
    if len(pages) != 1:
        raise RunoffError(
            f"{where} is a PDF that carries {len(pages) or 'no'} attached page{'s' if len(pages) > 1 else ''}; a PDF of runoff "
            "carries one. One that was printed from a browser or saved anew carries none: give the file as runoff wrote it"
        )
    try:
        return pages[0].decode("utf-8")
    except UnicodeDecodeError:
        raise RunoffError(f"{where}: the page attached cannot be read; the file has been changed or cut") from None


def printed_with(raw: bytes, where: str) -> tuple[frozenset[bytes], frozenset[bytes]]:
    """Return what wrote a PDF and the fonts in it: with the same of both, the same page gives the same bytes."""
    parts = [raw, *(body for head, body in _streams(raw, where) if b"/ObjStm" in head)]
    return (
        frozenset(found for part in parts for found in _PRODUCER.findall(part)),
        frozenset(found for part in parts for found in _FONT.findall(part)),
    )


def _streams(raw: bytes, where: str) -> list[tuple[bytes, bytes]]:
    """Return the parts of a PDF with their dictionaries, unpacked."""
    found, total = [], 0
    for one in _STREAM.finditer(raw):
        head = one[1]
        length = _LENGTH.search(head)
        if not (b"/EmbeddedFile" in head or b"/ObjStm" in head) or length is None:
            continue
        body = raw[one.end() : one.end() + int(length[1])]
        if b"/FlateDecode" in head:
            stream = zlib.decompressobj()
            try:
                body = stream.decompress(body, MOST_PART)
            except zlib.error:
                raise RunoffError(
                    f"{where}: a part of the PDF cannot be unpacked; the file has been changed or cut"
                ) from None
            if stream.unconsumed_tail:
                raise RunoffError(
                    f"{where}: a part of the PDF unpacks to more than {MOST_PART / 1e6:.0f} MB; no sheet of runoff does"
                )
        total += len(body)
        if total > MOST_ALL:
            raise RunoffError(f"{where}: the PDF unpacks to more than {MOST_ALL / 1e6:.0f} MB; no sheet of runoff does")
        found.append((head, body))
    return found
