"""Depth-duration tables: real station files, typed tables, interpolation, formulas fitted to them, and bad input."""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from runoff.errors import RunoffError, RunoffWarning, StormError
from runoff.storms.depth_duration import DepthDurationTable, reduced_variate
from runoff.storms.depth_duration_files import read_annual_maxima, read_depth_duration
from runoff.storms.intensity_curves import IntensityCurve, fit_intensity
from tests.published.cases import read_cases

INCH = 25.4
MONTREAL = "idf/idf_v3-40_2025_12_5_702_QC_702S006_MONTREAL_PIERRE_ELLIOTT_TRUDEAU_INTL.txt"


def atlas_rows(station: str) -> dict[str, dict[str, str]]:
    """Return duration -> return period -> printed depth of one NOAA Atlas 14 station."""
    rows: dict[str, dict[str, str]] = {}
    for param in read_cases(f"atlas14_{station}.csv", quantity="depth"):
        (row,) = param.values
        rows.setdefault(row["duration"], {})[row["return_period_years"]] = row["expected"]
    return rows


def atlas_text(station: str, *, head: str = "Point precipitation frequency estimates (inches)") -> str:
    """Write the station's depths in the layout of the public files: header, `by duration`, one row per duration."""
    rows = atlas_rows(station)
    years = list(next(iter(rows.values())))
    lines = [
        head,
        "NOAA Atlas 14 Volume 2 Version 3",
        "Data type: Precipitation depth",
        "Time series type: Partial duration",
        "",
        "PRECIPITATION FREQUENCY ESTIMATES",
        f"by duration for ARI (years):, {','.join(years)}",
        *(f"{duration}:, {','.join(values.values())}" for duration, values in rows.items()),
        "",
        "Date/time (GMT):  Wed Nov  2 2022",
    ]
    return "\n".join(lines)


def atlas_file(folder: Path, station: str, **options: str) -> Path:
    path = folder / f"{station}.csv"
    path.write_text(atlas_text(station, **options), encoding="utf-8")
    return path


def plain_file(folder: Path, text: str) -> Path:
    path = folder / "depths.csv"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def small() -> DepthDurationTable:
    rows = {"5min": [8.0, 12.0], "10min": [12.0, 18.0], "1h": [24.0, 36.0]}
    return DepthDurationTable.from_rows(rows, return_periods_years=[2, 100], units="mm")


# --- station files


@pytest.mark.parametrize("station", ["pulaski", "champaign"])
def test_atlas_layout_gives_back_every_printed_depth(tmp_path: Path, station: str) -> None:
    table = read_depth_duration(atlas_file(tmp_path, station))
    assert table.series == "partial-duration"
    assert table.durations_min[0] == 5.0
    assert table.durations_min[-1] == 1440.0
    for duration, values in atlas_rows(station).items():
        for years, inches in values.items():
            assert table.depth(duration, float(years)) / INCH == pytest.approx(float(inches), rel=1e-12)


def test_blank_lines_between_atlas_rows_end_nothing(tmp_path: Path) -> None:
    whole = read_depth_duration(atlas_file(tmp_path, "pulaski"))
    path = tmp_path / "blanks.csv"
    path.write_text(atlas_text("pulaski").replace("60-min:", "\n\n60-min:"), encoding="utf-8")
    assert read_depth_duration(path).durations_min == whole.durations_min


@pytest.mark.parametrize(
    ("found", "put", "words"),
    [
        (
            "60-min:",
            "a remark\n60-min:",
            'row 60-min stands after "a remark"; one table without other text in it is needed',
        ),
        ("60-min:", "30-min:", "row 30-min is given twice; one table without other text in it is needed"),
    ],
)
def test_atlas_rows_are_not_lost_after_other_text(tmp_path: Path, found, put, words) -> None:
    path = tmp_path / "depths.csv"
    path.write_text(atlas_text("pulaski").replace(found, put, 1), encoding="utf-8")
    with pytest.raises(StormError, match=f"^{re.escape(f'depths.csv: {words}')}$"):
        read_depth_duration(path)


