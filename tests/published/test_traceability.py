"""Every file of cases is listed with its source, has the common columns, and the committed table of differences is current."""

import csv

import pytest

from tests.published.cases import FOLDER, each_row, hold
from tests.published.traceability import HELD, RESULT, ROOT, case_rows, noted, sources, table, uncompared

#: Other tables of this folder: lists, results, inputs of the day examples, roofs, what is left out.
NOT_CASES = {
    *(
        "sources.csv",
        "traceability.csv",
        "disagreements.csv",
        "not_compared.csv",
        "facts_sections.csv",
        "fao56_days.csv",
    ),
    *("measured_roofs.csv", "measured_roofs_result.csv"),
    *("series_faults.csv", "open_series_months.csv", "neubrandenburg_events.csv", "neubrandenburg_wetness.csv"),
}
STATUSES = {"V", "V+R", "R", "T+R", "L+R", "M+R", "misprint", "apart"}


def stored() -> list[dict[str, str]]:
    return list(csv.DictReader(RESULT.read_text(encoding="utf-8").splitlines()))


def test_every_file_of_cases_is_listed_and_tested() -> None:
    listed = [row["file"] for row in sources()]
    assert sorted(listed) == sorted(path.name for path in FOLDER.glob("*.csv") if path.name not in NOT_CASES)
    for row in sources():
        assert row["quantity"] and row["source"], row["file"]
        text = (ROOT / row["tests"]).read_text(encoding="utf-8")
        assert row["file"] in text, f"{row['tests']} does not name {row['file']}"


def test_every_row_that_fails_is_told() -> None:
    row = {"file": "a.csv", "place": "Tab. 1", "status": "V", "tolerance": "0.5"}
    rows = [pytest.param({**row, "expected": expected}, id=expected) for expected in ("10", "20", "30")]

    @each_row(rows)
    def whole(row: dict) -> None:
        hold(float("nan") if row["expected"] == "30" else 10.4, row)

    with pytest.raises(AssertionError, match=r"2 of 3 rows:\n20: [^$]*\n30: "):
        whole()


@pytest.mark.parametrize("name", [row["file"] for row in sources()])
def test_cases_say_where_they_come_from(name: str) -> None:
    rows = case_rows(name)
    keys = [(row["place"], row["case"]) for row in rows]
    assert len(set(keys)) == len(keys), "test ids must differ"
    for row in rows:
        assert row["place"] and row["case"]
        float(row["expected"])  # one published number a row
        assert bool(row.get("tolerance")) != bool(row.get("relative_tolerance")), row["case"]
        assert row["status"] in STATUSES, row["status"]
        if row["status"] in ("misprint", "apart"):
            assert row["note"]


def test_the_table_counts_what_is_there() -> None:
    for row in stored():
        assert int(row["cases"]) == len(case_rows(row["file"])), (
            f"{row['file']}: run python -m tests.published.traceability"
        )
        assert float(row["of_tolerance"].removesuffix("%")) <= 100.0


def test_the_package_itself_is_held_to_so_many_numbers() -> None:
    assert {row["held"] for row in stored()} <= set(HELD)
    # from memory a number decides nothing, so rows whose inputs are remembered do not count
    counted = [row for source in sources() if source["held"] == "package" for row in case_rows(source["file"])]
    assert sum(row["status"] != "M+R" for row in counted) >= 1500


def test_what_is_left_out_has_a_reason() -> None:
    left_out = list(csv.DictReader((FOLDER / "not_compared.csv").read_text(encoding="utf-8").splitlines()))
    assert left_out
    for row in left_out:
        assert row["source"] and row["reason"] and int(row["numbers"]) > 0, row


def test_the_differences_are_those_of_today() -> None:
    # a pin against change, two printed digits
    today = noted()
    assert not today.failed and not uncompared(today)
    fresh = {row["file"]: row["worst_difference"] for row in table(today)}
    for row in stored():
        now, before = fresh[row["file"]], row["worst_difference"]
        # differences of rounding size (1e-12 and less) may change with the machine
        assert float(now) == pytest.approx(float(before), rel=0.06, abs=1e-9), row["file"]
