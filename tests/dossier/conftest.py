"""The dossier of the sample and a quick one of a few invented years, each written once for all tests here and made again once."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import runoff
from runoff.dossier import verifying, write_dossier
from runoff.dossier.masking import masked
from runoff.dossier.records import read_record
from runoff.sample_files import sample_folder


class Page(NamedTuple):
    """The marked numbers of a page, each with its text, and the record inside."""

    numbers: list[tuple[dict[str, str], str]]
    record: dict[str, Any]


def page_of(path: Path) -> Page:
    page = masked(path.read_text(encoding="utf-8"), str(path))
    marks = [
        (
            {"value": one.value, "data-figure": one.figure, "data-shown": one.unit, "data-digits": str(one.digits)},
            one.text,
        )
        for one in page.marks
    ]
    return Page(marks, read_record(page.record, str(path)))


@dataclass(frozen=True)
class Written:
    """A dossier on disk, with what it came from."""

    path: Path
    figures: xr.Dataset

    @property
    def text(self) -> str:
        return self.path.read_text(encoding="utf-8")

    @property
    def page(self) -> Page:
        return page_of(self.path)


def write(path: Path, roof=None, weather=None, **options) -> Written:
    figures = write_dossier(
        roof or runoff.open_sample_roof("cups"), weather if weather is not None else years(8), path, **options
    )
    return Written(path, figures)


def years(count: int, *, temperature: bool = True) -> xr.Dataset:
    """Return the first years of the sample; without temperature, reference evapotranspiration is given."""
    weather = runoff.open_sample().sel(time=slice("1991", str(1990 + count)))
    return weather if temperature else weather[["rain", "reference_et"]]


@pytest.fixture(scope="session")
def sample(tmp_path_factory) -> Written:
    folder = tmp_path_factory.mktemp("dossier")
    return write(
        folder / "sample.html",
        weather=runoff.open_sample(),
        storms=sample_folder() / "ostrey_depth_duration.csv",
        applicant="Ostrey allotment society",
    )


@pytest.fixture(scope="session")
def quick(tmp_path_factory) -> Written:
    return write(tmp_path_factory.mktemp("quick") / "quick.html", members=20)


_MADE_AGAIN: dict[str, Any] = {}
_make_again = verifying.remake


def made_again(record: dict[str, Any]) -> Any:
    """Make a page again once for all records that rest on the same input: the check itself is what is tried."""
    apart = {name: part for name, part in record.items() if name not in ("figures", "units", "checksums")}
    if "weather" in record:
        apart["weather"] = {**record["weather"], "series_sha256": ""}
    key = json.dumps(apart, sort_keys=True)
    if key not in _MADE_AGAIN:
        _MADE_AGAIN[key] = _make_again(record)
    return _MADE_AGAIN[key]


@pytest.fixture
def remade_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Use `made_again` for the time of a test."""
    monkeypatch.setattr(verifying, "remake", made_again)


def steady_weather(count: int, *, rain_mm: float = 10.0, every: int = 5, et_mm: float = 2.0) -> xr.Dataset:
    """Return weather so regular that sums can be formed by hand: the same rain every few days, the same demand daily."""
    time = pd.date_range("2001-01-01", f"{2000 + count}-12-31", freq="D")
    rain = np.where(np.arange(time.size) % every == 0, rain_mm, 0.0)
    return xr.Dataset(
        {"rain": ("time", rain, {"units": "mm"}), "reference_et": ("time", np.full(time.size, et_mm), {"units": "mm"})},
        coords={"time": time},
    )