def test_atlas_hundred_year_intensities(tmp_path: Path) -> None:
    # recomputed from the printed depths: Pulaski 15-min 4.88, 60-min 2.58; Champaign 6.60 and 3.19 in/h
    for station, quarter, hour in (("pulaski", 4.88, 2.58), ("champaign", 6.60, 3.19)):
        table = read_depth_duration(atlas_file(tmp_path, station))
        assert table.intensity("15min", 100) / INCH == pytest.approx(quarter, abs=0.005)
        assert table.intensity("60min", 100) / INCH == pytest.approx(hour, abs=0.005)


def test_atlas_file_without_units_is_refused(tmp_path: Path) -> None:
    path = atlas_file(tmp_path, "pulaski", head="Point precipitation frequency estimates")
    with pytest.raises(StormError, match=r'pulaski\.csv: the file does not say its units; give units="mm" or "in"'):
        read_depth_duration(path)
    assert read_depth_duration(path, units="in").depth("24h", 2) == pytest.approx(2.37 * INCH)


def test_atlas_intensities_given_as_depths_are_refused(tmp_path: Path) -> None:
    rows = atlas_rows("pulaski")
    minutes = {"min": 1, "hr": 60}
    lines = ["Precipitation (inches)", "Time series type: Partial duration", "by duration for ARI (years):, 2, 100"]
    for duration, values in rows.items():
        number, unit = duration.split("-")
        hours = float(number) * minutes[unit] / 60
        lines.append(f"{duration}:, {float(values['2']) / hours:.3f}, {float(values['100']) / hours:.3f}")
    path = plain_file(tmp_path, "\n".join(lines))
    message = (
        "depths.csv: the values fall with duration in every column, so they look like intensities, but units are "
        '"in"; give units="in/h" if they are intensities'
    )
    with pytest.raises(StormError, match=re.escape(message)):
        read_depth_duration(path)
    assert read_depth_duration(path, units="in/h").depth("1h", 100) == pytest.approx(2.58 * INCH, rel=1e-3)


def test_annual_maximum_kind_of_the_atlas_layout(tmp_path: Path) -> None:
    # the heading "AEP" with 1/2, 1/10 is from memory: this shows only that such a file would be read as annual maxima
    text = "(inches)\nby duration for AEP (1/years):, 1/2, 1/10\n5-min:, 0.33, 0.45\n60-day:, 9.0, 12.0\n\nend"
    table = read_depth_duration(plain_file(tmp_path, text))
    assert table.series == "annual-maximum"
    assert table.return_periods_years == (2.0, 10.0)
    assert table.durations_min == (5.0, 86400.0)


@pytest.mark.real_weather
def test_montreal_table_2a(shared_data: Path) -> None:
    # values read by eye from the file: README of the data folder names the same ones
    table = read_depth_duration(shared_data / MONTREAL)
    assert table.return_periods_years == (2, 5, 10, 25, 50, 100, 200)
    assert table.durations_min == (5, 10, 15, 30, 60, 120, 360, 720, 1440)
    assert table.depth("5min", 2) == pytest.approx(8.1)
    assert table.depth("5min", 100) == pytest.approx(16.7)
    assert table.depth("1h", 10) == pytest.approx(33.8)
    assert table.depth("24h", 100) == pytest.approx(111.8)
    assert table.series == "annual-maximum"
    assert "MONTREAL PIERRE ELLIOTT TRUDEAU INTL" in table.source
    # 1 h row of table 2b: 95 % limits as half widths; the interval is the depth less and plus them
    half = np.array([1.6, 2.8, 3.7, 5.0, 6.0, 7.0, 8.0])
    assert np.array(table.low_mm[4]) == pytest.approx(np.array(table.depths_mm[4]) - half)
    assert np.array(table.high_mm[4]) == pytest.approx(np.array(table.depths_mm[4]) + half)
    assert table.interval("1h", 10) == pytest.approx((33.8 - half[2], 33.8 + half[2]))
    assert table.latitude_deg == pytest.approx(45 + 28 / 60)


