"""A store that breaks off while it is read: what the library raises, as a sentence."""

from __future__ import annotations

import contextlib
import traceback
from collections.abc import Iterator
from pathlib import Path

from runoff.errors import RunoffError, WeatherError
from runoff.streaming import target

#: Packages that read weather from disk.
_READERS = ("zarr", "numcodecs", "h5py", "h5netcdf", "scipy")


@contextlib.contextmanager
def damage_told() -> Iterator[None]:
    """Turn what a library raises on a damaged part of the weather into a sentence; everything else goes on as it is.

    Raises
    ------
    WeatherError
        When a part of the weather cannot be read.
    """
    try:
        yield
    except RunoffError:
        raise
    except Exception as error:
        if not _was_read(error):
            raise
        said = str(error).strip().splitlines() or [type(error).__name__]
        raise WeatherError(
            "stream: a part of the weather cannot be read; the store may be damaged or cut short, fetch it again (the library says: "
            f"{said[0][:200]})"
        ) from error


def _was_read(error: Exception) -> bool:
    """Tell whether an error comes from a library that reads, and not on the way to the target."""
    files = [frame.filename for frame in traceback.extract_tb(error.__traceback__)]
    if any(file == target.__file__ for file in files):
        return False
    return any(part in _READERS for file in files for part in Path(file).parts)
