"""What binds: how many possible weathers fail it, and in which hour, against a loop."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.hours.holds import starts_that_hold
from planner.hours.reasons import binding
from tests.hours.by_minutes import minutes_of
from tests.hours.drawn import BOUND, LUX, hours, limit, step


@settings(max_examples=60, deadline=None)
@given(
    st.integers(3, 12).flatmap(
        lambda count: st.lists(
            st.text(alphabet="##.?", min_size=count, max_size=count), min_size=1, max_size=4
        )
    ),
    st.sampled_from([20, 60, 100]),
    st.data(),
)
def test_the_share_is_that_of_the_worst_hour(drawings, length, data):
    """In each hour those members fail that are still at work in it and meet too much."""
    pace = [data.draw(st.sampled_from([0.5, 1.5, 2.0])) for _ in drawings]
    conditions = hours(*drawings, pace=pace)
    gust, count = conditions.values["gust"], len(drawings[0])
    the_step, limits = step(length), {"phase 0": (limit(),)}
    bound = binding(conditions, the_step, limits)
    chance = starts_that_hold(conditions, the_step, limits).chance(conditions.weights)
    for start in range(4 * count):
        failing = dict.fromkeys(range(count + 8), 0.0)
        for member, own in enumerate(pace):
            [(_, minutes)] = minutes_of([length], own, wet=False)
            for hour in {at // 60 for at in range(15 * start, 15 * start + minutes)}:
                fails = hour >= count or not gust[member, hour] <= BOUND
                failing[hour] += fails * conditions.weights[member]
        reason = bound.reason(start)
        assert reason.share == pytest.approx(max(failing.values()))
        assert (reason.share == 0.0) == (chance[start] == 1.0)
        if reason.share > 0.0:
            hour = int((reason.at - conditions.times[0]).total_seconds() // 3600)
            worst = {at for at, x in failing.items() if x == pytest.approx(reason.share)}
            assert hour in {min(at, count - 1) for at in worst}


def test_a_brief_touch_fails_fewer():
    """Ninety-five per cent of the gust is inside for one member and not for the other."""
    gust = np.array([[1.0, BOUND / 0.96], [1.0, BOUND / 0.90]])
    bound = binding(hours("##", "##", gust=gust), step(75), {"phase 0": (limit(),)})
    assert bound.reason(0).share == 0.5
    filled = binding(hours("##", "##", gust=gust), step(120), {"phase 0": (limit(),)})
    assert filled.reason(0).share == 1.0


def test_the_room_is_that_of_the_middle_weather_at_the_crews_own_pace():
    """A slow crew's windy hour takes no room; the middle of three gusts does."""
    gust = np.array([[1.0, 9.0], [1.5, 9.0], [2.5, 9.0]])
    conditions = hours("##", "##", "##", gust=gust, pace=[1.0, 1.0, 2.0])
    bound = binding(conditions, step(60), {"phase 0": (limit(),)})
    assert bound.margin[0] == pytest.approx((BOUND - 1.5) / BOUND)
    assert bound.reason(0).share == pytest.approx(1 / 3)
    assert bound.reason(0).value == 9.0


def test_a_brief_touch_takes_less_room():
    """The room is to 95 % of the gust, where the step is in the hour for a quarter of it."""
    bound = binding(hours("##", gust=np.array([[1.0, 2.0]])), step(75), {"phase 0": (limit(),)})
    assert bound.margin[0] == pytest.approx((BOUND - 0.95 * 2.0) / BOUND)


def test_light_fails_for_those_who_are_slow():
    """Two hours of light, and crews that take one, two and three: the last meets the dark."""
    dusk = np.maximum(120.0 - 15.0 * np.arange(32), -1.0)
    conditions = hours(*["########"] * 3, pace=[1.0, 2.0, 3.0])
    conditions.light_left[LUX] = dusk
    light = limit("light", LUX, side="at least", scale=60.0)
    reason = binding(conditions, step(60), {"phase 0": (limit(), light)}).reason(0)
    assert (reason.quantity, reason.share) == ("light", pytest.approx(1 / 3))
    assert reason.value == 60.0  # minutes left over at the crew's own pace
