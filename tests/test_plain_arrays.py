"""Numbers between the door and the labels: put together again, they are what xarray itself would make of them."""

import numpy as np
import pytest
import xarray as xr

from runoff.plain_arrays import put_together, with_names, with_variables


@pytest.fixture
def site() -> xr.Dataset:
    """Return two steps at an invented place, with an index, a label along ``time`` and one number for all."""
    labels = {"time": np.array(["2001-06-01", "2001-06-02"], "datetime64[ns]"), "lat": 50.0, "hour": ("time", [3, 4])}
    return xr.Dataset(coords=labels, attrs={"source": "invented"})


def made() -> dict[str, xr.Variable]:
    numbers = {"rain": np.array([1.0, 2.0]), "area": np.float64(80.0), "wet": xr.Variable("time", [True, False])}
    return with_names(numbers, lambda name: ("time",), {name: {"long_name": name} for name in numbers})


@pytest.mark.parametrize("quick", [True, False], ids=["as the installed xarray does", "without its quick way"])
def test_put_together_is_what_xarray_makes_of_the_same(
    site: xr.Dataset, monkeypatch: pytest.MonkeyPatch, quick: bool
) -> None:
    if not quick:
        monkeypatch.setattr("runoff.plain_arrays._DIRECTLY", None)
    whole, theirs = put_together(made(), site.coords, site.attrs), xr.Dataset(made(), site.coords, site.attrs)
    xr.testing.assert_identical(whole, theirs)
    assert list(whole.variables) == list(theirs.variables) and list(whole.coords) == list(theirs.coords)
    assert dict(whole.sizes) == {"time": 2} and list(whole.indexes) == ["time"]
    assert isinstance(whole.variables["area"].values, np.ndarray) and whole["wet"].dtype == bool


def test_what_is_written_on_the_whole_stays_off_its_parts(site: xr.Dataset) -> None:
    whole = put_together(made(), site.coords, site.attrs)
    whole["time"].attrs["axis"] = "T"
    whole.attrs["source"] = "another"
    assert site["time"].attrs == {} and site.attrs == {"source": "invented"}


def test_labels_without_indexes_get_them(site: xr.Dataset) -> None:
    month = np.arange(1, 13)
    whole = put_together({"rain": xr.Variable("month", month * 1.0)}, {"month": month, "lat": site["lat"]}, {})
    assert float(whole["rain"].sel(month=7)) == 7.0 and float(whole["lat"]) == 50.0


def test_lengths_that_do_not_agree_are_refused(site: xr.Dataset) -> None:
    with pytest.raises(ValueError, match="conflicting sizes for dimension 'time'"):
        put_together({"rain": xr.Variable("time", [1.0, 2.0, 3.0])}, site.coords, {})


def test_further_variables_are_what_xarray_assigns(site: xr.Dataset) -> None:
    site = put_together(made(), site.coords, site.attrs)
    site.encoding = {"source": "invented.nc"}
    given = {"rain": xr.Variable("time", [3.0, 4.0], {"units": "mm"}), "snow": xr.Variable("time", [0.0, 1.0])}
    whole, theirs = with_variables(site, given), site.assign(given)
    xr.testing.assert_identical(whole, theirs)
    assert list(whole.data_vars) == list(theirs.data_vars) and list(whole.coords) == list(theirs.coords)
    assert whole.encoding == theirs.encoding
    whole["rain"].attrs["units"] = whole["area"].attrs["long_name"] = "another"
    assert given["rain"].attrs == {"units": "mm"} and site["area"].attrs == {"long_name": "area"}
    assert site["rain"].values.tolist() == [1.0, 2.0]
