"""Which figure rests on which source, and how near the package comes to it.

``python -m tests.published.traceability`` runs the tests of published cases, notes every comparison they make with the number of
their case, and writes two tables beside this file. `traceability.csv`: quantity, source, edition, places, published numbers by
status, worst difference and what share of the tolerance that is. `disagreements.csv`: the printed numbers the package does not
reproduce, with ours beside them and why. The differences are those of the tests themselves, nothing is worked out twice; a row
that no test compared stops the command.
"""

from __future__ import annotations

import csv
import importlib
from pathlib import Path

from tests.published.cases import FOLDER, LISTENERS

SOURCES = FOLDER / "sources.csv"
RESULT = FOLDER / "traceability.csv"
DISAGREEMENTS = FOLDER / "disagreements.csv"
#: What a case holds: the package, or the reference code of the tests that the package is compared with elsewhere.
HELD = ("package", "second physics")
DIFFERS = ("misprint", "apart")
ROOT = Path(__file__).resolve().parents[2]


def sources() -> list[dict[str, str]]:
    """Return the table of sources: file, quantity, source, edition, tests."""
    with SOURCES.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def case_rows(name: str) -> list[dict[str, str]]:
    """Return all rows of one file of cases, whatever their status."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


class Notes:
    """Notes per file of cases: which rows were compared, what was found, the largest share of a tolerance."""

    def __init__(self) -> None:
        self.found: dict[tuple[str, str, str], float] = {}
        self.failed: list[str] = []
        self.worst: dict[str, tuple[float, float, str]] = {}

    def add(self, found: float, row: dict[str, str]) -> None:
        """Note a comparison with the published number of a case."""
        key = (row["file"], row["place"], row["case"])
        if key in self.found:
            return
        self.found[key] = found
        if row["status"] in DIFFERS:
            return
        expected = float(row["expected"])
        off = abs(found - expected)
        share_allowed = float(row.get("relative_tolerance") or 0.0)
        allowed = share_allowed * abs(expected) if share_allowed else float(row["tolerance"]) + 1e-12
        share = off / allowed if allowed > 0.0 else 0.0
        if share > self.worst.get(row["file"], (-1.0, -1.0, ""))[1]:
            self.worst[row["file"]] = (off, share, row["case"])


def noted() -> Notes:
    """Run the tests of published cases, those of `each_row`, and return the notes; a table over failing tests would mislead."""
    notes = Notes()
    LISTENERS.append(notes.add)
    try:
        for file in sorted({row["tests"] for row in sources()}):
            module = importlib.import_module(file.removesuffix(".py").replace("/", "."))
            for name, test in vars(module).items():
                if hasattr(test, "rows"):
                    try:
                        test()
                    except AssertionError as error:
                        notes.failed.append(f"{file}::{name}: {error}")
    finally:
        LISTENERS.remove(notes.add)
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
