"""A bicycle shed of 18 m2 without a board, drained over its edge, through every command that takes a roof."""

from pathlib import Path

import pytest

import runoff
from runoff.cli.entry import main
from runoff.errors import RoofError

SHED = """
[roof]
name = "Bicycle shed in Ostrey (invented)"
area_m2 = 18
flow_length_m = 3
fall = 0.03

[[roof.outlets]]
kind = "edge"
length_mm = 6000

[[layer]]
kind = "planting"

[[layer]]
kind = "medium"
depth_mm = 50

[[layer]]
kind = "fleece"

[[layer]]
kind = "mat"

[[layer]]
kind = "membrane"
"""


@pytest.fixture
def shed(tmp_path: Path) -> Path:
    path = tmp_path / "shed.toml"
    path.write_text(SHED, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("command", "rest", "words"),
    [
        ("simulate", ["--no-figures"], "retention"),
        ("sweep", ["--try", "outlet.length_mm=3000,6000", "--depth", "30mm", "--pattern", "uniform", "--duration", "1h", "--no-figures"],
         "L/(s ha)"),
        ("storm", ["--duration", "1h", "--return-period", "10", "--no-figures"], "until drained, 1 lost"),
        ("outlets", ["--duration", "1h", "--no-figures"], "50 % of the edge left"),
        ("order", [], "mat"),
        ("dossier", ["--members", "20"], "Annual capture"),
    ],
)  # fmt: skip
def test_every_command(command: str, rest: list[str], words: str, shed: Path, tmp_path: Path, capsys) -> None:
    out = tmp_path / ("out.html" if command == "dossier" else "out")
    assert main([command, str(shed), *rest, "--out", str(out)]) == 0
    assert words in capsys.readouterr().out


def test_its_gutter_is_held_against_the_design_peak(shed: Path, tmp_path: Path, capsys) -> None:
    """100-year rain of the sample table: 211.2 mm/h on 18 m2 are 1.056 L/s, 16.74 gpm. A gutter of 12 gpm (0.757 L/s) runs over."""
    typed = ["--duration", "1h", "--no-figures", "--out", str(tmp_path / "out")]
    assert main(["outlets", str(shed), *typed]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "The gutter along the edge is not described: the design peak is 1.06 L/s, give what it takes as gutter_l_per_s."
        in said
    )
    assert "Alternatives the roof drains over an edge" in said
    sheet = tmp_path / "sheet.html"
    for gutter, words in (
        (12, "does not take the design peak and runs over: it takes 0.76 L/s"),
        (20, "takes the design peak: it takes 1.26"),
    ):
        shed.write_text(SHED.replace("length_mm = 6000", f"length_mm = 6000\ngutter_gpm = {gutter}"), encoding="utf-8")
        assert main(["outlets", str(shed), *typed, "--sheet", str(sheet)]) == 0
        assert words in " ".join(capsys.readouterr().out.split())
        assert words in " ".join(sheet.read_text(encoding="utf-8").split())
        assert runoff.verify_dossier(sheet).is_genuine
    with pytest.raises(RoofError, match=r"gutter_l_per_s belongs to an edge outlet \(you wrote it for a round one\)"):
        runoff.Outlet(kind="round", diameter_mm=100.0, gutter_l_per_s=1.0)


def test_where_the_mat_holds_water_back_the_routed_depth_counts(shed: Path, tmp_path: Path, capsys) -> None:
    """By hand the edge passes the design peak at 4 mm; the mat does not, and the water runs over the medium, 55 mm up."""
    roof = runoff.read_roof(shed)
    storm = runoff.followed_by_dry(runoff.design_storm(depth_mm=60, duration="1h", step="5min", pattern="uniform"), 6.0)
    check = runoff.check_outlets(roof, storm, allowable_depth_mm=60.0)
    peak = 60.0 * 18.0 / 3600.0
    by_hand = (24000.0 * peak / 3000.0) ** (2.0 / 3.0)
    assert float(check["head"].sel(state="lost")) == pytest.approx(by_hand) and by_hand < 4.0
    assert float(check["overflow_depth"]) == float(check["overflow_run_depth"]) > 55.0
    assert float(check["rain_load"]) == pytest.approx(0.0098 * float(check["overflow_depth"]))
