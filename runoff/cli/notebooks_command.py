"""``runoff notebooks``: the lessons, copied to a folder of the user's."""

from __future__ import annotations

import argparse
from pathlib import Path

from runoff.sample_files import lesson_folder
from runoff.writing import make_folder, write_whole, writing_alone

#: How the names of pages end that the pupils' folder goes without.
_KEY = "_key_for_the_teacher"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "--to", default="runoff_notebooks", metavar="FOLDER", help="where to (default: runoff_notebooks)"
    )
    parser.add_argument(
        "--for",
        dest="reader",
        choices=("pupils", "teacher"),
        default="pupils",
        help="teacher adds the key to the exercises",
    )
    parser.add_argument(
        "--paper",
        action="store_true",
        help="write the lesson for a class without machines: worksheet and frames as PDF",
    )
    parser.add_argument("--overwrite", action="store_true", help="replace lessons that are there already")


def run(options: argparse.Namespace) -> int:
    """Copy the lessons; what is there already is kept unless told otherwise."""
    if options.paper:
        return _write_paper(options)
    source, target = lesson_folder(), make_folder(Path(options.to))
    copied, kept = [], []
    with writing_alone(target):
        for path in sorted(source.iterdir()):
            if path.suffix not in (".ipynb", ".md", ".png"):
                continue
            if path.stem.endswith(_KEY) and options.reader != "teacher":
                continue
            if (target / path.name).exists() and not options.overwrite:
                kept.append(path.name)
                continue
            write_whole(target / path.name, path.read_bytes())
            copied.append(path.name)
    print(f"Copied to {target}: {', '.join(copied) or 'nothing'}")
    if kept:
        print(f"Kept, since they are there already (--overwrite replaces them): {', '.join(kept)}")
    print(
        f"\nOpen them with\n  jupyter lab {target}\n"
        "Open a notebook, wait for Idle at the bottom left, then choose Run > Run All Cells.\n"
        "JupyterLab comes with the extra `notebooks`: pip install 'runoff[notebooks]'"
    )
    return 0


def _write_paper(options: argparse.Namespace) -> int:
    """Write the worksheet and the frames; what is there already is kept unless told otherwise."""
    from runoff.saying.progress import waiting
    from runoff.teaching.paper import write_paper
    from runoff.weather import open_sample

    target = make_folder(Path(options.to))
    there = sorted(path.name for path in target.glob("lesson_*.pdf"))
    if there and not options.overwrite:
        print(f"Kept, since they are there already (--overwrite replaces them): {', '.join(there)}")
        return 0
    with writing_alone(target), waiting("drawing the sheets"):
        written = write_paper(open_sample(), target, teacher=options.reader == "teacher")
    print(f"Written to {target}: {', '.join(path.name for path in written)}")
    print("Print the frames on one side, so that they can be cut out.")
    return 0
