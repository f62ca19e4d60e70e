"""The bytes of a file a user names: read once, within bounds, and every trouble of the disk told as a sentence.

A pipe gives its bytes once, so nothing is opened twice. A device or a packed bomb gives them without end, so there is a
most. Readers of weather, storms and logs take their bytes here.
"""

from __future__ import annotations

import errno
import gzip
import io
import os
import select
import stat
import zlib
from collections.abc import Callable
from pathlib import Path

from runoff.errors import MissingFileError, RunoffError, shown

MOST_BYTES = 200 * 2**20  # of text, unpacked: ten years of minutes are 160 MB
MOST_LINE = 64 * 2**20  # characters of one line: a header of a million columns has 10 million
MOST_LINES = 10_000_000  # nineteen years of minutes
PATIENCE_S = 10.0  # a pipe may be silent for so long
_CHUNK = 2**20

_TROUBLES = {
    errno.EACCES: "it may not be read: this user has no permission",
    errno.EPERM: "it may not be read: this user has no permission",
    errno.ELOOP: "its link leads back to itself",
    errno.ENAMETOOLONG: "its name is too long for this machine",
    errno.ENXIO: "it is a socket or a device, not a file",
}
_OTHER_PACKERS = {
    b"BZh": "bzip2",
    b"\xfd7zXZ": "xz",
    b"\x28\xb5\x2f\xfd": "zstandard",
    b"7z\xbc\xaf": "7-Zip",
}


def trouble(error: OSError | ValueError) -> str:
    """Return what the machine says against reading a file, in words."""
    if isinstance(error, OSError):
        return _TROUBLES.get(error.errno or 0, f"it cannot be read ({(error.strerror or str(error)).lower()})")
    return "its name holds a character that no file name can hold"


def refuse_missing(path: Path, wanted: str, error: type[RunoffError], *, hint: str = "") -> os.stat_result:
    """Return what the machine knows of a file, or say why it cannot be had.

    Parameters
    ----------
    path
        The file.
    wanted
        What it should be, in words: ``weather file``.
    error
        Class of the error for a file that is there.
    hint
        What follows in the message of a missing file.

    Returns
    -------
    os.stat_result
        Of the file a link leads to.

    Raises
    ------
    MissingFileError
        When there is no such file.
    RunoffError
        Of class `error`, when the file cannot be looked at.
    """
    try:
        return path.stat()
    except (FileNotFoundError, NotADirectoryError):
        raise MissingFileError(errno.ENOENT, f"there is no such {wanted}{hint}", str(path)) from None
    except (OSError, ValueError) as reason:
        raise error(trouble(reason)) from None


def read_bytes(
    path: Path,
    wanted: str,
    error: type[RunoffError],
    *,
    hint: str = "",
    stays_on_disk: Callable[[bytes], bool] = lambda head: False,
) -> bytes | None:
    """Return all bytes of a file or a pipe, read once.

    Parameters
    ----------
    path
        File, or the read end of a pipe.
    wanted
        What the file should be, in words: ``weather file``.
    error
        Class of the errors.
    hint
        What a missing file is followed by in the message.
    stays_on_disk
        Tells from the first bytes whether a file is one that its reader opens itself; then None is returned.

    Returns
    -------
    bytes or None
        All bytes as they stand, packed or not; None for a file that its reader opens itself.

    Raises
    ------
    MissingFileError
        When there is no such file.
    RunoffError
        Of class `error`: a folder, a device, no permission, more than `MOST_BYTES`, a pipe that stays silent.
    """
    kind = refuse_missing(path, wanted, error, hint=hint).st_mode
    if stat.S_ISDIR(kind):
        raise error(f"this is a folder, not a {wanted}")
    if not (stat.S_ISREG(kind) or stat.S_ISFIFO(kind)):
        raise error(f"this is a device, not a {wanted}")
    try:
        # not to wait at the door: a pipe without a writer would hold us for ever
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
        with os.fdopen(handle, "rb", buffering=0) as file:
            if stat.S_ISFIFO(kind):
                return _all_of_pipe(file, wanted, error)
            head = file.read(8)
            if stays_on_disk(head):
                return None
            if os.fstat(handle).st_size > MOST_BYTES:
                raise error(_too_much("it holds", wanted))
            return head + file.read()
    except OSError as reason:
        raise error(trouble(reason)) from None


