"""`runoff stream`: the invented grid without arguments, a run taken up again, refusals."""

import re
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.cli.entry import main

pytest.importorskip("zarr")


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_without_arguments_it_runs_an_invented_grid(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stream"]) == 0
    said = capsys.readouterr().out
    assert (
        "INVENTED" in said
        and "Cells    10 lat x 14 lon; 128 with results" in said
        and "Pieces   1 of 1 finished" in said
    )
    with xr.open_zarr(tmp_path / "results" / "figures.zarr", consolidated=False) as stored:
        rain = stored["annual_rain"].to_numpy()
    # the days are those of the sample of 2015 and 2016 (731 days); rain rises by 7.5 % per 100 m above Ostrey
    grid = runoff.open_sample_grid()
    days = runoff.open_sample().sel(time=slice("2015", "2016"))
    factor = 1.0 + 0.00075 * (float(grid["height"][0, 0]) - float(days["elevation"]))
    assert rain[0, 0] == pytest.approx(float(days["rain"].sum()) / 2 * factor, rel=1e-3)
    assert np.isnan(rain).sum() == 12  # the lake


def test_the_roof_is_told_in_the_units_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    # by hand: 120 m2 / (0.3048 m)^2 = 1,291.7 ft2
    for words, area in (([], "120 m2"), (["--units", "us"], "1,292 ft2")):
        assert main(["stream", "--estimate", "--out", "a.zarr", *words]) == 0
        roof = capsys.readouterr().out.splitlines()[0]
        assert roof.startswith("Roof     ") and roof.endswith(f", {area}, 85 % planted")


def test_what_is_finished_is_not_done_again(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["stream", "--piece", "lat=1", "--series", "overflow", "--out", "a.zarr"]
    assert main(words) == 0
    assert "Pieces   10 of 10 finished" in capsys.readouterr().out
    assert main(words) == 0
    assert "Pieces   all of them were finished by an earlier run" in capsys.readouterr().out
    assert main(["stream", "--out", "a.zarr"]) == 1
    assert "a.zarr holds another run" in capsys.readouterr().err


def test_an_estimate_comes_first_and_may_be_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stream", "--estimate", "--out", "a.zarr"]) == 0
    said = capsys.readouterr().out
    assert (
        "Estimate 140 cells x 731 steps; 1 of 1 pieces to do; under a second on one core; about " in said
        and "MB of memory on one core and " in said
        and "MB more for each further one" in said
    )
    assert "Nothing is run yet" in said
    assert main(["stream", "--workers", "2", "--out", "a.zarr"]) == 0
    assert "128 with results" in capsys.readouterr().out


def test_a_table_of_roofs_and_a_list_of_places(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Path("roofs.csv").write_text(
        "name,medium.depth_mm,board.cup_storage_mm\nas it is,,\nthin,40,\nthin with cups,40,6\n", "utf-8"
    )
    # the grid of the sample lies at the latitude of Ostrey
    latitude = float(runoff.open_sample()["lat"])
    Path("places.csv").write_text(f"lat,lon\n{latitude},8.0\n{latitude + 0.2:.4f},8.3\n", "utf-8")
    assert main(["stream", "--roofs", "roofs.csv", "--cells", "places.csv", "--out", "a.zarr"]) == 0
    said = capsys.readouterr().out
    assert "and 2 more of the table" in said and "2 cells x 731 steps x 3 roofs" in said
    with xr.open_zarr("a.zarr", consolidated=False) as stored:
        assert list(stored["design"].to_numpy()) == ["as it is", "thin", "thin with cups"]
        assert stored["retention"].notnull().sum() == 6
        assert (stored["retention"].sel(design="thin") < stored["retention"].sel(design="as it is")).sum() == 2
    Path("wrong.csv").write_text("name,medium.dept_mm\na,40\n", "utf-8")
    assert main(["stream", "--roofs", "wrong.csv", "--out", "b.zarr"]) == 1
    assert "--roofs wrong.csv: a: " in capsys.readouterr().err
    Path("wrong.csv").write_text("medium.depth_mm\n40\n", "utf-8")
    assert main(["stream", "--roofs", "wrong.csv", "--out", "b.zarr"]) == 1
    assert '--roofs wrong.csv needs a column headed "name"' in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--piece", "lat=0"], "--piece lat must be at least 1 (given 0)"),
        (["--piece", "lat"], '--piece takes NAME=VALUE, for example --piece lat=20 (given "lat")'),
        (["--workers", "0"], "--workers must be at least 1 (given 0)"),
        (["--memory", "0"], "--memory must be above 0 MB (given 0)"),
        (["--out", "a.nc"], '--out: runoff stream writes .zarr or a folder (given "a.nc")'),
        (["roof.toml", "nowhere.zarr"], "runoff stream: roof.toml: there is no such roof file"),
    ],
)
def test_refusals(words: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stream", *words]) == 1
    assert capsys.readouterr().err.startswith(message)


def test_a_mask_of_several_variables(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    grid = runoff.open_sample_grid()
    path = tmp_path / "mask.nc"
    grid[["height"]].assign(land=grid["height"] > 0.0).to_netcdf(path)
    assert main(["stream", "--cells", str(path)]) == 1
    assert "must hold one variable, the mask (it holds height, land)" in capsys.readouterr().err


def test_a_table_of_roofs_may_be_in_inches(tmp_path: Path) -> None:
    """By hand: 4 in are 101.6 mm; 0.1 in of cups are 2.54 mm; a cell may carry its own unit."""
    from runoff.cli.stream_command import _roofs

    Path("roofs.csv").write_text(
        "name,medium.depth_in,board.cup_storage_mm,board.cups_up\na,4,0.1in,True\nb,,3,False\n", "utf-8"
    )
    made = _roofs(runoff.open_sample_roof(), "roofs.csv")
    assert made["a"].build_up.medium.depth_mm == pytest.approx(101.6)
    assert made["a"].build_up.board.cup_storage_mm == pytest.approx(2.54)
    assert made["b"].build_up.medium.depth_mm == runoff.open_sample_roof().build_up.medium.depth_mm
    assert made["b"].build_up.board.cups_up is False
    Path("roofs.csv").write_text("name,medium.depth_in,medium.depth_mm\na,4,100\n", "utf-8")
    with pytest.raises(
        runoff.RunoffError, match=re.escape("names medium.depth_mm in two columns; leave one of the two out")
    ):
        _roofs(runoff.open_sample_roof(), "roofs.csv")


def test_a_unit_that_is_wrong_in_the_store_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 1 in is 25.4 mm, so rain that is divided by 25.4 and said to be in inches is the rain of the grid."""
    grid = runoff.open_sample_grid().sel(time=slice("2015", "2016"))[["rain", "tmin", "tmax"]].isel(lat=[0], lon=[0, 1])
    inches = (
        grid.assign(rain=(grid["rain"] / 25.4).assign_attrs(units="mm")).rename(rain="amount").drop_attrs(deep=False)
    )
    inches.drop_encoding().to_zarr("in.zarr", zarr_format=3, consolidated=False)
    Path("roof.toml").write_text(runoff.open_sample_roof("cups").to_toml(), encoding="utf-8")
    words = [
        "stream",
        "roof.toml",
        "in.zarr",
        *(f"--column={name}" for name in ("rain=amount", "tmin=tmin", "tmax=tmax")),
    ]
    assert main([*words, "--out", "a.zarr"]) == 1
    said = " ".join(capsys.readouterr().err.split())
    assert "inches, cm or m read as mm" in said and said.endswith("If the amounts are right, say --trust-unit")
    assert main([*words, "--unit", "rain=in", "--out", "a.zarr"]) == 0
    assert main([*words, "--trust-unit", "--out", "b.zarr"]) == 0
    assert main(["stream", "--trust-unit"]) == 1
    assert "belong to a grid of your own" in capsys.readouterr().err
    with xr.open_zarr("a.zarr", consolidated=False) as mended, xr.open_zarr("b.zarr", consolidated=False) as trusted:
        years = grid["rain"].sum("time") / 2
        np.testing.assert_allclose(mended["annual_rain"], years, rtol=2e-3)
        np.testing.assert_allclose(trusted["annual_rain"] * 25.4, years, rtol=2e-3)
    with pytest.raises(
        runoff.RunoffError, match="trust_unit belongs to weather on disk; of a Dataset, rename variables and"
    ):
        runoff.stream(runoff.open_sample_roof("cups"), grid, "c.zarr", trust_unit=True)
