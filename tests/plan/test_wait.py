"""Go now or wait: cost-loss by hand, chances that move, and what more knowledge is worth.

Independent of the planner's own sums: closed forms, the bivariate normal, a fine grid of
the normal curve, and drawn numbers.
"""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.plan.wait import Ahead, Prices, calls_for, cost_of_waiting, lost, moved

NORMAL = NormalDist()
EXACT = 1e-9
NEARLY = 2e-4  # chances nearer to 0 or 1 than 1e-4 are not told apart from it
QUADRATURE = 0.01  # of a lost sheet: what a sum of few nodes may be off at a kink
NEVER_SETTLED, SETTLED = 0.0, 1e6  # moves: nothing more is learned; everything is

chances = st.floats(0.02, 0.98)
moves = st.floats(0.0, 1.6)  # what the shipped table has from eight days to the evening
money = st.floats(0.0, 1.0)


def prices(waited=0.02, home=0.15, missed=0.3, least=0.0):
    """Give prices in lost sheets."""
    return Prices(day_waited=waited, sent_home=home, missed=missed, least_chance=least)


def day(chance, by_evening=0.0, by_dawn=0.0, loss=1.0):
    """Give a day to come."""
    return Ahead(chance=chance, loss=loss, by_evening=by_evening, by_dawn=by_dawn)


days_to_come = st.lists(
    st.builds(day, chances, moves, moves, st.floats(0.1, 1.5)), min_size=1, max_size=5
)
any_prices = st.builds(prices, st.floats(0.0, 0.3), money, money)


def below(deviate):
    """Give the chance below normal numbers."""
    return np.array([0.5 * math.erfc(-x / math.sqrt(2.0)) for x in np.ravel(deviate).tolist()])


def on_a_grid(function, chance, by, steps=1601):
    """Average a function of the later chance over the normal curve, by its strips."""
    edges = np.linspace(-8.0, 8.0, steps)
    strips = np.diff(below(edges))
    middles = 0.5 * (edges[1:] + edges[:-1])
    later = below(math.sqrt(1.0 + by**2) * NORMAL.inv_cdf(chance) + by * middles)
    return float(strips @ function(later))


def by_bivariate_normal(chance, by, loss, other):
    """E[min(loss (1 - q), other)] with q = below(by z + sqrt(1 + by**2) x), closed form.

    The start is worth it where z is above a number; 1 - q is the chance that a second
    normal number, less by z, passes the stretched one. Both together are one corner of
    the bivariate normal, correlation -by / sqrt(1 + by**2).
    """
    from scipy.stats import multivariate_normal

    stretch, x = math.sqrt(1.0 + by**2), NORMAL.inv_cdf(chance)
    if other >= loss:
        return loss * (1.0 - chance)
    turn = (NORMAL.inv_cdf(1.0 - other / loss) - stretch * x) / by
    link = by / stretch
    corner = multivariate_normal(mean=[0.0, 0.0], cov=[[1.0, -link], [-link, 1.0]])
    return other * NORMAL.cdf(turn) + loss * float(corner.cdf([-x, -turn]))


# The chance of a lost sheet.


@pytest.mark.parametrize(
    ("ratio", "percent"), [(0.8, 0.7), (1.0, 5.0), (1.2, 27.0), (1.3, 50.0), (1.6, 95.0)]
)
def test_sheets_lost_by_how_far_the_limit_is_passed(ratio, percent):
    """The trade's working figures, themselves assumed: no source says them."""
    assert lost(ratio) == pytest.approx(percent / 100.0, abs=0.005)


def test_the_farther_beyond_the_more_are_lost():
    """It rises with the ratio, is sure beyond all bounds, and keeps what is not known."""
    assert (np.diff(lost(np.linspace(0.0, 3.0, 50))) > 0.0).all()
    assert lost(np.inf) == 1.0
    assert lost(0.0) < 1e-5
    assert np.isnan(lost(np.nan))


# How a chance moves.


@settings(deadline=None)
@given(chances, moves)
def test_a_chance_moves_without_a_drift(chance, by):
    """What it may become has the chance of today as its mean."""
    later, weights = moved(chance, by)
    assert weights.sum() == pytest.approx(1.0, abs=EXACT)
    assert float(later @ weights) == pytest.approx(chance, abs=1e-6)


@settings(deadline=None)
@given(chances, moves)
def test_a_move_has_the_spread_of_the_normal_model(chance, by):
    """Its mean square is that of a fine grid of the normal curve."""
    later, weights = moved(chance, by)
    square = on_a_grid(lambda q: q**2, chance, by)
    assert float(later**2 @ weights) == pytest.approx(square, abs=2e-4)