@pytest.mark.real_weather
def test_montreal_table_1(shared_data: Path) -> None:
    maxima = read_annual_maxima(shared_data / MONTREAL)
    assert maxima.sizes == {"year": 79, "duration": 9}
    assert not set(maxima.year.values) & {1994, 1995, 2003}
    assert maxima.sel(year=1943).values == pytest.approx([11.7, 14.2, 17.8, 20.8, 23.6, 26.7, 33.5, 48.3, 64.3])
    # the file prints mean and standard deviation of each column, to 0.1
    assert maxima.mean("year").values == pytest.approx([8.5, 12.1, 14.7, 19.1, 23.3, 28.2, 36.5, 44.9, 52.7], abs=0.051)
    assert maxima.std("year", ddof=1).values == pytest.approx(
        [2.6, 3.7, 4.8, 7.0, 8.1, 8.6, 11.0, 13.9, 18.8], abs=0.051
    )


@pytest.mark.real_weather
def test_montreal_power_curve_as_printed(shared_data: Path) -> None:
    # table 3 of the file: R = A T^B with T in hours; exponents -0.693 (2 yr) and -0.690 (100 yr), A 20.3 and 43.2
    table = read_depth_duration(shared_data / MONTREAL)
    for years, scale, exponent in ((2, 20.3, -0.693), (100, 43.2, -0.690)):
        curve = fit_intensity(table, form="power", return_period_years=years)
        assert -curve.c == pytest.approx(exponent, abs=0.002)  # fitted there to rates rounded to 0.1
        assert curve.a * 60**-curve.c == pytest.approx(scale, rel=0.005)


@pytest.mark.real_weather
def test_missing_codes_in_the_canadian_file(shared_data: Path, tmp_path: Path) -> None:
    text = (shared_data / MONTREAL).read_bytes().decode("latin-1")
    holed = text.replace("          1944    8.6   10.4", "          1944  -99.9   10.4")
    one_cell = text.replace("          5 min      8.1     10.4", "          5 min    -99.9     10.4")
    path = tmp_path / "station.txt"
    path.write_bytes(holed.encode("latin-1"))
    maxima = read_annual_maxima(path)
    assert np.isnan(maxima.sel(year=1944, duration=5))
    assert float(maxima.sel(year=1944, duration=10)) == 10.4
    path.write_bytes(one_cell.encode("latin-1"))
    with pytest.raises(StormError, match="5 min, 2 years: depth is missing; fill it in or leave the row or column out"):
        read_depth_duration(path)


@pytest.mark.real_weather
def test_a_damaged_canadian_file_is_refused(shared_data: Path, tmp_path: Path) -> None:
    text = (shared_data / MONTREAL).read_bytes().decode("latin-1")
    path = tmp_path / "station.txt"
    path.write_bytes(text.replace("1 h       21.9", "1 h       31.9", 1).encode("latin-1"))
    with pytest.raises(StormError, match=r"1 h: table 2a has 31.9 mm, table 2b 21.9 mm/h, which makes 21.9 mm;"):
        read_depth_duration(path)
    path.write_bytes(text[: text.index("Table 2a")].encode("latin-1"))
    with pytest.raises(StormError, match='"Table 2a" not found; the file is cut short or of another kind'):
        read_depth_duration(path)


# --- plain CSV


