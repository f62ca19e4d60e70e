"""The lesson in JupyterLab: it runs whole, a control moved by keyboard changes picture and reading, an exercise answers back.

``LESSON_REPEATS=10`` opens it ten times, each with a kernel of its own; ``LESSON_SCREENSHOTS=folder`` keeps what was seen.
"""

import os
from pathlib import Path

import pandas as pd
import pytest

from tests.browser.lesson_screens import LESSON, SCREENS, at_size, measured
from tests.browser.notebook_pages import PATIENCE_MS, running

pytestmark = [pytest.mark.browser, pytest.mark.slow]

REPEATS = int(os.environ.get("LESSON_REPEATS", "1"))


@pytest.fixture(scope="module", params=range(REPEATS))
def lesson(request, browser, lab_url):
    """Open the lesson, wait for an idle kernel, run all cells, wait until they are done."""
    with running(browser, lab_url, "06_why_water_has_to_drain", width=1366, height=1000, shows=f"{LESSON} svg") as page:
        page.lesson_repeat = request.param
        yield page


def test_run_all_ends_with_the_controls_in_view(lesson) -> None:
    lesson.wait_for_timeout(2_500)  # the page scrolls when the last cell is done, and again when it has laid itself out
    found = measured(lesson.locator(LESSON).first)
    assert abs(found["top"]) < 60, found


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


@pytest.mark.parametrize("screen", SCREENS)
def test_the_whole_block_stands_on_one_screen(lesson, screen: str) -> None:
    block = at_size(lesson, screen)
    found = measured(block)
    _keep_picture(lesson, f"screen_{screen}")
    assert found["block"] <= found["room"] + 1, found  # rounding of the layout
    if screen == "1920":  # read from the back: 2 % of the screen's height
        assert found["type"] >= 0.02 * SCREENS[screen][1], found


def test_a_control_moved_by_keyboard_changes_picture_and_reading(lesson) -> None:
    from playwright.sync_api import expect

    block = lesson.locator(LESSON).first
    picture, reading = block.locator("svg[role=img]"), block.locator("table")
    before, text = picture.get_attribute("aria-label"), reading.text_content()
    button = block.locator(".widget-toggle-buttons button", has_text="garden soil")
    button.focus()
    lesson.keyboard.press("Enter")
    expect(picture).not_to_have_attribute("aria-label", before, timeout=PATIENCE_MS)
    expect(reading).not_to_have_text(text, timeout=PATIENCE_MS)
    before = picture.get_attribute("aria-label")
    handle = block.locator(".noUi-handle").first
    handle.focus()
    lesson.keyboard.press("ArrowRight")
    expect(picture).not_to_have_attribute("aria-label", before, timeout=PATIENCE_MS)
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


def test_a_weather_file_is_chosen_filled_and_taken(lesson, tmp_path: Path) -> None:
    """By the chooser of the browser: a file without temperature is told, one with it can be played."""
    from playwright.sync_api import expect

    days = pd.date_range("2030-01-01", "2032-12-31").strftime("%Y-%m-%d")
    rain = [4.0 * (i % 3 == 0) for i in range(len(days))]
    files = {"rain_alone.csv": "time,rain_mm", "whole.csv": "time,rain_mm,tmin_degc,tmax_degc"}
    for name, head in files.items():
        rest = ",6,16" if "tmin" in head else ""
        rows = [f"{day},{depth}{rest}" for day, depth in zip(days, rain, strict=True)]
        (tmp_path / name).write_text("\n".join([head, *rows]))
    cell = lesson.locator(".jp-CodeCell", has=lesson.locator(".widget-upload")).first
    cell.scroll_into_view_if_needed()
    latitude = cell.locator("input[type=text]").first
    latitude.fill("48")
    latitude.press("Enter")
    for name, said in (("rain_alone.csv", "It has no temperature"), ("whole.csv", "2 complete years can be played")):
        with lesson.expect_file_chooser() as chooser:
            cell.locator(".widget-upload").click()
        chooser.value.set_files(tmp_path / name)
        expect(cell).to_contain_text(said, timeout=PATIENCE_MS)
    cell.get_by_role("button", name="Use this town").click()
    expect(cell).to_contain_text("Taken. Run the cell with the two roofs again", timeout=PATIENCE_MS)
    _keep_picture(lesson, "own_town")


def _keep_picture(page, name: str) -> None:
    folder = os.environ.get("LESSON_SCREENSHOTS")
    if folder:
        page.screenshot(path=Path(folder) / f"lesson_{page.lesson_repeat}_{name}.png")
