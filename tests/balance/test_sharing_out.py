"""Designs shared out over the cores: every one once, in whole blocks, and no more once a slice has failed."""

import threading
import time

import pytest

from runoff.balance import sharing_out
from runoff.balance.sharing_out import share_out


@pytest.fixture(params=[1, 2, 5])
def cores(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int:
    """A machine of so many cores."""
    monkeypatch.setattr(sharing_out.os, "sched_getaffinity", lambda _: set(range(request.param)), raising=False)
    return int(request.param)


@pytest.mark.parametrize("designs", [1, 64, 65, 10_001])
def test_every_design_is_worked_once_in_whole_blocks(cores: int, designs: int) -> None:
    done: list[slice] = []
    share_out(done.append, designs, 64)
    assert sorted(i for piece in done for i in range(designs)[piece]) == list(range(designs))
    assert all(piece.start % 64 == 0 and (piece.stop % 64 == 0 or piece.stop == designs) for piece in done)


def test_the_last_slices_are_single_blocks_and_none_is_wider_than_the_one_before(cores: int) -> None:
    done: list[slice] = []
    share_out(done.append, 64 * 1000, 64)
    in_order = sorted(done, key=lambda piece: piece.start)
    widths = [(piece.stop - piece.start) // 64 for piece in in_order]
    assert widths == sorted(widths, reverse=True)
    assert widths[0] == 32, "a slice would not stay in the caches, or there would be many"
    assert widths[-cores:] == [1] * cores, "a core would wait for a wide slice of another"


def test_no_more_threads_than_cores_and_the_caller_is_one(cores: int) -> None:
    barrier, seen = threading.Barrier(cores), set()

    def work(piece: slice) -> None:
        if threading.get_ident() not in seen:
            seen.add(threading.get_ident())
            barrier.wait(timeout=30.0)  # until all of them are at work

    share_out(work, 10_000, 64)
    assert len(seen) == cores
    assert threading.get_ident() in seen


@pytest.mark.parametrize("failing", [0, 3])
def test_what_fails_in_any_thread_stops_all_and_is_told(cores: int, failing: int) -> None:
    every: list[slice] = []
    share_out(every.append, 100 * cores, 1)
    done: list[slice] = []

    def work(piece: slice) -> None:
        if piece == sorted(every, key=lambda one: one.start)[failing]:
            raise ValueError("slice of no use")
        time.sleep(0.02)
        done.append(piece)

    with pytest.raises(ValueError, match="slice of no use"):
        share_out(work, 100 * cores, 1)
    assert len(done) < len(every) // 2, "others went on: half of the slices would have taken them a tenth of a second"
    if cores == 1:
        assert done == every[:failing]
