"""One line of the quality report."""

from __future__ import annotations

import dataclasses

import xarray as xr

from runoff.weather.record.time_axis import stamp_words


@dataclasses.dataclass(frozen=True)
class Check:
    """What was looked at, the verdict, what was found, and what to do when it is not good."""

    name: str
    verdict: str
    found: str
    advice: str = ""


def stamp_at(data: xr.Dataset, position: int) -> str:
    """Return the stamp of a step in words."""
    return stamp_words(data["time"].to_numpy()[position])


def latitude_of(data: xr.Dataset | xr.DataArray) -> float | None:
    """Return the latitude of one record, degrees, or None where nobody says."""
    return float(data["lat"]) if "lat" in data.coords and data["lat"].ndim == 0 else None
