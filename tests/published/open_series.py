"""The two open 5-minute series by month, and Neubrandenburg by event: wetness at the start, runoff and peak, measured and ours.

``python -m tests.published.open_series`` writes `open_series_months.csv`, `series_faults.csv`, `neubrandenburg_events.csv`, `neubrandenburg_wetness.csv` and
`neubrandenburg_hydrographs.png` beside this file, from the folder of real data beside the checkout: figures derived from the series, which are
no part of the project. Runoff: copyright 2020-2022 Kompetenzzentrum Wasser Berlin gGmbH, MIT licence; temperatures and the rain of
Berlin-Dahlem: Deutscher Wetterdienst. Nothing is tuned: 80 mm of the default medium over an open board, as depths are not stated.
"""

from __future__ import annotations

import itertools
from pathlib import Path

import numpy as np
import pandas as pd
import xarray as xr

import runoff
from runoff import plots
from runoff.calibration import fit_roof
from runoff.weather.quality.two_gauges import compare_gauges
from tests.published import own_weather
from tests.published.hydrographs import draw
from tests.trials.fit_measured_roofs import described_roof, neubrandenburg

FOLDER = Path(__file__).parent
MONTHS, EVENTS = FOLDER / "open_series_months.csv", FOLDER / "neubrandenburg_events.csv"
FAULTS = FOLDER / "series_faults.csv"
WETNESS, PICTURE = FOLDER / "neubrandenburg_wetness.csv", FOLDER / "neubrandenburg_hydrographs.png"
#: Rain this many hours apart belongs to two events; smaller events than this say nothing (as in the notes on the series).
DRY_HOURS, LEAST_MM = 6.0, 2.0
#: An event of which a store without bypass sheds less than this: what left the roof all the same went past the medium.
NONE_MM = 0.05
CLASSES = (0.0, 0.15, 0.3, 0.5, 0.7, 0.9, 1.01)
_STEP_H = 5.0 / 60.0


def months(folder: Path) -> pd.DataFrame:
    """Return rain, and retention measured and ours, of every month of both series."""
    found = []
    for site, (weather, left) in (
        ("Berlin", own_weather.berlin(folder)),
        ("Neubrandenburg", own_weather.neubrandenburg(folder)),
    ):
        run = runoff.simulate(described_roof(100.0), weather)
        table = pd.DataFrame(
            {
                "rain": weather["rain"].sel(time=left["time"]).to_numpy(),
                "measured": left.to_numpy(),
                "ours": run["overflow"].squeeze().sel(time=left["time"]).to_numpy(),
            },
            index=left["time"].to_index(),
        )
        sums = table.groupby(table.index.strftime("%Y-%m")).sum()
        days = table.groupby(table.index.strftime("%Y-%m")).size()
        for month, one in sums.iterrows():
            found.append(
                {
                    "site": site,
                    "month": month,
                    "days": int(days[month]),
                    "rain_mm": round(one["rain"], 1),
                    "measured_percent": round(100.0 * (1.0 - one["measured"] / one["rain"])),
                    "ours_percent": round(100.0 * (1.0 - one["ours"] / one["rain"])),
                }
            )
    return pd.DataFrame(found)


def faults(folder: Path) -> pd.DataFrame:
    """Return what the checks of the package say of the series as their owners published them, and what was done about it."""
    berlin_weather, berlin_left = own_weather.berlin(folder)
    weather, left = own_weather.neubrandenburg(folder)
    # as the file has it: about half the runoff
    raw = left.to_series() * own_weather.NEUBRANDENBURG_SCALE
    rows = [
        ("Neubrandenburg", one, "runoff over 0.48")
        for one in _doubts(101.0, weather, raw)
        if "scale of the gauge" in one
    ]
    scaled = _doubts(101.0, weather, left.to_series())
    rows += [("Neubrandenburg, runoff over 0.48", one, "named, nothing changed") for one in scaled]
    june = "June 2019 left out: a storm of 48 mm at the gauge missed the roof"
    rows += [
        ("Berlin", one, june if "No reading" in one else "named, nothing changed")
        for one in _doubts(194.0, berlin_weather, berlin_left.to_series())
    ]
    ohare, midway = (
        own_weather.chicago(name, folder).sel(time=slice("2007-08", None)) for name in ("O'Hare", "Midway")
    )
    both = compare_gauges(ohare, midway, names=("O'Hare", "Midway")).check()
    rows.append(
        (
            "Chicago, two gauges",
            both.found,
            "rain never averaged: ours run under each gauge, both rows shown; the row that counts is the mean of the two results",
        )
    )
    return pd.DataFrame(rows, columns=["series", "what_the_checks_say", "done"])


