"""Loops run compiled or in plain Python: when compiling repays, and how a loop and what it calls are compiled.

The same source runs either way, so the results agree to the last bit. Small runs add up: a person who moves a control, or
a script that runs a roof a hundred times, should not stay with plain Python.
"""

from __future__ import annotations

import functools
import hashlib
import sys
import types
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from runoff.balance import vector_width
from runoff.balance.loop_cache import look_there_first
from runoff.first_use import as_if_not_installed

#: Day-steps that plain Python has done when loading the compiled loops would have cost as much (0.28 s; a step 4.2 us).
_REPAID = 65_000
_PACKAGE = __name__.partition(".")[0]
#: What numba looks for as it loads, for loops that are watched by coverage or call C, to tell its version, and for settings in a file:
#: of no use to ours.
_LOOKED_FOR = ("coverage", "cffi", "scipy", "yaml")
_done = 0
_alone = False
Part = TypeVar("Part", bound=Callable[..., Any])


def compiled_repays(steps: int) -> bool:
    """Tell whether a loop of `steps` design-steps should run compiled, given what ran before it."""
    global _done
    if "numba" in sys.modules:
        return True
    _done += steps
    return _done >= _REPAID


def expect_many_runs() -> None:
    """Say that many runs will follow: every loop runs compiled from now on."""
    global _done
    _done = _REPAID


def no_other_loops() -> None:
    """Say that this process compiles no loops but ours, as a command does: numba then loads in two thirds of the time."""
    global _alone
    _alone = True


def pick(loop: Callable[..., Any], steps: int) -> Callable[..., Any]:
    """Return the loop to run for so many design-steps: its compiled form, or itself while compiling does not repay."""
    return compiled(loop) if compiled_repays(steps) else loop


def as_read(values: Any, dtype: Any = None) -> np.ndarray:
    """Return numbers that a loop only reads in the one form it is compiled for: side by side and read-only.

    To numba an array that may be written, one that may not and one with gaps are three types: the loop would be compiled for each.
    """
    alike = np.ascontiguousarray(values, dtype=dtype).view()
    alike.flags.writeable = False
    return alike


@functools.cache
def compiled(loop: Any) -> Callable[..., Any]:
    """Return a loop compiled by numba on first use, with its cache on disk.

    Every function of the package that the loop calls, directly or through others, is compiled with it and written out
    where it is called (see `never_inlined` and `joined_late` for those that are not). numba's own cache watches the file of the loop alone: a step
    edited in another file would go unnoticed. So the cache goes by a digest of all sources that are written into the loop.
    """
    numba = _numba()
    digest = source_digest(loop)
    njit = functools.partial(numba.njit, error_model="numpy", nogil=True, **vector_width.whole_vectors())
    body = _with_names(loop, {})
    body.__qualname__ = f"{loop.__qualname__}_{digest[:20]}"  # numba names the files of its cache by this
    made: Callable[..., Any] = njit(cache=bool(digest))(body)

    def take_parts() -> None:
        body.__globals__.update(parts_of(loop, njit))

    if not look_there_first(made, take_parts):
        take_parts()
    return made


@functools.cache
def _numba() -> Any:
    """Load numba, without what it looks for where this process has no other loops."""
    with as_if_not_installed(*(_LOOKED_FOR if _alone else ())):
        import numba
    return numba


def never_inlined(function: Part) -> Part:
    """Mark a function that compiled loops call instead of writing it out."""
    function.__dict__["never_inlined"] = True
    return function


def joined_late(function: Part) -> Part:
    """Mark a function that is put into compiled loops as machine code: as quick, and much sooner compiled where it is long."""
    function.__dict__["joined_late"] = True
    return function


def uncounted(function: Part) -> Part:
    """Mark a function that is joined late and takes no view of an array: it counts no references to those it is given.

    A count is locked against other threads. The compiler drops the two of a call that is plain; where parts are called from
    branches it keeps them, a tenth of a day of a block.
    """
    function.__dict__["uncounted"] = True
    return joined_late(function)


def reader_of(fields: Any) -> Any:
    """Return a function that reads a named tuple from a flat array: ``read(rows, at, stride)``.

    The first field stands at place `at`, each next `stride` further on. Loops can neither count fields nor take a tuple apart,
    so they are written out one by one.
    """
    return _reader(fields, "at, stride", [f"at + {i} * stride" for i in range(len(fields._fields))], {})


