"""Which methods of reference evapotranspiration a record allows: a range draws them alike, since none is right everywhere."""

from __future__ import annotations

import xarray as xr

from runoff.errors import WeatherError
from runoff.simulation import RunRules
from runoff.weather import reference_et

#: By the method the data lead to: the others that the same data allow. Thornthwaite, a monthly method, is drawn only where no other stands
#: beside Oudin.
_BESIDE = {
    "FAO-56 Penman-Monteith": ("priestley-taylor", "hargreaves-samani"),
    "Hargreaves-Samani": ("penman-monteith", "oudin"),
    "Oudin": ("thornthwaite",),
}


def weathers_by_method(weather: xr.Dataset, rules: RunRules) -> dict[str, xr.Dataset]:
    """Return the record under every method that its data allow, the one it leads to first.

    Parameters
    ----------
    weather
        A daily record.
    rules
        The rules of the runs. A method that was asked for stands alone, here or when the file was read, and so does a series that
        was given: a measured one is better than any formula.

    Returns
    -------
    dict
        Name of the method -> the record with its ``reference_et``.

    Notes
    -----
    Penman-Monteith from temperatures alone is the rule of FAO-56 (1998, chapter 3) for missing data.
    """
    if rules.et_method is not None:
        return {str(rules.et_method): weather}
    own = weather if "reference_et" in weather else weather.assign(reference_et=reference_et(weather))
    attrs = own["reference_et"].attrs
    name = str(attrs.get("method", "given")).partition(" (")[0]
    if attrs.get("reason") == "the method was asked for":
        return {name: own}
    found = {name: own}
    for other in _BESIDE.get(name, ()):
        try:
            formed = reference_et(own.drop_vars("reference_et"), other)
        except WeatherError:
            continue  # the series came with its record, the temperatures it was made of did not
        found[str(formed.attrs["method"]).partition(" (")[0]] = own.assign(reference_et=formed)
    return found
