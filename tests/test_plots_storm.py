"""Storm hydrographs and the rating curve of outlets: what is drawn and said equals what was given."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.balance.outlet_flow import flow, round_outlet
from runoff.plots import outlet_rating_figure, storm_figure

MM_PER_INCH, L_PER_GALLON = 25.4, 3.785411784  # exact by definition


@pytest.fixture(scope="module")
def roof() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


@pytest.fixture(scope="module")
def flood(roof: runoff.Roof) -> xr.Dataset:
    storm = runoff.design_storm(depth_mm=60, duration="24h", step="10min", pattern="type-II")
    return runoff.simulate(roof, storm, start_moisture="field-capacity")


@pytest.fixture(scope="module")
def gravel(roof: runoff.Roof, flood: xr.Dataset) -> xr.Dataset:
    surface = runoff.BareSurface(kind="gravel")
    return runoff.simulate(roof, flood["rain"], start_moisture="field-capacity", comparison=surface)


def curve(axes, start: str):
    (line,) = [one for one in axes.lines if str(one.get_label()).startswith(start)]
    return line


class TestStorm:
    def test_rain_hangs_as_intensity(self, flood: xr.Dataset) -> None:
        rain = storm_figure(flood).axes[0]
        low, high = rain.get_ylim()
        assert low > high == 0.0
        assert "mm/h" in rain.get_ylabel()
        # six steps of ten minutes make an hour: the depth of a step times six is its intensity
        assert rain.patches[0].get_data().values == pytest.approx(6.0 * flood["rain"].to_numpy())

    def test_planted_and_bare_hydrographs_are_the_runs_with_their_peaks_in_words(self, flood: xr.Dataset) -> None:
        flows = storm_figure(flood).axes[1]
        for words, name in (("planted roof", "discharge"), ("bare roof", "bare_discharge")):
            line = curve(flows, words)
            np.testing.assert_allclose(line.get_ydata(), flood[name])
            peak = float(line.get_label().split("peak ")[1].split(" L/s")[0])
            assert peak == pytest.approx(float(flood[name].max()), rel=0.01)  # printed to three digits
        assert "L/s" in flows.get_ylabel() and "whole roof" in flows.get_ylabel()

    def test_lines_differ_by_dash_and_mark(self, flood: xr.Dataset, gravel: xr.Dataset) -> None:
        flows = storm_figure(flood, gravel=gravel).axes[1]
        named = [line for line in flows.lines if not str(line.get_label()).startswith("_")]
        assert len({str(line.get_linestyle()) + str(line._unscaled_dash_pattern) for line in named}) == 3
        marks = [line.get_marker() for line in flows.lines if line not in named and line.get_marker() != "None"]
        assert len(set(marks)) == 3

    def test_gravel_is_a_third_line_from_a_run_or_from_the_dataset(self, flood: xr.Dataset, gravel: xr.Dataset) -> None:
        from_run = curve(storm_figure(flood, gravel=gravel).axes[1], "gravel roof")
        np.testing.assert_allclose(from_run.get_ydata(), gravel["bare_discharge"])
        within = storm_figure(flood.assign(gravel_discharge=gravel["bare_discharge"])).axes[1]
        np.testing.assert_allclose(curve(within, "gravel roof").get_ydata(), gravel["bare_discharge"])

    def test_water_depth_below_with_the_heights_of_the_roof(self, flood: xr.Dataset, roof: runoff.Roof) -> None:
        depth = storm_figure(flood, roof=roof).axes[2]
        np.testing.assert_allclose(depth.lines[0].get_ydata(), flood["water_depth_on_deck_mm"])
        assert "mm" in depth.get_ylabel() and "deck" in depth.get_ylabel() and "hours" in depth.get_xlabel()
        heights = {text.get_text(): text.xy[1] for text in depth.texts}
        assert heights.get("top of the board", roof.build_up.board.height_mm) == roof.build_up.board.height_mm

    def test_us_units(self, flood: xr.Dataset) -> None:
        rain, flows, depth = storm_figure(flood, units="us").axes
        assert "in/h" in rain.get_ylabel() and "gpm" in flows.get_ylabel() and ", in" in depth.get_ylabel()
        gallons_per_minute = float(flood["discharge"].max()) * 60.0 / L_PER_GALLON
        assert max(curve(flows, "planted roof").get_ydata()) == pytest.approx(gallons_per_minute)
        assert max(rain.patches[0].get_data().values) == pytest.approx(6 * float(flood["rain"].max()) / MM_PER_INCH)

    def test_the_sentence_is_made_of_the_data(self, flood: xr.Dataset) -> None:
        text = storm_figure(flood).description
        assert "Storm of 60 mm in steps of 10 min" in text
        assert f"planted roof peaks at {float(flood['discharge'].max()):.3g}" in text
        assert f"reaches {float(flood['water_depth_on_deck_mm'].max()):.3g} mm" in text

    def test_a_daily_run_is_no_storm(self, roof: runoff.Roof) -> None:
        daily = runoff.simulate(roof, runoff.open_sample().isel(time=slice(0, 30)))
        with pytest.raises(runoff.StormError, match=r"steps of 24 h; a storm peak needs steps of an hour or less"):
            storm_figure(daily)

    def test_gravel_of_another_storm(self, flood: xr.Dataset, gravel: xr.Dataset) -> None:
        with pytest.raises(
            runoff.RunoffError, match=r"gravel has 10 steps, the storm 144; run both with the same storm"
        ):
            storm_figure(flood, gravel=gravel.isel(time=slice(0, 10)))

    def test_hours_shown_can_be_chosen(self, flood: xr.Dataset) -> None:
        assert storm_figure(flood, hours=6).axes[2].get_xlim() == (0.0, 6.0)


def test_peaks_and_their_lag_are_read_in_minutes() -> None:
    """Half an hour of invented rain, heaviest in its third step of 5 min, whose middle is 12.5 min after the start."""
    rain = [2.0, 4.0, 9.0, 6.0, 3.0, 1.0] + [0.0] * 18
    storm = runoff.storm_from_series(rain, step="5min", units="mm")
    flood = runoff.simulate(runoff.open_sample_roof("cups"), storm, start_moisture="field-capacity")
    figure = storm_figure(flood)
    flows, depth = figure.axes[1:]
    peak = int(np.argmax(flood["discharge"].to_numpy() >= 0.999 * float(flood["discharge"].max())))
    lag = 5 * (peak - 2)
    words = f"{lag} min after the heaviest rain" if lag else "with the heaviest rain"
    assert curve(flows, "planted roof").get_label().endswith(f" L/s, {words}")
    assert f"after {5 * peak + 3} min, {words}" in figure.description  # the middle of its step, 2.5 min rounded up
    assert depth.get_xlabel() == "minutes since the start of the rain record"
    marked = [text for text in flows.texts if text.get_text() == "heaviest rain"]
    assert marked[0].xy[0] == pytest.approx(12.5 / 60.0)
    ticks = {label.get_text(): at for label, at in zip(depth.get_xticklabels(), depth.get_xticks(), strict=True)}
    assert ticks["60"] == pytest.approx(1.0)


def test_the_core_of_a_day_is_marked_as_a_clock_does() -> None:
    rain = [0.1] * 132 + [2.5] * 12 + [0.1] * 144  # steps of 5 min, invented
    storm = runoff.storm_from_series(rain, step="5min", units="mm")
    depth = storm_figure(runoff.simulate(runoff.open_sample_roof("cups"), storm, start_moisture="field-capacity")).axes[
        2
    ]
    assert depth.get_xlabel() == "hours and minutes since the start of the rain record"
    ticks = {label.get_text(): at for label, at in zip(depth.get_xticklabels(), depth.get_xticks(), strict=True)}
    assert ticks["11:30"] == pytest.approx(11.5)


class TestRating:
    levels = np.linspace(0.0, 60.0, 61)
    laws = (round_outlet(100, strainer=True),) * 2

    def test_curves_are_what_was_given_and_differ_by_dash(self) -> None:
        both, one = flow(self.levels, self.laws), flow(self.levels, self.laws[:1])
        (axes,) = outlet_rating_figure(self.levels, {"both": both, "one blocked": one}).axes
        np.testing.assert_allclose(axes.lines[0].get_xdata(), both)
        np.testing.assert_allclose(axes.lines[0].get_ydata(), self.levels)
        assert axes.lines[0]._unscaled_dash_pattern != axes.lines[1]._unscaled_dash_pattern
        assert axes.get_xlabel() == "flow through the outlets, L/s"
        assert axes.get_ylabel() == "depth of water at the outlet, mm"

    def test_the_peak_stands_on_the_curve_by_hand(self) -> None:
        # EN 12056-3 weir, two outlets with strainer: Q = 2 x 0.5 x 100 h^1.5 / 7500, so 2.7 L/s at
        # h = (2.7 x 7500 / 100)^(2/3) = 202.5^(2/3) = 34.48 mm
        figure = outlet_rating_figure(self.levels, flow(self.levels, self.laws), peak_l_per_s=2.7)
        x, y = (float(values[-1]) for values in figure.axes[0].lines[-1].get_data())
        assert x == 2.7
        assert y == pytest.approx(202.5 ** (2.0 / 3.0), abs=0.02)  # read between points 1 mm apart
        assert "peak of 2.7 L/s needs 34.5 mm" in figure.description

    def test_the_design_peak_stands_on_every_curve_by_hand(self) -> None:
        # the same weir: 2.7 L/s through two outlets at 34.48 mm; through one, h = (2.7 x 7500 / 50)^(2/3) = 405^(2/3) =
        # 54.74 mm, above D / 2 = 50 mm, so it is an orifice: h = (15000 x 2.7 / (0.5 x 100^2))^2 = 8.1^2 = 65.6 mm
        levels = np.linspace(0.0, 80.0, 801)
        curves = {"2 open": flow(levels, self.laws), "1 lost": flow(levels, self.laws[:1])}
        figure = outlet_rating_figure(levels, curves, design_peak_l_per_s=2.7, allowable_level_mm=60.0)
        assert figure.description.startswith(
            "Design peak of 2.7 L/s, C = 1, no credit for storage: 2 open: 34.5 mm, 1 lost: 65.6 mm, 60 mm allowed. "
        )
        marks = [line for line in figure.axes[0].lines if line.get_marker() == "D"]
        assert [float(line.get_ydata()[0]) for line in marks] == pytest.approx([34.48, 65.61], abs=0.02)
        assert any("1 lost: 65.6 mm" in text.get_text() for text in figure.axes[0].texts)
        beyond = outlet_rating_figure(levels, curves, design_peak_l_per_s=5.0)
        assert "1 lost: more than the curve gives" in beyond.description

    def test_a_peak_beyond_the_curve_is_said_to_be_so(self) -> None:
        figure = outlet_rating_figure(self.levels, flow(self.levels, self.laws), peak_l_per_s=50.0)
        assert "peak of 50 L/s is more than the curve gives" in figure.description
        assert figure.axes[0].get_xlim()[1] > 50.0
        assert any("more than the curve gives" in text.get_text() for text in figure.axes[0].texts)

    def test_within_and_beyond_the_depth_allowed(self) -> None:
        given = {"peak_l_per_s": 2.7, "allowable_level_mm": 35.0}
        assert (
            ", within the 35 mm allowed"
            in outlet_rating_figure(self.levels, flow(self.levels, self.laws), **given).description
        )
        assert (
            ", more than the 35 mm allowed"
            in outlet_rating_figure(
                self.levels, flow(self.levels, self.laws[:1]), **{**given, "peak_l_per_s": 2.0}
            ).description
        )

    def test_the_caution_stands_on_the_figure_and_in_the_sentence(self) -> None:
        figure = outlet_rating_figure(self.levels, flow(self.levels, self.laws))
        assert "ask a licensed engineer" in figure.get_supxlabel() and "ask a licensed engineer" in figure.description

    def test_us_units(self) -> None:
        (axes,) = outlet_rating_figure(self.levels, flow(self.levels, self.laws), units="us").axes
        assert axes.get_xlabel().endswith(", gpm") and axes.get_ylabel().endswith(", in")
        assert axes.lines[0].get_ydata()[-1] == pytest.approx(60.0 / MM_PER_INCH)

    @pytest.mark.parametrize(
        ("levels", "flows", "message"),
        [
            ([0, 10, 5], [0, 1, 2], r"levels_mm must be two or more depths, rising from 0 or above"),
            ([-1, 10], [0, 1], r"levels_mm must be two or more depths, rising from 0 or above"),
            ([0, 10], [0, 1, 2], r"outlets has 3 flows for 2 levels"),
            ([0, 10], {"one": [0, -1]}, r"one holds a negative or missing flow"),
            ([0, 10], {"one": [0, np.nan]}, r"one holds a negative or missing flow"),
            ([0, 10], {}, r"one to 4 curves can be told apart \(given 0\)"),
        ],
    )
    def test_bad_curves(self, levels, flows, message: str) -> None:
        with pytest.raises(runoff.RunoffError, match=message):
            outlet_rating_figure(levels, flows)


def test_a_storm_from_invented_weather_is_marked(flood: xr.Dataset) -> None:
    marked = storm_figure(flood.assign_attrs(invented="yes"))
    assert "invented" in marked.axes[0].get_title(loc="left") and "invented" in marked.description
    assert "invented" not in storm_figure(flood).description


def test_a_long_storm_opens_on_its_core_with_the_day_as_an_inset() -> None:
    """24 h with 30 mm in the twelfth hour: the core lies around it, the inset shows the day and shades the core."""
    rain = [0.1] * 132 + [2.5] * 12 + [0.1] * 144  # steps of 5 min, invented
    roof = runoff.open_sample_roof("cups")
    run = runoff.simulate(
        roof, runoff.storm_from_series(rain, step="5min", units="mm"), start_moisture="field-capacity"
    )
    figure = storm_figure(run)
    low, high = figure.axes[2].get_xlim()
    assert 10.0 < low < 11.0 and 12.0 < high < 15.0
    (inset,) = figure.axes[1].child_axes
    assert inset.get_xlim()[0] == 0.0 and inset.get_xlim()[1] > 23.0
    assert "whole storm, 24 h" in inset.get_title(loc="left")
    assert not storm_figure(run, hours=24).axes[1].child_axes
    short = runoff.simulate(
        roof, runoff.storm_from_series([2.5] * 12, step="5min", units="mm"), start_moisture="field-capacity"
    )
    assert not storm_figure(short).axes[1].child_axes and storm_figure(short).axes[2].get_xlim()[0] == 0.0


def test_a_series_has_no_pattern_in_its_title() -> None:
    storm = runoff.storm_from_series([2.0, 6.0, 1.0] + [0.0] * 9, step="5min", units="mm")
    run = runoff.simulate(runoff.open_sample_roof("cups"), storm, start_moisture="field-capacity")
    assert storm_figure(run).axes[0].get_title(loc="left") == "Storm of 9 mm"
