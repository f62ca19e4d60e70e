"""The readers against numbers worked out by other code: the check numbers in the README of the real weather data.

Those numbers were made with independent throw-away code when the data were collected (said there), so they are not our
own output. Totals are printed to 0.1 mm, so the tolerance is half of that plus the rounding of a sum.
"""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff

pytestmark = pytest.mark.real_weather

PRINT = 0.05 + 1e-6
CONVENTIONS = "check numbers of ../shared/data/README.md"

STATIONS = {
    "USW00094728.dly": {
        "kept": 55_154, "traces": 4_643, "years": {
            1983: (2046.4, 103, 109.5, 13.36), 2011: (1850.3, 107, 147.6, 13.62), 2018: (1665.3, 129, 73.7, 13.32)},
        "wettest": ("1882-09-23", 210.3), "tmax": ("1936-07-09", 41.1), "tmin": ("1934-02-09", -26.1)},
    "USW00023234.dly.gz": {
        "kept": 29_185, "traces": 3_422, "years": {
            1983: (973.9, 80, 50.8, None), 2013: (86.0, 18, 16.0, 14.47), 2019: (597.1, 63, 41.7, None)},
        "wettest": ("1982-01-04", 142.0)},
    "USW00012960.dly.gz": {
        "kept": 20_489, "traces": 2_510, "years": {
            2011: (624.7, 45, 76.7, None), 2017: (2024.9, 86, 408.2, None), 2020: (1137.5, 84, 90.9, None)},
        "wettest": ("2017-08-27", 408.2)},
    "USC00042319.dly.gz": {
        "kept": 23_340, "traces": 441, "years": {2004: (108.2, 13, 31.8, None), 2023: (101.7, 14, 55.9, None)},
        "wettest": ("2023-08-20", 55.9), "tmax": ("2020-08-16", 54.4)},
}  # fmt: skip


@pytest.fixture(scope="module")
def stations(shared_data: Path) -> dict[str, xr.Dataset]:
    return {name: runoff.read_weather(shared_data / "daily" / name) for name in STATIONS}


@pytest.mark.parametrize("name", STATIONS)
def test_station_counts(stations: dict[str, xr.Dataset], name: str) -> None:
    weather, known = stations[name], STATIONS[name]
    assert int(weather["rain"].notnull().sum()) == known["kept"]
    assert int((weather["rain_flag"] == "T").sum()) == known["traces"]
    day, value = known["wettest"]
    assert float(weather["rain"].sel(time=day)) == pytest.approx(value, abs=1e-9)
    assert float(weather["rain"].max()) == pytest.approx(value, abs=1e-9)
    for quantity in ("tmax", "tmin"):
        if quantity in known:
            day, value = known[quantity]
            extreme = weather[quantity].max() if quantity == "tmax" else weather[quantity].min()
            assert float(weather[quantity].sel(time=day)) == pytest.approx(value, abs=1e-9) == float(extreme)


@pytest.mark.parametrize(
    ("name", "year"), [(name, year) for name, known in STATIONS.items() for year in known["years"]]
)
def test_station_years(stations: dict[str, xr.Dataset], name: str, year: int) -> None:
    total, wet_days, largest, mean = STATIONS[name]["years"][year]
    rain = stations[name]["rain"].sel(time=str(year))
    assert float(rain.sum()) == pytest.approx(total, abs=PRINT)
    assert int((rain >= 1.0).sum()) == wet_days
    assert float(rain.max()) == pytest.approx(largest, abs=1e-9)
    if mean is not None:
        both = stations[name].sel(time=str(year))
        assert float(((both["tmax"] + both["tmin"]) / 2).mean()) == pytest.approx(mean, abs=0.005 + 1e-6)


def test_presumed_zeros_are_kept_and_counted(stations: dict[str, xr.Dataset]) -> None:
    assert int((stations["USC00042319.dly.gz"]["rain_flag"] == "P").sum()) == 7_580