def lane_reader_of(fields: Any, places: Any) -> Any:
    """Return a function that reads a named tuple from the rows of a block: ``read(rows, lane)``; a row begins where `places` says."""
    return _reader(fields, "lane", [f"AT.{name} + lane" for name in fields._fields], {"AT": places})


def _reader(fields: Any, words: str, places: list[str], known: dict[str, Any]) -> Any:
    values = ", ".join(f"rows[{place}]" for place in places)
    source = f"def read(rows, {words}):\n    return {fields.__name__}({values})\n"
    made: dict[str, Any] = {"__name__": fields.__module__, fields.__name__: fields, **known}
    exec(compile(source, str(sys.modules[fields.__module__].__file__), "exec"), made)
    return joined_late(made["read"])


def source_digest(loop: Any) -> str:
    """Return a digest of every file a loop takes functions from, of how it is compiled, and of its constants.

    Empty where a file cannot be read.
    """
    files, constants = {Path(__file__), Path(vector_width.__file__)}, []
    given = _constants_of_parts(loop)
    for function in (loop, *_called(loop, {loop})):
        files.add(Path(function.__code__.co_filename))
        for name in function.__code__.co_names:
            value = given.get(name, function.__globals__.get(name))
            module = sys.modules.get(getattr(value, "__module__", None) or "")
            if module is not None and module.__name__.partition(".")[0] == _PACKAGE and module.__file__:
                files.add(Path(module.__file__))
            if isinstance(value, int | float | str | tuple):  # it may come from a file that gives nothing else
                constants.append(f"{name} = {value!r}")
    digest = hashlib.sha256("\n".join(constants).encode())
    try:
        for file in sorted(files, key=lambda path: path.name):
            digest.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    except OSError:
        return ""
    return digest.hexdigest()


def _called(function: Any, seen: set[Any]) -> Iterator[Any]:
    """Yield every function of the package that `function` calls, directly or through others, once."""
    for name in function.__code__.co_names:
        part = function.__globals__.get(name)
        if _is_ours(part) and part not in seen:
            seen.add(part)
            yield part
            yield from _called(part, seen)


def _is_ours(part: Any) -> bool:
    return isinstance(part, types.FunctionType) and part.__module__.partition(".")[0] == _PACKAGE


def plainly(loop: Any, prepared: Callable[[Any], Any] = lambda function: function) -> Callable[..., Any]:
    """Return a loop in plain Python, its parts with the constants that it gives them (see `parts_of`).

    The loop and each of its parts is what `prepared` makes of it.
    """
    made: Callable[..., Any] = prepared(_with_names(loop, parts_of(loop, lambda **how: prepared)))
    return made


def parts_of(loop: Any, njit: Any) -> dict[str, Any]:
    """Return what a loop calls, by name, in compiled forms, each made once.

    A module of loops may tell in `CONSTANTS_OF_PARTS` which of its constants take the place of those that parts of other
    modules have under the same name: so blocks of two widths share their parts.
    """
    return _compiled_parts(loop, {}, njit, _constants_of_parts(loop))


def _constants_of_parts(loop: Any) -> dict[str, Any]:
    return {name: loop.__globals__[name] for name in loop.__globals__.get("CONSTANTS_OF_PARTS", ())}


def _compiled_parts(function: Any, parts: dict[Any, Any], njit: Any, constants: dict[str, Any]) -> dict[str, Any]:
    found = {}
    for name in function.__code__.co_names:
        part = function.__globals__.get(name)
        if _is_ours(part):
            if part not in parts:
                late = getattr(part, "joined_late", False)
                how = "never" if late or getattr(part, "never_inlined", False) else "always"
                body = _with_names(part, constants | _compiled_parts(part, parts, njit, constants))
                counts = {} if not getattr(part, "uncounted", False) else {"_nrt": False}
                parts[part] = njit(inline=how, forceinline=late, **counts)(body)
            found[name] = parts[part]
    return found


def _with_names(function: Any, names: dict[str, Any]) -> types.FunctionType:
    """Return a copy of a function to which some names of its module mean something else."""
    meant = {**function.__globals__, **names}
    return types.FunctionType(function.__code__, meant, function.__name__, function.__defaults__)
