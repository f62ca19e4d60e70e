"""Daily station files: the flags count as the network's readme says, and what cannot be right is refused by name."""

import gzip
import re
from pathlib import Path

import numpy as np
import pytest

import runoff
from tests.weather.station_files import group, line, month_of


@pytest.fixture
def read(tmp_path: Path):
    def read_file(text: str, name: str = "ostrey.dly", **options):
        path = tmp_path / name
        path.write_text(text)
        return runoff.read_weather(path, **options)

    return read_file


def test_flags_count_as_the_readme_says(read) -> None:
    days = {
        1: group(12), 2: group(0, "T 0"), 3: group(0, "P 0"), 4: group(400, " G0"), 5: group(3, "B 0"), 6: group(None), 7: group(7),
    }  # fmt: skip
    weather = read(line("PRCP", days) + "\n")
    np.testing.assert_array_equal(weather["rain"], [1.2, 0.0, 0.0, np.nan, 0.3, np.nan, 0.7])
    assert weather["rain_flag"].to_numpy().tolist() == ["", "T", "P", "", "B", "", ""]
    assert weather.attrs["dropped_for_quality"] == 1
    found = runoff.check_weather(weather).to_dataframe().set_index("name")
    assert found.loc["traces", "found"] == "1 day with too little to measure, counted as 0"
    assert found.loc["presumed dry", "found"] == "1 day (20.0 %) missing in the source and presumed 0 by it"
    assert found.loc["presumed dry", "verdict"] == "look"
    assert found.loc["quality flags", "found"].startswith("1 value of the file failed the source's own checks")


def test_values_are_the_nearest_decimals(read) -> None:
    weather = read(line("PRCP", month_of([3, 7, 69])) + "\n" + line("TMAX", month_of([-17, 411, 3])))
    assert weather["rain"].to_numpy().tolist() == [0.3, 0.7, 6.9]  # 3 x 0.1 would give 0.30000000000000004
    assert weather["tmax"].to_numpy().tolist() == [-1.7, 41.1, 0.3]


def test_a_month_without_a_line_is_missing(read) -> None:
    weather = read(line("PRCP", month_of([10] * 31)) + "\n" + line("PRCP", month_of([10] * 31), month="202403"))
    february = weather["rain"].sel(time="2024-02")
    assert february.size == 29
    assert bool(february.isnull().all())


def test_the_31st_of_a_short_month_is_no_day(read) -> None:
    weather = read(line("PRCP", month_of([10] * 31), month="202402"))
    assert weather.sizes["time"] == 29


def test_two_days_merged_are_missing_and_never_dry(read) -> None:
    text = "\n".join([
        line("PRCP", {1: group(0), 2: group(0), 4: group(5), 5: group(0), 8: group(1)}),
        line("MDPR", {3: group(120)}),
        line("DAPR", {3: group(2)}),
    ])  # fmt: skip
    weather = read(text)
    # 12.0 mm over the 2 days to the 3rd: the 2nd had a 0 of its own, which cannot be known
    np.testing.assert_array_equal(weather["rain"], [0, np.nan, np.nan, 0.5, 0, np.nan, np.nan, 0.1])
    assert weather.attrs["gathered"] == "2024-01-03 2 12.0"
    found = runoff.check_weather(weather).to_dataframe().set_index("name").loc["merged days"]
    assert found["verdict"] == "look"
    assert found["found"] == (
        "1 amount over several days, first 12.0 mm over 2 days to 2024-01-03; 1 of their days held a value of their own, "
        "which was dropped"
    )
    spread = runoff.fill_gaps(weather, rain="spread-gathered")
    np.testing.assert_array_equal(spread["rain"], [0, 6.0, 6.0, 0.5, 0, np.nan, np.nan, 0.1])
    assert spread.attrs["fill"].startswith(
        "rain: 2 filled (longest gap 2), amounts gathered over several days spread evenly over those days: the total is kept, storms "
    )


def test_a_merged_amount_over_an_unknown_number_of_days_is_not_spread(read) -> None:
    weather = read(line("PRCP", {1: group(0), 4: group(5)}) + "\n" + line("MDPR", {3: group(120)}))
    assert weather.attrs["gathered"] == "2024-01-03 unknown 12.0"
    assert int(runoff.fill_gaps(weather, rain="spread-gathered")["rain"].isnull().sum()) == 2