@pytest.mark.parametrize(
    "text",
    [
        "# units: mm\nduration,2,10,100\n5min,6,9,13\n1h,16,26,38\n",
        "# invented\n# units: mm\nduration,2 years,10yr,100-yr\n5 min,6,9,13\n1 h,16,26,38\n",
        "# units: mm\nduration_min,2,10,100\n5,6,9,13\n60,16,26,38\n",
        "# units: mm\r\nduration (min),2,10,100\r\n60,16,26,38\r\n5,6,9,13\r\n",
    ],
)
def test_plain_csv(tmp_path: Path, text: str) -> None:
    table = read_depth_duration(plain_file(tmp_path, text))
    assert table.durations_min == (5.0, 60.0)
    assert table.return_periods_years == (2.0, 10.0, 100.0)
    assert table.depths_mm == ((6.0, 9.0, 13.0), (16.0, 26.0, 38.0))
    assert table.source == "depths.csv"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("time,2\n5min,1\n", 'depths.csv: the header starts with "time"; a depth-duration file starts with "duration"'),
        ("", 'depths.csv: the header starts with "nothing"; a depth-duration file starts with "duration"'),
        ("duration\n5min\n", "depths.csv: the header names no return periods; write for example: duration,2"),
        (
            "duration,2,often\n5min,1,2\n",
            'depths.csv: header cell "often" is not a return period in years; write for example: duration,2,10,100',
        ),
        ("duration,2,10\n5min,1,2\n1h,3,4\n", "depths.csv: the file does not say its units;"),
        (
            "# units: mm\nduration,2,10\n5,6,9\n60,16,26\n",
            'depths.csv: duration "5" has no unit; write it with its unit',
        ),
        ("# units: mm\nduration,2,10\n5min,6,9\n5min,6,9\n", "depths.csv: duration 5min is given twice; keep"),
        (
            "# units: mm\nduration,2,10\n5min,6\n1h,16,\n",
            "depths.csv: 5 min has 1 values for 2 return periods; give one value per return period",
        ),
        (
            "# units: mm\nduration,2,10\n5min,6,9\n1h,16,\n",
            "depths.csv: 1 h, 10 years: depth is missing; fill it in or",
        ),
    ],
)
def test_messages_of_the_csv(tmp_path: Path, text: str, message: str) -> None:
    with pytest.raises(StormError, match=re.escape(message)):
        read_depth_duration(plain_file(tmp_path, text))


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(StormError, match=r"nowhere\.csv: there is no such file"):
        read_depth_duration(tmp_path / "nowhere.csv")
    with pytest.raises(StormError, match=r"depths\.csv: no table of annual maxima found"):
        read_annual_maxima(plain_file(tmp_path, "duration,2\n"))


# --- checks of a table


def table_of(rows: dict, *, years: tuple = (2, 10), units: str = "mm", **options) -> DepthDurationTable:
    return DepthDurationTable.from_rows(rows, return_periods_years=years, units=units, **options)


@pytest.mark.parametrize(
    ("rows", "options", "message"),
    [
        (
            {"5min": [96, 120], "10min": [69, 90], "1h": [22, 30]},
            {},
            "typed: the values fall with duration in every column, so they look like intensities, but units are "
            '"mm"; give units="mm/h" if they are intensities',
        ),
        (
            {"5min": [8, 12], "10min": [12, 17], "1h": [22, 34]},
            {"units": "mm/h"},
            "typed: the values rise with duration in every column, so they look like depths, but units are "
            '"mm/h"; give units="mm" if they are depths',
        ),
        (
            {"5min": [8, 12], "10min": [7, 17], "1h": [22, 15]},
            {},
            "typed: 2 years: depth falls from 8 mm in 5 min to 7 mm in 10 min; depths must rise with duration\n"
            "typed: 10 years: depth falls from 17 mm in 10 min to 15 mm in 1 h; depths must rise with duration\n"
            "typed: 1 h: depth falls from 22 mm at 2 years to 15 mm at 10 years; depths must rise with return period",
        ),
        (
            {"5min": [5, 12], "10min": [12, 17]},
            {},
            "typed: 2 years: intensity rises from 60 mm/h over 5 min to 72 mm/h over 10 min; "
            "intensity must fall with duration",
        ),
        (
            {"5min": [8, 12], "1h": [22, 34]},
            {"units": "in"},
            "typed: 203.2 mm in 5 min is more than has ever been measured on Earth; check the units (mm or in, ",
        ),
        ({"5min": [8, 12], "1h": [22]}, {}, "typed: 1 h has 1 values for 2 return periods; give one value per"),
        ({"5min": [8, 12]}, {}, "typed: 1 duration(s); a table needs at least two"),
        ({"5min": [], "1h": []}, {"years": ()}, "typed: no return periods; give return_periods_years, one per column"),
        (
            {"5min": [8, 12], "1h": [22, 34]},
            {"years": (1, 10)},
            "typed: a return period of 1 years has no meaning in an annual-maximum series; leave the column out, or "
            'say series="partial-duration" if that is what the source says',
        ),
        ({"5min": [8, 12], "1h": [22, 34]}, {"years": (10, 2)}, "typed: return periods must rise: 2 years follows 10"),
        ({"5min": [8, math.nan], "1h": [22, 34]}, {}, "typed: 5 min, 10 years: depth is missing; fill it in or leave"),
        ({"5min": [8, 0], "1h": [22, 34]}, {}, "typed: 5 min, 10 years: depth 0 mm must be more than zero"),
        ({"60min": [8, 9], "1h": [22, 34]}, {}, "typed: duration 1 h is given twice"),
        ({5: [8, 9], "1h": [22, 34]}, {}, "typed: duration 5 has no unit; write it with its unit"),
        (
            {"5min": [8, 12], "1h": [22, 34]},
            {"series": "partial"},
            'typed: series "partial" must be "annual-maximum" or "partial-duration" (did you mean "partial-duration"?)',
        ),
        ({"5min": [8, 12], "1h": [22, 34]}, {"units": "L/s"}, 'typed: units "L/s" measure flow; give depths (mm'),
    ],
)
def test_messages_of_a_table(rows: dict, options: dict, message: str) -> None:
    with pytest.raises(StormError, match=re.escape(message)):
        table_of(rows, **options)


