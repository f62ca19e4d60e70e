"""The dossier in a real browser: opens offline, asks for nothing, says nothing on the console, is accessible."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser


@pytest.fixture
def opened(browser, sample):
    """Return the page, what it asked for and what it said on the console."""
    context = browser.new_context(offline=True)
    page = context.new_page()
    requests, said = [], []
    page.on("request", lambda request: requests.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(sample.path.as_uri())
    page.wait_for_load_state("networkidle")
    yield page, requests, said
    context.close()


def test_it_opens_offline_with_no_request_and_no_word_on_the_console(opened, sample):
    page, requests, said = opened
    outside = [url for url in requests if not url.startswith("data:")]
    assert outside == [sample.path.as_uri()]
    assert said == []
    assert page.title().startswith("Stormwater capture dossier: House on the quay")
    assert page.evaluate("Array.from(document.images).every(one => one.complete && one.naturalWidth > 0)")


@pytest.mark.parametrize("width", [1280, 768, 390])
def test_axe_finds_no_violation(opened, width):
    axe = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="axe-core is not installed (extra browser)"
    )
    page, _, _ = opened
    page.set_viewport_size({"width": width, "height": 900})
    found = axe.Axe().run(page)
    assert [(one["id"], one["nodes"][0]["html"]) for one in found.response["violations"]] == []
    assert len(found.response["passes"]) > 15  # the rules did run


def test_no_page_is_wider_than_the_screen(opened):
    page, _, _ = opened
    for width in (1280, 768, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        wider = "[...document.querySelectorAll('.scroll')].filter(one => one.scrollWidth > one.clientWidth + 1)"
        assert page.evaluate(f"{wider}.map(one => one.ariaLabel)") == [], width  # nor any table than its place


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_nothing_is_cut_in_print(browser, sample, paper):
    """At the width of the paper's text every table fits, and none is taller than a page, so none has to be cut."""
    width, height = {"a4": (176.0, 257.0), "letter": (181.9, 239.4)}[paper]  # mm inside the margins
    page = browser.new_page(viewport={"width": round(width / 25.4 * 96), "height": 1200})
    page.emulate_media(media="print")
    page.goto(sample.path.as_uri())
    boxes = page.evaluate(
        "Array.from(document.querySelectorAll('table, figure, .keep')).map("
        "one => { const box = one.getBoundingClientRect(); return [one.tagName, box.right, box.height]; })"
    )
    assert len(boxes) > 10
    for tag, right, tall in boxes:
        assert right <= width / 25.4 * 96 + 1, (tag, right)
        assert tall <= height / 25.4 * 96, (tag, tall)
    page.close()
