"""Tables of published cases: one CSV per source, one row per case.

Columns `case`, `place` (document and table), inputs, `expected`, `tolerance`, `status` and sometimes `note`. A cell
may hold several numbers, with spaces between. Status: V read in the document; V+R read and recomputed; R recomputed
from a stated formula; M+R inputs from memory, outputs recomputed; misprint: known to be wrong in print, see the note.
Only V, V+R and R decide; M+R rows test an algorithm and nothing else. The README beside this file tells the format.
"""

import csv
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent
DECIDING = ("V", "V+R", "R")
ALGORITHM_ONLY = ("M+R",)


def read_cases(name: str, *, statuses: tuple[str, ...] = DECIDING) -> list:
    """Return the rows of one CSV whose status is among `statuses`, as test parameters named by source and case."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["status"] in statuses]
    assert rows, f"{name} has no row of status {', '.join(statuses)}"
    return [pytest.param({**row, "file": name}, id=f"{row['place']}: {row['case']}") for row in rows]


def numbers(cell: str) -> list[float]:
    """Return the numbers of a cell."""
    return [float(word) for word in cell.split()]
