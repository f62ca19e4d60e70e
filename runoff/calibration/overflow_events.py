"""Events of a record in minutes: volume, peak and when it came, measured and modelled."""

from __future__ import annotations

import numpy as np
import pandas as pd
import xarray as xr

from runoff.storms.event_separation import rain_events

#: Events with less overflow than this tell little of peaks, mm.
LEAST_MM = 1.0
#: The overflow of an event is followed until the next rain, or so long after the last.
_TAIL = pd.Timedelta("12h")


def event_peaks(series: pd.DataFrame, rain: xr.DataArray) -> pd.DataFrame:
    """Return the events of a record that ran off, measured and modelled.

    Parameters
    ----------
    series
        ``observed``, ``described``, ``fitted`` (mm per step) and ``part`` at regular steps shorter than a day.
    rain
        Rain of the same time, mm per step.

    Returns
    -------
    pandas.DataFrame
        One row per event with at least 1 mm of measured overflow and no reading missing: ``start``, ``rain_mm``, ``part``,
        ``peak_time`` (of the measured peak), and for each of the three ``_mm`` (volume), ``_peak`` (largest step, mm/h) and, but for the measured one, ``_lag_min`` (how much
        later than measured its peak comes).
    """
    index = pd.DatetimeIndex(series.index)
    hours = float((index[1] - index[0]) / pd.Timedelta("1h"))
    found = rain_events(rain, minimum_gap="6h", missing="split")
    starts, ends = (pd.DatetimeIndex(found[name].to_numpy()) for name in ("start", "end"))
    following = np.append(starts[1:].to_numpy(), index[-1:].to_numpy())
    until = np.minimum(following, (ends + _TAIL).to_numpy())
    rows = []
    for start, end, depth in zip(starts, pd.DatetimeIndex(until), found["depth"].to_numpy(), strict=True):
        event = series.loc[start : end - pd.Timedelta("1s")]
        if event.empty or event["observed"].isna().any() or event["observed"].sum() < LEAST_MM:
            continue
        row = {"start": start, "rain_mm": float(depth), "part": event["part"].iloc[0]}
        top = int(np.argmax(event["observed"].to_numpy()))
        for name in ("observed", "described", "fitted"):
            row[f"{name}_mm"] = float(event[name].sum())
            row[f"{name}_peak"] = float(event[name].max()) / hours
            if name == "observed":
                row["peak_time"] = event.index[top]
            else:
                row[f"{name}_lag_min"] = 60.0 * hours * (int(np.argmax(event[name].to_numpy())) - top)
        rows.append(row)
    return pd.DataFrame(rows)
