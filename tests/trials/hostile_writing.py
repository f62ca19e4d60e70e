"""Kills, full disks and second runs while each command writes: every file must be the old one or the new one.

    python -m tests.trials.hostile_writing [KILLS]

Each command runs to its end twice with different settings, so that the old and the new bytes of all its files are known;
then it runs over the old files again and is killed at a moment drawn over its length. A full disk is a small file system
(needs root on Linux; left out otherwise).
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNOFF = [sys.executable, "-m", "runoff"]
# command -> words of the old and of the new run; the two differ in what they write
COMMANDS: dict[str, tuple[list[str], list[str]]] = {
    "simulate": (["--start", "2001", "--end", "2004"], ["--start", "2005", "--end", "2008"]),
    "sweep": (["--try", "medium.depth_mm=40,60"], ["--try", "medium.depth_mm=80,100"]),
    "storm": (["--depth", "40mm", "--step", "15min"], ["--depth", "60mm", "--step", "15min"]),
    "outlets": (["--duration", "1h", "--most-outlets", "3"], ["--duration", "2h", "--most-outlets", "3"]),
    "fit": (["--out", "results"], ["--out", "results", "--held-back", "0.2"]),
    "dossier": (["--out", "results", "--members", "20", "--start", "2013"], ["--out", "results", "--members", "20", "--start", "2012"]),
    "order": (["--out", "results"], ["--out", "results", "--allow", "settlement=30%"]),
    "lesson": (["--out", "results", "--year", "2012"], ["--out", "results", "--year", "2013"]),
    "notebooks": (["--to", "results"], ["--to", "results", "--overwrite"]),
}  # fmt: skip


def run(command: str, words: list[str], folder: Path) -> float:
    """Run a command in a folder and return how long it took, s."""
    began = time.monotonic()
    done = subprocess.run([*RUNOFF, command, *words], cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        raise SystemExit(f"{command} {words}: {done.stderr}")
    return time.monotonic() - began


def contents(folder: Path) -> dict[str, bytes]:
    """Return what stands in the result folder, hidden leftovers aside."""
    return {one.name: one.read_bytes() for one in (folder / "results").iterdir() if not one.name.startswith(".")}


def kills(command: str, count: int, draw: random.Random) -> tuple[int, int, int]:
    """Kill a command at drawn moments; return kills that hit it at work, torn files, and runs refused afterwards."""
    old_words, new_words = COMMANDS[command]
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        run(command, new_words, folder)  # once, so that what is compiled on first use does not count
        length = run(command, new_words, folder)
        new = contents(folder)
        shutil.rmtree(folder / "results")
        run(command, old_words, folder)
        old = contents(folder)
        hit = torn = refused = 0
        for _ in range(count):
            process = subprocess.Popen(
                [*RUNOFF, command, *new_words], cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
            # most of the writing happens in the last third
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(length * draw.triangular(0.3, 1.1, 0.85))
            process.kill()
            hit += process.wait() == -signal.SIGKILL
            torn += sum(content not in (old.get(file), new.get(file)) for file, content in contents(folder).items())
        with contextlib.suppress(SystemExit):
            run(command, new_words, folder)
            refused -= 1
        return hit, torn, refused + 1


@contextlib.contextmanager
def small_disk(kilobytes: int):
    """Give a file system of so many kilobytes, or None where none can be had."""
    with tempfile.TemporaryDirectory() as name:
        made = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", name], capture_output=True, check=False
        )
        if made.returncode != 0:
            yield None
            return
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", name], check=False)


def full_disk(command: str) -> str:
    """Fill the disk under a command and say how it ended."""
    with tempfile.TemporaryDirectory() as name:
        run(command, COMMANDS[command][0], Path(name))
        old = contents(Path(name))
        with small_disk(sum(map(len, old.values())) // 1024 + 60) as disk:
            if disk is None:
                return "left out: no small file system can be had here"
            shutil.copytree(Path(name) / "results", disk / "results")
            done = subprocess.run(
                [*RUNOFF, command, *COMMANDS[command][1]], cwd=disk, capture_output=True, text=True, check=False,
                env={**os.environ, "MPLCONFIGDIR": tempfile.gettempdir()},
            )  # fmt: skip
            kept = sum(content == old.get(file) for file, content in contents(disk).items())
            last = (done.stderr.strip().splitlines() or ["nothing said"])[-1]
            whole = "Traceback" not in done.stderr
            return f"exit {done.returncode}, {'a sentence' if whole else 'a traceback'}, {kept} of {len(old)} old files kept: {last}"


def main(count: int) -> None:
    """Print a table of all trials."""
    draw = random.Random(1)
    for command in COMMANDS:
        hit, torn, refused = kills(command, count, draw)
        print(
            f"{command:10} {count} kills, {hit} while at work, {torn} torn files, refused afterwards: {refused}",
            flush=True,
        )
    for command in COMMANDS:
        print(f"{command:10} full disk: {full_disk(command)}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 20)
