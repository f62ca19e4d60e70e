"""One table of quantities: units, names and plausible range, used for labels, checks and figures.

Names follow the trade and CF conventions. ``time`` marks the start of each interval, so depths are sums over
the step that follows (``time: sum``) and stores are the state at its end (``time: point``).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    import xarray as xr


class Quantity(NamedTuple):
    """What one variable is: units, words, CF standard name, how it is formed over a step, plausible range."""

    units: str
    long_name: str
    standard_name: str | None = None
    cell_methods: str | None = None
    low: float = float("-inf")
    high: float = float("inf")

    @property
    def over_time(self) -> str:
        """How values of shorter steps make one of a longer step: ``sum``, ``mean``, ``min``, ``max`` or ``last``."""
        return _OVER_TIME[self.cell_methods or _POINT]


_SUM, _POINT, _MEAN = "time: sum", "time: point", "time: mean"
_OVER_TIME = {_SUM: "sum", _MEAN: "mean", _POINT: "last", "time: minimum": "min", "time: maximum": "max"}

QUANTITIES: dict[str, Quantity] = {
    # weather
    "rain": Quantity("mm", "rain", "precipitation_amount", _SUM, 0.0, 1900.0),
    "tmin": Quantity("degC", "lowest air temperature", "air_temperature", "time: minimum", -90.0, 60.0),
    "tmax": Quantity("degC", "highest air temperature", "air_temperature", "time: maximum", -90.0, 60.0),
    "tmean": Quantity("degC", "mean air temperature", "air_temperature", _MEAN, -90.0, 60.0),
    "reference_et": Quantity("mm", "reference evapotranspiration", None, _SUM, 0.0, 25.0),
    "solar_radiation": Quantity(
        "MJ m-2 d-1", "solar radiation", "surface_downwelling_shortwave_flux_in_air", _MEAN, 0.0, 45.0
    ),
    "humidity": Quantity("1", "mean relative humidity", "relative_humidity", _MEAN, 0.0, 1.0),
    "humidity_min": Quantity("1", "lowest relative humidity", "relative_humidity", "time: minimum", 0.0, 1.0),
    "humidity_max": Quantity("1", "highest relative humidity", "relative_humidity", "time: maximum", 0.0, 1.0),
    "dew_point": Quantity("degC", "dew point", "dew_point_temperature", _MEAN, -90.0, 40.0),
    "vapour_pressure": Quantity(
        "kPa", "actual vapour pressure", "water_vapor_partial_pressure_in_air", _MEAN, 0.0, 6.5
    ),
    "wind_speed": Quantity("m s-1", "wind speed", "wind_speed", _MEAN, 0.0, 75.0),
    "sunshine_hours": Quantity("h", "bright sunshine", "duration_of_sunshine", _SUM, 0.0, 24.0),
    # fluxes of the planted roof, depth per step
    "evapotranspiration": Quantity("mm", "evapotranspiration", "water_evapotranspiration_amount", _SUM),
    "throughfall": Quantity("mm", "throughfall below canopy and mulch", None, _SUM),
    "liquid": Quantity("mm", "rain and melting snow", None, _SUM),
    "bypass": Quantity("mm", "bypass past the growing medium before field capacity", None, _SUM),
    "run_on": Quantity("mm", "run-on from adjoining surfaces, per planted area", None, _SUM),
    "percolation": Quantity("mm", "percolation out of the growing medium", None, _SUM),
    "drained": Quantity("mm", "drained through the outlets", None, _SUM),
    "spilled": Quantity("mm", "spilled over the emergency overflow or the edge", None, _SUM),
    "overflow": Quantity("mm", "overflow (drained and spilled)", "runoff_amount", _SUM),
    "roof_overflow": Quantity("mm", "overflow of the whole roof", "runoff_amount", _SUM),
    "bare_overflow": Quantity("mm", "overflow of the bare comparison roof", "runoff_amount", _SUM),
    "bare_evapotranspiration": Quantity("mm", "evaporation from the bare comparison roof", None, _SUM),
    "discharge": Quantity("L/s", "discharge of the whole roof", None, _MEAN),
    "bare_discharge": Quantity("L/s", "discharge of the bare comparison roof", None, _MEAN),
    # stores, at the end of the step
    "surface_water": Quantity("mm", "water on canopy and in mulch", None, _POINT),
    "medium_water": Quantity("mm", "water in the growing medium", None, _POINT),
    "cup_water": Quantity("mm", "water in the drainage cups", None, _POINT),
    "mat_water": Quantity("mm", "water in protection mat and fleece", None, _POINT),
    "board_water": Quantity("mm", "free water in the drainage board", None, _POINT),
    "pond_water": Quantity("mm", "water ponded on the growing medium", None, _POINT),
    "held_water": Quantity("mm", "water held by the medium, without standing water", None, _POINT),
    "free_water": Quantity("mm", "free water above the deck", None, _POINT),
    "mobile_water": Quantity("mm", "mobile water in the growing medium", None, _POINT),
    "mobile_bypass": Quantity("mm", "bypass part of the mobile water", None, _POINT),
    "over_edge": Quantity("mm", "water over the edge of the roof", None, _SUM),
    "bare_free_water": Quantity("mm", "free water on the bare comparison roof", None, _POINT),
    "other_free_water": Quantity("mm", "free water on the unplanted part of the roof", None, _POINT),
    "run_on_water": Quantity("mm", "water on the adjoining surfaces", None, _POINT),
    "snow_water": Quantity("mm", "snow water equivalent", "surface_snow_amount", _POINT),
    "bare_water": Quantity("mm", "water on the bare comparison roof", None, _POINT),
    "other_water": Quantity("mm", "water on the unplanted part of the roof", None, _POINT),
    # states and signs
    "air_filled_porosity": Quantity("1", "air-filled porosity of the growing medium", None, _POINT),
    "waterlogged": Quantity("1", "waterlogged", None, _POINT),
    "waterlogged_share": Quantity("1", "waterlogged share of the planted area", None, _POINT),
    "dry": Quantity("1", "too dry for the plants", None, _POINT),
    "water_stress": Quantity("1", "water stress of the plants (0 none, 1 no transpiration)", None, _MEAN),
    "water_depth_on_deck_mm": Quantity("mm", "depth of free water above the deck", None, _POINT),
    "largest_depth_on_deck_mm": Quantity(
        "mm", "largest depth of water above the deck within the step", None, "time: maximum"
    ),
    "bare_depth_on_deck_mm": Quantity("mm", "depth of water on the bare comparison roof", None, _POINT),
    "bare_largest_depth_on_deck_mm": Quantity(
        "mm", "largest depth of water on the bare comparison roof within the step", None, "time: maximum"
    ),
    "bare_over_edge": Quantity("mm", "water over the edge of the bare comparison roof", None, _SUM),
    "other_depth_on_deck_mm": Quantity("mm", "depth of water on the unplanted part of the roof", None, _POINT),
    "other_largest_depth_on_deck_mm": Quantity(
        "mm", "largest depth of water on the unplanted part within the step", None, "time: maximum"
    ),
    "other_over_edge": Quantity("mm", "water over the edge from the unplanted part of the roof", None, _SUM),
    "other_overflow": Quantity("mm", "overflow of the unplanted part of the roof", "runoff_amount", _SUM),
    "irrigation": Quantity("mm", "irrigation", None, _SUM),
    "balance_error": Quantity("mm", "largest error of the water balance"),
    # what a result keeps of its roof
    "area_m2": Quantity("m2", "area of the whole roof"),
    "planted_fraction": Quantity("1", "share of the roof that is planted"),
    "flow_length_m": Quantity("m", "flow length to the outlets"),
    "medium_depth": Quantity("mm", "depth of the growing medium"),
    "wilting_water": Quantity("mm", "water in the growing medium at the wilting point"),
    "field_water": Quantity("mm", "water in the growing medium at field capacity"),
    "full_water": Quantity("mm", "water in the growing medium when saturated"),
    "cup_capacity": Quantity("mm", "storage of the drainage cups"),
    "cup_supply": Quantity("1", "share of the remaining demand that roots draw from the cups"),
}


def label(dataset: xr.Dataset) -> xr.Dataset:
    """Write units and CF attributes of every known variable onto `dataset`, in place, and return it.

    Its stamps are brought to nanoseconds: in another unit, which pandas and xarray also have, the same stamp is another number.

    Raises
    ------
    RunoffError
        When a stamp lies outside what nanoseconds can tell, 1677 to 2262.
    """
    written = dataset.variables
    if "time" in written and written["time"].dtype.kind == "M" and written["time"].dtype != "datetime64[ns]":
        from runoff.time_steps import in_ns  # loads pandas

        dataset.coords["time"] = written["time"].copy(data=in_ns(dataset.indexes["time"]).to_numpy())
        written = dataset.variables
    for name, quantity in QUANTITIES.items():
        if name in written:
            attrs = written[name].attrs
            attrs["units"] = quantity.units
            attrs["long_name"] = quantity.long_name
            if quantity.standard_name:
                attrs["standard_name"] = quantity.standard_name
            if quantity.cell_methods and "time" in written[name].dims:
                attrs["cell_methods"] = quantity.cell_methods
    return dataset
