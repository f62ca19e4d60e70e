"""Sweeps and targets on what an approver asks, outlets among the choices, and sizing with doubt."""

from pathlib import Path

import numpy as np
import pytest

import runoff
from runoff.cli.entry import main
from runoff.errors import RoofError, SizingError
from runoff.findings.draining import DRAINAGE_FIGURES, drainage_figures, summer_drying
from runoff.findings.tables import cell, sweep_text
from runoff.sizing.choosing import chance_words
from runoff.sizing.targets import read_targets


@pytest.fixture(scope="module")
def roof():
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def weather():
    return runoff.open_sample().sel(time=slice("2001", "2008"))


def storm():
    return runoff.design_storm(depth_mm=40, duration="1h", step="5min", pattern="uniform")


def test_a_sweep_over_outlets_takes_the_figures_of_a_storm(roof, weather) -> None:
    table = runoff.sweep(roof, weather, {"outlet.count": [1.0, 2], "outlet.diameter_mm": [75, 150]}, storm=storm())
    assert list(table["outlet.count"].to_numpy()) == [1.0, 1.0, 2.0, 2.0]
    for at, changes in enumerate([(1, 75.0), (1, 150.0), (2, 75.0), (2, 150.0)]):
        one = roof.replace({"outlet.count": changes[0], "outlet.diameter_mm": changes[1]})
        alone = drainage_figures(one, storm(), drying_mm_per_day=summer_drying(weather))
        for name in DRAINAGE_FIGURES:
            # infinite hours are equal; run alone or beside others the loop is the same
            assert float(table[name][at]) == float(alone[name]), name
    text = sweep_text(table)
    assert "> 168" in text and "L/(s ha)" in text  # one outlet, and that one lost
    assert "peak_release" not in runoff.sweep(roof, weather, {"outlet.count": [1, 2]})


def test_a_count_is_a_whole_number_and_of_one_kind(roof, weather) -> None:
    with pytest.raises(RoofError, match="outlet, count must be a whole number"):
        runoff.sweep(roof, weather, {"outlet.count": [1.5]})
    both = roof.replace(
        {"roof.outlets": (*roof.outlets, runoff.Outlet(kind="rectangular", width_mm=300.0, height_mm=100.0))}
    )
    message = (
        r'replace: "outlet.count": the roof has several kinds of outlet \(2 round outlets of 100 mm and 1 rectangular outlet of '
        r"300 x 100 mm\), and it would change all of them; give roof.outlets, or a roof file for each"
    )
    with pytest.raises(RoofError, match=message):
        both.replace({"outlet.count": 3})


def test_a_release_is_a_target(roof, weather) -> None:
    targets = {"hours_to_drain_some_lost": {"at_most": 48.0}, "peak_release": {"at_most": 110.9}}
    with pytest.raises(SizingError, match="targets: hours_to_drain_some_lost, peak_release needs a storm; give storm="):
        runoff.size(roof, weather, targets, {"outlet.count": [1, 2]}, members=0)
    choices = {"outlet.count": [1, 2], "medium.depth_mm": [80, 120]}
    judged = runoff.size(roof, weather, targets, choices, storm=storm(), members=0)
    assert judged["meets"].sel(target="hours_to_drain_some_lost at most 48").to_numpy().tolist() == [
        False,
        False,
        True,
        True,
    ]
    assert "hours to drain some lost" in judged.attrs["verdict"] or int(judged["chosen"]) >= 0
    one = runoff.size(
        roof, weather, {"hours_to_drain_some_lost": {"at_most": 48.0}}, {"outlet.count": [1]}, storm=storm(), members=0
    )
    assert "hours to drain some lost not within 7 days instead of at most 48 h" in one.attrs["verdict"]
    assert cell("hours_to_drain", np.inf, "h") == "> 168"


def test_storage_and_the_guideline_test_need_no_storm(roof, weather) -> None:
    judged = runoff.size(
        roof, weather, {"storage": {"at_least": 30.0}, "guideline_coefficient": {"at_most": 0.5}},
        {"medium.depth_mm": [60, 80, 100]}, members=0,
    )  # fmt: skip
    assert judged["storage"].to_numpy()[1] == pytest.approx(
        30.95
    )  # 1 + 1.95 + 20 + 0.5 + 3.5 + 4, `tests/findings/test_draining.py`
    assert judged["meets_all"].to_numpy().tolist() == [False, True, True]
    assert np.isnan(judged["peak_release"]).all()


def test_how_probable_it_is_that_targets_hold(roof) -> None:
    weather = runoff.open_sample().sel(
        time=slice("1991", "2010")
    )  # under 20 years a warning says that ranges are too narrow
    targets = {"retention": {"at_least": 0.40}, "drained_mass": {"at_most": 150.0}, "peak_release": {"at_most": 500.0}}
    choices = {"medium.depth_mm": [40, 100]}
    given = {"storm": storm(), "ranges": True, "members": 10}
    likely = runoff.size(roof, weather, targets, choices, seed=4, **given)
    again = runoff.size(roof, weather, targets, choices, seed=4, **given)
    np.testing.assert_array_equal(likely["probability"], again["probability"])
    other = runoff.size(roof, weather, targets, choices, seed=5, **given)
    assert not np.array_equal(likely["probability"], other["probability"])
    chance = likely["probability"].sel(target="retention at least 0.4").to_numpy()
    assert 0.0 <= chance[0] < chance[1] <= 1.0  # deeper keeps more, in the same draws
    assert (likely["probability_all"] <= likely["probability"].min("target") + 1e-12).all()
    assert likely["probability"].sel(target="peak_release at most 500").to_numpy().tolist() == [1.0, 1.0]  # not drawn
    words = chance_words(likely, read_targets(targets))
    assert "peak release at most 500 L/(s ha) in 100 % (not drawn)" in words
    assert "At 50 %: " in words and "At 90 %: " in words and words in likely.attrs["verdict"]
    for level, pick in zip((0.5, 0.9), likely["chosen_likely"].to_numpy(), strict=True):
        good = likely["probability_all"].to_numpy() >= level
        assert (pick == -1) == (not good.any())
        if pick >= 0:
            assert float(likely["drained_mass"][int(pick)]) == float(likely["drained_mass"].to_numpy()[good].min())


