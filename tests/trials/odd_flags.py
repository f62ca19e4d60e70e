"""Odd values for every option of every command: each run ends in results or in a sentence, never in a fault of ours.

    python -m tests.trials.odd_flags [COMMAND ...]

Prints what was not foreseen: unexpected exit codes, tracebacks, and sentences that say it should not have happened.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

from runoff.cli.entry import COMMANDS, main, module_of
from runoff.cli.parser import CommandParser

ODD = (
    "", " ", "-1", "0", "1e400", "-1e12", "nan", "inf", "1e12", "2050", "0001", "1-1", "9999-12-31", "=", "a=b", "rain=",
    "rain=\x07", "=1", "x" * 5000, "..", "/", "~", ".", "/dev/null", "\u202e", "\N{SNOWMAN}", "%s", "{0}", "a,b", "1,2",
    "1mm", "1e9mm", "-1in", "0x10", "1_000", "true", "None", "rain=zero", "retention=200%", "medium.depth_mm=", "--",
    "medium.depth_mm=1e9", "medium.cups_up=1", "roof.outlets=1", "step=5min", "decimal=,", "header=maybe", "lat=1e9",
)  # fmt: skip
#: What makes a command quick, where nothing odd is given.
QUICK = {
    "simulate": ["--start", "2001", "--end", "2001", "--no-figures"],
    "sweep": ["--start", "2001", "--end", "2001", "--no-figures"],
    "storm": ["--no-figures", "--step", "15min", "--depth", "20mm"],
    "outlets": ["--no-figures", "--duration", "1h", "--most-outlets", "1"],
    "dossier": ["--start", "2015", "--members", "20"],
    "fit": ["--start", "2014", "--end", "2014"],
}
_OURS = ("should not have happened", "Traceback")


def options_of(command: str) -> list[argparse.Action]:
    """Return the options of a command that take a value."""
    parser = CommandParser(prog="runoff")
    module_of(command).add_arguments(parser)
    return [action for action in parser._actions if action.option_strings and action.nargs != 0]


def odd_runs(command: str, values: tuple[str, ...] = ODD) -> Iterator[list[str]]:
    """Return the words of every run: each option with each odd value, and each odd value where a file is wanted."""
    for action in options_of(command):
        flag = max(action.option_strings, key=len)
        quick = list(QUICK.get(command, []))
        if flag in quick:  # the odd value takes the place of the quick one
            place = quick.index(flag)
            del quick[place : place + 2]
        yield from ([command, *quick, f"{flag}={value}"] for value in values)
    yield from ([command, *QUICK.get(command, []), value] for value in values if not value.startswith("-"))


def faults_of(words: list[str]) -> str:
    """Run a command and return what was not foreseen, or nothing."""
    out, err = io.StringIO(), io.StringIO()
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings():
            warnings.simplefilter("ignore")
            code = main(words)
    except BaseException as error:
        return f"{type(error).__name__}: {error}"
    said = err.getvalue()
    if any(mark in said for mark in _OURS):
        return said.strip()[:400]
    if code not in (0, 1) or (code == 1 and not said.strip()):
        return f"exit {code}: {said[:200]}"
    return ""


def trial(commands: list[str]) -> None:
    """Print the faults, command by command."""
    for command in commands:
        began, runs, faults = time.monotonic(), 0, 0
        for words in odd_runs(command):
            runs += 1
            fault = faults_of(words)
            if fault:
                faults += 1
                print(f"  {[word[:60] for word in words]}: {fault}", flush=True)
        print(f"{command:14} {runs} runs, {faults} faults, {time.monotonic() - began:.0f} s", flush=True)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(Path(folder))
        trial(sys.argv[1:] or list(COMMANDS))
