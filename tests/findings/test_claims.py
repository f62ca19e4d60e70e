"""What documents claim, against sums worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
import xarray as xr

import runoff
from runoff.findings.event_capture import STARTS, capture_of_events, storage_capacity
from runoff.findings.spells import DRY_BANDS, WET_BANDS, spell_lengths, spells_per_year
from runoff.findings.storm_peaks import compare_storms, run_storms, storm_figures, storms_of_table
from runoff.findings.summary import CLAIMS, FACTS, FIGURES, MONTHLY, facts_from_totals
from runoff.findings.tables import kind_of_figure
from runoff.findings.yearly import resampled
from runoff.storms import DepthDurationTable
from tests.dossier.conftest import steady_weather

MEMBRANE = runoff.BareSurface(kind="membrane", depression_storage_mm=1.0)


@pytest.fixture(scope="module")
def plain_roof():
    """100 m2, four fifths planted: medium 100 mm from 0.10 to 0.30, cups 3 mm, mat 4 mm; the rest gravel of 5 mm."""
    return runoff.Roof(
        area_m2=100.0,
        planted_fraction=0.8,
        other_surface=runoff.BareSurface(kind="gravel", depression_storage_mm=5.0),
        build_up=runoff.BuildUp(
            layers=[
                runoff.GrowingMedium(depth_mm=100.0, field_capacity=0.30, wilting_point=0.10),
                runoff.DrainageBoard(cup_storage_mm=3.0),
                runoff.ProtectionMat(storage_mm=4.0),
            ]
        ),
    )


@pytest.fixture(scope="module")
def steady(plain_roof):
    """Five years with 10 mm every fifth day and 2 mm of demand a day."""
    return runoff.simulate(plain_roof, steady_weather(5), comparison=MEMBRANE)


@pytest.fixture(scope="module")
def captured(plain_roof, steady):
    return capture_of_events(plain_roof, steady, MEMBRANE)


def test_capacity_is_the_sum_of_its_parts(plain_roof):
    capacity = storage_capacity(plain_roof)
    # by hand: (0.30 - 0.10) x 100 + 3 + 4 = 27 mm; 27 x 80 m2 = 2.16 m3; and 5 mm x 20 m2 = 0.10 m3 of gravel
    assert float(capacity["capacity_mm"]) == pytest.approx(27.0, abs=1e-12)
    assert float(capacity["capacity_m3"]) == pytest.approx(2.16, abs=1e-12)
    assert float(capacity["capacity_whole_roof_m3"]) == pytest.approx(2.26, abs=1e-12)


def test_a_dry_roof_keeps_its_capacity_and_a_full_one_nothing(captured):
    dry, full = (captured["event_capture_mm"].sel(start=start) for start in ("dry", "field-capacity"))
    # half of what soaks in at each wetness passes a medium that wets: 0.5 x 20 x (1 - 0)/2 = 5 mm until it is full; 20 mm stay
    # in the medium, 0.4 mm in the cups
    assert dry.sel(event="25.4").item() == pytest.approx(20.4, abs=1e-9)
    assert dry.sel(event="38.1").item() == pytest.approx(27.0, abs=1e-9)  # the capacity
    assert np.abs(full.to_numpy()).max() <= 1e-9


def test_volumes_count_planting_gravel_and_the_existing_roof(captured):
    one = captured.sel(event="38.1", start="dry")
    # by hand: 0.8 x 27 + 0.2 x 5 = 22.6 mm over 100 m2 = 2.26 m3; coefficient 1 - 22.6/38.1 = 0.40682
    assert float(one["event_roof_capture_m3"]) == pytest.approx(2.26, abs=1e-9)
    assert float(one["event_runoff_coefficient"]) == pytest.approx(1.0 - 22.6 / 38.1, abs=1e-9)
    assert float(one["event_bare_capture_m3"]) == pytest.approx(0.12, abs=1e-9)  # 1.2 mm a day x 100 m2
    # by hand with S = 5 (P + 2 Q - sqrt(4 Q^2 + 5 P Q)), P 38.1, Q 15.5: S = 5 (69.1 - 62.560) = 32.70, CN = 25400/286.70
    assert float(one["event_curve_number"]) == pytest.approx(88.594, abs=0.003)  # S to two decimals


def test_avoided_counts_against_the_existing_roof(captured):
    typical = captured["event_roof_capture_m3"].sel(start="before-50")
    assert captured["event_avoided_m3"].to_numpy() == pytest.approx(
        (typical - captured["event_bare_capture_m3"]).to_numpy()
    )
    assert (captured["event_avoided_m3"] < typical).all()


def test_a_wetter_start_never_keeps_more(captured):
    kept = captured["event_capture_mm"].sel(start=list(STARTS[:4])).transpose("start", "event").to_numpy()
    assert (np.diff(kept, axis=0) <= 1e-9).all()
    held = captured["start_water_mm"].sel(start=list(STARTS[:4])).to_numpy()
    assert (np.diff(held) >= -1e-9).all()
    assert (kept + held[:, None] <= 27.0 + 1e-9).all()  # never more than the capacity


def test_water_that_has_not_drained_is_not_kept(plain_roof, steady):
    """A clogged roof holds the storm for days; that is ponding, not capture."""
    clogged = plain_roof.replace({"roof.blocked_fraction": 1.0})
    full = capture_of_events(clogged, steady, MEMBRANE)["event_capture_mm"].sel(start="field-capacity")
    assert np.abs(full.to_numpy()).max() <= 1e-9


def test_the_existing_roof_keeps_its_film_of_every_rain(plain_roof, steady):
    claims = runoff.summarize(steady)
    # by hand: of each 10 mm the membrane holds 1.2 mm a day (its film of 1 mm fills more than once), which 2 mm of demand
    # take back the same day: 8.8 mm run off
    assert float(claims["bare_runoff_coefficient"]) == pytest.approx(0.88, abs=1e-12)
    # 366 rains in 1826 days of 5 years (every fifth day from the first), 10 mm each
    assert float(claims["annual_rain"]) == pytest.approx(3660.0 / 5.0, rel=1e-3)  # a leap year weighs a day more
    assert float(claims["roof_retention"] + claims["annual_runoff_coefficient"]) == pytest.approx(1.0, abs=1e-12)
    both = claims["annual_capture_m3"] + claims["roof_annual_overflow_m3"]
    assert float(both) == pytest.approx(float(claims["roof_annual_rain_m3"]), rel=1e-12)
    assert float(claims["avoided_annual_m3"]) == pytest.approx(
        float(claims["bare_annual_overflow_m3"] - claims["roof_annual_overflow_m3"]), rel=1e-12
    )


def test_avoided_runoff_in_every_measure(steady):
    claims = runoff.summarize(steady)
    area_m2 = float(steady["area_m2"])
    assert float(claims["avoided_annual_mm"]) * area_m2 / 1000.0 == pytest.approx(
        float(claims["avoided_annual_m3"]), rel=1e-12
    )
    kept = float(claims["roof_annual_rain_m3"] - claims["roof_annual_overflow_m3"])
    assert float(claims["roof_annual_capture_mm"]) * area_m2 / 1000.0 == pytest.approx(kept, rel=1e-12)
    share = float(claims["avoided_annual_m3"]) / float(claims["bare_annual_overflow_m3"])
    assert float(claims["avoided_share"]) == pytest.approx(share, rel=1e-12)


def test_a_year_that_is_missing_leaves_its_figures_missing(steady):
    totals = runoff.yearly_totals(steady)
    for name, figure in (
        *(("rain", "annual_rain"), ("overflow", "retention"), ("dry_days", "dry_days")),
        *(("events_held", "events_held"), ("events", "events_per_year")),
    ):
        holed = totals.copy(deep=True)
        holed[name][1] = np.nan
        assert np.isnan(float(facts_from_totals(holed)[figure])), name


def test_every_figure_is_told_once_with_its_unit(steady):
    facts = runoff.summarize(steady)
    assert list(facts.data_vars) == list(FIGURES)
    for name, (unit, words) in FIGURES.items():
        assert facts[name].attrs == {"units": unit, "long_name": words}, name
    assert not (set(FACTS) & set(CLAIMS)) and not (set(FACTS) & set(MONTHLY)) and not (set(CLAIMS) & set(MONTHLY))


def test_a_share_says_that_it_is_shown_in_percent():
    # the unit "1" alone tells a count from a share no more than a reader could
    silent = [name for name, (unit, _) in FACTS.items() if unit == "1" and kind_of_figure(name, unit) == "count"]
    assert not silent, f"say in findings/tables.py how these are shown: {silent}"


def test_months_sum_to_the_year(steady):
    facts = runoff.summarize(steady)
    for month, year in (
        ("month_rain", "annual_rain"),
        ("month_overflow", "annual_overflow"),
        ("month_capture", "annual_capture_mm"),
        ("month_bare_overflow", "bare_annual_overflow"),
    ):
        assert float(facts[month].sum()) == pytest.approx(float(facts[year]), rel=1e-9), month


def test_events_are_counted_per_year(steady):
    facts = runoff.summarize(steady)
    # 366 rains in the 5 years, each its own event; the membrane lets 8.8 of 10 mm run off, so it holds none
    assert float(facts["events_per_year"]) == pytest.approx(366.0 / 5.0, rel=1e-3)
    assert float(facts["bare_events_held_per_year"]) == 0.0
    share = float(facts["events_held_per_year"] / facts["events_per_year"])
    assert share == pytest.approx(float(facts["events_held"]), rel=1e-12)


def facts_of_drawn(totals: xr.Dataset, weights: np.ndarray) -> xr.Dataset:
    """Return the facts of one record drawn from the years of `totals`."""
    return facts_from_totals(xr.Dataset(resampled(totals.variables, weights), attrs=totals.attrs)).isel(resample=0)


def test_each_year_once_is_the_record_itself(steady):
    totals = runoff.yearly_totals(steady)
    again = facts_of_drawn(totals, np.ones((1, totals.sizes["year"])))
    facts = facts_from_totals(totals)
    for name in facts.data_vars:
        # the same sums in another order
        np.testing.assert_allclose(again[name], facts[name], rtol=1e-12, err_msg=str(name))


def test_a_year_drawn_alone_gives_its_own_figures(steady):
    totals = runoff.yearly_totals(steady)
    # the first year five times, weighted up to the whole record: the figures of that year
    weights = np.array([[5.0, 0.0, 0.0, 0.0, 0.0]])
    drawn = facts_of_drawn(totals, weights)
    first = totals.isel(year=0)
    assert float(drawn["retention"]) == pytest.approx(float(1.0 - first["overflow"] / first["rain"]), rel=1e-12)
    assert float(drawn["peak_overflow"]) == float(first["peak_overflow"])


def test_spell_lengths():
    assert spell_lengths(np.array([0, 1, 2, 3, 0, 0, 1, 0, 1, 2])).tolist() == [3, 1, 2]
    assert spell_lengths(np.array([0, 0])).tolist() == []


def test_spells_are_counted_by_their_length():
    time = np.datetime64("2001-01-01", "ns") + np.arange(365) * np.timedelta64(1, "D")
    wet, dry = np.zeros(365, dtype=bool), np.zeros(365, dtype=bool)
    for first, length in ((0, 2), (10, 3), (20, 7), (40, 8), (60, 28), (350, 15)):  # the last runs to the end
        wet[first : first + length] = True
    for first, length in ((100, 13), (120, 14), (140, 90)):
        dry[first : first + length] = True
    days = xr.Dataset({"waterlogged": ("time", wet), "dry": ("time", dry)}, coords={"time": time})
    found = spells_per_year(days, 0.5)
    # by hand: one spell in half a year is two a year; 2 wet days and 13 dry ones are too short to matter
    assert dict(zip(found["wet_band"].to_numpy().tolist(), found["wet_spells"].to_numpy().tolist(), strict=True)) == {
        3: 4.0, 8: 2.0, 15: 2.0, 28: 2.0,
    }  # fmt: skip
    assert dict(zip(found["dry_band"].to_numpy().tolist(), found["dry_spells"].to_numpy().tolist(), strict=True)) == {
        14: 2.0, 28: 0.0, 40: 0.0, 90: 2.0,
    }  # fmt: skip
    assert [band.first_day for band in WET_BANDS[1:]] == found["wet_band"].to_numpy().tolist()
    assert [band.first_day for band in DRY_BANDS[1:]] == found["dry_band"].to_numpy().tolist()


TABLE = DepthDurationTable.from_rows(
    {"5min": [6.0, 9.0, 14.0], "1h": [18.0, 28.0, 44.0], "24h": [50.0, 75.0, 115.0]},
    return_periods_years=[2, 10, 100],
    units="mm",
)


@pytest.fixture(scope="module")
def stormy(plain_roof):
    """The plain roof with outlets so large that they hold nothing back."""
    roof = plain_roof.model_copy(update={"outlets": (runoff.Outlet(diameter_mm=300.0, strainer=False, count=8),)})
    runs = run_storms(roof, storms_of_table(TABLE), MEMBRANE)
    return storm_figures(compare_storms(runs, roof, MEMBRANE))


def test_storms_have_the_depths_of_the_table(stormy):
    assert stormy["storm_depth_mm"].to_numpy() == pytest.approx([50.0, 75.0, 115.0], rel=1e-9)
    # the busiest 5 minutes hold the 5-minute depth: 6 mm in 5 min = 72 mm/h
    assert stormy["storm_intensity"].to_numpy() == pytest.approx([72.0, 108.0, 168.0], rel=1e-9)


def test_the_existing_peak_is_the_rational_one(stormy):
    # a wetted membrane sheds the busiest step: 72 mm/h x 100 m2 / 3600 = 2.0 L/s, less what stands before the outlets
    rational = np.array([2.0, 3.0, 168.0 / 36.0])
    assert (stormy["storm_bare_peak"].to_numpy() <= rational * (1 + 1e-9)).all()
    assert stormy["storm_bare_peak"].to_numpy() == pytest.approx(rational, rel=0.1)


def test_planting_lowers_the_peak_more_than_the_volume(stormy):
    assert (stormy["storm_peak"] < stormy["storm_bare_peak"]).all()
    assert (stormy["storm_runoff_coefficient"] > stormy["storm_peak_coefficient"]).all()


def test_a_table_without_the_years_wanted():
    table = DepthDurationTable.from_rows(
        {"5min": [7.0, 8.0], "24h": [55.0, 60.0]}, return_periods_years=[3, 5], units="mm", source="t.csv"
    )
    message = (
        r"^t\.csv: the table has 5 to 1440 min and 3 to 5 years; storms of a dossier need durations from at most 60 min "
        r"upwards and one of 2, 10, 100 years$"
    )
    with pytest.raises(runoff.StormError, match=message):
        storms_of_table(table)


def test_a_table_with_some_of_them():
    table = DepthDurationTable.from_rows(
        {"10min": [7.0, 8.0], "6h": [30.0, 40.0]}, return_periods_years=[2, 20], units="mm"
    )
    storms = storms_of_table(table)
    assert list(storms) == [2, 10]  # 10 lies between the columns; 100 is outside and is not made up
    assert storms[2].attrs["duration"] == "6 h" or storms[2].sizes["time"] == 36