def _all_of_pipe(file: io.FileIO, wanted: str, error: type[RunoffError]) -> bytes:
    """Return what comes through a pipe until its writer leaves."""
    found = bytearray()
    waiting = select.poll()
    waiting.register(file, select.POLLIN)
    while len(found) <= MOST_BYTES:
        part = file.read(_CHUNK)  # None: a writer is there and has nothing yet; empty: none is there
        if part:
            found += part
        elif part == b"" and found:
            return bytes(found)
        elif not (events := waiting.poll(PATIENCE_S * 1000.0)):
            raise error(f"nothing came through this pipe for {PATIENCE_S:g} s; write the {wanted} to a file first")
        elif not events[0][1] & select.POLLIN:  # the writer has come and gone
            return bytes(found)
    raise error(_too_much("this pipe gives", wanted))


def _too_much(words: str, wanted: str) -> str:
    return (
        f"{words} more than {MOST_BYTES // 2**20} MB, the most that is read of a {wanted} as text; give fewer years, or the "
        "record as NetCDF or Zarr"
    )


def unpacked(raw: bytes, wanted: str, error: type[RunoffError]) -> bytes:
    """Return the bytes of a file that may be gzipped.

    Parameters
    ----------
    raw
        Bytes of the file.
    wanted
        What the file should be, in words: ``weather file``.
    error
        Class of the error.

    Returns
    -------
    bytes
        The bytes given where they are not packed.

    Raises
    ------
    RunoffError
        Of class `error`: damaged, packed otherwise or twice, or larger than `MOST_BYTES` when unpacked.
    """
    for magic, packer in _OTHER_PACKERS.items():
        if raw.startswith(magic):
            raise error(f"this is a file packed by {packer}; unpack it, or pack it by gzip")
    if raw[:2] != b"\x1f\x8b":
        return raw
    found = bytearray()
    try:
        with gzip.GzipFile(fileobj=io.BytesIO(raw)) as file:
            while part := file.read(_CHUNK):
                found += part
                if len(found) > MOST_BYTES:
                    raise error(_too_much("unpacked it gives", wanted))
    except (OSError, EOFError, zlib.error):
        raise error("the gzipped file is cut short or damaged; fetch it again") from None
    if found[:2] == b"\x1f\x8b":
        raise error("this is a gzipped file inside a gzipped file; unpack it once")
    return bytes(found)


def decoded(raw: bytes, error: type[RunoffError]) -> str:
    """Return the text of a file with plain newlines: UTF-8 or UTF-16 by its mark, else Latin-1.

    Raises
    ------
    RunoffError
        Of class `error`: a damaged encoding, zero bytes, a line without end.
    """
    try:
        if raw[:4] in (b"\xff\xfe\x00\x00", b"\x00\x00\xfe\xff"):
            text = raw.decode("utf-32")
        elif raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
            text = raw.decode("utf-16")
        else:
            text = _by_bytes(raw)
    except UnicodeDecodeError:
        raise error("its text is damaged: it begins as UTF-16 and does not go on so; save it as UTF-8") from None
    if (zero := text.find("\x00")) >= 0:
        line = text.count("\n", 0, zero) + 1
        raise error(
            f"it holds zero bytes (first on line {line}), which no text has; the file is damaged, fetch it again"
        )
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = text.rstrip("\x1a")  # the end mark of old systems
    if text.count("\n") > MOST_LINES:
        raise error(
            f"it has more than {MOST_LINES // 10**6} million lines; give fewer years, or the record as NetCDF or Zarr"
        )
    half = MOST_LINE // 2
    for start in range(0, len(text) - half + 1, half):
        if text.find("\n", start, start + half) < 0:
            line = text.count("\n", 0, start) + 1
            raise error(
                f"line {line} is longer than {half // 10**6} million characters; no weather table has such lines"
            )
    return text


def _by_bytes(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("latin-1")


def shown_name(path: Path) -> str:
    """Return the name of a file as a terminal and a document can take it."""
    return shown(path.name or str(path), most=80)
