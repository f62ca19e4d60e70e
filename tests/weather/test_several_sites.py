"""Text files that hold several sites one below the other: one is chosen, and `check-weather` gives each its verdict."""

import re
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.cli import main
from runoff.weather.files.proposing import propose_reading
from runoff.weather.files.reading import sites_in

DAYS = np.arange(np.datetime64("2015-01-01"), np.datetime64("2021-01-01"))
RAIN = np.where(
    np.arange(DAYS.size) % 3 == 0, np.round(np.random.default_rng(5).gamma(1.2, 6.0, DAYS.size) + 0.2, 1), 0.0
)
SITES = {"North": RAIN, "South": np.where(np.arange(DAYS.size) < 20, np.nan, np.round(0.5 * RAIN, 1))}


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "both.csv"
    rows = [
        f"{site},{day},{'' if np.isnan(rain) else rain}"
        for site, series in SITES.items()
        for day, rain in zip(DAYS, series, strict=True)
    ]
    path.write_text("\n".join(["station,date,rain_mm", *rows]) + "\n")
    return path


@pytest.fixture
def stations(tmp_path: Path) -> Path:
    """A by-station CSV of two stations, in tenths, their lines mixed."""
    path = tmp_path / "stations.csv"
    rows = [
        f"{code},{day},{'' if np.isnan(rain) else round(10 * rain)},,"
        for day, *pair in zip(DAYS, *SITES.values(), strict=True)
        for code, rain in zip(("OSW00000001", "OSW00000002"), pair, strict=True)
    ]
    path.write_text("\n".join(["STATION,DATE,PRCP,TMAX,TMIN", *rows]) + "\n")
    return path


@pytest.mark.parametrize("site", SITES)
def test_one_site_of_a_table(table: Path, site: str) -> None:
    weather = runoff.read_weather(table, layout={"site_column": "station"}, site=site)
    assert np.array_equal(weather["rain"].to_numpy(), SITES[site], equal_nan=True)
    assert weather.attrs["title"] == f"both.csv, {site}"
    assert sites_in(table, {"site_column": "station"}) == list(SITES)


@pytest.mark.parametrize(("site", "series"), [("OSW00000001", "North"), ("OSW00000002", "South")])
def test_one_station_of_several(stations: Path, site: str, series: str) -> None:
    weather = runoff.read_weather(stations, site=site)
    known = SITES[series][~np.isnan(SITES[series])]
    assert weather["rain"].to_numpy() == pytest.approx(known)  # a station file begins with its first value
    assert weather.attrs["title"] == f"station {site}"
    assert sites_in(stations) == ["OSW00000001", "OSW00000002"]


def test_the_fixed_form_too(tmp_path: Path) -> None:
    from tests.weather.station_files import line, month_of

    both = tmp_path / "both.dly"
    both.write_text(
        line("PRCP", month_of([3, 5])) + "\n" + line("PRCP", month_of([7, 9]), station="OSW00000002") + "\n"
    )
    assert sites_in(both) == ["OSW00000001", "OSW00000002"]
    assert runoff.read_weather(both, site="OSW00000002")["rain"].to_numpy().tolist() == [0.7, 0.9]


@pytest.mark.parametrize(
    ("how", "message"),
    [
        ({}, 'time: stamps given twice on 2192 lines (first line 2194: "2015-01-01"); keep one line of each, or name the column of the sites where the file holds several, layout={"site_column": "STATION"}'),
        ({"layout": {"site_column": "station"}}, '2 sites in one file (North, South); choose one, site="North"'),
        ({"layout": {"site_column": "station"}, "site": "Sout"}, 'there is no site "Sout" in the file (did you mean "South"?); it holds North, South'),
        ({"layout": {"site_column": "town"}}, 'layout: there is no column "town" with the names of sites'),
        ({"site": "South"}, 'layout: a table of several sites needs the column that names them, layout={"site_column": "STATION"}'),
    ],
    ids=["not said", "none chosen", "not there", "no such column", "no column said"],
)  # fmt: skip
def test_what_is_refused(table: Path, how: dict, message: str) -> None:
    with pytest.raises(runoff.WeatherError) as caught:
        runoff.read_weather(table, **how)
    assert str(caught.value) == f"both.csv: {message}"


def test_a_station_that_is_not_there(stations: Path) -> None:
    with pytest.raises(runoff.WeatherError, match='there is no station "X" in the file; it holds OSW00000001, OSW'):
        runoff.read_weather(stations, site="X")


def test_one_of_the_sites_of_a_grid_file(tmp_path: Path) -> None:
    data = xr.Dataset(
        {
            "pr": (
                ("site", "time"),
                np.stack([RAIN, 0.5 * RAIN]),
                {"units": "mm", "standard_name": "precipitation_amount"},
            )
        },
        coords={"site": list(SITES), "time": DAYS.astype("datetime64[ns]")},
    )
    data.to_netcdf(tmp_path / "sites.nc")
    one = runoff.read_weather(tmp_path / "sites.nc", site="South", columns={"rain": "pr"})
    assert one["rain"].dims == ("time",)
    assert one["rain"].to_numpy() == pytest.approx(0.5 * RAIN)
    with pytest.raises(runoff.WeatherError, match='there is no site "West" in the file; it holds North, South'):
        runoff.read_weather(tmp_path / "sites.nc", site="West", columns={"rain": "pr"})