def test_a_run_over_merged_days_stops_with_the_dates(read) -> None:
    text = (
        line("PRCP", {**month_of([0] * 31)}) + "\n" + line("MDPR", {3: group(120)}) + "\n" + line("DAPR", {3: group(2)})
    )
    weather = read(text).assign(reference_et=("time", np.ones(31), {"units": "mm"}))
    with pytest.raises(runoff.WeatherError, match="`rain` is missing on 2 of 31 steps: 2024-01-02, 2024-01-03"):
        runoff.simulate(runoff.open_sample_roof("cups"), weather)


CSV_LONG = "OSW00000001,20240101,PRCP,12,,,Z,0700\nOSW00000001,20240102,PRCP,0,T,,Z,\nOSW00000001,20240103,PRCP,40,,G,Z,0700\nOSW00000001,20240101,TMAX,-17,,,Z,\nOSW00000001,20240104,PRCP,5,,,Z,0700\n"


@pytest.mark.parametrize("header", ["", "ID,DATE,ELEMENT,DATA_VALUE,M_FLAG,Q_FLAG,S_FLAG,OBS_TIME\n"])
def test_csv_with_one_value_per_line(read, header) -> None:
    weather = read(header + CSV_LONG, "OSW00000001.csv")
    np.testing.assert_array_equal(weather["rain"], [1.2, 0.0, np.nan, 0.5])
    assert float(weather["tmax"][0]) == -1.7
    assert weather.attrs["title"] == "station OSW00000001"
    assert (weather.attrs["dropped_for_quality"], weather["rain_flag"].to_numpy().tolist()) == (1, ["", "T", "", ""])


def test_csv_with_one_line_per_day(read) -> None:
    text = (
        '"STATION","DATE","LATITUDE","LONGITUDE","ELEVATION","NAME","PRCP","PRCP_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES"\n'
        '"OSW00000001","2024-01-01","50.5","8.25","210.0","OSTREY, OS","   12",",,Z,0700","  -17",",,Z"\n'
        '"OSW00000001","2024-01-02","50.5","8.25","210.0","OSTREY, OS","    0","T,,Z,0700","   11",",I,Z"\n'
        '"OSW00000001","2024-01-04","50.5","8.25","210.0","OSTREY, OS","    5",",,Z,0700","",""\n'
    )
    weather = read(text, "OSW00000001.csv")
    np.testing.assert_array_equal(weather["rain"], [1.2, 0.0, np.nan, 0.5])
    np.testing.assert_array_equal(weather["tmax"], [-1.7, np.nan, np.nan, np.nan])
    assert (float(weather["lat"]), float(weather["lon"]), float(weather["elevation"])) == (50.5, 8.25, 210.0)


def test_gzip_is_read_alike(read, tmp_path: Path) -> None:
    text = line("PRCP", month_of([3, 7]))
    path = tmp_path / "ostrey.dly.gz"
    path.write_bytes(gzip.compress(text.encode()))
    assert runoff.read_weather(path)["rain"].identical(read(text)["rain"])


def test_the_content_decides_and_not_the_name(read) -> None:
    assert read(line("PRCP", month_of([3, 7])), "download.txt")["rain"].to_numpy().tolist() == [0.3, 0.7]


REFUSED = [
    (
        "a line cut short", line("PRCP", month_of([3])) + "\n" + line("PRCP", month_of([3]), month="202402")[:100],
        "1 line cut short (first line 2: 100 of 269 characters); the file did not arrive whole, fetch it again",
    ),
    (
        "two stations", line("PRCP", month_of([3])) + "\n" + line("PRCP", month_of([3]), month="202402", station="OSW00000002"),
        "2 stations in one file (OSW00000001, OSW00000002); choose one, site=\"OSW00000001\"",
    ),
    (
        "a month given twice", line("PRCP", month_of([3])) + "\n" + line("PRCP", month_of([4])),
        "PRCP is given twice for 31 days, first 2024-01-01; keep one of them",
    ),
    (
        "month 13", line("PRCP", month_of([3])) + "\n" + line("PRCP", month_of([3]), month="202413"),
        "1 line without year and month in columns 12-17 (first line 2)",
    ),
    (
        "a letter in a value", line("PRCP", {1: group(3), 2: "  1x2   "}),
        'PRCP: no whole number on 1 day, first 2024-01-02 (line 1: "  1x2")',
    ),
    ("no rain", line("TMAX", month_of([3])), "there is no rain (PRCP) in this station file; elements that were read: TMAX"),
    ("rain that is all missing", line("PRCP", {}), "there is no rain (PRCP) in this station file; elements that were read: PRCP"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED])
