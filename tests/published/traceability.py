"""Which figure rests on which source, and how near the package comes to it.

``python -m tests.published.traceability`` runs the tests of published cases, notes every comparison they make with the number of
their case, and writes two tables beside this file. `traceability.csv`: quantity, source, edition, places, published numbers by
status, worst difference and what share of the tolerance that is. `disagreements.csv`: the printed numbers the package does not
reproduce, with ours beside them and why. The differences are those of the tests themselves, nothing is worked out twice; a row
that no test compared stops the command.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.published.cases import FOLDER

SOURCES = FOLDER / "sources.csv"
RESULT = FOLDER / "traceability.csv"
DISAGREEMENTS = FOLDER / "disagreements.csv"
#: What a case holds: the package, or the reference code of the tests that the package is compared with elsewhere.
HELD = ("package", "second physics")
DIFFERS = ("misprint", "apart")
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
    """Notes per file of cases: which rows were compared, what was found, the largest share of a tolerance."""

    def __init__(self) -> None:
        self.row: dict[str, str] | None = None
        self.found: dict[tuple[str, str, str], float] = {}
        self.failed: list[str] = []
        self.worst: dict[str, tuple[float, float, str]] = {}

    def pytest_runtest_call(self, item: pytest.Item) -> None:
        """Remember the case of the test that runs."""
        row = getattr(item, "callspec", None) and item.callspec.params.get("row")  # type: ignore[attr-defined]
        self.row = row if isinstance(row, dict) and "file" in row else None

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the names of failures: a table over failing tests would mislead."""
        if report.failed:
            self.failed.append(report.nodeid)

    def add(self, actual: Any, expected: Any, kwargs: dict[str, Any]) -> None:
        """Note a comparison with the published number of the case."""
        if self.row is None or float(np.asarray(expected)) != float(self.row["expected"]):
            return
        key = (self.row["file"], self.row["place"], self.row["case"])
        if key in self.found:  # an unrounded value that equals the printed one
            return
        self.found[key] = float(np.asarray(actual))
        if self.row["status"] in DIFFERS:
            return
        off = abs(self.found[key] - float(expected))
        allowed = max(kwargs.get("abs") or 0.0, (kwargs.get("rel") or 0.0) * abs(float(expected)))
        share = off / allowed if allowed > 0.0 else 0.0
        if share > self.worst.get(self.row["file"], (-1.0, -1.0, ""))[1]:
            self.worst[self.row["file"]] = (off, share, self.row["case"])


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
        off, share, case = notes.worst[source["file"]]
        rows.append(
            {
                "quantity": source["quantity"],
                "source": source["source"],
                "edition": source["edition"],
                "held": source["held"],
                "places": "; ".join(dict.fromkeys(row["place"] for row in cases)),
                "cases": str(len(cases)),
                "statuses": ", ".join(f"{status} {statuses.count(status)}" for status in dict.fromkeys(statuses)),
                "worst_difference": f"{off:.2g}",
                "of_tolerance": f"{100 * share:.0f} %",
                "worst_case": case,
                "file": source["file"],
                "tests": source["tests"],
            }
        )
    return rows


def uncompared(notes: Notes) -> list[str]:
    """Return the rows that no test compared with the package."""
    return [
        f"{source['file']}: {row['place']}: {row['case']}"
        for source in sources()
        for row in case_rows(source["file"])
        if (source["file"], row["place"], row["case"]) not in notes.found
    ]


def disagreements(notes: Notes) -> list[dict[str, str]]:
    """Return the printed numbers that are not reproduced, with ours and the reason."""
    return [
        {
            "place": row["place"],
            "case": row["case"],
            "printed": row["expected"],
            "ours": f"{notes.found[(source['file'], row['place'], row['case'])]:.6g}",
            "status": row["status"],
            "note": row["note"],
        }
        for source in sources()
        for row in case_rows(source["file"])
        if row["status"] in DIFFERS
    ]


def main() -> None:
    """Write the tables, unless a test fails or a row is compared by none."""
    notes = noted()
    if notes.failed:
        raise SystemExit(f"not written: {', '.join(notes.failed)} failed")
    if missed := uncompared(notes):
        raise SystemExit(f"not written: no test compares {len(missed)} rows, the first {missed[0]}")
    rows = table(notes)
    for path, content in ((RESULT, rows), (DISAGREEMENTS, disagreements(notes))):
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(content[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(content)
    counts = {held: sum(int(row["cases"]) for row in rows if row["held"] == held) for held in HELD}
    print(f"published numbers compared: {counts}; not reproduced: {len(disagreements(notes))}")


if __name__ == "__main__":
    main()
