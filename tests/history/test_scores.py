"""Scores against published numbers, direct sums and integrals, and a general library."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import OutOfRange
from planner.history.scores import (
    brier,
    brier_parts,
    crps_members,
    crps_normal,
    crps_normal_above_zero,
    reliability_table,
)

#: Twelve chances of rain as forecasters said them, the share of all forecasts that said
#: it, and how often rain came: Wilks, Statistical Methods in the Atmospheric Sciences
#: (1995), table 7.3, p. 246. Rain came in 0.162 of all cases.
SAID = (0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
SHARE = (0.4112, 0.0671, 0.1833, 0.0986, 0.0616, 0.0366, 0.0303, 0.0275, 0.0245, 0.022, 0.017,
         0.0203)  # fmt: skip
CAME = (0.006, 0.019, 0.059, 0.15, 0.277, 0.377, 0.511, 0.587, 0.723, 0.779, 0.934, 0.933)
RAIN = 0.162
LAST_DIGIT = 0.0006  # of the shares in the table, added up
CASES = 100_000

chances = st.floats(0.0, 1.0)
cases = st.lists(st.tuples(chances, st.booleans()), min_size=1, max_size=60)
numbers = st.floats(-30.0, 30.0)
spreads = st.floats(0.05, 10.0)


@pytest.fixture(scope="module")
def library():
    """A general library of scores."""
    return pytest.importorskip("scoringrules", reason="scoringrules is not installed")


def drawn(count: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Chances, and whether it came with exactly that chance."""
    random = np.random.default_rng(seed)
    chance = random.uniform(size=count)
    return chance, random.uniform(size=count) < chance


def published() -> tuple[np.ndarray, np.ndarray]:
    """The published table as single cases."""
    chance, held = [], []
    for said, share, came in zip(SAID, SHARE, CAME, strict=True):
        count = round(CASES * share)
        chance += [said] * count
        held += [at < round(count * came) for at in range(count)]
    return np.array(chance), np.array(held)


def test_brier_by_hand() -> None:
    """(0.1^2 + 0.2^2 + 0.5^2) / 3, and the two ends of the scale."""
    assert brier([0.9, 0.2, 0.5], [True, False, True]) == pytest.approx(0.1)
    assert brier([1.0, 0.0], [1, 0]) == 0.0
    assert brier([1.0, 0.0], [0, 1]) == 1.0
    assert brier(0.25, [1, 0, 0, 0]) == pytest.approx(0.25 * 0.75)


def test_brier_is_the_librarys(library) -> None:
    """The mean over cases of what the library gives for each."""
    chance, held = drawn(500, 3)
    one_by_one = library.brier_score(held.astype(float), chance)
    assert brier(chance, held) == pytest.approx(np.mean(one_by_one), rel=1e-12)


def test_parts_of_the_published_table() -> None:
    """Every chance in a bin of its own: the sums over the table's rows, to its last digit."""
    chance, held = published()
    parts = brier_parts(chance, held, bins=20)
    said, share, came = map(np.array, (SAID, SHARE, CAME))
    assert parts.uncertainty == pytest.approx(RAIN * (1 - RAIN), abs=LAST_DIGIT)
    assert parts.reliability == pytest.approx(np.sum(share * (said - came) ** 2), rel=0.01)
    assert parts.resolution == pytest.approx(np.sum(share * (came - RAIN) ** 2), rel=0.01)
    whole = parts.reliability - parts.resolution + parts.uncertainty
    assert whole == pytest.approx(brier(chance, held), rel=1e-12)


@given(cases=st.lists(st.tuples(st.integers(0, 10), st.booleans()), min_size=1, max_size=80))
def test_parts_add_up_where_every_bin_has_one_chance(cases: list[tuple[int, bool]]) -> None:
    """Murphy (1973) is exact; 20 bins, since 0.9 and 1 share the last of ten."""
    chance = [tenths / 10 for tenths, _ in cases]
    held = [came for _, came in cases]
    parts = brier_parts(chance, held, bins=20)
    whole = parts.reliability - parts.resolution + parts.uncertainty
    assert whole == pytest.approx(brier(chance, held), abs=1e-12)
    assert 0.0 <= parts.resolution <= parts.uncertainty + 1e-12


