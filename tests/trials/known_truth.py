"""A world whose truth is known: how often does the printed range hold it? Run by hand.

    python -m tests.trials.known_truth [REPEATS]

Each repeat draws a world: true materials (from the ranges of the materials table), evapotranspiration, true rain catch and an error of the model for six measured
roofs and for a new one. The error of the model is formed from the six alone, as the package forms it; the range of the new roof comes from
`runoff.uncertainty` on twenty years of its gauge. The truth is the roof's retention over a hundred years of the same invented climate, or in
one year of it. Writes ``known_truth_result.md`` beside itself.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np
import xarray as xr

import runoff
from runoff.simulation import RunRules
from runoff.sizing import likely_ranges
from runoff.sizing.evaporation_doubt import weathers_by_method
from runoff.sizing.likely_ranges import CATCH, draw_roofs, ranges_of
from runoff.sizing.measured_against import JudgedRoof, ModelError
from runoff.sizing.sweeping import totals_of_designs
from runoff.weather.climates.invented import invented_days

SITES, YEARS, LONG_YEARS, POOL = 6, 20, 100, 210
MEMBERS, RESAMPLES = 40, 30
MODEL_SD = 0.06  # of a share of the rain; the judged roofs show 0.07 with materials and catch in it


def weather(seed: int, years: int) -> xr.Dataset:
    """Return a record of the invented climate with its reference evapotranspiration."""
    made = invented_days(years=years, seed=seed)
    return made if "reference_et" in made else made.assign(reference_et=runoff.reference_et(made))


class Pool:
    """True roofs to draw from: rain and overflow of a hundred years, under three catches."""

    def __init__(self, roof: runoff.Roof) -> None:
        records = list(weathers_by_method(weather(99, LONG_YEARS), RunRules()).values())
        roofs, _ = draw_roofs(roof, ranges_of(roof), members=POOL, seed=77)
        # the first as described, by the method the data lead to; the true ones dealt out over the methods that the data allow
        hands = [([roof], records[0]), *((roofs[i :: len(records)], one) for i, one in enumerate(records))]
        self.catches = np.array([CATCH[0], 1.0, CATCH[1]])
        overflow, rain = [], []
        for factor in self.catches:
            runs = [
                totals_of_designs(some, one.assign(rain=(one["rain"] * factor).assign_attrs(units="mm")))
                for some, one in hands
            ]
            overflow.append(np.concatenate([one["overflow"].transpose("design", "year") for one in runs]))
            rain.append(runs[0]["rain"].to_numpy())
        self.overflow, self.rain = np.array(overflow), np.array(rain)

    def kept(self, design: int, catch: float, year: int | None = None) -> float:
        """Return the retention of a roof (0: as described) under a catch, over all years or in one."""
        years = slice(None) if year is None else slice(year, year + 1)
        each = [1.0 - self.overflow[i, design, years].sum() / self.rain[i, years].sum() for i in range(3)]
        return float(np.interp(catch, self.catches, each))


def repeats(count: int, *, model_sd: float = MODEL_SD, first_seed: int = 1) -> dict[str, np.ndarray]:
    """Return for every world whether the range holds the long-term truth, whether four of five does, and that of one year."""
    roof = runoff.open_sample_roof("cups")
    pool = Pool(roof)
    rng = np.random.default_rng(first_seed)
    everything = [
        pool.kept(int(i), float(c))
        for i, c in zip(rng.integers(1, POOL + 1, 400), rng.uniform(*CATCH, 400), strict=True)
    ]
    predicted = 100.0 * float(np.std(everything))
    found: dict[str, list[float]] = {name: [] for name in ("long", "four", "year", "width")}
    own = likely_ranges.model_error
    try:
        for world in range(count):
            true = rng.permutation(np.arange(1, POOL + 1))[: SITES + 1]
            catch, off = rng.uniform(*CATCH, SITES + 1), rng.normal(0.0, model_sd, SITES + 1)
            judged = [
                JudgedRoof(site=str(i), roof=str(i), ours=100.0 * pool.kept(0, 1.0), predicted_sd=predicted,
                           measured=100.0 * float(np.clip(pool.kept(int(true[i]), catch[i]) - off[i], 0.0, 1.0)))
                for i in range(SITES)
            ]  # fmt: skip
            error = ModelError.of(judged)
            likely_ranges.model_error = lambda error=error: error  # type: ignore[assignment]
            made = runoff.uncertainty(
                roof, weather(1000 + world, YEARS), members=MEMBERS, resamples=RESAMPLES, seed=world + 1
            )
            low, four, _, high = made["retention"].sel(source="together").to_numpy()
            truth = pool.kept(int(true[-1]), catch[-1]) - off[-1]
            one = pool.kept(int(true[-1]), catch[-1], int(rng.integers(LONG_YEARS))) - off[-1]
            year = made["single_year_retention"].to_numpy()
            found["long"].append(low <= truth <= high)
            found["four"].append(truth >= four)
            found["year"].append(year[0] <= one <= year[-1])
            found["width"].append(high - low)
    finally:
        likely_ranges.model_error = own
    return {name: np.array(values, dtype=float) for name, values in found.items()}


def main(count: int) -> None:
    """Run the worlds and write the page."""
    began = time.perf_counter()
    lines = [
        "# A world whose truth is known",
        "",
        f"Made by `python -m tests.trials.known_truth {count}`. {count} worlds: true materials, evapotranspiration, rain catch and error of the model drawn for {SITES}",
        f"measured roofs and a new one; the new roof's range by `runoff.uncertainty` from {YEARS} years of its gauge ({MEMBERS} members, {RESAMPLES} resamples).",
        "",
        "| error of the model, points | 5 to 95 % holds the long-term truth | truth above what four of five exceed | 5 to 95 % of a single year holds it | mean width, points |",
        "|---|---|---|---|---|",
    ]
    for sd, worlds in ((MODEL_SD, count), (0.0, max(1, count // 4))):
        some = repeats(worlds, model_sd=sd)
        shares = [f"{100 * some[name].mean():.0f} %" for name in ("long", "four", "year")]
        lines.append(f"| {100 * sd:.0f} ({worlds} worlds) | {' | '.join(shares)} | {100 * some['width'].mean():.0f} |")
        print(lines[-1], f"{time.perf_counter() - began:.0f} s", flush=True)
    error = 100.0 * np.sqrt(0.9 * 0.1 / count)
    lines += ["", f"Wanted: 90, 80 and 90 %. Standard error of a 90 %: {error:.1f} points.", ""]
    Path(__file__).with_name("known_truth_result.md").write_text("\n".join(lines), encoding="utf-8")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
