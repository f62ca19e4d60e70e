"""Volumes, releases and parts of a whole roof, by hand; and that no document, desk, command or figure forms them anew."""

import ast
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.findings.whole_roof import (
    parts_of_capture,
    release_per_hectare,
    retention_of,
    so_far,
    volume_m3,
    wet_strip_m,
    worst_year_of,
)

ROOT = Path(runoff.__file__).parent
#: Rooms that show figures and form none.
SHOWING = ("dossier", "desk", "cli", "plots")


def test_volumes_and_releases_by_hand() -> None:
    """25 mm on 120 m2 are 3,000 L; 6 L/s from 500 m2 are 120 L/s from a hectare, which is 20 times as large."""
    assert volume_m3(25.0, 120.0) == 3.0
    assert release_per_hectare(6.0, 500.0) == pytest.approx(120.0)


def test_sums_so_far_by_hand() -> None:
    """Nothing, then 10 mm of which 4 leave, then 2 more leave: 10 fell, 6 and then 4 are held, 60 and 40 %."""
    found = so_far([0.0, 10.0, 0.0], [0.0, 4.0, 2.0])
    assert found.rain_mm.tolist() == [0.0, 10.0, 10.0] and found.held_mm.tolist() == [0.0, 6.0, 4.0]
    assert np.isnan(found.retention[0]) and found.retention[1:] == pytest.approx([0.6, 0.4])


def test_the_parts_of_a_capture_add_up() -> None:
    """By hand: 400 mm kept on 0.85 x 120 = 102 m2 are 40.8 m3; of 42 m3 kept by the roof the rest keeps 1.2."""
    roof = runoff.open_sample_roof("cups")
    assert (roof.area_m2, roof.planted_fraction) == (120.0, 0.85)
    facts = xr.Dataset({"annual_capture_mm": 400.0, "annual_capture_m3": 42.0})
    parts = parts_of_capture(roof, facts)
    assert float(parts["planted_annual_capture_m3"]) == pytest.approx(40.8)
    assert float(parts["other_annual_capture_m3"]) == pytest.approx(1.2)
    whole = parts_of_capture(roof.model_copy(update={"planted_fraction": 1.0}), facts)
    assert float(whole["other_annual_capture_m3"]) == 0.0


def test_the_worst_year_is_a_whole_one() -> None:
    """By hand: the retentions are 0.1, 0.5, 0.4, 0.2; the first and the last year may be cut, so 2003 is the worst."""
    totals = xr.Dataset(
        {"rain": ("year", [100.0, 1000.0, 800.0, 50.0]), "overflow": ("year", [90.0, 500.0, 480.0, 40.0])},
        coords={"year": [2001, 2002, 2003, 2004]},
    )
    year, found = worst_year_of(totals)
    assert year == 2003
    assert float(found["worst_year_retention"]) == pytest.approx(0.4)
    assert float(found["worst_year_capture_mm"]) == pytest.approx(320.0)


def test_retention_of_no_rain_is_missing() -> None:
    np.testing.assert_allclose(retention_of([10.0, 0.0], [4.0, 0.0]), [0.6, np.nan])


def test_the_wet_strip_is_the_mean_of_wet_days_alone() -> None:
    """By hand: on the two wet days 0.1 and 0.3 of a 10 m way are wet, 2 m in the mean."""
    run = xr.Dataset(
        {"waterlogged": ("time", [False, True, True]), "waterlogged_share": ("time", [0.05, 0.1, 0.3])},
        coords={"time": pd.date_range("2001-01-01", periods=3)},
    )
    assert wet_strip_m(run, 10.0) == pytest.approx(2.0)
    assert wet_strip_m(run.isel(time=slice(1)), 10.0) == 0.0


def formed_anew(tree: ast.AST) -> list[int]:
    """Return the lines that turn a depth into a volume, or a flow into one per hectare."""

    def is_a(node: ast.expr, value: float) -> bool:
        return isinstance(node, ast.Constant) and node.value == value and isinstance(node.value, float)

    return [
        node.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.BinOp)
        and ((isinstance(node.op, ast.Div) and is_a(node.right, 1000.0)) or is_a(node.right, 1e4) or is_a(node.left, 1e4))
    ]  # fmt: skip


def test_rooms_that_show_figures_form_none() -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line}"
        for room in SHOWING
        for path in sorted((ROOT / room).rglob("*.py"))
        for line in formed_anew(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert not found, "a figure of the whole roof belongs into runoff.findings.whole_roof"


def test_the_finder_sees_what_it_should() -> None:
    tree = ast.parse("a = depth * area / 1000.0\nb = 1e4 * q / area\nc = size / 1000\nd = 1000.0 * fall")
    assert formed_anew(tree) == [1, 2]


def test_merging_never_lets_one_part_win_in_silence() -> None:
    """`override` would keep the first of two figures of one name. The lesson joins a run cut in two, which is no merging."""
    found = {
        path.relative_to(ROOT).as_posix()
        for path in ROOT.rglob("*.py")
        if 'compat="override"' in path.read_text(encoding="utf-8")
    }
    assert found <= {"teaching/years.py"}


def test_no_variable_of_a_result_carries_the_standard_name_of_another(tmp_path: Path) -> None:
    """Rain once, temperature once; what runs off is `runoff_amount` on the planted, bare and other surface; soil water has none."""
    run = runoff.simulate(runoff.open_sample_roof("cups"), runoff.open_sample().sel(time="2001"))
    names: dict[str, set[str]] = {}
    for name, variable in run.variables.items():
        if standard := variable.attrs.get("standard_name"):
            names.setdefault(standard, set()).add(str(name))
    assert names.pop("runoff_amount") == {"overflow", "roof_overflow", "bare_overflow", "other_overflow"}
    assert {standard: one for standard, one in names.items() if len(one) > 1} == {}
    assert not any("standard_name" in run[name].attrs for name in ("medium_water", "discharge", "free_water", "dry"))
    path = tmp_path / "run.nc"
    run.to_netcdf(path)
    with xr.open_dataset(path) as stored:
        for name in run.variables:
            assert stored[name].attrs.get("standard_name") == run[name].attrs.get("standard_name"), name
