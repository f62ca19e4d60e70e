"""The commands as a person types them: they run on the sample, say what is invented, and refuse in one sentence."""

import re
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.cli.entry import COMMANDS, main


@pytest.fixture(autouse=True)
def in_an_empty_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_every_command_of_the_design_is_there() -> None:
    named = {"simulate", "sweep", "storm", "outlets", "dossier", "check-weather", "fit", "notebooks"}
    assert named <= set(COMMANDS)


@pytest.mark.slow
def test_simulate_without_arguments(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["simulate"]) == 0
    said = capsys.readouterr().out
    assert "INVENTED" in said
    assert "not a storm peak" in said
    assert re.search(
        r"How sure: Retention: \d+ % expected; four roofs of five like those measured keep at least \d+ %", said
    )
    assert "Try next" in said
    written = sorted(path.name for path in (tmp_path / "results").iterdir())
    assert written == ["headline_figures.csv", "monthly_balance.png", "water_balance.nc", "year.png"]
    with xr.open_dataset(tmp_path / "results" / "water_balance.nc", engine="h5netcdf") as stored:
        run = runoff.simulate(runoff.open_sample_roof(), runoff.open_sample())
        assert set(stored.data_vars) == set(run.data_vars)
        for name in run.data_vars:
            np.testing.assert_array_equal(stored[name], run[name], err_msg=str(name))
            assert stored[name].attrs.get("units") == run[name].attrs.get("units"), name


@pytest.mark.slow
def test_simulate_in_us_units_with_ones_own_roof(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "roof.toml").write_text(runoff.open_sample_roof("deep").to_toml(), encoding="utf-8")
    assert main(["simulate", "roof.toml", "--units", "us", "--no-figures", "--start", "2001", "--end", "2005"]) == 0
    said = capsys.readouterr().out
    # the rain of these five years in inches, from the sample file itself
    rain = float(runoff.open_sample()["rain"].sel(time=slice("2001", "2005")).sum()) / 5 / 25.4
    assert f"{rain:.1f}" in next(line for line in said.splitlines() if line.startswith("annual rain"))
    assert "Try next" not in said


@pytest.mark.slow
def test_what_a_roof_file_leaves_open_is_said_in_the_head(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The edge: 25 mm of board, 80 of medium and 150 of upstand are 255 mm, 10.04 in."""
    layers = "".join(f'[[layer]]\nkind = "{word}"\n' for word in ("planting", "medium", "board"))
    (tmp_path / "roof.toml").write_text(f"[roof]\narea_m2 = 100\nfall = 0.02\n{layers}", encoding="utf-8")
    assert main(["simulate", "roof.toml", "--units", "us", "--no-figures", "--start", "2001", "--end", "2005"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "Assumed No outlets are described: one of 3.94 in is taken. No edge height is given: taken as 10.04 in above"
        in said
    )
    assert "No emergency overflow is described and none is counted on" in said


def test_the_template_is_a_roof(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["simulate", "--template"]) == 0
    (tmp_path / "roof.toml").write_text(capsys.readouterr().out, encoding="utf-8")
    assert runoff.read_roof(tmp_path / "roof.toml").area_m2 == 100.0


@pytest.mark.slow
def test_sweep_with_targets_names_the_lightest(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    words = ["--try", "medium.depth_mm=60,80,100", "--try", "board.cup_storage_mm=0,4"]
    assert main(["sweep", *words, "--at-least", "retention=40%", "--at-most", "drained_mass=130"]) == 0
    said = capsys.readouterr().out
    assert "meet every target; the lightest is" in said and said.count("<- chosen") == 1
    assert "four roofs of five like those measured keep at least" in " ".join(said.split())
    assert " drained " in said and "kg/m2" in said  # a figure with a target has a column
    assert (tmp_path / "results" / "trade_off.png").stat().st_size > 10_000
    assert (tmp_path / "results" / "heat_map.png").stat().st_size > 10_000


def test_check_weather_prints_verdicts(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["check-weather"]) == 0
    assert "The record can be used." in capsys.readouterr().out
    (tmp_path / "bad.csv").write_text("date,rain_mm\n03/04/2024,1\n", encoding="utf-8")
    assert main(["check-weather", "bad.csv"]) == 1
    assert "bad.csv" in capsys.readouterr().err


def test_notebooks_are_copied_and_kept(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["notebooks", "--to", "lessons"]) == 0
    assert "wait for Idle" in capsys.readouterr().out
    lesson = tmp_path / "lessons" / "06_why_water_has_to_drain.ipynb"
    lesson.write_text("mine", encoding="utf-8")
    assert main(["notebooks", "--to", "lessons"]) == 0
    assert "Kept, since they are there already" in capsys.readouterr().out
    assert lesson.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ["simulate", "nowhere.toml"],
            "runoff simulate: nowhere.toml: there is no such roof file; `runoff simulate --template` prints a roof file to start from",
        ),
        (
            ["sweep", "--at-least", "retention"],
            '--at-least takes FIGURE=VALUE, for example retention=0.55 (given "retention")',
        ),
        (
            ["sweep", "--try", "depth"],
            '--try takes LAYER.FIELD=A,B,C, for example medium.depth_mm=60,80,100 (given "depth")',
        ),
    ],
)
def test_refusals_are_one_sentence(words: list[str], message: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 1
    assert capsys.readouterr().err.strip() == message


@pytest.mark.slow
def test_the_readme_shows_what_the_command_prints(capsys: pytest.CaptureFixture[str]) -> None:
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("```text\n")[2].partition("```")[0].splitlines()
    assert main(["simulate", "--no-figures"]) == 0
    said = capsys.readouterr().out
    assert len(shown) > 4 and set(shown) <= set(said.splitlines())
    expected, relied_on = re.findall(r"What is expected is (\d+ %); (four roofs of five [^.]*)\.", readme)[0]
    assert f"Retention: {expected} expected; {relied_on}." in " ".join(said.split())


def test_a_target_on_cost_is_refused_where_no_prices_can_be_given(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["sweep", "--at-most", "cost=50"]) == 1
    assert capsys.readouterr().err.strip() == (
        "--at-most cost: the command line takes no prices; give them to runoff.size in Python"
    )