@given(cases=cases, bins=st.integers(1, 12))
def test_parts_miss_what_varies_within_bins(cases: list[tuple[float, bool]], bins: int) -> None:
    """Stephenson et al. (2008): the variance within bins less twice the covariance there."""
    by_bin: dict[int, list[tuple[float, bool]]] = {}
    for chance, came in cases:
        at = max(x for x in range(bins) if x == 0 or chance >= x / bins)
        by_bin.setdefault(at, []).append((chance, came))
    within = 0.0
    for rows in by_bin.values():
        mean = sum(chance for chance, _ in rows) / len(rows)
        share = sum(came for _, came in rows) / len(rows)
        for chance, came in rows:
            within += (chance - mean) ** 2 - 2 * (chance - mean) * (came - share)
    said, held = zip(*cases, strict=True)
    parts = brier_parts(said, held, bins=bins)
    whole = parts.reliability - parts.resolution + parts.uncertainty + within / len(cases)
    assert whole == pytest.approx(brier(said, held), abs=1e-12)


def test_always_the_overall_share_is_reliable_and_says_nothing() -> None:
    """Climatology: the score is the uncertainty."""
    held = np.arange(50) < 15
    parts = brier_parts(0.3, held)
    assert parts.reliability == pytest.approx(0.0, abs=1e-15)
    assert parts.resolution == pytest.approx(0.0, abs=1e-15)
    assert parts.uncertainty == pytest.approx(brier(0.3, held)) == pytest.approx(0.21)


def test_reliability_table_against_a_loop() -> None:
    """Ten rows, every case in one of them, means as a loop finds them."""
    chance, held = drawn(2_000, 7)
    table = reliability_table(chance, held)
    assert len(table) == 10
    assert sum(row.cases for row in table) == 2_000
    for at, row in enumerate(table):
        mine = [x for x in range(2_000) if math.floor(chance[x] * 10) == at]
        assert (row.low, row.high) == (at / 10, (at + 1) / 10)
        assert row.cases == len(mine)
        assert row.mean_chance == pytest.approx(sum(chance[mine]) / len(mine))
        assert row.share_held == pytest.approx(sum(held[mine]) / len(mine))


def test_every_tenth_belongs_to_the_row_above_it() -> None:
    """0.1 is the second tenth's, 0.7 the eighth's, and 1 the last's with 0.9."""
    table = reliability_table([x / 10 for x in range(11)], [1] * 11)
    assert [row.cases for row in table] == [1] * 9 + [2]
    assert [row.mean_chance for row in table[:9]] == pytest.approx([x / 10 for x in range(9)])


def test_an_empty_tenth_has_no_shares() -> None:
    """No case is no data, not a share of nought."""
    table = reliability_table([0.72, 0.78], [1, 0])
    assert [row.cases for row in table] == [0] * 7 + [2, 0, 0]
    assert all(math.isnan(x.mean_chance) and math.isnan(x.share_held) for x in table[:7])
    assert (table[7].mean_chance, table[7].share_held) == (0.75, 0.5)
    assert all(row.cases == 0 for row in reliability_table([], []))


def test_what_is_not_known_is_in_no_tenth() -> None:
    """NaN on either side leaves the case out of the table and makes a score NaN."""
    chance, held = [0.5, math.nan, 0.5], [1.0, 1.0, math.nan]
    assert [row.cases for row in reliability_table(chance, held)] == [0] * 5 + [1] + [0] * 4
    assert math.isnan(brier(chance, held))
    parts = brier_parts(chance, held)
    assert all(map(math.isnan, (parts.reliability, parts.resolution, parts.uncertainty)))
    assert math.isnan(brier([], []))
    assert math.isnan(brier_parts([], []).uncertainty)


@pytest.mark.parametrize("score", [brier, brier_parts, reliability_table])
@pytest.mark.parametrize("wrong", [-0.01, 1.01, 55.0])
def test_what_is_no_chance_is_refused(score, wrong: float) -> None:
    """55 where 0.55 was meant would fill the last tenth in silence."""
    with pytest.raises(OutOfRange, match="between 0 and 1"):
        score([0.2, wrong], [1, 1])


# The integral that the score is defined by, in pieces on either side of what came.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(60)


def integral(share_below, seen: float, low: float, high: float) -> float:
    """Integrate (F - step at what came)^2 with Gauss's rule on many short pieces."""
    total = 0.0
    for first, last, step in ((low, seen, 0.0), (seen, high, 1.0)):
        edges = np.linspace(first, last, 40)
        for a, b in pairwise(edges):
            x = a + (b - a) * (_NODES + 1) / 2
            f = np.array([share_below(float(y)) for y in x])
            total += float(np.sum(_WEIGHTS * (f - step) ** 2) * (b - a) / 2)
    return total


def above(z: float) -> float:
    """Standard normal share above z."""
    return 0.5 * math.erfc(z / math.sqrt(2.0))