def test_check_weather_gives_every_site_a_verdict(table: Path, stations: Path, capsys) -> None:
    assert main(["check-weather", str(table), "--layout", "site_column=station"]) == 0
    said = capsys.readouterr().out
    assert "Weather record: both.csv" in said
    assert re.search(r"STOP  missing rain +1 of 2 sites; South: 20 of 2192 steps in 1 gap", said)
    assert re.search(r"Site by site\n\nLOOK  North .*\nSTOP  South  missing rain\n", said)
    assert "1 of 2 sites can be used (North): choose one, for example --site North; the others need what" in said
    assert main(["check-weather", str(stations)]) == 0
    said = capsys.readouterr().out
    assert re.search(r"Site by site\n\nLOOK  OSW00000001 .*\nLOOK  OSW00000002 ", said)
    assert main(["check-weather", str(stations), "--site", "OSW00000002"]) == 0
    assert "Weather record: station OSW00000002" in capsys.readouterr().out


def test_the_column_of_sites_is_proposed(table: Path, capsys) -> None:
    table.write_text(table.read_text().replace("station,date,rain_mm", "Ort,Tag,RR"))
    proposal = propose_reading(table)
    assert proposal is not None
    assert proposal.options["layout"] == {"site_column": "Ort"}
    assert "--layout site_column=Ort" in proposal.command() and "--site" not in proposal.command()
    assert main(proposal.command().split()[1:]) == 0
    assert "Site by site" in capsys.readouterr().out


def test_a_roof_stands_at_one_of_them(tmp_path: Path, capsys) -> None:
    data = xr.Dataset(
        {"pr": (("site", "time"), np.stack([RAIN, RAIN]), {"units": "mm", "standard_name": "precipitation_amount"})},
        coords={"site": list(SITES), "time": DAYS.astype("datetime64[ns]")},
    )
    data.to_netcdf(tmp_path / "sites.nc")
    roof = Path(__file__).parents[2] / "sample_storms" / "roof_cups_80mm.toml"
    assert main(["simulate", str(roof), str(tmp_path / "sites.nc"), "--column", "rain=pr", "--no-figures"]) == 1
    assert 'the weather holds 2 sites (North, South): choose one, --site "North"' in capsys.readouterr().err


def test_a_file_without_named_sites(tmp_path: Path) -> None:
    data = xr.Dataset(
        {"pr": ("time", RAIN, {"units": "mm", "standard_name": "precipitation_amount"})},
        coords={"time": DAYS.astype("datetime64[ns]")},
    )
    data.to_netcdf(tmp_path / "one.nc")
    with pytest.raises(runoff.WeatherError, match='site "South" is asked for, but the file holds no named sites'):
        runoff.read_weather(tmp_path / "one.nc", site="South", columns={"rain": "pr"})


def test_a_roof_stands_at_one_cell_of_a_grid(tmp_path: Path, capsys) -> None:
    rain = np.broadcast_to(RAIN[:, None, None], (DAYS.size, 2, 2))
    data = xr.Dataset(
        {"pr": (("time", "lat", "lon"), rain, {"units": "mm", "standard_name": "precipitation_amount"})},
        coords={"time": DAYS.astype("datetime64[ns]"), "lat": [47.0, 48.0], "lon": [7.0, 8.0]},
    )
    data.to_netcdf(tmp_path / "grid.nc")
    roof = Path(__file__).parents[2] / "sample_storms" / "roof_cups_80mm.toml"
    assert main(["simulate", str(roof), str(tmp_path / "grid.nc"), "--column", "rain=pr", "--no-figures"]) == 1
    assert "the weather is a grid (lat, lon): a roof stands at one place" in capsys.readouterr().err


def test_what_was_filled_stands_in_the_head_of_a_run(tmp_path: Path, capsys) -> None:
    path = tmp_path / "gap.csv"
    rows = [
        f"{day},{'' if 100 <= k < 110 else rain},4,12" for k, (day, rain) in enumerate(zip(DAYS, RAIN, strict=True))
    ]
    path.write_text("date,rain_mm,tmin_c,tmax_c\n" + "\n".join(rows) + "\n")
    roof = Path(__file__).parents[2] / "sample_storms" / "roof_cups_80mm.toml"
    words = [
        "simulate",
        str(roof),
        str(path),
        "--latitude",
        "47",
        "--no-figures",
        "--no-ranges",
        "--out",
        str(tmp_path),
    ]
    assert main([*words, "--fill", "rain=monthly-mean"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "Filled rain: 10 filled (longest gap 10), missing steps given the mean rain of their month of the year" in said
    )
    assert "raises retention" in said
