"""Which column is which: names given twice, cells too many, stamps in parts; nothing is passed over or taken by chance."""

import re
from pathlib import Path

import numpy as np
import pytest

import runoff


@pytest.fixture
def read(tmp_path: Path):
    def read_text(text: str, **options):
        path = tmp_path / "rain.csv"
        path.write_text(text)
        return runoff.read_weather(path, **options)

    return read_text


REFUSED = [
    (
        "a column twice", "time,rain_mm,rain_mm\n2024-01-01,1,2\n2024-01-02,3,4\n", {},
        '2 columns could be rain: "rain_mm", "rain_mm.1"; say which, columns={"rain": "rain_mm"} or {"rain": 2} (by number, from 0)',
    ),
    (
        "two columns for one quantity", "time,rain_mm,rain (in)\n2024-01-01,1,2\n2024-01-02,3,4\n", {},
        '2 columns could be rain: "rain_mm", "rain (in)"; say which, columns={"rain": "rain_mm"} or {"rain": 2} (by number, from 0)',
    ),
    (
        "a name twice, asked for", "time,P,P\n2024-01-01,1,2\n2024-01-02,3,4\n", {"columns": {"rain": "P"}, "units": {"rain": "mm"}},
        '"P" is the name of more than one column; say which by its number, from 0: 1 or 2',
    ),
    (
        "date and time", "date,time,rain_mm\n2024-01-01,00:00,1\n2024-01-01,01:00,2\n", {},
        '2 columns could be time: "date", "time"; say which, columns={"time": "date"} or {"time": 1} (by number, from 0), or '
        'columns={"time": "date+time"} when both make the stamp',
    ),
    (
        "a cell too many", "time,rain_mm\n2024-01-01,1\n2024-01-02,3,4\n", {},
        '2 cells are expected on each line, 1 line has more or fewer (line 3: 3, "2024-01-02,3,4"); a decimal comma beside a comma as '
        "separator, or a line cut short?",
    ),
    (
        "a quotation mark left open", 'time,rain_mm,note\n2024-01-01,1,"a\n2024-01-02,3,b\n2024-01-03,3,c\n', {},
        "a quotation mark on line 2 is never closed; what follows it cannot be split into cells",
    ),
    (
        "no such number", "time,rain_mm\n2024-01-01,1\n2024-01-02,1\n", {"columns": {"rain": 5}},
        'there is no column "5"; columns are time, rain_mm',
    ),
    (
        "parts that are no numbers", "Y,M,D,rain_mm\n2024,Jan,1,1\n2024,Jan,2,1\n", {"columns": {"time": ["Y", "M", "D"], "rain": "rain_mm"}},
        'time: parts of a stamp on 2 lines (first line 2: "Jan"); they are year, month, day and, as known, hour and minute, in digits',
    ),
    (
        "no time of day", "d,t,rain_mm\n2024-01-01,noon,1\n2024-01-02,noon,1\n", {"columns": {"time": "d+t", "rain": "rain_mm"}},
        'time: no time of day on 2 lines (first line 2: "noon"); write 15:00, 1500 or the hour alone',
    ),
]  # fmt: skip


@pytest.mark.parametrize(("text", "options", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(read, text, options, message) -> None:
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'rain.csv: {message}')}$"):
        read(text, **options)


def test_a_column_goes_by_its_number_too(read) -> None:
    text = "time,rain_mm,rain_mm\n2024-01-01,1,2\n2024-01-02,3,4\n"
    assert read(text, columns={"rain": 2})["rain"].to_numpy().tolist() == [2.0, 4.0]
    assert read(text, columns={"rain": "rain_mm.1"})["rain"].to_numpy().tolist() == [2.0, 4.0]


def test_a_separator_at_the_end_of_each_line_is_no_cell(read) -> None:
    text = '"time","rain_mm"\n"2024-01-01","1",\n"2024-01-02","2",\n'
    assert read(text)["rain"].to_numpy().tolist() == [1.0, 2.0]


