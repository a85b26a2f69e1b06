"""The Beaufort scale against its formula and the public chart in mph."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import OutOfRange
from planner.site.beaufort import beaufort, beaufort_sign

ROUNDING = 0.11  # m/s: the code table gives one decimal of a formula used loosely
MPH = 0.44704


def test_bounds_follow_the_formula():
    """Each step lies where 0.836 B^1.5 puts the half number, WMO code table 1100."""
    for number in range(1, 13):
        bound = 0.836 * (number - 0.5) ** 1.5
        assert float(beaufort(bound - ROUNDING)) == number - 1
        assert float(beaufort(bound + ROUNDING)) == number


@pytest.mark.parametrize(
    ("number", "low", "high"),
    [(1, 1, 3), (2, 4, 7), (3, 8, 12), (4, 13, 18), (5, 19, 24), (6, 25, 31), (7, 32, 38)],
)
def test_chart_in_mph(number, low, high):
    """Middle of each class of the weather service's chart in miles an hour."""
    assert float(beaufort((low + high) / 2 * MPH)) == number


def test_missing_and_calm():
    """Missing stays missing; no wind is nought."""
    np.testing.assert_array_equal(beaufort([np.nan, 0.0, 100.0]), [np.nan, 0.0, 12.0])


def test_every_number_has_its_own_sign():
    """Thirteen numbers, thirteen signs; there is no other number."""
    assert len({beaufort_sign(number) for number in range(13)}) == 13
    with pytest.raises(OutOfRange):
        beaufort_sign(13)
