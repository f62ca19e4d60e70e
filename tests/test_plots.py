"""Figures of a daily run: axes, marks and sentences say what the data say.

Expected numbers are formed in the test from the Dataset that was drawn; no picture is compared with an older one.
"""

import base64

import numpy as np
import pytest
import xarray as xr
from matplotlib.collections import LineCollection

import runoff
from runoff.findings.spells import WET_BANDS, band_of, every_spell
from runoff.plots import (
    monthly_balance,
    monthly_balance_figure,
    save,
    spell_calendar_figure,
    svg_bytes,
    year_figure,
)
from runoff.plots.spell_bands import look_of

MM_PER_INCH = 25.4  # exact by definition of the inch


@pytest.fixture(scope="module")
def weather() -> xr.Dataset:
    return runoff.open_sample().sel(time=slice("2002", "2004"))


@pytest.fixture(scope="module")
def run(weather: xr.Dataset) -> xr.Dataset:
    """A thin roof without a board, which both drowns and dries out."""
    return runoff.simulate(runoff.open_sample_roof("thin"), weather)


# drawn once for all tests that only look


@pytest.fixture(scope="module")
def year(run: xr.Dataset):
    return year_figure(run, 2003)


@pytest.fixture(scope="module")
def calendar(run: xr.Dataset):
    return spell_calendar_figure(run)


@pytest.fixture(scope="module")
def months(run: xr.Dataset):
    return monthly_balance_figure(run)


def labels(axes) -> str:
    return f"{axes.get_xlabel()} {axes.get_ylabel()}"


