"""When a person is told that work goes on."""

import os
import struct
import subprocess
import sys

import pytest

fcntl, pty, termios = (pytest.importorskip(name) for name in ("fcntl", "pty", "termios"))

from runoff.saying import progress  # noqa: E402


def test_patience_is_that_with_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = [100.0]
    monkeypatch.setattr(progress.time, "monotonic", lambda: clock[0])
    monkeypatch.setattr(progress, "_begun", None)
    assert progress._patience_s() == 2.0  # no command: each piece of work by itself
    monkeypatch.setattr(progress, "_begun", 100.0)
    clock[0] = 101.5
    assert progress._patience_s() == 0.5  # half a second until two have gone
    clock[0] = 160.0
    assert progress._patience_s() == 0.3  # what takes a moment does not flash up


@pytest.mark.slow
def test_two_short_pieces_of_a_long_command_are_told() -> None:
    """Each takes less than two seconds; together they take longer."""
    code = (
        "import time; from runoff.saying.progress import command_begins, waiting; command_begins()\n"
        "for name in ('reading', 'drawing the range'):\n    with waiting(name): time.sleep(1.8)"
    )
    told = _at_a_terminal(code)
    assert "drawing the range" in told and "reading" not in told


def test_nothing_is_told_where_nobody_looks() -> None:
    code = "import time; from runoff.saying import progress as p; p._begun = -9.0\nwith p.waiting('x'): time.sleep(0.6)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def _at_a_terminal(code: str) -> str:
    """Return what a process writes to stderr when that is a terminal."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 100, 0, 0))  # a window of nobody has no width
    process = subprocess.Popen([sys.executable, "-c", code], stderr=theirs)
    os.close(theirs)
    told = b""
    try:
        while part := os.read(ours, 4096):
            told += part
    except OSError:  # the other end is closed
        pass
    os.close(ours)
    assert process.wait() == 0
    return told.decode()