def _doubts(area_m2: float, weather: xr.Dataset, left: pd.Series) -> list[str]:
    """Return the doubts of a fit about its record: scale, part, months, gauges; not those about the fitted values."""
    fit = fit_roof(described_roof(area_m2), weather, left.rename_axis("date"), parameters=["planting.crop_coefficient"])
    about = (
        "scale of the gauge",
        "wrong there",
        "No reading at all",
        "Two rain gauges",
        "differ the same way",
        "different hours",
    )
    return [one for one in fit.doubts if any(words in one for words in about)]


def minutes(folder: Path) -> pd.DataFrame:
    """Return rain, runoff measured, ours and of a store without bypass (mm in 5 minutes), and ours' wetness before each step."""
    weather, climate, left = neubrandenburg(folder)
    weather["rain"] = weather["rain"].where(weather["rain"] <= 9.5, 0.0)  # the fault of the gauge of 2015-05-31
    roof = described_roof(101.0)
    runs = [
        runoff.simulate(one, weather, climate=climate).squeeze()
        for one in (roof, roof.replace({"medium.bypass_fraction": 0.0}))
    ]
    lowest, highest = _limits(roof)
    wet = ((runs[0]["medium_water"] - lowest) / (highest - lowest)).clip(0.0, 1.0)
    return pd.DataFrame(
        {
            "rain": weather["rain"].to_numpy(),
            "measured": left.reindex(weather["time"].to_index()).to_numpy(),
            "ours": runs[0]["overflow"].to_numpy(),
            "no_bypass": runs[1]["overflow"].to_numpy(),
            "wetness": np.concatenate([[1.0], wet.to_numpy()[:-1]]),
        },
        index=weather["time"].to_index(),
    )


def _limits(roof: runoff.Roof) -> tuple[float, float]:
    """Return the water of the medium at the wilting point and at field capacity, mm."""
    medium = roof.build_up.layer("medium")
    return medium.depth_mm * medium.wilting_point, medium.depth_mm * medium.field_capacity


def events(table: pd.DataFrame) -> pd.DataFrame:
    """Return one row an event of 2 mm or more: rain, wetness at the start, runoff and peak (mm/h), measured and ours."""
    wet = np.flatnonzero(table["rain"].to_numpy() > 0.0)
    breaks = np.flatnonzero(np.diff(wet) * _STEP_H > DRY_HOURS)
    firsts, lasts = wet[np.concatenate([[0], breaks + 1])], wet[np.concatenate([breaks, [wet.size - 1]])]
    ends = np.append(firsts[1:], len(table))  # late water belongs to the event before
    found = []
    for first, last, end in zip(firsts, lasts, ends, strict=True):
        one = table.iloc[first : min(end, last + int(48 / _STEP_H))]
        if one["rain"].sum() < LEAST_MM or one["measured"].isna().any():
            continue
        found.append(
            {
                "start": one.index[0].strftime("%Y-%m-%d %H:%M"),
                "rain_mm": one["rain"].sum(),
                "start_wetness": one["wetness"].iloc[0],
                "measured_mm": one["measured"].sum(),
                "ours_mm": one["ours"].sum(),
                "no_bypass_mm": one["no_bypass"].sum(),
                "measured_peak_mm_h": one["measured"].max() / _STEP_H,
                "ours_peak_mm_h": one["ours"].max() / _STEP_H,
            }
        )
    return pd.DataFrame(found).round(2)


