"""Many designs at once, and the choice among them."""

import itertools
import re
from typing import Any, ClassVar

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

import runoff
from runoff.errors import RoofError, SizingError
from runoff.findings.tables import sweep_shown
from runoff.sizing import sweeping
from runoff.sizing import targets as targets_module
from runoff.sizing.designs import DesignGrid
from runoff.sizing.masses_and_costs import build_up_figures
from runoff.sizing.targets import Target, non_dominated


@pytest.fixture(scope="module")
def three_years() -> xr.Dataset:
    return runoff.open_sample().isel(time=slice(0, 1096))


@pytest.fixture(scope="module")
def cups() -> runoff.Roof:
    return runoff.open_sample_roof("cups")


class TestASweepIsManyRuns:
    """A sweep keeps no day, so its figures are held against a run and a summary of every single design."""

    CHOICES: ClassVar[dict[str, list[Any]]] = {
        "medium.depth_mm": [40, 120],
        "board.cup_storage_mm": [0, 6],
        "roof.planted_fraction": [0.6, 1.0],
        "roof.blocked_fraction": [0.0, 1.0],
    }

    @pytest.mark.parametrize("warm_up_years", [0, 1])
    @pytest.mark.parametrize("other", [runoff.BareSurface(kind="gravel"), runoff.BareSurface(kind="membrane")])
    def test_every_figure_of_every_design(
        self, cups: runoff.Roof, three_years: xr.Dataset, warm_up_years: int, other: runoff.BareSurface
    ) -> None:
        roof = cups.replace({"roof.other_surface": other})
        table = runoff.sweep(roof, three_years, self.CHOICES, warm_up_years=warm_up_years)
        grid = list(itertools.product(*self.CHOICES.values()))
        assert table.sizes["design"] == len(grid) == 16
        changed = [dict(zip(self.CHOICES, values, strict=True)) for values in grid]
        runs = runoff.simulate([roof.replace(one) for one in changed], three_years, warm_up_years=warm_up_years)
        alone = runoff.summarize(runs)
        for name in alone:
            # the same additions in another order, so only rounding of sums of some thousand mm is left
            wanted = alone[name].transpose(*table[name].dims)
            np.testing.assert_allclose(table[name], wanted, rtol=1e-9, atol=1e-9, err_msg=str(name))
        assert [{key: table[key].to_numpy()[i] for key in self.CHOICES} for i in range(16)] == changed

    def test_roofs_with_several_other_surfaces_in_one_sweep(self, cups: runoff.Roof, three_years: xr.Dataset) -> None:
        surfaces = [runoff.BareSurface(kind="gravel"), runoff.BareSurface(kind="membrane")]
        table = runoff.sweep(cups, three_years, {"roof.other_surface": surfaces, "medium.depth_mm": [60, 90]})
        for i, (surface, depth) in enumerate(itertools.product(surfaces, [60, 90])):
            changed = cups.replace({"roof.other_surface": surface, "medium.depth_mm": depth})
            alone = runoff.summarize(runoff.simulate(changed, three_years))
            assert float(table["annual_capture_m3"][i]) == pytest.approx(float(alone["annual_capture_m3"]), rel=1e-9)

    @pytest.mark.parametrize(
        "choices",
        [
            {"medium.depth_mm": [40, 60, 80, 100, 120]},
            {"roof.run_on_area_m2": [0.0, 30.0], "medium.depth_mm": [40, 60, 80]},
            {"roof.run_on_area_m2": [30.0, 0.0], "roof.area_m2": [77.7, 200.0]},
        ],
        ids=["one depth each", "a first piece without run-on", "a last piece without run-on"],
    )
    def test_pieces_of_a_long_sweep_make_one_table(
        self,
        cups: runoff.Roof,
        three_years: xr.Dataset,
        monkeypatch: pytest.MonkeyPatch,
        choices: dict[str, list[float]],
    ) -> None:
        whole = runoff.sweep(cups, three_years, choices)
        monkeypatch.setattr(sweeping, "_DESIGNS_PER_PIECE", 2)
        xr.testing.assert_identical(runoff.sweep(cups, three_years, choices, progress=False), whole)

    def test_the_progress_bar_counts_pieces(
        self, cups: runoff.Roof, three_years: xr.Dataset, capsys: pytest.CaptureFixture[str]
    ) -> None:
        runoff.sweep(cups, three_years, {"medium.depth_mm": [40, 60]}, progress=True)
        assert "designs: 100%" in capsys.readouterr().err

    def test_named_materials(self, cups: runoff.Roof, three_years: xr.Dataset) -> None:
        names = ["brick and pumice mix", "pumice mix"]
        table = runoff.sweep(cups, three_years, {"medium.material": names, "medium.depth_mm": [80]})
        assert table["medium.material"].to_numpy().tolist() == names
        for i, name in enumerate(names):
            changed = cups.replace({"medium.material": name, "medium.depth_mm": 80})
            alone = runoff.summarize(runoff.simulate(changed, three_years))
            assert float(table["retention"][i]) == pytest.approx(float(alone["retention"]), rel=1e-9)


