"""One notebook server and one browser for all browser tests; without a browser they skip with the reason."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
TOKEN = "lesson"
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


@pytest.fixture(scope="session")
def lab_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start JupyterLab on loopback in a copy of the lessons and yield its address."""
    pytest.importorskip("jupyterlab", reason="the extra `notebooks` is not installed")
    folder = tmp_path_factory.mktemp("lab")
    for path in NOTEBOOKS.glob("*.ipynb"):
        shutil.copy(path, folder / path.name)
    settings = tmp_path_factory.mktemp("settings")
    # the news pop-up of a first start would cover the lesson
    (settings / "overrides.json").write_text(
        json.dumps({"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": False}})
    )
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable, "-m", "jupyterlab", "--no-browser", "--ip=127.0.0.1", f"--port={port}", f"--ServerApp.root_dir={folder}",
        f"--IdentityProvider.token={TOKEN}", f"--LabApp.app_settings_dir={settings}", "--allow-root", "--LabApp.expose_app_in_browser=True",
    ]  # fmt: skip
    log = folder.parent / "server.log"
    environment = {**os.environ, "JUPYTER_CONFIG_DIR": str(tmp_path_factory.mktemp("config"))}
    with log.open("w") as out:
        server = subprocess.Popen(command, stdout=out, stderr=out, env=environment)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(120):
            try:
                urllib.request.urlopen(f"{address}/api?token={TOKEN}", timeout=1)
                break
            except OSError:
                time.sleep(0.25)
        else:
            pytest.fail(f"JupyterLab did not start: {log.read_text()[-2000:]}")
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)


@pytest.fixture(scope="session")
def browser(browser_path: str) -> Iterator[object]:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=browser_path, args=QUIET)
        yield chromium
        chromium.close()
