"""Fits against numpy's own on the whole matrix, against likelihoods, and on known numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.history.least_squares import Design, log_spread, logistic, straight

LEADS = (0.0, 1.0, 2.0, 5.0)
SHAPE = (40, 50)  # forecasts, hours
FAR_OFF = 4.5  # standard errors


def made_design(seed=1, *, terms=3, shape=SHAPE, lead=None, rows=None) -> Design:
    """A constant and noise, over leads from before the first number to beyond the last."""
    random = np.random.default_rng(seed)
    columns = [np.ones(shape), *(random.normal(size=shape) for _ in range(terms - 1))]
    if lead is None:
        lead = np.broadcast_to(np.linspace(-0.2, 6.0, shape[1]), shape)
    rows = np.ones(shape, dtype=bool) if rows is None else rows
    return Design(columns=columns, lead=lead, leads=LEADS, rows=rows)


def expanded(design: Design) -> np.ndarray:
    """The whole matrix: each term times the weight of each lead time, (cases, numbers)."""
    weights = [np.interp(design.lead.ravel(), LEADS, row) for row in np.eye(len(LEADS))]
    return np.stack(
        [column.ravel() * weight for column in design.columns for weight in weights], axis=1
    )


def pulls(design: Design, pull: float) -> np.ndarray:
    """So many cases of the term's mean square, for each number."""
    matrix = expanded(design)[design.known().ravel()]
    many = len(LEADS)
    squares = (matrix**2).sum(axis=0)
    return pull * squares / np.tile(squares[:many], len(design.columns))


def numbers_of(design: Design, seed=2) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=design.shape)


def slope(function, at: np.ndarray, step: float = 1e-5) -> np.ndarray:
    """Change of a function with each number, by central differences."""
    found = np.empty(at.size)
    for k in range(at.size):
        aside = np.zeros(at.size)
        aside[k] = step
        aside = aside.reshape(at.shape)
        found[k] = (function(at + aside) - function(at - aside)) / (2.0 * step)
    return found


# The design ---------------------------------------------------------------------------


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 1000), lead=st.lists(st.floats(-1.0, 7.0), min_size=6, max_size=6))
def test_terms_add_up_as_the_whole_matrix_does(seed, lead):
    """At any lead: on a number, between two, before the first and beyond the last."""
    design = made_design(seed, shape=(3, 6), lead=np.broadcast_to(lead, (3, 6)))
    numbers = numbers_of(design)
    np.testing.assert_allclose(
        design.total(numbers).ravel(), expanded(design) @ numbers.ravel(), atol=1e-9
    )


def test_no_sum_without_a_predictor_or_a_lead():
    """NaN there and nowhere else."""
    design = made_design(shape=(2, 4))
    design.columns[1][0, 2] = math.nan
    lead = np.array([[0.0, 1.0, 2.0, 3.0], [0.0, math.nan, 2.0, 3.0]])
    design = Design(columns=design.columns, lead=lead, leads=LEADS, rows=design.rows)
    silent = np.isnan(design.total(np.ones(design.shape)))
    assert silent.tolist() == [[False, False, True, False], [False, True, False, False]]


# Least squares ------------------------------------------------------------------------


def test_without_a_pull_it_is_numpys_least_squares():
    """On the whole matrix, with noise; cases without a predictor are left out of both."""
    design = made_design()
    design.columns[2][3, 7:20] = math.nan
    design.rows[10:12] = False
    random = np.random.default_rng(3)
    truth = design.total(numbers_of(design)) + random.normal(size=SHAPE)
    truth[10:12] = 1000.0
    used = design.known().ravel()
    wanted, *_ = np.linalg.lstsq(expanded(design)[used], truth.ravel()[used], rcond=None)
    for start in (np.zeros(design.shape), np.ones(design.shape)):
        found = straight(design, truth, pull=0.0, start=start)
        assert found.ravel() == pytest.approx(wanted, abs=1e-4)


@pytest.mark.parametrize("pull", [0.5, 40.0, 2000.0])
def test_with_a_pull_the_penalised_sum_is_least(pull):
    """Squares of what is left, and the distance from the start by so many cases' squares."""
    design, start = made_design(), np.ones((3, len(LEADS)))
    random = np.random.default_rng(3)
    truth = design.total(numbers_of(design)) + random.normal(size=SHAPE)
    found = straight(design, truth, pull=pull, start=start)
    matrix, weight = expanded(design), pulls(design, pull)

    def penalised(numbers):
        left = truth.ravel() - matrix @ numbers.ravel()
        return left @ left + weight @ (numbers - start).ravel() ** 2

    least = penalised(found)
    assert slope(penalised, found) == pytest.approx(np.zeros(found.size), abs=1e-4 * least)
    assert all(penalised(found + x * (start - found)) > least for x in (-0.1, 0.1, 1.0))