def test_normal_against_published_numbers() -> None:
    """The tests of the R package scoringRules (Jordan, Krueger and Lerch 2019, J. Stat.
    Softw. 90, 12) print 2.43657473 at -3; at 0 it is 2 phi(0) - 1/sqrt(pi) = 0.23369498.
    """
    assert crps_normal(0.0, 1.0, -3.0) == pytest.approx(2.43657473, abs=5e-9)
    assert crps_normal(0.0, 1.0, 3.0) == pytest.approx(2.43657473, abs=5e-9)
    assert crps_normal(0.0, 1.0, 0.0) == pytest.approx(0.23369498, abs=5e-9)


def test_normal_cut_at_nought_against_a_number_from_elsewhere() -> None:
    """The closed form of Thorarinsdottir and Gneiting (2010) for mean 2, spread 1.5, at 3,
    worked out apart from this code, with its integral: 0.50458126.
    """
    assert crps_normal_above_zero(2.0, 1.5, 3.0) == pytest.approx(0.50458126, abs=5e-9)


@pytest.mark.parametrize("seen", [0.0, 0.3, 2.0, 6.5])
@pytest.mark.parametrize("mean", [3.0, 0.0, -4.0, -15.0, -34.0])
def test_normal_cut_at_nought_is_its_integral_far_out_too(mean: float, seen: float) -> None:
    """Down to 23 spreads below nought, where the share left is 1e-116."""
    spread = 1.5
    all_above = above(-mean / spread)
    wanted = integral(lambda y: 1.0 - above((y - mean) / spread) / all_above, seen, 0.0, 20.0)
    assert crps_normal_above_zero(mean, spread, seen) == pytest.approx(wanted, abs=1e-10)


@pytest.mark.parametrize("seen", [-4.0, 0.0, 1.0, 9.0])
def test_normal_is_its_integral(seen: float) -> None:
    """Mean 1, spread 2.5."""
    wanted = integral(lambda y: above((1.0 - y) / 2.5), seen, -30.0, 32.0)
    assert crps_normal(1.0, 2.5, seen) == pytest.approx(wanted, abs=1e-10)


def test_both_are_the_librarys(library) -> None:
    """A thousand cases; of the cut one those that the library is exact for."""
    random = np.random.default_rng(11)
    mean, spread = random.normal(2.0, 3.0, 1_000), random.uniform(0.1, 4.0, 1_000)
    seen = random.normal(2.0, 4.0, 1_000)
    assert crps_normal(mean, spread, seen) == pytest.approx(
        library.crps_normal(seen, mean, spread), abs=1e-12
    )
    near = mean > -1.5 * spread
    assert near.sum() > 800
    mean, spread, seen = mean[near], spread[near], seen[near]
    assert crps_normal_above_zero(mean, spread, seen) == pytest.approx(
        library.crps_tnormal(seen, mean, spread, 0.0, np.inf), abs=1e-10
    )


@given(mean=numbers, spread=spreads, seen=numbers, factor=st.floats(0.1, 10.0))
def test_scores_have_the_unit_of_what_was_seen(
    mean: float, spread: float, seen: float, factor: float
) -> None:
    """In other units the score is the same amount; it is never below nought."""
    for score in (crps_normal, crps_normal_above_zero):
        if score is crps_normal_above_zero and mean < -20.0 * spread:
            continue
        once = float(score(mean, spread, seen))
        again = float(score(factor * mean, factor * spread, factor * seen))
        assert again == pytest.approx(factor * once, rel=1e-9, abs=1e-9)
        assert once >= 0.0


def test_the_truth_scores_best_on_average() -> None:
    """A proper score: over N(1, 2) none beats N(1, 2), which gets spread / sqrt(pi)."""
    seen = np.linspace(1.0 - 18.0, 1.0 + 18.0, 20_001)
    weight = np.exp(-0.5 * ((seen - 1.0) / 2.0) ** 2)
    weight /= weight.sum()

    def expected(mean: float, spread: float) -> float:
        return float(np.sum(weight * crps_normal(mean, spread, seen)))

    best = expected(1.0, 2.0)
    assert best == pytest.approx(2.0 / math.sqrt(math.pi), rel=1e-6)
    others = [(0.9, 2.0), (1.1, 2.0), (1.0, 1.8), (1.0, 2.2)]
    assert all(expected(*other) > best for other in others)


@pytest.mark.parametrize("score", [crps_normal, crps_normal_above_zero])
def test_said_as_certain_the_score_is_the_distance(score) -> None:
    """And a hair of spread comes to the same."""
    assert score([2.0, 2.0], [0.0, 0.0], [5.0, 0.5]) == pytest.approx([3.0, 1.5])
    assert score(2.0, 1e-9, 5.0) == pytest.approx(3.0)


