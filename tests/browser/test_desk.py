"""The design desk in a real browser: it runs whole, by keyboard, in both unit systems, on a small and a larger screen.

``DESK_SCREENSHOTS=folder`` keeps what was seen.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.browser.notebook_pages import PATIENCE_MS, running

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture(scope="module")
def page(browser, lab_url):
    with running(browser, lab_url, "08_design_desk", width=1366, height=768) as opened:
        yield opened


def field(page, label: str):
    """Return the text field with a label."""
    return page.locator(".widget-text", has_text=label).first.locator("input")


def test_every_cell_runs_without_an_error(page) -> None:
    for kind in ("stderr", "error"):
        assert page.locator(f".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.{kind}']").count() == 0
    prompts = page.locator(".jp-Notebook .jp-CodeCell .jp-InputArea-prompt").all_text_contents()
    assert prompts and all(prompt.strip("[]: ").isdigit() for prompt in prompts), prompts


def test_labels_are_not_cut_and_nothing_is_wider_than_the_screen(page) -> None:
    for width in (1366, 1024):
        page.set_viewport_size({"width": width, "height": 768})
        page.wait_for_timeout(500)
        cut = page.evaluate(
            "() => [...document.querySelectorAll('.widget-label')].filter(l => l.scrollWidth > l.clientWidth + 1).map(l => l.textContent)"
        )
        assert cut == [], width
        for part in (".widget-slider", ".widget-image", ".widget-html-content table"):
            box = page.locator(part).first.bounding_box()
            assert box["x"] + box["width"] <= width, (part, width)
        page.locator(".widget-toggle-buttons").first.evaluate("one => one.scrollIntoView()")
        _keep(page, f"{width}")
    page.set_viewport_size({"width": 1366, "height": 768})


def test_a_slider_moved_by_keyboard_changes_figures_and_section(page) -> None:
    from playwright.sync_api import expect

    figures, picture = page.locator(".widget-html-content table").first, page.locator(".widget-image").first
    text, drawn = figures.text_content(), picture.get_attribute("src")
    handle = page.locator(".widget-hbox", has_text="Medium depth").last.locator(".noUi-handle").first
    handle.focus()
    page.keyboard.press("ArrowRight")
    expect(figures).not_to_have_text(text, timeout=PATIENCE_MS)
    expect(picture).not_to_have_attribute("src", drawn, timeout=PATIENCE_MS)
    expect(field(page, "Medium depth")).to_have_value("85 mm")
    # the range follows in a pause
    expect(page.locator(".widget-html-content", has_text="four roofs of five").first).to_be_visible(timeout=PATIENCE_MS)


def test_what_cannot_be_is_said_beside_the_control(page) -> None:
    from playwright.sync_api import expect

    figures = page.locator(".widget-html-content table").first.text_content()
    depth = field(page, "Medium depth")
    depth.fill("900 mm")
    depth.press("Enter")
    expect(page.get_by_role("alert").first).to_contain_text("Medium depth lies from 20 mm to 300 mm (given 900 mm)")
    expect(depth).to_have_value("85 mm")
    assert page.locator(".widget-html-content table").first.text_content() == figures
    _keep(page, "refused")


def test_the_other_unit_system(page) -> None:
    from playwright.sync_api import expect

    page.locator(".widget-toggle-buttons button", has_text="in, lb, gpm").first.focus()
    page.keyboard.press("Enter")
    expect(page.locator(".widget-html-content table").first).to_contain_text("lb/ft2", timeout=PATIENCE_MS)
    depth = field(page, "Medium depth")
    depth.fill("4")
    depth.press("Enter")
    expect(depth).to_have_value("4 in", timeout=PATIENCE_MS)
    page.locator(".widget-toggle-buttons").first.evaluate("one => one.scrollIntoView()")
    _keep(page, "us")


def _keep(page, name: str) -> None:
    folder = os.environ.get("DESK_SCREENSHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"desk_{name}.png")
