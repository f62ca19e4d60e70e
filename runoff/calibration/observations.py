"""Measured overflow: read from a file, brought to one value per day. A day without a reading is missing, never zero."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from runoff.errors import RunoffError, raise_faults
from runoff.units import convert

if TYPE_CHECKING:
    import pandas as pd

#: Overflow of the invented monitored roof, beside the other sample files.
OBSERVED_FILE = "ostrey_monitored_roof.csv"
_MISSING = ("", "nan", "na", "-")


def read_observed(path: str | Path, *, column: str | None = None, units: str | None = None) -> pd.Series:
    """Read daily overflow from a table: a date and a depth per row, comma separated, lines with ``#`` left out.

    Parameters
    ----------
    path
        The file. Its first column is the date (year-month-day).
    column
        Name of the column with the overflow; default the second.
    units
        Unit of the overflow; default the end of the column's name, ``overflow_mm`` or ``overflow_in``.

    Returns
    -------
    pandas.Series
        Overflow, mm per day. An empty field is missing.

    Raises
    ------
    RunoffError
        Naming every row that cannot be read.
    """
    import csv

    import pandas as pd

    path = Path(path)
    lines = path.read_text(encoding="utf-8-sig").splitlines()
    rows = [(number, line) for number, line in enumerate(lines, 1) if line.strip() and not line.startswith("#")]
    table = list(csv.reader(line for _, line in rows))
    if len(table) < 2 or len(table[0]) < 2:
        raise RunoffError(f"{path.name}: needs a heading such as date,overflow_mm and one row per day")
    heading = [name.strip() for name in table[0]]
    if column is not None and column not in heading:
        raise RunoffError(f'{path.name}: there is no column "{column}"; it has {", ".join(heading)}')
    at = heading.index(column) if column is not None else 1
    unit = units or heading[at].rpartition("_")[2]
    try:
        convert(1.0, unit, "mm")
    except ValueError:
        raise RunoffError(
            f'{path.name}: the unit of "{heading[at]}" is not known; end its name with it, overflow_mm or overflow_in, or give units'
        ) from None
    days, depths, faults = [], [], []
    for (number, _), row in zip(rows[1:], table[1:], strict=True):
        try:
            days.append(pd.Timestamp(row[0].strip()))
            text = row[at].strip() if len(row) > at else ""
            depths.append(np.nan if text.lower() in _MISSING else float(convert(float(text), unit, "mm")))
        except ValueError:
            faults.append(f"line {number} cannot be read (it says {','.join(row)})")
    raise_faults(path.name, faults)
    return pd.Series(depths, index=pd.DatetimeIndex(days, name="date"), name="observed")


def sample_observations() -> pd.Series:
    """Return the overflow of the invented monitored roof of Ostrey, mm per day over the whole roof."""
    from runoff.sample_files import sample_folder

    return read_observed(sample_folder() / OBSERVED_FILE)


def observed_days(observed: Any, start: str | None = None, end: str | None = None) -> pd.Series:
    """Return measured overflow as one value per day, mm, or say all that is wrong with it.

    Parameters
    ----------
    observed
        pandas Series on dates (mm) or xarray DataArray on ``time`` (mm, or with units).
    start, end
        First and last day used.
    """
    import pandas as pd

    if hasattr(observed, "to_series"):
        unit = observed.attrs.get("units", "mm")
        observed = observed.to_series()
        observed = observed if unit == "mm" else convert(observed, unit, "mm")
    if not isinstance(observed, pd.Series) or not isinstance(observed.index, pd.DatetimeIndex):
        raise RunoffError(
            "fit_roof: observed must be a pandas Series on dates, or a DataArray on time, of overflow in mm per day"
        )
    days = observed.astype(float).sort_index()
    days.index = pd.DatetimeIndex(days.index).floor("D")
    days = days.loc[start:end]
    faults = []
    twice = days.index[days.index.duplicated()]
    if len(twice):
        faults.append(
            f"observed holds {len(twice)} days more than once, the first {twice[0].date()}; steps shorter than a day "
            "are summed to days first, and a day with a missing step is missing"
        )
    wrong = days[(days < 0) | np.isinf(days)]
    if len(wrong):
        faults.append(
            f"observed is negative or infinite on {len(wrong)} days, the first {wrong.index[0].date()} ({wrong.iloc[0]:g} mm); "
            "write a missing value as NaN"
        )
    raise_faults("fit_roof", faults)
    return days.rename("observed")
