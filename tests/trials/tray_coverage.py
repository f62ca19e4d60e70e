"""How often the ranges of a tray test hold the truth, and what is noticed when something goes wrong. Run by hand.

    python -m tests.trials.tray_coverage [LOGS]

Writes ``tray_coverage_result.md`` beside itself. Everything in it is invented: trays with known hidden values are weighed
with errors of 5 to 50 g, new each day or hanging together, on 30 to 90 days.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd

from runoff.calibration import TrayFit, fit_tray
from runoff.calibration.invented_weighings import InventedTray, invented_tray
from runoff.errors import RunoffError

FITTED = ("wilting_point", "field_capacity", "crop_coefficient")
ERRORS_G = (5.0, 10.0, 20.0, 35.0, 50.0)
TOGETHER = {"new each day": 0.0, "together, 0.5 from day to day": 0.5, "together, 0.8 from day to day": 0.8}


def drawn_tray(seed: int, *, error_g: float, together: float, days: int | None = None, **given: float) -> InventedTray:
    """Return a tray with values, length and weather drawn from a seed."""
    rng = np.random.default_rng(seed)
    days = days or int(rng.choice([30, 45, 60, 90]))
    hidden = {
        "wilting_point": rng.uniform(0.04, 0.10),
        "field_capacity": rng.uniform(0.28, 0.42),
        "crop_coefficient": rng.uniform(0.6, 1.2),
    } | given
    reference_et = np.clip(3.5 + np.sin(np.arange(days) / 9.0) + rng.normal(0.0, 0.8, days), 0.5, 7.0)
    return invented_tray(
        reference_et, hidden=hidden, depth_mm=float(rng.choice([60.0, 80.0, 100.0])), error_g=error_g, together=together,
        watering={day: 60.0 for day in range(25, days, 25)}, left_out=0.15, seed=seed,
    )  # fmt: skip


def fitted(tray: InventedTray, days: pd.DataFrame | None = None) -> TrayFit:
    """Return the fit of a tray."""
    table = tray.days if days is None else days
    return fit_tray(table, tray.depth_mm, area_m2=tray.area_m2, empty_kg=tray.empty_kg)


def held(seed: int, **how: float) -> tuple[dict[str, bool], dict[str, float], bool]:
    """Return per value whether its range holds the truth, how wide the range is, and whether doubts were raised."""
    tray = drawn_tray(seed, **how)
    fit = fitted(tray)
    inside, width = {}, {}
    for name in FITTED:
        row = fit.table.loc[name]
        inside[name] = bool(row["low"] <= tray.hidden[name] <= row["high"])
        width[name] = float((row["high"] - row["low"]) / tray.hidden[name])
    return inside, width, bool(fit.doubts)


# --- things that go wrong --------------------------------------------------------------------------------------


def missing_week(tray: InventedTray) -> pd.DataFrame:
    """Leave out a week of weighings."""
    days = tray.days.copy()
    days.loc[days.index[10:17], "weight_kg"] = np.nan
    return days


def spill(tray: InventedTray) -> pd.DataFrame:
    """Lose a kilogram of medium on the twelfth day."""
    days = tray.days.copy()
    days.loc[days.index[12:], "weight_kg"] -= 1.0
    return days


def scale_jump(tray: InventedTray) -> pd.DataFrame:
    """Set the scale up by half a kilogram on the fifteenth day."""
    days = tray.days.copy()
    days.loc[days.index[15:], "weight_kg"] += 0.5
    return days


def slip_of_the_pen(tray: InventedTray) -> pd.DataFrame:
    """Write one mass a kilogram too high."""
    days = tray.days.copy()
    seen = days.index[days["weight_kg"].notna()]
    days.loc[seen[9], "weight_kg"] += 1.0
    return days


def never_dries(tray: InventedTray) -> pd.DataFrame:
    """Water it every day."""
    wet = invented_tray(
        tray.days["reference_et"].to_numpy(), hidden=tray.hidden, depth_mm=tray.depth_mm,
        watering={day: 20.0 for day in range(len(tray.days))}, error_g=20.0, seed=7,
    )  # fmt: skip
    return wet.days


def as_it_was(tray: InventedTray) -> pd.DataFrame:
    """Return the log as it is."""
    return tray.days


FAULTS = {
    "nothing": (as_it_was, {}, ""),
    "a missing week": (missing_week, {}, "No reading from"),
    "a spill of 1 kg": (spill, {}, "spill"),
    "the scale set up by 0.5 kg": (scale_jump, {}, "though nothing was given"),
    "one mass 1 kg too high": (slip_of_the_pen, {}, "a slip in writing"),
    "two-stage drying, 0.5": (as_it_was, {"depletion_fraction": 0.5}, "in two stages"),
    "two-stage drying, 0.3": (as_it_was, {"depletion_fraction": 0.3}, "in two stages"),
    "never dries": (never_dries, {}, "never dried"),
}


def noticed(fault: str, seed: int, error_g: float, together: float) -> str:
    """Return what a log with a fault leads to: ``named``, ``other words`` or ``nothing``."""
    spoil, given, words = FAULTS[fault]
    tray = drawn_tray(seed, error_g=error_g, together=together, days=45, **given)
    try:
        fit = fitted(tray, spoil(tray))
    except RunoffError as error:
        return "named" if words and words in str(error) else "other words"
    said = " ".join([*fit.doubts, *fit.advice])
    if words and words in said:
        return "named"
    return "other words" if fit.doubts else "nothing"


def main(logs: int = 200) -> None:
    """Run the trial and write its page."""
    lines = [
        "# Trays on the scales: how often the ranges hold, and what is noticed",
        "",
        f"Invented trays with known hidden values, made by `python -m tests.trials.tray_coverage {logs}`. Weighing errors of 5, 10, 20, 35",
        "and 50 g in turn, on 0.25 m2; 30 to 90 days, 15 % of them not weighed, watered every 25 days. The ranges claim 90 %.",
        "",
        "| errors | logs | wilting point | field capacity | crop coefficient | mean width, share of the value | doubts raised |",
        "|---|---|---|---|---|---|---|",
    ]
    for words, together in TOGETHER.items():
        rows = [held(5000 + k, error_g=ERRORS_G[k % 5], together=together) for k in range(logs)]
        share = {name: np.mean([row[0][name] for row in rows]) for name in FITTED}
        width = {name: np.mean([row[1][name] for row in rows]) for name in FITTED}
        doubts = sum(row[2] for row in rows)
        cells = [f"{100 * share[name]:.1f} %" for name in FITTED]
        lines.append(
            f"| {words} | {logs} | {' | '.join(cells)} | {', '.join(f'{width[name]:.3f}' for name in FITTED)} | {doubts} |"
        )
        print(lines[-1], flush=True)
    tray = drawn_tray(1, error_g=20.0, together=0.0, days=90)
    began = time.perf_counter()
    fitted(tray)
    lines += ["", f"A 90-day fit takes {time.perf_counter() - began:.2f} s on the machine that wrote this page.", ""]
    lines += ["| what went wrong (45 days, 5 to 50 g) | named | other words | nothing said |", "|---|---|---|---|"]
    for fault in FAULTS:
        found = [noticed(fault, 9000 + k, ERRORS_G[k % 5], (0.0, 0.5)[k % 2]) for k in range(logs // 4)]
        lines.append(
            f"| {fault} | {' | '.join(str(found.count(one)) for one in ('named', 'other words', 'nothing'))} |"
        )
        print(lines[-1], flush=True)
    path = Path(__file__).with_name("tray_coverage_result.md")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
