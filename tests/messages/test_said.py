"""Sentences that no other test hears, each said once and compared whole or from its start."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff import plots
from runoff.cli.entry import main

DAYS = pd.date_range("2001-05-01", periods=30)


class Things:
    """What the refused calls are made with."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.roof = runoff.open_sample_roof("cups")
        self.weather = runoff.open_sample().isel(time=slice(0, 800))
        self.run = runoff.simulate(self.roof, self.weather)
        self.swept = runoff.sweep(
            self.roof, self.weather, {"medium.depth_mm": [60, 80], "board.cup_storage_mm": [0, 3]}
        )
        self.two_places = xr.concat([self.weather, self.weather], "site")
        self.tray = pd.DataFrame({"water_mm": np.linspace(20.0, 5.0, 30), "reference_et": 3.0, "rain": 0.0}, index=DAYS)

    def file(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return path

    def netcdf(self, coords: dict[str, Any], rain: Any = (1.0, 2.0)) -> Path:
        data = xr.Dataset({"rain": ("time", np.array(rain), {"units": "mm"})}, coords=coords)
        data.to_netcdf(self.folder / "w.nc", engine="h5netcdf")
        return self.folder / "w.nc"

    def size(self, targets: dict, **words: Any) -> xr.Dataset:
        return runoff.size(self.roof, self.weather, targets, {"medium.depth_mm": [60, 80]}, members=0, **words)


@pytest.fixture(scope="module")
def things(tmp_path_factory: pytest.TempPathFactory) -> Things:
    return Things(tmp_path_factory.mktemp("said"))


SAID: list[tuple[Callable[[Things], Any], str]] = [
    (lambda t: runoff.facts_text(runoff.summarize(runoff.simulate({"a": t.roof}, t.weather))),
     "facts_table: the figures have dimensions design; select one design and site first, for example facts.isel(design=0)"),
    (lambda t: plots.build_up_section_figure(t.roof, water={"cups_water": 1.0}),
     'build_up_section_figure: "cups_water" is no store (did you mean "cup_water"?); stores are surface_water, medium_water'),
    (lambda t: plots.year_figure(t.weather), "year_figure: needs a Dataset that runoff.simulate returned (it lacks overflow"),
    (lambda t: plots.year_figure(xr.concat([t.run, t.run], "design")),
     "year_figure: the run has dimensions design; select one first, for example run.isel(design=0)"),
    (lambda t: plots.year_figure(t.run * np.nan),
     "year_figure: the run is missing throughout, because its weather is; choose another cell"),
    (lambda t: plots.trade_off_figure(t.swept, "retnetion"),
     'trade_off_figure: the table has no figure "retnetion" (did you mean "retention"?)'),
    (lambda t: plots.heat_map_figure(t.swept, "medium.depth_mm", "board.cup_storage_mm", figure="retnetion"),
     'heat_map_figure: the table has no figure "retnetion" (did you mean "retention"?)'),
    (lambda t: plots.outlet_rating_figure([0, 1, 2], {"a": [1.0, 2.0]}), "outlet_rating_figure: a has 2 flows for 3 levels"),
    (lambda t: t.roof.build_up.layer("sedum"), '"sedum" is no layer (did you mean "medium"?); layers are planting, mulch,'),
    (lambda t: runoff.simulate("roof.toml", t.weather),
     "simulate: roof must be a runoff.Roof, or a list or dict of them (given str)"),
    (lambda t: runoff.simulate(t.roof, t.weather, rules={"x": 1}),
     "simulate: rules must be a runoff.RunRules(...) (given dict)"),
    (lambda t: runoff.simulate(t.roof, t.weather, start_state=t.run[["rain"]]),
     "simulate: start_state lacks surface_water, held_water, cup_water, mat_water, free_water, snow_water; give a Dataset"),
    (lambda t: t.size({"cost": {"at_most": 1}}, prices={"medium.depth_mm": {60: 1}}),
     'prices: medium.depth_mm has no price for "80.0"; priced are 60'),
    (lambda t: t.size({"retention": 0.4}), 'targets: retention needs {"at_least": value} or {"at_most": value} (you wrote 0.4)'),
    (lambda t: t.size({"waterlogged_days": {"at_most": -1}}), "targets: waterlogged_days can never be -1 or less"),
    (lambda t: runoff.uncertainty(t.roof, runoff.open_sample(), members=20, targets={"cost": {"at_most": 3}}),
     "uncertainty: the cost of a build-up is not uncertain here; leave that target to runoff.size"),
    (lambda t: runoff.design_storm(depth_mm=10, duration=24, step="5min"),
     'design_storm: duration 24 has no unit; write it with its unit, for example "5min", "1h" or "24h"'),
    (lambda t: runoff.DepthDurationTable.from_rows({"5min": [1, 2]}, return_periods_years=[2, 10], units="mm", series="both"),
     'typed: series "both" must be "annual-maximum" or "partial-duration"'),
    (lambda t: runoff.DepthDurationTable.from_rows({"5min": [1, 2]}, return_periods_years=[2, 10], units="degC"),
     'typed: units "degC" measure temperature; give depths (mm, in) or intensities (mm/h, in/h)'),
    (lambda t: runoff.DepthDurationTable.from_rows({"5min": [1, 2]}, return_periods_years=[], units="mm"),
     "typed: no return periods; give return_periods_years, one per column, for example [2, 10, 100]"),
    (lambda t: runoff.DepthDurationTable.from_dataarray(t.weather["rain"]),
     "DepthDurationTable: the depths lie on time; give an array on duration and return_period, as the `depth` of runoff.return_levels is"),
    (lambda t: plots.storm_comparison_figure(t.weather), "storm_comparison_figure: give what runoff.compare_storm returned"),
    (lambda t: runoff.read_depth_duration(t.file("dd.csv", "duration,2,10\n"), units="mm"),
     "dd.csv: there is a header and no row below it; each row is a duration and its depths"),
    (lambda t: runoff.read_depth_duration(t.file("dd.csv", "duration,2,10\n5min,1,2\n5min,1,2\n"), units="mm"),
     "dd.csv: duration 5min is given twice; keep one row per duration"),
    (lambda t: runoff.fit_tray(t.tray[["reference_et", "rain"]], 60.0),
     "fit_tray: needs a column water_mm or weight_kg (given are reference_et, rain)"),
    (lambda t: runoff.fit_tray(t.tray), "fit_tray: depth_mm is needed beside a table, the depth of the medium in the tray"),
    (lambda t: runoff.fit_tray(t.tray.assign(reference_et=[np.nan, *[3.0] * 29]), 60.0),
     "fit_tray: reference_et is missing on some days; every day between two readings needs it"),
    (lambda t: runoff.fit_tray(
        t.tray, 60.0, wilting_point=0.05, field_capacity=0.3, crop_coefficient=1.0, depletion_fraction=0.3),
     "fit_tray: every quantity is given, nothing is left to fit; leave one out"),
    (lambda t: runoff.fit_roof(t.roof, t.two_places, pd.Series([1.0], index=DAYS[:1])),
     "fit_roof: weather must be one series of calendar dates, as the observation is"),
    (lambda t: runoff.write_dossier(t.roof, t.two_places, t.folder / "a.html"),
     "dossier: the weather has dimensions site, time; a dossier is for one site, select one"),
    (lambda t: runoff.write_dossier(t.roof, t.weather, t.folder / "a.html", storms=3),
     "dossier: storms is a int; give a DepthDurationTable or the path of such a table"),
    (lambda t: runoff.read_weather(t.file("w.csv", "date,rain_mm\n2001-01-01,1\n2001-01-02,2\n"), fill={"snow": "zero"}),
     "w.csv: fill takes rain, temperature, wind, humidity, radiation, reference_et (given snow)"),
    (lambda t: runoff.read_weather(t.file("w.csv", "date,rain_mm\n2001-01-01,1\n2001-01-02,2\n"), latitude=99),
     "w.csv: latitude lies between -90 and 90 degrees, south negative (given 99)"),
    (lambda t: runoff.read_weather(t.file("w.csv", "STATION,DATE,PRCP,TMAX,TMIN\n")),
     "w.csv: the file has a header and no lines of values"),
    (lambda t: runoff.read_weather(t.netcdf({})), "w.nc: its dimension `time` has no dates: a variable `time` along it is"),
    (lambda t: runoff.read_weather(t.netcdf({"time": DAYS[:2]}, ("a", "b"))), "w.nc: rain: it holds no numbers"),
    (lambda t: runoff.read_weather(t.netcdf({"time": ("time", [0.0, np.nan], {"units": "days since 2001-01-01"})})),
     "w.nc: time: 1 step without a date"),
    (lambda t: runoff.read_weather(t.netcdf({"time": DAYS[:2], "lat": ("x", ["a"], {"standard_name": "latitude"})})),
     "w.nc: lat: it holds no numbers; it must be degrees, north positive"),
    (lambda t: runoff.read_weather(t.netcdf({"time": DAYS[:2], "lat": ((), 120.0, {"standard_name": "latitude", "units": "degrees_north"})})),
     "w.nc: lat: 120 lies outside -90 to 90 degrees, north positive"),
]  # fmt: skip


@pytest.mark.parametrize(("call", "sentence"), SAID, ids=[sentence[:40] for _, sentence in SAID])
def test_a_call_is_refused_in_these_words(call: Callable[[Things], Any], sentence: str, things: Things) -> None:
    with pytest.raises(runoff.RunoffError) as refused:
        call(things)
    assert str(refused.value).startswith(sentence)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["simulate", "--template", "--out", "roof.nc"], '--out: a roof file ends in .toml (given "roof.nc")'),
        (["simulate", "--out", "taken.nc"], "--out: there is a folder called taken.nc; choose another name for the file"),
        (["sweep", "--try", "medium.depth_mm=60", "--try", "medium.depth_mm=80"],
         '--try names medium.depth_mm twice; give all its values at once (given "medium.depth_mm=80")'),
        (["sweep", "--at-least", "retention=0.3", "--at-least", "retention=0.4"],
         "--at-least names retention twice; give it once"),
    ],
)  # fmt: skip
def test_a_command_is_refused_in_these_words(
    words: list[str], sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "taken.nc").mkdir()
    assert main(words) == 1
    assert capsys.readouterr().err.strip().splitlines()[0] == sentence
