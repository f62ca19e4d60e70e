"""Damage to roots over a season, worked by hand from the bands: to 2 days none, 3-7, 8-14, 15-27, 28 and more."""

import numpy as np
import pandas as pd
import xarray as xr

from runoff.findings.spells import damage_index


def run(wet: list[bool], warm: float, start: str, lat: float = 50.0) -> xr.Dataset:
    time = pd.date_range(start, periods=len(wet))
    days = {"waterlogged": ("time", wet), "tmean": ("time", [warm] * len(wet))}
    return xr.Dataset(days, coords={"time": time, "lat": lat})


def test_damage_stays_until_the_season_begins() -> None:
    # ten wet days from 10 February, then dry: band 1 from the third day, 2 from the eighth; it stays till 1 March and is 0 then
    wet = [True] * 10 + [False] * 20
    index = damage_index(run(wet, 10.0, "2001-02-10")).to_numpy()
    assert index.tolist() == [0] * 2 + [1] * 5 + [2] * 12 + [0] * 11


def test_cold_days_do_no_damage() -> None:
    assert damage_index(run([True] * 30, 4.9, "2001-05-01")).max() == 0
    assert damage_index(run([True] * 30, 5.0, "2001-05-01")).max() == 4  # the 28th day


def test_in_the_south_the_season_begins_in_september() -> None:
    wet = [True] * 3 + [False] * 60
    south = damage_index(run(wet, 10.0, "2001-08-01", lat=-35.0))
    north = damage_index(run(wet, 10.0, "2001-08-01"))
    assert south.sel(time="2001-08-31") == 1 and south.sel(time="2001-09-01") == 0 and north.sel(time="2001-09-01") == 1
    assert np.isin(south, (0, 1)).all()
