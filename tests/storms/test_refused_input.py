"""Tables, formulas and records that cannot be what they are called: each refusal by its words."""

import csv
import dataclasses

import numpy as np
import pytest
import xarray as xr

from runoff.errors import StormError
from runoff.storms.depth_duration import DepthDurationTable
from runoff.storms.depth_duration_files import read_annual_maxima, read_depth_duration
from runoff.storms.intensity_curves import fit_intensity
from runoff.storms.rain_maxima import largest_depths


def test_a_table_put_together_wrongly() -> None:
    with pytest.raises(StormError) as said:
        DepthDurationTable(
            durations_min=(5.0, 60.0),
            return_periods_years=(),
            depths_mm=((1.0,),),
            series="annual-maximum",
            source="typed",
        )
    assert "typed: no return periods; name them, for example 2, 10, 100 years" in str(said.value)
    assert "typed: 1 rows of depths for 2 durations" in str(said.value)


def test_a_cell_without_end_in_a_table(tmp_path) -> None:
    path = tmp_path / "table.csv"
    path.write_text(f"# units: mm\nduration,2,10\n5min,6,{'9' * (csv.field_size_limit() + 1)}\n1h,16,26\n")
    with pytest.raises(StormError, match=r"table\.csv: its lines cannot be split into cells \(field larger than"):
        read_depth_duration(path)


@pytest.mark.real_weather
def test_a_row_of_annual_maxima_cut_short(shared_data, tmp_path) -> None:
    found = next(shared_data.rglob("*MONTREAL*.txt"), None)
    assert found is not None
    lines = found.read_bytes().decode("latin-1").split("\n")
    start = next(i for i, line in enumerate(lines) if line.strip().startswith("Table 1 "))
    at = next(i for i in range(start, len(lines)) if lines[i].strip()[:4].isdigit())
    year = lines[at].split()[0]
    lines[at] = lines[at].rstrip().rsplit(maxsplit=1)[0]
    path = tmp_path / "station.txt"
    path.write_bytes("\n".join(lines).encode("latin-1"))
    with pytest.raises(StormError, match=f"table 1 has the wrong number of values in {year}; expected 9"):
        read_annual_maxima(path)


def test_no_durations() -> None:
    rain = xr.DataArray(
        np.ones(48), {"time": np.arange("2020-01-01", "2020-01-03", dtype="datetime64[h]").astype("datetime64[ns]")},
        "time", name="rain", attrs={"units": "mm"},
    )  # fmt: skip
    with pytest.raises(StormError, match="no durations are given; name one or more, for example"):
        largest_depths(rain, [])


def test_depths_that_no_talbot_curve_can_hold() -> None:
    # i = 100 / (t - 2): the line 1/i of t cuts the axis below zero. No table that rises holds it, so it is put into a curve by hand
    minutes = (5.0, 10.0, 30.0, 60.0)
    table = DepthDurationTable.from_rows(
        {f"{t:g}min": [t, 2.0 * t] for t in minutes}, return_periods_years=[2, 10], units="mm", series="annual-maximum",
        source="typed",
    )  # fmt: skip
    falling = dataclasses.replace(table.curve(2), depths_mm=tuple(100.0 / (t - 2.0) * t / 60.0 for t in minutes))
    with pytest.raises(StormError, match="a talbot curve does not suit these durations"):
        fit_intensity(falling, form="talbot")
