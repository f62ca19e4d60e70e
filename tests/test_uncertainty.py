"""Ranges of the figures, and what it would help to measure."""

import re
from typing import Any, ClassVar

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from scipy import stats

import runoff
from runoff.errors import RunoffWarning, SizingError
from runoff.roof import drained_mass_kg_per_m2
from runoff.simulation import RunRules
from runoff.sizing.evaporation_doubt import weathers_by_method
from runoff.sizing.likely_ranges import QUANTILES, _quantiles, block_years_drawn, distributions_of, draw_roofs, sobol


@pytest.fixture(scope="module")
def twenty_years() -> xr.Dataset:
    return runoff.open_sample().sel(time=slice("1991", "2010"))


@pytest.fixture(scope="module")
def cups() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


class TestSobolIndices:
    """The function of Ishigami and Homma (1990), sin x1 + a sin^2 x2 + b x3^4 sin x1, x uniform on (-pi, pi).

    Its variance parts, integrated by hand (a = 7, b = 0.1):
        V1  = (1 + b pi^4/5)^2 / 2 = 4.3459,  V2 = a^2/8 = 6.125,  V13 = b^2 pi^8 (1/18 - 1/50) = 3.3737
    and their sum 13.8446. So S1 = 0.3139, S2 = 0.4424, S3 = 0; totals 0.5576, 0.4424, 0.2437, as published.
    """

    A, B = 7.0, 0.1

    def function(self, x: np.ndarray) -> np.ndarray:
        return np.sin(x[0]) + self.A * np.sin(x[1]) ** 2 + self.B * x[2] ** 4 * np.sin(x[0])

    def indices(self) -> tuple[list[float], list[float]]:
        one = (1.0 + self.B * np.pi**4 / 5.0) ** 2 / 2.0
        two = self.A**2 / 8.0
        both = self.B**2 * np.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
        whole = one + two + both
        return [one / whole, two / whole, 0.0], [(one + both) / whole, two / whole, both / whole]

    def test_the_formula_gives_the_published_digits(self) -> None:
        first, total = self.indices()
        np.testing.assert_allclose(first, [0.3139, 0.4424, 0.0], atol=5e-5)
        np.testing.assert_allclose(total, [0.5576, 0.4424, 0.2437], atol=5e-5)

    def test_against_the_integrals(self) -> None:
        distributions = distributions_of({name: (-np.pi, np.pi) for name in ("x1", "x2", "x3")})
        first, total = sobol(self.function, distributions, samples=4096, seed=1)
        # the error of plain Monte Carlo is about 1/sqrt(4096) = 0.016; the low-discrepancy points do no worse
        np.testing.assert_allclose(first, self.indices()[0], atol=0.016)
        np.testing.assert_allclose(total, self.indices()[1], atol=0.016)

    def test_repeats_bit_for_bit(self) -> None:
        distributions = distributions_of({name: (-np.pi, np.pi) for name in ("x1", "x2", "x3")})
        first, second = (sobol(self.function, distributions, samples=64, seed=7) for _ in range(2))
        np.testing.assert_array_equal(first, second)

    def test_samples_are_a_power_of_two(self) -> None:
        with pytest.raises(SizingError, match=r"^samples must be a power of two \(given 100\); for example 256$"):
            sobol(self.function, [stats.uniform()], samples=100, seed=1)


