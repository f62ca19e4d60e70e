"""Records with a scale error, a month missing or two gauges that disagree: the fit names them, and does not average them away."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import runoff
from runoff.calibration import fit_roof
from runoff.calibration.invented_monitoring import invented_observations
from runoff.cli import main


@pytest.fixture(scope="module")
def weather():
    return runoff.open_sample().sel(time=slice("2013", "2015"))


@pytest.fixture(scope="module")
def seen() -> pd.Series:
    return invented_observations(noise=0.0, lost_days=0)


def doubts(observed: pd.Series, weather, own_rain: pd.Series | None = None) -> str:
    roof = runoff.open_sample_roof("cups")
    fit = fit_roof(roof, weather, observed, parameters=["planting.crop_coefficient"], own_rain=own_rain)
    return " ".join(fit.doubts)


@pytest.mark.slow
def test_a_sound_record_raises_neither(weather, seen) -> None:
    said = doubts(seen, weather)
    assert "the scale of the gauge, its unit" not in said
    assert "No reading at all" not in said
    assert "is wrong there" not in said
    assert "Two rain gauges" not in doubts(seen, weather, weather["rain"].to_series())


@pytest.mark.parametrize(
    ("factor", "way", "units"),
    [
        (10.0, "as much", "cm and mm, or tenths, would give 10"),
        (1.0 / 25.4, "less", "in and mm, would give 25.4"),
        pytest.param(0.1, "less", "cm and mm, or tenths, would give 10", marks=pytest.mark.slow),
        pytest.param(2.54, "as much", "in and cm, would give 2.54", marks=pytest.mark.slow),
        pytest.param(1.0 / 2.54, "less", "in and cm, would give 2.54", marks=pytest.mark.slow),
    ],
)
def test_a_scale_error_is_named_with_its_factor(weather, seen, factor, way, units) -> None:
    said = doubts(seen * factor, weather)
    assert f" times {way} (units mixed up, {units}) was measured: the scale of the gauge, its unit or" in said


@pytest.mark.slow
def test_a_month_without_a_reading_is_named(weather, seen) -> None:
    lost = seen.copy()
    lost.loc["2014-06"] = np.nan
    assert doubts(lost, weather).count("No reading at all in 2014-06: seasons are weighed unevenly") == 1
    # rows that are not there at all are the same
    assert "No reading at all in 2014-06:" in doubts(lost.drop(lost.loc["2014-06"].index), weather)


@pytest.mark.parametrize(
    ("first", "last", "factor", "told"),
    [
        ("2014-01", "2014-06", 2.54, "2.5"),
        pytest.param("2014-08", "2015-02", 1.0 / 2.54, "2", marks=pytest.mark.slow),
        pytest.param("2015-03", "2015-12", 25.4, "2", marks=pytest.mark.slow),
    ],
)
def test_a_part_in_another_scale_is_named_with_its_months(weather, first, last, factor, told) -> None:
    seen = invented_observations()  # with the noise of a gauge
    seen.loc[first:last] *= factor
    said = doubts(seen, weather)
    assert f"From {first} to {last} {told}" in said, said
    assert "in and cm, would give 2.54" in said or "in and mm, would give 25.4" in said
    assert "compared with the rest of the record: the scale of the gauge, its unit or the rain is wrong there." in said


class TestTwoRainGauges:
    """The rain of the roof's own gauge beside that of the weather."""

    def test_a_gauge_that_reads_less_is_named_with_sums_and_ratio(self, weather, seen) -> None:
        own = weather["rain"].to_series() * 0.8
        rain = float(weather["rain"].sel(time=slice("2014", "2015")).sum())
        said = doubts(seen, weather, own)
        assert (
            f"Two rain gauges: the rain of the weather {rain:,.0f} mm, the roof's own rain {0.8 * rain:,.0f} mm on 730 days known at both, "
            "ratio 0.80; correlation of days 1.00; the roof's own rain has 20 % less in all. Only the rain of the weather counts, "
            "nothing is averaged;"
        ) in said

    @pytest.mark.slow
    def test_a_storm_that_missed_the_roof_is_named_with_its_day(self, weather, seen) -> None:
        own = weather["rain"].to_series().copy()
        day = own.loc["2014":"2015"].idxmax()
        depth = own[day]
        own.loc[day - pd.Timedelta("1D") : day + pd.Timedelta("1D")] = 0.0
        assert f"the wettest {day:%Y-%m-%d} ({depth:.1f} and 0.0 mm)" in doubts(seen, weather, own)

    @pytest.mark.slow
    def test_the_fit_itself_takes_the_rain_of_the_weather(self, weather, seen) -> None:
        roof = runoff.open_sample_roof("cups")
        one = ["planting.crop_coefficient"]
        alone = fit_roof(roof, weather, seen, parameters=one)
        beside = fit_roof(roof, weather, seen, parameters=one, own_rain=weather["rain"].to_series() * 3.0)
        assert alone.table.equals(beside.table)
        assert beside.gauges is not None
        assert beside.gauges.ratio == pytest.approx(3.0)

    @pytest.mark.slow
    def test_a_log_with_a_column_of_rain_is_compared_unasked(self, weather, seen, tmp_path: Path, capsys) -> None:
        table = pd.DataFrame({"overflow_mm": seen, "rain_mm": weather["rain"].to_series().reindex(seen.index) / 2.54})
        log, record = tmp_path / "log.csv", tmp_path / "weather.csv"
        table.rename_axis("date").round(3).to_csv(log)
        days = weather[["rain", "reference_et", "tmin", "tmax"]].to_dataframe()[
            ["rain", "reference_et", "tmin", "tmax"]
        ]
        days.columns = ["rain_mm", "reference_et_mm", "tmin_c", "tmax_c"]
        days.rename_axis("date").to_csv(record)
        roof = tmp_path / "roof.toml"
        roof.write_text(runoff.open_sample_roof("cups").to_toml(), encoding="utf-8")
        words = ["fit", str(roof), str(record), "--observed", str(log), "--parameter", "planting.crop_coefficient"]
        assert main(words) == 0
        said = capsys.readouterr().out
        assert "the roof's own rain has 2.54 times less (units mixed up, in and cm, would give 2.54) in all" in said