class TestYear:
    def test_rain_hangs_from_the_top_and_overflow_stands_below(self, year) -> None:
        rain, _, _, overflow = year.axes
        low, high = rain.get_ylim()
        assert low > high == 0.0
        assert overflow.get_ylim()[0] == 0.0 < overflow.get_ylim()[1]

    def test_bars_and_lines_are_the_data_of_that_year(self, year, run: xr.Dataset) -> None:
        rain, stores, _, overflow = year.axes
        part = run.sel(time="2003")
        assert rain.patches[0].get_data().values == pytest.approx(part["rain"].to_numpy())
        assert overflow.patches[0].get_data().values == pytest.approx(part["overflow"].to_numpy())
        (medium,) = [line for line in stores.lines if line.get_label() == "growing medium"]
        np.testing.assert_allclose(medium.get_ydata(), part["medium_water"])

    def test_every_panel_names_quantity_and_unit(self, year) -> None:
        rain, stores, signs, overflow = year.axes
        assert "rain" in labels(rain) and "mm per day" in labels(rain)
        assert labels(stores).strip() == "water held, mm"
        assert [tick.get_text() for tick in signs.get_yticklabels()] == ["dry", "waterlogged"]
        assert "overflow" in labels(overflow) and "mm per day" in labels(overflow) and "2003" in labels(overflow)

    def test_us_units_are_inches(self, run: xr.Dataset) -> None:
        rain, stores, _, _ = year_figure(run, 2003, units="us").axes
        assert "in per day" in labels(rain) and "in" in labels(stores)
        most = float(run["rain"].sel(time="2003").max())
        assert max(rain.patches[0].get_data().values) == pytest.approx(most / MM_PER_INCH)

    def test_waterlogged_days_are_marked_one_for_one_with_hatches_and_a_count(self, year, run: xr.Dataset) -> None:
        signs = year.axes[2]
        part = run.sel(time="2003")
        wet_days, dry_days = int(part["waterlogged"].sum()), int(part["dry"].sum())
        assert wet_days > 20 and dry_days > 5  # the case is worth testing
        wet, dry = signs.collections
        drawn = [sum(path.get_extents().width for path in bars.get_paths()) for bars in (wet, dry)]
        assert drawn == pytest.approx([wet_days, dry_days])
        assert wet.get_hatch() and dry.get_hatch() and wet.get_hatch() != dry.get_hatch()
        assert {text.get_text() for text in signs.texts} == {f"{wet_days} days", f"{dry_days} days"}

    def test_the_sentence_is_made_of_the_data(self, year, run: xr.Dataset) -> None:
        part = run.sel(time="2003")
        rain, overflow = (round(float(part[name].sum())) for name in ("rain", "overflow"))
        assert f"of {rain:,} mm of rain {overflow:,} mm left as overflow" in year.description
        assert f"waterlogged on {int(part['waterlogged'].sum())} days" in year.description
        assert year.description.endswith(".") and year.description.count(". ") == 0

    def test_a_days_sum_is_never_called_a_storm_peak(self, year) -> None:
        assert "the sum of a day, not a storm peak" in year.description
        assert "sums of days, not storm peaks" in [text.get_text() for text in year.axes[3].texts]

    def test_invented_weather_is_marked_on_the_figure_and_in_the_sentence(self, year, run: xr.Dataset) -> None:
        assert "invented" in year.axes[0].get_title(loc="left") and "invented" in year.description
        measured = run.assign_attrs(invented="no")
        assert "invented" not in year_figure(measured, 2003).description

    def test_default_is_the_year_with_the_middle_rain(self, run: xr.Dataset) -> None:
        sums = run["rain"].groupby("time.year").sum()  # three full years: the median is one of them
        middle = int(sums["year"][np.argsort(sums.to_numpy())[1]])
        assert f"Year {middle} " in year_figure(run).description

    def test_a_year_that_is_not_there(self, run: xr.Dataset) -> None:
        with pytest.raises(runoff.RunoffError, match=r"year_figure: the run has no year 1950; it holds 2002 to 2004"):
            year_figure(run, 1950)

    def test_several_designs_are_refused_with_the_way_out(self, weather: xr.Dataset) -> None:
        both = runoff.simulate([runoff.open_sample_roof("thin"), runoff.open_sample_roof("cups")], weather)
        with pytest.raises(
            runoff.RunoffError, match=r"the run has dimensions design; .* for example run.isel\(design=0\)"
        ):
            year_figure(both)
        assert year_figure(both.isel(design=0), 2003).description

    def test_something_else_than_a_run(self, weather: xr.Dataset) -> None:
        with pytest.raises(runoff.RunoffError, match=r"runoff.simulate returned \(it lacks overflow, medium_water\)"):
            year_figure(weather)
        with pytest.raises(runoff.RunoffError, match=r"runoff.simulate returned \(given list\)"):
            year_figure([1.0])

    def test_unknown_units(self, run: xr.Dataset) -> None:
        with pytest.raises(runoff.RunoffError, match=r'units must be "si" or "us" \(given "metric"\)'):
            year_figure(run, units="metric")

    def test_a_model_calendar_of_360_days(self, weather: xr.Dataset) -> None:
        time = xr.date_range("2003-01-01", periods=720, calendar="360_day", use_cftime=True)
        model = weather.isel(time=slice(0, 720)).drop_vars("time").assign_coords(time=time)
        figure = year_figure(runoff.simulate(runoff.open_sample_roof("cups"), model), 2004)
        assert len(figure.axes[0].patches[0].get_data().values) == 360
        assert figure.axes[3].get_xlim() == (0.0, 360.0)


class TestMonths:
    def test_rain_equals_what_became_of_it(self, run: xr.Dataset) -> None:
        balance = monthly_balance(run)
        np.testing.assert_allclose(
            balance["rain"],
            balance["evapotranspiration"] + balance["overflow"] + balance["storage_change"],
            atol=1e-9,  # rounding of sums over some hundred days
        )

    def test_means_over_whole_years_by_hand(self, run: xr.Dataset) -> None:
        july = [float(run["rain"].sel(time=f"{year}-07").sum()) for year in (2002, 2003, 2004)]
        assert float(monthly_balance(run)["rain"].sel(month=7)) == pytest.approx(sum(july) / 3.0)

    def test_a_part_month_counts_by_its_days(self, run: xr.Dataset) -> None:
        part = run.sel(time=slice("2003-07-01", "2003-07-10"))  # ten of 31 days
        balance = monthly_balance(part)
        assert float(balance["rain"].sel(month=7)) == pytest.approx(float(part["rain"].sum()) * 31.0 / 10.0)
        assert np.isnan(balance["rain"].sel(month=8))

    def test_stack_less_what_hangs_below_zero_is_the_rain(self, months) -> None:
        (axes,) = months.axes
        bars = [[bar.get_height() for bar in group] for group in axes.containers]
        rain, evaporated, overflow, gained, taken = map(np.array, bars)
        np.testing.assert_allclose(rain, evaporated + overflow + gained + taken, atol=1e-9)
        assert (taken <= 0).all() and (taken < 0).any()
        foot = [[bar.get_y() for bar in group] for group in axes.containers]
        np.testing.assert_allclose(foot[2], evaporated)  # overflow stands on evapotranspiration
        np.testing.assert_allclose(foot[3], evaporated + overflow)
        np.testing.assert_allclose(np.array(foot[4]), 0.0)

    def test_bars_differ_by_hatch_and_axes_carry_units(self, run: xr.Dataset) -> None:
        (axes,) = monthly_balance_figure(run, units="us").axes
        assert axes.get_ylabel() == "planted area, in a month"
        hatches = [group[0].get_hatch() for group in axes.containers[1:4]]
        assert len(set(hatches)) == 3

    def test_the_sentence_is_made_of_the_data(self, months, run: xr.Dataset) -> None:
        text = months.description
        for name in ("rain", "evapotranspiration", "overflow"):
            assert f"{float(run[name].sum()) / 3.0:,.0f} mm" in text  # three full years

    def test_a_month_in_which_melt_exceeds_rain_is_told_in_words(self, run: xr.Dataset) -> None:
        in_march = run["time"].dt.month == 3
        melting = run.assign(rain=run["rain"].where(~in_march, 0.1), overflow=run["overflow"].where(~in_march, 2.0))
        text = monthly_balance_figure(melting).description
        assert text.endswith("in March more ran off than fell, as melting snow and water stored before ran off.")
        assert "-" not in text.partition("largest")[2] and "\u2212" not in text