def test_inches_given_as_millimetres_are_doubted(tmp_path: Path) -> None:
    message = "pulaski.csv: the largest depth in 24 h is 7.84 mm, which is little even for a desert; if the table is in"
    with pytest.warns(RunoffWarning, match=message):
        read_depth_duration(atlas_file(tmp_path, "pulaski"), units="mm")


def test_unknown_unit_of_a_table() -> None:
    with pytest.raises(RunoffError, match=r'unit "inchs" is not known \(did you mean "inches"'):
        table_of({"5min": [8, 12], "1h": [22, 34]}, units="inchs")


def test_intensities_become_depths(small: DepthDurationTable) -> None:
    rows = {"5min": [96.0, 144.0], "10min": [72.0, 108.0], "1h": [24.0, 36.0]}  # by hand: depth / hours
    typed = DepthDurationTable.from_rows(rows, return_periods_years=[2, 100], units="mm/h")
    assert np.array(typed.depths_mm) == pytest.approx(np.array(small.depths_mm))
    assert typed.intensity("5min", 2) == pytest.approx(96.0)


def test_table_is_frozen(small: DepthDurationTable) -> None:
    with pytest.raises(AttributeError):
        small.source = "other"  # type: ignore[misc]


# --- interpolation


def test_between_durations_a_line_on_log_log_paper(small: DepthDurationTable) -> None:
    # halfway between 10 min (12 mm) and 60 min (24 mm) on the log axis: sqrt(600) min and sqrt(288) mm
    assert float(small.curve(2).depth_mm(math.sqrt(600.0))) == pytest.approx(math.sqrt(288.0))


def test_between_return_periods_a_line_in_the_reduced_variate(small: DepthDurationTable) -> None:
    # y(2) = 0.36651, y(10) = 2.25037, y(100) = 4.60015 (-ln(-ln(1 - 1/T))): share 0.44496 of 8 -> 12 mm
    assert small.depth("5min", 10) == pytest.approx(8.0 + 4.0 * (2.25037 - 0.36651) / (4.60015 - 0.36651), abs=1e-4)


def test_partial_series_variate_is_that_of_its_annual_period() -> None:
    for years in (1.0, 2.0, 10.0, 100.0):
        annual = 1.0 / (1.0 - math.exp(-1.0 / years))  # FHWA HDS-2 (2002), Table 4.2
        assert reduced_variate(years, "partial-duration") == pytest.approx(reduced_variate(annual, "annual-maximum"))


def test_gumbel_table_interpolates_exactly() -> None:
    # depths that are Gumbel by construction come back at every return period between the columns
    def depth(years: float) -> float:
        return 20.0 + 6.0 * reduced_variate(years, "annual-maximum")

    table = table_of({"5min": [depth(2) / 4, depth(100) / 4], "1h": [depth(2), depth(100)]}, years=(2, 100))
    for years in (2.5, 5, 10, 33, 99):
        assert table.depth("1h", years) == pytest.approx(depth(years), rel=1e-12)


