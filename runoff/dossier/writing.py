"""Writing the file: whole or not at all; and the PDF of the same page."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from runoff.errors import RunoffError

_PRINT_IT = "open the HTML file in a browser and print it to PDF: it carries its own page layout"


def write_whole(path: Path, content: bytes) -> None:
    """Write a file by way of a neighbour that takes its place in one step, so that a stop leaves the old file intact.

    Raises
    ------
    RunoffError
        When the folder cannot be written to.
    """
    aside = None
    try:
        handle, aside = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(aside, 0o666 & ~mask)
        os.replace(aside, path)
    except OSError as error:
        raise RunoffError(
            f"cannot write {path}: {error.strerror or error}; choose a folder that exists and that you may write to"
        ) from None
    finally:
        if aside is not None:
            with contextlib.suppress(OSError):
                os.unlink(aside)


def pdf_bytes(html: str) -> bytes:
    """Return the tagged PDF (PDF/UA-1) of a dossier.

    Raises
    ------
    RunoffError
        When WeasyPrint, or the Pango library it draws text with, is missing; the message says how to print instead.
    """
    try:
        import weasyprint
    except ImportError:
        raise RunoffError(f'the PDF needs WeasyPrint (pip install "runoff[pdf]"); or {_PRINT_IT}') from None
    except OSError as error:
        missing = str(error).splitlines()[0]
        raise RunoffError(f"the PDF needs the Pango library, which is missing here ({missing}); {_PRINT_IT}") from None
    # the page holds everything inside; anything else would be a fault, so nothing else may be fetched
    fetcher = weasyprint.urls.URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    document = weasyprint.HTML(string=html, url_fetcher=fetcher)
    return document.write_pdf(pdf_variant="pdf/ua-1", pdf_identifier=b"runoff dossier")