class TestSpells:
    def test_bands_of_the_design_page_at_below_and_above_each_limit(self) -> None:
        # bands: to 2 days none, 3-7 watch, 8-14 stress likely, 15-27 losses likely, 28 and more (own proposal, resting
        # on the 48-hour rule and the pot test of Zhang et al., Acta Horticulturae 1263)
        assert band_of(0) is None
        found = [band_of(days).words for days in (1, 2, 3, 7, 8, 14, 15, 27, 28, 400)]
        assert found == [
            "none", "none", "watch", "watch", "stress likely", "stress likely", *["losses likely in sensitive species"] * 2,
            *["30 to 76 % survived, by species (pot test)"] * 2,
        ]  # fmt: skip

    def test_bands_grow_taller_and_darker(self) -> None:
        looks = [look_of(band) for band in WET_BANDS]
        shares = [look.share for look in looks]
        grey = [np.dot([int(look.color[i : i + 2], 16) for i in (1, 3, 5)], [0.299, 0.587, 0.114]) for look in looks]
        assert shares == sorted(shares) and len(set(shares)) == len(shares)
        assert grey == sorted(grey, reverse=True)

    def test_spells_of_a_hand_made_row(self) -> None:
        assert every_spell(np.array([0, 1, 1, 0, 0, 1])) == [(1, 2), (5, 1)]
        assert every_spell(np.zeros(4)) == []

    def test_one_row_per_year_with_the_years_counts_beside_it(self, calendar, run: xr.Dataset) -> None:
        axes = calendar.axes[0]
        assert [tick.get_text() for tick in axes.get_yticklabels()] == ["2002", "2003", "2004"]
        assert axes.yaxis_inverted()
        beside = [text.get_text() for text in axes.texts]
        for year in ("2002", "2003", "2004"):
            assert str(int(run["waterlogged"].sel(time=year).sum())) in beside

    def test_every_waterlogged_day_is_drawn_once_above_the_line_and_cold_ones_are_open(
        self, calendar, run: xr.Dataset
    ) -> None:
        axes = calendar.axes[0]
        cold = (run["tmean"] < 5.0) & run["waterlogged"]
        filled = outlined = 0.0
        for bars in axes.collections:
            for path in bars.get_paths():
                box = path.get_extents()
                if box.y1 == pytest.approx(round(box.y1), abs=1e-6) and box.y0 < round(box.y1):  # stands on the line
                    white = np.allclose(bars.get_facecolor()[0][:3], 1.0)
                    outlined, filled = outlined + box.width * white, filled + box.width * (not white)
        assert outlined == pytest.approx(int(cold.sum()))
        assert filled == pytest.approx(int(run["waterlogged"].sum()) - int(cold.sum()))

    def test_harm_of_a_warm_spell_lasts_to_the_end_of_the_season(self, run: xr.Dataset) -> None:
        # eight warm wet days in May, nothing wet after them: the line runs on to 31 December, of a season that ends in March
        wet = np.zeros(run.sizes["time"], dtype=bool)
        first = int(np.flatnonzero(run["time"].to_index() == np.datetime64("2003-05-10"))[0])
        wet[first : first + 8] = True
        warm = run.assign(waterlogged=("time", wet), tmean=xr.full_like(run["tmean"], 12.0))
        figure = spell_calendar_figure(warm)
        lines = [c for c in figure.axes[0].collections if isinstance(c, LineCollection) and len(c.get_segments())]
        (line,) = lines
        ends = [(segment[0].tolist(), segment[-1].tolist()) for segment in line.get_segments()]
        # day 137 of 2003 (17 May, counted from 0 as 136) to the end of the year, and January and February of the next
        assert ends == [([136.0, 1.0], [365.0, 1.0]), ([0.0, 2.0], [60.0, 2.0])]
        assert "in 2 of the years roots bear the harm" in figure.description

    def test_words_stand_beside_the_colours(self, calendar) -> None:
        below = calendar.axes[1]
        words = [text.get_text().replace("\n", " ") for legend in below.artists for text in legend.get_texts()]
        assert "8-14 days: stress likely" in words and "outline: colder than 5 °C" in words
        assert "40-89 days: severe stress" in words

    @pytest.mark.slow
    def test_the_sentence_counts_the_longest_spell(self, calendar, run: xr.Dataset) -> None:
        text = calendar.description
        longest = int(runoff.summarize(run)["longest_waterlogged_spell"])
        assert f"the longest {longest} days from" in text
        assert "no published limit exists" in text

    def test_a_roof_that_never_drowns_is_said_so(self, weather: xr.Dataset) -> None:
        dry = runoff.simulate(runoff.open_sample_roof("cups"), weather)
        assert int(dry["waterlogged"].sum()) == 0
        assert "no day was waterlogged" in spell_calendar_figure(dry).description


