"""The check numbers of the real open files, read through `read_weather`.

Every expected number is from the README of the folder of real data, which was made by independent throw-away code and
checked against published climatology (the section is named beside each case). Totals there are rounded to 0.1 mm, days
to 0.01 mm where it says so: the tolerances are half of the last printed digit.
"""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.weather.record.time_axis import step_hours
from tests import installed_weather

pytestmark = pytest.mark.real_weather

KNMI = dict(
    columns={
        "time": "YYYYMMDD", "rain": "RH", "tmin": "TN", "tmax": "TX", "tmean": "TG", "solar_radiation": "Q",
        "humidity": "UG", "wind_speed": "FG", "reference_et": "EV24",
    },
    units={
        "rain": "0.1 mm", "tmin": "0.1 degC", "tmax": "0.1 degC", "tmean": "0.1 degC", "solar_radiation": "J cm-2",
        "humidity": "%", "wind_speed": "0.1 m s-1", "reference_et": "0.1 mm",
    },
    layout={"skip_lines": 47, "trace": ["-1"], "wind_height_m": 10},
)  # fmt: skip
USCRN = dict(
    columns={
        "time": "LST_DATE", "rain": "P_DAILY_CALC", "tmin": "T_DAILY_MIN", "tmax": "T_DAILY_MAX",
        "solar_radiation": "SOLARAD_DAILY", "humidity_min": "RH_DAILY_MIN", "humidity_max": "RH_DAILY_MAX",
    },
    units={
        "rain": "mm", "tmin": "degC", "tmax": "degC", "solar_radiation": "MJ m-2 d-1", "humidity_min": "%",
        "humidity_max": "%",
    },
    layout={"missing": [-9999], "time_zone": "local standard time"},
)  # fmt: skip
DWD = dict(
    columns={"rain": 0},
    units={"rain": "mm"},
    layout={
        "skip_lines": 21,
        "header": False,
        "missing": [-999],
        "first_time": "2006-01-01",
        "step": "1h",
        "time_zone": "CET",
    },
)
SINGAPORE = dict(
    columns={"time": "timestamp_sgt", "rain": "value"},
    units={"rain": "mm"},
    layout={"round_to": "1min", "time_zone": "UTC+8"},
)
VLISSINGEN = dict(columns={"time": "", "rain": "RH"}, units={"rain": "m"}, layout={"stamp": "end"})
CITIES = "gridded/daily_surface_cancities_1990-1993.nc"
ERA5 = "gridded/ERA5_testdata.nc"
CMIP6 = "gridded/pr_day_MPI-ESM1-2-HR_dcppA-hindcast_s1960-r2i1p1f1_gn_19601101-19701231.nc"
NEX_PAST = "gridded/nasa_nex-gddp-1.0_day_inmcm4_historical+rcp45_nex-gddp_1971-1972_subset.nc"
NEX_FUTURE = "gridded/nasa_nex-gddp-1.0_day_inmcm4_historical+rcp85_nex-gddp_2070-2071_subset.nc"
SALMON = "daily/Salmon-River-Near-Prince-George_meteo_daily.nc"
NEW_YORK, SAN_FRANCISCO = "daily/USW00094728.dly", "daily/USW00023234.dly.gz"
HOUSTON, DEATH_VALLEY = "daily/USW00012960.dly.gz", "daily/USC00042319.dly.gz"

_read: dict[str, xr.Dataset] = {}


def read(folder: Path, name: str, **options) -> xr.Dataset:
    """Read a file once for all tests of this module; its path and options always go together."""
    if name not in _read:
        _read[name] = runoff.read_weather(folder / name, **options)
    return _read[name]


def year_of(rain: xr.DataArray, year: int) -> np.ndarray:
    return rain.sel(time=str(year)).to_numpy()


