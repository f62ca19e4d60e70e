"""The same work over and over leaves nothing behind: the short version of `tests.trials.soak`."""

import sys

import pytest

from tests.trials.soak import soak


@pytest.mark.slow
@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="memory and handles are read from /proc")
def test_memory_and_handles_stay_and_bytes_do_not_change() -> None:
    before_mb, after_mb, held, holds, kinds = soak(cycles=8, every=4)
    assert set(kinds.values()) == {1} and len(kinds) == 6 + 8, kinds
    assert holds == held
    # a leak of one trace of the sample (8 MB a run) would add 40 MB in five cycles; caches that still fill add 2-3 %
    assert after_mb < 1.08 * before_mb
