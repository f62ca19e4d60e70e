"""Loops compiled for whole vectors: the mark reaches the compiler, and without it nothing but the pace differs."""

import re
import subprocess
import sys

import numpy as np
import pytest

from runoff.balance import vector_width

numba = pytest.importorskip("numba", reason="compiled loops need the extra [large]")


def _scaled(x: np.ndarray) -> None:
    for i in range(x.size):
        x[i] = x[i] * 1.5 + 0.1


def test_a_function_carries_the_mark_for_the_compiler() -> None:
    vector_width.whole_vectors.cache_clear()
    marked = numba.njit(**vector_width.whole_vectors())(_scaled)
    marked(np.ones(64))
    (written,) = marked.inspect_llvm().values()
    assert re.search(r'attributes #\d+ = \{[^}]*"prefer-vector-width"="512"', written)


def test_the_bits_are_those_of_plain_python() -> None:
    start = np.random.default_rng(3).uniform(-5.0, 5.0, 67)  # not a whole number of vectors
    plain, wide = start.copy(), start.copy()
    _scaled(plain)
    numba.njit(error_model="numpy", **vector_width.whole_vectors())(_scaled)(wide)
    assert plain.tobytes() == wide.tobytes()


def test_a_numba_that_keeps_its_parts_elsewhere_compiles_loops_all_the_same() -> None:
    """In a process of its own: numba's module of lowering without what the mark is written with."""
    code = """
import numba.core.lowering
import numpy as np
del numba.core.lowering.Lower
from runoff.balance import vector_width
assert vector_width.whole_vectors() == {}
from runoff.balance import loop_choice
made = loop_choice.compiled(lambda x: x + 1.0)
print(made.targetoptions.get("error_model"))
"""
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=120, check=False)
    assert ran.returncode == 0, ran.stderr
    assert ran.stdout.split() == ["numpy"]