YEARS = [
    # file, options, year, known steps, total mm, days >= 1 mm, largest day mm and its date (README, by file)
    (NEW_YORK, {}, 1983, 365, 2046.4, 103, 109.5, "1983-04-10"),
    (NEW_YORK, {}, 2011, 365, 1850.3, 107, 147.6, "2011-08-14"),
    (NEW_YORK, {}, 2018, 365, 1665.3, 129, 73.7, "2018-08-11"),
    (SAN_FRANCISCO, {}, 1983, 365, 973.9, 80, 50.8, "1983-12-24"),
    (SAN_FRANCISCO, {}, 2013, 365, 86.0, 18, 16.0, "2013-11-20"),
    (SAN_FRANCISCO, {}, 2019, 365, 597.1, 63, 41.7, "2019-01-06"),
    (HOUSTON, {}, 2011, 365, 624.7, 45, 76.7, "2011-10-09"),
    (HOUSTON, {}, 2017, 365, 2024.9, 86, 408.2, "2017-08-27"),
    (HOUSTON, {}, 2020, 366, 1137.5, 84, 90.9, "2020-09-22"),
    (DEATH_VALLEY, {}, 2004, 366, 108.2, 13, 31.8, "2004-12-29"),
    (DEATH_VALLEY, {}, 2023, 365, 101.7, 14, 55.9, "2023-08-20"),
    ("daily/etmgeg_260.txt.gz", KNMI, 1998, 365, 1239.6, 165, 48.3, "1998-06-06"),
    ("daily/etmgeg_260.txt.gz", KNMI, 2013, 365, 827.2, 123, 63.9, "2013-10-13"),
    ("daily/etmgeg_260.txt.gz", KNMI, 2018, 365, 582.0, 107, 27.2, "2018-04-30"),
    ("daily/IN_Bedford_5_WNW.txt", USCRN, 2008, 365, 1527.4, 106, None, None),
    ("daily/IN_Bedford_5_WNW.txt", USCRN, 2011, 364, 1562.7, 105, None, None),
    ("daily/IN_Bedford_5_WNW.txt", USCRN, 2012, 365, 915.4, 88, None, None),
    ("daily/IN_Bedford_5_WNW.txt", USCRN, 2016, 366, 1338.6, 105, None, None),
    (SALMON, {}, 1964, 366, 832.8, 183, None, None),
    (SALMON, {}, 1996, 366, 684.9, 159, None, None),
    (SALMON, {}, 2004, 366, 632.8, 151, None, None),
    (NEX_PAST, {}, 1971, 365, 857.6, 174, None, None),
    (NEX_PAST, {}, 1972, 365, 741.7, 157, None, None),
    (NEX_FUTURE, {}, 2070, 365, 904.2, 183, None, None),
    (NEX_FUTURE, {}, 2071, 365, 838.7, 159, None, None),
]


@pytest.mark.parametrize(("name", "options", "year", "known", "total", "wet", "largest", "when"), YEARS)
def test_year_of_a_daily_file(shared_data, name, options, year, known, total, wet, largest, when) -> None:
    rain = read(shared_data, name, **options)["rain"]
    days = year_of(rain, year)
    assert np.isfinite(days).sum() == known
    assert np.nansum(days) == pytest.approx(total, abs=0.051)
    assert (days >= 1.0).sum() == wet
    if largest is not None:
        assert np.nanmax(days) == pytest.approx(largest, abs=1e-9)  # one value, given in whole tenths
        assert float(rain.sel(time=when).item()) == np.nanmax(days)


# The README counts 140 wet days at Vlissingen in 2021. Summed in whole tenths of mm there are 141: seven days of that year
# bring exactly 1.0 mm, and binary rounding can drop one of them (see the test of exact sums below).
HOURLY_YEARS = [
    # file, options, year, known hours, total mm, hours with rain, days >= 1 mm (README, by file)
    ("subdaily/vlissingen_prec_hourly.csv.gz", VLISSINGEN, 2019, 8760, 676.2, 979, 124),
    ("subdaily/vlissingen_prec_hourly.csv.gz", VLISSINGEN, 2020, 8784, 776.5, 883, 116),
    ("subdaily/vlissingen_prec_hourly.csv.gz", VLISSINGEN, 2021, 8760, 790.8, 1070, 141),  # see below
    ("subdaily/vlissingen_prec_hourly.csv.gz", VLISSINGEN, 2022, 8760, 761.1, 843, 115),
    ("subdaily/DE_02718.txt", DWD, 2006, 8760, 755.0, 1124, 126),
    ("subdaily/DE_02718.txt", DWD, 2007, 8760, 1097.0, 1480, 153),
    ("subdaily/DE_02718.txt", DWD, 2008, 8784 - 5, 717.5, 1123, 126),
    ("subdaily/DE_02718.txt", DWD, 2009, 8760 - 1, 850.4, 1344, 136),
    ("subdaily/DE_02718.txt", DWD, 2010, 8760, 732.2, 1342, 150),
]


