"""Maps of a region: one scale a row, cells without weather left open, what cannot be a map refused."""

import numpy as np
import pytest
import xarray as xr

from runoff.errors import RunoffError
from runoff.plots import region_maps_figure


def region(low: float) -> xr.Dataset:
    """Return made-up figures on 2 x 3 cells, one of them without weather."""
    values = low + np.arange(6.0).reshape(2, 3)
    values[1, 2] = np.nan
    field = (("lat", "lon"), values, {"units": "day/year", "long_name": "dry days"})
    return xr.Dataset({"dry_days": field}, coords={"lat": [46.0, 47.0], "lon": [7.0, 8.0, 9.0]})


def test_a_row_shares_one_scale_and_a_missing_cell_is_open() -> None:
    figure = region_maps_figure({"present": region(3.0), "changed": region(10.0)}, ["dry_days"])
    maps = [axes.collections[0] for axes in figure.axes[:2]]
    assert [one.get_clim() for one in maps] == [(3.0, 14.0)] * 2
    assert [int(np.ma.getmaskarray(one.get_array()).sum()) for one in maps] == [1, 1]
    assert [axes.get_title(loc="left") or axes.get_title() for axes in figure.axes[:2]] == ["present", "changed"]
    assert "Dry days, days/year: present 3 to 7; changed 10 to 14." in figure.description


def test_what_is_no_map_is_refused() -> None:
    with pytest.raises(RunoffError, match=r'"here" has no figure "dry_day" \(did you mean "dry_days"'):
        region_maps_figure({"here": region(1.0)}, ["dry_day"])
    with pytest.raises(
        RunoffError, match=r'dry_days of "here" lies on design, lat, lon; a map needs lat and lon alone'
    ):
        region_maps_figure({"here": region(1.0).expand_dims(design=["a", "b"])}, ["dry_days"])
