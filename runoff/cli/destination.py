"""Where a command writes: one file when ``--out`` ends like one, else a folder; whole files only, one run at a time."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from runoff.errors import RunoffError
from runoff.writing import make_folder, write_csv, write_netcdf, write_text, writing_alone

#: Endings by which ``--out`` names a file; everything else is a folder.
FILES = (".html", ".pdf", ".nc", ".csv", ".toml", ".png", ".zarr")
_PICTURE, _STORE = ".png", ".zarr"


def add_out(parser: argparse.ArgumentParser, endings: Sequence[str], *, default: str = "results") -> None:
    """Add where results go.

    Parameters
    ----------
    parser
        Of the command.
    endings
        Endings of the single files the command can write.
    default
        A folder or a file; empty where nothing is written unless asked for.
    """
    kinds = " or ".join([", ".join(endings[:-1]), endings[-1]] if len(endings) > 1 else endings)
    said = f"default: {default}" if default else "default: nothing is written"
    parser.add_argument(
        "--out",
        default=default,
        metavar="FOLDER|FILE",
        help=f"folder for results, or one file ending in {kinds} ({said})",
    )
    parser.set_defaults(out_endings=tuple(endings))


def add_no_figures(parser: argparse.ArgumentParser) -> None:
    """Add the choice to leave pictures out."""
    parser.add_argument("--no-figures", action="store_true", help="write the numbers only")


class Results:
    """What a command writes, one thing after the other.

    Parameters
    ----------
    target
        Folder or file; None where nothing is written.
    is_file
        Whether `target` is one file.
    figures
        Whether pictures are wanted.
    """

    def __init__(self, target: Path | None, *, is_file: bool, figures: bool) -> None:
        self.target, self.is_file, self.figures = target, is_file, figures
        self.written: list[str] = []
        self.replaced = 0

    def wants(self, name: str) -> bool:
        """Tell whether something of this name is to be written: in a folder all, as a file the first of its ending."""
        if self.target is None:
            return False
        ending = Path(name).suffix
        if self.is_file:
            return not self.written and ending == self.target.suffix.lower()
        return self.figures or ending != _PICTURE

    def add(self, name: str, make: Callable[[], Any]) -> None:
        """Make a result and write it, if it is wanted.

        Parameters
        ----------
        name
            Its name in a folder; the ending says what it is.
        make
            Returns the Dataset (``.nc``), DataFrame (``.csv``), figure (``.png``) or text to write.
        """
        if self.target is None or not self.wants(name):
            return
        path = self.target if self.is_file else self.target / name
        self.replaced += path.exists()
        _write(path, make())
        self.written.append(path.name)

    def path(self, name: str) -> Path:
        """Return where something that another module writes belongs; it counts as written."""
        if self.target is None:
            raise RunoffError("--out: no place to write to; give a folder or a file")
        path = self.target if self.is_file else self.target / name
        self.replaced += path.exists()
        self.written.append(path.name)
        return path

    def said(self) -> str:
        """Return what was written, as a sentence; nothing where nothing was."""
        if self.target is None:
            return ""
        if self.is_file:
            return f"Written: {self.target}{' (in place of an earlier one)' if self.replaced else ''}"
        again = f" ({self.replaced} in place of those of an earlier run)" if self.replaced else ""
        return f"Written to {self.target}: {', '.join(self.written)}{again}"


def _write(path: Path, content: Any) -> None:
    ending = path.suffix.lower()
    if ending == ".nc":
        write_netcdf(path, content)
    elif ending == ".csv":
        write_csv(path, content)
    elif ending == _PICTURE:
        from runoff.plots import save

        save(content, path)
    else:
        write_text(path, content)


def is_a_file(out: str) -> bool:
    """Tell whether ``--out`` names a file."""
    return Path(out).suffix.lower() in FILES


@contextlib.contextmanager
def results_of(options: argparse.Namespace) -> Iterator[Results]:
    """Open the place for results, before the work begins: a wrong name is said at once.

    Raises
    ------
    RunoffError
        When the place cannot be written to, the command writes no such file, or another run holds the folder.
    """
    target, single = Path(options.out), is_a_file(options.out)
    figures = not getattr(options, "no_figures", False)
    if not options.out:
        yield Results(None, is_file=False, figures=figures)
        return
    if single:
        if target.suffix.lower() not in options.out_endings:
            raise RunoffError(
                f'--out: runoff {options.command} writes {", ".join(options.out_endings)} or a folder (given "{target}")'
            )
        if target.suffix.lower() == _PICTURE and not figures:
            raise RunoffError(
                "--no-figures and an --out that ends in .png exclude each other; leave one of the two out"
            )
        if target.is_dir() and target.suffix.lower() != _STORE:
            raise RunoffError(f"--out: there is a folder called {target}; choose another name for the file")
        if not target.parent.is_dir():
            raise RunoffError(
                f"--out: there is no folder {target.parent}; make it, or choose another for {target.name}"
            )
        # a file takes its place in one step, and what writes a store holds it
        yield Results(target, is_file=True, figures=figures)
        return
    with writing_alone(make_folder(target)):
        yield Results(target, is_file=False, figures=figures)
