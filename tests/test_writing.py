"""Files are whole or not there: kills, full disks, folders that may not be written, two runs at a time."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff import writing
from runoff.netcdf_bytes import netcdf_content
from runoff.writing import make_folder, write_csv, write_netcdf, write_text, write_whole, writing_alone

KILLED = """
import os, signal, sys
from pathlib import Path
import numpy as np, pandas as pd, xarray as xr
from runoff import writing
def die(*arguments, **words):
    os.kill(os.getpid(), signal.SIGKILL)
def write(kind, path):
    if kind == "text":
        writing.write_text(path, "new" * 100000)
    elif kind == "csv":
        writing.write_csv(path, pd.DataFrame({"a": [1.0]}))
    elif kind == "netcdf":
        writing.write_netcdf(path, xr.Dataset({"a": ("x", np.arange(1000.0))}))
    else:
        import runoff
        from runoff import plots
        plots.save(plots.build_up_section_figure(runoff.open_sample_roof("cups")), path)
# one process loads all that is needed, a child of it writes and is killed
for case in sys.argv[1:]:
    kind, moment, path = case.split("|")
    child = os.fork()
    if child == 0:
        setattr(os, moment, die)
        write(kind, path)
        os._exit(0)
    print(case, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
KINDS = {"text": "roof.toml", "csv": "a.csv", "netcdf": "a.nc", "figure": "a.png"}
MOMENTS = ("fsync", "replace")


@pytest.fixture(scope="module")
def killed(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], tuple[Path, int]]:
    """Return for every kind of file and moment the file, there before with old words, and how its writer ended."""
    places = {}
    for kind, name in KINDS.items():
        for moment in MOMENTS:
            places[kind, moment] = tmp_path_factory.mktemp(f"{kind}_{moment}") / name
            places[kind, moment].write_bytes(b"old")
    cases = {f"{kind}|{moment}|{path}": (kind, moment) for (kind, moment), path in places.items()}
    done = subprocess.run([sys.executable, "-c", KILLED, *cases], check=True, capture_output=True, text=True)
    ends = dict(line.rsplit(" ", 1) for line in done.stdout.splitlines())
    return {key: (places[key], int(ends[case])) for case, key in cases.items()}


@pytest.mark.parametrize("moment", MOMENTS)
@pytest.mark.parametrize("kind", KINDS)
def test_killed_at_any_moment_the_old_file_is_intact(killed: dict, kind: str, moment: str) -> None:
    path, end = killed[kind, moment]
    assert end == -signal.SIGKILL
    assert path.read_bytes() == b"old"


# the limit is set by the process itself: code run between fork and exec is unsafe in a test process with threads
FULL = """
import resource, signal, sys
import numpy as np, xarray as xr
from runoff.writing import write_netcdf
data = xr.Dataset({"a": ("x", np.random.default_rng(1).random(100_000))})
resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
write_netcdf(sys.argv[1], data)
"""


def test_a_full_disk_ends_in_a_sentence_and_leaves_the_old_file(tmp_path: Path) -> None:
    """The limit on the size of a file stands for the full disk: the system refuses to write on, at any byte."""
    path = tmp_path / "water_balance.nc"
    path.write_bytes(b"old")
    data = xr.Dataset({"a": ("x", np.random.default_rng(1).random(100_000))})
    done = subprocess.run([sys.executable, "-c", FULL, str(path)], check=False, capture_output=True, text=True)
    assert done.returncode == 1, "an error of ours, not the end of the process"
    assert done.stderr.splitlines()[-1].startswith(f"runoff.errors.RunoffError: cannot write {path}: File too large; ")
    assert path.read_bytes() == b"old" and [one.name for one in tmp_path.iterdir()] == ["water_balance.nc"]
    write_netcdf(path, data)
    with xr.open_dataset(path, engine="h5netcdf") as stored:
        np.testing.assert_array_equal(stored["a"], data["a"])


