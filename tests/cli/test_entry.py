"""Whatever goes wrong ends in a sentence and an exit code, never in a traceback."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from runoff.cli.entry import COMMANDS, main, module_of

RUNOFF = [sys.executable, "-m", "runoff"]


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> str:
    assert main(words) == 1
    return capsys.readouterr().err.strip()


@pytest.mark.parametrize("command", COMMANDS)
def test_help_names_every_option_once(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    said = capsys.readouterr().out
    assert ("Traceback" not in said and "--out" in said) or command in ("check-weather", "notebooks")


def test_help_names_the_words_that_options_take(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["sweep", "--help"])
    said = " ".join(capsys.readouterr().out.split())
    for words in (
        "time, rain, tmin, tmax, tmean, reference_et, solar_radiation, humidity",  # quantities
        "depth: mm, cm, m, in, ft",  # units
        "separator: one character, tab or space; decimal: . or ,; skip_lines: such as 3",  # layout
        "zero, monthly-mean, same-day-of-other-years, spread-gathered",  # fill
        "penman-monteith, hargreaves-samani",  # evapotranspiration
        "medium. material, depth_mm",  # properties
        "annual_capture_mm (mm)",  # figures
    ):
        assert words in said, words


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["simulat"], "COMMAND is one of simulate, "),
        (["simulate", "--unit-s", "us"], 'there is no option --unit-s (did you mean "--units"?)\nrunoff simulate --help'),
        (["simulate", "--units", "metric"], '--units is one of si, us (given "metric")\nrunoff simulate --help'),
        (["simulate", "--units"], "--units needs a value\nrunoff simulate --help lists what it takes"),
        (["simulate", "a", "b", "c"], '"c" is one word too many\nrunoff simulate --help lists what it takes'),
        (["simulate", "--start", "2050"], "--start and --end: nothing lies between 2050 and the end; the record runs from "),
        (["simulate", "--start", "monday"], "--start is a year, month, day or time, such as 1990, 2019-06, 2019-06-30 or "),
        (["simulate", "--start", "2001-02-31"], "--start and --end are years or dates, such as 1990 or 2019-06-30 (given 2001-02-31"),
        (["fit", "--start", "2014-02-31"], "--start: 2014-02-31 is no day of the calendar, or lies outside the years 1678"),
        (["fit", "--end", "9999-12-31"], "--end: 9999-12-31 is no day of the calendar, or lies outside the years 1678"),
        (["simulate", "--out=--"], '--out needs a value (given "--")'),
        (["simulate", "--latitude", "95", "r", "w"], "--latitude must be at least -90 and at most 90 degrees (given 95)"),
        (["simulate", "--latitude", "north"], '--latitude is a number (given "north")'),
        (["simulate", "--latitude", "nan"], "--latitude must be at least -90 and at most 90 degrees (given nan)"),
        (
            ["simulate", "--column", "rain=RR", "--latitude", "47"],
            "--latitude and --column belong to a weather file, and none is given: name the file after the roof",
        ),
        (["dossier", "--seed", "-1"], "--seed must be at least 0 (given -1)"),
        (["dossier", "--members", "5"], "--members must be at least 20 and at most 5000 (given 5)"),
        (["simulate", "--out", "x.pdf"], '--out: runoff simulate writes .nc, .csv, .png or a folder (given "x.pdf")'),
        (["simulate", "--out", "x.png", "--no-figures"], "--no-figures and an --out that ends in .png exclude each other"),
        (["simulate", "--out", "no/x.nc"], "--out: there is no folder no; make it, or choose another for x.nc"),
        (["storm", "--out", "x.nc"], "--out: x.nc holds one storm, and 3 are asked for; give one --return-period, a folder"),
        (["simulate", "nowhere.toml"], "runoff simulate: nowhere.toml: there is no such roof file; `runoff simulate --temp"),
        (["simulate", "."], ".: this is a folder, not a roof file"),
        (["simulate", "x" * 300 + ".toml"], "x" * 300 + ".toml: its name is too long for this machine"),
        (["check-weather", "nowhere.csv"], "runoff check-weather: nowhere.csv: there is no such weather file"),
    ],
)  # fmt: skip
def test_refusals(words: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert refused(words, capsys).startswith(message)


@pytest.mark.parametrize(
    ("error", "sentence"),
    [
        (PermissionError(errno.EACCES, "Permission denied", "roof.toml"), "runoff simulate: roof.toml: it may not be read: this user has no permission"),
        (IsADirectoryError(errno.EISDIR, "Is a directory", "roof.toml"), "runoff simulate: roof.toml: this is a folder, a file is needed"),
        (OSError(errno.ELOOP, "Too many levels of symbolic links", "a"), "runoff simulate: a: its link leads back to itself"),
        (OSError(errno.ENOSPC, "No space left on device", "a"), "runoff simulate: a: the disk is full"),
        (FileNotFoundError(errno.ENOENT, "No such file or directory", "a"), "runoff simulate: a: there is no such file"),
        (MemoryError(), "runoff simulate: not enough memory; take fewer years, designs or cells at a time"),
        (UnicodeDecodeError("utf-8", b"\xff", 0, 1, "invalid"), "runoff simulate: a file is not UTF-8 text; save it as UTF-8"),
        (
            ZeroDivisionError("division by zero"),
            "runoff simulate: this should not have happened (ZeroDivisionError: division by zero). Set RUNOFF_TRACEBACK=1 "
            "and run it again to see where, and report it.",
        ),
        (KeyboardInterrupt(), "runoff simulate: stopped."),
    ],
)  # fmt: skip
def test_whatever_is_raised_becomes_a_sentence(
    error: BaseException, sentence: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(options: object) -> int:
        raise error

    monkeypatch.setattr(module_of("simulate"), "run", fail)
    assert main(["simulate"]) == (130 if isinstance(error, KeyboardInterrupt) else 1)
    assert capsys.readouterr().err.strip() == sentence


def test_the_place_in_the_code_is_shown_when_asked(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(options: object) -> int:
        raise ZeroDivisionError("here")

    monkeypatch.setattr(module_of("simulate"), "run", fail)
    monkeypatch.setenv("RUNOFF_TRACEBACK", "1")
    assert main(["simulate"]) == 1
    assert "Traceback" in capsys.readouterr().err


def test_a_reader_of_a_pipe_that_leaves_ends_the_command_quietly() -> None:
    run = subprocess.Popen([*RUNOFF, "simulate", "--no-figures"], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert run.stdout is not None and run.stderr is not None
    run.stdout.close()
    assert run.wait(60) == 0 and run.stderr.read() == b""
    run.stderr.close()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is always full")
def test_what_cannot_be_printed_is_told_and_not_tried_again() -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run([*RUNOFF, "order"], stdout=full, stderr=subprocess.PIPE, text=True)
    assert (done.returncode, done.stderr) == (1, "runoff order: the disk is full; not everything could be written\n")


def test_ctrl_c_leaves_one_line() -> None:
    # sent from within, in the middle of the work: from outside it would have to be guessed when that has begun
    code = (
        "import os, signal, sys; from runoff.cli import outlets_command as it; from runoff.cli.entry import main; "
        "signal.signal(signal.SIGINT, signal.default_int_handler); "  # a shell's job in the background is born deaf to it
        "it.run = lambda options: os.kill(os.getpid(), signal.SIGINT); sys.exit(main(['outlets']))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.returncode == 130 and done.stderr == "runoff outlets: stopped.\n"


def test_a_second_run_into_one_folder_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from runoff.writing import writing_alone

    (tmp_path / "results").mkdir()
    with writing_alone(tmp_path / "results"):
        assert refused(["simulate"], capsys) == (
            "another run is writing into results: wait until it has ended, or choose another place"
        )
    assert main(["simulate", "--no-figures"]) == 0
    assert capsys.readouterr().out.count("in place of") == 0
    assert main(["simulate", "--no-figures"]) == 0
    assert "water_balance.nc, headline_figures.csv (2 in place of those of an earlier run)" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["a.nc", "a.csv", "a.png"])
def test_out_names_a_file_when_it_ends_like_one(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["simulate", "--start", "2001", "--end", "2002", "--out", name]) == 0
    assert f"Written: {name}\n" in capsys.readouterr().out
    assert [one.name for one in tmp_path.iterdir()] == [name]


def test_the_template_is_written_and_never_replaces_a_roof(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["simulate", "--template", "--out", "my.toml"]) == 0
    assert capsys.readouterr().out == "Written: my.toml\n"
    assert refused(["simulate", "--template", "--out", "my.toml"], capsys) == (
        "--out: there is a roof file my.toml already; choose another name, or remove it first"
    )


def test_a_verdict_of_stop_is_a_result(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lines = [
        f"2001-{month:02d}-{day:02d},{'' if month == 6 else 1.5}" for month in range(1, 13) for day in range(1, 29)
    ]
    (tmp_path / "w.csv").write_text("\n".join(["date,rain_mm", *lines]), encoding="utf-8")
    assert main(["check-weather", "w.csv", "--latitude", "47"]) == 0
    assert "STOP" in capsys.readouterr().out


def test_nothing_is_shown_of_progress_where_nobody_watches(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sweep", "--no-figures", "--try", "medium.depth_mm=60,80"]) == 0
    assert capsys.readouterr().err == ""


@pytest.mark.skipif(not hasattr(os, "openpty"), reason="needs a pseudo-terminal")
def test_work_of_more_than_two_seconds_is_shown_at_a_terminal() -> None:
    code = (
        "import time\nfrom runoff.saying import progress\nprogress.PATIENCE_S = 0.2\n"
        "with progress.waiting('reading'):\n    time.sleep(1.2)\n"
        "for _ in progress.steps(range(8), 'trying'):\n    time.sleep(0.15)\n"
    )
    import fcntl
    import struct
    import termios

    main_end, other_end = os.openpty()
    fcntl.ioctl(other_end, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 100, 0, 0))  # a window of nobody has no width
    run = subprocess.Popen([sys.executable, "-c", code], stderr=other_end)
    run.wait(30)
    os.set_blocking(main_end, False)
    said = os.read(main_end, 100_000).decode()
    os.close(main_end)
    os.close(other_end)
    assert "reading: 00:0" in said and "trying" in said and "8" in said


@pytest.mark.parametrize("value", ["", "nan", "-1e12", "9999-12-31", "a=b", "--", "\x00", "/dev/null", "x" * 5000])
def test_odd_values_end_in_results_or_a_sentence(value: str) -> None:
    """The short version of `tests.trials.odd_flags`."""
    from tests.trials.odd_flags import faults_of, odd_runs

    faults = {tuple(words): fault for words in odd_runs("check-weather", (value,)) if (fault := faults_of(words))}
    assert not faults


@pytest.mark.parametrize(("words", "code"), [(["order"], 0), (["order", "no_such_roof.toml"], 1)])
def test_a_process_ends_with_its_code_and_takes_nothing_apart(words: list[str], code: int) -> None:
    """What a library asks for at the end of the process is done before, and all that was printed arrives."""
    script = (
        "import atexit, sys\nfrom runoff.cli import entry\n"
        "class Kept:\n    def __del__(self): print('taken apart')\n"
        "kept, main = Kept(), entry.main\n"
        "def with_a_library():\n    atexit.register(print, 'asked for')\n    return main()\n"
        f"entry.main, sys.argv = with_a_library, ['runoff', *{words}]\nsys.exit(entry.process())"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert done.returncode == code
    assert done.stdout.endswith("asked for\n") and "taken apart" not in done.stdout
    assert ("no_such_roof.toml" in done.stderr) == bool(code)
