"""Where sample files, lessons and the tables of the checks lie: in the checkout, or in the installed package."""

from __future__ import annotations

from pathlib import Path

from runoff.errors import RunoffError

_PACKAGE = Path(__file__).resolve().parent


def sample_folder() -> Path:
    """Return the folder of the sample files: `sample_storms` of the checkout, or the copy that the wheel carries.

    Raises
    ------
    RunoffError
        When neither is there.
    """
    return _folder("sample_storms", "ostrey_daily.csv", "the sample files are missing")


def lesson_folder() -> Path:
    """Return the folder of the lessons: `notebooks` of the checkout, or the copy that the wheel carries.

    Raises
    ------
    RunoffError
        When neither is there.
    """
    return _folder("notebooks", "01_first_roof.ipynb", "the lessons are missing")


def check_folder() -> Path:
    """Return the folder of the tables that the tests write: `tests` of the checkout, or the copy that the wheel carries.

    Raises
    ------
    RunoffError
        When neither is there.
    """
    return _folder("tests", "published/traceability.csv", "the tables of the checks are missing")


def _folder(name: str, must_hold: str, missing: str) -> Path:
    for folder in (_PACKAGE.parent / name, _PACKAGE / name):
        if (folder / must_hold).is_file():
            return folder
    raise RunoffError(f"{missing}: no {must_hold} in {_PACKAGE / name}; install the package again")