def test_flagged_values_are_dropped(stations: dict[str, xr.Dataset]) -> None:
    new_york = stations["USW00094728.dly"]
    assert int(new_york["tmax"].notnull().sum()) == 55_145  # two dropped for quality flag I
    assert int(new_york["tmin"].notnull().sum()) == 55_147
    assert str(new_york["time"].to_numpy()[-1])[:10] == "2020-01-03"


KNMI = {
    "columns": {"time": "YYYYMMDD", "rain": "RH", "tmin": "TN", "tmax": "TX", "solar_radiation": "Q", "reference_et": "EV24"},
    "units": {"rain": "0.1 mm", "tmin": "0.1 degC", "tmax": "0.1 degC", "solar_radiation": "J cm-2", "reference_et": "0.1 mm"},
    "layout": {"skip_lines": 47, "trace": ["-1"]},
}  # fmt: skip


@pytest.mark.parametrize(
    ("year", "total", "wet_days", "largest", "makkink"),
    [(1998, 1239.6, 165, 48.3, 492.2), (2013, 827.2, 123, 63.9, 564.7), (2018, 582.0, 107, 27.2, 670.8)],
)
def test_de_bilt(shared_data: Path, year: int, total: float, wet_days: int, largest: float, makkink: float) -> None:
    weather = runoff.read_weather(shared_data / "daily" / "etmgeg_260.txt.gz", **KNMI)
    rain = weather["rain"].sel(time=str(year))
    assert float(rain.sum()) == pytest.approx(total, abs=PRINT)
    assert int((rain >= 1.0).sum()) == wet_days
    assert float(rain.max()) == pytest.approx(largest, abs=1e-9)
    assert float(weather["reference_et"].sel(time=str(year)).sum()) == pytest.approx(makkink, abs=PRINT)
    assert weather.attrs["traces"] == 2_204
    if year == 2018:
        one = weather.sel(time="2018")
        assert float(one["solar_radiation"].sum()) == pytest.approx(4093.5, abs=PRINT)
        assert float(one["tmin"].mean()) == pytest.approx(6.69, abs=0.005 + 1e-6)
        assert float(one["tmax"].mean()) == pytest.approx(15.76, abs=0.005 + 1e-6)


USCRN = {
    "columns": {"time": "LST_DATE", "rain": "P_DAILY_CALC", "tmin": "T_DAILY_MIN", "tmax": "T_DAILY_MAX",
                "solar_radiation": "SOLARAD_DAILY"},
    "units": {"rain": "mm", "tmin": "degC", "tmax": "degC", "solar_radiation": "MJ m-2 d-1"},
    "layout": {"missing": [-9999]},
}  # fmt: skip


@pytest.mark.parametrize(
    ("year", "total", "days", "wet_days"),
    [(2008, 1527.4, 365, 106), (2011, 1562.7, 364, 105), (2012, 915.4, 365, 88), (2016, 1338.6, 366, 105)],
)
def test_bedford(shared_data: Path, year: int, total: float, days: int, wet_days: int) -> None:
    weather = runoff.read_weather(shared_data / "daily" / "IN_Bedford_5_WNW.txt", **USCRN)
    rain = weather["rain"].sel(time=str(year))
    assert float(rain.sum()) == pytest.approx(total, abs=PRINT)
    assert int((rain >= 1.0).sum()) == wet_days
    missing = [str(day)[:10] for day in weather["time"].to_numpy()[np.isnan(weather["rain"].to_numpy())]]
    assert missing == [
        "2007-10-03", "2008-05-01", "2009-07-11", "2010-07-21", "2011-05-27", "2012-04-04", "2013-03-15", "2014-03-27",
        "2014-09-03", "2015-03-24", "2017-03-22",
    ]  # fmt: skip
    with pytest.raises(runoff.WeatherError, match=r"`rain` is missing on 11 of 3655 steps: 2007-10-03, 2008-05-01"):
        runoff.simulate(runoff.open_sample_roof(), weather.assign_coords(lat=38.89))


