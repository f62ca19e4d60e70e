"""Figures of a sizing run: hand-made tables with known answers, and one real sweep."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.plots import heat_map_figure, tornado_figure, trade_off_figure
from runoff.plots.wording import property_label
from runoff.saying.numbers import number, plain
from runoff.saying.scales import Units

LB_FT2_PER_KG_M2 = 0.45359237**-1 * 0.3048**2  # exact definitions of pound and foot


@pytest.fixture
def table() -> xr.Dataset:
    """Five candidates; by hand: 0, 1 and 3 are outdone by none, 2 and 4 are."""
    return xr.Dataset(
        {
            "drained_mass": ("design", [60.0, 80.0, 90.0, 120.0, 130.0], {"units": "kg/m2"}),
            "retention": ("design", [0.40, 0.55, 0.50, 0.60, 0.60], {"units": "1"}),
            "longest_waterlogged_spell": ("design", [0.0, 2.0, 5.0, 20.0, 40.0], {"units": "day"}),
            "dry_days": ("design", [30.0, 20.0, 25.0, 10.0, np.nan], {"units": "day/year"}),
        },
        coords={"design": np.arange(5), "medium.depth_mm": ("design", [40.0, 60.0, 80.0, 40.0, 60.0]),
                "board.cup_storage_mm": ("design", [0.0, 0.0, 0.0, 5.0, 5.0])},
    )  # fmt: skip


class TestTradeOff:
    def test_the_line_joins_those_that_none_outdoes(self, table: xr.Dataset) -> None:
        axes = trade_off_figure(table).axes[0]
        np.testing.assert_allclose(axes.lines[0].get_xdata(), [60.0, 80.0, 120.0])
        np.testing.assert_allclose(axes.lines[0].get_ydata(), [40.0, 55.0, 60.0])

    def test_the_front_equals_a_naive_check(self) -> None:
        rng = np.random.default_rng(3)
        mass, kept = rng.integers(0, 12, 60).astype(float), rng.integers(0, 12, 60) / 12.0
        many = xr.Dataset(
            {"drained_mass": ("design", mass), "retention": ("design", kept)}, coords={"design": np.arange(60)}
        ).assign(longest_waterlogged_spell=("design", np.zeros(60)))
        line = trade_off_figure(many).axes[0].lines[0]
        naive = {
            (m, round(100 * k, 9))
            for m, k in zip(mass, kept, strict=True)
            if not (((mass <= m) & (kept >= k)) & ((mass < m) | (kept > k))).any()
        }
        assert set(zip(line.get_xdata(), np.round(line.get_ydata(), 9), strict=True)) == naive

    def test_every_band_has_its_own_mark_colour_and_words(self, table: xr.Dataset) -> None:
        axes, below = trade_off_figure(table).axes
        words = [text.get_text() for text in below.get_legend().get_texts()]
        for band in (
            "never waterlogged",
            "to 2 days: none",
            "3-7 days: watch",
            "15-27 days: losses likely in sensitive species",
        ):
            assert band in words
        shapes = {(len(one.get_paths()[0].vertices), tuple(one.get_facecolor()[0])) for one in axes.collections}
        assert len(shapes) == 5

    def test_the_chosen_one_is_ringed_and_named(self, table: xr.Dataset) -> None:
        figure = trade_off_figure(table.assign(chosen=1))
        ring = figure.axes[0].collections[-1]
        np.testing.assert_allclose(ring.get_offsets(), [[80.0, 55.0]])
        assert "medium: depth 60 mm, board: cup storage 0 mm with 55 % at 80 kg/m²" in figure.description
        assert "longest waterlogged spell of 2 days" in figure.description
        none = trade_off_figure(table.assign(chosen=-1))
        assert "chosen" not in none.description

    def test_axes_carry_words_and_units_of_the_system(self, table: xr.Dataset) -> None:
        axes = trade_off_figure(table).axes[0]
        assert (axes.get_xlabel(), axes.get_ylabel()) == ("drained mass, kg/m²", "retention, %")
        us = trade_off_figure(table, units="us").axes[0]
        assert us.get_xlabel() == "drained mass, lb/ft²"
        assert us.lines[0].get_xdata()[0] == pytest.approx(60.0 * LB_FT2_PER_KG_M2)

    def test_a_missing_figure_names_who_adds_it(self, table: xr.Dataset) -> None:
        with pytest.raises(runoff.RunoffError, match=r'no figure "drained_mass"; runoff.size adds it'):
            trade_off_figure(table.drop_vars("drained_mass"))
        with pytest.raises(runoff.RunoffError, match=r"needs a table along `design`"):
            trade_off_figure(table.isel(design=0))


class TestHeatMap:
    x, y = "medium.depth_mm", "board.cup_storage_mm"

    def test_cells_are_the_table_and_the_empty_one_is_left_open(self, table: xr.Dataset) -> None:
        axes = heat_map_figure(table, self.x, self.y).axes[0]
        drawn = axes.collections[0].get_array()
        np.testing.assert_allclose(drawn.filled(np.nan), [[40.0, 55.0, 50.0], [60.0, 60.0, np.nan]])
        assert [text.get_text() for text in axes.texts] == ["40", "55", "50", "60", "60"]
        assert axes.patch.get_hatch()

    def test_axes_and_scale_carry_units(self, table: xr.Dataset) -> None:
        axes, bar = heat_map_figure(table, self.x, self.y, units="us").axes
        assert axes.get_xlabel() == "medium: depth, in" and axes.get_ylabel() == "board: cup storage, in"
        assert [tick.get_text() for tick in axes.get_xticklabels()] == ["1.57", "2.36", "3.15"]  # 40, 60, 80 mm / 25.4
        assert bar.get_ylabel() == "retention, %"

    def test_shades_run_evenly_in_grey(self) -> None:
        import matplotlib as mpl

        shades = mpl.colormaps["cividis"](np.linspace(0, 1, 50))[:, :3] @ [0.299, 0.587, 0.114]
        assert (np.diff(shades) > 0).all()

    def test_the_sentence_gives_lowest_and_highest(self, table: xr.Dataset) -> None:
        text = heat_map_figure(table, self.x, self.y, "dry_days").description
        assert "from 10 days/year (medium: depth 40 mm, board: cup storage 5 mm)" in text
        assert "to 30 days/year (medium: depth 40 mm, board: cup storage 0 mm) over 4 candidates" in text

    def test_several_candidates_in_one_cell_are_refused(self, table: xr.Dataset) -> None:
        twice = xr.concat([table, table], "design").assign_coords({"roof.fall": ("design", [0.01] * 5 + [0.02] * 5)})
        with pytest.raises(runoff.RunoffError, match=r"up to 2 candidates share a cell, because roof.fall also vary"):
            heat_map_figure(twice, self.x, self.y)

    def test_unknown_property_and_figure(self, table: xr.Dataset) -> None:
        with pytest.raises(
            runoff.RunoffError,
            match=r'"medium.depth" was not swept \(did you mean "medium.depth_mm"\?\); swept: medium',
        ):
            heat_map_figure(table, "medium.depth", self.y)
        with pytest.raises(runoff.RunoffError, match=r'no figure "retentoin" \(did you mean "retention"\?\)'):
            heat_map_figure(table, self.x, self.y, "retentoin")

    def test_a_real_sweep(self) -> None:
        weather = runoff.open_sample().sel(time="2003")
        swept = runoff.sweep(
            runoff.open_sample_roof("cups"), weather, {self.x: [40, 80], self.y: [0, 3.5]}, warm_up_years=0
        )
        axes = heat_map_figure(swept, self.x, self.y).axes[0]
        drawn = axes.collections[0].get_array()
        for depth, column in ((40, 0), (80, 1)):
            one = swept.isel(design=np.flatnonzero((swept[self.x] == depth) & (swept[self.y] == 3.5))[0])
            assert drawn[1, column] == pytest.approx(100.0 * float(one["retention"]))
        assert "invented" in axes.get_title(loc="left")


class TestTornado:
    @pytest.fixture
    def indices(self) -> xr.Dataset:
        return xr.Dataset(
            {"first_order": ("property", [0.05, 0.60, 0.10]), "total": ("property", [0.08, 0.70, 0.20])},
            coords={"property": ["medium.porosity", "medium.field_capacity", "planting.crop_coefficient"]},
            attrs={"figure": "retention"},
        )

    def test_longest_on_top_with_two_bars_each(self, indices: xr.Dataset) -> None:
        (axes,) = tornado_figure(indices).axes
        assert [tick.get_text() for tick in axes.get_yticklabels()] == [
            "medium: field capacity", "planting: crop coefficient", "medium: porosity",
        ]  # fmt: skip
        assert axes.yaxis_inverted()
        alone, total = ([bar.get_width() for bar in group] for group in axes.containers[:2])
        assert alone == pytest.approx([60.0, 10.0, 5.0]) and total == pytest.approx([70.0, 20.0, 8.0])
        assert axes.containers[0][0].get_hatch() != axes.containers[1][0].get_hatch()
        assert axes.get_xlabel().endswith("%")

    def test_the_sentence_names_the_leading_ones(self, indices: xr.Dataset) -> None:
        text = tornado_figure(indices).description
        assert "medium: field capacity (70 %), planting: crop coefficient (20 %) and medium: porosity (8 %)." in text

    def test_small_negative_estimates_are_drawn_as_nothing(self, indices: xr.Dataset) -> None:
        below = indices.assign(first_order=("property", [-0.02, 0.6, 0.1]))
        alone = [bar.get_width() for bar in tornado_figure(below).axes[0].containers[0]]
        assert min(alone) == 0.0

    def test_something_else(self) -> None:
        with pytest.raises(runoff.RunoffError, match=r"tornado_figure: needs `first_order` and `total`"):
            tornado_figure(xr.Dataset({"total": ("property", [1.0])}))


class TestWords:
    def test_numbers_by_hand(self) -> None:
        assert [number(value, 3) for value in (1234.5, 12.34, 0.0)] == ["1,235", "12.3", "0"]
        assert number(float("nan")) == "missing"
        assert [plain(value) for value in (3, 2.5, "brick", True)] == ["3", "2.5", "brick", "True"]

    @pytest.mark.parametrize(
        ("name", "words", "unit"),
        [
            ("medium.depth_mm", "medium: depth", "mm"),
            ("fleece.flow_mm_per_h", "fleece: flow", "mm/h"),
            ("board.in_plane_flow_l_per_s_m", "board: in plane flow", "L/(s m)"),
            ("medium.dry_density_kg_per_m3", "medium: dry density", "kg/m³"),
            ("roof.flow_length_m", "roof: flow length", "m"),
            ("roof.fall", "roof: fall", ""),
            ("board.cups_up", "board: cups up", ""),
        ],
    )
    def test_the_unit_of_a_property_is_read_from_its_name(self, name: str, words: str, unit: str) -> None:
        assert property_label(name, 1.0, Units("si"))[1:] == (words, unit)


def test_targets_and_the_nearest_candidate_are_marked() -> None:
    roof, weather = runoff.open_sample_roof("cups"), runoff.open_sample().sel(time=slice("2005", "2009"))
    choices = {"medium.depth_mm": [60, 100], "board.cup_storage_mm": [0, 6]}
    targets = {"retention": {"at_least": 0.9}, "drained_mass": {"at_most": 120.0}}
    judged = runoff.size(roof, weather, targets, choices, members=0)
    figure = trade_off_figure(judged)
    labels = figure.axes[1].get_legend().get_texts()
    # the lightest but heavier than 120 kg/m2, or drier than 90 %: which of the two the nearest misses stands in the table
    missed = int((~judged["meets"].isel(design=int(judged["nearest"]))).sum())
    ring = f"nearest, misses {missed} of 2 targets"
    assert ring in [one.get_text() for one in labels]
    assert "retention at least 90 %" in figure.description and "mass at most 120 kg" in figure.description
    assert figure.axes[0].get_ylim()[1] > 90.0  # the target lies in view
    assert f"Framed: {ring}." in heat_map_figure(judged, *choices).description
    met = runoff.size(roof, weather, {"drained_mass": {"at_most": 150.0}}, choices, members=0)
    assert "Framed: chosen." in heat_map_figure(met, *choices).description
    assert "chosen" in [one.get_text() for one in trade_off_figure(met).axes[1].get_legend().get_texts()]
