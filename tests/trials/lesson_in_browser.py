"""Notebook 06 by keyboard, mouse and touch, again and again: ``python -m tests.trials.lesson_in_browser [repeats] [folder of pictures]``.

Every control of the two roofs is moved in every way, and every exercise answered; each move must change what is shown. The time from a
move to the new picture is taken in the page. A list that opens a menu of the system is set as the browser sets it after a choice.
"""

from __future__ import annotations

import itertools
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

from tests.browser.conftest import notebook_server
from tests.browser.lesson_screens import LESSON, SCREENS, at_size, measured
from tests.browser.notebook_pages import running, wait_until_done
from tests.conftest import QUIET

WAYS = ("keyboard", "mouse", "touch")
TOGGLES = ("half clogged", "clogged", "cups down", "mat alone", "cups up", "garden soil", "mineral mix")
LISTS = ("clogs on", "cleared on", "Emergency overflow", "Fleece", "Depth", "Fall", "Units")
BUTTONS = ("+1", "\u22121", "Next event", "Keep B as A", "A open again")
#: A right way of writing the answer to each exercise, and the call it goes into.
EXERCISES = {
    "six_days": '"17/36"',
    "days_without_air": '"3 days"',
    "overflow_height": '"20 mm"',
    "light_and_green": "depth_mm=80, mulch=False",
    "soil_depth": '"none"',
}
_WATCH = """() => {
  window.moved = window.drawn = 0;
  const block = document.querySelector("%s");
  for (const kind of ['pointerdown', 'touchstart', 'keydown', 'change'])
    document.addEventListener(kind, () => { window.moved = performance.now(); window.pending = true }, true);
  new MutationObserver(() => { if (window.pending) requestAnimationFrame(() => { window.drawn = performance.now(); window.pending = false }) })
    .observe(block, { childList: true, subtree: true, characterData: true });
}"""


def main(repeats: int = 10, pictures: str = "") -> None:
    """Print how many moves of each kind showed what they should, and the time from a move to its picture."""
    done: dict[str, list[int]] = {}
    times: dict[str, list[float]] = {way: [] for way in WAYS}
    with tempfile.TemporaryDirectory() as place, notebook_server(Path(place)) as url, sync_playwright() as play:
        chromium = play.chromium.launch(executable_path=shutil.which("chromium"), args=QUIET)
        wide, high = SCREENS["1366"]
        with running(
            chromium, url, "06_why_water_has_to_drain", width=wide, height=high, shows=f"{LESSON} svg", touch=True
        ) as page:
            page.wait_for_timeout(2_500)
            for screen in SCREENS:
                print(screen, {name: value for name, value in measured(at_size(page, screen)).items() if name != "top"})
                if pictures:
                    page.screenshot(path=str(Path(pictures) / f"lesson_{screen}.png"))
            at_size(page, "1366")
            page.evaluate(_WATCH % LESSON.replace('"', "'"))
            for _ in range(repeats):
                for way in WAYS:
                    every_control(page, way, done, times[way])
            every_storm(page, done, repeats)
            for _ in range(repeats):
                for way in WAYS:
                    every_exercise(page, way, done)
            played(page)
        chromium.close()
    for name, (good, all_of_them) in done.items():
        print(f"{name:44s} {good} of {all_of_them}")
    for way, values in times.items():
        print(
            f"{way}: {len(values)} moves, move to picture median {statistics.median(values):.0f} ms, worst {max(values):.0f} ms, "
            f"worst of the first 20 {max(values[:20]):.0f} ms"
        )


def count(done: dict[str, list[int]], name: str, good: bool) -> None:
    """Add one move to the count."""
    row = done.setdefault(name, [0, 0])
    row[0] += good
    row[1] += 1


def label(page: Page) -> str:
    """Return what picture, buttons and table of the block say now."""
    said: str = page.locator(LESSON).first.evaluate(
        "one => one.querySelector('svg[role=img]').getAttribute('aria-label') + one.innerText"
        " + [...one.querySelectorAll('.mod-active, option:checked')].map(each => each.textContent)"
    )
    return said


def use(page: Page, target: Any, way: str) -> None:
    """Press a button in one of three ways."""
    if way == "keyboard":
        target.focus()
        page.keyboard.press("Enter")
    elif way == "mouse":
        target.click()
    else:
        target.tap()


def changed(page: Page, before: str, times: list[float], patience_s: float = 10.0) -> bool:
    """Tell whether the block shows something else in time; keep the time from the move to the picture."""
    start = time.monotonic()
    while time.monotonic() < start + patience_s:
        waiting = page.evaluate("window.pending")
        if label(page) != before and (not waiting or time.monotonic() > start + 1.0):  # some moves change a list alone
            if not waiting:
                times.append(float(page.evaluate("window.drawn - window.moved")))
            page.evaluate("window.pending = false")
            return True
        page.wait_for_timeout(15)
    return False


