"""Refusals and warnings of the package in the words of the command line: flags in place of arguments of functions."""

from __future__ import annotations

import errno
import re
from collections.abc import Mapping
from functools import partial

from runoff.errors import RunoffError
from runoff.file_bytes import trouble

#: Arguments that take several NAME=VALUE pairs, and the flag that takes one.
_PAIRS = {"columns": "--column", "units": "--unit", "fill": "--fill", "layout": "--layout"}
_PAIR = re.compile(r'"([^"]+)"\s*:\s*(?:"([^"]*)"|(\[[^\]]*\]|[^\s,}]+))')
#: Parts of a table layout, which messages name as arguments of `runoff.TableLayout`; the command line has one flag for them.
LAYOUT_PARTS = (
    "separator", "decimal", "skip_lines", "header", "comment", "missing", "trace", "dates", "stamp", "round_to", "regular_to",
    "time_zone", "day_start", "calendar", "wind_height_m", "site_column",
)  # fmt: skip
_PART = re.compile(rf'(?<![-\w.="])(?<!--layout )({"|".join(LAYOUT_PARTS)})=(?:"([^"]*)"|\[([^\]]*)\]|(?= out))')
_BEGIN_AND_STEP = re.compile(r'first_time="([^"]*)", (?:--step |step=)"?(\w+)"?')
#: Functions of Python that messages advise: the command line does the same by flags, or has it done beforehand.
_IN_PYTHON = (
    (re.compile(r" with runoff\.daily_totals\(weather\)"), ""),
    (re.compile(r"runoff\.simulate\(roof, (runoff\.design_storm\([^)]*\))\)"), r"\1"),
    (re.compile(r"runoff\.design_storm\(([^)]*)\)"), r"\1"),
    (re.compile(r", or central_part=True for the most intense [^,]*? of it"), ""),
    (re.compile(r"runoff\.fill_gaps\([^)]*\)"), "--fill"),
    (re.compile(r', or weather\.attrs\["unit_trusted"\] = "yes" of a Dataset'), ""),
    (re.compile(r'weather\.attrs\["unit_trusted"\] = "yes"'), "--trust-unit"),
)
_RANGE = re.compile(r'\{"([^"]+)": \(lowest, highest\)\}')
_REASONS = {
    errno.EISDIR: "this is a folder, a file is needed",
    errno.ENOTDIR: "a part of this path is a file, not a folder",
    errno.EMFILE: "too many files are open",
    errno.ENOSPC: "the disk is full",
    errno.EIO: "the disk cannot be read",
}


#: What pandas raises on dates, by name: it is not loaded for them.
_NO_DATES = ("OutOfBoundsDatetime", "DateParseError")


def sentence_of(error: BaseException, command: str) -> str:
    """Return what went wrong as a sentence that says what to do.

    Parameters
    ----------
    error
        Whatever was raised.
    command
        The command that was typed.
    """
    where = f"runoff {command}".rstrip()
    if isinstance(error, RunoffError) and not getattr(error, "filename", None):
        return str(error)
    if isinstance(error, OSError) and error.filename is not None:
        name = error.filename.decode(errors="replace") if isinstance(error.filename, bytes) else error.filename
        if error.errno == errno.ENOENT:
            # the readers say what to do about a missing file; the system only says that it is missing
            advice = str(error.strerror or "")
            words = advice if advice and advice != "No such file or directory" else "there is no such file"
            return f"{where}: {name}: {words}"
        return f"{where}: {name}: {_REASONS.get(error.errno or 0) or trouble(error)}"
    if (
        isinstance(error, OSError) and error.errno in _REASONS
    ):  # of no file: what is printed goes to one, or a library kept its name
        return f"{where}: {_REASONS[error.errno]}; not everything could be written"
    if isinstance(error, MemoryError):
        return f"{where}: not enough memory; take fewer years, designs or cells at a time"
    if type(error).__name__ in _NO_DATES:
        return f"{where}: {error}: dates are days of the calendar between 1678 and 2261"
    if isinstance(error, UnicodeError):
        return f"{where}: a file is not UTF-8 text; save it as UTF-8"
    said = " ".join(str(error).split())[:300] or "no more is known"
    return (
        f"{where}: this should not have happened ({type(error).__name__}: {said}). Set RUNOFF_TRACEBACK=1 and run it "
        "again to see where, and report it."
    )


