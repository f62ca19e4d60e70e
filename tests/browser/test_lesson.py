"""The lesson in JupyterLab: it runs whole, a control moved by keyboard changes picture and reading, an exercise answers back.

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
LESSON = ".runoff-lesson:has(.widget-toggle-buttons)"


@pytest.fixture(scope="module", params=range(REPEATS))
def lesson(request, browser, lab_url):
    """Open the lesson, wait for an idle kernel, run all cells, wait until they are done."""
    page = browser.new_page(viewport={"width": 1366, "height": 1000})
    errors = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.goto(f"{lab_url}/lab/tree/06_why_water_has_to_drain.ipynb?token={TOKEN}&reset")
    page.wait_for_selector(".jp-Notebook .jp-Cell", timeout=PATIENCE_MS)
    # cells are there before the kernel is: running earlier is silently ignored
    page.wait_for_selector("text=/\\| Idle/", timeout=PATIENCE_MS)
    page.locator(".jp-Notebook .jp-MarkdownCell").first.click()
    page.get_by_role("menuitem", name="Run", exact=True).click()
    page.get_by_role("menuitem", name="Run All Cells", exact=True).click()
    page.wait_for_selector(f"{LESSON} img", timeout=PATIENCE_MS)
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


def test_labels_are_not_cut_and_handles_can_be_held(lesson) -> None:
    cut = lesson.evaluate(
        "() => [...document.querySelectorAll('.widget-label, .widget-toggle-button')].filter(l => l.scrollWidth > l.clientWidth + 1).map(l => l.textContent)"
    )
    assert cut == []
    small = lesson.evaluate(
        "() => [...document.querySelectorAll('.runoff-lesson .noUi-handle, .runoff-lesson button, .runoff-lesson select')]"
        ".map(e => [e.textContent || e.className, e.getBoundingClientRect()]).filter(([n, r]) => r.width > 0 && (r.width < 24 || r.height < 24)).map(([n]) => n)"
    )
    assert small == []


def test_controls_picture_and_reading_stand_below_each_other(lesson) -> None:
    block = lesson.locator(LESSON).first
    block.evaluate("one => one.scrollIntoView()")
    box = block.bounding_box()
    assert box["height"] < 850  # what is left of 1000 dots between menu and status line
    _keep_picture(lesson, "start")


def test_a_control_moved_by_keyboard_changes_picture_and_reading(lesson) -> None:
    from playwright.sync_api import expect

    block = lesson.locator(LESSON).first
    picture, reading = block.locator("img"), block.locator("table")
    before, text = picture.get_attribute("alt"), reading.text_content()
    button = block.locator(".widget-toggle-buttons button", has_text="garden soil")
    button.focus()
    lesson.keyboard.press("Enter")
    expect(picture).not_to_have_attribute("alt", before, timeout=PATIENCE_MS)
    expect(reading).not_to_have_text(text, timeout=PATIENCE_MS)
    before = picture.get_attribute("alt")
    handle = block.locator(".noUi-handle").first
    handle.focus()
    lesson.keyboard.press("ArrowRight")
    expect(picture).not_to_have_attribute("alt", before, timeout=PATIENCE_MS)
    _keep_picture(lesson, "garden_soil")


def test_an_exercise_answers_wrong_and_right(lesson) -> None:
    from playwright.sync_api import expect

    page = lesson
    cell = page.locator(".jp-CodeCell", has_text="lesson.six_days").first
    said = cell.locator(".jp-OutputArea-output").first
    cell.scroll_into_view_if_needed()
    expect(said).to_contain_text("Not yet.")
    cell.locator(".cm-content").click()
    page.keyboard.press("Control+a")
    page.keyboard.insert_text('import runoff\n\nrunoff.lesson.six_days("17/36")')
    page.keyboard.press("Control+Enter")
    expect(said).to_contain_text("Right: 36 mm fell", timeout=PATIENCE_MS)
    _keep_picture(page, "right_answer")


def _wait_until_done(page) -> None:
    page.wait_for_function(
        "() => ![...document.querySelectorAll('.jp-InputArea-prompt')].some(p => p.textContent.includes('*'))",
        timeout=PATIENCE_MS,
    )


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
