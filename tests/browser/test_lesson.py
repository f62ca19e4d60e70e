"""The lesson in a real browser: it runs whole, and a control moved by keyboard changes the picture and the reading."""

import os
from pathlib import Path

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]

TOKEN = "lesson"
REPEATS = int(os.environ.get("LESSON_REPEATS", "1"))
PATIENCE_MS = 90_000  # a cold kernel compiles nothing, but a busy machine may be slow to start one


@pytest.fixture
def lesson(browser, lab_url):
    """Open the lesson, wait for an idle kernel, run all cells, wait until they are done."""
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(f"{lab_url}/lab/tree/06_why_water_has_to_drain.ipynb?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=PATIENCE_MS)
    # cells are there before the kernel is: running earlier is silently ignored
    page.wait_for_selector("text=/\\| Idle/", timeout=PATIENCE_MS)
    page.locator(".jp-Notebook .jp-MarkdownCell").first.click()
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    page.wait_for_selector(".jp-OutputArea .widget-image", timeout=PATIENCE_MS)
    page.wait_for_function(
        "() => ![...document.querySelectorAll('.jp-InputArea-prompt')].some(p => p.textContent.includes('*'))",
        timeout=PATIENCE_MS,
    )
    yield page
    page.close()
    assert not errors, errors


@pytest.mark.parametrize("repeat", range(REPEATS))
def test_a_control_moved_by_keyboard_changes_picture_and_reading(lesson, repeat: int) -> None:
    from playwright.sync_api import expect

    page = lesson
    assert page.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert page.locator("text=Traceback").count() == 0
    picture = page.locator(".widget-image").first
    reading = page.locator(".widget-html-content table").first
    picture.scroll_into_view_if_needed()
    before, text = picture.get_attribute("src"), reading.text_content()
    assert _days(reading) < 100

    outlet = page.locator(".widget-toggle-buttons button", has_text="clogged").last
    outlet.focus()
    page.keyboard.press("Enter")
    expect(picture).not_to_have_attribute("src", before, timeout=PATIENCE_MS)
    expect(reading).not_to_have_text(text, timeout=PATIENCE_MS)
    assert _days(reading) > 100

    clogged = picture.get_attribute("src")
    depth = page.locator(".widget-slider", has_text="Medium, mm").locator(".noUi-handle").first
    depth.focus()
    page.keyboard.press("ArrowRight")
    expect(picture).not_to_have_attribute("src", clogged, timeout=PATIENCE_MS)
    folder = os.environ.get("LESSON_SCREENSHOTS")
    if folder:
        page.locator(".widget-toggle-buttons").first.scroll_into_view_if_needed()
        page.screenshot(path=Path(folder) / f"lesson_{repeat}.png")


def test_labels_are_not_cut(lesson) -> None:
    cut = lesson.evaluate(
        "() => [...document.querySelectorAll('.widget-label')].filter(l => l.scrollWidth > l.clientWidth + 1).map(l => l.textContent)"
    )
    assert cut == []


def _days(reading) -> float:
    """Read the waterlogged days a year from the table beside the picture."""
    rows = reading.evaluate("table => [...table.rows].map(row => [...row.cells].map(cell => cell.textContent))")
    return float(dict(rows)["waterlogged days a year"])