class TestFiles:
    @pytest.mark.slow
    def test_the_same_figure_gives_the_same_bytes(self, run: xr.Dataset) -> None:
        first, second = (svg_bytes(monthly_balance_figure(run)) for _ in range(2))
        assert first == second
        assert b"<dc:date>" not in first

    @pytest.mark.slow
    def test_png_and_svg_are_written_with_the_sentence_below(self, months, tmp_path) -> None:
        with_words = save(months, tmp_path / "with.png").read_bytes()
        without = save(months, tmp_path / "without.png", caption=False).read_bytes()
        height = [int.from_bytes(one[20:24], "big") for one in (with_words, without)]  # PNG header, bytes 20-23
        assert height[0] > height[1] == round(150 * months.get_size_inches()[1])
        assert save(months, tmp_path / "a.svg").read_bytes().lstrip().startswith(b"<?xml")

    def test_saving_leaves_the_figure_as_it_was(self, run: xr.Dataset, tmp_path) -> None:
        figure = monthly_balance_figure(run)  # one that was never saved
        before = svg_bytes(figure)
        save(figure, tmp_path / "a.png")
        assert svg_bytes(figure) == before

    def test_other_kinds_of_files_are_refused(self, months, tmp_path) -> None:
        with pytest.raises(runoff.RunoffError, match=r'save: figures are written as .png or .svg \(given "a.bmp"\)'):
            save(months, tmp_path / "a.bmp")

    def test_a_notebook_gets_picture_and_sentence(self, months, capsys, monkeypatch: pytest.MonkeyPatch) -> None:
        import IPython.display

        shown: list[dict] = []
        monkeypatch.setattr(IPython.display, "display", lambda given, raw: shown.append(given))
        bundle = months._repr_mimebundle_()
        assert base64.b64decode(bundle["image/png"]).startswith(b"\x89PNG")
        assert bundle["text/plain"] == months.description
        months._ipython_display_()
        assert shown == [bundle]
        printed = capsys.readouterr().out
        # set in lines, since a notebook breaks a long one in the middle of a word
        assert " ".join(printed.split()) == months.description
        assert max(map(len, printed.splitlines())) <= 88

    def test_settings_of_the_user_are_left_alone(self, run: xr.Dataset) -> None:
        import matplotlib as mpl

        before = dict(mpl.rcParams)
        monthly_balance_figure(run)
        assert dict(mpl.rcParams) == before
