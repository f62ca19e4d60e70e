"""What the package was checked against, as tables and pictures for the notebook that shows it.

They are written by the tests and lie beside them; the wheel carries a copy, so that the notebook runs from any folder.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from runoff.errors import MissingFileError
from runoff.given_kinds import refuse_other_kinds
from runoff.plots.on_a_page import picture_html
from runoff.sample_files import check_folder
from runoff.saying import titles

if TYPE_CHECKING:
    import pandas as pd


def check_table(name: str, *, numbers: bool = False) -> pd.DataFrame:
    """Return a table of the checks; at the end of a notebook cell it shows itself whole.

    Parameters
    ----------
    name
        The file within the folder of the tests, for example ``published/disagreements.csv``.
    numbers
        Whether columns of numbers are read as numbers. By default every cell is the text of the file, with the digits it has.

    Returns
    -------
    pandas.DataFrame
        The rows of the file; an empty cell is empty text, or a missing number.

    Raises
    ------
    MissingFileError
        When there is no such table.
    RunoffError
        When the name is not text.
    """
    import pandas as pd

    path = _found(name)
    table = pd.read_csv(path) if numbers else pd.read_csv(path, dtype=str).fillna("")
    table.attrs["title"] = titles.CHECKS
    return table


class CheckPicture:
    """A picture that a check drew, with the words that say what it shows.

    Parameters
    ----------
    name
        The file within the folder of the tests.
    words
        What is seen, for whoever cannot see it.

    Raises
    ------
    MissingFileError
        When there is no such picture.
    """

    def __init__(self, name: str, words: str) -> None:
        self.png, self.words = _found(name).read_bytes(), words

    def __repr__(self) -> str:
        """Return the words."""
        return self.words

    def _repr_html_(self) -> str:
        return picture_html(self.png, self.words, style="max-width:100%;height:auto")


def _found(name: str) -> Path:
    refuse_other_kinds("check_table", name=name)
    path = check_folder() / name
    if not path.is_file():
        raise MissingFileError(f"check_table: there is no {name} in {check_folder()}; install the package again")
    return path
