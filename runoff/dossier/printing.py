"""The PDF of the page."""

from __future__ import annotations

import datetime
from typing import Any

from runoff.dossier.pdf_files import ATTACHED
from runoff.errors import RunoffError

#: Stands for the date of the attached page: the day is not put in by itself, so that repeated runs give the same file.
_NO_DATE = datetime.datetime(2000, 1, 1)
_PRINT_IT = "open the HTML file in a browser and print it to PDF: it carries its own page layout"


def require_pdf() -> Any:
    """Return what writes PDF files.

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
    return weasyprint


def pdf_bytes(html: str) -> bytes:
    """Return the tagged PDF (PDF/UA-1) of a page, with the page itself attached, so that it can be checked.

    Raises
    ------
    RunoffError
        As `require_pdf`.
    """
    weasyprint = require_pdf()
    # the page holds everything inside; anything else would be a fault, so nothing else may be fetched
    fetcher = weasyprint.urls.URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    document = weasyprint.HTML(string=html, url_fetcher=fetcher)
    attached = weasyprint.Attachment(
        string=html, name=ATTACHED, description="The same page with its data: runoff dossier --verify FILE reads it",
        created=_NO_DATE, modified=_NO_DATE, relationship="Source",
    )  # fmt: skip
    return document.write_pdf(pdf_variant="pdf/ua-1", pdf_identifier=b"runoff dossier", attachments=[attached])
