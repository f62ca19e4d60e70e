"""The parser of the command line, and the one place where whatever goes wrong becomes a sentence and an exit code."""

from __future__ import annotations

import atexit
import contextlib
import gc
import importlib
import os
import sys
import traceback
import warnings
from collections.abc import Iterator, Sequence
from types import ModuleType
from typing import Any

from runoff.cli.parser import CommandParser
from runoff.cli.refusals import in_flags, sentence_of
from runoff.first_use import Late, as_if_not_installed
from runoff.saying.given import on_one_line

#: Command -> one line of help. Each has a module of its own, `runoff.cli.<command>_command`, with `add_arguments` and
#: `run`; it is loaded only when the command is used.
COMMANDS: dict[str, str] = {
    "simulate": "run a roof through years of weather: retention, overflow, waterlogged and dry days",
    "sweep": "compare many build-ups in the same climate",
    "dossier": "write the capture dossier a grant applicant hands in, or check one",
    "storm": "design storms in minutes: peak discharge of the planted, the bare and the gravel roof",
    "outlets": "which outlets keep the depth of water on the roof within a limit, and what if some are blocked",
    "fit": "fit the parameters of a roof to its measured overflow, or its medium to a tray on the scales",
    "order": "what to order for a roof, how it is delivered and how it is lifted",
    "stream": "run a roof in every cell of a weather grid larger than memory",
    "check-weather": "check a weather file before relying on it",
    "notebooks": "copy the lessons (notebooks) to your own folder",
    "lesson": "two roofs side by side under the same rain, as one page for any browser",
}
#: Set to 1, errors that are no one's input show where in the code they were raised.
TRACEBACK = "RUNOFF_TRACEBACK"
_INTERRUPTED = 130  # what shells take for a stop by Ctrl-C
#: Libraries that xarray and dask load wherever they are installed, to ask of each array whether it is one of theirs, and for a
#: cluster: more than a second for what no command ever meets. A command has no cluster open, and arrays in chunks one of them alone.
_NEVER_MET, _CHUNKED, _MEETS_CHUNKS = ("distributed", "pint"), "dask", "stream"
#: What dask and zarr look for as they load: transforms, arrays that no grid of weather comes in, pages of a notebook, stores by web address.
_CHUNKS_LOOK_FOR = ("scipy.fftpack", "scipy.sparse", "jinja2", "fsspec")
#: What xarray, scipy, numba and dask import as they load and a command hardly ever meets: reading side by side, lessons, a compiler of
#: Fortran, tools for tests, points in space, classes and containers that are compiled, draws, transforms and masked arrays in chunks.
_MET_LATE = (
    "asyncio", "xarray.tutorial", "xarray.ufuncs", "numpy.f2py", "numpy.testing", "scipy.spatial", "numba.experimental", "numba.typed",
    "dask.array.random", "dask.array.fft", "dask.array.linalg", "dask.array.ma",
)  # fmt: skip
#: Tells pydantic not to search all that is installed for packages that would watch over its work.
_UNWATCHED = "PYDANTIC_DISABLE_PLUGINS"

#: New objects between two searches for unreachable ones. Loading libraries makes a third of a million that all stay, and at
#: Python's 700 a sixth of the time of a command goes into looking at them again and again.
_OBJECTS = 400_000


def process() -> int:
    """Run the command line in a process of its own, as the ``runoff`` command does, and return its exit code; see `main`.

    As the process ends, what libraries have asked for at its end is done; what they have made is not taken apart.
    """
    from runoff.balance.loop_choice import no_other_loops
    from runoff.saying.progress import command_begins

    code: list[int] = []
    atexit.register(_end, code)  # before the libraries load: what is asked for first is done last
    command_begins()
    no_other_loops()
    gc.set_threshold(_OBJECTS)
    os.environ.setdefault(_UNWATCHED, "1")
    sys.meta_path.insert(0, Late(*_MET_LATE))
    for name in (*_NEVER_MET, *([] if _MEETS_CHUNKS in sys.argv else [_CHUNKED])):
        sys.modules.setdefault(name, None)  # type: ignore[arg-type]  # Python takes None for "not installed"
    if sys.argv[1:2] == [_MEETS_CHUNKS] and "--help" not in sys.argv:
        with contextlib.suppress(ImportError), as_if_not_installed(*_CHUNKS_LOOK_FOR):
            for name in ("dask.array", "zarr"):
                importlib.import_module(name)
    code.append(main())
    return code[0]