class TestDrawnParameters:
    RANGES: ClassVar[dict[str, Any]] = {
        "medium.field_capacity": (0.28, 0.38),
        "board.cup_storage_mm": (2.0, 3.0, 5.0),
        "medium.depth_mm": (70.0, 90.0),
    }

    def test_a_latin_hypercube_has_one_value_in_every_slice(self, cups: runoff.Roof) -> None:
        roofs, drawn = draw_roofs(cups, self.RANGES, members=50, seed=3)
        for name, distribution in zip(self.RANGES, distributions_of(self.RANGES), strict=True):
            values = drawn.sel(property=name).to_numpy()
            # the share that lies below a value: where its quantile is found again among close shares
            shares = np.linspace(0.0, 1.0, 5001)
            slices = np.floor(50 * np.interp(values, distribution.ppf(shares), shares)).astype(int)
            assert sorted(slices) == list(range(50))
        assert [one.build_up.medium.field_capacity for one in roofs] == drawn.sel(
            property="medium.field_capacity"
        ).to_numpy().tolist()

    def test_three_numbers_are_a_triangle(self) -> None:
        # mean of a triangle: (low + typical + high) / 3 = (2 + 3 + 5) / 3
        middles = (np.arange(10_000) + 0.5) / 10_000  # of equal shares: this sum is off by less than 1e-6
        drawn = distributions_of({"x": (2.0, 3.0, 5.0)})[0].ppf(middles)
        assert drawn.mean() == pytest.approx(10.0 / 3.0, rel=1e-6)

    def test_sets_no_roof_can_have_are_drawn_again(self, cups: runoff.Roof) -> None:
        ranges = {"medium.field_capacity": (0.30, 0.60), "medium.porosity": (0.50, 0.70)}
        roofs, drawn = draw_roofs(cups, ranges, members=40, seed=1)
        assert len(roofs) == drawn.sizes["member"] == 40
        assert (drawn.sel(property="medium.field_capacity") < drawn.sel(property="medium.porosity")).all()

    def test_ranges_that_contradict_each_other(self, cups: runoff.Roof) -> None:
        ranges = {"medium.field_capacity": (0.60, 0.70), "medium.porosity": (0.40, 0.50)}
        message = (
            "ranges: only 0 of 40 sets make a roof; the ranges of medium.field_capacity, medium.porosity contradict "
            "each other"
        )
        with pytest.raises(SizingError, match=f"^{re.escape(message)}$"):
            draw_roofs(cups, ranges, members=40, seed=1)


class TestYearsDrawnInBlocks:
    def test_every_record_has_as_many_years(self) -> None:
        weights = block_years_drawn(31, resamples=200, block_years=3, seed=1)
        assert weights.shape == (200, 31)
        np.testing.assert_allclose(weights.sum(axis=1), 31.0, rtol=1e-12)

    def test_every_year_is_drawn_alike(self) -> None:
        # circular blocks: each year is expected to weigh 1 per record; 2000 records, standard error about sqrt(1/2000) x
        # sqrt(block length) = 0.04, and the largest of 30 years stays within four of them
        weights = block_years_drawn(30, resamples=2000, block_years=3, seed=1)
        np.testing.assert_allclose(weights.mean(axis=0), 1.0, atol=0.16)

    def test_neighbours_come_together(self) -> None:
        weights = block_years_drawn(30, resamples=1, block_years=30, seed=1)
        assert (weights == 1).all()

    def test_the_seed_decides(self) -> None:
        again = [block_years_drawn(30, resamples=5, block_years=3, seed=seed) for seed in (1, 1, 2)]
        assert (again[0] == again[1]).all()
        assert (again[0] != again[2]).any()


@pytest.fixture(scope="module")
def found(cups: runoff.Roof, twenty_years: xr.Dataset) -> xr.Dataset:
    targets = {"retention": {"at_least": 0.05}, "dry_days": {"at_most": 0.0}}
    return runoff.uncertainty(cups, twenty_years, members=30, resamples=10, targets=targets)