def test_ranges_need_years(roof) -> None:
    short = runoff.open_sample().sel(time=slice("2001", "2003"))
    with pytest.raises(SizingError, match="ranges need at least 5 years of weather"):
        runoff.size(roof, short, {"retention": {"at_least": 0.4}}, {"medium.depth_mm": [80]}, ranges=True, members=20)


# --- as it is typed --------------------------------------------------------------------------------------------


def test_typed_sweeps(tmp_path, capsys) -> None:
    out = ["--no-figures", "--out", str(tmp_path)]
    assert main(["sweep", "--try", "outlet.count=1,2", "--at-most", "peak_release=400", "--at-least", "retention=30%",
                 "--ranges", "--seed", "3", "--members", "20", *out]) == 0  # fmt: skip
    said = " ".join(capsys.readouterr().out.split())
    assert "Storm design storm: alternating block from ostrey_depth_duration.csv" in said and "INVENTED" in said
    assert "The choice meets" in said and "At 90 %:" in said
    assert main(["sweep", "--ranges", *out]) == 1
    assert "--ranges says how probable it is that targets hold" in capsys.readouterr().err
    path = tmp_path / "roof.toml"
    path.write_text(runoff.open_sample_roof("cups").to_toml(), encoding="utf-8")
    assert main(["sweep", str(path), "--at-most", "peak_release=10", *out]) == 1
    assert (
        "peak_release needs a storm: add --depth-duration FILE --return-period YEARS, or --depth"
        in capsys.readouterr().err
    )


def test_what_an_approver_asks_is_printed(tmp_path, capsys) -> None:
    typed = ["storm", "--duration", "1h", "--return-period", "10", "--no-figures", "--out", str(tmp_path)]
    assert main([*typed, "--release", "10 L/(s ha)"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "MORE THAN the 10 L/(s ha) allowed" in said and "24 h yes, 48 h yes, 72 h yes" in said
    assert "storage recovered after 48 h" in said and "medium 20.0 L/m2" in said and "total 31.0 L/m2" in said
    assert main(["storm", "--guideline-test"]) == 0
    assert "C     0.50: share of 27.0 mm in 15 min that leaves the medium" in capsys.readouterr().out


def test_a_flood_test_is_printed(tmp_path, capsys) -> None:
    """15 x 15 m, 7.5 m to a valley at 2 %, 50 mm at the high edge: 200 mm, 125 mm in the mean, 28.125 m3."""
    path = tmp_path / "roof.toml"
    changes = {"roof.area_m2": 225.0, "roof.flow_length_m": 7.5, "roof.fall": 0.02}
    path.write_text(runoff.open_sample_roof("cups").replace(changes).to_toml(), encoding="utf-8")
    assert main(["outlets", str(path), "--flood-test", "50mm"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Low end 200 mm, 200 kg/m2 there" in said and "Mean 125 mm, 125 kg/m2; 28.13 m3" in said
    # the sample's sill lies 120 mm, its edge 400 mm above the deck
    assert "stands over the sill of the emergency overflow, 120 mm above the deck: close it for the test" in said
    assert "over the edge" not in said
    assert main(["outlets", str(path), "--flood-test", "300mm"]) == 0  # 450 mm at the low end
    assert "The low end stands over the edge, 400 mm above the deck" in " ".join(capsys.readouterr().out.split())
    assert main(["outlets", str(path), "--flood-test", "50mm", "--falls", "pyramid"]) == 0
    assert "22.50 m3" in capsys.readouterr().out


def test_a_comparison_of_outlets_judges_neither_depth_nor_load() -> None:
    """Smaller outlets meet a release by holding water on the roof: a choice among them says so, one of depths need not."""
    weather = runoff.open_sample().sel(time=slice("2014", "2015"))
    storm = runoff.design_storm(depth_mm=40, duration="1h", step="5min", pattern="uniform")
    roof = runoff.open_sample_roof("cups")
    for choices, cautioned in (({"outlet.diameter_mm": [75, 100]}, True), ({"medium.depth_mm": [60, 80]}, False)):
        swept = runoff.sweep(roof, weather, choices, storm=storm)
        sized = runoff.size(roof, weather, {"peak_release": {"at_most": 400.0}}, choices, storm=storm, members=0)
        for table in (swept, sized):
            said = table.attrs.get("caution", "")
            assert (
                "is not judged here: hold the choice against the design peak and the structure" in said
            ) is cautioned
            assert ("is not judged here" in str(runoff.show(table))) is cautioned


def test_a_sweep_needs_no_board(tmp_path, capsys) -> None:
    """A mat alone has no cups: what is compared unasked is the depth of the medium."""
    thin = Path(__file__).parents[1] / "sample_storms" / "roof_thin_no_board.toml"
    words = ["sweep", str(thin), "--no-ranges", "--no-figures", "--out", str(tmp_path)]
    assert main(words) == 0
    assert "5 designs of it" in capsys.readouterr().out
    assert main([*words[:2], "--try", "outlet.count=1,2", *words[2:]]) == 0
    assert "is not judged here" in capsys.readouterr().out
    assert main([*words[:2], "--try", "medium.depth_mm=60", *words[2:]]) == 0
    assert "1 design of it" in capsys.readouterr().out