def in_flags(text: str, command: str, flags: Mapping[str, str]) -> str:
    """Return a message of the package in the flags of a command.

    Parameters
    ----------
    text
        One line or several.
    command
        The command that was typed.
    flags
        Argument of the package -> flag.

    Returns
    -------
    str
        As many lines as `text`.

    Examples
    --------
    >>> in_flags('size_outlets: allowable_depth_mm must be above 0', "outlets", {"allowable_depth_mm": "--allowable-depth"})
    'runoff outlets: --allowable-depth must be above 0'
    >>> in_flags('say which, for example columns={"time": "DATE", "rain": "RR"}', "simulate", {"column": "--column"})
    'say which, for example --column time=DATE --column rain=RR'
    """
    return "\n".join(_line_in_flags(line, command, flags) for line in text.split("\n"))


def _line_in_flags(line: str, command: str, flags: Mapping[str, str]) -> str:
    line = re.sub(r"^(?:[a-z]+_)+[a-z]+: ", f"runoff {command}: ", line)
    line = _RANGE.sub(r"--parameter \1=LOW:HIGH", line)
    for keyword, flag in _PAIRS.items():
        if flag not in flags.values():
            continue
        line = re.sub(rf"\b{keyword}=\{{([^}}]*)\}}", partial(_pairs, flag), line)
        line = re.sub(rf"\b{keyword}= ?(?=and |out|$)", f"{flag} ", line)
        line = re.sub(rf"(^|: ){keyword}(?= takes|: )", rf"\1{flag}", line)
    if "--layout" in flags.values():
        line = _PART.sub(_part, line)
    for keyword, flag in sorted(flags.items(), key=lambda pair: -len(pair[0])):
        if re.search(rf"(?:outlet \d+|layer \d+(?: \(\w+\))?), {keyword}\b", line):
            continue  # a key of a roof file
        line = re.sub(rf"\b{keyword}=True\b( \({flag}\))?", flag, line)
        line = re.sub(rf'(?<![-\w.]){keyword}="([^"]*)"', partial(_one, flag), line)
        line = re.sub(rf"(?<![-\w.])(?<!--layout ){keyword}=(?=[\d.])", f"{flag} ", line)
        line = re.sub(rf"(?<![-\w.]){keyword}= to \w+", flag, line)
        line = re.sub(rf"(?<![-\w.]){keyword}=(?=[\s;,.)]|$)", flag, line)
        line = re.sub(rf'(^|: |; |, | and ){keyword}(?= "| lies | must )', rf"\1{flag}", line)
        if "_" in keyword:
            line = re.sub(rf"(?<![-\w.\"]){keyword}\b(?!\.)", flag, line)
    if "--layout" in flags.values():
        line = _BEGIN_AND_STEP.sub(r'--layout "first_time=\1" --layout step=\2', line)
    for call, words in _IN_PYTHON:
        line = call.sub(words, line)
    return line


def _part(found: re.Match[str]) -> str:
    """Return one part of a table layout as it is typed."""
    if found[2] is None and found[3] is None:
        return f"--layout {found[1]}"
    value = found[2] if found[2] is not None else re.sub(r'["\s]', "", found[3])
    return _value("--layout", f"{found[1]}={value}")


def _one(flag: str, found: re.Match[str]) -> str:
    return _value(flag, found[1])


def _pairs(flag: str, found: re.Match[str]) -> str:
    pairs = [_value(flag, f"{name}={word or value}") for name, word, value in _PAIR.findall(found[1])]
    return " ".join(pairs) or flag


def _value(flag: str, value: str) -> str:
    return f'{flag} "{value}"' if " " in value else f"{flag} {value}"