@pytest.mark.parametrize(
    ("head", "lines", "column", "stamps"),
    [
        ("Y,M,D", ["2024,1,1", "2024,1,2"], ["Y", "M", "D"], ["2024-01-01T00:00", "2024-01-02T00:00"]),
        ("Y,M,D,h", ["2024,1,1,0", "2024,1,1,1"], "Y+M+D+h", ["2024-01-01T00:00", "2024-01-01T01:00"]),
        ("Y,M,D,h,m", ["2024,1,1,0,5", "2024,1,1,0,10"], "Y+M+D+h+m", ["2024-01-01T00:05", "2024-01-01T00:10"]),
        ("d,t", ["2024-01-01,00:00", "2024-01-01,01:00"], "d+t", ["2024-01-01T00:00", "2024-01-01T01:00"]),
        ("d,t", ["20240101,0", "20240101,100"], "d+t", ["2024-01-01T00:00", "2024-01-01T01:00"]),
        ("d,t", ["20240101,0", "20240101,1"], "d+t", ["2024-01-01T00:00", "2024-01-01T01:00"]),
        ("d,t", ["2024-01-01,9:30:00", "2024-01-01,10:00:00"], "d+t", ["2024-01-01T09:30", "2024-01-01T10:00"]),
    ],
)
def test_stamps_in_parts(read, head, lines, column, stamps) -> None:
    weather = read(
        f"{head},P\n" + "".join(f"{line},1\n" for line in lines),
        columns={"time": column, "rain": "P"},
        units={"rain": "mm"},
    )
    assert weather["time"].to_numpy().astype("datetime64[m]").astype(str).tolist() == stamps


def test_blanks_as_separators(read) -> None:
    text = "A 2024 1 1  0.5\nA 2024 1 10 1.5\n".replace("10", "2 ")
    weather = read(
        text, columns={"time": "1+2+3", "rain": 4}, units={"rain": "mm"}, layout={"separator": "space", "header": False}
    )
    assert weather["rain"].to_numpy().tolist() == [0.5, 1.5]


def test_words_for_missing_are_declared(read) -> None:
    text = "time,rain_mm\n2024-01-01,1\n2024-01-02,M\n2024-01-03,NA\n2024-01-04,-9\n"
    weather = read(text, layout={"missing": ["m", -9]})
    np.testing.assert_array_equal(weather["rain"], [1.0, np.nan, np.nan, np.nan])


def test_layout_of_marks_and_durations() -> None:
    with pytest.raises(runoff.WeatherError) as raised:
        runoff.TableLayout(
            separator=",,",
            skip_lines=-1,
            wind_height_m=0.0,
            round_to="soon",
            first_time="2024-01-01T00:00Z",
            step="-1h",
        )
    assert str(raised.value).split("\n") == [
        'layout: separator is one character, or "tab", "space" (given ",,")',
        "layout: skip_lines is a number of lines, 0 or more (given -1)",
        "layout: wind_height_m lies between 0.5 and 200 m (given 0.0)",
        'layout: step is a duration longer than nothing, for example "1h" (given "-1h")',
        'layout: round_to is a duration longer than nothing, for example "1min" (given "soon")',
        'layout: first_time reads like "2006-01-01 00:00", without a zone (given "2024-01-01T00:00Z")',
    ]
    with pytest.raises(runoff.WeatherError, match='separator "," cannot part cells here; it is the decimal mark'):
        runoff.TableLayout(separator=",", decimal=",")


def test_amounts_of_a_drifting_clock_are_shared_out(read) -> None:
    # by hand: 3 mm from 00:03 to 00:08 are 2/5 before 00:05 and 3/5 after; the midnight reset makes a step of 2 minutes
    text = "time,rain_mm\n2024-01-01 00:03,0\n2024-01-01 00:08,5\n2024-01-01 00:13,0\n2024-01-01 00:18,0\n2024-01-01 00:20,0\n2024-01-01 00:25,0\n"
    with pytest.raises(runoff.WeatherError, match="off the step of 5 min"):
        read(text)
    weather = read(text, layout={"regular_to": "5min"})
    steps = weather["time"].to_numpy().astype("datetime64[m]").astype(str)
    known = dict(zip(steps, weather["rain"].to_numpy(), strict=True))
    assert known["2024-01-01T00:05"] == pytest.approx(2.0)
    assert known["2024-01-01T00:10"] == pytest.approx(3.0)
    assert float(weather["rain"].sum()) == pytest.approx(5.0)
    label = (
        "start of the interval, assumed unless whoever keeps the record states it; amounts shared out on steps of 5min"
    )
    assert weather.attrs["time_label"] == label
    with pytest.raises(runoff.WeatherError, match="regular_to shares out amounts; tmin cannot be shared out"):
        read(
            text.replace("rain_mm", "rain_mm,tmin_c").replace(",0\n", ",0,1\n").replace(",5\n", ",5,1\n"),
            layout={"regular_to": "5min"},
        )
