"""Open a notebook in the browser, run it whole, and end its kernel: for every test of a notebook with controls."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from tests.browser.conftest import TOKEN

PATIENCE_MS = 90_000  # a busy machine may be slow to start a kernel, and the loops may have to be compiled once


@contextmanager
def running(
    browser: Any,
    lab_url: str,
    name: str,
    *,
    width: int,
    height: int,
    shows: str = ".jp-OutputArea .widget-image",
    touch: bool = False,
) -> Iterator[Any]:
    """Yield the page of a notebook whose cells have all run and that shows what it should; on leaving, no error may be on it."""
    page = browser.new_page(viewport={"width": width, "height": height}, has_touch=touch)
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(f"{lab_url}/lab/tree/{name}.ipynb?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=PATIENCE_MS)
    # cells are there before the kernel is: running earlier is silently ignored
    page.wait_for_selector("text=/\\| Idle/", timeout=PATIENCE_MS)
    page.locator(".jp-Notebook .jp-MarkdownCell").first.click()
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    page.wait_for_selector(shows, timeout=PATIENCE_MS)
    wait_until_done(page)
    try:
        yield page
    finally:
        page.close()
        end_kernels(lab_url)
    assert not errors, errors


def wait_until_done(page: Any) -> None:
    """Wait until no cell is running any more."""
    page.wait_for_function(
        "() => ![...document.querySelectorAll('.jp-InputArea-prompt')].some(p => p.textContent.includes('*'))",
        timeout=PATIENCE_MS,
    )


def end_kernels(lab_url: str) -> None:
    """End every kernel of the server, so that the next notebook starts like the first."""

    def ask(method: str, path: str) -> bytes:
        request = urllib.request.Request(
            f"{lab_url}/api/{path}", method=method, headers={"Authorization": f"token {TOKEN}"}
        )
        with urllib.request.urlopen(request, timeout=20) as answer:
            body: bytes = answer.read()
            return body

    for session in json.loads(ask("GET", "sessions")):
        ask("DELETE", f"sessions/{session['id']}")
