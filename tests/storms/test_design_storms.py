"""Design storms: their own stated properties, options and messages; printed values stand in `tests/published`."""

import re

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

import runoff.storms.design_storms as storms
from runoff.errors import RunoffWarning, StormError
from runoff.storms.depth_duration import DepthDurationTable
from runoff.storms.depth_duration_files import read_depth_duration
from runoff.storms.design_storms import NRCS_PATTERNS, PATTERNS, design_storm, storm_from_series
from runoff.storms.hyetographs import alternating_blocks, nrcs_shares
from runoff.storms.intensity_curves import IntensityCurve
from runoff.storms.nrcs_ordinates import NRCS_ORDINATES
from tests.storms.test_depth_duration import atlas_file

INCH = 25.4
NEW_YORK = IntensityCurve.from_units(a=51.39, b=7.85, c=0.75, units="in/h", return_period_years=10.0)
# made up for tests of shape; no published source
TABLE = DepthDurationTable.from_rows(
    {"5min": [6, 9, 13], "15min": [10, 16, 23], "1h": [16, 26, 38], "6h": [26, 42, 60], "24h": [38, 62, 88]},
    return_periods_years=[2, 10, 100],
    units="mm",
    source="typed for this test",
)


def largest_window(blocks: np.ndarray, window: int) -> float:
    return float(np.convolve(blocks, np.ones(window), mode="valid").max())


def test_nrcs_type_ii_has_the_known_ordinates_and_not_those_of_a_wrong_table() -> None:
    # a table in circulation headed Type II has 60.1 % at 12 h and 90.3 % at 18 h; HDS-2 Table 6.5: 0.663 and 0.921
    cumulative = np.cumsum(nrcs_shares("type-II", 24))
    assert cumulative[11] == pytest.approx(0.663)
    assert cumulative[17] == pytest.approx(0.921)


@pytest.mark.parametrize("step", ["1min", "5min", "6min", "10min", "15min", "30min"])
def test_worked_intensity_of_type_ii(step: str) -> None:
    # HDS-2 Table 6.5: 80 mm x 0.380 / 0.5 h = 60.8 mm/h from 11.5 to 12 h, at any step
    storm = design_storm(depth_mm=80, duration="24h", step=step, pattern="type-II")
    busiest = storm.sel(time=slice("2001-07-01T11:30", "2001-07-01T11:59"))
    assert float(busiest.sum()) / 0.5 == pytest.approx(60.8)


@pytest.mark.parametrize(
    ("pattern", "step_min", "share"),
    [
        ("type-II", 6, 0.5679 - 0.4308),  # 11.8 to 11.9 h
        ("type-III", 15, 0.500 - 0.339),  # 11.75 to 12 h
        ("type-I", 30, 0.515 - 0.303),  # 9.5 to 10 h, HDS-2 Table 6.5: no finer ordinate is known
        ("type-IA", 30, 0.425 - 0.310),
    ],
)
def test_the_finest_ordinates_make_the_peak(pattern: str, step_min: int, share: float) -> None:
    # NEH 630 chapter 4 from memory (types II and III): this tests that they are used, and cites nothing
    storm = design_storm(depth_mm=80, step=f"{step_min}min", pattern=pattern)
    assert float(storm.max()) == pytest.approx(80 * share, rel=1e-9)
    assert "warning" not in storm.attrs


@pytest.mark.parametrize(
    ("pattern", "finest"), [("type-II", "6 min"), ("type-III", "15 min"), ("type-I", "30 min"), ("type-IA", "30 min")]
)
def test_a_step_finer_than_the_ordinates_is_drawn_and_warned_about(pattern: str, finest: str) -> None:
    with pytest.warns(RunoffWarning, match="design_storm: a step of 5 min is finer than the ordinates"):
        storm = design_storm(depth_mm=80, step="5min", pattern=pattern)
    assert f"finer than the ordinates of {pattern} near its peak ({finest})" in storm.attrs["warning"]
    assert float(storm.sum()) == pytest.approx(80.0, rel=1e-12)