def test_netcdf_has_the_bytes_that_the_library_gives_it_by_itself() -> None:
    """A coordinate that takes the place of a bare dimension, words, flags, missing values, more than one dimension, no dimension."""
    days = pd.date_range("2020-01-01", periods=4)
    data = xr.Dataset(
        {
            "rain": (
                ("roof", "time"),
                np.array([[0.0, 1.5, np.nan, 3.0]] * 2),
                {"units": "mm", "plausible": [0.0, 500.0]},
            ),
            "planted": ("roof", [True, False]),
            "kind": ("roof", ["sedum", "Dach mit Gräsern"]),
            "count": ("layer", np.arange(3)),
            "area": ((), 120.0, {"units": "m2"}),
        },
        coords={"time": days, "roof": ["a", "b"], "note": ("layer", ["", "x", "y"])},
        attrs={"title": "Ostrey", "numbers": [1, 2]},
    )
    expected = bytes(data.to_netcdf(engine="h5netcdf"))
    assert bytes(netcdf_content(data)) == expected
    pytest.importorskip("dask")
    assert bytes(netcdf_content(data.chunk(time=1))) == expected


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (
            errno.ENOSPC,
            "No space left on device; make room or choose another place; what was there before is unchanged",
        ),
        (errno.EROFS, "Read-only file system; choose a folder that exists and that you may write to"),
        (errno.EACCES, "Permission denied; choose a folder that exists and that you may write to"),
    ],
)
def test_a_failed_write_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, message: str
) -> None:
    path = tmp_path / "dossier.html"
    path.write_bytes(b"old")

    def fail(*arguments: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(runoff.RunoffError) as refused:
        write_whole(path, b"new")
    assert str(refused.value) == f"cannot write {path}: {message}"
    assert [one.name for one in tmp_path.iterdir()] == ["dossier.html"] and path.read_bytes() == b"old"


def test_places_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(
        runoff.RunoffError, match=r"^cannot write .*: No such file or directory; choose a folder that exists"
    ):
        write_text(tmp_path / "nowhere" / "x.html", "new")
    (tmp_path / "taken").mkdir()
    with pytest.raises(
        runoff.RunoffError, match=r"taken: Is a directory; there is a folder of that name; choose another name$"
    ):
        write_text(tmp_path / "taken", "new")
    with pytest.raises(runoff.RunoffError, match=r"File name too long; choose a shorter name$"):
        write_text(tmp_path / ("x" * 300), "new")
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(runoff.RunoffError, match=r"^cannot write into .*file: it is a file; choose a folder$"):
        make_folder(tmp_path / "file")


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(
        runoff.RunoffError, match=r"Permission denied; choose a folder that exists and that you may write to$"
    ):
        write_whole(tmp_path / "x.html", b"new")


def test_no_cell_of_a_csv_is_a_formula(tmp_path: Path) -> None:
    table = pd.DataFrame({"=name": ["=1+1", "@x", "-2", "+3", "plain"], "value": [-1.0, 2.0, 3.0, 4.0, 5.0]})
    lines = write_csv(tmp_path / "a.csv", table).read_text(encoding="utf-8").splitlines()
    assert lines == ["'=name,value", "'=1+1,-1.0", "'@x,2.0", "'-2,3.0", "'+3,4.0", "plain,5.0"]


HOLDER = """
import sys, time
from runoff.writing import writing_alone
with writing_alone(sys.argv[1]):
    print("held", flush=True)
    time.sleep(60)
"""


def test_a_second_run_into_a_folder_is_told_and_a_killed_one_blocks_nobody(tmp_path: Path) -> None:
    holder = subprocess.Popen([sys.executable, "-c", HOLDER, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    try:
        assert holder.stdout is not None and holder.stdout.readline() == "held\n"
        with pytest.raises(
            runoff.RunoffError,
            match=r"^another run is writing into .*: wait until it has ended, or choose another place$",
        ):
            with writing_alone(tmp_path):
                raise AssertionError("held twice")
    finally:
        holder.kill()
        holder.wait()
    with writing_alone(tmp_path):
        pass
    assert list(tmp_path.iterdir()) == []


def test_a_hold_that_ends_while_another_run_asks_is_not_taken_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between opening the lock and taking it, the run before ends and takes its lock away: nobody holds the place by it."""
    took = writing._hold

    def ends_first(handle: int) -> bool:
        next(tmp_path.iterdir()).unlink()
        return took(handle)

    monkeypatch.setattr(writing, "_hold", ends_first)
    with pytest.raises(runoff.RunoffError, match="another run is writing into"):
        with writing_alone(tmp_path):
            raise AssertionError("held by a lock that is gone")


def test_a_run_that_fails_gives_the_folder_free(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError):
        with writing_alone(tmp_path):
            raise ZeroDivisionError
    with writing_alone(tmp_path):
        pass
