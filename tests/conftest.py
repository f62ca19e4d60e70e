"""Shared by all tests: the folder of real weather, and a headless browser."""

import functools
import gc
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import hypothesis
import pytest
from _pytest.doctest import DoctestModule

from tests import compiled_loops

# an example that takes long says that the machine is busy
hypothesis.settings.register_profile("in any time", deadline=None)
hypothesis.settings.load_profile("in any time")


def pytest_configure(config: pytest.Config) -> None:
    # eight thousand tests are collected and stay: looking through them for garbage would take half of the time
    gc.disable()
    # with files side by side a process that replaces a crashed one waits for work for ever: end the run instead
    if getattr(config.option, "maxworkerrestart", "absent") is None:
        config.option.maxworkerrestart = "0"
    if getattr(config.option, "numprocesses", None) and not hasattr(config, "workerinput"):
        config.option.loadscopereorder = False  # in the order of `pytest_collection_modifyitems`
        os.environ.pop(
            "PYTHONDONTWRITEBYTECODE", None
        )  # a hundred processes take part; each would compile the package anew
        os.environ.setdefault(
            "OPENBLAS_NUM_THREADS", "1"
        )  # each process has its core: threads would wait for each other
        if not config.option.collectonly:
            compiled_loops.make_ready()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    if config.getvalue("dist") != "loadfile":
        return None
    from tests.side_by_side import FilesTogether

    return FilesTogether(config, log)


@pytest.hookimpl(wrapper=True)
def pytest_report_to_serializable() -> Iterator[None]:
    # of what passed nobody reads the keywords, which are half of what a test sends from one process to another
    data = yield
    if data and data["$report_type"] == "TestReport" and data["outcome"] == "passed":
        data["keywords"] = {}
    return data


# whole files that take more than about five seconds; single slow tests are marked where they stand
_SLOW = (
    "browser/", "desk/test_workplace", "dossier/", "second_physics/",
    "calibration/test_fit_command", "calibration/test_monitored", "calibration/test_tray_findings",
    "cli/test_entry", "cli/test_shed", "cli/test_stream", "cli/test_us_units",
    "simulation/test_days_and_minutes", "simulation/test_signs",
    "weather/test_breaks", "weather/test_check_numbers", "weather/test_fuzzing", "weather/test_invented", "weather/test_readers_real",
    "test_lesson_page", "test_lesson_paper", "test_model_error", "test_no_way_in", "test_showing", "test_sizing_drainage",
    "test_storm_commands", "test_streaming", "test_teaching", "test_uncertainty", "test_writing",
)  # fmt: skip
# files with slow tests among quick ones
_LONG = ("test_notebooks", "published/", "simulation/test_any_roof", "test_soak", *_SLOW)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    # what the working selection leaves out as a whole need not be loaded either: it brings zarr, browsers and dossiers
    left_out = config.option.markexpr == "not slow" and collection_path.suffix == ".py"
    return True if left_out and _is_one_of(collection_path, _SLOW) else None


@pytest.hookimpl(wrapper=True)
def pytest_collect_file(file_path: Path) -> Iterator[list[pytest.Collector]]:
    # no example stands in a docstring of a test file: looking for some takes longer than loading the file
    collected = yield
    examples = not file_path.name.startswith("test_") or b">>> " in file_path.read_bytes()
    return collected if examples else [one for one in collected if not isinstance(one, DoctestModule)]


@pytest.hookimpl(tryfirst=True)  # before pytest leaves out what was not asked for
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:
        if _is_one_of(item.path, _SLOW):
            item.add_marker(pytest.mark.slow)
    if hasattr(config, "workerinput"):  # files side by side: the long ones begin, so that none is left for the end
        items.sort(key=lambda item: not _is_one_of(item.path, _LONG))


def pytest_collection_finish() -> None:
    gc.enable()
    gc.freeze()
    gc.set_threshold(20_000)  # at Python's 700 a fourteenth of the time goes into looking through what is still in use


@functools.cache
def _is_one_of(path: Path, starts: tuple[str, ...]) -> bool:
    here = Path(__file__).resolve().parent
    return here in path.parents and path.relative_to(here).as_posix().startswith(starts)


_SHARED = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def shared_data() -> Path:
    """Return the folder of real open weather beside the checkout, or skip."""
    if not _SHARED.is_dir():
        pytest.skip("the folder of real open weather (../shared/data) is not beside this checkout")
    return _SHARED


# background services of the browser would look for hosts that a closed network does not have
QUIET = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip


@pytest.fixture(scope="session")
def browser_path() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if not found:
        pytest.skip("no Chromium on the path; install one to run the browser tests")
    pytest.importorskip("playwright", reason="the extra `browser` is not installed")
    return found


@pytest.fixture(scope="module")  # while it is open a loop of asyncio runs on this thread: no other file may meet it
def browser(browser_path: str) -> Iterator[object]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser_path, args=QUIET)
        yield chromium
        chromium.close()