def test_a_step_finer_than_the_table_is_drawn_and_warned_about() -> None:
    with pytest.warns(RunoffWarning, match="a step of 1 min is finer than the first duration of the table"):
        storm = design_storm(duration="1h", step="1min", depth_duration=TABLE, return_period_years=10)
    assert storm.attrs["pattern"] == "alternating-block"
    # straight line below 5 min: 9 mm in five equal minutes side by side; the durations of the table still nest
    assert np.sort(storm.values)[-5:] == pytest.approx([1.8] * 5)
    for minutes, depth in ((5, 9.0), (15, 16.0), (60, 26.0)):
        assert largest_window(storm.values, minutes) == pytest.approx(depth, rel=1e-9)
    with pytest.warns(RunoffWarning, match="finer than the first duration"):
        chicago = design_storm(
            duration="1h",
            step="1min",
            pattern="chicago",
            peak_position=0.4,
            depth_duration=TABLE,
            return_period_years=10,
        )
    assert float(chicago.sum()) == pytest.approx(26.0, rel=1e-12)
    assert largest_window(chicago.values, 5) == pytest.approx(9.0, rel=1e-9)  # 2 min before the peak and 3 after it


def test_the_default_is_the_sharpest_that_can_be_had() -> None:
    alone = design_storm(depth_mm=80, step="6min")
    assert alone.attrs["pattern"] == "type-II"
    tabled = design_storm(depth_mm=80, depth_duration=TABLE, return_period_years=10)
    assert tabled.attrs["pattern"] == "alternating-block"
    for pattern in NRCS_PATTERNS:
        assert float(alone.max()) >= float(design_storm(depth_mm=80, step="6min", pattern=pattern).max())
    curve = design_storm(duration="1h", depth_duration=NEW_YORK)
    assert curve.attrs["pattern"] == "alternating-block"


@given(
    pattern=st.sampled_from(PATTERNS),
    step=st.sampled_from([1, 2, 3, 5, 6, 10, 12, 15, 20, 30, 60]),
    depth=st.floats(0.1, 900.0),
    interpolation=st.sampled_from(["linear", "monotone-cubic", None]),
)
@settings(max_examples=60)
@pytest.mark.filterwarnings("ignore:design_storm")
def test_volume_is_exact_and_no_step_is_negative(pattern: str, step: int, depth: float, interpolation) -> None:
    option = {"interpolation": interpolation} if pattern in NRCS_PATTERNS else {}
    storm = design_storm(
        depth_mm=depth, step=f"{step}min", pattern=pattern, depth_duration=TABLE, return_period_years=10, **option
    )
    assert float(storm.sum()) == pytest.approx(depth, rel=1e-12)
    assert (storm.values >= 0.0).all()  # so the cumulative curve is monotone


def test_types_rank_as_tr55_says() -> None:
    # TR-55 Appendix B: IA is the least and II the most intense in short durations
    peaks = {
        pattern: float(design_storm(depth_mm=100, step="30min", pattern=pattern).max()) for pattern in NRCS_PATTERNS
    }
    assert peaks["type-IA"] < peaks["type-III"] < peaks["type-I"] < peaks["type-II"]


@pytest.mark.parametrize("pattern", NRCS_PATTERNS)
def test_cubic_peak_is_above_the_linear_one_and_the_storm_says_so(pattern: str) -> None:
    linear = design_storm(depth_mm=100, pattern=pattern, step="1min")
    cubic = design_storm(depth_mm=100, pattern=pattern, step="1min", interpolation="monotone-cubic")
    assert float(cubic.max()) > 1.02 * float(linear.max())
    assert "understated" in linear.attrs["warning"]
    assert cubic.attrs["interpolation"] == "monotone-cubic"


@given(
    position=st.floats(0.05, 0.95),
    steps=st.integers(2, 60),
    step=st.sampled_from([1, 5, 10]),
    b=st.floats(0.0, 30.0),
    c=st.floats(0.3, 0.95),
)
def test_chicago_holds_the_depth_of_its_duration(position: float, steps: int, step: int, b: float, c: float) -> None:
    curve = IntensityCurve(a=900.0, b=b, c=c)
    storm = design_storm(
        duration=f"{steps * step}min",
        step=f"{step}min",
        pattern="chicago",
        depth_duration=curve,
        peak_position=position,
    )
    assert float(storm.sum()) == pytest.approx(float(curve.depth_mm(steps * step)), rel=1e-12)
    assert (storm.values > 0).all()


