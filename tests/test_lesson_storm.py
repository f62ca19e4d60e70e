"""The lesson's storm in minutes, and the moments at which the class votes first."""

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.teaching import Setting
from runoff.teaching.class_votes import questions_of, told
from runoff.teaching.parts import Lesson
from runoff.teaching.pens import as_figure, as_svg
from runoff.teaching.records import from_autumn_to_summer
from runoff.teaching.side_by_side import SIZE_IN, draw_two_roofs
from runoff.teaching.warm_days import class_words, wet_days_by_warmth
from runoff.teaching.watched_storm import SHOWN_MINUTES, STORMS, WatchedStorm, hour_of_rain
from runoff.teaching.watching import Fate, Watched, events_of

# one hour in the depth-duration table of the invented town: sample_storms/ostrey_depth_duration.csv
HOUR_MM = {2: 30.2, 10: 49.0, 100: 72.5}


@pytest.fixture(scope="module")
def watched() -> dict[str, WatchedStorm]:
    return {one: WatchedStorm(Setting(), one, hour_of_rain(10)) for one in ("open", "half clogged", "clogged")}


class TestStorm:
    @pytest.mark.parametrize("years", STORMS.values())
    def test_the_rain_is_that_of_the_table(self, years: int) -> None:
        rain = hour_of_rain(years)
        assert rain.sizes["time"] == SHOWN_MINUTES and float(rain.sum()) == pytest.approx(HOUR_MM[years], abs=1e-9)
        assert float(rain[60:].sum()) == 0.0

    def test_strongest_rain_by_hand(self, watched: dict[str, WatchedStorm]) -> None:
        # the table: 12.6 mm in 5 minutes once in 10 years, on 120 m2: 12.6 x 120 / 300 = 5.04 L/s
        assert watched["open"].rain_peak_l_per_s() == pytest.approx(5.04, abs=1e-9)

    def test_nothing_is_lost(self, watched: dict[str, WatchedStorm]) -> None:
        last = SHOWN_MINUTES - 1
        for roof in watched.values():
            # discharge of the whole roof, all of it planted: L/s over a minute on 120 m2
            left = float(roof.series("discharge").sum()) * 60.0 / 120.0
            assert roof.held_mm(last) == pytest.approx(49.0 - left, abs=1e-6)
        assert watched["clogged"].held_mm(last) == pytest.approx(49.0, abs=1e-9)  # the edge stands above all of it

    def test_a_clogged_outlet_lowers_the_peak_and_raises_the_water(self, watched: dict[str, WatchedStorm]) -> None:
        most = [float(one.series("discharge").max()) for one in watched.values()]
        high = [one.highest_mm(SHOWN_MINUTES - 1) for one in watched.values()]
        assert most == sorted(most, reverse=True) and most[-1] == 0.0 and most[0] < 5.04
        assert high == sorted(high) and high[0] < high[2]

    def test_both_pens_draw_the_same_words(self, watched: dict[str, WatchedStorm]) -> None:
        roofs = [watched["open"], watched["clogged"]]
        for units, unit in (("si", "L/s"), ("us", "gpm")):

            def draw(sheet, units: str = units) -> str:
                return draw_two_roofs(sheet, roofs, 30, units=units, invented=True)

            svg, words = as_svg(draw, *SIZE_IN)
            figure = as_figure(draw, *SIZE_IN)
            assert figure.description == words and words.startswith("Minute 31: rain ") and unit in words
            drawn = [text.get_text() for axes in figure.axes for text in axes.texts]
            assert all(f">{text}</text>" in svg for text in drawn)

    def test_events_end_with_the_last_minute(self, watched: dict[str, WatchedStorm]) -> None:
        events = events_of([watched["open"], watched["clogged"]])
        assert 60 in events and events[-1] == SHOWN_MINUTES - 1