def test_nothing_learned_nothing_moved():
    """With no later forecast the chance is what it is, for each of several."""
    later, weights = moved([0.2, 0.9], NEVER_SETTLED)
    assert later[:, 0] == pytest.approx([0.2, 0.9])
    assert weights == pytest.approx([1.0])


def test_what_is_sure_stays_nearly_sure():
    """Chances of 0 and 1 can be reckoned with; they are kept within 1 in 10 000."""
    later, weights = moved([0.0, 1.0], 0.5)
    assert (later @ weights) == pytest.approx([0.0, 1.0], abs=NEARLY)


def test_chances_are_settled_in_the_end():
    """With all that can be known the chance is 0 or 1: as often 1 as it is likely now."""
    later, weights = moved(0.7, SETTLED)
    assert set(later.round(9)) <= {0.0, 1.0}
    assert float(later @ weights) == pytest.approx(0.7, abs=0.15)  # a step between two nodes


# Cost and loss: one day.


@settings(deadline=None)
@given(chances, st.floats(0.0, 0.4), st.floats(0.0, 0.5))
def test_go_if_the_chance_of_failure_is_below_cost_over_loss(chance, waited, missed):
    """One day left, nothing more to learn: the cheaper of going and not going.

    Cost-loss (Murphy 1977; Katz and Murphy 1997): protect if p > C / L. Here p is the
    chance that it fails, C a day waited and the deadline missed, and L the sheet.
    """
    cost = waited + missed
    got = cost_of_waiting([day(chance)], prices(waited, home=1.0, missed=missed))
    assert got == pytest.approx(min(1.0 - chance, cost), abs=EXACT)
    assert (got < cost - EXACT) == (1.0 - chance < cost - EXACT)


@settings(deadline=None)
@given(chances, st.floats(0.0, 0.5), st.floats(0.0, 0.5), st.floats(0.0, 0.5))
def test_a_perfect_forecast_by_the_evening_before(chance, waited, home, missed):
    """Tomorrow is then calm for certain, or not: go, or the cheapest of what is left.

    By hand: (1 - p) min(L, sent home + missed, waited + missed). The sum of few nodes
    cannot have the step at the right place, so the planner's own weights give p.
    """
    later, weights = moved(chance, SETTLED)
    assume(set(later.round(6)) <= {0.0, 1.0})  # no node is just where calm and wind meet
    p = float(later @ weights)
    by_hand = (1.0 - p) * min(1.0, home + missed, waited + missed)
    got = cost_of_waiting(
        [day(chance, by_evening=SETTLED)], prices(waited, home=home, missed=missed)
    )
    assert got == pytest.approx(by_hand, abs=NEARLY)


def test_a_perfect_forecast_at_dawn_costs_the_way_home():
    """Known only with the crew in the yard: it is called if that is worth its way home.

    By hand: min((1 - p)(sent home + missed), waited + missed), L being dearer.
    """
    later, weights = moved(0.6, SETTLED)
    p = float(later @ weights)
    for home in (0.05, 0.3, 0.9):
        got = cost_of_waiting(
            [day(0.6, by_dawn=SETTLED)], prices(waited=0.02, home=home, missed=0.25, least=0.0)
        )
        by_hand = min((1.0 - p) * min(1.0, home + 0.25), 0.02 + 0.25)
        assert got == pytest.approx(by_hand, abs=NEARLY)


def test_two_days_by_hand():
    """Nothing more to learn on two days of 0.8 and 0.9, one sheet, a tenth a day.

    Last day: min(1 - 0.9, 0.1 + 0.5) = 0.1. First: min(1 - 0.8, 0.1 + 0.1) = 0.2. With a
    day of 0.85 before: 0.15. Where a day costs nothing the last one is waited for: 0.1.
    """
    both = [day(0.8), day(0.9)]
    toll = prices(waited=0.1, home=1.0, missed=0.5)
    assert cost_of_waiting(both[1:], toll) == pytest.approx(0.1)
    assert cost_of_waiting(both, toll) == pytest.approx(0.2)
    assert cost_of_waiting([day(0.85), *both], toll) == pytest.approx(0.15)
    assert cost_of_waiting(both, prices(waited=0.0, home=1.0, missed=0.5)) == pytest.approx(0.1)


def test_no_day_left_is_a_deadline_missed():
    """Nothing to wait for: what is due is due."""
    assert cost_of_waiting([], prices(missed=0.4)) == 0.4


# Forecasts that grow sharper.


