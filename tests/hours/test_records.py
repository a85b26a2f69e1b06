"""The middle, shares and percentiles of possible weathers, against numpy's own."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from planner.hours.records import at_most_in, middle, share

NUMBERS = st.one_of(st.floats(-50.0, 50.0), st.just(float("nan")))
MEMBERS = st.integers(1, 9)


@given(MEMBERS.flatmap(lambda count: arrays(float, (count, 4), elements=NUMBERS)))
def test_the_middle_is_that_of_the_members_with_a_number(values):
    """As numpy's nanmedian; NaN, and no warning, where no member has a number."""
    got = middle(values)
    empty = np.isnan(values).all(axis=0)
    assert np.isnan(got[empty]).all()
    expected = np.nanmedian(values[:, ~empty], axis=0)
    assert got[~empty] == pytest.approx(expected)


@given(MEMBERS.flatmap(lambda count: arrays(float, count, elements=st.integers(1, 9))))
def test_percentiles_are_weighted(weights):
    """As numpy's quantile of the kind that interpolates nothing, weights included."""
    weights = weights / weights.sum()
    values = np.sin(np.arange(len(weights)) * 2.0)
    shares = (0.1133, 0.5219, 0.9317)  # met by no sum of few weights
    expected = np.quantile(values, shares, weights=weights, method="inverted_cdf")
    assert at_most_in(values, weights, shares) == pytest.approx(tuple(expected))


def test_percentiles_leave_out_who_has_no_number():
    """One member without a number changes nothing; with no number at all there is none."""
    values = np.array([3.0, np.nan, 1.0, 2.0])
    assert at_most_in(values, np.full(4, 0.25), (0.0, 0.5, 1.0)) == (1.0, 2.0, 3.0)
    assert np.isnan(at_most_in(np.full(4, np.nan), np.full(4, 0.25), (0.5,))).all()


def test_all_of_the_members_are_the_whole():
    """However many weights add up, the share of all is one, so that it can be compared."""
    for members in (3, 7, 49, 500, 997):
        weights = np.full(members, 1.0 / members)
        assert share(weights, np.ones((members, 2), dtype=bool)).tolist() == [1.0, 1.0]
        assert share(weights, np.ones((1, 2), dtype=bool)).tolist() == [1.0, 1.0]
    half = np.array([[True, False], [False, False]])
    assert share(np.array([0.3, 0.7]), half).tolist() == [0.3, 0.0]
