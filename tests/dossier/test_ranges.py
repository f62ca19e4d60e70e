"""Ranges of short records, against printed tables."""

import pytest

from runoff.dossier.ranges import widening


@pytest.mark.parametrize(("years", "t"), [(5, 2.132), (6, 2.015), (10, 1.833), (19, 1.734)])
def test_widening_of_short_records(years, t):
    # t: one-sided 95 % of Student's t with years - 1 degrees of freedom, any printed table (3 decimals); normal: 1.645
    assert widening(years) == pytest.approx(t / 1.645, abs=1e-3)


def test_long_records_are_not_widened():
    assert widening(20.0) == widening(80.0) == 1.0
