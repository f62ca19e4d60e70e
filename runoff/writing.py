"""Writing files: whole or not at all, and one run at a time in a folder.

Content is formed in memory, written to a neighbour of the file and put in its place in one step. A stop at any moment, a
full disk or a lost connection leaves the old file or the new one, never half of either.
"""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from runoff.errors import RunoffError

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

_LOCK = ".runoff-is-writing"
#: Cells that begin with one of these are taken for formulas by spreadsheets.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_FIXES = {
    errno.ENOSPC: "make room or choose another place; what was there before is unchanged",
    errno.EDQUOT: "make room or choose another place; what was there before is unchanged",
    errno.ENAMETOOLONG: "choose a shorter name",
    errno.EISDIR: "there is a folder of that name; choose another name",
}


def write_whole(path: str | Path, content: bytes | memoryview) -> Path:
    """Write a file by way of a neighbour that takes its place in one step, so that a stop leaves the old file intact.

    Parameters
    ----------
    path
        The file; its folder must exist.
    content
        All of it.

    Raises
    ------
    RunoffError
        When it cannot be written; the file that was there before is unchanged.
    """
    path, aside = Path(path), None
    try:
        if path.is_dir():
            raise OSError(errno.EISDIR, "Is a directory")
        handle, aside = tempfile.mkstemp(prefix=f".{path.name[:40]}.", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        mask = os.umask(0)
        os.umask(mask)
        os.chmod(aside, 0o666 & ~mask)
        os.replace(aside, path)
    except OSError as error:
        raise RunoffError(f"cannot write {path}: {_reason(error)}") from None
    finally:
        if aside is not None:
            with contextlib.suppress(OSError):
                os.unlink(aside)
    return path


def _reason(error: OSError) -> str:
    fix = _FIXES.get(error.errno or 0, "choose a folder that exists and that you may write to")
    return f"{error.strerror or error}; {fix}"


def write_text(path: str | Path, text: str) -> Path:
    """Write a text file, UTF-8 with plain line ends, whole or not at all; see `write_whole`."""
    return write_whole(path, text.encode("utf-8"))


def write_netcdf(path: str | Path, dataset: xr.Dataset) -> Path:
    """Write a NetCDF file, whole or not at all; see `write_whole`.

    The file is formed in memory: the library that writes NetCDF does not survive a full disk, and takes the old file along.
    """
    from runoff.netcdf_bytes import netcdf_content

    return write_whole(path, netcdf_content(dataset))


def write_csv(path: str | Path, table: pd.DataFrame, *, index: bool = False) -> Path:
    """Write a CSV file, whole or not at all; see `write_whole`. No cell of it can be taken for a formula.

    Parameters
    ----------
    path
        The file; its folder must exist.
    table
        What is written; a head or cell that a spreadsheet would take for a formula gets an apostrophe in front.
    index
        Whether the labels of the rows are written too.

    Returns
    -------
    pathlib.Path
        The file.

    Raises
    ------
    RunoffError
        When it cannot be written; the file that was there before is unchanged.
    """
    safe = table.rename(columns=_no_formula).map(_no_formula)
    return write_text(path, safe.to_csv(index=index, lineterminator="\n"))


def _no_formula(cell: Any) -> Any:
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell


def make_folder(folder: str | Path) -> Path:
    """Return a folder, made if need be.

    Raises
    ------
    RunoffError
        When it cannot be made.
    """
    folder = Path(folder)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError:
        raise RunoffError(f"cannot write into {folder}: it is a file; choose a folder") from None
    except OSError as error:
        raise RunoffError(f"cannot write into {folder}: {error.strerror or error}; choose another folder") from None
    return folder


@contextlib.contextmanager
def writing_alone(folder: str | Path, name: str = "") -> Iterator[None]:
    """Hold a folder, or one store in it, while results are written; a second run that wants it is refused.

    The hold ends with the process, however it ends, so that a killed run blocks nobody.

    Raises
    ------
    RunoffError
        When another run holds the folder.
    """
    what = Path(folder) / name
    lock = Path(folder) / (f".{name}{_LOCK}" if name else _LOCK)
    try:
        handle = os.open(lock, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise RunoffError(f"cannot write into {what}: {_reason(error)}") from None
    try:
        if not _hold(handle) or not _is_at(lock, handle):
            raise RunoffError(f"another run is writing into {what}: wait until it has ended, or choose another place")
        try:
            yield
        finally:
            with contextlib.suppress(OSError):
                os.unlink(lock)
    finally:
        os.close(handle)


def _is_at(lock: Path, handle: int) -> bool:
    """Tell whether the open file is still the one at its place: the run before takes its lock away when it ends."""
    try:
        return os.path.samestat(os.stat(lock), os.fstat(handle))
    except OSError:
        return False


def _hold(handle: int) -> bool:
    """Take the lock of an open file if it is free."""
    try:
        import fcntl
    except ImportError:  # Windows
        import msvcrt

        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except OSError:
            return False
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a file system without locks: nothing can be said
        return True
    return True
