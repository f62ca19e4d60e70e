"""Compiled loops come from their cache on disk without what numba needs only to compile.

numba makes ready to compile before it looks into a cache: it loads seventy modules that say how the functions of Python and numpy are
compiled. A loop that is in its cache needs hardly any of them: with numba itself it loads in half the time.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any


def look_there_first(made: Any, make_ready: Callable[[], None]) -> bool:
    """Let a loop look into its cache before anything is made ready to compile it.

    numba compiles as ever what the cache lacks, and then loads by itself what that needs.

    Parameters
    ----------
    made
        The loop, from `numba.njit`.
    make_ready
        Does what compiling takes besides, when it comes to that.

    Returns
    -------
    bool
        False where this numba keeps its caches elsewhere: the loop is as it was, and nothing will call `make_ready`.
    """
    try:
        from numba.core.caching import FunctionCache
        from numba.core.runtime._nrt_python import c_helpers

        look, guarded = FunctionCache._load_overload, FunctionCache._guard_against_spurious_io_errors

        class CacheFirst(FunctionCache):
            def load_overload(self, sig: Any, target_context: Any) -> Any:
                _name_what_loops_call(c_helpers)
                with guarded(self):
                    found = look(self, sig, target_context)
                    if found is not None:
                        return found
                make_ready()
                return None

        if not isinstance(made._cache, FunctionCache):
            return False
        made._cache = CacheFirst(made.py_func)
        made._compilation_chain_init_hook = _no_types_of_others
    except (ImportError, AttributeError):
        return False
    return True


def _name_what_loops_call(helpers: dict[str, int]) -> None:
    """Tell the linker where the functions are that loops call for their arrays, under the names that numba gives them.

    The rest of numba's runtime stands in every compiled loop itself; to be linked into the next one it is compiled anew in each
    process, a sixth of the time of loading numba.
    """
    from llvmlite import binding

    for name, place in helpers.items():
        binding.add_symbol(name if name.startswith("_") else f"NRT_{name}", place)


def _no_types_of_others() -> None:
    """Stand in for the search of all that is installed for types of other packages: our loops take arrays of numpy."""
