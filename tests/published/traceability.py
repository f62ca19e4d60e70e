"""Which figure rests on which source, and how near the package comes to it.

``python -m tests.published.traceability`` runs the tests of published cases, notes every comparison they make with a number of
their case, and writes `traceability.csv` beside this file: quantity, source, edition, place, cases by status, worst difference
and what share of the tolerance that is. The differences are those of the tests themselves, nothing is worked out twice.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.published.cases import FOLDER, numbers

SOURCES = FOLDER / "sources.csv"
RESULT = FOLDER / "traceability.csv"
ROOT = Path(__file__).resolve().parents[2]
_APPROX = pytest.approx


def sources() -> list[dict[str, str]]:
    """Return the table of sources: file, quantity, source, edition, tests."""
    with SOURCES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def case_rows(name: str) -> list[dict[str, str]]:
    """Return all rows of one file of cases, whatever their status."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


class _Noted:
    """What `pytest.approx` gives, and a note of how near the comparison came."""

    __array_ufunc__ = None
    __hash__ = None  # type: ignore[assignment]

    def __init__(self, notes: Notes, expected: Any, kwargs: dict[str, Any]) -> None:
        self.notes, self.expected, self.kwargs = notes, expected, kwargs

    def __eq__(self, actual: object) -> bool:
        self.notes.add(actual, self.expected, self.kwargs)
        return actual == _APPROX(self.expected, **self.kwargs)

    def __ne__(self, actual: object) -> bool:
        return not self == actual

    def __repr__(self) -> str:
        return repr(_APPROX(self.expected, **self.kwargs))


class Notes:
    """Notes per file of cases: the largest difference and the largest share of a tolerance."""

    def __init__(self) -> None:
        self.row: dict[str, str] | None = None
        self.cases: dict[str, set[str]] = {}
        self.failed: list[str] = []
        self.worst: dict[str, tuple[float, float, str]] = {}

    def pytest_runtest_call(self, item: pytest.Item) -> None:
        """Remember the case of the test that runs."""
        row = getattr(item, "callspec", None) and item.callspec.params.get("row")  # type: ignore[attr-defined]
        self.row = row if isinstance(row, dict) and "file" in row else None
        if self.row:
            self.cases.setdefault(self.row["file"], set()).add(f"{self.row['place']}: {self.row['case']}")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the names of failures: a table over failing tests would mislead."""
        if report.failed:
            self.failed.append(report.nodeid)

    def add(self, actual: Any, expected: Any, kwargs: dict[str, Any]) -> None:
        """Note a comparison with a number that stands in an `expected` column of the case."""
        if self.row is None:
            return
        printed = {value for key, cell in self.row.items() if key.startswith("expected") for value in _floats(cell)}
        wanted = np.ravel(np.asarray(expected, dtype=float))
        if not set(wanted.tolist()) <= printed:
            return
        off = np.abs(np.ravel(np.asarray(actual, dtype=float)) - wanted)
        allowed = np.maximum(kwargs.get("abs") or 0.0, (kwargs.get("rel") or 0.0) * np.abs(wanted))
        share = float(np.max(np.divide(off, allowed, out=np.zeros_like(off), where=allowed > 0)))
        before = self.worst.get(self.row["file"], (-1.0, -1.0, ""))
        if share > before[1]:
            self.worst[self.row["file"]] = (float(off.max()), share, self.row["case"])


def _floats(cell: str) -> list[float]:
    try:
        return numbers(cell)
    except ValueError:
        return []


def noted() -> Notes:
    """Run the tests of published cases and return the notes."""
    notes = Notes()
    files = sorted({str(ROOT / row["tests"]) for row in sources()})
    pytest.approx = lambda expected, rel=None, abs=None, nan_ok=False: _Noted(
        notes, expected, {"rel": rel, "abs": abs, "nan_ok": nan_ok}
    )
    try:
        pytest.main(["-q", "-x", "-m", "not slow and not real_weather", "--no-header", *files], plugins=[notes])
    finally:
        pytest.approx = _APPROX
    return notes


def table(notes: Notes) -> list[dict[str, str]]:
    """Return the traceability table."""
    rows = []
    for source in sources():
        cases = case_rows(source["file"])
        statuses = [row["status"] for row in cases]
        off, share, case = notes.worst.get(source["file"], (0.0, 0.0, ""))
        exact = source["file"] not in notes.worst
        rows.append(
            {
                "quantity": source["quantity"],
                "source": source["source"],
                "edition": source["edition"],
                "places": "; ".join(dict.fromkeys(row["place"] for row in cases)),
                "cases": str(len(cases)),
                "statuses": ", ".join(f"{status} {statuses.count(status)}" for status in dict.fromkeys(statuses)),
                "worst_difference": ("exact" if source["file"] in notes.cases else "input") if exact else f"{off:.2g}",
                "of_tolerance": "" if exact else f"{100 * share:.0f} %",
                "worst_case": case,
                "file": source["file"],
                "tests": source["tests"],
            }
        )
    return rows


def main() -> None:
    """Write the table, unless a test fails."""
    notes = noted()
    if notes.failed:
        raise SystemExit(f"not written: {', '.join(notes.failed)} failed")
    rows = table(notes)
    with RESULT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    main()