def by_wetness(found: pd.DataFrame) -> pd.DataFrame:
    """Return the share of the rain that left, of events in which a store without bypass sheds none, by wetness at the start."""
    dry = found[found["no_bypass_mm"] < NONE_MM]
    rows = []
    for low, high in itertools.pairwise(CLASSES):
        some = dry[(dry["start_wetness"] >= low) & (dry["start_wetness"] < high)]
        if len(some):
            rain = some["rain_mm"].sum()
            rows.append(
                {
                    "start_wetness": f"{low:g}-{min(high, 1.0):g}",
                    "events": len(some),
                    "rain_mm": round(rain, 1),
                    "measured_share": round(some["measured_mm"].sum() / rain, 2),
                    "ours_share": round(some["ours_mm"].sum() / rain, 2),
                }
            )
    return pd.DataFrame(rows)


def hours(table: pd.DataFrame, found: pd.DataFrame) -> pd.DataFrame:
    """Return hourly rain and runoff of the event with most measured runoff in either half of the year."""
    month = pd.DatetimeIndex(found["start"]).month
    pieces = []
    for name, half in (("summer", (month >= 4) & (month <= 9)), ("winter", (month < 4) | (month > 9))):
        start = pd.Timestamp(found[half].sort_values("measured_mm")["start"].iloc[-1]).floor("h")
        piece = table.loc[start : start + pd.Timedelta("47h55min"), ["rain", "measured", "ours"]].resample("h").sum()
        piece.insert(0, "event", name)
        pieces.append(piece.round(3))
    return pd.concat(pieces).rename_axis("hour").reset_index()


def peaks_told(found: pd.DataFrame) -> str:
    """Say how ours' peaks compare where both roofs shed something that a gauge sees."""
    both = found[(found["measured_peak_mm_h"] >= 1.0) & (found["ours_peak_mm_h"] > 0.0)]
    ratio = both["ours_peak_mm_h"] / both["measured_peak_mm_h"]
    low, middle, high = np.quantile(ratio, (0.25, 0.5, 0.75))
    return (
        f"Over {len(both)} events with a measured peak of 1 mm/h or more ours is {middle:.2f} of the measured one "
        f"(median; quartiles {low:.2f} to {high:.2f})."
    )


def pages() -> list[str]:
    """Return the sections of the page on measured roofs, from the committed tables."""
    found = pd.read_csv(EVENTS)
    return [
        "",
        "## The open series by month",
        "",
        "Retention, percent. Berlin has the rain of another gauge of the city (June 2019, when a storm missed the roof, left out); Neubrandenburg "
        "its own rain, its runoff over 0.48. A month carries water over from the one before: single months scatter more than seasons.",
        "",
        *_markdown(pd.read_csv(MONTHS, dtype=str)),
        "",
        "## Faults of the series, as the checks name them",
        "",
        *_markdown(pd.read_csv(FAULTS, dtype=str)),
        "",
        "## Neubrandenburg by event",
        "",
        f"{len(found)} events of {LEAST_MM:g} mm or more, {DRY_HOURS:g} dry hours apart. {peaks_told(found)}",
        "",
        "What left the roof where a store without bypass sheds none, by ours' wetness of the medium at the start (0 wilting point, 1 field capacity):",
        "",
        *_markdown(pd.read_csv(WETNESS, dtype=str)),
        "",
        *_markdown(pd.read_csv(EVENTS, dtype=str)),
    ]


def _markdown(table: pd.DataFrame) -> list[str]:
    head = [name.replace("_", " ") for name in table.columns]
    rows = ["| " + " | ".join(map(str, row)) + " |" for row in table.fillna("").to_numpy()]
    return ["| " + " | ".join(head) + " |", "|" + "---|" * len(head), *rows]


def main(folder: Path) -> None:
    """Write the three tables and the picture of two events."""
    table = minutes(folder)
    found = events(table)
    months(folder).to_csv(MONTHS, index=False, lineterminator="\n")
    faults(folder).to_csv(FAULTS, index=False, lineterminator="\n")
    found.to_csv(EVENTS, index=False, lineterminator="\n")
    by_wetness(found).to_csv(WETNESS, index=False, lineterminator="\n")
    plots.save(draw(hours(table, found)), PICTURE)  # the series itself stays where it is


if __name__ == "__main__":
    main(FOLDER.parents[2] / "shared" / "data")