@pytest.mark.parametrize("count", range(1, 14))
def test_alternating_places_every_block_once_and_the_largest_in_the_middle(count: int) -> None:
    ranked = np.arange(count, 0, -1.0)
    arranged = alternating_blocks(ranked)
    assert sorted(arranged) == sorted(ranked)
    assert int(arranged.argmax()) + 1 == (count // 2 if count % 2 == 0 else (count + 1) // 2)
    if count > 1:
        assert arranged[int(arranged.argmax()) + 1] == count - 1 or count == 2


@pytest.mark.parametrize("pattern", ["alternating-block", "euler-II"])
def test_table_storm_nests_every_duration(pattern: str) -> None:
    storm = design_storm(duration="6h", pattern=pattern, depth_duration=TABLE, return_period_years=10)
    for duration, window in (("5min", 1), ("15min", 3), ("1h", 12), ("6h", 72)):
        assert largest_window(storm.values, window) == pytest.approx(TABLE.depth(duration, 10), rel=1e-9)


@pytest.mark.parametrize("period", [2, 10, 100])
def test_kinks_of_a_published_table_only_ever_add(tmp_path, period: int) -> None:
    # straight lines on log-log paper have kinks, and sorted blocks may then hold more than the table, never less;
    # measured on NOAA Atlas 14 Pulaski: up to 2 % at 3 h
    table = read_depth_duration(atlas_file(tmp_path, "pulaski"))
    storm = design_storm(pattern="alternating-block", depth_duration=table, return_period_years=period)
    for minutes in table.durations_min:
        excess = largest_window(storm.values, round(minutes / 5)) / float(table.curve(period).depth_mm(minutes)) - 1
        assert -1e-9 < excess < 0.025


def test_euler_rises_for_a_third_and_then_falls() -> None:
    storm = design_storm(duration="1h", pattern="euler-II", depth_duration=NEW_YORK)
    assert storm.attrs["leading_blocks"] == 4
    assert (np.diff(storm.values[:4]) > 0).all()
    assert (np.diff(storm.values[4:]) < 0).all()
    assert int(storm.values.argmax()) == 3


@pytest.mark.parametrize("pattern", PATTERNS)
def test_every_pattern_keeps_the_form_of_a_storm(pattern: str) -> None:
    storm = design_storm(depth_mm=80, pattern=pattern, depth_duration=TABLE, return_period_years=10)
    assert storm.name == "rain"
    assert storm.dims == ("time",)
    assert storm.sizes["time"] == 288
    assert np.issubdtype(storm.time.dtype, np.datetime64)
    assert str(storm.time.values[0]).startswith("2001-07-01T00:00")
    assert float(storm.sum()) == pytest.approx(80.0, rel=1e-12)
    assert (storm.values >= 0).all()
    assert storm.attrs["units"] == "mm"
    assert storm.attrs["cell_methods"] == "time: sum"
    assert storm.attrs["pattern"] == pattern
    assert storm.attrs["duration"] == "24 h"
    assert storm.attrs["step"] == "5 min"
    assert storm.attrs["return_period"] == "10 years; depth scaled to 80 mm"
    assert "invented" in storm.attrs["time_label"]
    if pattern not in ("uniform", *NRCS_PATTERNS):
        assert "typed for this test" in storm.attrs["source"]


def test_storm_survives_a_netcdf_file(tmp_path) -> None:
    storm = design_storm(duration="1h", pattern="chicago", depth_duration=NEW_YORK)
    storm.to_netcdf(tmp_path / "storm.nc", engine="h5netcdf")
    back = xr.load_dataarray(tmp_path / "storm.nc", engine="h5netcdf")
    assert back.values == pytest.approx(storm.values)
    assert back.attrs["pattern"] == "chicago"


def test_depth_comes_from_the_table_when_none_is_given() -> None:
    storm = design_storm(pattern="type-II", step="6min", depth_duration=TABLE, return_period_years=100)
    assert float(storm.sum()) == pytest.approx(88.0)
    assert storm.attrs["return_period"] == "100 years"
    assert storm.attrs["source"].endswith("depth from typed for this test")


def test_no_step_changes_the_volume() -> None:
    sums = [float(design_storm(depth_mm=80, step=step).sum()) for step in ("1min", "5min", "15min", "1h", "24h")]
    assert sums == pytest.approx([80.0] * 5, rel=1e-12)


def test_central_part_is_the_busiest_window() -> None:
    # HDS-2 Table 6.5, Type II: 2 h from 11 to 13 h hold 0.537 of the day, the half hour before noon 0.380
    storm = design_storm(depth_mm=53.7, duration="2h", step="30min", pattern="type-II", central_part=True)
    assert storm.values == pytest.approx([4.8, 38.0, 7.2, 3.7], abs=0.05)
    assert "most intense 2 h" in storm.attrs["note"]


def test_own_series_from_values_and_from_a_time_axis() -> None:
    typed = storm_from_series([6, 24, 12], step="10min", units="mm/h", source="gauge on the shed")
    assert typed.values == pytest.approx([1.0, 4.0, 2.0])  # by hand: i x 10/60
    assert typed.attrs["source"] == "gauge on the shed"
    index = pd.date_range("2019-05-03 14:00", periods=3, freq="10min")
    timed = storm_from_series(pd.Series([0.1, 0.2, 0.1], index=index), units="in", depth_mm=20.0)
    assert timed.values == pytest.approx([5.0, 10.0, 5.0])
    assert timed.time.values[0] == np.datetime64("2019-05-03T14:00")
    again = storm_from_series(timed)
    assert again.values == pytest.approx(timed.values)
    assert again.attrs["step"] == "10 min"


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        (
            {"depth_mm": 5, "duration": "5min", "step": "10min", "pattern": "uniform"},
            "design_storm: the storm (5 min) is shorter than its step (10 min); give a step of 5 min or less",
        ),
        (
            {"depth_mm": 80, "step": "7min"},
            "design_storm: a step of 7 min does not divide the duration of 24 h (205.71 steps); use 12 min or 10 min",
        ),
        (
            {"depth_mm": 80, "duration": "6h"},
            'design_storm: pattern "type-II" is a 24-hour distribution and holds for a duration of 24 h only '
            '(given 6 h); use duration="24h", or central_part=True for the most intense 6 h of it, or a pattern made '
            "from a depth-duration table: alternating-block, chicago, euler-II",
        ),
        (
            {"depth_mm": 80, "duration": "48h"},
            'pattern "type-II" is a 24-hour distribution and holds for a duration of 24 h only (given 2 days); use '
            'duration="24h", or a pattern made from',
        ),
        (
            {"depth_mm": 80, "duration": "7h", "step": "7min", "central_part": True},
            "with central_part the step must divide 24 h, and 7 min does not",
        ),
        (
            {"depth_mm": 80, "pattern": "type-2"},
            'design_storm: pattern "type-2" is not known (did you mean "type-',
        ),
        (
            {"depth_mm": 80, "pattern": "user"},
            'design_storm: pattern "user" is not known; for a storm of your own use storm_from_series; known: type-I,',
        ),
        ({}, "design_storm: no depth; give depth_mm, or depth_duration with return_period_years"),
        ({"depth_mm": 0}, "design_storm: depth_mm 0 must be more than zero and finite"),
        ({"depth_mm": float("nan")}, "design_storm: depth_mm nan must be more than zero and finite"),
        ({"depth_mm": "80"}, "design_storm: depth_mm '80' must be a number of millimetres"),
        ({"depth_mm": True}, "design_storm: depth_mm True must be a number of millimetres"),
        (
            {"depth_mm": 80, "duration": 24},
            "design_storm: duration 24 has no unit; write it with its unit, for example",
        ),
        ({"depth_mm": 80, "step": "5"}, 'design_storm: step "5" has no unit; write it with its unit'),
        ({"depth_mm": 80, "step": "-5min"}, 'design_storm: step "-5min" must be longer than zero'),
        ({"depth_mm": 80, "step": "soon"}, 'design_storm: step "soon" is not a duration; write it with its unit'),
        (
            {"depth_mm": 80, "pattern": "chicago"},
            'design_storm: pattern "chicago" is made from a depth-duration table or an intensity formula, and none is '
            "given; pass depth_duration (depth_mm alone does not say how the rain is spread)",
        ),
        (
            {"depth_mm": 80, "peak_position": 0.4, "leading_blocks": 3},
            'design_storm: peak_position belongs to chicago; leave it out for pattern "type-II"\n'
            'design_storm: leading_blocks belongs to euler-II; leave it out for pattern "type-II"',
        ),
        (
            {"depth_mm": 80, "interpolation": "cubic"},
            'interpolation "cubic" is not known; known: linear, monotone-cubic',
        ),
        (
            {"pattern": "chicago", "depth_duration": NEW_YORK, "peak_position": 37.5},
            "peak_position 37.5 must lie between 0 and 1; it is a share of the duration",
        ),
        (
            {"pattern": "euler-II", "depth_duration": NEW_YORK, "duration": "1h", "leading_blocks": 13},
            "leading_blocks 13 must lie between 1 and the number of steps, 12",
        ),
        (
            {"pattern": "chicago", "depth_duration": TABLE},
            "typed for this test: return_period_years is missing; the table has 2, 10, 100 years",
        ),
        (
            {"pattern": "chicago", "depth_duration": TABLE, "return_period_years": 500},
            "typed for this test: return period 500 years is outside the table, which has 2, 10, 100 years; "
            "nothing is extrapolated",
        ),
        (
            {"pattern": "alternating-block", "depth_duration": TABLE, "return_period_years": 10, "duration": "48h"},
            "duration 2 days is outside the table, which runs from 5 min to 24 h; nothing is extrapolated",
        ),
        (
            {"pattern": "chicago", "depth_duration": NEW_YORK, "return_period_years": 25},
            "design_storm: depth_duration is a curve for 10 years, return_period_years is 25; leave "
            "return_period_years out or pass the whole table",
        ),
        (
            {"pattern": "chicago", "depth_duration": {"5min": 8.1}},
            "design_storm: depth_duration is a dict; it must be a DepthDurationTable (read_depth_duration, "
            "DepthDurationTable.from_rows) or an IntensityCurve (fit_intensity)",
        ),
    ],
)
def test_messages(asked: dict, message: str) -> None:
    with pytest.raises(StormError, match=re.escape(message)):
        design_storm(**asked)