class TestDesignsReadTogether:
    """A sweep reads designs that differ in numbers alone as one roof of arrays; each must be what it is by itself."""

    PRICES: ClassVar[dict[str, Any]] = {"medium.depth_mm": 0.37, "board": 11.0, "board.cup_storage_mm": 0.3}
    CASES: ClassVar[dict[str, dict[str, list[Any]]]] = {
        "numbers": {"medium.depth_mm": [40, 83.3], "medium.field_capacity": [0.27, 0.31], "board.cup_storage_mm": [0, 3.1]},
        "not given, yes or no": {
            "board.in_plane_gradient": [None, 0.013, 0.037], "board.cups_up": [True, False], "roof.fall": [0.0, 0.011, 0.02],
            "roof.emergency_overflow_mm": [None, 10.0, 25.0, 60.0, 130.0],
        },
        "materials": {"medium.material": ["brick and pumice mix", "pumice mix"], "medium.depth_mm": [60, 77.7]},
        "numbers around what is no number": {
            "medium.depth_mm": [60, 77.7, 90], "medium.material": ["pumice mix", "brick and pumice mix"],
            "medium.field_capacity": [0.3, 0.35], "board.cups_up": [True, False], "board.cup_storage_mm": [1, 2.5],
        },
        "outlets and areas": {
            "outlet.diameter_mm": [50.0, 125.0], "roof.area_m2": [77.7, 200.0], "outlet.count": [1, 2],
            "roof.blocked_fraction": [0.0, 0.3, 1.0], "roof.planted_fraction": [0.61, 1.0],
        },
        "other surfaces": {
            "roof.other_surface": [runoff.BareSurface(kind="gravel"), runoff.BareSurface(kind="membrane")],
            "fleece.flow_mm_per_h": [0.5, 36000.0],
        },
        "a surface that holds nothing": {"planting.canopy_storage_mm": [0.0, 1.3], "mulch.holding_fraction": [0.0, 0.2]},
    }  # fmt: skip

    @pytest.mark.parametrize("case", CASES)
    def test_parameters_masses_and_costs_to_the_last_bit(self, cups: runoff.Roof, case: str) -> None:
        choices = self.CASES[case]
        grid = DesignGrid(cups, choices)
        values = itertools.product(*choices.values())
        alone = [cups.replace(dict(zip(choices, one, strict=True))) for one in values]
        assert len(grid) == len(alone)
        for piece in (range(len(grid)), range(1, len(grid) - 1)):
            together = sweeping.columns_of_designs(grid, piece).rows
            one_by_one = sweeping.columns_of_designs([alone[i] for i in piece]).rows
            assert set(together) == set(one_by_one)
            for name, ours in together.items():
                np.testing.assert_array_equal(ours, one_by_one[name], err_msg=name)
        xr.testing.assert_identical(build_up_figures(grid, self.PRICES), build_up_figures(alone, self.PRICES))

    @pytest.mark.parametrize(
        "choices",
        [
            {"medium.depth_mm": [60.0, -4.0]},
            {"medium.depth_mm": [60.0, [70.0]]},
            {"medium.field_capacity": [0.3, True]},
            {"medium.field_capacity": [0.3, 0.35], "medium.wilting_point": [0.08, 0.32]},  # one of four
            {"medium.depth_mm": [60.0, 400.0, -3.0]},  # the second lifts the medium over the edge
            {"board.height_mm": [25.0, 205.0]},  # so does this
            {"medium.material": ["pumice mix", "pebbles"]},
            {"medium.depth_mm": [60, 10**400]},
        ],
        ids=lambda choices: ", ".join(choices),
    )
    def test_what_cannot_be_is_refused_in_the_words_for_one_roof(
        self, cups: runoff.Roof, choices: dict[str, list[Any]]
    ) -> None:
        roof = cups.replace({"roof.edge_height_mm": 250.0})
        with pytest.raises(runoff.RoofError) as alone:
            for values in itertools.product(*choices.values()):
                roof.replace(dict(zip(choices, values, strict=True)))
        with pytest.raises(runoff.RoofError) as together:
            DesignGrid(roof, choices | {"board.cup_storage_mm": [0.0, 3.1]})
        assert str(together.value) == str(alone.value)

    def test_a_price_per_material(self, cups: runoff.Roof) -> None:
        grid = DesignGrid(cups, self.CASES["materials"])
        prices = {"medium.material": {"brick and pumice mix": 31.0, "pumice mix": 42.0}, "medium.depth_mm": 0.5}
        cost = build_up_figures(grid, prices)["cost"]  # by hand: 31 + 30, 31 + 38.85, 42 + 30, 42 + 38.85
        np.testing.assert_allclose(cost, [61.0, 69.85, 72.0, 80.85], rtol=1e-14)