class TestVotes:
    @pytest.fixture
    def year(self):
        return from_autumn_to_summer(runoff.open_sample().sel(time=slice("2012", "2014")), 2013)

    def test_an_open_roof_has_no_questions(self, year) -> None:
        assert questions_of([Watched(Setting(), Fate(), year)]) == []

    def test_the_right_choice_is_what_the_run_shows(self, year) -> None:
        roof = Watched(Setting(), Fate("clogged", 30, 242), year)
        asked = questions_of([roof])
        assert [one.step for one in asked] == sorted({30, roof.first_without_air(), 242})
        first, harm, cleared = asked
        share = roof.series("waterlogged_share")[30 : first.until + 1].max()
        assert first.right == (0 if share == 0.0 else 1 if share < 0.99 else 2)
        assert harm.until - harm.step == 28 and cleared.choices[cleared.right] in (
            "hurt as before",
            "there was no harm",
        )
        assert "recovered" not in told(cleared, roof)

    def test_play_waits_for_votes_and_then_tells(self, year) -> None:
        pytest.importorskip("ipywidgets", reason="the extra `notebooks` is not installed")
        from runoff.teaching.controls import TwoRoofs

        lesson = TwoRoofs(runoff.open_sample().sel(time=slice("2012", "2014")), year=2013, day=29)
        lesson.ask.value = True
        lesson.play.playing = True
        lesson.day.value = 31  # the first of October
        assert not lesson.play.playing and "What happens next? Today leaves cover" in lesson.vote.text.value
        lesson.vote.choices[1].click()
        assert lesson.vote.choices[1].description == "to the roots at the low end: 1"
        lesson.vote.show.click()
        assert lesson.play.playing
        lesson.day.value = lesson.vote.question.until + 1
        assert not lesson.play.playing and "stood up to" in lesson.vote.text.value
        assert sum(one.description.startswith("\u2713") for one in lesson.vote.choices) == 1


class TestControlsOfTheStorm:
    @pytest.fixture
    def lesson(self):
        pytest.importorskip("ipywidgets", reason="the extra `notebooks` is not installed")
        from runoff.teaching.controls import TwoRoofs

        return TwoRoofs(runoff.open_sample().sel(time=slice("2012", "2014")), year=2013, day=57)

    def test_a_storm_and_back_again(self, lesson) -> None:
        lesson.rain.value = "storm"
        assert lesson.day.max == SHOWN_MINUTES and lesson.described.startswith("Minute 1: rain")
        lesson.day.value = 40
        lesson.outlet.value = "half clogged"
        assert [one.fate.outlet for one in lesson.roofs] == ["open", "half clogged"]
        before = lesson.described
        lesson.storm.value = 100
        assert lesson.described != before
        lesson.rain.value = "year"
        assert lesson.day.value == 57 and lesson.described.startswith("27 October 2013")
        lesson.rain.value = "storm"
        assert lesson.day.value == 40

    def test_an_open_roof_of_the_storm_is_not_run_again(self, lesson) -> None:
        lesson.rain.value = "storm"
        first = lesson.roofs[0]
        lesson.outlet.value = "open"
        assert lesson.roofs == [first, first]
        lesson.outlet.value = "clogged"
        assert lesson.roofs[0] is first and lesson.roofs[1] is not first


def test_wet_days_by_warmth_add_up() -> None:
    lesson = Lesson(runoff.open_sample().sel(time=slice("2012", "2014")))
    table, facts = lesson.wet_and_warm(), lesson.table()
    assert "outlet clogged" in table.index and next(iter(table.columns)) == "below 5 °C"
    assert class_words("us")[1] == "41 to 50 °F"  # 5 and 10 degC by hand: 9/5 x 5 + 32, 9/5 x 10 + 32
    for words, row in table.iterrows():  # each class is rounded to 0.1, the table to a day
        assert row.sum() == pytest.approx(facts.loc[words, "days without air at the low end, a year"], abs=0.8)


def test_wet_days_of_a_record_without_temperature() -> None:
    run = xr.Dataset(
        {"waterlogged": ("time", [True, False, True])}, {"time": np.arange("2001-05-01", "2001-05-04", dtype="M8[D]")}
    )
    # two days of three, in a year of 365
    assert wet_days_by_warmth({"roof": run}).loc["roof", "temperature not known"] == pytest.approx(2 / 3 * 365, abs=0.1)
