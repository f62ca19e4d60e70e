"""Words after an option that name nothing, name it twice or hold another kind of value: each by its sentence."""

from pathlib import Path

import pytest

from runoff.cli.destination import Results
from runoff.cli.entry import main
from runoff.errors import RunoffError
from runoff.sample_files import sample_folder


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def refused(capsys: pytest.CaptureFixture[str]):
    def by(*words: str) -> str:
        try:
            code = main(list(words))
        except SystemExit as stop:  # words that the parser itself cannot place
            code = int(stop.code or 0)
        assert code in (1, 2)
        assert list(Path().iterdir()) == []  # nothing is half written
        return capsys.readouterr().err

    return by


def test_a_name_given_twice(refused) -> None:
    said = refused("check-weather", "w.csv", "--unit", "rain=mm", "--unit", "rain=in")
    assert '--unit names rain twice (given "rain=mm" and "rain=in")' in said


def test_layout_words_of_another_kind(refused) -> None:
    said = refused("check-weather", "w.csv", "--layout", "skip_lines=two", "--layout", "header=maybe")
    assert '--layout: skip_lines is a number of lines (given "two")' in said
    assert '--layout: header is yes or no (given "maybe")' in said


def test_a_choice_that_is_none(refused) -> None:
    said = refused("simulate", "--units", "metric")
    assert '--units: is one of si, us (given "metric")' in said or '--units is one of si, us (given "metric")' in said


def test_a_command_that_is_none(refused) -> None:
    assert "COMMAND is one of simulate, " in refused("simulat")


def test_columns_that_a_log_of_overflow_does_not_hold(refused) -> None:
    log = str(sample_folder() / "nothing.csv")
    said = refused("fit", "--observed", log, "--log-column", "snow=S")
    assert "--log-column snow: a log of overflow holds overflow, rain, time" in said


@pytest.mark.slow
def test_a_figure_of_a_sweep_that_has_none(refused) -> None:
    words = ["sweep", "--try", "medium.depth_mm=60,80", "--out", "one.png"]
    said = refused(*words)
    assert "--out: a figure needs targets, or two properties with two values or more each" in said


def test_no_place_to_write_to() -> None:
    with pytest.raises(RunoffError, match="--out: no place to write to; give a folder or a file"):
        Results(None, is_file=False, figures=True).path("sheet.html")