# --- a case with a known answer -------------------------------------------------------------------------------
#
# Every tenth day brings 30 mm; every day could evaporate 20 mm, as much as the deepest of these media holds above
# wilting point. Then the medium is empty by the evening (Ks E0 >= S - S_wp because E0 >= S_fc - S_wp), and on the next
# day, when it gives nothing, the cups can give 0.5 x 20 = 10 mm, more than they hold. So each rain meets an empty
# roof, and
#     retention = min(1, (0.25 depth + cups) / 30)
#     mass drained = 10 (planting) + 0.8 depth (dry) + 0.33 depth (water) + 1.2 (board) + cups
DEPTHS, CUPS = list(range(40, 84, 4)), [0.0, 2.0, 4.0]


@pytest.fixture(scope="module")
def ten_days() -> xr.Dataset:
    days = pd.date_range("2001-01-01", "2006-12-31")
    rain = np.where(np.arange(days.size) % 10 == 0, 30.0, 0.0)
    mm = {"units": "mm"}
    return xr.Dataset(
        {"rain": ("time", rain, mm), "reference_et": ("time", np.full(days.size, 20.0), mm)}, coords={"time": days}
    )


@pytest.fixture(scope="module")
def plain() -> runoff.Roof:
    layers = [
        runoff.Planting(canopy_storage_mm=0.0, mass_kg_per_m2=10.0),
        runoff.GrowingMedium(porosity=0.60, field_capacity=0.33, wilting_point=0.08, dry_density_kg_per_m3=800.0),
        runoff.DrainageBoard(height_mm=25.0, cup_storage_mm=4.0, cup_supply_fraction=0.5, mass_kg_per_m2=1.2),
    ]
    return runoff.Roof(
        area_m2=100.0, build_up=runoff.BuildUp(layers=layers), outlets=[runoff.Outlet(kind="round", diameter_mm=150.0)]
    )


CHOICES: dict[str, list[Any]] = {"medium.depth_mm": DEPTHS, "board.cup_storage_mm": CUPS}


def worked(depth: float, cups: float) -> tuple[float, float]:
    """Return retention and drained mass by the formulas above."""
    return min(1.0, (0.25 * depth + cups) / 30.0), 10.0 + 1.13 * depth + 1.2 + cups