def test_many_pull_cases_leave_the_start_and_none_leave_all_to_the_data():
    """From one end to the other, and monotone between them for a single number."""
    design, start = made_design(terms=1), np.full((1, len(LEADS)), 7.0)
    truth = np.full(SHAPE, 3.0)
    found = [straight(design, truth, pull=x, start=start).mean() for x in (0, 10, 100, 1e3)]
    assert found[0] == pytest.approx(3.0, abs=1e-4)
    assert found == sorted(found)
    far = straight(design, truth, pull=1e12, start=start)
    assert far == pytest.approx(start, abs=1e-6)


def test_without_cases_the_start_is_returned():
    """None at all; and numbers of a lead time that no case touches."""
    start = numbers_of(made_design())
    design = made_design(rows=np.zeros(SHAPE, dtype=bool))
    truth = np.full(SHAPE, math.nan)
    np.testing.assert_allclose(straight(design, truth, pull=40.0, start=start), start)
    near = made_design(lead=np.broadcast_to(np.linspace(0.0, 1.0, SHAPE[1]), SHAPE))
    found = straight(near, np.zeros(SHAPE), pull=0.1, start=start)
    np.testing.assert_allclose(found[:, 2:], start[:, 2:])
    assert np.abs(found[:, :2]).max() < 0.05 * np.abs(start[:, :2]).max()


def test_one_hour_counts_as_one_pull_case():
    """A constant with a pull of so many cases: the weighted mean of start and truth."""
    shape = (1, 30)
    design = Design(
        columns=[np.ones(shape)],
        lead=np.zeros(shape),  # all on the first number
        leads=LEADS,
        rows=np.ones(shape, dtype=bool),
    )
    found = straight(
        design, np.full(shape, 5.0), pull=10.0, start=np.full((1, len(LEADS)), 1.0)
    )
    assert found[0, 0] == pytest.approx((30 * 5.0 + 10 * 1.0) / 40)


# Spread -------------------------------------------------------------------------------


def test_a_known_spread_comes_back():
    """Its log runs with a predictor and with the lead; within the standard errors."""
    design = made_design(shape=(400, 60))
    numbers = np.array([[-2.0, -1.0, 0.0, 0.5], [0.3, 0.3, -0.2, 0.0], [0.0, 0.2, 0.4, 0.1]])
    random = np.random.default_rng(6)
    left = np.exp(0.5 * design.total(numbers)) * random.normal(size=(400, 60))
    found = log_spread(design, left, pull=0.0, start=np.zeros(design.shape))
    matrix = expanded(design)
    errors = np.sqrt(np.diag(np.linalg.inv(0.5 * matrix.T @ matrix)))
    assert (np.abs(found - numbers).ravel() < FAR_OFF * errors).all()
    assert errors.max() < 0.1


def test_one_spread_is_the_root_mean_square():
    """The constant term alone, at one lead."""
    shape = (50, 40)
    design = made_design(terms=1, shape=shape, lead=np.full(shape, 2.0))
    left = 0.7 * np.random.default_rng(2).normal(size=shape)
    found = log_spread(design, left, pull=0.0, start=np.zeros(design.shape))
    assert math.exp(found[0, 2] / 2) == pytest.approx(math.sqrt((left**2).mean()), rel=1e-3)


@pytest.mark.parametrize("pull", [1.0, 500.0])
def test_the_likelihood_of_a_spread_is_greatest(pull):
    """-log sigma - left^2 / (2 sigma^2), less the pull; no number moves it up."""
    design, numbers = made_design(), 0.5 * numbers_of(made_design())
    start = numbers + 0.1 * numbers_of(design, 4)
    left = np.random.default_rng(5).normal(size=SHAPE) * np.exp(0.5 * design.total(numbers))
    left[0, :5] = math.nan
    found = log_spread(design, left, pull=pull, start=start)
    used = np.isfinite(left).ravel()
    matrix, weight = expanded(design)[used], pulls(design, pull)
    squared = left.ravel()[used] ** 2

    def likelihood(at):
        logs = matrix @ at.ravel()
        own = -0.5 * (logs + squared * np.exp(-logs)).sum()
        return own - 0.25 * weight @ (at - start).ravel() ** 2

    best = np.abs(slope(likelihood, start)).max()
    assert np.abs(slope(likelihood, found)).max() < 0.01 * best
    assert likelihood(found) > likelihood(start)


