"""The bytes of a file: read once from a pipe, bounded, and every trouble of the disk told as a sentence."""

import errno
import gzip
import io
import os
import re
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import runoff
from runoff import file_bytes
from runoff.errors import MissingFileError, WeatherError

DAYS = "time,rain_mm\n" + "".join(f"2023-{m:02d}-{d:02d},{(m * d) % 7}\n" for m in range(1, 13) for d in range(1, 29))


def refused(path: Path, words: str, **options) -> None:
    with pytest.raises(runoff.WeatherError, match=words):
        runoff.read_weather(path, **options)


def through_a_pipe(path: Path, raw: bytes) -> None:
    """Write into the pipe at `path` from a thread, as another program would."""
    os.mkfifo(path)

    def write() -> None:
        with path.open("wb") as pipe:
            pipe.write(raw)

    threading.Thread(target=write, daemon=True).start()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
@pytest.mark.parametrize("packed", [False, True], ids=["text", "gzipped"])
def test_a_pipe_loses_nothing(tmp_path: Path, packed: bool) -> None:
    # larger than the 4 KB that a second opening of the pipe would miss, and than the 64 KB a pipe holds at once
    text = DAYS + "".join(f"{year}-01-{day:02d},1.5\n" for year in range(2024, 2025) for day in range(1, 32))
    text += "# " + "x" * 100_000 + "\n"
    plain = tmp_path / "rain.csv"
    plain.write_text(text)
    raw = gzip.compress(text.encode()) if packed else text.encode()
    through_a_pipe(tmp_path / "pipe", raw)
    expected, found = runoff.read_weather(plain), runoff.read_weather(tmp_path / "pipe")
    assert found["rain"].equals(expected["rain"])
    if not packed:
        assert found.attrs["sha256"] == expected.attrs["sha256"]  # of the same bytes, not of an empty second reading


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with names")
def test_a_silent_pipe_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(file_bytes, "PATIENCE_S", 0.05)
    os.mkfifo(tmp_path / "pipe")
    refused(
        tmp_path / "pipe", r"^pipe: nothing came through this pipe for 0\.05 s; write the weather file to a file first$"
    )


@pytest.mark.slow
@pytest.mark.skipif(not Path("/dev/fd").exists(), reason="no substitution of processes here")
def test_a_substituted_process_is_read_whole(tmp_path: Path) -> None:
    (tmp_path / "rain.csv").write_text(DAYS)
    code = "import runoff, sys; print(float(runoff.read_weather(sys.argv[1])['rain'].sum()))"
    line = f'"{sys.executable}" -c "{code}" <(cat rain.csv)'
    done = subprocess.run(["bash", "-c", line], capture_output=True, text=True, cwd=tmp_path, check=True)
    assert float(done.stdout) == float(runoff.read_weather(tmp_path / "rain.csv")["rain"].sum())


def test_troubles_of_the_disk_are_sentences(tmp_path: Path) -> None:
    loop = tmp_path / "loop.csv"
    loop.symlink_to(loop)
    refused(loop, r"^loop\.csv: its link leads back to itself$")
    refused(tmp_path / ("n" * 300), r"^n{79}…: its name is too long for this machine$")
    refused(tmp_path / "a\0b.csv", r"^a�b\.csv: its name holds a character that no file name can hold$")
    refused(Path("/dev/zero"), r"^zero: this is a device, not a weather file$")
    refused(tmp_path, r": this is a folder, not a weather file \(and no Zarr folder\)$")
    with pytest.raises(MissingFileError, match="there is no such weather file"):
        runoff.read_weather(tmp_path / "rain.csv" / "below.csv")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.EACCES, "it may not be read: this user has no permission"),
        (errno.EIO, r"it cannot be read \(input/output error\)"),
        (errno.EMFILE, r"it cannot be read \(too many open files\)"),
    ],
)
def test_what_the_machine_says_against_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code, words) -> None:
    (tmp_path / "rain.csv").write_text(DAYS)

    def fail(*_: object) -> int:
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(file_bytes.os, "open", fail)  # the superuser, who runs tests too, may read everything
    refused(tmp_path / "rain.csv", rf"^rain\.csv: {words}$")


def test_a_missing_file_is_both_kinds_of_error(tmp_path: Path) -> None:
    for kind in (FileNotFoundError, runoff.RunoffError):
        with pytest.raises(kind) as raised:
            runoff.read_weather(tmp_path / "nowhere.csv")
        assert raised.value.filename == str(tmp_path / "nowhere.csv")  # type: ignore[attr-defined]


