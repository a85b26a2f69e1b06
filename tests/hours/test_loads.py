"""The largest gust over its limit, against a loop over minutes."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.hours.holds import starts_that_hold
from planner.hours.loads import worst_ratio
from tests.hours.by_minutes import DAMP, met_by, minutes_of
from tests.hours.drawn import hours, limit, step

BOUNDS = (3.0, 6.0, 2.0)


@settings(max_examples=100, deadline=None)
@given(st.integers(1, 4), st.integers(2, 9), st.data())
def test_against_a_loop_over_minutes(members, count, data):
    """Every phase, every hour it is in, each member at its pace and as wet as it is."""
    number = st.one_of(st.floats(0.0, 12.0), st.just(float("nan")))
    gust, wet = (
        np.array(data.draw(rows(rows(of, count), members))) for of in (number, st.booleans())
    )
    pace = [data.draw(st.sampled_from([0.5, 1.0, 1.5])) for _ in range(members)]
    lengths = data.draw(st.lists(st.sampled_from([20, 40, 100]), min_size=1, max_size=3))
    conditions = hours(
        *["#" * count] * members, pace=pace, gust=gust, wetness=np.where(wet, DAMP, 0.0)
    )
    the_step = step(*lengths)
    limits = {
        phase.name: (limit(bound=bound),)
        for phase, bound in zip(the_step.phases, BOUNDS, strict=False)
    }
    ok = starts_that_hold(conditions, the_step, limits).ok
    for start in range(4 * count):
        got = worst_ratio(conditions, the_step, limits, start)
        for member, own in enumerate(pace):
            spent = minutes_of(lengths, own, wet=wet[member, start // 4])
            worst = 0.0
            each = met_by(gust[member], 15 * start, spent)
            for bound, met in zip(BOUNDS, each, strict=False):
                for x in met:
                    unknown = x is None or np.isnan(x)
                    worst = max(worst, np.inf if unknown else x / bound)
            assert got[member] == pytest.approx(worst)
            if abs(worst - 1.0) > 1e-9:
                assert ok[member, start] == (worst < 1.0)


def rows(of, count):
    """Draw rows of equal length."""
    return st.lists(of, min_size=count, max_size=count)


def test_without_a_gust_limit_there_is_nothing_to_pass():
    """Rain is no load; a gust limit that a stricter one replaces does not count."""
    conditions = hours("....", "####")
    rain = {"phase 0": (limit("rain", 0.1),)}
    assert worst_ratio(conditions, step(60), rain, 0).tolist() == [0.0, 0.0]
    limits = {"phase 0": (limit(bound=10.0), limit(bound=0.5, governs=False))}
    assert worst_ratio(conditions, step(60), limits, 0).tolist() == [0.5, 0.1]


def test_too_few_hands_are_never_enough():
    """A limit of nought is passed by any air at all."""
    limits = {"phase 0": (limit(bound=0.0),)}
    assert np.isinf(worst_ratio(hours("##"), step(30), limits, 0)).all()
