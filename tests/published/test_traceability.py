"""Every file of cases is listed with its source, has the common columns, and the committed table of differences is current."""

import csv
import subprocess
import sys

import pytest

from tests.published.cases import FOLDER
from tests.published.traceability import RESULT, ROOT, case_rows, sources

NOT_CASES = {"sources.csv", "traceability.csv", "measured_roofs.csv", "measured_roofs_result.csv"}
STATUSES = {"V", "V+R", "R", "T+R", "L+R", "M+R", "misprint"}


def stored() -> list[dict[str, str]]:
    return list(csv.DictReader(RESULT.read_text(encoding="utf-8").splitlines()))


def test_every_file_of_cases_is_listed_and_tested() -> None:
    listed = [row["file"] for row in sources()]
    assert sorted(listed) == sorted(path.name for path in FOLDER.glob("*.csv") if path.name not in NOT_CASES)
    for row in sources():
        assert row["quantity"] and row["source"], row["file"]
        text = (ROOT / row["tests"]).read_text(encoding="utf-8")
        assert row["file"] in text or row["file"].startswith("atlas14_"), f"{row['tests']} does not name {row['file']}"


@pytest.mark.parametrize("name", [row["file"] for row in sources()])
def test_cases_say_where_they_come_from(name: str) -> None:
    rows = case_rows(name)
    keys = [(row["place"], row["case"]) for row in rows]
    if name not in ("fao56_day_steps.csv",):  # the same step of three days: the day stands in its own column
        assert len(set(keys)) == len(keys), "test ids must differ"
    for row in rows:
        assert row["place"] and row["case"]
        assert row["status"] in STATUSES, row["status"]
        if row["status"] == "misprint":
            assert row["note"]


def test_the_table_counts_what_is_there() -> None:
    for row in stored():
        assert int(row["cases"]) == len(case_rows(row["file"])), (
            f"{row['file']}: run python -m tests.published.traceability"
        )
        if row["of_tolerance"]:
            assert float(row["of_tolerance"].removesuffix("%")) <= 100.0


@pytest.mark.slow
def test_the_differences_are_those_of_today() -> None:
    # a pin against change, run apart because it runs tests itself; two printed digits
    code = "import csv, sys; from tests.published.traceability import noted, table; n = noted(); w = csv.writer(sys.stderr)\n"
    code += "assert not n.failed; w.writerows([r['file'], r['worst_difference']] for r in table(n))"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    fresh = dict(csv.reader(done.stderr.splitlines()))
    for row in stored():
        now, before = fresh[row["file"]], row["worst_difference"]
        if before in ("input", "exact"):
            assert now == before, row["file"]
        else:
            # differences of rounding size (1e-12 and less) may change with the machine
            assert float(now) == pytest.approx(float(before), rel=0.06, abs=1e-9), row["file"]