def test_a_bomb_is_refused_without_being_unpacked_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(file_bytes, "MOST_BYTES", 4 * 2**20)
    path = tmp_path / "bomb.csv.gz"
    path.write_bytes(gzip.compress(b"0\n" * 2**23))  # 16 MB in 16 kB
    refused(
        path, r"^bomb\.csv\.gz: unpacked it gives more than 4 MB, the most that is read of a weather file as text; "
    )
    plain = tmp_path / "large.csv"
    plain.write_bytes(b"0\n" * 2**22)
    refused(plain, r"^large\.csv: it holds more than 4 MB, ")


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (gzip.compress(gzip.compress(DAYS.encode())), "this is a gzipped file inside a gzipped file; unpack it once"),
        (gzip.compress(DAYS.encode())[:-20], "the gzipped file is cut short or damaged; fetch it again"),
        (
            gzip.compress(DAYS.encode())[:30] + b"\xff" * 40 + gzip.compress(DAYS.encode())[70:],
            "the gzipped file is cut short or damaged; fetch it again",
        ),
        (b"BZh91AY&SY", "this is a file packed by bzip2; unpack it, or pack it by gzip"),
        (b"\xff\xfea\x00\x00\xd8", "its text is damaged: it begins as UTF-16 and does not go on so; save it as UTF-8"),
        (
            DAYS.encode() + b"#" * 4096 + b"\n2024-01-01,\x00\n",
            "it holds zero bytes (first on line 339), which no text has; the file is damaged, fetch it again",
        ),
    ],
    ids=["packed twice", "cut short", "damaged inside", "another packer", "half a letter", "zero bytes far down"],
)
def test_damaged_bytes(tmp_path: Path, raw: bytes, words: str) -> None:
    path = tmp_path / "rain.csv"
    path.write_bytes(raw)
    refused(path, f"^{re.escape(f'rain.csv: {words}')}$")


@pytest.mark.slow
def test_a_line_without_end_is_refused_and_many_columns_are_not(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "wide.csv"
    names, values = ",".join(f"c{k}" for k in range(200_000)), ",".join(["0"] * 200_000)
    path.write_text(f"time,rain_mm,{names}\n2024-01-01,1,{values}\n2024-01-02,2,{values}\n")
    assert runoff.read_weather(path)["rain"].to_numpy().tolist() == [1.0, 2.0]
    path.write_text(f"{names}\n{values}\n")
    with pytest.raises(WeatherError) as raised:
        runoff.read_weather(path)
    assert len(str(raised.value)) < 1000  # not all the names
    monkeypatch.setattr(file_bytes, "MOST_LINE", 2 * 2**20)
    refused(path, r"^wide\.csv: line 1 is longer than 1 million characters; no weather table has such lines$")


def test_an_end_mark_of_old_systems_and_old_ends_of_lines(tmp_path: Path) -> None:
    path = tmp_path / "rain.csv"
    path.write_bytes(b"time,rain_mm\r2024-01-01,1\r2024-01-02,2\r\x1a")
    assert runoff.read_weather(path)["rain"].to_numpy().tolist() == [1.0, 2.0]


def test_other_marks_of_a_line_end_split_nothing(tmp_path: Path) -> None:
    path = tmp_path / "rain.csv"
    path.write_text("time,rain_mm,note\n2024-01-01,1,a\x0bb\u2028c\x85d\n2024-01-02,2,e\n")
    assert runoff.read_weather(path)["rain"].to_numpy().tolist() == [1.0, 2.0]


def test_names_and_cells_reach_a_terminal_without_control_characters(tmp_path: Path) -> None:
    path = tmp_path / "ra\x1b[31min.csv"
    path.write_text("time,rain_mm\n2024-01-01,\x1b[2Jx\n2024-01-02,1\n")
    with pytest.raises(WeatherError) as raised:
        runoff.read_weather(path)
    assert str(raised.value).startswith('ra�[31min.csv: rain: no number on 1 line (line 2: "�[2Jx")')
    path.write_text("time,rain_mm\n2024-01-01,2\n2024-01-02,1\n")
    assert runoff.read_weather(path).attrs["source"] == "ra�[31min.csv"


def test_bytes_left_on_disk_are_not_read(tmp_path: Path) -> None:
    path = tmp_path / "grid.nc"
    path.write_bytes(b"\x89HDF\r\n\x1a\n")
    assert file_bytes.read_bytes(path, "file", WeatherError, stays_on_disk=lambda head: head[:4] == b"\x89HDF") is None
    assert file_bytes.unpacked(b"abc", "file", WeatherError) == b"abc"
    assert file_bytes.decoded(io.BytesIO(b"\xef\xbb\xbfabc").getvalue(), WeatherError) == "abc"
