"""An invented monitored roof in the invented town of Ostrey: overflow of two years, with known hidden values.

Nothing here was measured. The sample roof is run with other values than its description has, its daily overflow is
disturbed as a gauge would disturb it, rounded, and a few days are lost. ``python -m runoff.calibration.invented_monitoring
FOLDER`` writes the sample file again, byte for byte.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from runoff.calibration.observations import OBSERVED_FILE
from runoff.roof import open_sample_roof
from runoff.simulation import simulate
from runoff.weather import open_sample
from runoff.writing import write_text

if TYPE_CHECKING:
    import pandas as pd

#: What the roof "really" has, hidden from the fit; the sample roof is described with 0.33 and 1.0.
HIDDEN = {"medium.field_capacity": 0.38, "planting.crop_coefficient": 0.8}
FIRST_YEAR, LAST_YEAR = 2014, 2015
NOISE = 0.05  # standard deviation of the gauge, share of the reading
LOST_DAYS = 12
SEED = 2207

_HEADER = f"""\
# INVENTED for demonstration: the town of Ostrey does not exist and nothing here was measured.
# Made by: python -m runoff.calibration.invented_monitoring (seed {SEED})
# Daily overflow (mm over the whole roof) of the sample roof with hidden values: {", ".join(f"{name} {value:g}" for name, value in HIDDEN.items())};
# {100 * NOISE:g} % noise on every reading, {LOST_DAYS} days lost (empty: missing, not zero).
"""


def invented_observations(*, noise: float = NOISE, lost_days: int = LOST_DAYS, seed: int = SEED) -> pd.Series:
    """Return the daily overflow of the invented monitored roof, mm over the whole roof.

    Parameters
    ----------
    noise
        Standard deviation of the gauge, share of the reading; 0 gives the model itself, not rounded.
    lost_days
        Days without a reading.
    seed
        Seed of noise and lost days.

    Returns
    -------
    pandas.Series
        mm a day on dates; NaN on lost days.
    """
    weather = open_sample().sel(time=slice(str(FIRST_YEAR - 1), str(LAST_YEAR)))
    run = simulate(open_sample_roof("cups").replace(HIDDEN), weather, warm_up_years=0)
    overflow = run["roof_overflow"].sel(time=slice(str(FIRST_YEAR), str(LAST_YEAR)))
    series = overflow.to_series().rename("overflow_mm")
    rng = np.random.default_rng(seed)
    if noise:
        # a sum of twelve uniform numbers less six: near enough normal, and the same on every machine
        wobble = rng.random((len(series), 12)).sum(axis=1) - 6.0
        series = (series * (1.0 + noise * wobble)).clip(lower=0.0).round(2)
    lost = np.argsort(rng.random(len(series)))[:lost_days]
    series.iloc[lost] = np.nan
    return series


def observations_text() -> str:
    """Return the sample file as text."""
    rows = [
        f"{day:%Y-%m-%d},{'' if np.isnan(depth) else format(depth, '.2f')}"
        for day, depth in invented_observations().items()
    ]
    return _HEADER + "date,overflow_mm\n" + "\n".join(rows) + "\n"


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("usage: python -m runoff.calibration.invented_monitoring FOLDER")
    print(write_text(Path(sys.argv[1]) / OBSERVED_FILE, observations_text()))