@pytest.mark.parametrize(("name", "options", "year", "known", "total", "wet_hours", "wet_days"), HOURLY_YEARS)
def test_year_of_an_hourly_file(shared_data, name, options, year, known, total, wet_hours, wet_days) -> None:
    weather = read(shared_data, name, **options)
    hours = year_of(weather["rain"], year)
    assert np.isfinite(hours).sum() == known
    assert np.nansum(hours) == pytest.approx(total, abs=0.051)
    assert (hours > 0).sum() == wet_hours
    days = runoff.daily_totals(weather, least_share=0.01)["rain"]  # the README sums what a day has
    assert (year_of(days, year) >= 1.0).sum() == wet_days


STATIONS = [
    # file, kept rain values, traces, presumed zeros, wettest day mm, its date (README)
    (NEW_YORK, 55154, 4643, 0, 210.3, "1882-09-23"),
    (SAN_FRANCISCO, 29185, 3422, 0, 142.0, "1982-01-04"),
    (HOUSTON, 20489, 2510, 0, 408.2, "2017-08-27"),
    (DEATH_VALLEY, 23340, 441, 7580, 55.9, "2023-08-20"),
]


@pytest.mark.parametrize(("name", "kept", "traces", "presumed", "wettest", "when"), STATIONS)
def test_flags_and_extremes_of_a_station(shared_data, name, kept, traces, presumed, wettest, when) -> None:
    weather = read(shared_data, name)
    flags = weather["rain_flag"].to_numpy()
    assert int(weather["rain"].notnull().sum()) == kept
    assert ((flags == "T").sum(), (flags == "P").sum()) == (traces, presumed)
    assert float(weather["rain"].max()) == pytest.approx(wettest, abs=1e-9)
    assert float(weather["rain"].sel(time=when)) == float(weather["rain"].max())
    assert weather.attrs["gathered"] == ""  # no such element in these files
    assert step_hours(weather["time"]) == 24.0


def test_new_york_temperatures(shared_data) -> None:
    weather = read(shared_data, NEW_YORK)
    # README: kept TMAX 55,145 (2 dropped for QFLAG I), TMIN 55,147; TMAX 41.1 (1936-07-09), TMIN -26.1 (1934-02-09)
    assert int(weather["tmax"].notnull().sum()) == 55145
    assert int(weather["tmin"].notnull().sum()) == 55147
    assert weather.attrs["dropped_for_quality"] == 2
    assert float(weather["tmax"].sel(time="1936-07-09")) == float(weather["tmax"].max()) == 41.1
    assert float(weather["tmin"].sel(time="1934-02-09")) == float(weather["tmin"].min()) == -26.1
    mean = ((weather["tmin"] + weather["tmax"]) / 2).groupby("time.year").mean()
    for year, expected in ((1983, 13.36), (2011, 13.62), (2018, 13.32)):
        assert float(mean.sel(year=year)) == pytest.approx(expected, abs=0.0051)
    assert int(weather["wind_speed"].notnull().sum()) == 8834
    assert float(weather["rain"].groupby("time.year").sum().sel(year=1965)) == pytest.approx(663.5, abs=0.051)  # driest


@pytest.mark.parametrize(
    ("name", "years", "mean"),
    # README, table of files: mean annual rain over these years, rounded to 1 mm (San Francisco and Houston to 0.1)
    [
        (NEW_YORK, (1869, 2019), 1155),
        (NEW_YORK, (1991, 2019), 1262),
        (SAN_FRANCISCO, (1991, 2020), 499.1),
        (HOUSTON, (1991, 2020), 1316.9),
    ],
)
def test_mean_annual_rain(shared_data, name, years, mean) -> None:
    rain = read(shared_data, name)["rain"].sel(time=slice(str(years[0]), str(years[1])))
    totals = rain.groupby("time.year").sum(min_count=365)
    assert float(totals.mean()) == pytest.approx(mean, abs=0.51 if mean == round(mean) else 0.051)