@pytest.mark.parametrize("times", [0.1, 0.25, 4.0, 10.0])
def test_a_spread_is_found_from_a_far_start(times):
    """A table of another place or with a tenth of the error: many pairs, little pull."""
    design = made_design(terms=1)
    left = np.random.default_rng(7).normal(size=SHAPE)
    start = np.full(design.shape, 2.0 * math.log(times))
    found = log_spread(design, left, pull=0.1, start=start)
    assert np.exp(found / 2.0) == pytest.approx(np.ones(design.shape), rel=0.15)


# Odds ---------------------------------------------------------------------------------


def drawn_truth(design: Design, numbers: np.ndarray, seed=8) -> np.ndarray:
    chance = 1.0 / (1.0 + np.exp(-design.total(numbers)))
    return (np.random.default_rng(seed).uniform(size=chance.shape) < chance).astype(float)


@pytest.mark.parametrize("pull", [1.0, 200.0])
def test_the_likelihood_of_odds_is_greatest(pull):
    """Sum of the logs of the chances given to what came, less a quarter of the pull."""
    design, start = made_design(), 0.3 * np.ones((3, len(LEADS)))
    design.columns[1][5, 5:30] = math.nan
    design.rows[20] = False
    truth = drawn_truth(made_design(), numbers_of(design))
    found = logistic(design, truth, pull=pull, start=start)
    used = design.known().ravel()
    matrix, came, weight = expanded(design)[used], truth.ravel()[used], pulls(design, pull)

    def likelihood(numbers):
        odds = matrix @ numbers.ravel()
        own = (came * odds - np.logaddexp(0.0, odds)).sum()
        return own - 0.125 * weight @ (numbers - start).ravel() ** 2

    top = np.abs(slope(likelihood, start)).max()
    assert np.abs(slope(likelihood, found)).max() < 1e-4 * top
    assert likelihood(found) > likelihood(start)


def test_known_odds_come_back():
    """Within the standard errors of the inverse information."""
    design = made_design(shape=(400, 60))
    numbers = np.array([[-1.0, -0.5, 0.0, 0.5], [1.0, 0.5, 0.2, 0.0], [-0.5, 0.0, 0.5, 1.0]])
    truth = drawn_truth(design, numbers)
    found = logistic(design, truth, pull=0.0, start=np.zeros(design.shape))
    matrix = expanded(design)
    chance = 1.0 / (1.0 + np.exp(-matrix @ numbers.ravel()))
    information = (matrix * (chance * (1.0 - chance))[:, None]).T @ matrix
    errors = np.sqrt(np.diag(np.linalg.inv(information)))
    assert (np.abs(found - numbers).ravel() < FAR_OFF * errors).all()
    assert errors.max() < 0.2


def test_odds_stay_where_they_start_without_cases_or_with_a_great_pull():
    """As with least squares."""
    start = numbers_of(made_design())
    none = made_design(rows=np.zeros(SHAPE, dtype=bool))
    truth = np.full(SHAPE, math.nan)
    np.testing.assert_allclose(logistic(none, truth, pull=40.0, start=start), start)
    came = drawn_truth(made_design(), start)
    found = logistic(made_design(), came, pull=1e9, start=start)
    assert found == pytest.approx(start, abs=1e-4)


def test_what_never_came_has_small_odds_not_none():
    """Complete separation: the pull keeps them finite, and every chance is small."""
    design = made_design(terms=1)
    found = logistic(design, np.zeros(SHAPE), pull=40.0, start=np.zeros(design.shape))
    assert np.isfinite(found).all()
    assert (found < -2.0).all()
    never = np.where(design.lead > 3.0, 1.0, 0.0)
    apart = logistic(design, never, pull=1.0, start=np.zeros(design.shape))
    assert np.isfinite(apart).all()
    assert apart[0, 0] < -3.0 < 0.0 < apart[0, -1]


@pytest.mark.parametrize("off", [-4.0, -2.0, 2.0, 4.0])
def test_odds_are_found_from_a_far_start(off):
    """A table of a wetter or a drier place, and so many pairs that it hardly counts."""
    design = made_design(terms=1)
    truth = np.random.default_rng(9).uniform(size=SHAPE) < 1.0 / (1.0 + math.e)
    start = np.full(design.shape, -1.0 + off)
    found = logistic(design, truth.astype(float), pull=5.0, start=start)
    assert found == pytest.approx(np.full(design.shape, -1.0), abs=0.5)
