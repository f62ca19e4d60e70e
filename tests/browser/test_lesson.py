"""The lesson in a real browser: it runs whole, and a control moved by keyboard changes the picture and the reading.

``LESSON_REPEATS=10`` opens it ten times, each with a kernel of its own; ``LESSON_SCREENSHOTS=folder`` keeps what was seen.
"""

import json
import os
import urllib.request
from pathlib import Path

import pytest

from tests.browser.conftest import TOKEN

pytestmark = [pytest.mark.browser, pytest.mark.slow]

REPEATS = int(os.environ.get("LESSON_REPEATS", "1"))
PATIENCE_MS = 90_000  # a busy machine may be slow to start a kernel, and the loops may have to be compiled once


@pytest.fixture(scope="module", params=range(REPEATS))
def lesson(request, browser, lab_url):
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
    _wait_until_done(page)
    page.lesson_repeat = request.param
    yield page
    page.close()
    _end_kernels(lab_url)  # the next repeat starts like the first
    assert not errors, errors


def test_every_cell_runs_without_an_error(lesson) -> None:
    assert lesson.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.stderr']").count() == 0
    assert lesson.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.error']").count() == 0
    assert lesson.locator("text=Traceback").count() == 0
    prompts = lesson.locator(".jp-Notebook .jp-CodeCell .jp-InputArea-prompt").all_text_contents()
    assert prompts and all(prompt.strip("[]: ").isdigit() for prompt in prompts), prompts


def test_labels_are_not_cut(lesson) -> None:
    cut = lesson.evaluate(
        "() => [...document.querySelectorAll('.widget-label, .widget-toggle-button')].filter(l => l.scrollWidth > l.clientWidth + 1).map(l => l.textContent)"
    )
    assert cut == []


def test_controls_picture_and_reading_fit_on_one_screen(lesson) -> None:
    lesson.locator(".widget-toggle-buttons").first.evaluate("one => one.scrollIntoView()")
    top = lesson.locator(".widget-toggle-buttons").first.bounding_box()["y"]
    for part in (".widget-image", ".widget-html-content table"):
        box = lesson.locator(part).first.bounding_box()
        assert box["y"] + box["height"] - top < 850, part  # what is left of 1000 dots between menu and status line
        assert box["x"] + box["width"] <= 1280, part
    _keep_picture(lesson, "open")


def test_a_control_moved_by_keyboard_changes_picture_and_reading(lesson) -> None:
    from playwright.sync_api import expect

    page = lesson
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
    page.locator(".widget-toggle-buttons").first.evaluate("one => one.scrollIntoView()")
    _keep_picture(page, "clogged")

    clogged, text = picture.get_attribute("src"), reading.text_content()
    depth = page.locator(".widget-slider", has_text="Medium, mm").locator(".noUi-handle").first
    depth.focus()
    page.keyboard.press("ArrowRight")
    expect(picture).not_to_have_attribute("src", clogged, timeout=PATIENCE_MS)
    expect(reading).not_to_have_text(text, timeout=PATIENCE_MS)


def test_an_exercise_answers_wrong_and_right(lesson) -> None:
    from playwright.sync_api import expect

    page = lesson
    cell = page.locator(".jp-CodeCell", has_text="check_six_days").first
    said = cell.locator(".jp-OutputArea-output pre").first
    cell.scroll_into_view_if_needed()
    expect(said).to_contain_text("Not yet: add up the six overflows")
    _keep_picture(page, "wrong_answer")
    cell.locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.insert_text(
        'from runoff.teaching.exercises import check_six_days\nmy_answer = "47 %"\nprint(check_six_days(my_answer))'
    )
    page.keyboard.press("Control+Enter")
    expect(said).to_contain_text("Right: 36 mm fell", timeout=PATIENCE_MS)
    _keep_picture(page, "right_answer")


def _wait_until_done(page) -> None:
    page.wait_for_function(
        "() => ![...document.querySelectorAll('.jp-InputArea-prompt')].some(p => p.textContent.includes('*'))",
        timeout=PATIENCE_MS,
    )


def _days(reading) -> float:
    """Read the waterlogged days a year from the table beside the picture."""
    rows = reading.evaluate("table => [...table.rows].map(row => [...row.cells].map(cell => cell.textContent))")
    return float(dict(rows)["waterlogged days a year"])


def _end_kernels(lab_url: str) -> None:
    def ask(method: str, path: str) -> bytes:
        request = urllib.request.Request(
            f"{lab_url}/api/{path}", method=method, headers={"Authorization": f"token {TOKEN}"}
        )
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.read()

    for session in json.loads(ask("GET", "sessions")):
        ask("DELETE", f"sessions/{session['id']}")


def _keep_picture(page, name: str) -> None:
    folder = os.environ.get("LESSON_SCREENSHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"lesson_{page.lesson_repeat}_{name}.png")
