"""A Dataset as the bytes of a NetCDF file, in half the time: what has just been made is not looked up again.

The library that writes NetCDF asks the file by name for every variable whenever it touches one, some thirty times each, and a lookup
opens the variable anew. A file that remembers what it has opened holds the same; where it is long, HDF5 may lay its parts out in
another order, as it puts aside what is closed.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import h5netcdf
import h5py
from xarray.backends import H5NetCDFStore

if TYPE_CHECKING:
    import xarray as xr


class RememberingFile(h5py.File):
    """A file of HDF5 to be written that opens each of its members once."""

    def __init__(self, *arguments: Any, **words: Any) -> None:
        super().__init__(*arguments, **words)
        self._opened: dict[str, Any] = {}

    def __getitem__(self, name: Any) -> Any:
        """Return a member by its name, or by a reference to it."""
        if not isinstance(name, str):
            return super().__getitem__(name)
        if name == "/":
            return self
        path = name.lstrip("/")
        if path not in self._opened:
            self._opened[path] = super().__getitem__(path)
        return self._opened[path]

    def __delitem__(self, name: str) -> None:
        """Remove a member; another may take its name."""
        self._opened.pop(name.lstrip("/"), None)
        super().__delitem__(name)


def netcdf_content(dataset: xr.Dataset) -> memoryview:
    """Return a Dataset as the content of a NetCDF file, which holds what ``dataset.to_netcdf(engine="h5netcdf")`` gives it.

    Parameters
    ----------
    dataset
        What is written; what is still to be worked out is worked out first.

    Returns
    -------
    memoryview
        The bytes of the file.
    """
    content = io.BytesIO()
    with RememberingFile(content, "w", track_order=True) as file, h5netcdf.File(file, "w") as netcdf:
        dataset.compute().dump_to_store(H5NetCDFStore(netcdf))
    return content.getbuffer()