@pytest.mark.parametrize("other", [0.05, 0.15, 0.4])
@pytest.mark.parametrize("by", [0.3, 0.8, 1.6])
@pytest.mark.parametrize("chance", [0.3, 0.6, 0.8, 0.9, 0.97])
def test_a_sharper_forecast_in_closed_form(chance, by, other):
    """E[min(L (1 - q), K)]: bivariate normal, fine grid and planner agree."""
    closed = by_bivariate_normal(chance, by, 1.0, other)
    assert on_a_grid(lambda q: np.minimum(1.0 - q, other), chance, by) == pytest.approx(
        closed, abs=1e-4
    )
    got = cost_of_waiting([day(chance, by_evening=by)], prices(0.0, home=1.0, missed=other))
    assert got == pytest.approx(closed, abs=QUADRATURE)


def test_a_sharper_forecast_by_drawn_numbers():
    """A day over evening and dawn, floor and way home, played many times.

    The truth is a normal number; the forecast says where, ever more sharply.
    """
    random = np.random.default_rng(20260504)
    count = 400_000
    chance, by_evening, by_dawn = 0.75, 1.2, 0.45
    toll = prices(waited=0.05, home=0.2, missed=0.4, least=0.7)
    z, u = random.standard_normal((2, count))
    x = NORMAL.inv_cdf(chance)
    evening = math.sqrt(1.0 + by_evening**2) * x + by_evening * z
    dawn = math.sqrt(1.0 + by_dawn**2) * evening + by_dawn * u
    # the crew is called where that is cheaper on average, as a function of the evening
    grid = np.linspace(evening.min(), evening.max(), 400)
    called = np.array([at_dawn(one, by_dawn, toll) for one in grid])
    waits = toll.day_waited + toll.missed
    calls = np.interp(evening, grid, called) <= waits
    q = 0.5 * (1.0 + np.vectorize(math.erf)(dawn / math.sqrt(2.0)))
    starts = (q >= toll.least_chance) & (1.0 - q <= toll.sent_home + toll.missed)
    fails = random.random(count) > q
    in_yard = np.where(starts, fails.astype(float), toll.sent_home + toll.missed)
    cost = np.where(calls, in_yard, waits)
    got = cost_of_waiting([day(chance, by_evening, by_dawn)], toll)
    noise = 4.0 * cost.std() / math.sqrt(count)
    assert got == pytest.approx(float(cost.mean()), abs=noise + QUADRATURE)


def at_dawn(evening, by, toll):
    """Cost of the crew in the yard, on a grid, by the normal number of the evening."""

    def cost(q):
        go = np.where(q >= toll.least_chance, 1.0 - q, np.inf)
        return np.minimum(go, toll.sent_home + toll.missed)

    return on_a_grid(cost, min(max(NORMAL.cdf(evening), 1e-9), 1.0 - 1e-9), by, steps=401)


@settings(deadline=None)
@given(chances, moves, moves, any_prices, st.sampled_from(["by_evening", "by_dawn"]))
def test_sharper_forecasts_never_make_waiting_dearer(chance, less, more, toll, which):
    """Who knows more can still do what he did before. Without a floor: see below."""
    less, more = sorted((less, more))
    other = {"by_evening": 0.4, "by_dawn": 0.4}
    dull, sharp = (
        cost_of_waiting([day(chance, **(other | {which: by}))], toll) for by in (less, more)
    )
    assert sharp <= dull + QUADRATURE


def test_with_a_floor_a_sharper_forecast_can_be_dearer():
    """A floor forbids a start that the stakes ask for; knowing more meets it more often.

    By hand: four in five, nothing to learn: 0.2. Known for certain: once in five the
    deadline is missed, at twice a sheet, rather than go into a storm.
    """
    toll = prices(waited=0.0, home=1.0, missed=2.0, least=0.7)
    later, weights = moved(0.8, SETTLED)
    assert cost_of_waiting([day(0.8)], toll) == pytest.approx(0.2)
    assert cost_of_waiting([day(0.8, by_evening=SETTLED)], toll) == pytest.approx(
        2.0 * (1.0 - float(later @ weights)), abs=2 * NEARLY
    )


@settings(deadline=None)
@given(days_to_come, any_prices, money, money)
def test_a_floor_never_makes_it_cheaper(days, toll, low, high):
    """To be forbidden something costs, or costs nothing."""
    low, high = sorted((low, high))
    free, strict = (
        cost_of_waiting(days, prices(toll.day_waited, toll.sent_home, toll.missed, least))
        for least in (low, high)
    )
    assert free <= strict + EXACT


