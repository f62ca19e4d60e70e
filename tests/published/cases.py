"""Tables of published cases: one CSV per source, one published number a row.

Columns `case`, `place` (document and table), inputs, `expected`, `tolerance` or `relative_tolerance`, sometimes `unrounded`,
`status` and sometimes `note`. Status: V read in the document; V+R read and recomputed; R recomputed from a stated formula by
other code; T+R quoted second-hand and recomputed; L+R from an independent library; M+R inputs from memory, outputs
recomputed; misprint: wrong in print, see the note; apart: right in print but from other assumptions, see the note. M+R rows test an algorithm and cite nothing. The README beside this file
tells the format.
"""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

FOLDER = Path(__file__).parent
DECIDING = ("V", "V+R", "R", "T+R", "L+R")
ALGORITHM_ONLY = ("M+R",)
#: Called with what was found and its row at every comparison; `tests.published.traceability` listens here.
LISTENERS: list[Callable[[float, dict[str, str]], None]] = []


def read_cases(name: str, *, statuses: tuple[str, ...] = (*DECIDING, *ALGORITHM_ONLY), **kept: str) -> list:
    """Return the rows of one CSV as test parameters named by source and case, for `each_row`.

    Rows are those whose status is among `statuses` and whose columns equal `kept`; misprints only when asked for.
    """
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["status"] in statuses]
    rows = [row for row in rows if all(row[column] == value for column, value in kept.items())]
    assert rows, f"{name} has no row of status {', '.join(statuses)} and {kept}"
    return [pytest.param({**row, "file": name}, id=f"{row['place']}: {row['case']}") for row in rows]


def each_row(rows: list) -> Callable[[Callable[[dict[str, str]], None]], Callable[[], None]]:
    """Make one test of all rows: two thousand tests of a number each would cost more than the numbers. Every row that fails is told."""

    def of_whole_table(test: Callable[[dict[str, str]], None]) -> Callable[[], None]:
        def whole_table() -> None:
            failed: list[tuple[str, Exception]] = []
            for param in rows:
                try:
                    test(*param.values)
                except Exception as error:
                    failed.append((param.id, error))
            if failed:
                told = "\n".join(f"{name}: {error}" for name, error in failed)
                raise AssertionError(f"{len(failed)} of {len(rows)} rows:\n{told}") from failed[0][1]

        # not functools.wraps: pytest would look for a fixture named like the argument
        whole_table.__name__, whole_table.__module__, whole_table.__doc__ = test.__name__, test.__module__, test.__doc__
        whole_table.rows = rows  # type: ignore[attr-defined]
        return whole_table

    return of_whole_table


def numbers(cell: str) -> list[float]:
    """Return the numbers of a cell."""
    return [float(word) for word in cell.split()]


def inputs_of(cell: str) -> dict[str, float]:
    """Return the inputs of a cell such as ``tmin_c=18 tmax_c=25``."""
    return {name: float(value) for name, value in (word.split("=") for word in cell.split())}


def hold(found: Any, row: dict[str, str]) -> None:
    """Hold a number against its row: within the print's tolerance, and within the digits of an unrounded value.

    An unrounded value is held to a relative 1e-6 or half a unit of its last digit, whichever is more. A printed figure that
    is wrong or rests on other assumptions must still be missed, and the unrounded one be met.
    """
    found, expected = float(found), float(row["expected"])
    for listener in LISTENERS:
        listener(found, row)
    if row.get("relative_tolerance"):
        near = pytest.approx(expected, rel=float(row["relative_tolerance"]), abs=0.0)
    else:
        near = pytest.approx(expected, rel=0.0, abs=float(row["tolerance"]) + 1e-12)
    if row["status"] in ("misprint", "apart"):
        assert found != near, f"{row['place']}: {row['case']} is met: it is no disagreement any more"
    else:
        assert found == near
    if row.get("unrounded"):
        digits = len(row["unrounded"].partition(".")[2])
        assert found == pytest.approx(float(row["unrounded"]), rel=1e-6, abs=0.51 * 10.0**-digits)