def test_below_nought_the_cut_one_adds_the_distance() -> None:
    """All of it lies above, so what came below is so much farther away."""
    at_nought = crps_normal_above_zero(2.0, 1.5, 0.0)
    assert crps_normal_above_zero(2.0, 1.5, -1.25) == pytest.approx(at_nought + 1.25)
    assert crps_normal_above_zero(-2.0, 0.0, 1.0) == 1.0


def test_far_from_nought_the_cut_changes_nothing() -> None:
    """Ten spreads above it."""
    assert crps_normal_above_zero(10.0, 1.0, 9.2) == pytest.approx(
        float(crps_normal(10.0, 1.0, 9.2)), abs=1e-12
    )


@pytest.mark.parametrize("score", [crps_normal, crps_normal_above_zero])
@pytest.mark.parametrize("at", range(3))
def test_no_number_in_no_number_out(score, at: int) -> None:
    """NaN in any place; a spread below nought; and only there."""
    values = [[2.0, 2.0], [1.5, 1.5], [3.0, 3.0]]
    values[at][0] = math.nan
    assert np.isnan(score(*values)).tolist() == [True, False]
    assert np.isnan(score(2.0, [-1.0, 1.0], 3.0)).tolist() == [True, False]


def test_nothing_left_above_nought_has_no_score() -> None:
    """More than 25 spreads below: no number rather than a wrong one."""
    assert np.isnan(crps_normal_above_zero([-26.0, -24.0], 1.0, 0.1)).tolist() == [True, False]


def test_members_by_hand() -> None:
    """[1, 2, 3, 4] at 2.5: mean distance 1, half the mean distance in pairs 0.625."""
    four = [1.0, 2.0, 3.0, 4.0]
    assert crps_members(four, 2.5) == pytest.approx(0.375)
    assert crps_members(four, 5.0) == pytest.approx(1.875)
    assert crps_members([3.0], 5.0) == pytest.approx(2.0)


weighted = st.lists(st.tuples(numbers, st.floats(0.01, 5.0)), min_size=1, max_size=12)


@given(rows=weighted, seen=numbers)
def test_members_are_the_sum_over_all_pairs(
    rows: list[tuple[float, float]], seen: float
) -> None:
    """Gneiting and Raftery (2007), equation 21, with weights, as two loops."""
    whole = sum(weight for _, weight in rows)
    wanted = sum(weight * abs(x - seen) for x, weight in rows) / whole
    wanted -= sum(a * b * abs(x - y) for x, a in rows for y, b in rows) / (2 * whole**2)
    values, weights = zip(*rows, strict=True)
    assert crps_members(values, seen, weights) == pytest.approx(wanted, abs=1e-9)
    equal = [(x, 1.0) for x, _ in rows]
    wanted = sum(abs(x - seen) for x, _ in equal) / len(rows)
    wanted -= sum(abs(x - y) for x, _ in equal for y, _ in equal) / (2 * len(rows) ** 2)
    assert crps_members(values, seen) == pytest.approx(wanted, abs=1e-9)


def test_members_are_the_librarys_hour_by_hour(library) -> None:
    """Members along the first axis, with and without weights."""
    random = np.random.default_rng(5)
    members, seen = random.normal(4.0, 2.0, (51, 24)), random.normal(4.0, 2.0, 24)
    weights = random.uniform(0.1, 1.0, 51)
    wide = np.broadcast_to(weights[:, None], members.shape)
    plain = library.crps_ensemble(seen, members, m_axis=0, estimator="nrg")
    told = library.crps_ensemble(seen, members, m_axis=0, ens_w=wide, estimator="nrg")
    assert crps_members(members, seen) == pytest.approx(plain, abs=1e-12)
    assert crps_members(members, seen, weights) == pytest.approx(told, abs=1e-12)


def test_many_members_come_to_the_distribution() -> None:
    """20,000 of its quantiles score as the normal does."""
    from statistics import NormalDist

    count = 20_000
    members = [NormalDist(2.0, 1.5).inv_cdf((at + 0.5) / count) for at in range(count)]
    assert crps_members(members, 3.1) == pytest.approx(
        float(crps_normal(2.0, 1.5, 3.1)), abs=1e-4
    )


def test_one_member_without_data_leaves_no_score() -> None:
    """In that hour only; and where it is not known what came."""
    members = np.array([[1.0, 1.0, 1.0], [2.0, math.nan, 2.0], [4.0, 4.0, 4.0]])
    scores = crps_members(members, [2.0, 2.0, math.nan])
    assert np.isnan(scores).tolist() == [False, True, True]
