"""Weather that comes with a package of the test extra."""

import importlib.metadata
from pathlib import Path
from typing import Any

import pytest
import xarray as xr

import runoff


def seattle(**options: Any) -> xr.Dataset:
    """Read the days of Seattle, 2012 to 2015, or skip where the package is not installed."""
    try:
        package = importlib.metadata.distribution("vega-datasets")
    except importlib.metadata.PackageNotFoundError:
        pytest.skip("the package vega-datasets (extra [test]) is not installed")
    return runoff.read_weather(
        Path(str(package.locate_file("vega_datasets/_data/seattle-weather.csv"))),
        columns={"time": "date", "rain": "precipitation", "tmax": "temp_max", "tmin": "temp_min"},
        units={"rain": "mm", "tmax": "degC", "tmin": "degC"},
        latitude=47.6,
        **options,
    )