@pytest.mark.parametrize(("year", "total", "wet_days"), [(1964, 832.8, 183), (1996, 684.9, 159), (2004, 632.8, 151)])
def test_salmon_river_adds_rain_and_snow(shared_data: Path, year: int, total: float, wet_days: int) -> None:
    weather = runoff.read_weather(shared_data / "daily" / "Salmon-River-Near-Prince-George_meteo_daily.nc")
    rain = weather["rain"].sel(time=str(year))
    assert float(rain.sum()) == pytest.approx(total, abs=PRINT)
    assert int((rain >= 1.0).sum()) == wet_days
    assert float(weather["lat"]) == pytest.approx(54.4848, abs=1e-4)
    assert int((weather["tmin"] > weather["tmax"]).sum()) == 27  # the trap named there


def test_singapore_five_minutes(shared_data: Path) -> None:
    path = shared_data / "subdaily" / "singapore_S64_rainfall_5min_201612-201706.csv.gz"
    weather = runoff.read_weather(
        path, columns={"time": "timestamp_sgt", "rain": "value"}, units={"rain": "mm"}, layout={"round_to": "1min"}
    )
    rain = weather["rain"]
    assert int(rain.notnull().sum()) == 60_129
    assert rain.sizes["time"] == 60_506
    months = [185.4, 170.2, 269.6, 226.8, 297.2, 201.8]
    for month, total in enumerate(months, start=1):
        assert float(rain.sel(time=f"2017-{month:02d}").sum()) == pytest.approx(total, abs=PRINT)
    assert float(rain.max()) == pytest.approx(12.2, abs=1e-9)
    assert float(rain.fillna(0).rolling(time=12).sum().max()) == pytest.approx(82.4, abs=1e-6)


def test_vlissingen_stamps_the_end_of_the_hour(shared_data: Path) -> None:
    path = shared_data / "subdaily" / "vlissingen_prec_hourly.csv.gz"
    weather = runoff.read_weather(
        path, columns={"time": "", "rain": "RH"}, units={"rain": "m"}, layout={"stamp": "end"}
    )
    rain = weather["rain"]
    for year, total, hours in ((2019, 676.2, 979), (2020, 776.5, 883), (2021, 790.8, 1070), (2022, 761.1, 843)):
        assert float(rain.sel(time=str(year)).sum()) == pytest.approx(total, abs=PRINT)
        assert int((rain.sel(time=str(year)) > 0).sum()) == hours
    assert str(rain["time"].to_numpy()[int(rain.argmax("time"))])[:16] == "2020-06-17T14:00"  # stamped 15:00
    days = runoff.daily_totals(rain)
    assert float(days.max()) == pytest.approx(78.0, abs=PRINT)
    assert weather.attrs["time_label"] == "end of the interval, as stated; converted to start"


def test_german_hours_without_stamps(shared_data: Path) -> None:
    layout = {"header": False, "skip_lines": 21, "missing": [-999], "first_time": "2006-01-01 00:00", "step": "1h"}
    path = shared_data / "subdaily" / "DE_02718.txt"
    rain = runoff.read_weather(path, columns={"rain": 0}, units={"rain": "mm"}, layout=layout)["rain"]
    assert rain.sizes["time"] == 43_824
    for year, total, missing, hours in (
        (2006, 755.0, 0, 1124), (2007, 1097.0, 0, 1480), (2008, 717.5, 5, 1123), (2009, 850.4, 1, 1344), (2010, 732.2, 0, 1342),
    ):  # fmt: skip
        one = rain.sel(time=str(year))
        assert float(one.sum()) == pytest.approx(total, abs=PRINT)
        assert (int(one.isnull().sum()), int((one > 0).sum())) == (missing, hours)
    assert str(rain["time"].to_numpy()[int(rain.argmax("time"))])[:16] == "2008-05-30T20:00"
    # a day with a missing hour is missing, however many of its hours are
    holed = {str(hour)[:10] for hour in rain["time"].to_numpy()[np.isnan(rain.to_numpy())]}
    days = runoff.daily_totals(rain)
    assert {str(day)[:10] for day in days["time"].to_numpy()[np.isnan(days.to_numpy())]} == holed


