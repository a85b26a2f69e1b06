"""Starts that hold in each possible weather at its own pace, against a minute loop."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.hours.holds import phase_chance, starts_that_hold
from planner.hours.spans import paces, spans
from tests.hours.by_minutes import DAMP, met_by, minutes_of, touched
from tests.hours.drawn import LUX, WINDY, hours, limit, step

PACES = (0.5, 1.0, 1.5, 2.0)  # whole minutes, for phases of a multiple of 20


@st.composite
def possible_days(draw):
    """Draw possible weathers of one length, each with a pace and with wet film or without."""
    length = draw(st.integers(3, 20))
    members = draw(st.integers(1, 4))
    text = st.text(alphabet="##.?r", min_size=length, max_size=length)
    drawings = [draw(text) for _ in range(members)]
    wet = [draw(st.lists(st.booleans(), min_size=length, max_size=length)) for _ in drawings]
    pace = [draw(st.sampled_from(PACES)) for _ in drawings]
    return drawings, np.array(wet), pace


def lit_quarters(first, last, hours_long):
    """Give minutes left to the end of a stretch at each quarter hour, below 0 outside."""
    at = 15.0 * np.arange(4 * hours_long)
    return np.where((at >= first) & (at < last), last - at, -1.0)


def holds(conditions, member, start, spent, *, bounds, light, crew):
    """Say whether one start holds in one member, going through its minutes."""
    gust, rain = conditions.values["gust"][member], conditions.values["rain"][member]
    for (first, last), bound, met in zip(
        spent, bounds, met_by(gust, start, spent), strict=True
    ):
        if any(x is None or not x <= bound for x in met):
            return False
        if any(not rain[hour] <= 0.1 for hour in touched(start + first, start + last)):
            return False
        quarter = (start + first) // 15 * 15
        for begin, end in (light, crew):
            if quarter < begin or quarter >= end or start + last > end:
                return False
    return True


@settings(max_examples=150, deadline=None)
@given(
    possible_days(),
    st.lists(st.sampled_from([20, 40, 60, 100]), min_size=1, max_size=3),
    st.sampled_from([15, 30, 60]),
    st.tuples(st.integers(0, 200), st.integers(200, 900)),
    st.tuples(st.integers(0, 100), st.integers(300, 1200)),
)
def test_against_a_loop_over_minutes(days, lengths, every, light, crew):
    """Member by member: gust and rain of each hour, light, crew hours, wet film, the pace."""
    drawings, wet, pace = days
    if set(pace) == {1.0}:
        pace = [0.5] * len(pace)  # one pace for all is met with light for a slow crew
    count = len(drawings[0])
    conditions = hours(*drawings, pace=pace, wetness=np.where(wet, DAMP, 0.0))
    conditions.light_left[LUX] = lit_quarters(*light, count)
    conditions.crew_left[:] = lit_quarters(*crew, count)
    the_step = step(*lengths)
    bounds = [3.0, WINDY, 3.0][: len(lengths)]
    limits = {
        phase.name: (
            limit(bound=bound),
            limit("rain", 0.1, scale=1.0),
            limit("light", LUX, side="at least", scale=60.0),
            limit("crew_hours", 0.0, side="at least", scale=60.0),
        )
        for phase, bound in zip(the_step.phases, bounds, strict=True)
    }
    got = starts_that_hold(conditions, the_step, limits, starts_every=every)
    for member, own in enumerate(pace):
        expected = [
            holds(
                conditions,
                member,
                start,
                minutes_of(lengths, own, wet=wet[member, start // 60]),
                bounds=bounds,
                light=light,
                crew=crew,
            )
            for start in range(0, 60 * count, every)
        ]
        assert got.ok[member].tolist() == expected


@settings(max_examples=60, deadline=None)
@given(possible_days())
def test_members_do_not_see_each_other(days):
    """Worked out together, each member holds as it does alone."""
    drawings, wet, pace = days
    limits = {"phase 0": (limit(), limit("rain", 0.1, scale=1.0))}
    film = np.where(wet, DAMP, 0.0)
    together = hours(*drawings, pace=pace, wetness=film)
    got = starts_that_hold(together, step(80), limits).ok
    for member, (drawing, own) in enumerate(zip(drawings, pace, strict=True)):
        alone = hours(drawing, pace=[own], wetness=film[member : member + 1])
        assert got[member].tolist() == starts_that_hold(alone, step(80), limits).ok[0].tolist()


def test_the_swing_of_film_is_met_at_the_own_pace():
    """Film that warms by 4 K an hour: an hour's work keeps to 5 K, two hours' does not.

    In a member in which it stays as it is two hours do.
    """
    film = np.arange(32.0) * np.array([[1.0], [1.0], [0.0]])
    conditions = hours(*["########"] * 3, pace=[1.0, 2.0, 2.0], film_swing=film)
    limits = {"phase 0": (limit("film_swing", 5.0, scale=10.0),)}
    ok = starts_that_hold(conditions, step(60), limits).ok[:, :20]
    assert ok.mean(axis=1).tolist() == [1.0, 0.0, 1.0]


def test_the_chance_of_a_phase_counts_each_member_at_its_pace():
    """Past the end of the file, and in an hour without data, a phase does not hold."""
    conditions = hours("##..", "####", "#?##", pace=[1.0, 1.0, 2.0])
    own = (limit(),)
    the_step = step(60)

    def chance(start):
        at_paces = {pace: spans(the_step, pace=pace.work)[0] for pace in paces(conditions)}
        return phase_chance(conditions, the_step.phases[0], own, at_paces=at_paces, start=start)

    expected = [2 / 3, 2 / 3, 2 / 3, 1 / 3]
    assert [chance(start) for start in (0, 4, 8, 12)] == pytest.approx(expected)