def test_refused_with_these_words(read, text, message) -> None:
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'ostrey.dly: {message}')}$"):
        read(text)


def test_columns_have_no_place_with_a_station_file(read) -> None:
    with pytest.raises(
        runoff.WeatherError,
        match=r"^ostrey\.dly: a \.dly file says itself what its values are; leave columns= and units= out$",
    ):
        read(line("PRCP", month_of([3])), columns={"rain": "PRCP"})


def test_decimals_in_a_file_of_tenths_are_not_cut_off(read) -> None:
    text = "STATION,DATE,PRCP\nOSW00000001,2024-01-01,0.05\nOSW00000001,2024-01-02,1.20\n"
    message = (
        'day.csv: PRCP: no whole number on 2 lines (first line 2: "0.05"); this is not the form in tenths: say what the columns '
        'are, columns={"time": "DATE", "rain": "PRCP"}, units={"rain": "in"}'
    )
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(message)}$"):
        read(text, "day.csv")
    weather = read(text, "day.csv", columns={"time": "DATE", "rain": "PRCP"}, units={"rain": "in"})
    assert weather["rain"].to_numpy() == pytest.approx([0.05 * 25.4, 1.2 * 25.4])


def test_faults_of_a_csv_come_together(read) -> None:
    text = "OSW00000001,20240101,PRCP,12,,,Z\nOSW00000001,20240132,PRCP,x,,,Z\nOSW00000002,20240103,PRCP,4,,,Z\n"
    message = "\n".join([
        "s.csv: 2 stations in one file (OSW00000001, OSW00000002); choose one, site=\"OSW00000001\"",
        's.csv: no date on 1 line (first line 2: "20240132")',
        's.csv: no whole number on 1 line (first line 2: "x")',
    ])  # fmt: skip
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(message)}$"):
        read(text, "s.csv")


# --- nothing shifts, wraps round or is passed over -------------------------------------------------------------

WIDE = "STATION,DATE,LATITUDE,LONGITUDE,ELEVATION,PRCP,PRCP_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES\n"


def wide(*rows: str) -> str:
    return WIDE + "".join(f"OSW00000001,{row}\n" for row in rows)


