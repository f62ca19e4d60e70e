"""Stores that fail while they are read or written: what the library raises, as a sentence."""

from __future__ import annotations

import contextlib
import errno
import traceback
from collections.abc import Iterator
from pathlib import Path

from runoff.errors import RunoffError, WeatherError
from runoff.streaming import target as targets

#: Packages that read weather from disk.
_READERS = ("zarr", "numcodecs", "h5py", "h5netcdf", "scipy")
#: What only writing meets, and what to do about it.
_OF_THE_DISK = {
    errno.ENOSPC: "make room",
    errno.EDQUOT: "make room",
    errno.EROFS: "let it be written to",
    errno.EFBIG: "let larger files be written",
}


def is_of_the_disk(error: BaseException) -> bool:
    """Tell whether an error says that a disk takes nothing more."""
    return isinstance(error, OSError) and error.errno in _OF_THE_DISK


@contextlib.contextmanager
def damage_told(place: Path) -> Iterator[None]:
    """Turn what a library raises on a damaged part of the weather, or a full disk, into a sentence; everything else goes on as it is.

    Parameters
    ----------
    place
        The target, as it was given.

    Raises
    ------
    WeatherError
        When a part of the weather cannot be read.
    RunoffError
        When the target cannot be written.
    """
    try:
        yield
    except RunoffError:
        raise
    except Exception as error:
        if is_of_the_disk(error) or (isinstance(error, OSError) and _passed_target(error)):
            raise RunoffError(_cannot_write(place, error)) from error
        if not _was_read(error):
            raise
        said = str(error).strip().splitlines() or [type(error).__name__]
        raise WeatherError(
            "stream: a part of the weather cannot be read; the store may be damaged or cut short, fetch it again (the library says: "
            f"{said[0][:200]})"
        ) from error


def _cannot_write(place: Path, error: BaseException) -> str:
    number = error.errno if isinstance(error, OSError) else None
    fix = _OF_THE_DISK.get(number or 0, "let it be written to")
    reason = (error.strerror if isinstance(error, OSError) else None) or error
    if not targets.is_begun(place):
        return f"stream: cannot write {place}: {reason}; nothing is left of it. {fix.capitalize()}, or choose another folder"
    marks = targets.marks(place)
    return (
        f"stream: cannot write into {place}: {reason}; {int((marks > 0).sum())} of {marks.size} pieces are finished and kept. "
        f"{fix.capitalize()} and call it again: the rest is done"
    )


def _files(error: BaseException) -> list[str]:
    return [frame.filename for frame in traceback.extract_tb(error.__traceback__)]


def _passed_target(error: BaseException) -> bool:
    return targets.__file__ in _files(error)


def _was_read(error: Exception) -> bool:
    """Tell whether an error comes from a library that reads, and not on the way to the target."""
    return not _passed_target(error) and any(part in _READERS for file in _files(error) for part in Path(file).parts)