def _end(code: Sequence[int]) -> None:
    """End the process at once where the command has run: Python would take a third of a million objects apart, one by one."""
    if code:
        for stream in filter(None, (sys.stdout, sys.stderr)):
            stream.flush()
        os._exit(code[0])


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    Parameters
    ----------
    arguments
        What was typed after ``runoff``; by default that of the process.

    Returns
    -------
    int
        0 when the command ran to its end, whatever its verdict; 1 when something given could not be used, with the
        reason on stderr; 130 when it was stopped by hand.
    """
    words = list(sys.argv[1:] if arguments is None else arguments)
    command = next((word for word in words if word in COMMANDS), "")
    with _plain_text(), _warnings_in_words(command):
        try:
            code = _run(words)
            sys.stdout.flush()
            return code
        except KeyboardInterrupt:
            print(f"runoff {command}: stopped.", file=sys.stderr)
            return _INTERRUPTED
        except BrokenPipeError:  # the reader of a pipe has left, for example `runoff simulate | head`
            _leave_output()
            return 0
        except Exception as error:
            if os.environ.get(TRACEBACK) == "1":
                traceback.print_exc()
            print(_in_words(sentence_of(error, command), command), file=sys.stderr)
            try:
                sys.stdout.flush()
            except (
                OSError
            ):  # to where it is printed nothing can be written, as to a full disk; Python would try again at its end
                _leave_output()
            return 1


def _leave_output() -> None:
    """Let what is yet to be printed go nowhere."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(words: Sequence[str]) -> int:
    parser = _parser(words)
    options = parser.parse_args(words)
    if options.command is None:
        parser.print_help()
        return 0
    return int(module_of(options.command).run(options))


def module_of(command: str) -> ModuleType:
    """Return the module of a command."""
    return importlib.import_module(f"runoff.cli.{command.replace('-', '_')}_command")


def _parser(words: Sequence[str]) -> CommandParser:
    """Build the parser; only the command in use gets its arguments, so that help stays quick."""
    from runoff.version import __version__

    parser = CommandParser(
        prog="runoff",
        description="Water balance, storm runoff and drainage of planted (sedum) roofs. "
        "Every command works without arguments on the embedded sample, the invented town of Ostrey.",
    )
    parser.add_argument("--version", action="version", version=f"runoff {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands", parser_class=CommandParser)
    for name, summary in COMMANDS.items():
        sub = commands.add_parser(name, help=summary, description=summary[0].upper() + summary[1:] + ".")
        if name in words:
            module_of(name).add_arguments(sub)
    return parser


def _flags(command: str) -> dict[str, str]:
    """Return argument of the package -> flag of a command, so that a refusal names what was typed."""
    if not command:
        return {}
    parser = CommandParser(prog="runoff")
    module_of(command).add_arguments(parser)
    return parser.flags()


def _in_words(said: str, command: str) -> str:
    """Return a message that names flags; a name of a file or a column in it cannot steer the terminal."""
    return "\n".join(map(on_one_line, in_flags(said, command, _flags(command)).split("\n")))


@contextlib.contextmanager
def _warnings_in_words(command: str) -> Iterator[None]:
    """Print warnings as sentences; where in the code they were raised is of no use at the terminal."""

    def in_words(message: Any, category: type[Warning], filename: str, lineno: int, line: str | None = None) -> str:
        return f"Warning: {_in_words(str(message), command)}\n"

    as_before, warnings.formatwarning = warnings.formatwarning, in_words
    try:
        yield
    finally:
        warnings.formatwarning = as_before


@contextlib.contextmanager
def _plain_text() -> Iterator[None]:
    """Let a terminal that lacks a sign show a stand-in, rather than end the command."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    yield
