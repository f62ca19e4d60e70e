"""The sun, vapour and evapotranspiration against FAO-56 in both editions, a second set, a text book and libraries."""

import csv
import functools
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
import xarray as xr

from runoff.quantities import label
from runoff.weather.evaporation import formulas, sun
from runoff.weather.evaporation.evapotranspiration import reference_et
from tests.published.cases import FOLDER, each_row, hold, inputs_of, numbers, read_cases

COMMON_YEAR = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
FIFTEENTHS = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349])  # J of the 15th, FAO-56 Tab. 2.5
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
WITH_MISPRINTS = ("V", "V+R", "R", "T+R", "L+R", "misprint")


def one_day(date: str, latitude: float, **values: float) -> xr.Dataset:
    """A record of one day, labelled; its wind is that at 2 m, as the worked examples give it."""
    at_2m = {"height_m": 2.0}
    data = {name: ("time", [value], at_2m if name == "wind_speed" else {}) for name, value in values.items()}
    return label(xr.Dataset(data, coords={"time": pd.to_datetime([date]), "lat": latitude}))


# --- single formulas


def black_body(temperature_c: float, kelvin: float = formulas.KELVIN_1998) -> float:
    """Net long-wave under a clear sky in air without vapour is 0.34 of the black body (FAO-56 Eq. 39)."""
    return formulas.net_longwave(temperature_c, temperature_c, 0.0, 1.0, 1.0, kelvin) / 0.34


def net_shortwave(solar: float) -> float:
    """Net radiation and net long-wave of any day together (FAO-56 Eq. 40)."""
    day = {"tmin_c": 5.0, "tmax_c": 15.0, "vapour_pressure": 1.0, "solar": solar, "clear_sky": 2.0 * solar}
    return formulas.net_radiation(**day) + formulas.net_longwave(**day)


def sunset_products(day_of_year: float, latitude_deg: float, part: Callable[[float], float]) -> float:
    """Product of the sines or cosines of latitude and declination (FAO-56 Ex. 8)."""
    return part(np.radians(latitude_deg)) * part(sun.declination(day_of_year))


def hargreaves_of_coefficient(coefficient: float, **day: float) -> float:
    """Hargreaves-Samani as 0.0135 k (Ra / 2.45) sqrt(TD) (T + 17.8) with another k than the 0.0023 / 0.0135 of 1985."""
    return formulas.hargreaves_samani_1985(**day) * 0.0135 * coefficient / 0.0023


def priestley_taylor_of_latent_heat(latent_heat: float, **day: float) -> float:
    """Priestley-Taylor with another latent heat than 2.45 MJ/kg."""
    return formulas.priestley_taylor_1972(**day) * formulas.LATENT_HEAT_MJ_PER_KG / latent_heat


OWN = {
    "cosines": functools.partial(sunset_products, part=np.cos),
    "sines": functools.partial(sunset_products, part=np.sin),
    "radiation_mm": lambda factor, **day: factor * sun.extraterrestrial_radiation(**day),
    "vapour_pressure_of_mean_temperature": lambda tmin_c, tmax_c, humidity: (
        humidity * formulas.saturation_vapour_pressure((tmin_c + tmax_c) / 2.0)
    ),
    "hargreaves_of_coefficient": hargreaves_of_coefficient,
    "priestley_taylor_of_latent_heat": priestley_taylor_of_latent_heat,
    "psychrometric_at": lambda elevation_m: formulas.psychrometric_constant(formulas.air_pressure(elevation_m)),
    "black_body": black_body,
    "net_shortwave": net_shortwave,
    "mm_per_day": lambda radiation: radiation / formulas.LATENT_HEAT_MJ_PER_KG,
}


@each_row([*read_cases("fao56_formulas.csv", statuses=WITH_MISPRINTS), *read_cases("fao56_tables.csv")])
def test_formula(row: dict) -> None:
    name = row["function"]
    function = OWN.get(name) or getattr(sun, name, None) or getattr(formulas, name)
    hold(function(**inputs_of(row["inputs"])), row)


@each_row(read_cases("fao56_sun_tables.csv"))
def test_tables_of_the_sun(row: dict) -> None:
    day = FIFTEENTHS[MONTHS.index(row["month"])]
    hold(getattr(sun, row["function"])(day, float(row["latitude_deg"])), row)


@each_row(read_cases("fao56_days_of_year.csv"))
def test_day_of_year(row: dict) -> None:
    time = pd.to_datetime([row["date"]])
    hold(sun.day_of_year(xr.DataArray(time, dims="time", coords={"time": time}))[0], row)


# --- whole days of FAO-56, step by step


@functools.cache
def published_days() -> dict[str, dict[str, float]]:
    with (FOLDER / "fao56_days.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["case"]: {key: float(row[key]) for key in row if key not in ("case", "place", "status") and row[key]}
            for row in csv.DictReader(file)
        }