def test_san_francisco_wind_and_death_valley_heat(shared_data) -> None:
    coast, desert = read(shared_data, SAN_FRANCISCO), read(shared_data, DEATH_VALLEY)
    # README: 2013 mean T 14.47, AWND 4.54 m/s; Death Valley TMAX 54.4 (2020-08-16), 2015: 62.5 mm, 11 wet days
    mean = (coast["tmin"] + coast["tmax"]).sel(time="2013") / 2
    assert float(mean.mean()) == pytest.approx(14.47, abs=0.0051)
    assert float(coast["wind_speed"].sel(time="2013").mean()) == pytest.approx(4.54, abs=0.0051)
    assert coast["wind_speed"].attrs["height_m"] == 10.0
    assert float(desert["tmax"].sel(time="2020-08-16")) == float(desert["tmax"].max()) == 54.4
    assert np.nansum(year_of(desert["rain"], 2015)) == pytest.approx(62.5, abs=0.051)
    assert (year_of(desert["rain"], 2015) >= 1.0).sum() == 11


def test_de_bilt_weather_and_reference_evaporation(shared_data) -> None:
    weather = read(shared_data, "daily/etmgeg_260.txt.gz", **KNMI)
    # README: 14,610 days, -1 on 2,204 days counted as 0; EV24 by year and 567.6 mean; 2018 means; none missing
    assert weather.sizes["time"] == 14610
    assert weather.attrs["traces"] == 2204
    assert not any(int(weather[name].isnull().sum()) for name in weather.data_vars)
    yearly = weather["reference_et"].groupby("time.year").sum()
    for year, expected in ((1998, 492.2), (2013, 564.7), (2018, 670.8)):
        assert float(yearly.sel(year=year)) == pytest.approx(expected, abs=0.051)
    assert float(yearly.mean()) == pytest.approx(567.6, abs=0.051)
    of_2018 = weather.sel(time="2018")
    assert float(of_2018["solar_radiation"].sum()) == pytest.approx(4093.5, abs=0.051)
    assert float(of_2018["wind_speed"].mean()) == pytest.approx(3.37, abs=0.0051)
    assert float(of_2018["humidity"].mean()) == pytest.approx(0.775, abs=0.00051)
    assert float(of_2018["tmin"].mean()) == pytest.approx(6.69, abs=0.0051)
    assert float(of_2018["tmax"].mean()) == pytest.approx(15.76, abs=0.0051)
    assert float(weather["rain"].groupby("time.year").sum().sel(year=1996)) == pytest.approx(575.7, abs=0.051)
    assert weather["reference_et"].attrs["method"] == "given"


def test_bedford_days_without_rain_value(shared_data) -> None:
    weather = read(shared_data, "daily/IN_Bedford_5_WNW.txt", **USCRN)
    # README: 3,655 rows; these days lack rain; wettest 116.8 (2013-12-21); 2012 solar 5553.6 over 365 days; T 40.0, -23.0
    missing = weather["time"].to_numpy()[weather["rain"].isnull().to_numpy()].astype("datetime64[D]").astype(str)
    assert list(missing) == [
        "2007-10-03", "2008-05-01", "2009-07-11", "2010-07-21", "2011-05-27", "2012-04-04", "2013-03-15", "2014-03-27",
        "2014-09-03", "2015-03-24", "2017-03-22",
    ]  # fmt: skip
    assert weather.sizes["time"] == 3655
    assert float(weather["rain"].sel(time="2013-12-21")) == float(weather["rain"].max()) == 116.8
    solar = weather["solar_radiation"].sel(time="2012")
    assert int(solar.notnull().sum()) == 365
    assert float(solar.sum()) == pytest.approx(5553.6, abs=0.051)
    assert (float(weather["tmax"].max()), float(weather["tmin"].min())) == (40.0, -23.0)