@pytest.mark.parametrize(
    ("rain", "options", "message"),
    [
        ([1, 2], {"units": "mm"}, 'the rain has no time axis; give the length of a step, for example step="5min"'),
        ([1, 2], {"step": "5min"}, 'the rain has no units; give units="mm" for depths or units="mm/h" for intensities'),
        ([1, 2], {"step": "5min", "units": "L/s"}, 'units "L/s" measure flow; give a depth (mm, in) or an intensity'),
        (
            [1, np.nan, -2],
            {"step": "5min", "units": "mm"},
            "storm_from_series: 1 missing value(s), the first at step 2; missing rain is not dry weather: fill it or "
            "leave the storm out\nstorm_from_series: 1 negative value(s), the first at step 3; rain cannot be negative",
        ),
        ([0, 0], {"step": "5min", "units": "mm"}, "storm_from_series: the series holds no rain"),
        (
            pd.Series([1, 2, 3], index=pd.to_datetime(["2020-01-01 00:00", "2020-01-01 00:05", "2020-01-01 00:15"])),
            {"units": "mm"},
            "storm_from_series: the time axis is not regular; the first irregular time is 2020-01-01 00:15:00",
        ),
        (
            pd.Series([1, 2], index=pd.date_range("2020", periods=2, freq="5min")),
            {"units": "mm", "step": "1h"},
            "storm_from_series: step 1h differs from the time axis (5 min); leave step out",
        ),
        (
            xr.DataArray(np.ones((2, 2)), dims=("site", "time")),
            {"units": "mm"},
            "storm_from_series: the rain has dimensions site, time; pass one storm, on one dimension",
        ),
    ],
)
def test_messages_of_own_series(rain, options: dict, message: str) -> None:
    with pytest.raises(StormError, match=re.escape(message)):
        storm_from_series(rain, **options)


def test_ordinates_cannot_be_changed_by_accident() -> None:
    with pytest.raises(ValueError, match="read-only"):
        NRCS_ORDINATES["type-II"].shares[0] = 1.0


def test_notes_cover_every_pattern_without_a_table_of_its_own() -> None:
    assert set(PATTERNS) - set(NRCS_PATTERNS) <= set(storms._NOTES)


def test_a_typed_formula_is_not_limited_at_its_short_end() -> None:
    # 96.6/(0.5 + 13.90) in/h over half a minute, by hand: 0.05590 in
    curve = IntensityCurve.from_units(a=96.6, b=13.90, units="in/h")
    assert curve.shortest_min == 0.0
    assert curve.depth_mm(0.5) / INCH == pytest.approx(96.6 / 14.4 * 0.5 / 60.0, rel=1e-12)
