"""The NRCS 24-hour rainfall distributions as cumulative shares of the day's rain: every half hour, finer near the peak.

Half-hour ordinates: FHWA-NHI-02-001, *Highway Hydrology*, Hydraulic Design Series No. 2, 2nd edition, 2002, Table 6.5
(p. 6-35). TR-55 (1986), Appendix B, shows the same four curves as a figure only; textbook transcriptions differ by up to
0.005.

Half an hour is long for a roof: 38 % of a Type II day falls in the half hour before noon, and 14 % of the day in six minutes
of it. Types II and III therefore carry the finer ordinates of NRCS NEH 630 chapter 4 around noon. Those are from memory; where
both exist they agree with HDS-2. Types I and IA have none at hand.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class Ordinates(NamedTuple):
    """Cumulative shares of the day's rain at rising hours, and the shortest time between two of them, minutes."""

    hours: np.ndarray
    shares: np.ndarray
    finest_min: float


_SHARES = """
0.000 0.000 0.000 0.000
0.008 0.010 0.005 0.005
0.017 0.020 0.011 0.010
0.026 0.035 0.016 0.015
0.035 0.050 0.022 0.020
0.045 0.067 0.028 0.025
0.055 0.082 0.035 0.031
0.065 0.098 0.041 0.037
0.076 0.116 0.048 0.043
0.087 0.135 0.056 0.050
0.099 0.156 0.063 0.057
0.112 0.180 0.071 0.064
0.126 0.206 0.080 0.072
0.140 0.237 0.089 0.081
0.156 0.268 0.098 0.091
0.174 0.310 0.109 0.102
0.194 0.425 0.120 0.114
0.219 0.480 0.133 0.128
0.254 0.520 0.147 0.146
0.303 0.550 0.162 0.166
0.515 0.577 0.181 0.189
0.583 0.601 0.204 0.212
0.624 0.624 0.235 0.250
0.655 0.645 0.283 0.298
0.682 0.664 0.663 0.500
0.706 0.683 0.735 0.702
0.728 0.701 0.772 0.750
0.748 0.719 0.799 0.784
0.766 0.736 0.820 0.811
0.783 0.753 0.838 0.834
0.799 0.769 0.854 0.854
0.815 0.785 0.868 0.872
0.830 0.800 0.880 0.886
0.844 0.815 0.891 0.898
0.857 0.830 0.902 0.910
0.870 0.844 0.912 0.920
0.882 0.858 0.921 0.928
0.893 0.871 0.929 0.936
0.905 0.884 0.937 0.943
0.916 0.896 0.945 0.950
0.926 0.908 0.952 0.957
0.936 0.920 0.959 0.963
0.946 0.932 0.965 0.969
0.956 0.944 0.972 0.975
0.965 0.956 0.978 0.981
0.974 0.967 0.984 0.986
0.983 0.978 0.989 0.991
0.992 0.989 0.995 0.996
1.000 1.000 1.000 1.000
"""
_COLUMNS = np.array(_SHARES.split(), dtype=float).reshape(-1, 4).T
# hour -> share, NEH 630 chapter 4, from memory
_FINER = {
    "type-II": {
        **{11.6: 0.3070, 11.7: 0.3544, 11.8: 0.4308, 11.9: 0.5679},
        **{12.1: 0.6820, 12.2: 0.6986, 12.3: 0.7130, 12.4: 0.7252},
    },
    "type-III": {11.75: 0.339, 12.25: 0.661},
}


def _ordinates(half_hourly: np.ndarray, finer: dict[float, float]) -> Ordinates:
    known = dict(zip((np.arange(half_hourly.size) * 0.5).tolist(), half_hourly.tolist(), strict=True)) | finer
    hours, shares = (np.array(column) for column in zip(*sorted(known.items()), strict=True))
    for column in (hours, shares):
        column.setflags(write=False)
    return Ordinates(hours, shares, round(float(np.diff(hours).min()) * 60.0, 9))


NRCS_ORDINATES: dict[str, Ordinates] = {
    name: _ordinates(column, _FINER.get(name, {}))
    for name, column in zip(("type-I", "type-IA", "type-II", "type-III"), _COLUMNS, strict=True)
}