def test_prince_george_rain_and_snow_are_added(shared_data) -> None:
    weather = read(shared_data, SALMON)
    # README: 20,819 days; mean 593; wettest 30.1 (1971-07-10); 1996 pet 410.2; tmin down to -45.5; place in the text table
    assert weather.sizes["time"] == 20819
    assert weather.attrs["rain_variables"] == "rain and snow"
    assert float(weather["rain"].groupby("time.year").sum().mean()) == pytest.approx(593, abs=0.51)
    assert float(weather["rain"].sel(time="1971-07-10")) == pytest.approx(30.1, abs=0.051)
    assert float(weather["reference_et"].sel(time="1996").sum()) == pytest.approx(410.2, abs=0.051)
    assert float(weather["tmin"].min()) == pytest.approx(-45.5, abs=0.051)
    assert (float(weather["lat"]), float(weather["lon"])) == (pytest.approx(54.4848), pytest.approx(-123.3659))


def test_prince_george_crossed_temperatures_are_reported(shared_data) -> None:
    found = {check.name: check for check in runoff.check_weather(read(shared_data, SALMON)).checks}["tmin above tmax"]
    # README: "tmin > tmax on 27 days (first 2002-10-23: 4.09 and 1.83)"
    assert (found.verdict, found.found) == ("look", "27 days, first 2002-10-23 (4.1 and 1.8 degC)")


def test_singapore_five_minutes(shared_data) -> None:
    weather = read(shared_data, "subdaily/singapore_S64_rainfall_5min_201612-201706.csv.gz", **SINGAPORE)
    rain = weather["rain"]
    # README: 60,129 of 60,506 steps; monthly totals; 105 wet days, wettest 100.0 (2017-06-18); largest 5 min 12.2
    assert (int(rain.notnull().sum()), rain.size) == (60129, 60506)
    assert weather.attrs["absent_steps"] == 60506 - 60129
    assert float(rain.sum()) == pytest.approx(1594.6, abs=0.051)
    monthly = rain.resample(time="1MS").sum().to_numpy()
    assert monthly == pytest.approx([243.6, 185.4, 170.2, 269.6, 226.8, 297.2, 201.8], abs=0.051)
    days = runoff.daily_totals(rain, least_share=0.001)
    assert int((days >= 1.0).sum()) == 105
    assert float(days.sel(time="2017-06-18")) == pytest.approx(100.0, abs=0.051) == float(days.max())
    assert float(rain.max()) == pytest.approx(12.2, abs=1e-9)
    hour = rain.rolling(time=12).sum()
    # "largest 60 min 82.4 ending 2016-12-23 20:15": the step that ends then is stamped 20:15 in the file, as read
    assert float(hour.max()) == pytest.approx(82.4, abs=0.051)
    assert str(hour["time"].to_numpy()[int(hour.argmax("time"))])[:16] == "2016-12-23T20:15"


def test_vlissingen_stamps_of_ends_become_starts(shared_data) -> None:
    weather = read(shared_data, "subdaily/vlissingen_prec_hourly.csv.gz", **VLISSINGEN)
    # README: stamps 2019-01-01 01:00 to 2023-01-01 00:00 are ends; largest hour 51.3 stamped 2020-06-17 15:00; day 78.0
    assert str(weather["time"].to_numpy()[0])[:16] == "2019-01-01T00:00"
    assert weather.sizes["time"] == 35064
    assert float(weather["rain"].sel(time="2020-06-17T14:00")) == pytest.approx(51.3, abs=0.051)
    assert float(weather["rain"].max()) == float(weather["rain"].sel(time="2020-06-17T14:00"))
    days = runoff.daily_totals(weather)["rain"]
    assert float(days.sel(time="2020-06-17")) == pytest.approx(78.0, abs=0.051) == float(days.max())
    assert weather.attrs["time_label"] == "end of the interval, as stated; converted to start"


def test_wet_days_agree_with_sums_in_whole_tenths(shared_data) -> None:
    weather = read(shared_data, "subdaily/vlissingen_prec_hourly.csv.gz", **VLISSINGEN)
    tenths = (
        np.round(weather["rain"].to_numpy() * 10).astype(int).reshape(-1, 24).sum(axis=1)
    )  # worked without rounding
    days = runoff.daily_totals(weather)["rain"].to_numpy()
    np.testing.assert_array_equal(days >= 1.0, tenths >= 10)