@functools.cache
def steps_of(name: str) -> dict[str, float]:
    """Return every step of a printed calculation, by the package's formulas."""
    day = published_days()[name]
    low, high, z = day["tmin_c"], day["tmax_c"], day["elevation_m"]
    s = {"slope": formulas.saturation_slope((low + high) / 2.0), "pressure": formulas.air_pressure(z)}
    s["psychrometric"] = formulas.psychrometric_constant(s["pressure"])
    s["saturation_max"], s["saturation_min"] = (formulas.saturation_vapour_pressure(t) for t in (high, low))
    s["black_body_max"], s["black_body_min"] = black_body(high), black_body(low)
    s["saturation"] = formulas.mean_saturation_pressure(low, high)
    if "vapour_pressure" in day:
        s["vapour_pressure"] = day["vapour_pressure"]
    elif "humidity_min" in day:
        s["vapour_pressure"] = formulas.vapour_pressure_from_extremes(
            low, high, day["humidity_min"], day["humidity_max"]
        )
    else:
        s["vapour_pressure"] = formulas.saturation_vapour_pressure(low)
    s["deficit"] = s["saturation"] - s["vapour_pressure"]
    s["extraterrestrial"] = sun.extraterrestrial_radiation(day["day_of_year"], day["latitude_deg"])
    s["daylight"] = sun.daylight_hours(day["day_of_year"], day["latitude_deg"])
    s["clear_sky"] = formulas.clear_sky_radiation(s["extraterrestrial"], z)
    if "sunshine_h" in day:
        s["solar"] = formulas.solar_from_sunshine(s["extraterrestrial"], day["sunshine_h"], s["daylight"])
        s["sunshine_share"] = day["sunshine_h"] / s["daylight"]
    else:
        s["solar"] = formulas.solar_from_temperature(s["extraterrestrial"], low, high, day["radiation_factor"])
    s["solar_share"] = s["solar"] / s["clear_sky"]
    s["net_longwave"] = formulas.net_longwave(low, high, s["vapour_pressure"], s["solar"], s["clear_sky"])
    s["net"] = formulas.net_radiation(low, high, s["vapour_pressure"], s["solar"], s["clear_sky"])
    s["net_shortwave"] = s["net"] + s["net_longwave"]
    s["available"] = s["net"] - day["soil_heat_flux"]
    wind = day["wind_speed"]
    s["wind_2m"] = wind if day["wind_height_m"] == 2 else formulas.wind_at_2m(wind, day["wind_height_m"])

    def et(net: float, vapour: float) -> float:
        return formulas.penman_monteith_fao56(low, high, net, vapour, s["wind_2m"], s["psychrometric"])

    # the two terms and their weights, each by switching the other off
    s["radiation_term"] = et(s["available"], s["saturation"])
    s["wind_term"] = et(0.0, s["vapour_pressure"])
    s["radiation_weight"] = s["radiation_term"] / (0.408 * s["available"])
    drying = 900.0 / ((low + high) / 2.0 + 273.0) * s["wind_2m"] * s["deficit"]
    s["wind_weight"] = s["wind_term"] / drying
    # the factor 900 u2 / (T + 273) that the wind term holds, from the term and its other parts
    below = s["slope"] + s["psychrometric"] * (1.0 + 0.34 * s["wind_2m"])
    s["wind_factor"] = s["wind_term"] * below / (s["psychrometric"] * s["deficit"])
    s["reference_et"] = et(s["net"] - day["soil_heat_flux"], s["vapour_pressure"])
    # the edition of 2025 takes 0 degC as 273.15 K, that of 1998 as 273.16
    s["black_body_max_273_15"], s["black_body_min_273_15"] = (black_body(t, 273.15) for t in (high, low))
    s["net_273_15"] = formulas.net_radiation(low, high, s["vapour_pressure"], s["solar"], s["clear_sky"], kelvin=273.15)
    s["reference_et_273_15"] = et(s["net_273_15"] - day["soil_heat_flux"], s["vapour_pressure"])
    return s


@each_row(read_cases("fao56_day_steps.csv"))
def test_step_of_a_published_day(row: dict) -> None:
    hold(steps_of(row["day"])[row["step"]], row)


@each_row(read_cases("fao56_foggia.csv"))
def test_foggia_at_the_coast(row: dict) -> None:
    record = one_day(
        "2001-07-15", 41.0 + 28.0 / 60.0, tmin=19.2, tmax=32.2, dew_point=18.2, wind_speed=float(row["wind_2m"])
    )
    found = float(reference_et(record.assign_coords(elevation=74.0), "penman-monteith", coastal=True)[0])
    assert found == pytest.approx(float(row["unrounded"]), abs=2e-4)  # of the edition with 273.15 K
    hold(found, {**row, "unrounded": ""})


# --- temperature methods


@each_row(read_cases("temperature_methods.csv"))
def test_temperature_method(row: dict) -> None:
    temperatures = inputs_of(row["temperatures"])
    record = one_day(row["date"], float(row["latitude_deg"]), **temperatures)
    if row["quantity"] == "extraterrestrial":
        found = sun.extraterrestrial_radiation(sun.day_of_year(record["time"]), float(row["latitude_deg"]))[0]
    else:
        found = float(reference_et(record, row["method"])[0])
        if row["quantity"] == "factor 0.408":  # in place of 1/2.45
            found *= formulas.LATENT_HEAT_MJ_PER_KG * 0.408
        elif row["quantity"] == "varying latent heat":  # libraries with 2.501 - 0.002361 T in place of 2.45 MJ/kg
            mean = temperatures.get("tmean", (temperatures.get("tmin", 0.0) + temperatures.get("tmax", 0.0)) / 2.0)
            found *= formulas.LATENT_HEAT_MJ_PER_KG / (2.501 - 0.002361 * mean)
    hold(found, row)


@each_row(read_cases("thornthwaite_years.csv"))
def test_thornthwaite_year(row: dict) -> None:
    temperature = np.array(numbers(row["tmean_c"]))
    index = formulas.thornthwaite_heat_index(temperature)
    if row["quantity"] == "heat index":
        hold(index, row)
        return
    lengths = COMMON_YEAR if row["days"] == "common" else 30.0
    found = formulas.thornthwaite_1948(temperature, index, np.array(numbers(row["daylight_h"])), lengths)
    hold(found.sum() if row["quantity"] == "year" else found[MONTHS.index(row["month"])], row)
