"""What Zarr does on the thread that asks for it."""

import asyncio
import threading

import pytest

from runoff.streaming.own_loop import done_here


async def _threads() -> tuple[int, int]:
    return threading.get_ident(), await asyncio.to_thread(threading.get_ident)


def test_it_is_done_on_the_thread_that_asks() -> None:
    """What is handed to an executor too."""
    here = threading.get_ident()
    assert done_here(_threads) == (here, here)


def test_where_a_loop_runs_already_another_thread_does_it() -> None:
    """As in a notebook."""

    async def cell() -> tuple[int, int]:
        return done_here(_threads)

    loop, other = asyncio.run(cell())
    assert loop == other != threading.get_ident()


def test_what_is_raised_comes_out() -> None:
    """By the coroutine, and by what it hands on; what comes next is done as ever."""

    async def fails() -> None:
        await asyncio.to_thread(lambda: 1 // 0)

    with pytest.raises(ZeroDivisionError):
        done_here(fails)
    here = threading.get_ident()
    assert done_here(_threads) == (here, here)


def test_what_was_begun_beside_an_error_is_called_off() -> None:
    """It would else go on when the thread has something else to do, long after it was told that it failed."""
    written = []

    async def writes(name: str) -> None:
        await asyncio.sleep(0)
        written.append(name)

    async def fails() -> None:
        beside = [asyncio.ensure_future(writes(name)) for name in ("one", "other")]
        assert len(beside) == 2
        raise OSError

    with pytest.raises(OSError):
        done_here(fails)
    done_here(lambda: writes("next"))
    assert written == ["next"]
