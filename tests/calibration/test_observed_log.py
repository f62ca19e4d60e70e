"""Logs of overflow: read strictly, all faults of a file in one sentence each, amounts kept when a clock drifts."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration.logs import Entry, read_log
from runoff.calibration.observations import observed_days
from runoff.weather.record.drifting_clock import daily_sums, on_regular_steps

DAYS = "2014-01-01,{}\n2014-01-02,{}\n"


@pytest.fixture
def write(tmp_path: Path):
    def written(text: str) -> Path:
        path = tmp_path / "gauge.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return written


def test_depths_in_inches_and_a_day_that_is_missing(write) -> None:
    series = runoff.read_observed(write("# gauge\ndate,rain_mm,overflow_in\n2014-01-01,3,0.5\n2014-01-02,0,\n"))
    assert series.iloc[0] == pytest.approx(12.7)  # 1 in is 25.4 mm exactly
    assert np.isnan(series.iloc[1])


@pytest.mark.parametrize(
    ("heading", "area_m2", "expected"),
    [
        ("overflow (cm)", None, 20.0),  # 2 cm
        ("overflow_mm_per_h", None, 48.0),  # 2 mm/h over 24 h
        ("runoff_L", 50.0, 0.04),  # 2 L on 50 m2
        ("overflow [m3]", 50.0, 40.0),  # 2000 L on 50 m2
        ("overflow_l_per_s", 86400.0, 2.0),  # 2 L/s over 86,400 s on 86,400 m2
    ],
)
def test_units_of_overflow_by_hand(write, heading, area_m2, expected) -> None:
    series = runoff.read_observed(write(f"date,{heading}\n" + DAYS.format(2, 0)), area_m2=area_m2)
    assert series.tolist() == pytest.approx([expected, 0.0])


def test_decimal_commas_and_dates_of_another_order_when_declared(write) -> None:
    path = write("Datum;Abfluss\n3.4.2014;0,5\n4.4.2014;1\n")
    layout = {"decimal": ",", "dates": "day-month-year"}
    series = runoff.read_observed(path, column="Abfluss", time_column="Datum", units="mm", layout=layout)
    assert series.to_dict() == {pd.Timestamp("2014-04-03"): 0.5, pd.Timestamp("2014-04-04"): 1.0}


def test_ends_of_steps_become_starts(write) -> None:
    series = runoff.read_observed(
        write("time,overflow_mm\n2014-01-01 00:05,1\n2014-01-01 00:10,2\n"), layout={"stamp": "end"}
    )
    assert series.index[0] == pd.Timestamp("2014-01-01 00:00")


REFUSED = [
    (
        "several faults at once", "date,overflow_mm\nnow,1\n2014,2\n2014-01-03,x\n", {},
        'gauge.csv: time: dates on 2 lines (first line 2: "now") cannot be read; write them as 2024-04-03, with a time as '
        "2024-04-03 15:00\n"
        'gauge.csv: overflow: no number on 1 line (line 4: "x"); numbers carry no unit or mark, missing values are left empty',
    ),
    (
        "decimal commas", "date;overflow_mm\n2014-01-01;0,5\n2014-01-02;1\n", {},
        'gauge.csv: overflow: decimal commas on 1 line (line 2: "0,5"); declare them, decimal=","',
    ),
    (
        "day first", "date,overflow_mm\n01.02.2014,1\n02.02.2014,1\n", {},
        'gauge.csv: time: dates on 2 lines (first line 2: "01.02.2014") can be read two ways; write them as year-month-day, '
        '2024-04-03, or say which part comes first, dates="day-month-year" or "month-day-year"',
    ),
    (
        "a surplus cell", "date,overflow_mm\n2014-01-01,1,3\n", {},
        'gauge.csv: 2 cells are expected on each line, 1 line has more or fewer (line 2: 3, "2014-01-01,1,3"); a decimal '
        "comma beside a comma as separator, or a line cut short?",
    ),
    (
        "no column that is known", "date,flow\n" + DAYS.format(1, 2), {},
        "gauge.csv: no column is known as overflow; columns are date, flow. Head it overflow_mm, or say which column it is, "
        "overflow=HEADING",
    ),
    (
        "two columns that would do", "date,runoff_mm,overflow_mm\n2014-01-01,1,2\n", {},
        "gauge.csv: overflow could be runoff_mm or overflow_mm; say which column it is, overflow=HEADING",
    ),
    (
        "a heading twice", "date,overflow_mm,overflow_mm\n2014-01-01,1,2\n", {},
        'gauge.csv: the heading "overflow_mm" stands over more than one column; give each its own',
    ),
    (
        "a column that is not there", "date,overflow_mm\n" + DAYS.format(1, 2), {"column": "overflw_mm"},
        'gauge.csv: there is no column "overflw_mm" (did you mean "overflow_mm"?); columns are date, overflow_mm',
    ),
    (
        "no unit", "date,overflow\n" + DAYS.format(1, 2), {},
        'gauge.csv: overflow: the heading "overflow" has no unit; end it with one, overflow_mm, or give units, overflow=mm',
    ),
    (
        "a unit of something else", "date,overflow_kg\n" + DAYS.format(1, 2), {},
        'gauge.csv: overflow: its unit "kg" is not one of mm or in or L or m3 or gal or mm/h or L/s',
    ),
    (
        "a volume without its area", "date,overflow_L\n" + DAYS.format(1, 2), {},
        "gauge.csv: overflow: L becomes a depth by the area it comes from; give the area that drains to the gauge, more than "
        "0 m2",
    ),
    (
        "an area of zero", "date,overflow_L\n" + DAYS.format(1, 2), {"area_m2": 0.0},
        "gauge.csv: overflow: L becomes a depth by the area it comes from; give the area that drains to the gauge, more than "
        "0 m2",
    ),
    (
        "a code for missing", "date,overflow_mm\n" + DAYS.format(-999, 2), {},
        "gauge.csv: overflow: -999 on 1 line (line 2: \"-999\") is a code for missing, not a measurement; declare it, "
        "missing=[-999]",
    ),
    (
        "negative, twice, out of order", "date,overflow_mm\n2014-01-03,-1\n2014-01-02,1\n2014-01-02,1\n", {},
        'gauge.csv: time: stamps given twice on 1 line (line 4: "2014-01-02"); keep one line of each\n'
        'gauge.csv: time: out of order on 1 line (line 3: "2014-01-02"), earlier than the line before; correct the date, or sort '
        "the lines\n"
        'gauge.csv: overflow: negative on 1 line (line 2: "-1"); a missing value is left empty, or its code declared, '
        "missing=[...]",
    ),
    ("nothing in it", "", {}, "gauge.csv: the file is empty"),
    ("a heading alone", "date,overflow_mm\n", {}, "gauge.csv: no lines of values; the file is empty or all of it was skipped"),
    ("another kind of file", "%PDF-1.7", {}, "gauge.csv: this is a PDF document, not a log; ask for the numbers as CSV"),
    (
        "a roof file", "[roof]\narea_m2 = 3\n", {},
        "gauge.csv: this is a roof file, not a log; the roof comes first on the command line, the weather second",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "options", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(write, text, options, message) -> None:
    with pytest.raises(runoff.RunoffError) as caught:
        runoff.read_observed(write(text), **options)
    assert str(caught.value) == message


def test_files_that_are_not_there_or_damaged(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="there is no such log"):
        runoff.read_observed(tmp_path / "none.csv")
    with pytest.raises(runoff.RunoffError, match=r"^logs: this is a folder, not a log$"):
        (tmp_path / "logs").mkdir()
        runoff.read_observed(tmp_path / "logs")
    broken = tmp_path / "broken.csv.gz"
    broken.write_bytes(b"\x1f\x8b\x08 cut short")
    with pytest.raises(
        runoff.RunoffError, match=r"^broken\.csv\.gz: the gzipped file is cut short or damaged; fetch it again$"
    ):
        runoff.read_observed(broken)
    with pytest.raises(runoff.RunoffError, match=r"^zero: this is a device, not a log$"):
        runoff.read_observed("/dev/zero")


def test_a_date_to_come() -> None:
    mass = Entry(name="mass", headings=("mass",), dimensions=("mass",), units=("kg",), needed=True)
    text, today = "date,mass_kg\n2024-05-01,9\n2024-05-04,8\n", pd.Timestamp("2024-05-02 13:00")
    with pytest.raises(runoff.RunoffError) as caught:
        read_log(text, "tray.csv", [mass], today=today)
    assert str(caught.value) == 'tray.csv: time: in the future on 1 line (line 3: "2024-05-04"); today is 2024-05-02'
    # a clock further east may already be a day ahead
    assert read_log(text.replace("05-04", "05-03"), "tray.csv", [mass], today=today).table["mass"].tolist() == [
        9.0,
        8.0,
    ]


# --- a clock that drifts ---------------------------------------------------------------------------------------


def test_amounts_are_shared_out_by_the_time_they_overlap() -> None:
    """Steps of 5 min from 00:03; the clock is set back by 3 min after the second: by hand."""
    stamps = pd.to_datetime(["2024-05-01 00:03", "2024-05-01 00:08", "2024-05-01 00:10", "2024-05-01 00:15"])
    shared = on_regular_steps(pd.Series([5.0, 10.0, 4.0, 1.0], stamps))
    # 00:00-00:05 is known from 00:03 only; 00:05-00:10: 3/5 of 5 and all of 10, which holds from 00:08 to 00:10
    assert np.isnan(shared.iloc[0])
    assert shared.iloc[1:].tolist() == pytest.approx([13.0, 4.0, 1.0])
    assert list(shared.index.strftime("%H:%M")) == ["00:00", "00:05", "00:10", "00:15"]


def test_a_gap_is_missing_and_nothing_known_is_lost() -> None:
    rng = np.random.default_rng(3)
    stamps = pd.date_range("2024-05-01", periods=400, freq="5min") + pd.to_timedelta(np.arange(400) // 40, unit="min")
    amounts = pd.Series(rng.random(400), stamps)
    assert on_regular_steps(amounts).sum() == pytest.approx(amounts.iloc[:-1].sum(), abs=1.0)  # the begun last step
    assert on_regular_steps(amounts).iloc[:-1].isna().sum() == 0
    holed = on_regular_steps(amounts.drop(amounts.index[100:110]))
    assert (
        9 <= holed.iloc[:-1].isna().sum() <= 11
    )  # ten readings of five minutes, cut at both ends by steps that straddle


def test_a_day_with_a_missing_step_is_missing_not_smaller() -> None:
    hours = pd.Series(1.0, pd.date_range("2024-05-01", periods=72, freq="1h"))
    hours.iloc[30] = np.nan
    days = daily_sums(hours)
    assert days.iloc[[0, 2]].tolist() == [24.0, 24.0] and np.isnan(days.iloc[1])
    pd.testing.assert_series_equal(observed_days(hours), days.rename("observed"), check_names=False)
