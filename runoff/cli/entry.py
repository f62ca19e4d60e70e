"""The parser of the command line, and the one place where errors become a line and an exit code."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
import warnings
from collections.abc import Sequence
from typing import Any

# command -> (module with `add_arguments` and `run`, one line of help); modules load only when their command is used
COMMANDS: dict[str, tuple[str, str]] = {
    "simulate": ("runoff.cli.simulating", "run a roof through years of weather: retention, overflow, wet and dry days"),
    "sweep": ("runoff.cli.sweeping", "compare many build-ups in the same climate"),
    "dossier": ("runoff.cli.dossier_command", "write the capture dossier a grant applicant hands in, or check one"),
    "storm": (
        "runoff.cli.storm_command",
        "design storms in minutes: peaks of the planted, the bare and the gravel roof",
    ),
    "outlets": ("runoff.cli.outlets_command", "which outlets keep the water on the roof low, and what if some clog"),
    "fit": ("runoff.cli.fit_command", "values of the roof from its measured overflow"),
    "check-weather": ("runoff.cli.checking", "look through a weather file before relying on it"),
    "notebooks": ("runoff.cli.notebooks_command", "copy the lessons to a folder of yours"),
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code: 0 done, 1 refused with the reason, 2 not understood."""
    from runoff.errors import RunoffError

    words = list(sys.argv[1:] if arguments is None else arguments)
    parser = _parser(words)
    options = parser.parse_args(words)
    if options.command is None:
        parser.print_help()
        return 0
    as_before, warnings.formatwarning = warnings.formatwarning, _in_words
    try:
        return int(importlib.import_module(COMMANDS[options.command][0]).run(options))
    except FileNotFoundError as error:
        print(f"runoff {options.command}: there is no file {error.filename}", file=sys.stderr)
        return 1
    except RunoffError as error:
        print(error, file=sys.stderr)
        return 1
    except BrokenPipeError:  # the reader of a pipe has left, for example `runoff simulate | head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    finally:
        warnings.formatwarning = as_before


def _in_words(message: Any, category: type[Warning], filename: str, lineno: int, line: str | None = None) -> str:
    """Return a warning as a sentence; where in the code it was raised is of no use at the terminal."""
    return f"Warning: {message}\n"


def _parser(words: Sequence[str]) -> argparse.ArgumentParser:
    """Build the parser; only the command in use gets its arguments, so that help stays quick."""
    from runoff.version import __version__

    parser = argparse.ArgumentParser(
        prog="runoff",
        description="Water balance, storm runoff and drainage of planted (sedum) roofs. "
        "Every command works without arguments on the embedded sample, the invented town of Ostrey.",
    )
    parser.add_argument("--version", action="version", version=f"runoff {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")
    for name, (module, summary) in COMMANDS.items():
        sub = commands.add_parser(
            name, help=summary, description=summary, formatter_class=argparse.RawDescriptionHelpFormatter
        )
        if name in words:
            importlib.import_module(module).add_arguments(sub)
    return parser