def test_vlissingen_evaporation_joins_the_rain(shared_data) -> None:
    rain = read(shared_data, "subdaily/vlissingen_prec_hourly.csv.gz", **VLISSINGEN)
    evaporation = read(
        shared_data, "subdaily/vlissingen_evap_hourly.csv.gz",
        columns={"time": "EVH", "reference_et": "0"}, units={"reference_et": "m"}, layout={"stamp": "end"},
    )  # fmt: skip
    yearly = evaporation["reference_et"].groupby("time.year").sum()
    # README: 707.3, 746.2, 671.5, 783.1; at most 0.659 mm/h
    assert yearly.to_numpy() == pytest.approx([707.3, 746.2, 671.5, 783.1], abs=0.051)
    assert float(evaporation["reference_et"].max()) == pytest.approx(0.659, abs=0.00051)
    both = rain.merge(evaporation)
    assert runoff.check_weather(both).to_dataframe().set_index("name").loc["evapotranspiration", "verdict"] == "good"


def test_dwd_hours(shared_data) -> None:
    weather = read(shared_data, "subdaily/DE_02718.txt", **DWD)
    # README: 43,824 hours, 6 missing; largest hour 38.2 (2008-05-30 20:00); largest day 55.2 (2007-06-21)
    assert (weather.sizes["time"], int(weather["rain"].isnull().sum())) == (43824, 6)
    assert float(weather["rain"].sel(time="2008-05-30T20:00")) == float(weather["rain"].max()) == 38.2
    days = runoff.daily_totals(weather)["rain"]
    assert float(days.sel(time="2007-06-21")) == pytest.approx(55.2, abs=0.051) == float(days.max())


def test_cities_are_sites(shared_data) -> None:
    weather = read(shared_data, CITIES)
    # README: yearly totals by city (Halifax, Montreal, Iqaluit, Saskatoon, Victoria), wet days of 1990, largest at Montreal
    yearly = weather["rain"].groupby("time.year").sum().transpose("site", "year").to_numpy()
    assert yearly == pytest.approx(
        np.array([
            [1729.8, 1408.5, 1290.5, 1567.0], [1339.9, 1009.2, 1068.8, 1217.4], [608.1, 555.5, 556.1, 544.6],
            [401.2, 559.9, 418.3, 494.5], [1246.8, 968.3, 822.3, 742.0],
        ]), abs=0.051,
    )  # fmt: skip
    assert (weather["rain"].sel(time="1990") >= 1.0).sum("time").to_numpy().tolist() == [158, 155, 118, 82, 151]
    assert float(weather["rain"].sel(site="Montréal", time="1990-09-30")) == pytest.approx(52.89, abs=0.0051)
    assert weather.attrs["clipped_negative"] == 234
    assert weather["rain"].dims == ("site", "time")
    assert float(weather["rain"].min()) == 0.0
    # the reanalysis's own potential evaporation must not become reference evapotranspiration: Victoria 64 mm a year there
    assert weather["reference_et"].attrs["method"].startswith("FAO-56 Penman-Monteith")
    assert float(weather["reference_et"].sel(site="Victoria", time="1991").sum()) > 300.0
    assert float(weather["humidity"].max()) <= 1.01  # fraction, as the file's empty unit says
    assert weather["wind_speed"].attrs["height_m"] == 10.0


def test_masked_grid_in_metres(shared_data) -> None:
    weather = read(shared_data, ERA5)
    cell = weather["rain"].sel(lat=48.75, lon=-65.0, time="1981")
    # README: sums of 1981 at (48.75, -65.0): 1462.4, 165 wet days, max 50.25 (1981-03-17); 8 cells valid, 1378-1528 by cell
    assert float(cell.sum()) == pytest.approx(1462.4, abs=0.051)
    assert int((cell >= 1.0).sum()) == 165
    assert float(cell.sel(time="1981-03-17").item()) == pytest.approx(50.25, abs=0.0051) == float(cell.max())
    totals = weather["rain"].sel(time="1981").sum("time", min_count=1)
    assert int(totals.notnull().sum()) == 8
    # to 1 mm: the smallest cell is 1377.46 over the 365 days of 1981 and 1378.65 over all 366 steps of the file
    assert (float(totals.min()), float(totals.max())) == (pytest.approx(1378, abs=1.0), pytest.approx(1528, abs=1.0))
    assert weather.sizes["time"] == 366
    assert weather["tmin"].attrs["units"] == "degC"


