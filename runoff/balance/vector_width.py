"""Compiled loops use the whole width of the processor's vectors.

The compiler keeps to half of it, as wide vectors once lowered the clock of processors by more than they gained. In a loop that does
little else they gain a fifth, and every number keeps its bits: lanes do not meet.
"""

from __future__ import annotations

import functools
import math
from contextlib import suppress
from typing import Any

import numpy as np

#: What the compiler may put into one vector, bits; where the processor has less, it takes what there is.
_WIDTH = 512


@functools.cache
def whole_vectors() -> dict[str, Any]:
    """Return what `numba.njit` is given besides, to compile for whole vectors.

    numba has no option for one function alone, only for all of a process. So a function is marked where it is written
    for the compiler, which numba does not promise to leave as it is: where that has changed, nothing is returned, and loops are
    compiled as they would be without.
    """
    try:
        from numba.core.compiler import Compiler
        from numba.core.compiler_machinery import register_pass
        from numba.core.lowering import Lower
        from numba.core.typed_passes import NativeLowering

        class MarkedLower(Lower):
            def setup_function(self, fndesc: Any) -> None:
                super().setup_function(fndesc)
                with suppress(AttributeError, TypeError):  # past a list of marks that lacks this one
                    set.add(self.function.attributes, f'"prefer-vector-width"="{_WIDTH}"')

        @register_pass(mutates_CFG=True, analysis_only=False)
        class MarkedLowering(NativeLowering):
            _name = "lowering_for_whole_vectors"

            @property
            def lowering_class(self) -> Any:
                return MarkedLower

        class WholeVectors(Compiler):
            def define_pipelines(self) -> list[Any]:
                pipelines: list[Any] = super().define_pipelines()
                with suppress(AttributeError, TypeError, ValueError):
                    for one in pipelines:
                        one.passes = [
                            (MarkedLowering if step is NativeLowering else step, why) for step, why in one.passes
                        ]
                        one.finalize()
                return pipelines

    except (ImportError, AttributeError):
        return {}
    return {"pipeline_class": WholeVectors}


def zeros_for_vectors(*shape: int) -> np.ndarray:
    """Return an array of zeros that begins where a whole vector may: one across two lines of the cache is read at half the pace."""
    size, whole = math.prod(shape), _WIDTH // 64
    room = np.zeros(size + whole)
    skipped = -(room.ctypes.data // room.itemsize) % whole
    return room[skipped : skipped + size].reshape(shape)
