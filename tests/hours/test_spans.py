"""Paces: drawn evenly, met by those who have them, the slowest counted apart."""

from statistics import NormalDist

import numpy as np
import pytest

from planner.hours.spans import clock, crew_pace, draw_paces, paces, slow_pace, slowest
from planner.reference.tables import value
from tests.hours.drawn import hours


@pytest.mark.parametrize("members", [1, 2, 5, 8, 13, 500])
def test_each_part_of_the_log_normal_has_its_share(members):
    """The chances at which the paces lie are evenly spread, and the counts differ by one."""
    drawn = draw_paces(members, 1)
    distinct, counts = np.unique(drawn, return_counts=True)
    normal = NormalDist(0.0, value("labour", "pace_spread"))
    parts = len(distinct)
    assert parts == min(members, 8)
    assert [normal.cdf(x) for x in np.log(distinct)] == pytest.approx(
        (np.arange(parts) + 0.5) / parts
    )
    assert counts.max() - counts.min() <= 1
    assert np.median(np.log(drawn)) == pytest.approx(0.0, abs=0.12)
    assert np.log(drawn).mean() == pytest.approx(0.0, abs=0.05)


def test_the_seed_decides_the_order_alone():
    """The same seed gives the same paces, another the same ones in another order."""
    one, again, other = draw_paces(500, 1), draw_paces(500, 1), draw_paces(500, 2)
    assert one.tolist() == again.tolist() != other.tolist()
    assert sorted(one) == sorted(other)


def test_the_slowest_fifth_in_part():
    """Of eight equal paces the slowest counts whole and the next for what is left, 0.075."""
    conditions = hours(*["####"] * 16, pace=draw_paces(16, 3))
    weights = slowest(conditions)
    by_pace = [weights[conditions.pace == x].sum() for x in np.unique(conditions.pace)]
    assert by_pace == pytest.approx([0.0] * 6 + [0.075 / 0.2, 0.125 / 0.2])


def test_nobody_is_slowest_at_one_pace():
    """With one pace all members count as ever."""
    assert slowest(hours("##", "..")).tolist() == [0.5, 0.5]


def test_members_of_a_pace_are_found_together():
    """Each member is in one group, and meets light at its own pace as it meets the wind."""
    conditions = hours("##", "##", "##", pace=[1.5, 0.8, 1.5])
    groups = [(x.work, x.light, x.members.tolist()) for x in paces(conditions)]
    assert groups == [(0.8, 0.8, [1]), (1.5, 1.5, [0, 2])]
    assert crew_pace(conditions).light == 1.0


def test_without_paces_light_is_met_at_the_slow_one():
    """One crew in ten is slower: the 90th percentile of the log-normal."""
    [only] = paces(hours("##", ".."))
    normal = NormalDist(0.0, value("labour", "pace_spread"))
    assert (only.work, only.light) == (1.0, slow_pace())
    assert normal.cdf(np.log(slow_pace())) == pytest.approx(0.9)


def test_clock_over_a_clock_change():
    """Quarter hours are counted in real time and told in the place's own."""
    conditions = hours("########", first="2026-03-08T00:00Z", zone="America/New_York")
    conditions_later = hours("########", first="2026-03-08T06:00Z", zone="America/New_York")
    assert str(clock(conditions, 4.5)) == "2026-03-07 20:07:30-05:00"
    assert str(clock(conditions_later, 3)) == "2026-03-08 01:45:00-05:00"
    assert str(clock(conditions_later, 4)) == "2026-03-08 03:00:00-04:00"
    assert str(clock(conditions_later, 40)) == "2026-03-08 12:00:00-04:00"  # past the file