LOST = [
    (
        "flags without their quotation marks", "s.csv",
        wide('2024-01-01,47.0,5.0,200,12,",X,Z",100,",,Z"', "2024-01-02,47.0,5.0,200,14,,X,Z,100,,,Z"),
        '9 cells are expected on each line, 1 line has more or fewer (first line 3: 13, "OSW00000001,2024-01-02,47.0,5.0,200,14,,X,Z,100,,,Z"); '
        "a line cut short, or quotation marks lost?",
    ),
    (
        "a line cut short", "s.csv", wide('2024-01-01,47.0,5.0,200,12,",,Z",100,",,Z"', "2024-01-02,47.0"),
        '9 cells are expected on each line, 1 line has more or fewer (first line 3: 3, "OSW00000001,2024-01-02,47.0"); a line cut short, or '
        "quotation marks lost?",
    ),
    (
        "an element twice", "s.csv", "STATION,DATE,X,PRCP,PRCP\nOSW00000001,2024-01-01,1,12,13\n",
        "the header names PRCP more than once; keep one of each",
    ),
    (
        "flags that are not three", "s.csv", wide('2024-01-01,47.0,5.0,200,12,"X",100,",,Z"'),
        'PRCP_ATTRIBUTES: not the three flags of a value on 1 line (first line 2: "X")',
    ),
    (
        "two places", "s.csv", wide('2024-01-01,47.0,5.0,200,12,",,Z",1,",,Z"', '2024-01-02,48.0,5.0,200,12,",,Z",1,",,Z"'),
        "LATITUDE runs from 47 to 48: the station moved far, or this is more than one; give the years or lines of one place",
    ),
    (
        "a latitude that is none", "s.csv", wide('2024-01-01,x,5.0,200,12,",,Z",1,",,Z"'), 'no latitude on 1 line (first line 2: "x")',
    ),
    (
        "a year that wraps round", "ostrey.dly", line("PRCP", {1: group(3)}, month="160001"),
        "years outside 1678 to 2261 on 1 line (first line 1: 1600); a mistyped year?",
    ),
    (
        "a year to come", "s.csv", "OSW00000001,99990101,PRCP,12,,,Z\n",
        "years outside 1678 to 2261 on 1 line (first line 1: 9999); a mistyped year?",
    ),
    (
        "a blank inside a number", "ostrey.dly", line("PRCP", {1: "  1 2   "}),
        'PRCP: no whole number on 1 day, first 2024-01-01 (line 1: "  1 2")',
    ),
    (
        "a minus inside a number", "ostrey.dly", line("PRCP", {1: "  1-2   "}),
        'PRCP: no whole number on 1 day, first 2024-01-01 (line 1: "  1-2")',
    ),
    (
        "a blank behind the minus", "ostrey.dly", line("PRCP", {1: "-   2   "}),
        'PRCP: no whole number on 1 day, first 2024-01-01 (line 1: "-   2")',
    ),
    (
        "a line too long", "ostrey.dly", line("PRCP", {1: group(3)}) + "    3",
        "1 line longer than 269 characters (first line 1); values may have shifted, fetch it again",
    ),
    (
        "a line without its station", "s.csv", "OSW00000001,20240101,PRCP,12,,,Z\n,20240102,PRCP,12,,,Z\n",
        "no station on 1 line (first line 2)",
    ),
    (
        "a cell too many in one value per line", "s.csv", "OSW00000001,20240101,PRCP,12,,,Z\nOSW00000001,20240102,PRCP,1,2,,,Z\n",
        '7 cells are expected on each line, 1 line has more or fewer (first line 2: 8, "OSW00000001,20240102,PRCP,1,2,,,Z"); a line cut '
        "short, or quotation marks lost?",
    ),
    (
        "a number beyond all measure", "s.csv", "OSW00000001,20240101,PRCP,99999999999999999999,,,Z\n",
        'no whole number on 1 line (first line 1: "99999999999999999999")',
    ),
]  # fmt: skip


@pytest.mark.parametrize(("name", "text", "message"), [row[1:] for row in LOST], ids=[row[0] for row in LOST])
def test_nothing_is_lost_or_shifted(tmp_path, name, text, message) -> None:
    path = tmp_path / name
    path.write_text(text)
    with pytest.raises(runoff.WeatherError, match=f"^{re.escape(f'{name}: {message}')}$"):
        runoff.read_weather(path)


@pytest.mark.parametrize(
    ("before", "missing"),
    # days before the amount of the 5th, which days of the 1st to the 5th are then not known
    [
        (
            {1: group(8), 2: group(0), 3: group(0), 4: group(0)},
            [2, 3, 4, 5],
        ),  # dry days right before it may lie under it
        ({1: group(8), 2: group(0), 3: group(0)}, [4, 5]),  # the gauge was read on the 3rd, then not on the 4th
        ({1: group(8), 2: group(8), 3: group(8), 4: group(8)}, [5]),
    ],
)
def test_an_amount_over_unknown_days_leaves_none_of_them_dry(read, before, missing) -> None:
    weather = read(line("PRCP", {**before, 6: group(8)}) + "\n" + line("MDPR", {5: group(120)}))
    unknown = (np.flatnonzero(weather["rain"].isnull()) + 1).tolist()
    assert unknown == missing
    absurd = read(
        line("PRCP", {**before, 6: group(8)})
        + "\n"
        + line("MDPR", {5: group(120)})
        + "\n"
        + line("DAPR", {5: group(-3)})
    )
    assert (np.flatnonzero(absurd["rain"].isnull()) + 1).tolist() == missing  # no number of days either