class TestAKnownAnswer:
    def test_retention_and_mass_follow_the_formulas(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        found = runoff.size(plain, ten_days, {"retention": {"at_least": 0.5}}, CHOICES, members=0)
        by_hand = np.array([worked(*pair) for pair in itertools.product(DEPTHS, CUPS)])
        np.testing.assert_allclose(found["retention"], by_hand[:, 0], rtol=1e-12)
        np.testing.assert_allclose(found["drained_mass"], by_hand[:, 1], rtol=1e-12)

    @pytest.mark.parametrize("least", [0.4, 0.47, 0.55, 0.6, 0.69, 0.79])
    def test_the_lightest_that_brute_force_finds(self, plain: runoff.Roof, ten_days: xr.Dataset, least: float) -> None:
        found = runoff.size(plain, ten_days, {"retention": {"at_least": least}}, CHOICES, members=0)
        good = [pair for pair in itertools.product(DEPTHS, CUPS) if round(worked(*pair)[0], 9) >= least]
        lightest = min(good, key=lambda pair: worked(*pair)[1])
        chosen = found.isel(design=int(found["chosen"]))
        assert (float(chosen["medium.depth_mm"]), float(chosen["board.cup_storage_mm"])) == lightest
        assert int(found["meets_all"].sum()) == len(good)
        assert found.attrs["verdict"].startswith(f"{len(good)} of 33 candidates meet every target; the lightest is ")

    def test_margins_are_in_the_unit_of_the_figure(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        targets = {"retention": {"at_least": 0.5}, "drained_mass": {"at_most": 100.0}}
        found = runoff.size(plain, ten_days, targets, CHOICES, members=0)
        assert found["target"].to_numpy().tolist() == ["retention at least 0.5", "drained_mass at most 100"]
        by_hand = np.array([worked(*pair) for pair in itertools.product(DEPTHS, CUPS)])
        np.testing.assert_allclose(
            found["margin"].sel(target="retention at least 0.5"), by_hand[:, 0] - 0.5, atol=1e-12
        )
        np.testing.assert_allclose(
            found["margin"].sel(target="drained_mass at most 100"), 100 - by_hand[:, 1], rtol=1e-12
        )

    def test_when_no_candidate_meets_a_target_it_is_named_with_the_nearest(
        self, plain: runoff.Roof, ten_days: xr.Dataset
    ) -> None:
        # best of all is 80 mm with 4 mm cups: 24/30 = 0.8, 0.1 short of 0.9; its mass 10 + 90.4 + 1.2 + 4 = 105.6
        found = runoff.size(plain, ten_days, {"retention": {"at_least": 0.9}}, CHOICES, members=0)
        assert int(found["chosen"]) == -1
        assert found.attrs["verdict"] == (
            "None of 33 candidates meets every target: no candidate meets retention at least 90 %. Nearest: "
            "medium depth 80 mm, board cup storage 4 mm (105.6 kg/m2 drained), with retention 80.0 % instead of at least 90 %."
        )

    def test_targets_met_one_by_one_but_never_together(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        # 0.7 needs 21 mm, at the lightest 68 mm and 4 mm cups, 92.04 kg/m2
        targets = {
            "retention": {"at_least": 0.7},
            "drained_mass": {"at_most": 80.0},
            "build_up_depth": {"at_most": 500.0},
        }
        found = runoff.size(plain, ten_days, targets, CHOICES, members=0)
        assert int(found["chosen"]) == -1
        assert (
            "every target is met by some candidate, but never all together; in the way: retention at least 70 %, "
            "drained mass at most 80 kg/m2. Nearest: " in found.attrs["verdict"]
        )

    @pytest.mark.parametrize(
        ("target", "value", "words"),
        [
            (Target("retention", "at_least", 0.62), 0.589, "retention 58.9 % instead of at least 62 %"),
            # one digit more than a table shows would read as if it were met
            (Target("retention", "at_least", 0.62), 0.61997, "retention 61.997 % instead of at least 62 %"),
            (Target("drained_mass", "at_most", 100.0), 101.86, "drained mass 101.9 kg/m2 instead of at most 100 kg/m2"),
            (Target("dry_days", "at_most", 45.0), 50.0, "dry days 50.0 days/year instead of at most 45 days/year"),
            (Target("annual_capture_mm", "at_least", 500.0), 480.4, "annual capture 480 mm instead of at least 500 mm"),
            (Target("cost", "at_most", 40.0), 41.0, "cost 41.00 instead of at most 40"),
        ],
    )
    def test_a_missed_target_in_words(self, target: Target, value: float, words: str) -> None:
        assert target.missed_words(value) == words

    def test_the_table_of_a_sweep_has_words_and_units(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        choices = {"medium.depth_mm": [60.0, 80.0], "medium.field_capacity": [0.3], "board.cups_up": [True]}
        table = sweep_shown(runoff.sweep(plain, ten_days, choices))
        assert [head.replace("\n", " ") for head in table.head[:4]] == [
            "medium depth mm", "medium field capacity", "board cups up", "retention %",
        ]  # fmt: skip
        *_, first, _ = table.text().splitlines()
        assert first.split()[:3] == ["60", "0.3", "yes"]

    def test_prices_are_the_users(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        prices = {"medium.depth_mm": 0.5, "board": 9.0, "mat": 100.0}  # the roof has no mat, so it costs nothing
        found = runoff.size(plain, ten_days, {"cost": {"at_most": 40.0}}, CHOICES, prices=prices, members=0)
        by_hand = [0.5 * depth + 9.0 for depth, _ in itertools.product(DEPTHS, CUPS)]
        np.testing.assert_allclose(found["cost"], by_hand, rtol=1e-12)

    def test_repeats_bit_for_bit(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        first, second = (
            runoff.size(plain, ten_days, {"retention": {"at_least": 0.5}}, CHOICES, members=0) for _ in range(2)
        )
        xr.testing.assert_identical(first, second)

    def test_the_candidates_nothing_outdoes(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        found = runoff.size(plain, ten_days, {"retention": {"at_least": 0.5}}, CHOICES, members=0)
        pairs = [worked(*pair) for pair in itertools.product(DEPTHS, CUPS)]
        naive = [
            not any(r >= own_r and m <= own_m and (r > own_r or m < own_m) for r, m in rounded(pairs))
            for own_r, own_m in rounded(pairs)
        ]
        assert found["non_dominated"].to_numpy().tolist() == naive


def rounded(pairs: list[tuple[float, float]]) -> list[tuple[float, float]]:
    return [(round(r, 9), round(m, 9)) for r, m in pairs]


@pytest.mark.slow
@given(
    st.integers(1, 4).flatmap(
        lambda n: st.lists(st.lists(st.integers(0, 5), min_size=n, max_size=n), min_size=1, max_size=40)
    ),
    st.sampled_from([1, 3, 500]),
)
@settings(max_examples=300)
def test_non_dominated_equals_the_naive_check(rows: list[list[int]], at_once: int) -> None:
    """Small whole numbers, so that ties and equal candidates are frequent."""
    naive = [
        not any(
            all(a >= b for a, b in zip(other, own, strict=True)) and any(a > b for a, b in zip(other, own, strict=True))
            for other in rows
        )
        for own in rows
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(targets_module, "_AT_ONCE", at_once)
        assert non_dominated(np.array(rows, dtype=float).T).tolist() == naive


class TestHowSure:
    """The chosen candidate is told with the range it has when it is asked for by itself."""

    TARGETS: ClassVar[dict[str, dict[str, float]]] = {"retention": {"at_least": 0.4}, "drained_mass": {"at_most": 500}}

    @pytest.mark.slow
    def test_the_same_line_as_of_the_roof_by_itself(self, cups: runoff.Roof) -> None:
        years = runoff.open_sample().sel(time=slice("1991", "2010"))
        found = runoff.size(cups, years, self.TARGETS, {"medium.depth_mm": [60, 100]}, members=20)
        depth = [60, 100][int(found["chosen"])]
        alone = runoff.uncertainty(cups.replace({"medium.depth_mm": depth}), years, members=20, targets=self.TARGETS)
        assert found.attrs["how_sure"].startswith(runoff.first_line(alone).words())
        share = 100 * float(alone["probability"][0])
        assert f"retention at least 40 % in {share:.0f} %, drained mass at most 500" in found.attrs["how_sure"]

    def test_no_range_on_a_short_record_or_where_none_is_asked_for(
        self, cups: runoff.Roof, three_years: xr.Dataset
    ) -> None:
        short = runoff.size(cups, three_years, self.TARGETS, {"medium.depth_mm": [60]})
        assert short.attrs["how_sure"] == "No range is told: it needs 5 years of weather or more."
        none = runoff.size(cups, three_years, self.TARGETS, {"medium.depth_mm": [60]}, members=0)
        assert none.attrs["how_sure"] == ""


class TestBadInput:
    @pytest.mark.parametrize(
        ("targets", "message"),
        [
            ({"retention": {"at_least": 60.0}}, "targets: retention is a share of 0-1 and can never reach 60; did you mean 0.6?"),
            ({"rot_risk_days": {"at_most": -1.0}}, "targets: rot_risk_days can never be -1 or less"),
            (
                {"retention": {"at_least": 0.6, "at_most": 0.5}},
                "targets: retention cannot be at least 0.6 and at most 0.5; the two contradict each other",
            ),
            ({"retension": {"at_least": 0.5}}, 'targets: "retension" is not a known figure (did you mean "retention"?)'),
            (
                {"retention": 0.5},
                'targets: retention needs {"at_least": value} or {"at_most": value} (you wrote 0.5)',
            ),
            ({"retention": {"at_least": "half"}}, "targets: retention needs a plain number (you wrote {'at_least': 'half'})"),
            ({}, 'targets: none given; name at least one, for example {"retention": {"at_least": 0.5}}'),
            ({"cost": {"at_most": 40.0}}, "targets: cost needs prices=, none are built in; for example prices={'medium.depth_mm': 0.4}"),
        ],
    )  # fmt: skip
    def test_targets(self, plain: runoff.Roof, ten_days: xr.Dataset, targets: Any, message: str) -> None:
        with pytest.raises(SizingError, match=re.escape(message)):
            runoff.size(plain, ten_days, targets, CHOICES, members=0)

    def test_all_faults_of_the_targets_in_one_message(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        with pytest.raises(SizingError) as caught:
            runoff.size(
                plain, ten_days, {"retention": {"at_least": 2}, "dry_days": {"at_most": -3}}, CHOICES, members=0
            )
        assert "can never reach 2" in str(caught.value)
        assert "dry_days can never be -3 or less" in str(caught.value)

    def test_no_choices(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        message = 'sweep: no choices given; name at least one, for example {"medium.depth_mm": [60, 80, 100]}'
        with pytest.raises(SizingError, match=re.escape(message)):
            runoff.sweep(plain, ten_days, {})
        with pytest.raises(SizingError, match=r"^sweep: no values given for medium\.depth_mm$"):
            runoff.sweep(plain, ten_days, {"medium.depth_mm": []})

    def test_one_word_is_no_list_of_values(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        message = 'sweep: medium.material takes a list of values (given "pumice mix")'
        with pytest.raises(SizingError, match=re.escape(message)):
            runoff.sweep(plain, ten_days, {"medium.material": "pumice mix"})
        with pytest.raises(SizingError, match=re.escape("sweep: medium.depth_mm takes a list of values (given 80)")):
            runoff.sweep(plain, ten_days, {"medium.depth_mm": 80})  # type: ignore[dict-item]

    def test_an_unknown_material(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        message = 'material "pumice mixx" is not in the materials table (did you mean "pumice mix"?)'
        with pytest.raises(RoofError, match=re.escape(message)):
            runoff.sweep(plain, ten_days, {"medium.material": ["pumice mix", "pumice mixx"]})

    def test_an_unknown_property_and_a_value_out_of_range(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        with pytest.raises(RoofError, match=r'"medium\.depth" is not known'):
            runoff.sweep(plain, ten_days, {"medium.depth": [80]})
        with pytest.raises(RoofError, match=r"depth_mm must be more than 0 \(you wrote -80\)"):
            runoff.sweep(plain, ten_days, {"medium.depth_mm": [80, -80]})

    def test_a_sweep_too_large_for_memory(
        self, plain: runoff.Roof, ten_days: xr.Dataset, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(sweeping, "_free_memory_gb", lambda: 0.9)
        many = [40 + 0.01 * i for i in range(1000)]
        message = (
            r"^sweep: 1,000,000 designs need about \d+\.\d GB and 0\.9 GB are free; give fewer values, or split the "
            r"values of one property over several sweeps and write the figures of each to a file before the next$"
        )
        with pytest.raises(SizingError, match=message):
            runoff.sweep(plain, ten_days, {"medium.depth_mm": many, "medium.conductivity_mm_per_h": many})

    def test_weather_a_sweep_cannot_take(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        two = xr.concat([ten_days, ten_days], pd.Index(["a", "b"], name="site"))
        with pytest.raises(runoff.RunoffError, match="a sweep takes one site at a time, select one"):
            runoff.sweep(plain, two, CHOICES)
        hours = ten_days.isel(time=slice(0, 48)).assign_coords(time=pd.date_range("2001-01-01", periods=48, freq="h"))
        message = (
            "sweep: the weather has steps of 1 h, a daily record is needed; sum it to days with "
            "runoff.daily_totals(weather)"
        )
        with pytest.raises(runoff.RunoffError, match=re.escape(message)):
            runoff.sweep(plain, hours, CHOICES)

    def test_a_price_that_fits_nothing(self, plain: runoff.Roof, ten_days: xr.Dataset) -> None:
        with pytest.raises(SizingError, match=r'^prices: "medium\.dephts" is not a property of a layer; '):
            runoff.size(plain, ten_days, {"cost": {"at_most": 9}}, CHOICES, prices={"medium.dephts": 1.0})
        with pytest.raises(SizingError, match=r'^prices: "boards" is no layer \(did you mean "board"\?\)'):
            runoff.size(plain, ten_days, {"cost": {"at_most": 9}}, CHOICES, prices={"boards": 1.0})