class TestRangesOfTheFigures:
    def test_the_materials_alone_are_a_sweep_of_the_drawn_values(
        self, cups: runoff.Roof, twenty_years: xr.Dataset, found: xr.Dataset
    ) -> None:
        names = found["property"].to_numpy().tolist()
        members = [cups.replace(dict(zip(names, map(float, row), strict=True))) for row in found["drawn"].to_numpy().T]
        records = list(weathers_by_method(twenty_years, RunRules()).values())  # dealt out in turn
        alone = [
            float(runoff.summarize(runoff.simulate(one, records[i % len(records)]))["retention"])
            for i, one in enumerate(members)
        ]
        wanted = np.quantile(alone, [0.05, 0.2, 0.5, 0.95])
        np.testing.assert_allclose(found["retention"].sel(source="materials"), wanted, rtol=1e-9)

    def test_the_years_alone_keep_the_roof(
        self, cups: runoff.Roof, twenty_years: xr.Dataset, found: xr.Dataset
    ) -> None:
        totals = runoff.yearly_totals(runoff.simulate(cups, twenty_years))
        rain, overflow = totals["rain"].to_numpy(), totals["overflow"].to_numpy()
        weights = block_years_drawn(20, resamples=10, block_years=3, seed=1)
        wanted = np.quantile(1.0 - (weights @ overflow) / (weights @ rain), [0.05, 0.2, 0.5, 0.95])
        np.testing.assert_allclose(found["retention"].sel(source="years"), wanted, rtol=1e-9)

    def test_ranges_rise_and_carry_units(self, found: xr.Dataset) -> None:
        for name in ("retention", "annual_capture_mm", "rot_risk_days", "peak_discharge", "longest_dry_spell"):
            formed = found[name].dropna("source")  # the model's own error is formed for what follows from retention
            assert formed.sizes["source"] >= 4
            assert (formed.diff("quantile") >= 0).all()
            assert found[name].attrs["units"]

    def test_the_probability_of_a_target(self, found: xr.Dataset) -> None:
        # any planted roof keeps 5 % of the rain; a figure that must be 0 or less is met by those members that have 0
        assert float(found["probability"].sel(target="retention at least 0.05")) == 1.0
        assert 0.0 <= float(found["probability"].sel(target="dry_days at most 0")) <= 1.0

    def test_a_target_on_the_build_up_is_judged_on_the_drawn_roofs(
        self, cups: runoff.Roof, twenty_years: xr.Dataset
    ) -> None:
        # drawn field capacities of 0.20 to 0.40 in 80 mm: the water held differs by 16 kg/m2, half of it below the middle
        middle = drained_mass_kg_per_m2(cups.replace({"medium.field_capacity": 0.30}))
        result = runoff.uncertainty(
            cups, twenty_years, ranges={"medium.field_capacity": (0.20, 0.40)}, members=40, resamples=2,
            targets={"drained_mass": {"at_most": middle}},
        )  # fmt: skip
        # a Latin hypercube has exactly half of its 40 strata below the middle of an even range
        assert float(result["probability"][0]) == 0.5

    def test_the_seed_decides_bit_for_bit(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        one, same, other = (
            runoff.uncertainty(cups, twenty_years, members=8, resamples=5, seed=seed) for seed in (4, 4, 5)
        )
        xr.testing.assert_identical(one, same)
        assert not one["retention"].equals(other["retention"])

    def test_a_property_that_does_not_matter_narrows_nothing(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        ranges = {"medium.detention_k": (0.01, 0.05)}  # felt in runs in minutes only
        found = runoff.uncertainty(cups, twenty_years, ranges=ranges, members=5, resamples=5, et_method="given")
        spread = found["retention"].sel(source="materials")
        assert float(spread.max() - spread.min()) == 0.0


class TestWhatToMeasure:
    def test_the_one_that_matters_comes_first_and_is_named(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        # a wide range of held water against a drainage that never limits a daily run
        ranges = {"board.in_plane_flow_l_per_s_m": (0.6, 0.8), "medium.field_capacity": (0.20, 0.40)}
        found = runoff.what_to_measure(cups, twenty_years.sel(time=slice("1991", "1996")), ranges=ranges, samples=16)
        assert found["property"].to_numpy().tolist() == ["medium.field_capacity", "board.in_plane_flow_l_per_s_m"]
        assert found.attrs["advice"].startswith(
            "To narrow the retention, measure the field capacity of the medium first"
        )

    def test_an_unknown_figure(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        with pytest.raises(
            SizingError, match=r'^what_to_measure: "retentoin" is not a headline figure; known: years, '
        ):
            runoff.what_to_measure(cups, twenty_years, figure="retentoin")


class TestBadInput:
    def test_a_range_upside_down(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        ranges = {"medium.field_capacity": (0.38, 0.28), "medium.porosity": (0.5, 0.6, 0.7, 0.8)}
        with pytest.raises(SizingError) as caught:
            runoff.uncertainty(cups, twenty_years, ranges=ranges)  # type: ignore[arg-type]
        assert str(caught.value) == (
            "ranges: medium.field_capacity must rise from low to high (you wrote (0.38, 0.28))\n"
            "ranges: medium.porosity needs (low, high) or (low, typical, high) (you wrote (0.5, 0.6, 0.7, 0.8))"
        )

    def test_no_range(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        message = 'ranges: none given; name at least one property, for example {"medium.field_capacity": (0.28, 0.38)}'
        with pytest.raises(SizingError, match=f"^{re.escape(message)}$"):
            runoff.uncertainty(cups, twenty_years, ranges={})

    def test_under_five_years_is_refused(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        message = (
            "ranges need at least 5 years of weather, 3.0 are given; with so few the spread between years cannot be told; "
            "give a longer record"
        )
        with pytest.raises(SizingError, match=f"^{re.escape(message)}$"):
            runoff.uncertainty(cups, twenty_years.sel(time=slice("1991", "1993")), members=4)

    def test_under_twenty_years_is_warned(self, cups: runoff.Roof, twenty_years: xr.Dataset) -> None:
        message = (
            r"^8 years of weather: under 20 the range of rare figures \(peaks, longest spells\) is itself uncertain; "
            "take it as too narrow$"
        )
        with pytest.warns(RunoffWarning, match=message):
            runoff.uncertainty(cups, twenty_years.sel(time=slice("1991", "1998")), members=4, resamples=4)

    @pytest.mark.parametrize(("name", "value"), [("members", 1), ("resamples", 1), ("block_years", 0)])
    def test_numbers_that_make_no_range(
        self, cups: runoff.Roof, twenty_years: xr.Dataset, name: str, value: int
    ) -> None:
        least = {"members": 2, "resamples": 2, "block_years": 1}[name]
        with pytest.raises(SizingError, match=rf"^uncertainty: {name} must be at least {least} \(given {value}\)$"):
            runoff.uncertainty(cups, twenty_years, **{name: value})


# --- do the ranges cover the truth? ---------------------------------------------------------------------------
#
# Weather with a known mean: 36 storms a year, ten days apart, each of exponential depth with mean 15 mm, and 20 mm of
# evapotranspiration every day. The roof, 80 mm of medium that holds 0.25 x 80 = 20 mm above wilting point, is empty
# before every storm (worked out in tests/test_sizing.py), so it keeps min(X, 20) of each. The expectation of that is
# 15 (1 - exp(-20/15)) = 11.046 mm, and the true mean annual capture 36 times as much.
STORMS, MEAN_MM, HELD_MM = 36, 15.0, 20.0
TRUTH_MM = STORMS * MEAN_MM * (1.0 - np.exp(-HELD_MM / MEAN_MM))


def known_weather(rng: np.random.Generator, years: int) -> xr.Dataset:
    days = pd.date_range("1991-01-01", f"{1990 + years}-12-31")
    rain = np.zeros(days.size)
    storm = (days.day_of_year % 10 == 5) & (days.day_of_year <= 360)
    rain[storm] = rng.exponential(MEAN_MM, storm.sum())
    mm = {"units": "mm"}
    return xr.Dataset(
        {"rain": ("time", rain, mm), "reference_et": ("time", np.full(days.size, 20.0), mm)}, coords={"time": days}
    )


def twenty_mm() -> runoff.Roof:
    # without bypass, so that a day keeps what its store can take
    medium = runoff.GrowingMedium(
        depth_mm=80.0, porosity=0.60, field_capacity=0.33, wilting_point=0.08, bypass_fraction=0.0
    )
    layers = [runoff.Planting(canopy_storage_mm=0.0), medium, runoff.DrainageBoard(cup_storage_mm=0.0)]
    return runoff.Roof(build_up=runoff.BuildUp(layers=layers))


@pytest.fixture(scope="module")
def roof_of_20_mm() -> runoff.Roof:
    return twenty_mm()


def test_the_roof_keeps_what_the_known_mean_rests_on(roof_of_20_mm: runoff.Roof) -> None:
    weather = known_weather(np.random.default_rng(5), 4)
    kept = np.minimum(weather["rain"].to_numpy(), HELD_MM).sum() / 4
    facts = runoff.summarize(runoff.simulate(roof_of_20_mm, weather))
    assert float(facts["annual_capture_mm"]) == pytest.approx(kept, rel=1e-12)


def test_the_range_of_the_years_is_the_one_whose_coverage_is_counted(roof_of_20_mm: runoff.Roof) -> None:
    """The range of a run, formed here from what its storms leave; 200 runs are a trial, `tests/trials/range_coverage.py`."""
    weather = known_weather(np.random.default_rng(2024), 30)
    found = runoff.uncertainty(
        roof_of_20_mm, weather, ranges={"medium.detention_k": (0.01, 0.05)}, members=2, resamples=200, seed=3
    )
    kept = np.minimum(weather["rain"], HELD_MM).groupby("time.year").sum().to_numpy()
    weights = block_years_drawn(30, resamples=200, block_years=3, seed=3)
    np.testing.assert_allclose(
        found["annual_capture_mm"].sel(source="years", quantile=[0.05, 0.95]),
        np.quantile(weights @ kept / 30.0, [0.05, 0.95]),
        rtol=1e-12,
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("years", "block_years", "memory", "least"),
    [(30, 1, 0.0, 0.88), (30, 3, 0.0, 0.87), (30, 5, 0.0, 0.87), (60, 3, 0.0, 0.88), (30, 3, 0.3, 0.82), (30, 1, 0.3, 0.76)],
)  # fmt: skip
def test_the_coverage_table(years: int, block_years: int, memory: float, least: float) -> None:
    """Yearly captures drawn as above; with `memory`, years follow each other (autocorrelation of the yearly sums).

    Fifteen hundred records, so three standard errors of a coverage of 0.9 are 0.023; that is the tolerance where the
    years are independent. Years that follow each other are covered less (0.84 with blocks of three, 0.78 with single
    years, which is why blocks are the default); the documentation says so, and the last two rows only pin it.
    """
    rng = np.random.default_rng(7)
    inside = 0
    repeats = 1500
    for repeat in range(repeats):
        storms = np.minimum(rng.exponential(MEAN_MM, (years + 50, STORMS)), HELD_MM).sum(axis=1) - TRUTH_MM
        sums = np.empty(years + 50)
        level = 0.0
        for year, fresh in enumerate(storms):
            level = memory * level + np.sqrt(1.0 - memory**2) * fresh
            sums[year] = TRUTH_MM + level
        weights = block_years_drawn(years, resamples=200, block_years=block_years, seed=repeat)
        low, high = np.quantile(weights @ sums[50:] / years, [0.05, 0.95])
        inside += low <= TRUTH_MM <= high
    assert least <= inside / repeats <= 0.923


class TestEvaporationMethods:
    """A record is run under every method that its data allow; what was asked for or measured stands alone."""

    def test_temperatures_allow_three(self) -> None:
        weather = runoff.open_sample().sel(time=slice("1991", "1995"))
        found = weathers_by_method(weather, RunRules())
        assert list(found) == ["Hargreaves-Samani", "FAO-56 Penman-Monteith", "Oudin"]
        for name, title in (("penman-monteith", "FAO-56 Penman-Monteith"), ("oudin", "Oudin")):
            wanted = runoff.reference_et(weather.drop_vars("reference_et"), name)
            np.testing.assert_array_equal(found[title]["reference_et"], wanted)
        assert found["Hargreaves-Samani"] is weather

    def test_one_that_was_asked_for_or_given_stands_alone(self) -> None:
        weather = runoff.open_sample().sel(time=slice("1991", "1995"))
        assert list(weathers_by_method(weather, RunRules(et_method="oudin"))) == ["oudin"]
        asked = weather.assign(reference_et=runoff.reference_et(weather.drop_vars("reference_et"), "oudin"))
        assert list(weathers_by_method(asked, RunRules())) == ["Oudin"]
        given = weather.assign(reference_et=weather["reference_et"].copy())
        given["reference_et"].attrs = {"units": "mm"}
        assert list(weathers_by_method(given, RunRules())) == ["given"]

    def test_the_range_says_which_and_grows(self) -> None:
        weather = runoff.open_sample().sel(time=slice("1991", "2010"))
        roof = runoff.open_sample_roof("cups")
        all_methods = runoff.uncertainty(roof, weather, members=30, resamples=10)
        one = runoff.uncertainty(roof, weather, members=30, resamples=10, et_method="given")
        assert all_methods.attrs["evaporation_methods"] == "Hargreaves-Samani, FAO-56 Penman-Monteith, Oudin"
        width = [
            float(
                x["retention"].sel(source="materials", quantile=0.95)
                - x["retention"].sel(source="materials", quantile=0.05)
            )
            for x in (all_methods, one)
        ]
        assert width[0] > width[1]


def test_quantiles_found_together_are_numpys_one_by_one() -> None:
    rng = np.random.default_rng(8)
    drawn = {f"even {i}": rng.gamma(2.0, 3.0, (20, 5)) for i in range(3)} | {
        "counts": rng.integers(0, 4, (20, 5)),
        "some missing": np.where(rng.random(100) < 0.3, np.nan, rng.random(100)),
        "fewer": xr.Variable("draw", rng.random(17)),
    }
    found = _quantiles(drawn, [*drawn, "not drawn"])
    assert found.keys() == drawn.keys()
    for name, values in drawn.items():
        assert found[name].tobytes() == np.nanquantile(np.asarray(values), QUANTILES).tobytes(), name