def test_climate_model_grid_with_bounds(shared_data) -> None:
    weather = read(shared_data, CMIP6)
    rain = weather["rain"]
    # README: 3,713 days; 1965 by cell; wet days north 184 319 138 284; largest day 66.57; times stamped 12:00 with bounds
    assert rain.sizes["time"] == 3713
    of_1965 = rain.sel(time="1965").sum("time").to_numpy()
    assert of_1965 == pytest.approx(np.array([[49.2, 49.9, 46.0, 49.7], [1634.3, 3353.5, 1021.3, 2405.8]]), abs=0.051)
    assert (rain.sel(time="1965") >= 1.0).sum("time").to_numpy()[1].tolist() == [184, 319, 138, 284]
    assert float(rain.max()) == pytest.approx(66.57, abs=0.0051)
    assert str(weather["time"].to_numpy()[0])[:16] == "1960-11-01T00:00"
    assert weather.attrs["time_label"] == "start of the interval, from the time bounds"


@pytest.mark.parametrize(
    ("name", "largest", "means"), [(NEX_PAST, 21.25, (-0.15, -0.19)), (NEX_FUTURE, 29.37, (4.69, 5.69))]
)
def test_years_of_365_days_without_latitude(shared_data, name, largest, means) -> None:
    weather = read(shared_data, name)
    # README: largest day; mean temperature by year; no latitude in the file: the reader must ask for it
    assert float(weather["rain"].max()) == pytest.approx(largest, abs=0.0051)
    mean = ((weather["tmin"] + weather["tmax"]) / 2).groupby("time.year").mean().to_numpy()
    assert mean == pytest.approx(np.array(means), abs=0.0051)
    assert weather["time"].dt.calendar == "noleap"
    assert weather["time"].to_numpy()[0].hour == 0
    assert "needs the latitude; give latitude= to read_weather" in weather.attrs["reference_et_missing"]
    assert "reference_et" in runoff.read_weather(shared_data / name, latitude=60.0)


def test_chunks_keep_the_grid_on_disk(shared_data) -> None:
    pytest.importorskip("dask", reason="lazy grids need the extra packages [large]")
    lazy = runoff.read_weather(shared_data / ERA5, chunks={"lat": 1})
    assert lazy["rain"].chunks is not None
    assert lazy["reference_et"].chunks is not None
    eager = read(shared_data, ERA5)
    xr.testing.assert_allclose(lazy["rain"].compute(), eager["rain"])


def test_years_are_chosen_by_their_ends(shared_data) -> None:
    weather = runoff.read_weather(shared_data / NEW_YORK, start="1990", end="2019", latitude=40.78)
    assert [str(weather["time"].to_numpy()[i])[:10] for i in (0, -1)] == ["1990-01-01", "2019-12-31"]
    assert float(weather["lat"]) == 40.78
    assert weather["reference_et"].attrs["method"] == "Hargreaves-Samani"
    with pytest.warns(runoff.RunoffWarning, match=r"^USW00094728\.dly: the record ends 2020-01-03 \(asked to 2020\)$"):
        runoff.read_weather(shared_data / NEW_YORK, start="2019", end="2020")


@pytest.mark.parametrize(
    ("year", "total", "wet"),
    # README, packages that carry data: 1461 rows; totals and wet days of 2012-2015; 2012 published as 1225.8 (from memory)
    [(2012, 1226.0, 148), (2013, 828.0, 119), (2014, 1232.8, 123), (2015, 1139.2, 116)],
)
def test_seattle_from_an_installed_package(year, total, wet) -> None:
    weather = installed_weather.seattle()
    assert weather.sizes["time"] == 1461
    assert float(weather["rain"].sel(time=str(year)).sum()) == pytest.approx(total, abs=0.051)
    assert int((weather["rain"].sel(time=str(year)) >= 1.0).sum()) == wet
    assert float(weather["rain"].sel(time="2015-03-15")) == float(weather["rain"].max()) == 55.9