def every_control(page: Page, way: str, done: dict[str, list[int]], times: list[float]) -> None:
    """Move every control of the year once."""
    block = page.locator(LESSON).first
    for words in TOGGLES:
        before = label(page)
        use(page, block.locator(".widget-toggle-button", has_text=words).filter(visible=True).last, way)
        count(done, f"{words} by {way}", changed(page, before, times))
    for words in LISTS:
        before, target = label(page), block.locator(".widget-dropdown", has_text=words).locator("select")
        if way == "keyboard":
            target.focus()
            last = target.evaluate("one => one.selectedIndex === one.options.length - 1")
            page.keyboard.press("Home" if last else "ArrowDown")
        else:
            use(page, target, way)
            page.keyboard.press("Escape")
            target.evaluate(
                "one => { one.selectedIndex = (one.selectedIndex + 1) % one.options.length; one.dispatchEvent(new Event('change', {bubbles: true})) }"
            )
        count(done, f"{words} by {way}", changed(page, before, times))
    for words in BUTTONS:
        before = label(page)
        use(page, block.locator("button", has_text=words).filter(visible=True).last, way)
        count(done, f"{words} by {way}", changed(page, before, times))
    before, mulch = label(page), block.locator(".widget-checkbox", has_text="Mulch").locator("input")
    if way == "keyboard":
        mulch.focus()
        page.keyboard.press("Space")
    else:
        use(page, mulch, way)
    count(done, f"Mulch by {way}", changed(page, before, times))
    before, handle = label(page), block.locator(".noUi-handle").first
    if way == "keyboard":
        handle.focus()
        page.keyboard.press("ArrowRight")
    else:
        track, held = block.locator(".noUi-base").first.bounding_box(), handle.bounding_box()
        # well away from the handle: a press on it moves nothing
        share = 0.1 + ((held["x"] + held["width"] / 2 - track["x"]) / track["width"] + 0.3) % 0.8
        x, y = track["x"] + share * track["width"], track["y"] + track["height"] / 2
        page.mouse.click(x, y) if way == "mouse" else page.touchscreen.tap(x, y)
    count(done, f"Day by {way}", changed(page, before, times))


def every_storm(page: Page, done: dict[str, list[int]], repeats: int) -> None:
    """Play the storm, its three sizes and three outlets, and go back to the year."""
    block = page.locator(LESSON).first
    for _ in range(repeats):
        for rain in ("a storm, minute by minute", "a year, day by day"):
            before = label(page)
            block.locator(".widget-dropdown", has_text="Rain").locator("select").select_option(label=rain)
            count(done, f"Rain: {rain}", changed(page, before, []))
            if rain.startswith("a storm"):  # the first one may have to be compiled
                block.locator("svg[aria-label^=Minute]").wait_for(timeout=120_000)
                block.locator(".noUi-handle").first.press("Home")  # at its end a storm has no next event
                page.wait_for_timeout(1_000)
                before = label(page)
                block.locator("button", has_text="Next event").click()
                count(done, "Next event of the storm", changed(page, before, []))
                before = label(page)
                target = block.locator(".widget-dropdown", has_text="Storm of an hour").locator("select")
                index = int(target.evaluate("one => one.selectedIndex"))
                target.select_option(index=(index + 1) % 3)
                count(done, "Storm of an hour", changed(page, before, []))


def every_exercise(page: Page, way: str, done: dict[str, list[int]]) -> None:
    """Answer every exercise right, and run its cell."""
    for name, answer in EXERCISES.items():
        cell = page.locator(".jp-CodeCell", has_text=f"lesson.{name}(").first
        cell.scroll_into_view_if_needed()
        editor = cell.locator(".cm-content")
        editor.tap() if way == "touch" else editor.click()
        page.keyboard.press("Control+a")
        page.keyboard.insert_text(f"import runoff\n\nrunoff.lesson.{name}({answer})")
        if way == "keyboard":
            page.keyboard.press("Control+Enter")
        else:
            use(
                page,
                page.locator(
                    "[data-command='notebook:run-cell-and-select-next'], [data-jp-item-name='run'] jp-button"
                ).first,
                way,
            )
        wait_until_done(page)
        said = cell.locator(".jp-OutputArea-output").first
        try:
            said.filter(has_text="Right").wait_for(timeout=10_000)
            good = True
        except Exception:  # whatever went wrong, the count says so
            good = False
        count(done, f"exercise {name} by {way}", good)


def played(page: Page) -> None:
    """Play the year at four days a second for five seconds, and print which days were shown."""
    block = page.locator(LESSON).first
    block.evaluate("one => one.scrollIntoView()")
    block.evaluate(
        """one => { window.days = []; new MutationObserver(() => { const said = one.querySelector('svg[role=img]').getAttribute('aria-label').split(':')[0];
        if (window.days.at(-1)?.[0] !== said) window.days.push([said, performance.now()]) }).observe(one, { childList: true, subtree: true }) }"""
    )
    block.locator(".widget-play button").first.click()
    page.wait_for_timeout(5_000)
    block.locator(".widget-play button").first.click()
    days = page.evaluate("window.days")
    gaps = [b[1] - a[1] for a, b in itertools.pairwise(days)]
    print(
        f"played: {days[0][0]} to {days[-1][0]}, {len(days)} days shown in 5 s; between two {statistics.median(gaps):.0f} ms, longest {max(gaps):.0f} ms"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10, sys.argv[2] if len(sys.argv) > 2 else "")