@settings(deadline=None)
@given(days_to_come, st.builds(day, chances, moves, moves), any_prices)
def test_one_more_day_costs_a_day_waited_at_most(days, extra, toll):
    """A day more can be let go by for its price; where it has none it is never dearer."""
    shorter, longer = cost_of_waiting(days, toll), cost_of_waiting([*days, extra], toll)
    assert longer <= shorter + toll.day_waited + EXACT
    free = prices(0.0, toll.sent_home, toll.missed)
    assert cost_of_waiting([*days, extra], free) <= cost_of_waiting(days, free) + EXACT


@settings(deadline=None)
@given(days_to_come, any_prices, st.floats(0.0, 0.5))
def test_what_is_dearer_makes_waiting_dearer(days, toll, more):
    """Each price by itself; and a dearer end by no more than itself."""
    base = cost_of_waiting(days, toll)
    for name in ("day_waited", "sent_home", "missed"):
        given_prices = {
            "day_waited": toll.day_waited,
            "sent_home": toll.sent_home,
            "missed": toll.missed,
            "least_chance": 0.0,
        }
        given_prices[name] += more
        dearer = cost_of_waiting(days, Prices(**given_prices))
        assert dearer >= base - EXACT
    assert dearer <= base + more + EXACT


# Days beyond the forecast.


@settings(deadline=None)
@given(days_to_come, any_prices)
def test_days_beyond_are_like_the_last_three(days, toll):
    """Some days beyond: the mean of going through each of the last three, from the end."""
    cost = toll.missed
    for _ in range(2):
        end = prices(toll.day_waited, toll.sent_home, cost)
        cost = float(np.mean([cost_of_waiting([like], end) for like in days[-3:]]))
    by_hand = cost_of_waiting(days, prices(toll.day_waited, toll.sent_home, cost))
    assert cost_of_waiting(days, toll, open_end=2) == pytest.approx(by_hand, abs=EXACT)


@settings(max_examples=10, deadline=None)
@given(st.lists(st.builds(day, st.floats(0.5, 0.98), moves, moves), min_size=3, max_size=3))
def test_without_a_last_day_it_settles(days):
    """More and more days beyond: one way only, and the endless wait is where that leads.

    It is the cheapest of all where the deadline is dearer than to wait on; a deadline
    that costs less than to wait on is let go by, and then it is the dearest.
    """
    for missed in (0.0, 0.1, 1.0):
        toll = prices(waited=0.05, home=0.15, missed=missed)
        finite = [cost_of_waiting(days, toll, open_end=n) for n in (0, 1, 2, 5, 60)]
        endless = cost_of_waiting(days, toll, open_end=None)
        steps = np.diff(finite)
        assert (steps <= EXACT).all() or (steps >= -EXACT).all()
        assert endless == pytest.approx(finite[-1], abs=1e-6)
        if missed == 1.0:
            assert endless <= min(finite) + EXACT


def test_the_endless_wait_by_hand():
    """Days that are settled by the evening: V = p 0 + (1 - p)(waited + V), a series.

    V = waited (1 - p) / p: a chance of p on each evening, the price of a day each time
    that it is not calm.
    """
    later, weights = moved(0.7, SETTLED)
    p = float(later @ weights)
    days = [day(0.7, by_evening=SETTLED)] * 3
    got = cost_of_waiting(days, prices(waited=0.04, home=1.0, missed=0.9), open_end=None)
    assert got == pytest.approx(0.04 * (1.0 - p) / p, abs=NEARLY)


# Calling the crew.


@settings(deadline=None)
@given(days_to_come, any_prices)
def test_the_crew_is_called_where_that_is_cheaper(days, toll):
    """Not called: waiting costs a day and what comes after it; called: no more than that."""
    first, *rest = days
    known = day(first.chance, NEVER_SETTLED, first.by_dawn, first.loss)
    whole = cost_of_waiting([known, *rest], toll)
    let_go = toll.day_waited + cost_of_waiting(rest, toll)
    if calls_for([known, *rest], toll):
        assert whole <= let_go + EXACT
    else:
        assert whole == pytest.approx(let_go, abs=EXACT)


def test_calling_by_hand():
    """A sheet, a way home of 0.2, a deadline of 0.5, a day of 0.05, known only at dawn.

    By hand the crew is called if (1 - p) 0.7 <= 0.55: above 0.214.
    """
    toll = prices(waited=0.05, home=0.2, missed=0.5)
    for chance in (0.05, 0.15, 0.4, 0.8):
        later, weights = moved(chance, SETTLED)
        p = float(later @ weights)
        assert calls_for([day(chance, by_dawn=SETTLED)], toll) == ((1.0 - p) * 0.7 <= 0.55)