@pytest.mark.parametrize(
    ("duration", "years", "message"),
    [
        (
            "1min",
            2,
            "duration 1 min is outside the table, which runs from 5 min to 1 h; nothing is extrapolated: give a duration within it",
        ),
        (
            "2h",
            2,
            "duration 2 h is outside the table, which runs from 5 min to 1 h; nothing is extrapolated: give a duration within it",
        ),
        ("1h", 1.5, "typed: return period 1.5 years is outside the table, which has 2, 100 years; nothing is"),
        ("1h", 200, "typed: return period 200 years is outside the table, which has 2, 100 years; nothing is"),
        ("1h", None, "typed: return_period_years is missing; the table has 2, 100 years"),
    ],
)
def test_nothing_is_extrapolated(small: DepthDurationTable, duration: str, years: float, message: str) -> None:
    with pytest.raises(StormError, match=re.escape(message)):
        small.depth(duration, years)
    assert small.depth("5min", 2) == pytest.approx(8.0)
    assert small.depth("1h", 100) == pytest.approx(36.0)


def test_labelled_array_and_back(small: DepthDurationTable) -> None:
    labelled = small.to_dataarray()
    assert labelled.attrs["units"] == "mm"
    assert float(labelled.sel(duration=60, return_period=100)) == 36.0
    again = DepthDurationTable.from_dataarray(labelled)
    assert again == small


# --- intensity formulas


@pytest.mark.parametrize(
    ("form", "b", "c"), [("sherman", 9.0, 0.8), ("sherman", 0.0, 0.6), ("talbot", 18.0, 1.0), ("power", 0.0, 0.65)]
)
def test_a_fit_finds_the_formula_a_table_was_made_from(form: str, b: float, c: float) -> None:
    truth = IntensityCurve(a=1200.0, b=b, c=c)
    minutes = (5, 10, 15, 30, 60, 120, 360)
    rows = {f"{t}min": [float(truth.depth_mm(t)), 2 * float(truth.depth_mm(t))] for t in minutes}
    curve = fit_intensity(table_of(rows), form=form, return_period_years=2)
    assert curve.depth_mm(np.array(minutes)) == pytest.approx(truth.depth_mm(np.array(minutes)), rel=1e-4)
    assert curve.worst_relative_error < 1e-4
    assert curve.return_period_years == 2.0
    assert (curve.shortest_min, curve.longest_min) == (5.0, 360.0)


def test_a_fit_stays_where_depth_rises_with_duration() -> None:
    # 1200 / (t + 9)^1.05 fits these rows exactly, but past 3 h its depth would fall
    rows = {f"{t}min": [1200.0 / (t + 9.0) ** 1.05 * t / 60.0, 60.0 + t] for t in (5, 10, 15, 30, 60, 120)}
    assert fit_intensity(table_of(rows), form="sherman", return_period_years=2).c == pytest.approx(1.0, abs=1e-6)


def test_formula_in_words() -> None:
    assert IntensityCurve(a=1305.3, b=7.85, c=0.75).formula == "i = 1305.3 / (t + 7.85)^0.75, i in mm/h, t in min"
    assert IntensityCurve(a=1200, b=18).formula == "i = 1200 / (t + 18), i in mm/h, t in min"


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda table: fit_intensity(table, form="shermann", return_period_years=2),
            'fit_intensity: form "shermann" is not known (did you mean "sherman"?); known: sherman, talbot, power',
        ),
        (lambda table: fit_intensity(table), "typed: return_period_years is missing; the table has 2, 100 years"),
        (
            lambda table: fit_intensity(table, return_period_years=2),
            "fit_intensity: 3 durations between 5 min and 1 h; a sherman curve needs 4",
        ),
        (
            lambda table: fit_intensity(table, form="power", return_period_years=2).depth("2h"),
            "power curve fitted to typed: duration 2 h is beyond the formula, which holds to 1 h; nothing is",
        ),
        (
            lambda table: IntensityCurve(a=100, b=5, c=0.0),
            "typed intensity formula: i = 100 / (t^1 + 5)^0 is not usable",
        ),
        (
            lambda table: IntensityCurve(a=100, b=5, c=1.05),
            "typed intensity formula: i = 100 / (t^1 + 5)^1.05 is not usable; a, c and e must be more than zero, b not "
            "negative, and c x e at most 1, so that depth rises with duration",
        ),
    ],
)
def test_messages_of_formulas(small: DepthDurationTable, call, message: str) -> None:
    with pytest.raises(StormError, match=re.escape(message)):
        call(small)
