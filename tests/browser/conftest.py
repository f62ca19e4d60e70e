"""One notebook server for all tests of lessons in the browser."""

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

NOTEBOOKS = Path(__file__).resolve().parents[2] / "notebooks"
TOKEN = "lesson"


@pytest.fixture(scope="package")  # it ends with the last lesson: idle, it and its pages take their share of the machine
def lab_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start JupyterLab on loopback in a copy of the lessons and yield its address."""
    pytest.importorskip("jupyterlab", reason="the extra `notebooks` is not installed")
    with notebook_server(tmp_path_factory.mktemp("lab")) as address:
        yield address


@contextmanager
def notebook_server(place: Path) -> Iterator[str]:
    """Start JupyterLab on loopback in a copy of the lessons, in an empty folder; yield its address."""
    folder, settings, config = (place / name for name in ("lessons", "settings", "config"))
    for one in (folder, settings, config):
        one.mkdir()
    for path in NOTEBOOKS.glob("*.ipynb"):
        shutil.copy(path, folder / path.name)
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
    log = place / "server.log"
    environment = {**os.environ, "JUPYTER_CONFIG_DIR": str(config)}
    with log.open("w") as out:
        server = subprocess.Popen(command, stdout=out, stderr=out, env=environment)
    address = f"http://127.0.0.1:{port}"
    try:
        for _ in range(480):  # two minutes: a first start compiles what it loads
            try:
                urllib.request.urlopen(f"{address}/api?token={TOKEN}", timeout=1)
                break
            except OSError:
                time.sleep(0.25)
        else:
            raise RuntimeError(f"JupyterLab did not start: {log.read_text()[-2000:]}")
        yield address
    finally:
        server.terminate()
        server.wait(timeout=20)