def test_canadian_cities_keep_their_sites(shared_data: Path) -> None:
    weather = runoff.read_weather(shared_data / "gridded" / "daily_surface_cancities_1990-1993.nc")
    yearly = weather["rain"].groupby("time.year").sum()
    expected = [
        [1729.8, 1408.5, 1290.5, 1567.0], [1339.9, 1009.2, 1068.8, 1217.4], [608.1, 555.5, 556.1, 544.6],
        [401.2, 559.9, 418.3, 494.5], [1246.8, 968.3, 822.3, 742.0],
    ]  # fmt: skip
    # the file holds 32-bit numbers: sums of a year carry about 1e-4 of rounding
    np.testing.assert_allclose(yearly.transpose("site", "year").to_numpy(), expected, atol=PRINT + 0.01)
    assert int((weather["rain"].sel(time="1990") >= 1.0).sum("time").sel(site="Halifax")) == 158
    assert weather.attrs["clipped_negative"] == 234
    assert float(weather["humidity"].max()) <= 1.0


def test_grid_keeps_its_missing_cells(shared_data: Path) -> None:
    weather = runoff.read_weather(shared_data / "gridded" / "ERA5_testdata.nc")
    cell = weather["rain"].sel(lat=48.75, lon=-65.0, time="1981")
    assert float(cell.sum()) == pytest.approx(1462.4, abs=PRINT + 0.01)
    assert int((cell >= 1.0).sum()) == 165
    valid = weather["rain"].notnull().all("time")
    assert (int(valid.sum()), int((~valid).sum())) == (8, 7)
    run = runoff.simulate(runoff.open_sample_roof(), weather.sel(time="1981"))
    for name in ("overflow", "evapotranspiration", "medium_water", "waterlogged", "roof_overflow"):
        assert bool((run[name].isnull().all("time") == ~valid).all()), name


def test_model_rain_with_bounds(shared_data: Path) -> None:
    name = "pr_day_MPI-ESM1-2-HR_dcppA-hindcast_s1960-r2i1p1f1_gn_19601101-19701231.nc"
    weather = runoff.read_weather(shared_data / "gridded" / name)
    totals = weather["rain"].sel(time="1965").sum("time").transpose("lat", "lon").to_numpy()
    np.testing.assert_allclose(totals, [[49.2, 49.9, 46.0, 49.7], [1634.3, 3353.5, 1021.3, 2405.8]], atol=PRINT + 0.01)
    assert str(weather["time"].to_numpy()[0])[:13] == "1960-11-01T00"  # noon stamps moved to the start of the day


@pytest.mark.parametrize(
    ("period", "years"),
    [("historical+rcp45_nex-gddp_1971-1972", (857.6, 741.7)), ("historical+rcp85_nex-gddp_2070-2071", (904.2, 838.7))],
)
def test_model_pair_in_a_365_day_calendar(shared_data: Path, period: str, years: tuple[float, float]) -> None:
    path = shared_data / "gridded" / f"nasa_nex-gddp-1.0_day_inmcm4_{period}_subset.nc"
    with pytest.raises(runoff.WeatherError, match="needs the latitude; give latitude= to read_weather"):
        runoff.simulate(runoff.open_sample_roof(), runoff.read_weather(path))
    weather = runoff.read_weather(path, latitude=54.0)
    np.testing.assert_allclose(weather["rain"].groupby("time.year").sum().to_numpy(), years, atol=PRINT + 0.01)
    assert weather["time"].dt.calendar in ("noleap", "365_day")
    facts = runoff.summarize(runoff.simulate(runoff.open_sample_roof(), weather))
    assert float(facts["years"]) == 2.0
